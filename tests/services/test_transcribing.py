"""Transcribing with a given engine (the protocol, no weights): the plan is kept, work is resumed, consent is asked at every chunk."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from sqlalchemy import text

from archive.app import Archive
from archive.cli import jobs as desk
from archive.db import consent_rows, gazetteer, jobs, people
from archive.domain.agreements import AgreementForm, AgreementKind
from archive.domain.attribution import PersonName
from archive.domain.dates import adult_days
from archive.domain.values import Answer, Attribution, Review, VoiceWish, Way, Word
from archive.errors import Busy, LeaseLost, ModelMissing, NotFound
from archive.services import work
from archive.services.rows import JobRow
from archive.services.transcribing import _in_all
from archive.speech.engine import Doubt, Heard, Samples
from tests import cast

ROOT = Path(__file__).resolve().parents[2]
SECONDS = 14
RATE_HZ = 16_000


class Killed(BaseException):
    """Stands for kill −9 inside one process: nothing catches it, and nothing is written after it."""


class Given:
    """Half a second of sound is one word, named by its level: the words depend on the samples and on nothing else."""

    name, model_sha256, options = "given", "5" * 64, {"beam": 1}

    def __init__(self, die_at: int | None = None, between: Callable[[int], object] = lambda n: None) -> None:
        self.heard: list[tuple[int, str, tuple[str, ...]]] = []
        self._die_at, self._between = die_at, between

    def hear(
        self, pcm: Samples, language: str, vocabulary: Sequence[str] = (), speech_ms: Sequence[tuple[int, int]] | None = None
    ) -> Heard:
        self.heard.append((len(pcm), language, tuple(vocabulary)))
        if len(self.heard) == self._die_at:
            raise Killed
        half = RATE_HZ // 2
        words = []
        for n in range(len(pcm) // half):
            level = float(np.sqrt(np.mean(np.square(pcm[n * half : (n + 1) * half]))))
            words.append(Word(f"level{round(level * 1000)}", n * 500, n * 500 + 480, 0.8))
        self._between(len(self.heard))
        end_ms = len(pcm) * 1000 // RATE_HZ
        return Heard(tuple(words), (Doubt("unlikely", 0, 480, "doubtful"),), ((end_ms - 20, end_ms),))

    def transcribe(self, pcm: Samples, language: str, vocabulary: Sequence[str] = ()) -> list[Word]:
        return list(self.hear(pcm, language, vocabulary).words)


def steps(path: Path, channels: int = 1, hz: int = 220) -> None:
    """Every half second another level, so that every word is another; two channels differ."""
    level = np.repeat(np.linspace(0.05, 0.6, SECONDS * 2), RATE_HZ // 2)
    tone = np.sin(2 * np.pi * hz * np.arange(level.size) / RATE_HZ)
    sides = [tone * level, tone * level[::-1]][:channels]
    soundfile.write(path, np.stack(sides, axis=-1).astype(np.float32), RATE_HZ, subtype="PCM_16")


@pytest.fixture
def environ(tmp_path: Path) -> dict[str, str]:
    """Chunks of two seconds, and a folder that the model check takes for a model."""
    model = tmp_path / "weights"
    model.mkdir()
    for name in ("model.bin", "config.json", "tokenizer.json", "vocabulary.json"):
        (model / name).write_text("{}", encoding="utf-8")
    return {"TOLDHERE_CHUNK_MS": "2000", "TOLDHERE_MODEL": "given", "TOLDHERE_MODELS_DIR": str(tmp_path / "models"), "TOLDHERE_LEASE_S": "20"}


class Clock:
    """A clock that a test moves."""

    now = cast.TODAY

    def __call__(self) -> datetime:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def archive(cast_archive: Archive, tmp_path: Path, environ: dict[str, str], clock: Clock) -> Iterator[Archive]:
    """The cast, with one more recording of N-21 that waits: IV-50.1."""
    cast_archive.close()
    opened = Archive.open(cast_archive.folder, environ, clock)
    opened.add_model("given", tmp_path / "weights")
    take(opened, tmp_path, "IV-50", "one", "N-21:narrator")
    yield opened
    opened.close()


def places(archive: Archive, *names: str) -> None:
    with archive.rooms.db.write() as connection:
        for name in names:
            gazetteer.write_place(connection, name, [], kind="yard")


def take(archive: Archive, tmp_path: Path, code: str, microphones: str, who: str, sides: str = ",") -> None:
    media = tmp_path / f"{code}-media"
    media.mkdir()
    steps(media / f"{code}.wav", 2 if microphones == "two" else 1, 170 + int(code[3:]))
    head = "file,interview,part,recorded_on,language,microphones,left,right,participants\n"
    (media / "recordings.csv").write_text(f"{head}{code}.wav,{code},1,2025-02-01,en,{microphones},{sides},{who}\n", encoding="utf-8")
    assert [f.outcome for f in archive.ingest.take(cast.EDITOR, [media])] == ["taken"]


def claimed(archive: Archive, token: str = "mine") -> int:
    with archive.rooms.db.write() as connection:
        row = jobs.claim(connection, token, archive.rooms.seconds(), 20, archive.rooms.now())
    assert row is not None
    return int(row.id)


def child(archive: Archive, job_id: int, token: str, hire: Callable[[], Given]) -> None:
    """The child's part, in this process, with a given engine."""
    archive.transcribing._hire = lambda model: hire()
    archive.work.run(job_id, token)


