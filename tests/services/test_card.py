"""What recorders leave on a card: split takes, two microphones, companions, clocks, odd forms; and cards that go while they are read."""

from __future__ import annotations

import hashlib
import io
import shutil
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner
from sqlalchemy import text

from archive.app import Archive
from archive.audio import access
from archive.audio.accesscopy import make_access_copy
from archive.audio.probe import Caps
from archive.cli.main import cli
from archive.errors import BadInput, NotAllowed, NotFound
from archive.services.rows import Finding
from tests import cast
from tests.audio import sounds
from tests.audio.recorders import bext, split, with_chunks

RATE = 16_000
HEAD = "file,interview,part,recorded_on,title,language,microphones,left,right,participants\n"
START = 36_000 * RATE  # ten in the morning


@pytest.fixture
def archive(tmp_path: Path) -> Iterator[Archive]:
    made = Archive.create(tmp_path / "archive", cast.KEEPER, "Tarnwick Voices", "Marigold", True, {}, cast.clock)
    yield made
    made.close()


@pytest.fixture
def card(tmp_path: Path) -> Path:
    folder = tmp_path / "card"
    folder.mkdir()
    return folder


def take(archive: Archive, *paths: Path, **how: object) -> dict[str, Finding]:
    return {f.source_name: f for f in archive.ingest.take(cast.EDITOR, paths, **how)}  # type: ignore[arg-type]


def sheet(folder: Path, *rows: str) -> None:
    (folder / "recordings.csv").write_text(HEAD + "".join(f"{row}\n" for row in rows), encoding="utf-8")


def whole(archive: Archive) -> None:
    assert archive.records.check(cast.KEEPER, fixity=True) == ()


def test_a_split_take_becomes_parts_in_order(cast_archive: Archive, card: Path) -> None:
    """Three files of one take (EBU Tech 3285 time references), the first in the sheet: the others are its next parts."""
    pcm = sounds.voicelike(6, RATE)
    names = ["REC0009.WAV", "REC0010.WAV", "REC0011.WAV"]
    split(card, pcm, RATE, [2 * RATE, 4 * RATE], names, START)
    sheet(card, "REC0009.WAV,IV-40,1,2024-05-12,The walk,de,one,,,N-21")
    found = take(cast_archive, card)
    assert [found[n].recording for n in names] == ["IV-40.1", "IV-40.2", "IV-40.3"]
    for n, before in ((1, "IV-40.1"), (2, "IV-40.2")):
        assert f"It goes on where {before} ends (the names, the recorder’s clock, the sound agree)." in found[names[n]].words
        row = cast_archive.recordings.page(cast.KEEPER, found[names[n]].recording).row
        assert (row.interview, row.participants, str(row.recorded_on), row.title) == ("IV-40", ("N-21",), "2024-05-12", "The walk")
    assert len({p.stem for p in (cast_archive.folder / "masters").glob("??/*")} & {hashlib.sha256((card / n).read_bytes()).hexdigest() for n in names}) == 3, "masters stay as they came"
    again = take(cast_archive, card)
    assert {f.outcome for f in again.values()} == {"duplicate"} and "IV-40.3" in again["REC0011.WAV"].words
    whole(cast_archive)


def test_without_a_sheet_it_is_only_suggested(archive: Archive, card: Path) -> None:
    split(card, sounds.voicelike(4, RATE), RATE, [2 * RATE], ["A.wav", "B.wav"], START)
    words = take(archive, card)["B.wav"].words
    assert "It seems to go on where R-0001 ends" in words and "write both into recordings.csv as parts of one interview" in words
    assert archive.recordings.page(cast.KEEPER, "R-0002").row.interview == ""


