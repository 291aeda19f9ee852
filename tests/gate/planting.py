"""Places in which text can stand, kind by kind: builders that plant a given text there, by bytes or with a library that is
not the scan's reader. `PLACES[kind][place]` is (spellings, builder)."""

from __future__ import annotations

import html
import json
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

from archive.domain.cleared import ForbiddenName

# SCENARIO: N-07 asks for initials, N-05 is unnamed; the third is made up for its letters, the fourth for another script.
NAMES = (
    ForbiddenName("Agnes Coyle"),
    ForbiddenName("Coyle"),
    ForbiddenName("Lena Marsh"),
    ForbiddenName("Żofia Łęcka"),
    ForbiddenName("Олена Крук"),
    ForbiddenName("Крук"),
)
QUIET = "We stood on the Ferry Slip and the chain sang."

LATIN = ("Agnes Coyle", "AGNES COYLE", "Coyle, Agnes", "Agnes Co\u00adyle", "Agnes C0yle", "Agnes M. Coyle's", "C.o.y.l.e")
UNICODE = (
    *LATIN,
    unicodedata.normalize("NFD", "Żofia Łęcka"),
    "Ｃｏｙｌｅ",
    "Agnes Соуlе",  # Cyrillic С о у е
    "Co\u200byle",
    "\u202eelyoC\u202c",
    "told by Олены; ОЛЕНА КРУК",
    "𝐂𝐨𝐲𝐥𝐞",
)
LINES = (*UNICODE, "Agnes\nCoyle", "told by Coy-\nle", "told by Coy\nle", "C\noy\nle")
WORD = ("AgnesCoyle", "Agnes_Coyle", "COYLE", "coyle", "Соуlе", "C0yle", "Крук")
WORD_ASCII = ("AgnesCoyle", "Agnes_Coyle", "COYLE", "coyle", "C0yle", "C-o-y-l-e")

Builder = Callable[[Path, str], Path]


@dataclass(frozen=True)
class Place:
    """One place: which spellings fit there, and how a file with such a text in it is made in a folder."""

    spellings: tuple[str, ...]
    build: Builder


PLACES: dict[str, dict[str, Place]] = {}


def written(kind: str, make: Callable[[str], str | bytes]) -> Builder:
    """A builder that writes what `make` makes of the text."""

    def build(folder: Path, text: str) -> Path:
        path = folder / f"file{kind}"
        made = make(text)
        path.write_bytes(made if isinstance(made, bytes) else made.encode("utf-8"))
        return path

    return build


def template(kind: str, text: str, spellings: tuple[str, ...] = UNICODE, escape: Callable[[str], str] = str) -> Place:
    """`text` with the planted text in place of `@@`."""
    return Place(spellings, written(kind, lambda planted: text.replace("@@", escape(planted))))


def as_json(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)[1:-1]


def references(text: str) -> str:
    return "".join(f"&#x{ord(c):x};" for c in text)


def spread(text: str, before: str, after: str) -> str:
    """Each word of the text on its own, between `before` and `after`."""
    return "".join(before + word + after for word in text.split())


# ---------------------------------------------------------------- plain text

_AROUND = {
    "alone": "@@", "first words": f"@@ said so.\n{QUIET}", "last words": f"{QUIET}\nsaid @@", "in the middle": f"{QUIET} @@ {QUIET}",
    "after a mark of order": f"\ufeff@@\n{QUIET}", "far down": f"{QUIET}\n" * 1000 + "@@\n", "in one long line": f"{QUIET} " * 3000 + "@@",
    "between lines of Windows": f"{QUIET}\r\n@@\r\n{QUIET}", "between old lines": f"{QUIET}\r@@\r{QUIET}", "after a form feed": f"{QUIET}\f@@",
    "after a vertical tab": f"{QUIET}\v@@", "after a line separator": f"{QUIET}\u2028@@", "after a next line": f"{QUIET}\x85@@",
    "between tabs": "a\t@@\tb", "in brackets": "[@@]", "in braces": "{{@@}}", "in quotes": "“@@”", "in stars": "**@@**", "in a link": "[x](y#@@)",
    "in a mark": "<@@>", "after a zero byte": "x\0@@", "between bars": "|a|@@|b|", "glued to a mask": "[name withheld]@@",
    "after a dash": f"{QUIET}—@@", "in an address": "https://tarnwick.invalid/?by=@@&x=1", "after an omission": "[…]@@[…]",
}  # fmt: skip
_TURNED: dict[str, tuple[tuple[str, ...], Callable[[str], str]]] = {
    "in references": (UNICODE, references),
    "in references of references": (UNICODE, lambda t: html.escape(references(t))),
    "in percent escapes": (UNICODE, quote),
    "in percent escapes twice": (UNICODE, lambda t: quote(quote(t))),
    "in backslash escapes": (LATIN, lambda t: "".join(f"\\u{ord(c):04x}" for c in t)),
    "a word a line": (LATIN, lambda t: t.replace(" ", "\n")),
    "a word a paragraph": (LATIN, lambda t: t.replace(" ", "\n\n")),
    "with spaces between letters": (("Coyle", "COYLE"), " ".join),
    "with points between letters": (("Coyle", "COYLE"), ".".join),
    "a letter a line": (("Coyle", "COYLE"), "\n".join),
}
PLACES[".txt"] = {
    **{place: template(".txt", text, LINES if place == "alone" else UNICODE) for place, text in _AROUND.items()},
    **{place: template(".txt", f"{QUIET} @@", fits, turn) for place, (fits, turn) in _TURNED.items()},
}

