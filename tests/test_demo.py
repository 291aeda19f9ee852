"""The first command of README on the real recordings with the real engine: what a stranger sees, and what must be true of it."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import docx
import jiwer
import numpy as np
import pytest
import soundfile
import webvtt

from archive.app import Archive, Asked
from archive.domain.values import Role, Viewer
from archive.services.demo import EDITOR, KEEPER, LEAVER, SAMPLES
from archive.services.scripts import against, normal
from tests.conftest import ROOT, DemoRun

READER = Viewer("R-01", Role.READER)


@pytest.fixture(scope="module")
def result(demo_run: DemoRun) -> dict[str, object]:
    found: dict[str, object] = json.loads((demo_run.folder / "demo-result.json").read_text(encoding="utf-8"))
    return found


def test_the_table_says_what_came_out(demo_run: DemoRun) -> None:
    for line in (
        "recordings in", "not taken", "word error rate", "passages", "suggestions", "quotes exported", "quotes refused", "withdrawal",
        "files to open", "serve",
    ):  # fmt: skip
        assert line in demo_run.printed, line


def test_words_are_right(result: dict[str, object]) -> None:
    """Word error rate by jiwer against the scripts that the recordings were spoken from: ≤ 5 % (project choice)."""
    assert float(str(result["error_rate"])) <= 0.05
    # 95 % is the aim, and is measured by tests/bench; the engine rounds a little otherwise on another processor.
    assert float(str(result["names_right"])) >= 0.93


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


def test_good_is_taken_and_bad_is_told(result: dict[str, object]) -> None:
    taken, told = result["taken"], result["not_taken"]
    assert isinstance(taken, list) and isinstance(told, list)
    assert len(taken) == 11 and len(told) == 2
    assert any("already" in line for line in told) and any("TW-12" in line for line in told)


def test_quotes_leave_and_are_refused_with_reasons(result: dict[str, object]) -> None:
    given, refused = result["given"], result["refused"]
    assert isinstance(given, list) and isinstance(refused, list)
    assert len(given) >= 8 and len(refused) >= 3
    assert all("Not allowed" in line and len(line) > 40 for line in refused)


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
    for path in sorted((demo_run.folder / "given").rglob("*")):
        if path.suffix in (".vtt", ".srt", ".json"):
            text = path.read_text(encoding="utf-8")
        elif path.suffix == ".docx":
            text = "\n".join(p.text for p in docx.Document(str(path)).paragraphs)
        else:
            continue
        for name in ("Lena", "Volk", "Coyle", "Mallory", "Hobbs"):
            assert not re.search(rf"\b{name}\b", text), f"{name} in {path.name}"


def test_captions_and_clips_agree(demo_run: DemoRun) -> None:
    """Captions read back by webvtt-py; a clip is as long as its last caption at least, and set near −18 LUFS (project choice)."""
    clips = sorted((demo_run.folder / "given").rglob("*.wav"))
    assert clips
    for clip in clips:
        cues = webvtt.read(str(clip.with_suffix(".vtt"))).captions
        length_s = soundfile.info(clip).duration
        assert cues and cues[-1].end_in_seconds <= length_s + 0.05
        sound, rate = soundfile.read(clip)
        assert rate == 48_000 and np.abs(sound).max() <= 10 ** (-1 / 20) + 1e-3


def test_run_again_without_harm(demo_run: DemoRun, demo_archive: Archive) -> None:
    before = len(demo_archive.records.list(KEEPER, 1000))
    command = [sys.executable, "-m", "archive.cli.main", "demo", str(demo_archive.folder)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, encoding="utf-8", check=True)
    assert "word error rate" in done.stdout
    assert len(demo_archive.records.list(KEEPER, 1000)) == before
    assert demo_archive.records.check(KEEPER) == ()


def test_a_killed_worker_loses_no_word(tmp_path: Path, demo_archive: Archive) -> None:
    """kill −9 in the middle of a real transcription; the next worker takes the lease over and the words are the same."""
    sheets = ("people.csv", "agreements.csv", "permissions.csv", "places.csv")
    archive = Archive.create(tmp_path / "killed", KEEPER, "Tarnwick Voices", "Marigold", True)
    archive.close()
    text = 'name = "Tarnwick Voices"\nexhibition = "Marigold"\nchunk_ms = 20000\nlease_s = 3\n'
    (tmp_path / "killed" / "archive.toml").write_text(text, encoding="utf-8")
    archive = Archive.open(tmp_path / "killed")
    archive.people.read(KEEPER, SAMPLES / sheets[0])
    archive.consent.read(KEEPER, SAMPLES / sheets[1], SAMPLES / sheets[2])
    archive.describing.read_places(EDITOR, SAMPLES / sheets[3])
    archive.ingest.take(EDITOR, [SAMPLES / "TW-11.wav"], sheet=SAMPLES / "recordings.csv")
    archive.transcribing.queue(EDITOR)
    command = [sys.executable, "-m", "archive.worker", str(archive.folder), "--until-done"]
    worker = subprocess.Popen(command, start_new_session=True)
    deadline = time.monotonic() + 90
    while not any(j.done_ms for j in archive.jobs.list(EDITOR)) and time.monotonic() < deadline:
        time.sleep(0.2)
    os.killpg(worker.pid, signal.SIGKILL)
    worker.wait()
    (job,) = archive.jobs.list(EDITOR)
    assert job.state == "working" and 0 < job.done_ms < job.total_ms
    time.sleep(3.5)  # the lease of the dead runs out
    subprocess.run(command, check=True, timeout=240)
    (row,) = archive.recordings.list(EDITOR)
    assert row.state == "transcribed"
    script = (SAMPLES / "scripts" / "TW-11.csv").read_text(encoding="utf-8")
    said = " ".join(line.split(",", 3)[3] for line in script.splitlines()[1:])
    page = archive.recordings.page(KEEPER, row.code)
    heard = " ".join(w.text for u in page.shown.utterances for w in u.words)
    assert against(said, heard, []).rate <= 0.10
    times = [w.start_ms for u in page.shown.utterances for w in u.words]
    assert times == sorted(times) and len(times) == len(set(times)), "none twice"
    archive.close()
