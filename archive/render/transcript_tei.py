"""A transcript as TEI P5, “Transcriptions of Speech” (chapter 8 of the Guidelines): a timeline, and <u> with who, start, end."""

from __future__ import annotations

from collections.abc import Iterable
from xml.etree import ElementTree

from archive.domain.cleared import ShownRecording
from archive.render.labels import moment
from archive.render.sanitise import one_line
from archive.render.transcript import INSIDE, Spoken, heading, spoken
from archive.rules.script_labels import NOT_ASSIGNED

TEI = "http://www.tei-c.org/ns/1.0"
_ID = "{http://www.w3.org/XML/1998/namespace}id"
_PREFIX_OF_MOMENTS = "T"
_CLOSED_REASON = "closed"


def as_tei(shown: ShownRecording) -> bytes:
    """A whole TEI document. Moments are counted from the recording's beginning, in seconds; each utterance says which two it
    lies between. What is closed is a <gap>. UTF-8."""
    said = list(spoken(shown))
    who = _people(said)
    root = ElementTree.Element("TEI", {"xmlns": TEI})
    _header(ElementTree.SubElement(root, "teiHeader"), shown, who)
    text = ElementTree.SubElement(root, "text")
    moments = {ms: f"{_PREFIX_OF_MOMENTS}{n}" for n, ms in enumerate(sorted({0, *(t for s in said for t in (s.start_ms, s.end_ms))}))}
    timeline = ElementTree.SubElement(text, "timeline", {"unit": "s", "origin": f"#{moments[0]}"})
    for ms, name in moments.items():
        ElementTree.SubElement(timeline, "when", {_ID: name} if ms == 0 else {_ID: name, "interval": f"{ms / 1000:.3f}", "since": f"#{moments[0]}"})
    body = ElementTree.SubElement(ElementTree.SubElement(text, "body"), "div")
    for one in said:
        times = {"start": f"#{moments[one.start_ms]}", "end": f"#{moments[one.end_ms]}"}
        spoken_by = {"who": f"#{who[one.speaker]}"} if one.speaker in who else {}
        utterance = ElementTree.SubElement(body, "u", {**spoken_by, **times})
        if one.speaker:
            utterance.text = one.text
        else:
            ElementTree.SubElement(utterance, "gap", {"reason": _CLOSED_REASON})
    ElementTree.indent(root, " ")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{ElementTree.tostring(root, encoding="unicode")}\n'.encode()


def _people(said: Iterable[Spoken]) -> dict[str, str]:
    """label → xml:id: the person's code where whoever reads may know it, else a number."""
    found: dict[str, str] = {}
    for one in said:
        if one.speaker and one.speaker != NOT_ASSIGNED and one.speaker not in found:
            found[one.speaker] = one.code if _may_be_an_id(one.code) and one.code not in found.values() else f"speaker-{len(found) + 1}"
    return found


def _may_be_an_id(code: str) -> bool:
    """True where a code is an XML name of plain letters (XML 1.0 §2.3) that is no moment's."""
    plain = code.isascii() and code.replace("-", "").replace(".", "").replace("_", "").isalnum() and code[:1].isalpha()
    return plain and not (code.startswith(_PREFIX_OF_MOMENTS) and code[1:].isdecimal())


def _header(header: ElementTree.Element, shown: ShownRecording, who: dict[str, str]) -> None:
    """The four parts that a reader of TEI looks for: title, publication, source, who takes part."""
    described = ElementTree.SubElement(header, "fileDesc")
    ElementTree.SubElement(ElementTree.SubElement(described, "titleStmt"), "title").text = heading(shown)
    published = ElementTree.SubElement(described, "publicationStmt")
    ElementTree.SubElement(published, "p").text = INSIDE
    source = ElementTree.SubElement(ElementTree.SubElement(described, "sourceDesc"), "recordingStmt")
    recording = ElementTree.SubElement(source, "recording", {"type": "audio", "dur": f"PT{shown.duration_ms / 1000:.3f}S"})
    ElementTree.SubElement(recording, "p").text = f"{shown.code}, {moment(shown.duration_ms)}, transcript version {shown.version}"
    if who:
        profile = ElementTree.SubElement(ElementTree.SubElement(header, "profileDesc"), "particDesc")
        listed = ElementTree.SubElement(profile, "listPerson")
        for label, name in who.items():
            person = ElementTree.SubElement(listed, "person", {_ID: name})
            ElementTree.SubElement(person, "persName").text = one_line(label)
