"""Scripts from elsewhere: encodings, labels, times, DOCX, tables, our JSON; what is bad has its words, and nothing good is lost."""

from __future__ import annotations

import io
import json
import zipfile

import docx
import pytest
from docx.oxml import parse_xml
from docx.oxml.ns import nsdecls
from hypothesis import given
from hypothesis import strategies as st

from archive.domain.script import Line, Script
from archive.domain.values import MIN_WORD_MS, Word
from archive.errors import BadInput, SheetError
from archive.files.docx import is_package, main_part
from archive.rules.script_fit import Fitted, fit
from archive.rules.script_sound import put_to_sound
from archive.rules.scripts import read_script

TYPED = "Ruth Calder: Where did you live, Zoë?\r\nMaud: On Größe Street – by the café.\r\nRuth Calder: And then?\r\nMaud: Then we left.\r\n"
HOUR = 3_600_000


def said(script: Script) -> list[tuple[str, str]]:
    return [(line.speaker, " ".join(line.words)) for line in script.lines]


# --- encodings and line ends --------------------------------------------------------------------------------------------
@pytest.mark.parametrize("codec", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "cp1252"])
@pytest.mark.parametrize("ends", ["\r\n", "\n", "\r"])
def test_whatever_its_encoding_and_line_ends(codec: str, ends: str) -> None:
    script = read_script(TYPED.replace("\r\n", ends).encode(codec))
    assert said(script) == said(read_script(TYPED.encode())) and len(script.lines) == 4
    guessed = codec in ("utf-16-le", "utf-16-be", "cp1252")
    assert any("guess" in note for note in script.notes) == guessed, "a guess is told, a certainty is not"


def test_a_guess_can_be_overruled() -> None:
    data = "Maud: Żółw na łące.".encode("iso-8859-2")
    assert said(read_script(data, ["Maud"], encoding="iso-8859-2")) == [("Maud", "Żółw na łące.")]
    with pytest.raises(BadInput, match="no encoding"):
        read_script(data, encoding="base64")


def test_one_bad_byte_does_not_spoil_the_letters() -> None:
    data = ("Maud: " + "Größe café naïve Zoë " * 20).encode() + b"\xff end"
    script = read_script(data, ["Maud"])
    assert "Größe" in script.lines[0].words and any("damaged" in note for note in script.notes)


@pytest.mark.parametrize(("data", "words"), [(b"%PDF-1.7 x", "a PDF"), (b"{\\rtf1 x}", "an RTF"), (bytes(range(32)) * 40, "no text"), (b"", "no words"), (b"WEBVTT\n\n", "no words")])
def test_what_is_no_script_is_said(data: bytes, words: str) -> None:
    with pytest.raises(BadInput, match=words):
        read_script(data)


@given(data=st.binary(max_size=400))
def test_no_bytes_crash_the_reader(data: bytes) -> None:
    for given_bytes in (data, b"WEBVTT\n\n" + data, b"1\n00:00:01,000 --> 00:00:02,000\n" + data, b"start,end,words\n" + data, b'{"utterances": [' + data):
        try:
            fit(read_script(given_bytes), HOUR)
        except BadInput as error:
            assert error.message and error.remedy


@given(data=st.binary(max_size=300))
def test_no_bytes_crash_the_reader_of_docx(data: bytes) -> None:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as package:
        package.writestr("[Content_Types].xml", data[:40])
        package.writestr("word/document.xml", b"<w:document>" + data)
    whole = made.getvalue()
    for given_bytes in (whole, whole[: len(whole) - len(data)], b"PK\x03\x04" + data):
        with pytest.raises(BadInput):
            read_script(given_bytes, docx_body=main_part(given_bytes))


# --- who speaks ---------------------------------------------------------------------------------------------------------
def test_a_colon_in_speech_is_no_label() -> None:
    text = "MAUD ELLERY: I said to him: go.\nThe rule was this: nobody crosses.\nMAUD ELLERY: Remember: we were young."
    assert said(read_script(text.encode())) == [
        ("MAUD ELLERY", "I said to him: go. The rule was this: nobody crosses."), ("MAUD ELLERY", "Remember: we were young.")
    ]  # fmt: skip


def test_labels_that_are_known_stand_alone_and_in_brackets() -> None:
    text = "[Dot]: First.\n\nFenner:\nSecond line.\n\n**Dot**: Third.\nN-09 · Dot: Fourth."
    script = read_script(text.encode(), ["Dot", "Fenner", "N-09"])
    assert said(script) == [("Dot", "First."), ("Fenner", "Second line."), ("Dot", "Third."), ("N-09 · Dot", "Fourth.")]


