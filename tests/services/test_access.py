"""Access copies as jobs: queued by ingest, made in a real child, held and ended like any job, gone on withdrawal, heard through the gate."""

from __future__ import annotations

import io
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import psutil
import pytest
import soundfile

from archive.app import Archive
from archive.db import jobs, recordings
from archive.errors import Refused
from archive.services import access
from archive.services.rows import JobRow
from tests import cast

ROOT = Path(__file__).resolve().parents[2]
CODE, LONG = cast.recording_of("N-21"), "IV-70.1"


@pytest.fixture
def archive(cast_archive: Archive) -> Iterator[Archive]:
    """Without the copies that others of the cast wait for."""
    for job in cast_archive.jobs.list(cast.EDITOR):
        if job.state == "waiting" and job.subject != CODE:
            cast_archive.jobs.cancel(cast.EDITOR, job.id)
    yield cast_archive


def take_long(archive: Archive, tmp_path: Path, minutes: int) -> JobRow:
    """One more recording, of N-25, too long to be copied in a moment; its job alone is left waiting."""
    media = tmp_path / "long"
    media.mkdir()
    rng = np.random.default_rng(5)
    second = (0.1 * rng.standard_normal(16_000)).astype(np.float32)
    with soundfile.SoundFile(media / "long.wav", "w", 16_000, 1, "PCM_16") as out:
        for _ in range(minutes * 60):
            out.write(second)
    (media / "recordings.csv").write_text("file,interview,part,recorded_on,participants\nlong.wav,IV-70,1,2025-02-01,N-25:narrator\n", encoding="utf-8")
    archive.ingest.take(cast.EDITOR, [media])
    for job in archive.jobs.list(cast.EDITOR):
        if job.state == "waiting" and job.subject != LONG:
            archive.jobs.cancel(cast.EDITOR, job.id)
    return of(archive, LONG)


def of(archive: Archive, code: str) -> JobRow:
    return next(j for j in archive.jobs.list(cast.EDITOR) if j.subject == code and j.kind == "access")


def sha256_of(archive: Archive, code: str) -> str:
    with archive.rooms.db.read() as connection:
        row = recordings.by_code(connection, code)
        assert row is not None
        return str(recordings.master_of(connection, row.id).sha256)


def copies(archive: Archive) -> list[str]:
    folder = archive.rooms.derived.root
    return sorted(p.suffix for p in folder.iterdir()) if folder.is_dir() else []


def until(true: Callable[[], object], seconds: float = 60) -> None:
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, "it never came"
        time.sleep(0.05)


def heard(archive: Archive, start_ms: int, end_ms: int, code: str = CODE) -> Any:
    return soundfile.read(io.BytesIO(archive.recordings.sound(cast.EDITOR, code, start_ms, end_ms)), dtype="float32")[0]


def test_a_copy_is_queued_at_ingest_made_when_idle_and_listened_to(archive: Archive) -> None:
    job = of(archive, CODE)
    assert (job.state, job.idle) == ("waiting", True)
    assert not archive.work.once(), "a worker that was asked for by hand leaves it alone"
    before = heard(archive, 500, 3000)
    quote = archive.excerpts.choose(cast.EDITOR, CODE, " ".join(cast.QUOTES["N-21"].split()[:6]), "exhibition")
    leaves = archive.exports.listen(cast.EDITOR, quote, 600, 2400)
    assert archive.work.once(idle_too=True)
    done = of(archive, CODE)
    assert (done.state, done.percent) == ("done", 100) and done.words.startswith("Mono, loudness -18")
    assert copies(archive) == [".opus"]
    copy = archive.rooms.derived.find(sha256_of(archive, CODE))
    assert copy is not None and (os.name == "nt" or copy.stat().st_mode & 0o077 == 0), "nobody else on this machine reads it"
    after = heard(archive, 500, 3000)
    assert len(after) == len(before) and not np.array_equal(after, before), "cut from the copy"
    assert archive.exports.listen(cast.EDITOR, quote, 600, 2400) == leaves, "what leaves is cut from the master"


def test_a_mute_is_exact_zeros_at_the_same_samples(archive: Archive) -> None:
    """Walter Brine is undecided: for a reader, cut from the copy or from the master, the same samples are zero around his name."""
    words = cast.QUOTES["N-21"].split()
    start_ms = 500 + words.index("Walter") * cast.WORD_MS

    def silent() -> Any:
        raw = archive.recordings.sound(cast.READER, CODE, start_ms - 1000, start_ms + 2000)
        sound = soundfile.read(io.BytesIO(raw), dtype="int16")[0]
        return np.convolve(sound != 0, np.ones(240), mode="same") < 0.5  # 10 ms without any

    before = silent()
    assert archive.work.once(idle_too=True)
    after = silent()
    edges = [np.flatnonzero(np.diff(s.astype(int))) for s in (before, after)]
    assert len(edges[0]) == len(edges[1]) == 2
    assert np.max(np.abs(edges[0] - edges[1])) <= 24, "to a millisecond: at a mute's edge the fade may round to zero a few samples sooner"
    whole = heard(archive, start_ms - 1000, start_ms + 2000)
    assert np.count_nonzero(np.convolve(whole != 0, np.ones(240), mode="same") < 0.5) == 0, "who decides about the name hears it"


