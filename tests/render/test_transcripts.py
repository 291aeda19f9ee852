"""Transcripts written out and read in again: words, order, speakers and times. Outside readers: webvtt-py, python-docx, lxml; jiwer for
the words. TEI: chapter 8 of the P5 Guidelines, “Transcriptions of Speech”, from memory."""

from __future__ import annotations

import io
import json
import unicodedata
from collections.abc import Callable
from datetime import date

import docx
import jiwer
import pytest
import webvtt
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree

from archive.domain.cleared import GATE_TOKEN, ShownRecording, ShownUtterance, ShownWord
from archive.domain.script import Script
from archive.files.docx import is_package, main_part
from archive.render.transcript import as_json, as_srt, as_text, as_vtt
from archive.render.transcript_docx import as_docx
from archive.render.transcript_tei import TEI, as_tei
from archive.rules.script_fit import Said, fit
from archive.rules.script_labels import NOT_ASSIGNED
from archive.rules.scripts import read_script

ON = date(2026, 6, 1)
PEOPLE = {"N-01": "N-01 · Maud Ellery", "I-01": "I-01 · Ruth Calder", "": ""}
WRITERS: dict[str, Callable[[ShownRecording], bytes]] = {
    "vtt": as_vtt, "srt": as_srt, "txt": as_text, "json": as_json, "docx": lambda shown: as_docx(shown, ON),
}  # fmt: skip


def shown(lines: list[tuple[str, list[tuple[str, int, int]]]], closed: int = -1) -> ShownRecording:
    """A recording as a keeper sees it: (code of who speaks, words)."""
    utterances = tuple(
        ShownUtterance(
            token=GATE_TOKEN, utterance_id=n, speaker="" if n == closed else PEOPLE[code], speaker_code="" if n == closed else code,
            start_ms=words[0][1], end_ms=words[-1][2], closed=n == closed,
            words=() if n == closed else tuple(ShownWord(token=GATE_TOKEN, text=t, start_ms=s, end_ms=e) for t, s, e in words),
        )
        for n, (code, words) in enumerate(lines)
    )  # fmt: skip
    return ShownRecording(
        token=GATE_TOKEN, code="TW-01.1", title="Maud & the <ticket> window", duration_ms=4_000_000, version=7, utterances=utterances,
        playable=(), peaks=b"", peak_ms=10,
    )  # fmt: skip


def back(data: bytes) -> Script:
    return read_script(data, list(PEOPLE), docx_body=main_part(data) if is_package(data) else None)


def told(said: tuple[Said, ...]) -> list[tuple[str, str]]:
    """(who, word) of every word, in order."""
    return [(NOT_ASSIGNED if s.speaker in ("", NOT_ASSIGNED) else s.speaker[:4], w.text) for s in said for w in s.words]


TALK = [
    ("I-01", [("Were", 900, 1100), ("you", 1100, 1200), ("there,", 1200, 1500), ("Maud?", 1500, 1900)]),
    ("N-01", [("A", 3_723_004, 3_723_100), ("&", 3_723_100, 3_723_200), ("B:", 3_723_200, 3_723_300), ("[laughs loudly]", 3_723_300, 3_724_000), ("yes.", 3_724_000, 3_724_500)]),
    ("", [("(nobody", 3_725_000, 3_725_400), ("–", 3_725_400, 3_725_500), ("knows)", 3_725_500, 3_725_900)]),
]  # fmt: skip


@st.composite
def talks(draw: st.DrawFn) -> list[tuple[str, list[tuple[str, int, int]]]]:
    """Utterances one after another; words of letters, figures and signs (no < > {, for which SRT has no escape)."""
    sign = st.characters(categories=["L", "N", "P"], exclude_characters="<>{}[]()#*_\u2039\u203a")
    word = st.text(sign, min_size=1, max_size=9).filter(lambda w: any(c.isalnum() for c in w) and " ".join(w.split()) == w and "-->" not in w)
    at, lines = draw(st.integers(0, 5000)), []
    for _ in range(draw(st.integers(1, 6))):
        words = []
        for text in draw(st.lists(word, min_size=1, max_size=9)):
            length = draw(st.integers(20, 900))
            words.append((text, at, at + length))
            at += length + draw(st.integers(0, 300))
        lines.append((draw(st.sampled_from(sorted(PEOPLE))), words))
        at += draw(st.integers(0, 3000))
    return lines


@pytest.mark.parametrize("form", sorted(set(WRITERS) - {"docx"}))
@settings(max_examples=30)
@given(talk=talks())
def test_words_order_speakers_and_times_come_back(form: str, talk: list[tuple[str, list[tuple[str, int, int]]]]) -> None:
    comes_back(form, talk)


@settings(max_examples=6)
@given(talk=talks())
def test_and_from_a_docx(talk: list[tuple[str, list[tuple[str, int, int]]]]) -> None:
    comes_back("docx", talk)


def comes_back(form: str, talk: list[tuple[str, list[tuple[str, int, int]]]]) -> None:
    whole = shown(talk)
    script = back(WRITERS[form](whole))
    said = fit(script, whole.duration_ms).said
    expected = [(code or NOT_ASSIGNED, unicodedata.normalize("NFC", t)) for code, words in talk for t, _, _ in words]
    assert told(said) == expected
    if form == "json":
        assert [(w.start_ms, w.end_ms) for s in said for w in s.words] == [(s, e) for _, words in talk for _, s, e in words]
    elif form == "txt":
        assert [(line.start_ms, line.end_ms) for line in script.lines] == [(words[0][1], words[-1][2]) for _, words in talk]
    elif form == "docx":
        assert [line.start_ms for line in script.lines] == [words[0][1] for _, words in talk]
    else:
        starts, ends = {s for _, words in talk for _, s, _ in words}, {e for _, words in talk for _, _, e in words}
        assert all(line.start_ms in starts and line.end_ms in ends for line in script.lines)