def test_times_wherever_people_write_them() -> None:
    text = (
        "[0:01] Dot: One.\n(00:00:04.5) Dot: Two.\nDot [0:09]: Three.\nDot 0:12\nFour.\n\n0:15 - 0:17 Dot: Five.\n\n0:20\nDot: Six.\nDot: [0:25] Seven."
    )
    script = read_script(text.encode(), ["Dot"])
    assert [(line.start_ms, line.end_ms, line.words[0]) for line in script.lines] == [
        (1000, None, "One."), (4500, None, "Two."), (9000, None, "Three."), (12000, None, "Four."), (15000, 17000, "Five."), (20000, None, "Six."),
        (25000, None, "Seven."),
    ]  # fmt: skip


def test_a_time_of_day_is_speech() -> None:
    script = read_script(b"Dot: It began early.\n7:30 was the bell.\nThen we went.\nNobody sang.\nDot: Yes.")
    assert not script.timed and "7:30" in script.lines[0].words


# --- tables and JSON ----------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    "text",
    [
        "start_s,end_s,speaker,words\n0.7,5.798,I-01,\"Yes, we did.\"\n6,8.5,N-01,No.\n",
        "words;speaker;start;end\nYes, we did.;I-01;0:00.7;0:05.798\nNo.;N-01;0:06;0:08,5\n",
        "Start_ms\tEnd_ms\tWho\tText\n700\t5798\tI-01\tYes, we did.\n6000\t8500\tN-01\tNo.\n",
        "0.7,5.798,I-01,\"Yes, we did.\"\n6,8.5,N-01,No.\n",
    ],
)
def test_tables_of_intervals(text: str) -> None:
    lines = read_script(text.encode()).lines
    assert [(line.start_ms, line.end_ms, line.speaker, " ".join(line.words)) for line in lines] == [
        (700, 5798, "I-01", "Yes, we did."), (6000, 8500, "N-01", "No.")
    ]  # fmt: skip


def test_every_fault_of_a_table_is_named_with_its_row() -> None:
    with pytest.raises(SheetError) as caught:
        read_script(b"start,end,words\n1,2,Yes\nsoon,4,No\n5,later,So\n")
    assert [f[:6] for f in caught.value.findings] == ["Row 3:", "Row 4:"]


@pytest.mark.parametrize("bad", [{"utterances": [3]}, {"utterances": [{"words": [["a", 1]]}]}, {"utterances": [{"text": "a", "start_ms": -1}]}, {"utterances": [{"text": "a", "speaker": 3}]}, {"said": []}])
def test_json_that_is_not_ours_says_where(bad: object) -> None:
    with pytest.raises(BadInput, match=r"utterance"):
        read_script(json.dumps(bad).encode())


# --- DOCX ---------------------------------------------------------------------------------------------------------------
def saved(document: docx.document.Document) -> bytes:
    made = io.BytesIO()
    document.save(made)
    return made.getvalue()


def read(data: bytes, *known: str) -> Script:
    assert is_package(data)
    return read_script(data, known, docx_body=main_part(data))


def tracked(text: str, kind: str) -> object:
    inner = "delText" if kind == "del" else "t"
    return parse_xml(f'<w:{kind} {nsdecls("w")} w:id="1" w:author="A" w:date="2025-01-01T00:00:00Z"><w:r><w:{inner} xml:space="preserve">{text}</w:{inner}></w:r></w:{kind}>')


def test_tracked_changes_read_as_they_would_if_accepted() -> None:
    """ECMA-376 part 1, §17.13.5: w:ins and w:moveTo are there, w:del and w:moveFrom are not; comments and hidden text are no speech."""
    document = docx.Document()
    document.add_heading("Interview with Maud", 0)
    first = document.add_paragraph("Ruth: We ")
    first._p.append(tracked("rowed ", "del"))
    first._p.append(tracked("crossed ", "ins"))
    first.add_run("at six.")
    hidden = first.add_run(" Do not print.")
    hidden.font.hidden = True
    parted = document.add_paragraph("Maud: Yes, ")
    parted._p.get_or_add_pPr().append(parse_xml(f'<w:rPr {nsdecls("w")}><w:del w:id="2" w:author="A"/></w:rPr>'))
    document.add_paragraph("we did.")
    document.add_paragraph("Ruth: And\tthen?").add_run().add_break()
    script = read(saved(document), "Ruth", "Maud")
    assert said(script) == [("Ruth", "We crossed at six."), ("Maud", "Yes, we did."), ("Ruth", "And then?")]
    assert any("tracked changes" in note for note in script.notes) and any("heading" in note for note in script.notes)


def test_a_docx_with_entities_or_without_a_body_is_refused() -> None:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as package:
        package.writestr("[Content_Types].xml", "<Types/>")
        package.writestr("word/document.xml", '<!DOCTYPE x [<!ENTITY a "ha">]><x>&a;</x>')
    with pytest.raises(BadInput, match="damaged"):
        read(made.getvalue())
    empty = io.BytesIO()
    zipfile.ZipFile(empty, "w").close()
    with pytest.raises(BadInput, match="no DOCX"):
        main_part(empty.getvalue())