def on_list(archive: Archive) -> list[JobRow]:
    """The transcriptions on the list of work; access copies wait there too."""
    return [j for j in archive.jobs.list(cast.EDITOR) if j.kind == "transcribe"]


def job(archive: Archive, job_id: int) -> Any:
    with archive.rooms.db.read() as connection:
        return jobs.by_id(connection, job_id)


def plan(archive: Archive, job_id: int) -> list[tuple[int, int, int, str]]:
    with archive.rooms.db.read() as connection:
        return [(c.channel, c.start_ms, c.end_ms, c.state) for c in jobs.chunks(connection, job_id)]


def words(archive: Archive, code: str = "IV-50.1") -> list[tuple[str, int, int]]:
    shown = archive.recordings.page(cast.KEEPER, code).shown
    return [(w.text, w.start_ms, w.end_ms) for u in shown.utterances for w in u.words]


def test_the_whole_way(archive: Archive) -> None:
    assert archive.transcribing.queue(cast.EDITOR)[0] == 1
    engine = Given()
    job_id = claimed(archive)
    child(archive, job_id, "mine", lambda: engine)
    parts = plan(archive, job_id)
    assert len(parts) > 3 and parts[0][1] == 0 and parts[-1][2] == SECONDS * 1000
    assert all(a[2] == b[1] for a, b in zip(parts, parts[1:], strict=False)), "nothing left out, nothing twice"
    assert [n for n, *_ in engine.heard] == [(e - s) * 16 for _, s, e, _ in parts], "each chunk decoded alone, by its own length"
    found = words(archive)
    assert found and all(b[1] >= a[2] - 20 for a, b in zip(found, found[1:], strict=False)), "in the recording's own clock"
    row = job(archive, job_id)
    assert (row.state, row.done, row.total) == ("done", SECONDS * 1000, SECONDS * 1000)
    with archive.rooms.db.read() as connection:
        run = connection.execute(text("SELECT * FROM run ORDER BY id DESC LIMIT 1")).one()
        left = connection.execute(text("SELECT count(*) FROM chunk WHERE words IS NOT NULL AND words != 'null'")).scalar()
    assert (run.engine, run.model_sha256, run.language, run.job_id) == ("given", "5" * 64, "en", job_id)
    assert left == 0, "no second copy of the words"
    assert "beam" in run.options and str(parts[1][1]) in run.options, "what the engine doubts is kept in the recording's clock"
    assert archive.transcribing.queue(cast.EDITOR)[0] == 0


def test_the_vocabulary_holds_no_hidden_name(archive: Archive, tmp_path: Path) -> None:
    """SPEECH: primed by the gazetteer and by those who are called by their names; never by a hidden one."""
    take(archive, tmp_path, "IV-51", "one", "N-21:narrator;N-25:companion;N-26:companion")
    archive.transcribing.queue(cast.EDITOR, "IV-51.1")
    engine = Given()
    child(archive, claimed(archive), "mine", lambda: engine)
    primed = set(engine.heard[0][2])
    assert {"Edith Quill", "Net Row", "Tarnwick"} <= primed
    assert not [w for w in primed if any(n in w for n in ("Fosse", "Dane", "Brine"))]


