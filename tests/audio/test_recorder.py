"""What recorders write into their files, read back; and whether one file goes on where another ends."""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st

from archive.audio.joins import Join, join
from archive.audio.recorder import recorder_says
from archive.audio.riff import wav_chunks, wav_claims
from tests.audio import recorders, sounds
from tests.audio.recorders import bext, with_chunks
from tests.needs import real_speech

RATE = 48_000
# The elements are those of the iXML specification, from memory
IXML = """<?xml version="1.0" encoding="UTF-8"?><BWFXML><IXML_VERSION>1.61</IXML_VERSION><PROJECT>Marigold</PROJECT><SCENE>3</SCENE><TAKE>2</TAKE>
<NOTE>lapel, kitchen; kettle at 12 min</NOTE><TRACK_LIST><TRACK_COUNT>2</TRACK_COUNT><TRACK><CHANNEL_INDEX>1</CHANNEL_INDEX><NAME>Narrator</NAME></TRACK>
<TRACK><CHANNEL_INDEX>2</CHANNEL_INDEX><NAME>Interviewer</NAME></TRACK></TRACK_LIST></BWFXML>"""


def made(path: Path, *chunks: tuple[bytes, bytes], after: tuple[tuple[bytes, bytes], ...] = ()) -> Path:
    return with_chunks(path, sounds.voicelike(0.5, RATE), RATE, *chunks, after=after)


def test_bext_and_ixml_are_read(tmp_path: Path) -> None:
    """EBU Tech 3285 v2 §2.3; the time reference is a 64-bit count of samples since midnight: 14:03:07.5 at 48 kHz here."""
    count = round((14 * 3600 + 3 * 60 + 7.5) * RATE)
    said = bext("Kitchen, second sitting", "RECORDER 7", "REF-001", "2024-05-12", "14:03:07", count)
    says = recorder_says(made(tmp_path / "a.wav", (b"bext", said), after=((b"iXML", IXML.encode()),)), RATE)
    assert (says.description, says.originator, says.reference, says.day, says.time) == ("Kitchen, second sitting", "RECORDER 7", "REF-001", "2024-05-12", "14:03:07")
    assert says.first_ms == 50_587_500
    assert says.notes == (
        ("NOTE", "lapel, kitchen; kettle at 12 min"), ("PROJECT", "Marigold"), ("SCENE", "3"), ("TAKE", "2"), ("TRACK 1", "Narrator"), ("TRACK 2", "Interviewer"),
    )  # fmt: skip


def test_the_time_reference_has_a_high_half(tmp_path: Path) -> None:
    """Above 2^32 samples (24 h 51 at 48 kHz; 12 h 25 at 96 kHz): both halves count."""
    count = (1 << 32) + 96_000
    says = recorder_says(made(tmp_path / "a.wav", (b"bext", bext(samples=count))), 96_000)
    assert says.first_ms == round(count / 96)


@pytest.mark.parametrize(
    ("day", "time", "read"),
    [
        ("2024:05:12", "10-00-00", ("2024-05-12", "10:00:00")),  # separators that Tech 3285 allows
        ("2024_05_12", "10.00.00", ("2024-05-12", "10:00:00")),
        ("2024-02-30", "25:00:00", ("", "")),
        ("", "", ("", "")),
        ("0000-00-00", "00:00:00", ("", "00:00:00")),
        ("12.05.2024", "10:00:60", ("", "")),
    ],
)
def test_days_and_times_as_they_come(tmp_path: Path, day: str, time: str, read: tuple[str, str]) -> None:
    says = recorder_says(made(tmp_path / "a.wav", (b"bext", bext(day=day, time=time))), RATE)
    assert (says.day, says.time) == read


def test_what_swells_or_breaks_is_left_alone(tmp_path: Path) -> None:
    bomb = b'<!DOCTYPE x [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]><BWFXML><NOTE>&b;</NOTE></BWFXML>'
    for body in (bomb, b"<BWFXML><NOTE>", b"\xff\xfe", b""):
        assert recorder_says(made(tmp_path / "a.wav", (b"iXML", body)), RATE).notes == ()
    assert recorder_says(made(tmp_path / "b.wav", (b"bext", bext("x")[:300])), RATE).description == "", "cut short"
    control = bext("a\x07b\u202ec\n d")
    assert recorder_says(made(tmp_path / "c.wav", (b"bext", control)), RATE).description == "abc d"


@given(raw=st.binary(max_size=400))
@settings(max_examples=60)
def test_any_bytes_are_read_without_a_fault(tmp_path_factory: pytest.TempPathFactory, raw: bytes) -> None:
    path = tmp_path_factory.mktemp("raw") / "a.wav"
    for head in (b"RIFF\0\0\0\0WAVE", b"RF64\xff\xff\xff\xffWAVEds64", b"\0\0\0\x18ftypM4A ", b""):
        path.write_bytes(head + raw)
        recorder_says(path, RATE)
        wav_claims(path)