# ---------------------------------------------------------------- sheets

_CELLS = {
    "head": "@@,b\n1,2\n", "last head": "a,@@\n1,2\n", "first cell": "a,b\n@@,2\n", "last cell": "a,b\n1,@@\n", "without a last line": "a,b\n1,@@",
    "quoted": 'a,b\n1,"@@"\n', "quoted among others": 'a,b\n1,"x, @@; y"\n', "after doubled quotes": 'a,b\n1,"""@@"""\n', "far down": "a,b\n" + "1,2\n" * 1500 + "@@,2\n",
    "far right": ",".join(["a"] * 500) + ",@@\n", "ragged row": "a,b\n1,2,3,4,@@\n", "before a comma of words": 'a\n"@@, who left"\n',
    "with semicolons": "a;b\n1;@@\n", "with tabs": "a\tb\n1\t@@\n", "lines of Windows": "a,b\r\n1,@@\r\n", "old lines": "a,b\r1,@@\r", "mark of order": "\ufeff@@,b\n",
    "formula guard": "a,b\n1,'@@\n", "formula": 'a,b\n1,"=HYPERLINK(""x"",""@@"")"\n', "remark": "# @@\na,b\n", "sep line": "sep=,\n@@,b\n",
    "in a link": "a\nhttps://tarnwick.invalid/@@\n", "in markup": "a\n<b>@@</b>\n", "in stars": "a\n*@@*\n", "only cell": "@@",
}  # fmt: skip
PLACES[".csv"] = {
    **{place: template(".csv", text, UNICODE, lambda t: t.replace('"', '""')) for place, text in _CELLS.items()},
    "a line break in a cell": template(".csv", 'a,b\n1,"@@"\n', LINES),
    "over two cells": Place(LATIN[:3], written(".csv", lambda t: "a,b\n" + ",".join(f'"{w}"' for w in t.split()) + "\n")),
    "down a column": Place(LATIN[:3], written(".csv", lambda t: "a,b\n" + "".join(f'"{w}",x{n}\n' for n, w in enumerate(t.split())))),
    "quotes within": Place(("Coyle", "COYLE"), written(".csv", lambda t: f'a,b\n1,"Agnes {t[:2]}""{t[2:]}"\n')),
    "in references": template(".csv", "a\n@@\n", UNICODE, references),
}

# ---------------------------------------------------------------- JSON

_VALUES = {
    "only value": '"@@"', "value": '{"a": "@@"}', "key": '{"@@": 1}', "key within": '{"a": {"b": {"@@": null}}}', "in a list": '["x", "@@"]',
    "in lists of lists": '[[[["@@"]]]]', "in a list of objects": '[{"a": 1}, {"a": "@@"}]', "first of two of one key": '{"a": "@@", "a": "x"}',
    "second of two of one key": '{"a": "x", "a": "@@"}', "after numbers": '[1, 2.5e3, true, "@@"]', "among words": '{"words": "told by @@ in 1974"}',
    "in a title": '{"title": "@@"}', "in a note": '{"note": "x\\n@@\\ny"}', "after a tab": '{"a": "x\\t@@"}', "after a new line": '{"a": "x\\r\\n@@"}',
    "far within": '{"a":' * 200 + '"@@"' + "}" * 200, "far down": "[" + '"x",' * 5000 + '"@@"]', "in a link": '{"href": "https://tarnwick.invalid/@@"}',
    "in a file's name": '{"file": "clip-@@.wav"}', "in markup": '{"a": "<i>@@</i>"}', "without spaces": '{"a":"@@"}', "with a mark of order": '\ufeff["@@"]',
    "after a quote": '{"a": "\\"@@\\""}', "in a set key": '{"by:@@": []}',
}  # fmt: skip
PLACES[".json"] = {
    **{place: template(".json", text, UNICODE, as_json) for place, text in _VALUES.items()},
    "lines in a value": template(".json", '{"a": "@@"}', LINES, as_json),
    "in escapes": template(".json", '{"a": "@@"}', UNICODE, lambda t: json.dumps("".join(t))[1:-1].replace("C", "\\u0043").replace("A", "\\u0041")),
    "key in escapes": template(".json", '{"@@": 0}', LATIN, lambda t: "".join(f"\\u{ord(c):04X}" for c in t)),
    "references in a value": template(".json", '{"a": "@@"}', UNICODE, references),
    "over two values": Place(LATIN[:3], written(".json", lambda t: json.dumps(t.split()))),
    "over two keyed values": Place(LATIN[:3], written(".json", lambda t: json.dumps({str(n): w for n, w in enumerate(t.split())}))),
    "over two keys": Place(LATIN[:3], written(".json", lambda t: json.dumps(dict.fromkeys(t.split(), 1)))),
}

