"""Reads the body of a DOCX: its paragraphs as they are said to read today. Pure.

Of tracked changes what was put in counts and what was taken out does not; comments, footnotes, headers, fields' codes and hidden text are
no speech. ECMA-376 part 1, §17.3 (paragraphs and runs), §17.13.5 (revisions).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from xml.parsers import expat

from archive.domain.script import Script
from archive.errors import BadInput
from archive.rules.script_labels import Labels
from archive.rules.script_lines import read_lines

_W = (
    "http://schemas.openxmlformats.org/wordprocessingml/2006/main",
    "http://purl.oclc.org/ooxml/wordprocessingml/main",  # the strict form
)
_GONE = frozenset({"del", "moveFrom", "delText", "instrText", "delInstrText", "footnoteReference", "pPrChange", "rPrChange"})
_MARKS = {"tab": "\t", "br": " ", "cr": " ", "noBreakHyphen": "-"}
_HEADINGS = ("title", "subtitle", "heading", "toc", "caption", "header", "footer", "showtitle", "sheetline", "advice")
_MOST_DEPTH = 200
_DAMAGED = BadInput("This DOCX is damaged.", "Open it, save it anew, and read it again. Nothing was changed.")


@dataclass
class _Paragraph:
    parts: list[str] = field(default_factory=list)
    style: str = ""
    open_ended: bool = False  # its end was deleted: it runs on into the next one


class _Body:
    """Collects paragraphs while expat reads."""

    def __init__(self) -> None:
        self.paragraphs: list[_Paragraph] = []
        self.inside: list[_Paragraph] = []
        self.path: list[str] = []
        self.gone = 0
        self.changes = 0
        self.hidden = False

    def start(self, name: str, attributes: dict[str, str]) -> None:
        space, _, local = name.rpartition("\n")
        ours = space in _W
        if len(self.path) >= _MOST_DEPTH:
            raise _DAMAGED
        mark_of_paragraph = self.path[-2:] == ["pPr", "rPr"]
        self.path.append(local if ours else "")
        if not ours:
            return
        if local in ("del", "moveFrom", "ins", "moveTo"):
            self.changes += 1
        if local == "p":
            self._begin()
        elif self.inside and mark_of_paragraph and local in ("del", "moveFrom"):
            self.inside[-1].open_ended = True
        elif self.inside and local == "pStyle":
            self.inside[-1].style = next((v for k, v in attributes.items() if k.endswith("val")), "")
        elif local == "r":
            self.hidden = False
        elif local == "vanish" and "rPr" in self.path[:-1] and not mark_of_paragraph:
            self.hidden = next((v for k, v in attributes.items() if k.endswith("val")), "true") not in ("0", "false", "off")
        elif local in _MARKS and self.inside and "r" in self.path and "pPr" not in self.path:
            self._say(_MARKS[local])
        if local in _GONE:
            self.gone += 1

    def end(self, name: str) -> None:
        local = self.path.pop()
        if local in _GONE:
            self.gone -= 1
        if local == "p":
            self.inside.pop()

    def text(self, data: str) -> None:
        if self.path and self.path[-1] == "t" and self.inside:
            self._say(data)

    def _begin(self) -> None:
        before = self.paragraphs[-1] if self.paragraphs else None
        if before is not None and before.open_ended and not self.inside:
            before.open_ended = False
            self.inside.append(before)
            return
        self.inside.append(_Paragraph())
        self.paragraphs.append(self.inside[-1])

    def _say(self, data: str) -> None:
        if not self.gone and not self.hidden:
            self.inside[-1].parts.append(data)


def read_docx(body: bytes, labels: Labels) -> Script:
    """The XML of a DOCX's main part as a script. Raises BadInput where it is damaged or declares entities."""
    collected = _Body()
    parser = expat.ParserCreate(namespace_separator="\n")
    parser.buffer_text = True
    parser.StartElementHandler = collected.start
    parser.EndElementHandler = collected.end
    parser.CharacterDataHandler = collected.text
    parser.StartDoctypeDeclHandler = _no_doctype
    try:
        parser.Parse(body, True)
    except expat.ExpatError:
        raise _DAMAGED from None
    spoken, headings = [], 0
    for paragraph in collected.paragraphs:
        text = "".join(paragraph.parts)
        if paragraph.style.lower().replace(" ", "").startswith(_HEADINGS):
            headings += bool(text.strip())
            continue
        spoken.append((text.lstrip("\t"), True))
    script = read_lines(spoken, labels, "DOCX")
    notes = []
    if collected.changes:
        notes.append("The DOCX has tracked changes: what was put in counts, what was taken out does not.")
    if headings:
        notes.append(f"Passed over as headings: {headings}." if headings > 1 else "One heading was passed over.")
    return Script(script.kind, script.lines, notes=tuple(notes))


def _no_doctype(*_: object) -> None:
    raise _DAMAGED
