"""The first command of README on the real recordings with the real engine: what a stranger sees, and what must be true of it."""

from __future__ import annotations

import csv
import os
import re
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import docx
import jiwer
import numpy as np
import pyloudnorm
import pytest
import soundfile
import webvtt

from archive.app import Archive, Asked
from archive.audio.decode import pcm
from archive.db import recordings
from archive.domain.values import Role, Viewer
from archive.gate import custody
from archive.rules.script_sound import put_to_sound
from archive.rules.scripts import read_script
from archive.services.demo import EDITOR, KEEPER, LEAVER, SAMPLES, Result
from archive.services.scripts import against, normal
from tests.conftest import ROOT, DemoRun
from tests.test_outputs import _docx, _plain, _wav

READER = Viewer("R-01", Role.READER)
TAKEN_S = 42  # between two lines of TW-11


@pytest.fixture(scope="module")
def result(demo_run: DemoRun) -> Result:
    """The table, read from the archive again."""
    archive = Archive.open(demo_run.folder)
    found = archive.demo.table()
    archive.close()
    return found


def test_the_table_says_what_came_out(demo_run: DemoRun) -> None:
    for line in (
        "recordings in", "not taken", "word error rate", "passages", "suggestions", "quotes exported", "quotes refused", "withdrawal",
        "Files to open", "serve",
    ):  # fmt: skip
        assert line in demo_run.printed, line


def test_words_are_right(result: Result) -> None:
    """Word error rate by jiwer against the scripts that the recordings were spoken from: ≤ 5 % (project choice)."""
    assert result.error_rate <= 0.05
    # 95 % is the aim, and is measured by tests/bench; the engine rounds a little otherwise on another processor.
    assert result.names_right >= 0.93


def test_the_measure_is_jiwers() -> None:
    """CHECKS §9, jiwer 4.0.0: "the cat sat on the mat" → "the cat sat mat" is 0.3333."""
    assert round(against("the cat sat on the mat", "the cat sat mat", []).rate, 4) == 0.3333
    assert round(jiwer.wer("the cat sat on the mat", "the cat sat mat"), 4) == 0.3333
    assert normal("In 1959, '68 and the 1970s") == normal("in nineteen fifty-nine, sixty-eight and the nineteen-seventies")
    assert normal("nineteen sixty") != normal("1961"), "folding numbers must not hide a wrong year"


def test_names_are_counted_once_whether_written_together_or_apart() -> None:
    """The longest name that fits counts, once; "Rope Walk" is Ropewalk; a name too many is no name right."""
    names = ["Maud Ellery", "Ellery", "Ropewalk", "the Rope Walk", "Lower Quay"]
    found = against("Maud Ellery, on Ropewalk, by Lower Quay.", "Maud Ellery on Rope Walk by Lower Key. Ropewalk.", names)
    assert (found.names, found.names_right) == (3, 2)


def test_good_is_taken_and_bad_is_told(result: Result) -> None:
    assert len(result.taken) == 11 and len(result.not_taken) == 2
    assert any("already" in line for line in result.not_taken) and any("TW-12" in line for line in result.not_taken)


def test_quotes_leave_and_are_refused_with_reasons(result: Result) -> None:
    final = [line for line in result.given if not line.endswith("as DRAFT")]
    assert len(final) >= 8 and len(result.given) > len(final) and len(result.refused) >= 2
    assert all("Not allowed" in line and len(line) > 40 for line in result.refused)
    assert len(result.withdrawal) >= 3 and not re.search(r"found before: 0\b", result.withdrawal[0])
    assert "in the next request: 0." in result.withdrawal[0]


def test_the_files_to_open_are_there_and_few(result: Result) -> None:
    paths = [Path(line) for line in result.files if not line.startswith("and ")]
    assert all(path.is_file() for path in paths)
    for folder in {p.parent for p in paths if p.name.endswith("wall-text.docx")}:
        mine = [p for p in paths if p.is_relative_to(folder)]
        assert len(mine) <= 6 and any(p.name.endswith("internal-sheet.docx") for p in mine)
        assert sum(p.suffix == ".wav" for p in mine) == 1
    assert any(line.startswith("and ") and " more in " in line for line in result.files)


def test_the_sound_check_finds_what_the_samples_were_made_with(demo_archive: Archive) -> None:
    """sample_media/ABOUT.md: quiet, hum, clipped, a dropout of 80 ms at 86.27 s; nothing in the others, and no false alarm."""
    found = {c.code: c for c in demo_archive.sound_check.list(KEEPER)}
    made = {"TW-05.1": {"low_level"}, "TW-06.1": {"hum_50"}, "TW-07.1": {"clipped"}, "TW-08.1": {"dropout"}}
    assert len(found) == 11 and {code: {p.kind for p in c.problems} for code, c in found.items()} == {code: made.get(code, set()) for code in found}
    (hole,) = found["TW-08.1"].problems
    assert hole.start_ms is not None and abs(hole.start_ms - 86_270) <= 10
    fits = {code: c.verdict.fit.value for code, c in found.items() if c.verdict is not None}
    assert fits == {code: "listen" if code in ("TW-06.1", "TW-07.1") else "post" for code in found}