@pytest.mark.parametrize("fault", ["a moment missing", "another time", "another rate", "another name"])
def test_what_does_not_agree_is_not_joined(cast_archive: Archive, card: Path, fault: str) -> None:
    """One thing that speaks against it, and nobody's consent is handed on."""
    pcm = sounds.voicelike(5, RATE)
    second, start, rate, name = pcm[2 * RATE : 4 * RATE], START + 2 * RATE, RATE, "REC2.wav"
    if fault == "a moment missing":
        second = pcm[2 * RATE + 700 : 4 * RATE + 700]
    elif fault == "another time":
        start += 600 * RATE
    elif fault == "another rate":
        second, rate, start = sounds.voicelike(2, 8_000), 8_000, START // 2 + 16_000
    else:
        name = "REC3.wav"
    with_chunks(card / "REC1.wav", pcm[: 2 * RATE], RATE, (b"bext", bext(samples=START)))
    with_chunks(card / name, second, rate, (b"bext", bext(time="10:00:02", samples=start)))
    sheet(card, "REC1.wav,IV-40,1,,,,,,,N-21")
    found = take(cast_archive, card)
    assert "no interview yet" in found[name].words, found[name].words
    assert cast_archive.recordings.page(cast.KEEPER, found[name].recording).row.participants == ()
    assert ("as if a moment were missing" in found[name].words) is (fault == "a moment missing")


def test_two_microphones_stay_two_masters_and_say_so(cast_archive: Archive, card: Path) -> None:
    one, other = sounds.voicelike(3, RATE, seed=3), sounds.voicelike(3, RATE, seed=9)
    for name, pcm in (("T01_Tr1.WAV", one), ("T01_Tr2.WAV", other)):
        with_chunks(card / name, pcm, RATE, (b"bext", bext(samples=START)))
    sheet(card, "T01_Tr1.WAV,IV-40,1,2024-05-12,,,,,,N-21")
    found = take(cast_archive, card)
    assert [found[n].recording for n in ("T01_Tr1.WAV", "T01_Tr2.WAV")] == ["IV-40.1", "IV-40.2"]
    assert "at the same time as IV-40.1 by another microphone" in found["T01_Tr2.WAV"].words and "found twice" in found["T01_Tr2.WAV"].words
    for code, twin in (("IV-40.1", "IV-40.2"), ("IV-40.2", "IV-40.1")):
        notes = " ".join(cast_archive.recordings.page(cast.KEEPER, code).notes)
        assert f"recorded the same time as {twin}" in notes
    with cast_archive.rooms.db.read() as connection:
        assert connection.execute(text("SELECT beside_ms FROM origin WHERE beside_id IS NOT NULL")).scalars().all() == [0]
    assert any("at the same time as IV-40.1" in line for line in cast_archive.recordings.came_with(cast.EDITOR, "IV-40.2")[0])
    whole(cast_archive)


def test_two_cards_with_the_same_names_are_not_mixed(cast_archive: Archive, card: Path) -> None:
    """REC1 and REC2 on both: each second part goes on with its own first one."""
    for folder, seed, start in (("A", 3, START), ("B", 11, START + 3600 * RATE)):
        split(card / folder, sounds.voicelike(4, RATE, seed), RATE, [2 * RATE], ["REC1.wav", "REC2.wav"], start)
    sheet(card, "A/REC1.wav,IV-40,1,2024-05-12,,,,,,N-21", "B/REC1.wav,IV-41,1,2024-05-12,,,,,,N-25")
    found = take(cast_archive, card)
    assert {n: f.recording for n, f in found.items()} == {"A/REC1.wav": "IV-40.1", "A/REC2.wav": "IV-40.2", "B/REC1.wav": "IV-41.1", "B/REC2.wav": "IV-41.2"}