# ---------------------------------------------------------------- captions

_TIMES = "00:00:0{n}.000 --> 00:00:0{m}.000"


def cues(*texts: str) -> str:
    return "".join(f"\n00:00:{n:02}.000 --> 00:00:{n + 1:02}.000\n{text}\n" for n, text in enumerate(texts))


_VTT = {
    "the header": "WEBVTT @@\n" + cues(QUIET), "header's lines": "WEBVTT\nKind: @@\n" + cues(QUIET), "language": "WEBVTT\nLanguage: @@\n" + cues(QUIET),
    "a note": "WEBVTT\n\nNOTE @@\n" + cues(QUIET), "a note's lines": "WEBVTT\n\nNOTE\n@@\n" + cues(QUIET), "a note at the end": f"WEBVTT\n{cues(QUIET)}\nNOTE @@\n",
    "a style": "WEBVTT\n\nSTYLE\n::cue { font-family: @@ }\n" + cues(QUIET), "a region": "WEBVTT\n\nREGION\nid:@@\n" + cues(QUIET),
    "first cue": "WEBVTT\n" + cues("@@", QUIET), "last cue": "WEBVTT\n" + cues(QUIET, "@@"), "without a last line": "WEBVTT\n\n00:00.000 --> 00:01.000\n@@",
    "second line": "WEBVTT\n" + cues(f"{QUIET}\n@@"), "voice": "WEBVTT\n" + cues(f"<v @@>{QUIET}"), "voice with a class": "WEBVTT\n" + cues(f"<v.loud @@>{QUIET}</v>"),
    "language tag": "WEBVTT\n" + cues(f"<lang @@>{QUIET}</lang>"), "in italics": "WEBVTT\n" + cues(f"<i>@@</i> {QUIET}"), "in a ruby": "WEBVTT\n" + cues("<ruby>x<rt>@@</rt></ruby>"),
    "after a time within": "WEBVTT\n" + cues("x <00:00:00.500>@@"), "settings": "WEBVTT\n\n00:00.000 --> 00:01.000 region:@@\nwords\n", "between cues": f"WEBVTT\n{cues(QUIET)}\n@@\n{cues(QUIET)}",
    "lines of Windows": "WEBVTT\r\n\r\n00:00.000 --> 00:01.000\r\n@@\r\n", "mark of order": "\ufeffWEBVTT\n" + cues("@@"), "after a hyphen": "WEBVTT\n" + cues("- @@"),
    "far down": "WEBVTT\n" + cues(QUIET) * 500 + cues("@@"), "name of a cue": "WEBVTT\n\n@@\n00:00.000 --> 00:01.000\nwords\n", "glued to a mask": "WEBVTT\n" + cues("[name withheld]@@"),
}  # fmt: skip
_SPLIT_CUES: dict[str, tuple[tuple[str, ...], Callable[[str], str]]] = {
    "lines in a cue": (LINES, lambda t: cues(t)),
    "over two cues": (LATIN[:3], lambda t: cues(*t.split())),
    "a word over two cues": (("Coyle", "COYLE"), lambda t: cues(f"told by {t[:3]}", f"{t[3:]} they said")),
    "a word over three cues": (("Coyle", "COYLE"), lambda t: cues(f"told by {t[:2]}", t[2:4], f"{t[4:]}")),
    "hyphened over two cues": (("Coyle",), lambda t: cues(f"told by {t[:3]}-", f"{t[3:]} they said")),
    "tags within a word": (("Coyle", "COYLE"), lambda t: cues(f"{t[:2]}<b>{t[2:4]}</b>{t[4:]}")),
    "references": (UNICODE, lambda t: cues(references(t))),
    "a letter a cue": (("Coyle",), lambda t: cues(*t)),
}
PLACES[".vtt"] = {
    **{place: template(".vtt", text) for place, text in _VTT.items()},
    **{p: Place(fits, written(".vtt", lambda t, make=make: "WEBVTT\n" + make(t))) for p, (fits, make) in _SPLIT_CUES.items()},
    "class": template(".vtt", "WEBVTT\n" + cues("<c.@@>words</c>"), WORD),
}