def test_rf64_chunks_after_the_data_are_found(tmp_path: Path) -> None:
    """EBU Tech 3306: sizes of 0xFFFFFFFF stand in `ds64`, which comes first."""
    data = bytes(96_000)
    form = struct.pack("<HHIIHH", 1, 1, RATE, RATE * 2, 2, 16)
    ds64 = struct.pack("<QQQI", 0, len(data), 0, 0)
    body = b"WAVE" + b"ds64" + struct.pack("<I", len(ds64)) + ds64 + b"fmt " + struct.pack("<I", 16) + form
    body += b"data\xff\xff\xff\xff" + data + b"bext" + struct.pack("<I", 602) + bext("after the data")
    path = tmp_path / "long.wav"
    path.write_bytes(b"RF64\xff\xff\xff\xff" + body)
    assert recorder_says(path, RATE).description == "after the data"
    claims = wav_claims(path)
    assert claims is not None and (claims.channels, claims.duration_ms) == (1, 1000)
    assert wav_chunks(path, {b"bext": 10})[b"bext"] == b"after the "


def test_an_mp4_says_when_it_was_made(tmp_path: Path) -> None:
    """ffmpeg writes the movie header (ISO/IEC 14496-12, from memory: seconds since 1904) that is read here by hand."""
    wav = sounds.write(tmp_path / "a.wav", sounds.voicelike(1, RATE), RATE)
    dated = sounds.encoded(wav, tmp_path / "a.m4a", "-metadata", "creation_time=2024-05-12T10:11:12Z")
    says = recorder_says(dated, RATE)
    assert (says.day, says.time, says.started_ms) == ("2024-05-12", "10:11:12", 1_715_508_672_000)
    assert recorder_says(sounds.encoded(wav, tmp_path / "b.m4a", "-map_metadata", "-1", "-fflags", "+bitexact"), RATE).day == ""
    assert recorder_says(wav, RATE).day == ""


# -- joins ---------------------------------------------------------------------------------------------------------------
def speech(name: str, seconds: float) -> tuple[sounds.Samples, int]:
    pcm, rate = soundfile.read(str(real_speech() / name), dtype="float32", frames=-1)
    return np.asarray(pcm if pcm.ndim == 1 else pcm[:, 0])[: round(seconds * rate)], rate


@pytest.mark.parametrize("name", ["jfk.flac", "mary.wav"])
def test_real_speech_cut_anywhere_joins_and_other_speech_does_not(tmp_path: Path, name: str) -> None:
    """Recordings of SPEECH.md. Where it is cut in the middle of a word or of a pause, the wave goes on; with a quarter of a second missing it does not."""
    pcm, rate = speech(name, 11)
    hop = rate // 4
    found: dict[str, list[Join]] = {"whole": [], "gap": []}
    for at in range(rate, len(pcm) - rate, rate // 2):
        sounds.write(tmp_path / "a.wav", pcm[:at], rate)
        for kind, first in (("whole", at), ("gap", at + hop)):
            found[kind].append(join(tmp_path / "a.wav", sounds.write(tmp_path / "b.wav", pcm[first:], rate)))
    assert Join.BREAKS not in found["whole"], found["whole"]
    assert found["whole"].count(Join.JOINS) >= 0.6 * len(found["whole"]), found["whole"]
    assert found["gap"].count(Join.JOINS) <= 0.4 * len(found["gap"]), found["gap"]


def test_silence_hiss_and_other_forms_say_nothing(tmp_path: Path) -> None:
    zeros = sounds.write(tmp_path / "z.wav", np.zeros(RATE, np.float32))
    hiss = sounds.write(tmp_path / "h.wav", sounds.noise(1, -40))
    tone = sounds.write(tmp_path / "t.wav", sounds.sine(200, 1, -12))
    two = sounds.write(tmp_path / "s.wav", np.stack([sounds.sine(200, 1, -12)] * 2))
    for first, second in ((zeros, tone), (tone, zeros), (hiss, hiss), (tone, two), (tone, tmp_path / "none.wav")):
        assert join(first, second) is Join.OPEN, (first.name, second.name)
    later = sounds.write(tmp_path / "l.wav", sounds.sine(200, 2, -12)[RATE:])
    other = sounds.write(tmp_path / "o.wav", sounds.sine(200, 1, -12, phase=2.0))
    assert join(tone, later) is Join.JOINS and join(tone, other) is Join.BREAKS


def test_a_split_made_for_the_tests_is_whole(tmp_path: Path) -> None:
    pcm = sounds.voicelike(4, RATE)
    a, b = recorders.split(tmp_path / "card", pcm, RATE, [2 * RATE], ["A.wav", "B.wav"], 36_000 * RATE)
    both = np.concatenate([soundfile.read(str(p), dtype="float32")[0] for p in (a, b)])
    assert len(both) == len(pcm) and join(a, b) is Join.JOINS