def test_nothing_is_lost_by_jiwer() -> None:
    """Word error rate of every form against what was shown: 0."""
    whole = shown(TALK)
    words = " ".join(t for _, spoken in TALK for t, _, _ in spoken)
    for form, writer in WRITERS.items():
        there = " ".join(w.text for s in fit(back(writer(whole)), whole.duration_ms).said for w in s.words)
        assert jiwer.wer(words, there) == 0, form


def test_webvtt_py_reads_the_same_cues() -> None:
    data = as_vtt(shown(TALK)).decode()
    cues = webvtt.from_buffer(io.StringIO(data))
    assert cues[0].voice == "I-01 · Ruth Calder" and cues[0].text == "Were you there, Maud?"
    assert cues[1].start == "01:02:03.004" and "[laughs loudly]" in cues[1].text
    srt = webvtt.from_buffer(io.StringIO(as_srt(shown(TALK)).decode()), format="srt")
    assert [c.start for c in srt] == [c.start for c in cues] and srt[2].text.startswith("Speaker not assigned: (nobody")


def test_the_docx_has_times_in_its_margin() -> None:
    """Read by python-docx: a hanging indent, the time before the tab; the header says whom it is for."""
    document = docx.Document(io.BytesIO(as_docx(shown(TALK, closed=2), ON)))
    spoken = [p for p in document.paragraphs if p.style.name == "Testimony inside"]
    assert [p.text for p in spoken] == [
        "0:00:00.900\tI-01 · Ruth Calder: Were you there, Maud?", "1:02:03.004\tN-01 · Maud Ellery: A & B: [laughs loudly] yes.", "1:02:05.000\t[closed]",
    ]  # fmt: skip
    assert all(p.paragraph_format.first_line_indent == -p.paragraph_format.left_indent for p in spoken)
    assert "do not send on" in document.sections[0].header.paragraphs[0].text
    assert as_docx(shown(TALK), ON) == as_docx(shown(TALK), ON)


def test_closed_speech_is_a_mark_and_a_time_and_nobody_s() -> None:
    whole = shown(TALK, closed=1)
    for form, writer in {**WRITERS, "tei": as_tei}.items():
        data = writer(whole)
        text = "\n".join(p.text for p in docx.Document(io.BytesIO(data)).paragraphs) if form == "docx" else data.decode()
        assert "closed" in text and "laughs" not in text and "Ellery" not in text and "N-01" not in text, form


def test_tei_is_a_transcription_of_speech() -> None:
    """P5: header with fileDesc (titleStmt, publicationStmt, sourceDesc) first; a timeline whose <when>s are counted from its origin;
    every <u> has who, start, end, which point to things that are there, and runs forwards."""
    root = etree.fromstring(as_tei(shown([*TALK, ("N-01", [("So.", 3_726_000, 3_726_400)])], closed=0)))
    tei, ids = {"t": TEI}, "{http://www.w3.org/XML/1998/namespace}id"
    assert root.tag == f"{{{TEI}}}TEI" and [c.tag.split("}")[1] for c in root] == ["teiHeader", "text"]
    assert [e.tag.split("}")[1] for e in root.find(".//t:fileDesc", tei)] == ["titleStmt", "publicationStmt", "sourceDesc"]
    assert root.find(".//t:recording", tei).get("dur") == "PT4000.000S"
    assert [e.tag.split("}")[1] for e in root.find("t:text", tei)] == ["timeline", "body"]
    every = [e.get(ids) for e in root.iter() if e.get(ids)]
    assert len(every) == len(set(every))
    when = {e.get(ids): float(e.get("interval", "0")) for e in root.iterfind(".//t:timeline/t:when", tei)}
    timeline = root.find(".//t:timeline", tei)
    assert timeline.get("unit") == "s" and when[timeline.get("origin")[1:]] == 0
    assert all(e.get("since") == timeline.get("origin") for e in timeline[1:])
    said = root.findall(".//t:body/t:div/t:u", tei)
    assert [(u.get("who"), u.text) for u in said] == [(None, said[0].text), ("#N-01", "A & B: [laughs loudly] yes."), (None, "(nobody – knows)"), ("#N-01", "So.")]
    assert said[0].find("t:gap", tei).get("reason") == "closed"
    assert [(when[u.get("start")[1:]], when[u.get("end")[1:]]) for u in said][1] == (3723.004, 3724.5)
    assert all(when[u.get("start")[1:]] < when[u.get("end")[1:]] for u in said)
    assert {p.get(ids): p[0].text for p in root.iterfind(".//t:person", tei)} == {"N-01": "N-01 · Maud Ellery"}


def test_our_json_is_as_the_guide_describes_it() -> None:
    found = json.loads(as_json(shown(TALK)))
    assert found["recording"] == "TW-01.1" and found["format"] == 1
    assert found["utterances"][0] == {
        "speaker": "I-01", "called": "I-01 · Ruth Calder", "start_ms": 900, "end_ms": 1900,
        "words": [["Were", 900, 1100], ["you", 1100, 1200], ["there,", 1200, 1500], ["Maud?", 1500, 1900]],
    }  # fmt: skip
    assert found["utterances"][2]["speaker"] == ""