def test_a_place_with_a_hidden_name_in_it_does_not_prime(archive: Archive) -> None:
    places(archive, "Brine's Yard", "Cask Yard", "the Pans")
    with archive.rooms.db.write() as connection:
        person = people.ids_by_code(connection)["P-41"]
        people.write_names(connection, person, [PersonName("Walter Brine", "full"), PersonName("the Duke", "nick")])
    archive.transcribing.queue(cast.EDITOR)
    engine = Given()
    child(archive, claimed(archive), "mine", lambda: engine)
    assert {"Cask Yard", "the Pans"} <= set(engine.heard[0][2]) and "Brine's Yard" not in engine.heard[0][2]


def test_what_primes_is_frozen_with_the_plan_but_for_who_is_hidden_meanwhile(archive: Archive) -> None:
    """Every chunk of one transcript is primed alike: a place that is added meanwhile waits for the next, a name that is hidden goes."""
    archive.transcribing.queue(cast.EDITOR)
    job_id, first = claimed(archive), Given(die_at=2)
    with pytest.raises(Killed):
        child(archive, job_id, "mine", lambda: first)
    places(archive, "Cask Yard")
    second = Given(die_at=2)
    with pytest.raises(Killed):
        child(archive, job_id, "mine", lambda: second)
    assert first.heard[0][2] == second.heard[0][2] and "Edith Quill" in second.heard[0][2]
    with archive.rooms.db.write() as connection:
        consent_rows.add_wish(
            connection, person_id=people.ids_by_code(connection)["N-21"], attribution=Attribution.UNNAMED, voice=VoiceWish.AS_RECORDED,
            review=Review.NOT_WANTED, from_on=cast.TODAY.date(), by="K-01", at=cast.TODAY.isoformat(),
        )  # fmt: skip
    third = Given()
    child(archive, job_id, "mine", lambda: third)
    assert set(second.heard[0][2]) - set(third.heard[0][2]) == {"Edith Quill"}


@pytest.mark.parametrize("kills", [(1,), (2,), (1, 1, 2, 1, 1), (4, 2)])
def test_killed_between_chunks_and_resumed_gives_the_same_words(archive: Archive, tmp_path: Path, kills: tuple[int, ...]) -> None:
    """kill −9 at the n-th chunk of each attempt; a second worker takes the lease over once it has run out."""
    archive.transcribing.queue(cast.EDITOR)
    clock = archive.rooms.clock
    assert isinstance(clock, Clock)
    first_plan = None
    done = 0
    for attempt, die_at in enumerate(kills):
        token = f"worker-{attempt}"
        job_id = claimed(archive, token)
        with pytest.raises(Killed):
            child(archive, job_id, token, lambda die_at=die_at: Given(die_at))
        done += die_at - 1
        parts = plan(archive, job_id)
        first_plan = first_plan or [p[:3] for p in parts]
        assert [p[:3] for p in parts] == first_plan, "the plan is kept"
        assert sum(p[3] == "done" for p in parts) == done, "what was committed stays, and nothing more is"
        assert not words(archive), "no half transcript"
        with archive.rooms.db.write() as connection:
            assert jobs.claim(connection, "too early", archive.rooms.seconds(), 20, "x", idle=False) is None
        clock.now += timedelta(seconds=21)
    archive.close()
    again = Archive.open(archive.folder, {"TOLDHERE_CHUNK_MS": "9000", "TOLDHERE_MODEL": "given", "TOLDHERE_MODELS_DIR": str(tmp_path / "models")}, clock)
    engine = Given()
    child(again, claimed(again, "last"), "last", lambda: engine)
    assert first_plan is not None and len(engine.heard) == len(first_plan) - done, "only what was open is heard"
    found = words(again)
    with again.rooms.db.write() as connection:
        code = connection.execute(text("SELECT code FROM recording ORDER BY id DESC LIMIT 1")).scalar()
    again.close()
    assert code == "IV-50.1"
    assert found == unbroken(first_plan)