def test_what_was_written_out_with_closed_words_is_not_taken_back() -> None:
    with pytest.raises(BadInput, match="may not read all of it"):
        read_script(b"Dot: We said [closed] and left.", ["Dot"])
    assert read_script(b"Dot: We said [laughs loudly] and left.", ["Dot"]).lines[0].words[2] == "[laughs loudly]"


# --- into a recording's time --------------------------------------------------------------------------------------------
def sound(fitted: Fitted, duration_ms: int) -> None:
    """What every version needs: starts in order, words in a row of 20 ms at least, inside the recording."""
    starts = [s.words[0].start_ms for s in fitted.said]
    assert starts == sorted(starts)
    for one in fitted.said:
        assert one.words[0].start_ms >= 0 and one.words[-1].end_ms <= duration_ms
        assert all(w.end_ms - w.start_ms >= MIN_WORD_MS for w in one.words)
        assert all(a.end_ms <= b.start_ms for a, b in zip(one.words, one.words[1:], strict=False))


LINES = st.builds(
    Line,
    words=st.lists(st.sampled_from(["Yes", "nineteen", "crossed,", "[laughter]", "a"]), min_size=1, max_size=8).map(tuple),
    speaker=st.sampled_from(["", "A", "B"]),
    start_ms=st.none() | st.integers(0, 70_000),
    end_ms=st.none() | st.integers(0, 70_000),
)


@given(lines=st.lists(LINES, min_size=1, max_size=12), captions=st.booleans())
def test_any_times_become_sound_ones_and_no_word_is_lost(lines: list[Line], captions: bool) -> None:
    duration_ms = 60_000
    script = Script("test", tuple(lines), captions)
    try:
        fitted = fit(script, duration_ms)
    except BadInput as error:
        assert "beyond the recording's end" in error.message
        return
    sound(fitted, duration_ms)
    kept = sorted(w.text for s in fitted.said for w in s.words)
    assert sorted([*kept, *(w for line in fitted.left_out for w in line.words)]) == sorted(w for line in lines for w in line.words)


def test_times_that_run_backwards_or_beyond_the_end_are_said() -> None:
    text = "start,end,words\n1,3,One two.\n9,4,Three.\n5,7,Four.\n9.5,30,Five.\n40,41,Lost words\n"
    fitted = fit(read_script(text.encode()), 10_000)
    sound(fitted, 10_000)
    assert [w.text for s in fitted.said for w in s.words] == ["One", "two.", "Four.", "Three.", "Five."]
    told = " ".join(fitted.notes)
    assert "backwards" in told and "row 3" in told and "in order" in told and "2 words (row 6)" in told and "cut there (row 5)" in told
    with pytest.raises(BadInput, match="another recording|beyond"):
        fit(read_script(text.encode()), 900)


# --- put to the sound ---------------------------------------------------------------------------------------------------
def heard(text: str) -> list[Word]:
    return [Word(t, 1000 + 400 * n, 1300 + 400 * n, 0.9) for n, t in enumerate(text.split())]


def test_typed_words_get_the_times_at_which_they_were_heard() -> None:
    script = read_script(b"Dot: We crossed the river, at six. [laughs]\nFenner: Nobody ever said it was a cold and dismal morning.\nDot: No.", ["Dot", "Fenner"])
    words = heard("we crossed the river um uh at sticks nobody said it was a cold and morning no")
    placed = put_to_sound(script, words, 60_000)
    at = {w.text: w for s in placed.said for w in s.words}
    assert at["river,"].start_ms == 2200 and at["at"].start_ms == 3400 and at["six."].start_ms == 3800 and at["No."].start_ms == 7400
    assert [(s, e, n) for s, e, n in placed.untyped] == [(2600, 3300, 2)], "um uh"
    assert [n for *_, n in placed.unheard] == [1, 1] and at["ever"].probability == 0.0 == at["dismal"].probability
    assert at["[laughs]"].probability == 1.0, "a mark is not expected to be heard as a word"
    sound(Fitted(placed.said, ()), 60_000)


@given(
    typed=st.lists(st.sampled_from("we crossed the river at six and nobody said no".split()), min_size=1, max_size=30),  # noqa: SIM905
    times=st.lists(st.integers(0, 29_000), min_size=1, max_size=30),
)
def test_whatever_was_heard_words_keep_their_order(typed: list[str], times: list[int]) -> None:
    words = [Word(typed[n % len(typed)], t, t + 300) for n, t in enumerate(times)]  # overlapping, out of order
    script = Script("test", (Line(tuple(typed)),))
    try:
        placed = put_to_sound(script, words, 30_000)
    except BadInput:
        return
    sound(Fitted(placed.said, ()), 30_000)
    assert [w.text for s in placed.said for w in s.words] == typed


def test_another_recording_s_transcript_is_refused() -> None:
    script = read_script(b"Dot: The herring boats came late that winter and my uncle mended nets.", ["Dot"])
    with pytest.raises(BadInput, match="hardly what is said"):
        put_to_sound(script, heard("we crossed the river at six and nobody said it was a cold morning"), 60_000)