def test_withdrawn_is_gone_from_every_answer(demo_archive: Archive) -> None:
    for viewer in (KEEPER, EDITOR, READER):
        assert demo_archive.finding.ask(viewer, Asked(speaker=LEAVER)).total == 0
        assert demo_archive.finding.ask(viewer, Asked(words="strike", usable_for="exhibition")).total > 0
    withdrawn = [r for r in demo_archive.recordings.list(EDITOR) if LEAVER in r.participants]
    page = demo_archive.recordings.page(EDITOR, withdrawn[0].code)
    assert all(u.closed and not u.words for u in page.shown.utterances if u.speaker_code == LEAVER)
    assert any(LEAVER in row.people for row in demo_archive.exports.register(EDITOR)), "what went out stays on record"


def test_find_answers_by_words_place_and_era(demo_archive: Archive) -> None:
    found = demo_archive.finding.ask(EDITOR, Asked("flood", place="Harbour View", decade="1960"))
    assert found.total > 0, "Net Row and Harbour View are the same street"
    assert {"place", "decade", "theme", "speaker"} <= set(found.facets)
    assert demo_archive.finding.ask(EDITOR, Asked("striking")).total == demo_archive.finding.ask(EDITOR, Asked("strike")).total > 0


def test_unnamed_stays_unnamed_in_every_given_file(demo_run: DemoRun) -> None:
    """Every file by a reader other than its writer: tables, headers, footers and properties too; sound by its bytes."""
    files = sorted(p for p in (demo_run.folder / "given").rglob("*") if p.is_file())
    assert {p.suffix for p in files} == {".docx", ".wav", ".vtt", ".srt", ".json"}
    for path in files:
        text = f"{path.name}\n{read(path)}"
        for name in ("Lena", "Volk", "Coyle", "Mallory", "Hobbs"):
            assert not re.search(rf"(?i)\b{name}\b", text), f"{name} in {path.name}"
        for lead in ("N-05", "TW-05", "A-N05", "P-22") if path.suffix != ".wav" else ():
            assert lead not in text, f"{lead} in {path.name}"


def read(path: Path) -> str:
    """The whole text of a given file; a kind that no reader is for fails."""
    return {".docx": _docx, ".wav": _wav, ".vtt": _plain, ".srt": _plain, ".json": _plain}[path.suffix](path)


def test_the_sheets_are_read_whole(demo_run: DemoRun) -> None:
    """The reader above sees what stands in tables and headers of an internal sheet: its codes are there, in no paragraph."""
    sheet = next((demo_run.folder / "given").rglob("internal-sheet.docx"))
    paragraphs = "\n".join(p.text for p in docx.Document(str(sheet)).paragraphs)
    assert len(_docx(sheet)) > len(paragraphs) + 20


def test_captions_and_clips_agree(demo_run: DemoRun) -> None:
    """Captions read back by webvtt-py: a clip lasts as long as its last caption at least."""
    for clip in clips(demo_run):
        cues = webvtt.read(str(clip.with_suffix(".vtt"))).captions
        assert cues and cues[-1].end_in_seconds <= soundfile.info(clip).duration + 0.05