# -- clocks --------------------------------------------------------------------------------------------------------------
def test_a_clock_of_1980_is_asked_about_and_never_believed(archive: Archive, card: Path) -> None:
    with_chunks(card / "a.wav", sounds.voicelike(1, RATE), RATE, (b"bext", bext("Net Row", "RECORDER 7", day="1980-01-01", time="00:00:07")))
    with_chunks(card / "b.wav", sounds.voicelike(1, RATE, 5), RATE, (b"bext", bext(day="2024-05-12", time="10:00:00")))
    cast.sound(card / "c.wav", 1, 3)
    found = take(archive, card, interview="IV-1")
    assert "Its clock said 1 January 1980: clocks start there when nobody sets them." in found["a.wav"].words
    assert "says 12 May 2024, 10:00, which nobody has confirmed" in found["b.wav"].words
    assert all("toldhere when" in found[n].words for n in ("a.wav", "b.wav"))
    assert all(r.recorded_on is None for r in archive.recordings.list(cast.EDITOR)), "no clock is believed"
    rows = {r.file: r for r in archive.recordings.undated(cast.EDITOR)}
    assert rows["a.wav"].doubt and not rows["b.wav"].doubt and rows["b.wav"].says == "12 May 2024, 10:00" and rows["c.wav"].says == ""
    says, _ = archive.recordings.came_with(cast.EDITOR, "IV-1.1")
    assert says == ("made with RECORDER 7", "started on 1 January 1980 at 00:00, which is not believed", "Description: Net Row")
    for wrong in ("12.5.2024", "2024-02-30", "2030-01-01", "1492-10-12", ""):
        with pytest.raises(BadInput):
            archive.recordings.say_when(cast.EDITOR, "IV-1.1", wrong)
    with pytest.raises(NotFound):
        archive.recordings.say_when(cast.EDITOR, "R-9", "2024-05-12")
    for act in (lambda: archive.recordings.undated(cast.READER), lambda: archive.recordings.came_with(cast.READER, "IV-1.1")):
        with pytest.raises(NotAllowed):
            act()
    archive.recordings.say_when(cast.EDITOR, "IV-1.1", "2024-05-11")
    assert [r.code for r in archive.recordings.undated(cast.EDITOR)] == ["IV-1.2", "IV-1.3"]
    newest = archive.records.list(cast.KEEPER, 1)[0]
    assert newest.action == "recording dated" and newest.detail == {"on": "2024-05-11", "before": ""}
    with archive.rooms.db.read() as connection:
        assert str(connection.execute(text("SELECT held_on FROM interview WHERE code = 'IV-1'")).scalar()) == "2024-05-11"


def test_the_command_lists_and_dates(archive: Archive, card: Path) -> None:
    with_chunks(card / "a.wav", sounds.voicelike(1, RATE), RATE, (b"bext", bext(day="1980-01-01", time="00:00:07")))
    take(archive, card)
    archive.close()

    def run(*words: str) -> str:
        done = CliRunner().invoke(cli, ["--archive", str(archive.folder), "--as", "E-01", "--role", "editor", *words], prog_name="toldhere")
        assert done.exit_code == 0, done.output
        return done.output

    assert "R-0001" in run("when") and "1 January 1980" in run("when", "--json")
    assert "R-0001: recorded on 12 May 2024." in run("when", "R-0001", "2024-05-12")
    assert "Of every recording somebody said" in run("when")


def test_a_sheet_and_a_clock_that_disagree_are_told(cast_archive: Archive, card: Path) -> None:
    with_chunks(card / "a.wav", sounds.voicelike(1, RATE), RATE, (b"bext", bext(day="2023-05-12")))
    sheet(card, "a.wav,IV-40,1,2024-05-12,,,,,,N-21")
    assert "recordings.csv says 12 May 2024, the recorder’s clock 12 May 2023: the sheet counts." in take(cast_archive, card)["a.wav"].words


