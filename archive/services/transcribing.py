"""Transcribing: chunks cut at silences, each decoded, heard and committed alone; then passages and tags.

Before every chunk it is asked whether our own computer may still listen. What a job is: services/work.py.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from archive.audio import decode
from archive.audio.levels import stretch_levels
from archive.db import audit, conflicts, jobs, languages, recordings, runs
from archive.db.session import Connection, Row
from archive.domain.consent import told
from archive.domain.languages import Spoken, name
from archive.domain.masking import merge
from archive.domain.phrases import many
from archive.domain.values import Role, Viewer, Word
from archive.errors import Clash, Refused
from archive.gate import custody
from archive.gate.reading import Context
from archive.rules.crosstalk import Loud, without_crosstalk
from archive.rules.places import primed_names
from archive.rules.utterances import by_pause, merge_channels
from archive.services.describing import describe_recording, gazetteer_places
from archive.services.rooms import EDITORS, Rooms, need
from archive.services.spellings import listed_spellings
from archive.services.work import Lease
from archive.speech import models
from archive.speech.engine import RATE_HZ, Engine
from archive.speech.languages import heard_as
from archive.speech.plan import plan_chunks

KIND = "transcribe"
MIXED = -1
SILENT_MS = 2000  # shorter pauses are told by nobody
Hired = Callable[[str], Engine]


class Transcribing:
    """Transcription of one archive."""

    def __init__(self, rooms: Rooms, hire: Hired) -> None:
        """`hire` loads the engine with a model ("": the archive's own), once there is something to hear."""
        self._rooms, self._hire = rooms, hire

    # -- queueing ----------------------------------------------------------------------------------------------
    def queue(
        self, viewer: Viewer, recording: str = "", again: bool = False, model: str = ""
    ) -> tuple[int, tuple[tuple[str, tuple[str, ...]], ...]]:  # fmt: skip
        """Queue what waits and is permitted; returns how many, and what is not permitted: (recording, reasons).

        `again`: also what was heard before; what people corrected is carried over. `model`: another than the archive's own.
        Raises ModelMissing first, so that nothing is queued that cannot be done; Clash where one recording is named and waits for
        another model already.
        """
        need(viewer, *EDITORS)
        models.find(model or self._rooms.options.model, self._rooms.models_dir)
        asked = {"again": again, "model": model} if again or model else {}
        queued, refused = 0, []
        context = self._rooms.context()
        with self._rooms.db.write() as connection:
            rows = recordings.all_or_named(connection, recording)
            done = custody.transcribed(connection)
            for row in rows:
                newest = jobs.newest_of(connection, KIND, row.code)
                # nothing was heard, or somebody did not want it: again only where asked for by name
                unasked = newest is not None and newest.state in ("done", "cancelled")
                if not again and (row.id in done or (unasked and not recording)):
                    continue
                other = newest is not None and {k: newest.args[k] for k in ("again", "model") if k in newest.args} != asked
                if other and newest is not None and newest.state in jobs.OPEN:
                    if recording:
                        raise Clash(f"{row.code} waits to be heard already, in another way.", "Cancel that first: see the list of work.")
                    continue
                why_not = self._why_not(connection, row, context)
                if why_not:
                    refused.append((row.code, why_not))
                    continue
                whole_ms = row.duration_ms * len(self._speech(connection, row.id))
                args = {"recording": row.id, **asked}
                jobs.add_job(connection, KIND, row.code, args, viewer.name, self._rooms.now(), total=whole_ms, anew=other)
                queued += 1
            audit.record(
                connection, viewer.name, "transcription queued", "jobs", self._rooms.now(), queued=queued, refused=len(refused)
            )
        return queued, tuple(refused)

    def _why_not(self, connection: Connection, row: Row[Any], context: Context) -> tuple[str, ...]:
        decision = custody.machine_may(connection, row.id, 0, row.duration_ms, context)
        if not decision.allowed:
            return told(decision.reasons, Role.EDITOR)
        spoken = languages.of(connection, row.id)
        known = any(heard_as(language) for *_, language in spoken.pieces(max(1, row.duration_ms)))
        return () if known else (f"Our own computer does not know {name(spoken.whole)}. Somebody has to type what is said.",)

    # -- working -----------------------------------------------------------------------------------------------
    def run(self, lease: Lease) -> str:
        """Do one job: every chunk that is still open, then what follows from the words. Raises Refused, ModelMissing, LeaseLost."""
        recording_id, primed, spoken = lease.keep(lambda connection: self._begin(connection, lease.job_id))
        with self._rooms.db.read() as connection:
            chunks = jobs.chunks(connection, lease.job_id)
            master = recordings.master_of(connection, recording_id)
            speech = self._speech(connection, recording_id)
        source = self._rooms.masters.path(master.sha256, master.extension)
        engine: Engine | None = None
        for chunk in chunks:
            if chunk.state == "done":
                continue
            self._ask(recording_id, chunk.start_ms, chunk.end_ms)
            language = heard_as(spoken.at(chunk.start_ms, chunk.end_ms))
            words: Sequence[Word] = ()
            notes: dict[str, Any] = {"unknown": [[chunk.start_ms, chunk.end_ms]]}
            if language is not None:
                engine = engine or self._hire(lease.args.get("model", ""))
                words, notes = self._hear(engine, source, master.track, chunk, language, primed, speech[chunk.channel])
            lease.keep(functools.partial(self._commit, lease=lease, n=chunk.n, words=words, notes=notes))
        if engine is None and chunks:  # a worker died between the last chunk and the end: what heard it is still noted
            engine = self._hire(lease.args.get("model", ""))
        return lease.keep(lambda connection: self._finish(connection, lease, recording_id, engine, primed, spoken))

    def _begin(self, connection: Connection, job_id: int) -> tuple[int, list[str], Spoken]:
        """(recording, what primes the engine, which language is spoken where), kept with the plan, which is made where there is none."""
        row = jobs.by_id(connection, job_id)
        assert row is not None
        recording_id = int(row.args["recording"])
        primed = self._primed(connection, recording_id)
        spoken = languages.of(connection, recording_id)
        if jobs.chunks(connection, job_id):  # every chunk is primed alike, but for who was hidden meanwhile
            primed = [known for known in row.args["vocabulary"] if known in primed]
            spoken = Spoken(*_languages(row.args["languages"])) if "languages" in row.args else Spoken(spoken.whole)
        else:
            plan = self._plan(connection, recording_id, spoken)
            jobs.plan(connection, job_id, plan, {**row.args, "vocabulary": primed, "languages": [spoken.whole, *spoken.stretches]})
        return recording_id, primed, spoken

    def _commit(self, connection: Connection, lease: Lease, n: int, words: Sequence[Word], notes: dict[str, Any]) -> None:
        jobs.finish_chunk(connection, lease.job_id, n, words, notes)
        lease.got(connection, *jobs.heard(connection, lease.job_id))

    def _ask(self, recording_id: int, start_ms: int, end_ms: int) -> None:
        with self._rooms.db.read() as connection:
            decision = custody.machine_may(connection, recording_id, start_ms, end_ms, self._rooms.context())
        if not decision.allowed:
            raise Refused(
                "Our own computer may not listen on.", told(decision.reasons, Role.EDITOR), "What was heard of it is dropped; the recording itself stays, closed."
            )

    def _primed(self, connection: Connection, recording_id: int) -> list[str]:
        places = primed_names(gazetteer_places(connection))
        return custody.vocabulary(
            connection, recording_id, places, self._rooms.options.vocabulary_most, self._rooms.context(), listed_spellings(connection)
        )

    def _speech(self, connection: Connection, recording_id: int) -> dict[int, list[tuple[int, int]]]:
        """channel → where somebody speaks (ms), as measured once; two microphones that differ are heard one by one."""
        row = recordings.by_id(connection, recording_id)
        measured = recordings.measurement_of(connection, recording_id)
        speech = measured.speech_ms if measured is not None else [[]]
        if row.microphones == "two" and len(speech) > 1:
            return {n: [(s, e) for s, e in speech[n]] for n in (0, 1)}
        return {MIXED: merge([(s, e) for channel in speech for s, e in channel])}

    def _plan(self, connection: Connection, recording_id: int, spoken: Spoken) -> list[tuple[int, int, int]]:
        """(channel, start_ms, end_ms) a chunk: one pass a channel where there are two; each in one language."""
        whole_ms, chunk_ms = recordings.by_id(connection, recording_id).duration_ms, self._rooms.options.chunk_ms
        speech = self._speech(connection, recording_id)
        edges = [start_ms for start_ms, _, _ in spoken.pieces(whole_ms)]
        return [(n, s, e) for n, talk in speech.items() for s, e in plan_chunks(talk, whole_ms, chunk_ms, edges)]

    def _hear(
        self, engine: Engine, source: Path, track: int, chunk: Any, language: str, primed: Sequence[str],
        speech: Sequence[tuple[int, int]],
    ) -> tuple[list[Word], dict[str, Any]]:  # fmt: skip
        """Words of one chunk in the recording's own clock, and what the engine doubts or passed over: times, no words."""
        channel = None if chunk.channel == MIXED else chunk.channel
        pcm = decode.pcm(source, chunk.start_ms, chunk.end_ms, channel, RATE_HZ, track)
        start = chunk.start_ms
        inside = [(max(s, start) - start, min(e, chunk.end_ms) - start) for s, e in speech if s < chunk.end_ms and start < e]
        heard = engine.hear(pcm, language, primed, inside)
        words = [Word(w.text, w.start_ms + start, w.end_ms + start, w.probability) for w in heard.words]
        notes: dict[str, Any] = {
            "passed_over": [[s + start, e + start] for s, e in heard.skipped_ms],
            "doubts": [[d.code, d.start_ms + start, d.end_ms + start] for d in heard.doubts],
        }
        if channel is not None:  # what is crosstalk is decided when both sides are heard
            notes["levels_db"] = stretch_levels(pcm, [(w.start_ms, w.end_ms) for w in heard.words], RATE_HZ)
        return words, notes

    def _finish(
        self, connection: Connection, lease: Lease, recording_id: int, engine: Engine | None, primed: Sequence[str], spoken: Spoken
    ) -> str:  # fmt: skip
        """Everything that follows from the words, in one transaction with the end of the job."""
        now, context, job_id = self._rooms.now(), self._rooms.context(), lease.job_id
        row = recordings.by_id(connection, recording_id)
        lines, crosstalk = self._lines(connection, job_id, row)
        chunks = jobs.chunks(connection, job_id)
        passed_over: dict[int, list[tuple[int, int]]] = {}
        for chunk in chunks:
            passed_over.setdefault(chunk.channel, []).extend((s, e) for s, e in (chunk.notes or {}).get("passed_over", []))
        told_by_engine = {
            "passed_over": _in_all(list(passed_over.values())),
            "doubts": [item for c in chunks for item in (c.notes or {}).get("doubts", [])],
            "crosstalk": crosstalk,
            "languages": spoken.stretches,
            "unknown": merge([(s, e) for c in chunks for s, e in (c.notes or {}).get("unknown", [])]),
        }
        if lines:
            run_id = runs.add_run(
                connection, job_id=job_id, recording_id=recording_id, engine=engine.name if engine else "",
                model=lease.args.get("model") or self._rooms.options.model, model_sha256=engine.model_sha256 if engine else "",
                language=spoken.whole, vocabulary=list(primed),
                options={**(engine.options if engine else {}), **told_by_engine}, by="machine", at=now,
            )  # fmt: skip
            custody.keep_machine_text(connection, recording_id, run_id, lines, "machine", now)
            describe_recording(connection, recording_id, context, "machine", now)
        jobs.drop_words(connection, job_id)
        words = sum(len(spoken) for _, spoken in lines)
        told = f"{words} words." if words else "No speech was found. If somebody speaks here, ask for it to be heard again."
        if waiting := conflicts.count_open(connection, recording_id):
            told += f" Corrections are carried over; {many(waiting, 'place waits', 'places wait')} for you to decide between the two wordings."
        audit.record(connection, "machine", "transcribed", f"recording {recording_id}", now, job=job_id, words=words)
        return lease.end(connection, told)

    def _lines(
        self, connection: Connection, job_id: int, row: Any
    ) -> tuple[list[tuple[int | None, list[Word]]], list[tuple[int, int]]]:
        """Utterances with their speakers: from the channels where there are two; else unassigned, unless only one took part.
        And the stretches of words left out because they are the other microphone's, heard faintly."""
        by_channel: dict[int, list[Loud]] = {}
        for chunk in jobs.chunks(connection, job_id):
            heard = [Word(str(t), int(s), int(e), float(p)) for t, s, e, p in chunk.words or []]
            levels = (chunk.notes or {}).get("levels_db") or [None] * len(heard)
            by_channel.setdefault(chunk.channel, []).extend(map(Loud, heard, levels))
        if MIXED in by_channel or not by_channel:
            only = custody.only_participant(connection, row.interview_id)
            return [(only, words) for words in by_pause([w.word for w in by_channel.get(MIXED, [])])], []
        sides = {0: row.left_person_id, 1: row.right_person_id}
        left, right, crosstalk = without_crosstalk(by_channel.get(0, []), by_channel.get(1, []))
        return [(sides[n], words) for n, words in merge_channels(left, right)], crosstalk


def _languages(kept: Sequence[Any]) -> tuple[str, tuple[tuple[int, int, str], ...]]:
    """What was frozen with a plan: the language of the whole, then (from, to, language) of stretches."""
    return str(kept[0]), tuple((int(s), int(e), str(t)) for s, e, t in kept[1:])


def _in_all(channels: Sequence[Sequence[tuple[int, int]]]) -> list[tuple[int, int]]:
    """What was passed over in every channel at once: while one of two people speaks, the other's channel is silent."""
    found = list(channels[0]) if channels else []
    for other in channels[1:]:
        found = [(max(a, c), min(b, d)) for a, b in found for c, d in other if min(b, d) - max(a, c) >= SILENT_MS]
    return found