def _as_srt(text: str) -> str:
    return "1\n" + text.replace("WEBVTT\n", "").replace(".000", ",000").lstrip("\n")


PLACES[".srt"] = {
    **{
        place: template(".srt", _as_srt(text))
        for place, text in _VTT.items()
        if place not in ("the header", "header's lines", "language", "a region", "mark of order", "a style", "a note")
    },
    **{p: Place(fits, written(".srt", lambda t, make=make: _as_srt(make(t)))) for p, (fits, make) in _SPLIT_CUES.items()},
    "before all": template(".srt", "@@\n\n" + _as_srt(cues(QUIET))),
    "place on the screen": template(".srt", "1\n00:00:00,000 --> 00:00:01,000 X1:1 @@\nwords\n"),
    "old style": template(".srt", "1\n00:00:00,000 --> 00:00:01,000\n{\\an8}@@\n"),
    "font": template(".srt", '1\n00:00:00,000 --> 00:00:01,000\n<font face="@@">words</font>\n'),
}

# ---------------------------------------------------------------- pages and drawings

_HTML = {
    "title": "<title>@@</title>", "words": "<p>@@</p>", "attribute": '<img alt="@@">', "unquoted attribute": "<img alt=@@>", "single quotes": "<img alt='@@'>",
    "name of a picture": '<img src="@@.png">', "link": '<a href="/@@">x</a>', "mail": '<a href="mailto:@@@tarnwick.invalid">x</a>', "hint": '<p title="@@">x</p>', "comment": "<!-- @@ -->",
    "unclosed comment": "<p>x</p><!-- @@", "meta": '<meta name="author" content="@@">', "identity": '<p id="@@">x</p>', "class": '<p class="a @@">x</p>', "data": '<p data-by="@@">x</p>',
    "script": "<script>var by = '@@';</script>", "style": "<style>.x:after { content: '@@' }</style>", "JSON for machines": '<script type="application/ld+json">{"a": "@@"}</script>',
    "a cell": "<table><tr><td>@@</td></tr></table>", "option": "<select><option>@@</select>", "field": '<input value="@@">', "hint in a field": '<input placeholder="@@">', "quote": "<blockquote cite='@@'>x</blockquote>",
    "figure": "<figure><figcaption>@@</figcaption></figure>", "hidden": "<p hidden>@@</p>", "template": "<template>@@</template>", "without script": "<noscript>@@</noscript>", "doctype": "<!doctype @@>",
    "label for those who do not see": '<nav aria-label="@@">x</nav>', "own element": "<p><x-a b='@@'></x-a></p>", "after the end": "<p>x</p></html>@@",
}  # fmt: skip
PLACES[".html"] = {
    **{place: template(".html", f"<html><body><p>{QUIET}</p>{text}", escape=lambda t: t.replace("'", "&#39;")) for place, text in _HTML.items()},
    "lines": template(".html", "<pre>@@</pre>", LINES),
    "references": template(".html", "<p>@@</p>", UNICODE, references),
    "references in an attribute": template(".html", '<p title="@@">', UNICODE, references),
    "escapes in a link": template(".html", '<a href="/@@">x</a>', UNICODE, quote),
    "tags within a word": Place(("Coyle", "COYLE"), written(".html", lambda t: f"<p>{t[:2]}<b>{t[2:4]}</b>{t[4:]}</p>")),
    "comment within a word": Place(("Coyle", "COYLE"), written(".html", lambda t: f"<p>{t[:2]}<!-- x -->{t[2:]}</p>")),
    "over two paragraphs": Place(LATIN[:3], written(".html", lambda t: spread(t, "<p>", "</p>"))),
    "over two cells": Place(LATIN[:3], written(".html", lambda t: f"<table><tr>{spread(t, '<td>', '</td>')}</table>")),
    "over line breaks": Place(LATIN[:3], written(".html", lambda t: f"<p>{spread(t, '', '<br>')}</p>")),
    "soft break": Place(("Coyle",), written(".html", lambda t: f"<p>{t[:2]}<wbr>{t[2:]} {t[:3]}&shy;{t[3:]}</p>")),
}