# -- companions ----------------------------------------------------------------------------------------------------------
def test_companions_are_kept_and_checksums_verified(archive: Archive, card: Path) -> None:
    """Lists as sum programs write them (common practice, no source); hashlib is the outside reckoner."""
    for name, seed in (("REC1.wav", 1), ("REC2.wav", 2)):
        cast.sound(card / name, 1, seed)
    good, bad = (card / "REC1.wav").read_bytes(), (card / "REC2.wav").read_bytes()
    (card / "REC1.xml").write_text("<take/>", encoding="utf-8")
    (card / "REC1.wav.asc").write_text("made at the quay", encoding="utf-8")
    (card / "REC1.wav.md5").write_text(hashlib.md5(good).hexdigest() + "\n", encoding="utf-8")
    (card / "all.sha256").write_text(f"{hashlib.sha256(good).hexdigest()} *REC1.wav\r\nSHA256 (sub/REC2.wav) = {hashlib.sha256(bad + b'x').hexdigest()}\n", encoding="utf-8")
    (card / "REC10.txt").write_text("another recording's", encoding="utf-8")
    (card / "REC2.txt").symlink_to("/etc/hostname")
    found = take(archive, card)
    assert "Kept beside it: REC1.wav.asc, REC1.wav.md5 (its checksum matches), REC1.xml, all.sha256 (its checksum matches)." in found["REC1.wav"].words
    assert "Careful: the checksum in all.sha256 is not that of this file." in found["REC2.wav"].words and found["REC2.wav"].differs
    assert found["REC2.wav"].outcome == "taken", "what came is kept"
    assert [f.words for f in archive.ingest.findings(cast.EDITOR)][::-1] == [found["REC1.wav"].words, found["REC2.wav"].words]
    _, beside = archive.recordings.came_with(cast.EDITOR, "R-0001")
    assert [b.split(":")[0] for b in beside] == ["REC1.wav.asc", "REC1.wav.md5", "REC1.xml", "all.sha256"]
    kept = {p.read_bytes() for p in (archive.folder / "companions").glob("??/*")}
    assert b"<take/>" in kept and b"made at the quay" in kept and b"another recording's" not in kept
    assert len(archive.recordings.list(cast.EDITOR)) == 2, "no companion is a recording"
    again = take(archive, card)
    assert "Kept beside it" not in again["REC1.wav"].words and again["REC2.wav"].differs
    whole(archive)


def test_a_wrong_checksum_is_an_exit_code(archive: Archive, card: Path) -> None:
    cast.sound(card / "REC1.wav", 1, 1)
    (card / "REC1.md5").write_text("0" * 32, encoding="utf-8")
    done = CliRunner().invoke(cli, ["--archive", str(archive.folder), "ingest", str(card)], prog_name="toldhere")
    assert done.exit_code == 1 and "Careful" in done.output


# -- forms ---------------------------------------------------------------------------------------------------------------
def test_odd_forms_are_taken(archive: Archive, card: Path) -> None:
    """24 bit, float, 8 kHz, 96 kHz, 5.1: each taken as it is, with what is not listened to said."""
    voice = sounds.voicelike(1, 48_000)
    sounds.write(card / "deep.wav", voice, 48_000, "PCM_24")
    sounds.write(card / "float.wav", voice, 48_000, "FLOAT")
    sounds.write(card / "phone.wav", sounds.voicelike(1, 8_000), 8_000)
    sounds.write(card / "fast.wav", sounds.voicelike(1, 96_000), 96_000, "PCM_24")
    sounds.write(card / "room.wav", np.stack([voice * g for g in (1, 0.9, 0.8, 0.01, 0.3, 0.2)]), 48_000)
    found = take(archive, card)
    assert {f.outcome for f in found.values()} == {"taken"}
    assert "The file has 6 channels; only the first two are listened to." in found["room.wav"].words
    with archive.rooms.db.read() as connection:
        rows = connection.execute(text("SELECT original_name, rate_hz, bit_depth, channels FROM measurement JOIN recording ON recording.id = recording_id"))
        forms = {r[0]: tuple(r[1:]) for r in rows}
    assert forms == {"deep.wav": (48_000, 24, 1), "float.wav": (48_000, 32, 1), "phone.wav": (8_000, 16, 1), "fast.wav": (96_000, 24, 1), "room.wav": (48_000, 16, 6)}
    whole(archive)


