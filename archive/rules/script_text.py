"""The bytes of a script made text: encodings and line ends as they come, each guess said. Pure."""

from __future__ import annotations

import codecs
import re
import unicodedata

from archive.domain.marks import written_words
from archive.errors import BadInput

_MARKS = (
    (codecs.BOM_UTF8, "utf-8", "UTF-8"),
    (codecs.BOM_UTF32_LE, "utf-32-le", "UTF-32"),  # begins like UTF-16's own
    (codecs.BOM_UTF32_BE, "utf-32-be", "UTF-32"),
    (codecs.BOM_UTF16_LE, "utf-16-le", "UTF-16"),
    (codecs.BOM_UTF16_BE, "utf-16-be", "UTF-16"),
)
_LINE_ENDS = re.compile("\r\n?")
_SIGNS_NOBODY_SEES = re.compile("[\u00ad\u200b\u2060\ufeff\u202a-\u202e\u2066-\u2069]")
_NOT_TEXT = ("Cc", "Cs", "Co", "Cn")
_MOST_CONTROLS = 0.02  # more control characters than that: no text (project choice)
_NO_TEXT = BadInput(
    "This file is no text that can be read.",
    "Save the transcript as plain text, DOCX, WebVTT, SRT, CSV or JSON and read it again. Nothing was changed.",
)


def decoded(data: bytes, encoding: str = "") -> tuple[str, str]:
    """(text with line ends as \\n, what to tell a person of the encoding or ""). `encoding`: where somebody knows it.

    Guessed in this order: a byte-order mark, UTF-8, UTF-16 without a mark, Windows-1252. Raises BadInput for what is no text.
    """
    if encoding:
        text, told = _as_said(data, encoding), ""
    else:
        text, told = _guessed(data)
    ends = _LINE_ENDS.sub("\n", text)
    controls = sum(unicodedata.category(c) == "Cc" and c not in "\n\t" for c in ends[:20_000])
    if controls > max(2, _MOST_CONTROLS * min(len(ends), 20_000)):
        raise _NO_TEXT
    return ends, told


def _as_said(data: bytes, encoding: str) -> str:
    try:
        text = data.decode(encoding, errors="replace")
    except (LookupError, ValueError):
        raise BadInput("There is no encoding of this name.", "Write one like utf-8, utf-16, windows-1252 or iso-8859-2.") from None
    return str(text).removeprefix("\ufeff")


def _guessed(data: bytes) -> tuple[str, str]:
    for mark, codec, name in _MARKS:
        if data.startswith(mark):
            text = data[len(mark) :].decode(codec, errors="replace")
            return text, "" if "\ufffd" not in text else f"Some signs of this {name} file are damaged; they stand as \ufffd."
    zeros = (data[::2].count(0), data[1::2].count(0))
    if max(zeros) * 4 > len(data) // 2 and min(zeros) * 8 < max(zeros):
        codec = "utf-16-be" if zeros[0] > zeros[1] else "utf-16-le"
        return data.decode(codec, errors="replace"), "Read as UTF-16, which the file does not say: a guess."
    try:
        return data.decode("utf-8"), ""
    except UnicodeDecodeError:
        pass
    text = data.decode("utf-8", errors="replace")
    bad, good = text.count("\ufffd"), sum(c > "\x7f" for c in text)
    if good - bad > 10 * bad:
        return text, "Some signs of this UTF-8 file are damaged; they stand as \ufffd."
    return (
        data.decode("cp1252", errors="replace"),
        "The file is not in UTF-8. It was read as Windows-1252, a guess: look at the letters with accents, and name the "
        "encoding if they are wrong.",
    )


def words_of(text: str) -> tuple[str, ...]:
    """The words of a text, marks in brackets held together: NFC, without control characters, private letters or signs that
    nobody sees. Raises BadInput for brackets that only the archive writes: where words were closed, they would be lost."""
    plain = unicodedata.normalize("NFC", _SIGNS_NOBODY_SEES.sub("", text))
    if not plain.isascii() or not plain.isprintable():
        plain = "".join(c if c.isspace() or unicodedata.category(c) not in _NOT_TEXT else "" for c in plain)
    try:
        return tuple(written_words(plain))
    except BadInput:
        raise BadInput(
            "This transcript was written out for somebody who may not read all of it: where words are closed or a name is "
            "withheld, only the mark stands there.",
            "Let somebody who may read everything write it out and correct that. Nothing was changed.",
        ) from None


def label_of(text: str) -> str:
    """A speaker's label as it is compared and shown: on one line, without brackets and the colon at its end."""
    plain = _SIGNS_NOBODY_SEES.sub("", unicodedata.normalize("NFC", text))
    seen = "".join(c if unicodedata.category(c) not in _NOT_TEXT else " " for c in plain)
    return " ".join(seen.split()).strip(" :[]()<>*_")[:80].strip()
