"""Typed words put to the sound, where somebody asks for it at the desk: a job of the engine, and then a change that can be undone."""

from __future__ import annotations

import functools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from archive.audio import decode
from archive.db import audit, jobs, languages, recordings, sittings
from archive.db.session import Connection
from archive.domain.languages import Spoken
from archive.domain.phrases import many
from archive.domain.values import Viewer, Word
from archive.errors import BadInput, Clash
from archive.gate.fitted import ToFit, fitted_change, lines_to_fit
from archive.gate.reading import Readings
from archive.gate.typing import lines_now
from archive.services.asking import asked_by, asking
from archive.services.rooms import EDITORS, Rooms, need
from archive.services.transcribing import Hired
from archive.services.work import Lease
from archive.speech import models
from archive.speech.engine import RATE_HZ, Engine
from archive.speech.languages import heard_as

KIND = "fit"
MARGIN_MS = 300  # of sound on both sides of a piece
PIECE_MS = 20_000  # the engine hears 30 s at most in one go
MOST_LINES = 400


@dataclass(frozen=True, slots=True)
class FitState:
    """How far the newest such jobs of a recording are: how many are open, and what the newest one says."""

    open: int
    words: str


class Fitting:
    """Times from the sound, in one archive."""

    def __init__(self, rooms: Rooms, hire: Hired) -> None:
        self._rooms, self._hire = rooms, hire

    def queue(self, viewer: Viewer, code: str, keys: Sequence[int]) -> FitState:
        """Ask for these lines to be put to the sound; none named: all that were changed in this person's sitting.

        Raises ModelMissing, Clash where a line is not there any more, Refused, BadInput where there is nothing to do.
        """
        need(viewer, *EDITORS)
        models.find(self._rooms.options.model, self._rooms.models_dir)
        with self._rooms.db.write() as connection:
            row = recordings.named(connection, code)
            lines = lines_now(connection, row.id)
            wanted = list(dict.fromkeys(keys)) or sittings.changed_by(connection, row.id, viewer.name, {n.key for n in lines})
            if len(wanted) > MOST_LINES:
                raise BadInput(f"{MOST_LINES} lines can be put to the sound at once.", "Choose fewer.")
            asked = lines_to_fit(Readings(connection, self._rooms.context()), viewer, row.id, lines, wanted)
            named = [a.line.key for a in asked if a.which]
            if not named:
                raise BadInput("Every word here has its time from the sound.", "Only words that somebody typed are put to it.")
            args = {"recording": row.id, "keys": named, **asking(connection, viewer)}
            jobs.add_job(connection, KIND, row.code, args, viewer.name, self._rooms.now(), total=len(named), anew=True)
            audit.record(connection, viewer.name, "words put to the sound", f"recording {row.id}", self._rooms.now(), lines=len(named))
        return self.state(viewer, code)

    def state(self, viewer: Viewer, code: str) -> FitState:
        """Whether any of it is under way for a recording."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            row = recordings.named(connection, code)
            newest = jobs.newest_of(connection, KIND, row.code)
            waiting = [j for j in jobs.open_ones(connection) if (j.kind, j.subject) == (KIND, row.code)]
            return FitState(len(waiting), newest.words if newest is not None else "")

    # -- working -----------------------------------------------------------------------------------------------
    def run(self, lease: Lease) -> str:
        """Do one job, line by line; each is kept at once. Raises Refused, ModelMissing, LeaseLost."""
        keys: list[int] = lease.args["keys"]
        with self._rooms.db.read() as connection:
            viewer = asked_by(connection, lease)
            row = recordings.by_id(connection, lease.args["recording"])
            master, spoken = recordings.master_of(connection, row.id), languages.of(connection, row.id)
        source = self._rooms.masters.path(master.sha256, master.extension)
        engine: Engine | None = None
        moved = lost = gone = 0
        for n, key in enumerate(keys):
            mark = f"fit-{lease.job_id}-{n}"
            try:
                asked = self._asked(viewer, row.id, key)
                engine = engine or self._hire("")
                found = self._found(engine, source, master.track, row, spoken, asked)
                made = lease.keep(functools.partial(self._commit, lease=lease, row=row, asked=asked, found=found, viewer=viewer, mark=mark, done=(n + 1, len(keys))))
            except Clash:  # typed in meanwhile, or kept before this job was interrupted
                with self._rooms.db.read() as connection:
                    gone += sittings.by_mark(connection, mark) is None
                continue
            moved += made
            lost += sum(found[k] is None for k in asked.which)
        told = [f"{many(moved, 'word has its time', 'words have their times')} from the sound now."]
        told += [f"{many(lost, 'word', 'words')} could not be placed and kept the time between its neighbours."] if lost else []
        told += [f"{many(gone, 'line was', 'lines were')} changed meanwhile and left as it is."] if gone else []
        return " ".join(told)

    def _asked(self, viewer: Viewer, recording_id: int, key: int) -> ToFit:
        with self._rooms.db.read() as connection:
            readings = Readings(connection, self._rooms.context())
            return lines_to_fit(readings, viewer, recording_id, lines_now(connection, recording_id), [key])[0]

    def _found(self, engine: Engine, source: Path, track: int, row: Any, spoken: Spoken, asked: ToFit) -> list[tuple[int, int] | None]:
        """When each word of a line is heard, ms of the recording; None for those that are not asked about, not placed, or in a
        language that the model does not know."""
        said = asked.line.words
        sides = {row.left_person_id: 0, row.right_person_id: 1} if row.microphones == "two" else {}
        channel = sides.get(asked.line.speaker_id) if asked.line.speaker_id is not None else None
        found: list[tuple[int, int] | None] = [None] * len(said)
        for first, last in pieces(said):
            if asked.which.isdisjoint(range(first, last)):
                continue
            start_ms = max(0, said[first].start_ms - MARGIN_MS)
            end_ms = min(row.duration_ms, said[last - 1].end_ms + MARGIN_MS)
            pcm = decode.pcm(source, start_ms, end_ms, channel, RATE_HZ, track)
            language = heard_as(spoken.at(said[first].start_ms, said[last - 1].end_ms))
            there = engine.place(pcm, language, [w.text for w in said[first:last]]) if language is not None else [None] * (last - first)
            found[first:last] = [(t[0] + start_ms, t[1] + start_ms) if t is not None else None for t in there]
        return found

    def _commit(
        self, connection: Connection, lease: Lease, row: Any, asked: ToFit, found: list[tuple[int, int] | None], viewer: Viewer, mark: str,
        done: tuple[int, int],
    ) -> int:  # fmt: skip
        """Keep one line as a change of this person's sitting; returns how many words moved. Raises Clash, Refused."""
        readings = Readings(connection, self._rooms.context())
        lines = lines_now(connection, row.id)
        lines_to_fit(readings, viewer, row.id, lines, [asked.line.key])  # closed since?
        change = fitted_change(readings, lines, asked, found)
        lease.got(connection, *done)
        if change is None:
            return 0
        sitting = sittings.sit_down(connection, row.id, viewer.name, self._rooms.now())
        sittings.add_edit(connection, sitting, row.id, mark, change, 0, viewer.name, self._rooms.now())
        return sum(found[n] is not None for n in asked.which)


def pieces(said: Sequence[Word]) -> Iterator[tuple[int, int]]:
    """Words (from, to) that the engine can hear in one go."""
    first = 0
    for n, word in enumerate(said):
        if n > first and word.end_ms - said[first].start_ms > PIECE_MS:
            yield first, n
            first = n
    yield first, len(said)