def loudest_hz(wav: bytes) -> float:
    pcm, rate = soundfile.read(io.BytesIO(wav))
    return float(np.argmax(np.abs(np.fft.rfft(pcm * np.hanning(len(pcm))))) * rate / len(pcm))


def test_a_video_with_two_sound_tracks_is_asked_about(cast_archive: Archive, card: Path, tmp_path: Path) -> None:
    low, high = sounds.write(tmp_path / "low.wav", sounds.sine(300, 3, -12)), sounds.write(tmp_path / "high.wav", sounds.sine(900, 3, -12))
    film = card / "film.mp4"
    sounds.ffmpeg("-f", "lavfi", "-i", "color=size=64x64:duration=3", "-i", low, "-i", high, "-map", "0", "-map", "1", "-map", "2", "-metadata:s:a:1", "language=eng", film)
    refused = take(cast_archive, film)["film.mp4"]
    assert refused.outcome == "refused" and "2 sound tracks (1: 1 channel; 2: 1 channel, eng)" in refused.words
    assert "--track 1" in refused.words
    assert "has no sound track 3" in take(cast_archive, film, track=3)["film.mp4"].words
    assert hashlib.sha256(film.read_bytes()).hexdigest() not in {p.stem for p in (cast_archive.folder / "masters").glob("??/*")}
    assert take(cast_archive, film, track=2, interview="IV-21")["film.mp4"].recording == "IV-21.2"
    assert hashlib.sha256(film.read_bytes()).hexdigest() in {p.stem for p in (cast_archive.folder / "masters").glob("??/*")}, "the master is the whole film"
    assert loudest_hz(cast_archive.recordings.sound(cast.KEEPER, "IV-21.2", 500, 2500)) == pytest.approx(900, abs=5)
    make_access_copy(film, tmp_path / "copy.opus", (0,), False, -18.0, Caps(), track=1)
    assert loudest_hz(access.piece(tmp_path / "copy.opus", 500, 2500)) == pytest.approx(900, abs=5), "its access copy is of the same track"
    whole(cast_archive)


# -- cards that go -------------------------------------------------------------------------------------------------------
def test_a_card_that_is_pulled_out_half_way(archive: Archive, card: Path) -> None:
    """After the first file the card is gone; what was taken stays, the rest is told, and goes on when it is back."""
    for n in range(1, 4):
        cast.sound(card / f"REC{n}.wav", 1, n)
    away = card.with_name("away")

    def pull(_: Finding) -> None:
        if card.exists():
            shutil.move(card, away)

    found = take(archive, card, progress=pull)
    assert [found[f"REC{n}.wav"].outcome for n in (1, 2, 3)] == ["taken", "refused", "refused"]
    assert "could not be read to its end" in found["REC2.wav"].words and "whether the card or disk is whole" in found["REC2.wav"].words
    whole(archive)
    shutil.move(away, card)
    assert sorted(f.outcome for f in take(archive, card).values()) == ["duplicate", "taken", "taken"]
    whole(archive)


def test_a_file_that_grows_while_it_is_read(archive: Archive, card: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The recorder is still at it: a real file, written to between two reads; the other files are taken."""
    import archive.files.masters as masters

    for n in (1, 2):
        sounds.write(card / f"REC{n}.wav", sounds.voicelike(20, 48_000, n), 48_000)
    real, grown = masters._copy_and_sum, []

    def growing(stream: io.BufferedReader, *others: object) -> tuple[str, int]:
        if not grown:
            grown.append(stream.read(1))
            stream.seek(0)
            with open(card / "REC1.wav", "ab") as more:
                more.write(bytes(1000))
        return real(stream, *others)  # type: ignore[arg-type]

    monkeypatch.setattr(masters, "_copy_and_sum", growing)
    found = take(archive, card)
    assert found["REC1.wav"].outcome == "refused" and "Wait until the recorder or the copy has finished" in found["REC1.wav"].words
    assert found["REC2.wav"].outcome == "taken"
    whole(archive)