def unbroken(parts: list[tuple[int, int, int]]) -> list[tuple[str, int, int]]:
    """What the engine says of the steps, reckoned from their making: half-second words from each chunk's own start."""
    level = np.repeat(np.linspace(0.05, 0.6, SECONDS * 2), RATE_HZ // 2)
    tone = np.sin(2 * np.pi * 220 * np.arange(level.size) / RATE_HZ)
    pcm = np.round(tone * level * 32768) / 32768
    found = []
    for _, start_ms, end_ms in parts:
        heard = Given().hear(pcm[start_ms * 16 : end_ms * 16].astype(np.float32), "en")
        found += [(w.text, w.start_ms + start_ms, w.end_ms + start_ms) for w in heard.words]
    return found


def test_a_kill_between_the_last_chunk_and_the_end_still_notes_what_heard_it(archive: Archive, monkeypatch: pytest.MonkeyPatch) -> None:
    archive.transcribing.queue(cast.EDITOR)
    clock = archive.rooms.clock
    assert isinstance(clock, Clock)

    def die(*_: object) -> None:
        raise Killed

    with monkeypatch.context() as patch:
        patch.setattr(archive.transcribing, "_finish", die)
        with pytest.raises(Killed):
            child(archive, claimed(archive), "mine", Given)
    clock.now += timedelta(seconds=21)
    engine = Given()
    child(archive, claimed(archive, "next"), "next", lambda: engine)
    assert not engine.heard and words(archive)
    with archive.rooms.db.read() as connection:
        run = connection.execute(text("SELECT * FROM run ORDER BY id DESC LIMIT 1")).one()
    assert (run.engine, run.model_sha256) == ("given", "5" * 64)


def test_an_interruption_gives_the_job_back_at_once(archive: Archive) -> None:
    """Ctrl-C in the parent: nobody waits for the lease of who was interrupted, and it does not count as an attempt."""
    archive.transcribing.queue(cast.EDITOR)

    def interrupted(row: object) -> None:
        raise KeyboardInterrupt

    for _ in range(3):
        with pytest.raises(KeyboardInterrupt):
            archive.work.once(interrupted)
        (listed,) = on_list(archive)
        row = job(archive, listed.id)
        assert (row.state, row.attempt, row.lease_token, row.lease_until) == ("waiting", 0, None, None)
        assert "interrupted" in row.words
    assert claimed(archive) == listed.id, "at the same second"


@pytest.mark.parametrize("ended_by", [signal.SIGINT, signal.SIGTERM])
def test_the_command_gives_its_job_back_when_it_is_ended(archive: Archive, environ: dict[str, str], ended_by: signal.Signals) -> None:
    """A real `toldhere transcribe`, with its child: ended, it leaves a job that waits, and says that it did not finish."""
    archive.transcribing.queue(cast.EDITOR)
    (listed,) = on_list(archive)
    command = [sys.executable, "-m", "archive.cli.main", "--archive", str(archive.folder), "transcribe"]
    running = subprocess.Popen(
        command, cwd=ROOT, env=os.environ | environ | {"PYTHONPATH": str(ROOT)}, stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL, start_new_session=True,
    )  # fmt: skip
    deadline = time.monotonic() + 60
    while job(archive, listed.id).state != "working" and time.monotonic() < deadline:
        time.sleep(0.02)
    assert job(archive, listed.id).state == "working"
    os.killpg(running.pid, ended_by)  # as a terminal does: to the child too
    assert running.wait(30) != 0
    row = job(archive, listed.id)
    assert (row.state, row.lease_token) == ("waiting", None)


def test_the_command_waits_for_the_lease_of_a_killed_worker(
    archive: Archive, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """kill −9 leaves a live lease: the next command says so, waits, takes the work over, and ends when it is done."""
    archive.transcribing.queue(cast.EDITOR)
    job_id = claimed(archive, "killed")
    clock = archive.rooms.clock
    assert isinstance(clock, Clock)
    began = clock.now

    def here(watch: object = None, idle_too: bool = False) -> bool:
        with archive.rooms.db.write() as connection:
            row = jobs.claim(connection, "next", archive.rooms.seconds(), 20, "x")
        if row is not None:
            child(archive, row.id, "next", Given)
        return row is not None

    def sleep(seconds: float) -> None:
        clock.now += timedelta(seconds=1)

    monkeypatch.setattr(archive.work, "once", here)
    monkeypatch.setattr(desk.time, "sleep", sleep)
    desk.work(archive)
    assert job(archive, job_id).state == "done" and words(archive)
    assert (clock.now - began).total_seconds() == 21, "not before the lease ran out, and not longer"
    printed = " ".join(capsys.readouterr().out.split())
    assert printed.count("IV-50.1: another worker is at it, or was killed at it.") == 1 and "20 s at most" in printed


class Lock:
    """Another program that holds the database, until a given number of pauses was made."""

    def __init__(self, archive: Archive, patch: pytest.MonkeyPatch, pauses: int | None) -> None:
        self.held = sqlite3.connect(archive.folder / "archive.sqlite", isolation_level=None, check_same_thread=False)
        self.pauses: list[float] = []
        self._until = pauses
        with archive.rooms.db.write() as connection:  # the pool's one connection: do not wait ten seconds each time
            connection.exec_driver_sql("PRAGMA busy_timeout = 20")
        patch.setattr(work.time, "sleep", self.sleep)

    def take(self) -> None:
        self.held.execute("BEGIN IMMEDIATE")

    def sleep(self, seconds: float) -> None:
        self.pauses.append(seconds)
        if len(self.pauses) == self._until:
            self.release()

    def release(self) -> None:
        if self.held.in_transaction:
            self.held.execute("ROLLBACK")


@pytest.mark.parametrize("pauses", [1, 5])
def test_a_busy_database_is_asked_again(archive: Archive, monkeypatch: pytest.MonkeyPatch, pauses: int) -> None:
    """Somebody reads a large sheet just as a chunk is heard: later and later, and the words are the same."""
    archive.transcribing.queue(cast.EDITOR)
    job_id, lock = claimed(archive), Lock(archive, monkeypatch, pauses)
    engine = Given(between=lambda n: lock.take() if n == 2 else None)
    child(archive, job_id, "mine", lambda: engine)
    assert job(archive, job_id).state == "done"
    assert len(engine.heard) == len(plan(archive, job_id)), "nothing was heard twice"
    assert words(archive) == unbroken([p[:3] for p in plan(archive, job_id)])
    assert lock.pauses == sorted(lock.pauses) and len(lock.pauses) == pauses


def test_a_database_that_stays_busy_sets_the_job_back_to_waiting(archive: Archive, monkeypatch: pytest.MonkeyPatch) -> None:
    """Never “failed”: nothing is wrong with the recording."""
    archive.transcribing.queue(cast.EDITOR)
    job_id, lock = claimed(archive), Lock(archive, monkeypatch, len(work.PAUSES_S) + 2)
    child(archive, job_id, "mine", lambda: Given(between=lambda n: lock.take() if n == 2 else None))
    row = job(archive, job_id)
    assert (row.state, row.attempt, row.lease_token) == ("waiting", 0, None) and "busy" in row.words
    assert [p[3] for p in plan(archive, job_id)].count("done") == 1, "what was committed stays"
    forever = Lock(archive, monkeypatch, None)
    job_id = claimed(archive, "next")
    with pytest.raises(Busy):
        child(archive, job_id, "next", lambda: Given(between=lambda n: forever.take()))
    assert job(archive, job_id).state == "working", "it runs out by itself"
    forever.release()


def test_a_laptop_that_slept_goes_on(archive: Archive) -> None:
    """Its lid was closed at the second chunk for eight hours: the lease ran out, nobody took the job, and nothing is heard twice."""
    archive.transcribing.queue(cast.EDITOR)
    clock = archive.rooms.clock
    assert isinstance(clock, Clock)

    def slept(n: int) -> None:
        if n == 2:
            clock.now += timedelta(hours=8)

    engine = Given(between=slept)
    job_id = claimed(archive)
    child(archive, job_id, "mine", lambda: engine)
    assert job(archive, job_id).state == "done"
    assert len(engine.heard) == len(plan(archive, job_id)) and words(archive) == unbroken([p[:3] for p in plan(archive, job_id)])


@pytest.mark.parametrize("held", ["pause", "cancel"])
def test_paused_or_cancelled_while_it_listens_it_writes_no_more(archive: Archive, held: str) -> None:
    """The chunk being heard is not kept. Paused, it goes on from the one before and ends with the same words; cancelled, it
    begins anew, and only where it is asked for by name."""
    archive.transcribing.queue(cast.EDITOR)
    job_id = claimed(archive)
    engine = Given(between=lambda n: getattr(archive.jobs, held)(cast.EDITOR, job_id) if n == 2 else None)
    with pytest.raises(LeaseLost):
        child(archive, job_id, "mine", lambda: engine)
    kept = [p[3] for p in plan(archive, job_id)].count("done")
    assert (len(engine.heard), kept) == (2, 1 if held == "pause" else 0)
    with archive.rooms.db.write() as connection:
        assert jobs.claim(connection, "next", archive.rooms.seconds(), 20, "x", idle=False) is None
    if held == "pause":
        archive.jobs.resume(cast.EDITOR, job_id)
    else:
        assert archive.transcribing.queue(cast.EDITOR)[0] == 0
        assert archive.transcribing.queue(cast.EDITOR, "IV-50.1")[0] == 1
    again = Given()
    child(archive, claimed(archive, "next"), "next", lambda: again)
    assert len(again.heard) == len(plan(archive, job_id)) - kept
    assert words(archive) == unbroken([p[:3] for p in plan(archive, job_id)])


def test_the_old_worker_neither_writes_nor_ends_the_job_of_the_new(archive: Archive) -> None:
    """It was held up longer than its lease; whether it goes on well or meets an error, the job is not its own any more."""
    archive.transcribing.queue(cast.EDITOR)
    clock = archive.rooms.clock
    assert isinstance(clock, Clock)

    def taken_over(n: int) -> None:
        if n == 2:
            clock.now += timedelta(seconds=21)
            claimed(archive, "new")

    job_id = claimed(archive, "old")
    with pytest.raises(LeaseLost):
        child(archive, job_id, "old", lambda: Given(between=taken_over))
    assert [p[3] for p in plan(archive, job_id)].count("done") == 1
    assert (job(archive, job_id).state, job(archive, job_id).lease_token) == ("working", "new")

    def no_model() -> Given:
        clock.now += timedelta(seconds=21)
        claimed(archive, "third")
        raise ModelMissing("It went away.")

    with pytest.raises(LeaseLost):
        child(archive, job_id, "new", no_model)
    assert (job(archive, job_id).state, job(archive, job_id).lease_token) == ("working", "third")


def test_a_withdrawal_stops_it_before_the_next_chunk(archive: Archive) -> None:
    """Through the service: the lease is gone, the chunk being heard is not kept, the one before is dropped, the next is not begun."""
    archive.transcribing.queue(cast.EDITOR)

    def withdrawn(n: int) -> None:
        if n == 2:
            assert archive.consent.withdraw(cast.KEEPER, "N-21", how="call").jobs_stopped == 3, "and the access copies of both recordings"

    engine = Given(between=withdrawn)
    job_id = claimed(archive)
    with pytest.raises(LeaseLost):
        child(archive, job_id, "mine", lambda: engine)
    assert len(engine.heard) == 2
    assert job(archive, job_id).state == "stopped" and not words(archive)
    with archive.rooms.db.read() as connection:
        assert all(c.state == "waiting" and c.words is None for c in jobs.chunks(connection, job_id)), "no word outlives its consent"
    queued, refused = archive.transcribing.queue(cast.EDITOR, "IV-50.1")
    assert queued == 0 and "not available" in " ".join(refused[0][1]), "an editor is told no withdrawal"


def test_a_permission_that_ends_meanwhile_stops_it_with_reasons(archive: Archive, tmp_path: Path) -> None:
    """No row changes; a day does. The child asks before each chunk."""
    with archive.rooms.db.write() as connection:
        person_id, _ = people.write(connection, "N-60", None, None, adult_days("1950"), "")
        agreement = consent_rows.add_agreement(
            connection, code="A-60", person_id=person_id, kind=AgreementKind.RECORDING, form=AgreementForm.SIGNED,
            signed_on=cast.SIGNED, taken_by="K-01", language="en", by="K-01", at="x",
        )  # fmt: skip
        for way in (Way.WORDS, Way.VOICE):
            consent_rows.add_permission(
                connection, agreement_id=agreement, use="machine", way=way, answer=Answer.YES,
                until_on=cast.TODAY.date() + timedelta(days=1), by="K-01", at="x",
            )  # fmt: skip
    take(archive, tmp_path, "IV-60", "one", "N-60:narrator")
    archive.transcribing.queue(cast.EDITOR, "IV-60.1")
    clock = archive.rooms.clock
    assert isinstance(clock, Clock)

    def midnight(n: int) -> None:
        if n == 2:
            clock.now += timedelta(days=1)

    engine = Given(between=midnight)
    job_id = claimed(archive)
    child(archive, job_id, "mine", lambda: engine)
    row = job(archive, job_id)
    assert len(engine.heard) == 2 and row.state == "stopped" and not words(archive, "IV-60.1")
    assert "may not listen" in row.words and "N-60" in row.words


def test_what_is_not_permitted_is_not_queued_and_says_why(archive: Archive, tmp_path: Path) -> None:
    take(archive, tmp_path, "IV-52", "one", "N-21:narrator;P-41:companion")
    take(archive, tmp_path, "IV-53", "one", "N-24:narrator")
    take(archive, tmp_path, "IV-54", "one", "")
    assert {r.code: r.state for r in archive.recordings.list(cast.EDITOR)}["IV-50.1"] == "not transcribed"
    queued, refused = archive.transcribing.queue(cast.EDITOR)
    reasons = {code: " ".join(why) for code, why in refused}
    assert queued == 1 and set(reasons) == {"IV-52.1", "IV-53.1", "IV-54.1"}
    assert "P-41" in reasons["IV-52.1"] and "not available" in reasons["IV-53.1"] and "withdr" not in reasons["IV-53.1"] and reasons["IV-54.1"]
    assert [j.subject for j in on_list(archive)] == ["IV-50.1"]
    states = {r.code: r.state for r in archive.recordings.list(cast.EDITOR)}
    assert states["IV-50.1"] == "waiting" and states["IV-52.1"] == states["IV-54.1"] == "not allowed"
    with pytest.raises(NotFound):
        archive.transcribing.queue(cast.EDITOR, "IV-99.1")


def test_two_microphones_give_two_speakers(archive: Archive, tmp_path: Path) -> None:
    """One pass a channel where they differ; who speaks comes from the channel."""
    take(archive, tmp_path, "IV-55", "two", "N-21:narrator;N-25:interviewer", "N-21,N-25")
    archive.transcribing.queue(cast.EDITOR, "IV-55.1")
    with archive.rooms.db.write() as connection:
        whole = [[0, SECONDS * 1000]]
        connection.execute(
            text("UPDATE measurement SET speech_ms = :s WHERE recording_id = (SELECT max(id) FROM recording)"), {"s": str([whole, whole])}
        )
    job_id = claimed(archive)
    child(archive, job_id, "mine", Given)
    assert {p[0] for p in plan(archive, job_id)} == {0, 1}
    speakers = {u.speaker_code for u in archive.recordings.page(cast.KEEPER, "IV-55.1").shown.utterances}
    assert speakers == {"N-21", "N-25"}


def test_one_microphone_and_two_people_leave_the_speakers_to_a_person(archive: Archive, tmp_path: Path) -> None:
    take(archive, tmp_path, "IV-56", "one", "N-21:narrator;N-25:interviewer")
    archive.transcribing.queue(cast.EDITOR, "IV-56.1")
    child(archive, claimed(archive), "mine", Given)
    row = archive.recordings.page(cast.KEEPER, "IV-56.1").row
    assert row.words > 0 and row.unassigned > 0


def test_nothing_heard_is_said_and_not_heard_again_unasked(archive: Archive) -> None:
    class Silent(Given):
        def hear(
            self, pcm: Samples, language: str, vocabulary: Sequence[str] = (), speech_ms: Sequence[tuple[int, int]] | None = None
        ) -> Heard:
            return Heard(())

    archive.transcribing.queue(cast.EDITOR)
    job_id = claimed(archive)
    child(archive, job_id, "mine", Silent)
    assert "No speech was found" in job(archive, job_id).words
    assert {r.code: r.state for r in archive.recordings.list(cast.EDITOR)}["IV-50.1"] == "no speech found"
    assert archive.transcribing.queue(cast.EDITOR)[0] == 0
    assert archive.transcribing.queue(cast.EDITOR, "IV-50.1")[0] == 1


def test_an_engine_that_fails_ends_the_job_in_words(archive: Archive) -> None:
    archive.transcribing.queue(cast.EDITOR)

    def none() -> Given:
        raise ModelMissing("The speech model “given” is not here.")

    job_id = claimed(archive)
    child(archive, job_id, "mine", none)
    row = job(archive, job_id)
    assert row.state == "failed" and "not here" in row.words and "toldhere models" in row.words


def test_work_that_never_gets_further_is_given_up(archive: Archive) -> None:
    """Begun eight times without one more chunk: the list of work says so, and nobody claims it again."""
    archive.transcribing.queue(cast.EDITOR)
    with archive.rooms.db.write() as connection:
        connection.execute(text("UPDATE job SET attempt = 8"))
    assert archive.work.once()
    (row,) = on_list(archive)
    assert row.state == "failed" and "got no further" in row.words
    assert not archive.work.once()


def test_without_a_model_the_command_says_what_to_do(archive: Archive, tmp_path: Path) -> None:
    """Exit code 8, one sentence and the remedy; nothing is queued."""
    archive.close()
    environ = os.environ | {"PYTHONPATH": str(ROOT), "TOLDHERE_MODEL": "small", "TOLDHERE_MODELS_DIR": str(tmp_path / "none")}
    done = subprocess.run(
        [sys.executable, "-m", "archive.cli.main", "--archive", str(archive.folder), "transcribe"], cwd=ROOT, env=environ,
        capture_output=True, text=True, encoding="utf-8", check=False,
    )  # fmt: skip
    assert done.returncode == 8
    assert done.stderr.splitlines()[0] == "The speech model “small” is not here."
    assert "toldhere models" in done.stderr and "Traceback" not in done.stderr
    assert on_list(archive) == []


def test_with_two_microphones_only_what_both_pass_over_is_told() -> None:
    """While one speaks, the other's channel is silent: that is no stretch without a transcript."""
    assert _in_all([[(0, 9000), (20_000, 30_000)], [(5000, 8000), (9000, 28_000)]]) == [(5000, 8000), (20_000, 28_000)]
    assert _in_all([[(0, 9000)], [(8000, 20_000)]]) == [], "shorter than a pause that is told"
    assert _in_all([[(0, 9000)]]) == [(0, 9000)] and _in_all([]) == []


# -- languages -------------------------------------------------------------------------------------------------------------
def test_each_chunk_is_heard_in_the_language_that_a_person_said(archive: Archive) -> None:
    """Chunks end where another language begins; a language the model does not know is left to a person; all is frozen with the plan."""
    archive.languages.say(cast.EDITOR, "IV-50.1", "en-GB")
    archive.languages.say(cast.EDITOR, "IV-50.1", "Welsh", 3_000, 7_000)
    archive.languages.say(cast.EDITOR, "IV-50.1", "szl", 9_000, 11_000)
    archive.transcribing.queue(cast.EDITOR, "IV-50.1")
    job_id, engine = claimed(archive), Given(die_at=2)
    with pytest.raises(Killed):
        child(archive, job_id, "mine", lambda: engine)
    archive.languages.say(cast.EDITOR, "IV-50.1", "pl")  # after the plan: for the next time
    again = Given()
    child(archive, job_id, "mine", lambda: again)
    heard = {(s, e) for _, s, e, _ in plan(archive, job_id)}
    assert {3_000, 7_000, 9_000, 11_000} <= {e for _, e in heard}
    in_order = [language for _, language, _ in [*engine.heard[:1], *again.heard]]
    assert in_order == ["cy" if 3_000 <= s < 7_000 else "en" for s, _ in sorted(heard) if not 9_000 <= s < 11_000]
    assert not [w for w in words(archive) if 9_000 <= w[1] < 11_000], "nothing is made up for what it does not know"
    page = archive.languages.of(cast.EDITOR, "IV-50.1")
    assert page.heard_otherwise and any("was heard as English (United Kingdom), and is Polish" in t for t in page.told)
    assert any("does not know Silesian" in t for t in page.told)
    assert any("not transcribed" in n for n in archive.recordings.page(cast.EDITOR, "IV-50.1").notes)


def test_heard_again_in_the_right_language_the_old_words_stay_on_record(archive: Archive) -> None:
    archive.transcribing.queue(cast.EDITOR, "IV-50.1")
    child(archive, claimed(archive), "mine", Given)
    assert archive.transcribing.queue(cast.EDITOR, "IV-50.1") == (0, ()), "not unasked"
    assert not archive.languages.of(cast.EDITOR, "IV-50.1").heard_otherwise
    archive.languages.say(cast.EDITOR, "IV-50.1", "cy")
    assert archive.languages.of(cast.EDITOR, "IV-50.1").heard_otherwise
    assert archive.transcribing.queue(cast.EDITOR, "IV-50.1", again=True)[0] == 1
    engine = Given()
    child(archive, claimed(archive), "mine", lambda: engine)
    assert {language for _, language, _ in engine.heard} == {"cy"}
    assert not archive.languages.of(cast.EDITOR, "IV-50.1").heard_otherwise
    assert len(archive.correcting.versions(cast.EDITOR, "IV-50.1")) == 2


def test_a_recording_in_a_language_nobody_taught_the_model_is_not_queued(archive: Archive) -> None:
    archive.languages.say(cast.EDITOR, "IV-50.1", "Silesian")
    assert archive.transcribing.queue(cast.EDITOR, "IV-50.1") == (0, (("IV-50.1", ("Our own computer does not know Silesian. Somebody has to type what is said.",)),))