def test_paused_its_child_ends_and_it_is_made_later(archive: Archive, tmp_path: Path) -> None:
    """A real worker's child, in the midst of it: ended, nothing half left; resumed, whole."""
    job = take_long(archive, tmp_path, 6)
    seen: list[int] = []

    def pause(row: object) -> None:
        if not seen and of(archive, LONG).percent:
            seen.append(of(archive, LONG).percent)
            archive.jobs.pause(cast.EDITOR, job.id)

    assert archive.work.once(pause, idle_too=True)
    assert of(archive, LONG).state == "paused" and 0 < seen[0] < 100
    assert archive.rooms.derived.find(sha256_of(archive, LONG)) is None
    assert not archive.work.once(idle_too=True)
    archive.jobs.resume(cast.EDITOR, job.id)
    assert archive.work.once(idle_too=True)
    assert of(archive, LONG).state == "done" and copies(archive) == [".opus"], "and what the ended child left is gone"


def test_a_child_whose_parent_was_killed_hears_of_a_pause(archive: Archive, tmp_path: Path) -> None:
    """kill −9 of the worker alone: its child lives on under its lease, and ends by itself when the job is paused."""
    job = take_long(archive, tmp_path, 6)
    command = [sys.executable, "-c", f"from pathlib import Path; from archive.app import Archive; Archive.open(Path({str(archive.folder)!r})).work.once(idle_too=True)"]
    worker = subprocess.Popen(command, cwd=ROOT)
    until(lambda: of(archive, LONG).percent)
    (child,) = psutil.Process(worker.pid).children()
    worker.send_signal(signal.SIGKILL)
    worker.wait()
    assert child.is_running() and of(archive, LONG).state == "working"
    archive.jobs.pause(cast.EDITOR, job.id)
    until(lambda: not child.is_running() or child.status() == psutil.STATUS_ZOMBIE, 30)
    assert of(archive, LONG).state == "paused"


def test_a_withdrawal_takes_the_copy_away_and_none_is_made_again(archive: Archive) -> None:
    assert archive.work.once(idle_too=True) and copies(archive) == [".opus"]
    archive.consent.withdraw(cast.KEEPER, "N-21", how="letter")
    assert copies(archive) == []
    assert archive.access.queue(cast.EDITOR, CODE) == 1
    archive.work.once(idle_too=True)
    row = of(archive, CODE)
    assert row.state == "stopped" and "No access copy is made" in row.words and "not available" in row.words and "withdr" not in row.words and copies(archive) == []
    with pytest.raises(Refused):
        heard(archive, 500, 3000)


def test_a_withdrawal_while_it_is_made_leaves_nothing(archive: Archive) -> None:
    """Between the last sample and the move into place: under the lease, so that there is no such moment."""
    begun, go = threading.Event(), threading.Event()
    whole = access.make_access_copy

    def slow(*args: Any, **more: Any) -> Any:
        made = whole(*args, **more)
        begun.set()
        go.wait(30)
        return made

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(access, "make_access_copy", slow)
        with archive.rooms.db.write() as connection:
            row = jobs.claim(connection, "mine", archive.rooms.seconds(), 60, "x")
        assert row is not None and row.subject == CODE
        ended: list[BaseException] = []

        def work() -> None:
            try:
                archive.work.run(row.id, "mine")
            except BaseException as error:
                ended.append(error)

        thread = threading.Thread(target=work)
        thread.start()
        assert begun.wait(60)
        archive.consent.withdraw(cast.KEEPER, "N-21", how="letter")
        go.set()
        thread.join(60)
    assert [type(e).__name__ for e in ended] == ["LeaseLost"] and copies(archive) == []


def test_a_broken_copy_is_passed_over(archive: Archive) -> None:
    before = heard(archive, 500, 3000)
    assert archive.work.once(idle_too=True)
    copy = archive.rooms.derived.find(sha256_of(archive, CODE))
    assert copy is not None
    copy.write_bytes(b"not sound at all" * 100)
    assert np.array_equal(heard(archive, 500, 3000), before), "the master is whole"