def test_clips_are_set_to_their_loudness(demo_run: DemoRun) -> None:
    """−18 LUFS and −1 dBTP (project choice), measured with the reference library pyloudnorm (BS.1770): ±0.3 LU.

    Peaks between the samples: 4 times oversampled with numpy's Fourier transform, not with the code under test.
    """
    for clip in clips(demo_run):
        sound, rate = soundfile.read(clip)
        assert rate == 48_000
        assert pyloudnorm.Meter(rate).integrated_loudness(sound) == pytest.approx(-18.0, abs=0.3), clip.name
        spectrum = np.pad(np.fft.rfft(sound), (0, 3 * len(sound) // 2))
        between = np.fft.irfft(spectrum, 4 * (len(sound) // 2 * 2)) * (4 * (len(sound) // 2 * 2) / len(sound))
        assert 20 * np.log10(np.abs(between).max()) <= -0.9, clip.name


def clips(demo_run: DemoRun) -> list[Path]:
    found = sorted((demo_run.folder / "given").rglob("*.wav"))
    assert found
    return found


def test_typed_scripts_are_put_to_the_sound(demo_archive: Archive) -> None:
    """Issue 5: of the samples' scripts, without their times, 95 % of the words within 250 ms of the machine's own. Which word is
    which is told by jiwer's alignment, not ours."""
    close = typed = 0
    for row in demo_archive.recordings.list(KEEPER):
        with demo_archive.rooms.db.read() as connection:
            kept = recordings.by_code(connection, row.code)
            assert kept is not None
            heard = custody.take(connection, kept.id, custody.Errand.NAMES, demo_archive.rooms.context())
        words = sorted((w for u in heard.utterances for w in u.words), key=lambda w: w.start_ms)
        path = SAMPLES / "scripts" / f"{Path(kept.original_name).stem}.csv"
        if not words or not path.exists():
            continue
        script = read_script(path.read_bytes())
        untimed = replace(script, lines=tuple(replace(line, start_ms=None, end_ms=None) for line in script.lines))
        put = [w for s in put_to_sound(untimed, words, row.duration_ms).said for w in s.words]
        typed += len(put)
        theirs, ours = (" ".join(normal(w.text).replace(" ", "") or "x" for w in ws) for ws in (words, put))
        for piece in jiwer.process_words(theirs, ours).alignments[0]:
            if piece.type in ("equal", "substitute"):
                pairs = zip(range(piece.ref_start_idx, piece.ref_end_idx), range(piece.hyp_start_idx, piece.hyp_end_idx), strict=True)
                close += sum(abs(words[a].start_ms - put[b].start_ms) <= 250 for a, b in pairs)
    assert typed > 3000 and close >= 0.95 * typed


def test_run_again_without_harm(demo_run: DemoRun, demo_archive: Archive) -> None:
    before = len(demo_archive.records.list(KEEPER, 1000))
    command = [sys.executable, "-m", "archive.cli.main", "demo", str(demo_archive.folder)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, encoding="utf-8", check=True)
    assert "word error rate" in done.stdout
    assert len(demo_archive.records.list(KEEPER, 1000)) == before
    assert demo_archive.records.check(KEEPER) == ()


def test_a_killed_worker_loses_no_word(tmp_path: Path) -> None:
    """kill −9 in the middle of a real transcription: the next worker's words and times are those of a run nobody killed."""
    whole, killed = one_recording(tmp_path / "whole"), one_recording(tmp_path / "killed")
    work = [sys.executable, "-m", "archive.worker"]
    subprocess.run([*work, str(whole.folder), "--until-done"], check=True, timeout=240)
    worker = subprocess.Popen([*work, str(killed.folder), "--until-done"], start_new_session=True)
    deadline = time.monotonic() + 90
    while not any(j.done for j in killed.jobs.list(EDITOR) if j.kind == "transcribe") and time.monotonic() < deadline:
        time.sleep(0.2)
    os.killpg(worker.pid, signal.SIGKILL)
    worker.wait()
    (job,) = [j for j in killed.jobs.list(EDITOR) if j.kind == "transcribe"]
    assert job.state == "working" and 0 < job.done < job.total
    time.sleep(3.5)  # the lease of the dead runs out
    subprocess.run([*work, str(killed.folder), "--until-done"], check=True, timeout=240)
    assert heard_in(killed) == heard_in(whole)
    with open(SAMPLES / "scripts" / "TW-11.csv", encoding="utf-8", newline="") as stream:
        said = " ".join(line["words"] for line in csv.DictReader(stream) if float(line["end_s"]) < TAKEN_S)
    assert against(said, " ".join(text for text, *_ in heard_in(killed)), []).rate <= 0.10
    times = [start_ms for _, start_ms, _ in heard_in(killed)]
    assert times == sorted(times) and len(times) == len(set(times)), "none twice"
    whole.close()
    killed.close()


def one_recording(folder: Path) -> Archive:
    """An archive with the first lines of TW-11 that wait, in chunks of fifteen seconds at most, under leases of three."""
    Archive.create(folder, KEEPER, "Tarnwick Voices", "Marigold", True).close()
    text = 'name = "Tarnwick Voices"\nexhibition = "Marigold"\nchunk_ms = 15000\nlease_s = 3\ncpu_threads = 1\n'
    (folder / "archive.toml").write_text(text, encoding="utf-8")
    archive = Archive.open(folder)
    archive.people.read(KEEPER, SAMPLES / "people.csv")
    archive.consent.read(KEEPER, SAMPLES / "agreements.csv", SAMPLES / "permissions.csv")
    archive.places.read(EDITOR, SAMPLES / "places.csv")
    card = folder.with_name(f"{folder.name}-card")
    card.mkdir()
    soundfile.write(card / "TW-11.wav", pcm(SAMPLES / "TW-11.wav", 0, TAKEN_S * 1000), 16_000, subtype="PCM_16")
    archive.ingest.take(EDITOR, [card], sheet=SAMPLES / "recordings.csv")
    assert archive.transcribing.queue(EDITOR) == (1, ())
    return archive


def heard_in(archive: Archive) -> list[tuple[str, int, int]]:
    """Every word with its times, as the machine wrote it."""
    (row,) = archive.recordings.list(EDITOR)
    assert row.state == "transcribed"
    return [(w.text, w.start_ms, w.end_ms) for u in archive.recordings.page(KEEPER, row.code).shown.utterances for w in u.words]
