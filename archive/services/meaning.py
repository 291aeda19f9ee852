"""Near in meaning: passages are read once by a small model, and Find offers leads after its exact hits; themes get a nearness.

An option: without the model, or until somebody asks for it, nothing of it is there. Leads are never complete, and say so.
"""

from __future__ import annotations

import functools
import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from archive.db import audit, facts, jobs, leads, search, vectors
from archive.db.session import Connection
from archive.db.vectors import OpenTo
from archive.domain.cleared import ShownNear
from archive.domain.phrases import many
from archive.domain.values import Stretch, Viewer
from archive.gate.meaning import vectors_of
from archive.gate.reading import Readings
from archive.gate.show import show_near
from archive.rules import nearness
from archive.rules.questions import parse_query
from archive.services.finding import Finding
from archive.services.rooms import EDITORS, EVERYBODY, Rooms, need
from archive.services.rows import Asked
from archive.services.vector_cache import VectorCache
from archive.services.work import Lease
from archive.speech import models

if TYPE_CHECKING:
    from archive.meaning.encoder import Encoder

KIND = "meaning"
SUBJECT = "passages"
LEADS = 10
_TOP = 256  # windows that are looked at, the nearest of all that may be leads
_BY_WORDS = 100  # of the best by words
_AT_ONCE = 16  # units read in one transaction: a fifth of a second
Hired = Callable[[int], "Encoder"]


@dataclass(frozen=True, slots=True)
class MeaningState:
    """Whether the model is here, whether it was asked for, how many passages were read and how many wait."""

    here: bool
    on: bool
    read: int
    waiting: int
    listed: bool  # a job for it waits or works


class Meaning:
    """Nearness in meaning, in one archive."""

    model = models.NEAREST
    how_to_bring = models.HOW_TO_BRING

    def __init__(self, rooms: Rooms, finding: Finding, hire: Hired) -> None:
        self._rooms, self._finding, self._hire = rooms, finding, hire
        self._cache = VectorCache()
        self._encoder: Encoder | None = None
        self._lock = threading.Lock()
        self._looked: tuple[object, ...] = ()

    # -- asking for it -----------------------------------------------------------------------------------------
    def why_not(self) -> str:
        """Why there are no leads, and what to do."""
        if not self.is_here():
            return f"There are no leads: the model for nearness in meaning is not here. {self.how_to_bring}"
        return "There are no leads: no words were asked, or the passages were not read for it yet. Let our own computer read them: toldhere meaning"

    def state(self, viewer: Viewer) -> MeaningState:
        """What is here and how far it is."""
        need(viewer, *EDITORS)
        here = self.is_here()
        with self._rooms.db.read() as connection:
            on = _is_on(connection)
            read, waiting = vectors.count(connection, self._open_to(connection), models.CATALOGUE[models.NEAREST].model_sha256)
            listed = any(j.kind == KIND for j in jobs.open_or_paused(connection))
        return MeaningState(here, on, read, waiting if on else 0, listed)

    def ask(self, viewer: Viewer) -> int:
        """Let our own computer read all passages that it may read, now and whenever more come; returns the job. Raises ModelMissing."""
        need(viewer, *EDITORS)
        if not self.is_here():
            models.find(models.NEAREST, self._rooms.models_dir, models.MEANING)  # says what is missing and how to bring it
        with self._rooms.db.write() as connection:
            facts.set_fact(connection, facts.NEAR_IN_MEANING, "on")
            audit.record(connection, viewer.name, "near in meaning asked for", "passages", self._rooms.now())
            return self._queue(connection, viewer.name)

    def drop(self, viewer: Viewer) -> None:
        """Stop it, and delete every number that was made of words."""
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            facts.set_fact(connection, facts.NEAR_IN_MEANING, "off")
            vectors.forget_other_models(connection, "")
            for job in (j for j in jobs.open_or_paused(connection) if j.kind == KIND):
                jobs.end(connection, job.id, "cancelled", "What was read was deleted, and is not wanted any more.", self._rooms.now())
            audit.record(connection, viewer.name, "near in meaning dropped", "passages", self._rooms.now())

    def keep_up(self) -> None:
        """Queue what came since, where it was asked for and the model is here. Cheap where nothing changed; the worker asks it often."""
        with self._rooms.db.read() as connection:
            seen = (facts.find_revision(connection), facts.consent_revision(connection), self._rooms.today(), _is_on(connection))
            if seen == self._looked or not seen[3] or not self.is_here():
                self._looked = seen
                return
            open_to, model = self._open_to(connection), models.CATALOGUE[models.NEAREST].model_sha256
            some = vectors.wanted(connection, open_to, model, 1) or vectors.notes_wanted(connection, model)
            due = bool(some) or vectors.any_closed(connection, open_to)
        if due:
            with self._rooms.db.write() as connection:
                self._queue(connection, "machine")
        self._looked = seen

    def _queue(self, connection: Connection, by: str) -> int:
        return jobs.add_once(connection, KIND, SUBJECT, {}, by, self._rooms.now())

    def is_here(self) -> bool:
        """Whether the model is on our own computer."""
        return models.is_here(models.NEAREST, self._rooms.models_dir)

    def _open_to(self, connection: Connection) -> OpenTo:
        return vectors.open_to(connection, self._rooms.today(), self._rooms.options.exhibition, self._rooms.options.cooling_off_days)

    # -- working -----------------------------------------------------------------------------------------------
    def run(self, lease: Lease) -> str:
        """Do one job: some units at a time, each time asked anew whether they may be read. Raises ModelMissing, LeaseLost."""
        encoder = self._hire(self._rooms.options.cpu_threads)
        model = encoder.model_sha256
        gone = lease.keep(functools.partial(self._tidy, model=model))
        self._read_notes(lease, encoder)
        with self._rooms.db.read() as connection:
            total = vectors.count(connection, self._open_to(connection), model)[1]
        done = fruitless = 0
        while fruitless < 3:  # units that change while they are read come again; never without end
            with self._rooms.db.read() as connection:
                wanted = vectors.wanted(connection, self._open_to(connection), model, _AT_ONCE)
                wanted = [w for w in wanted if w.recording_id == wanted[0].recording_id]
                made = vectors_of(connection, wanted, encoder.vectors, self._rooms.context())
            if not wanted:
                break
            kept = lease.keep(functools.partial(self._keep, lease=lease, model=model, wanted=wanted, made=made, done=done, total=total))
            done, fruitless = done + kept, 0 if kept else fruitless + 1
        told = f"{many(done, 'passage was', 'passages were')} read."
        return told + (" What is held back by now was deleted." if gone else "")

    def _tidy(self, connection: Connection, model: str) -> int:
        vectors.forget_other_models(connection, model)
        return vectors.forget_closed(connection, self._open_to(connection))

    def _read_notes(self, lease: Lease, encoder: Encoder) -> None:
        with self._rooms.db.read() as connection:
            wanted = vectors.notes_wanted(connection, encoder.model_sha256)
        made = dict(zip(wanted, encoder.vectors(list(wanted.values())), strict=True))
        notes = {t: (wanted[t], nearness.one_each([own])[0].astype("<f2").tobytes()) for t, own in made.items() if len(own)}
        if notes:
            lease.keep(lambda connection: vectors.keep_notes(connection, encoder.model_sha256, notes))

    def _keep(
        self, connection: Connection, lease: Lease, model: str, wanted: Sequence[vectors.Wanted], made: Mapping[int, Sequence[vectors.Made]],
        done: int, total: int,
    ) -> int:  # fmt: skip
        kept = vectors.keep(connection, self._open_to(connection), model, wanted, made)
        lease.got(connection, done + kept, max(total, done + kept))
        return kept

    # -- leads -------------------------------------------------------------------------------------------------
    def leads(self, viewer: Viewer, asked: Asked, most: int = LEADS) -> ShownNear | None:
        """What may answer a question in other words than its own: under the same filters and the same consent as its hits, and none of
        these. None where there is no model, nothing was read, or no words were asked."""
        need(viewer, *EVERYBODY)
        query = parse_query(asked.words)
        text = nearness.text_of(query)
        if not text or not self.is_here():
            return None
        with self._rooms.db.read() as connection:
            if not _is_on(connection):
                return None
            matrix = self._cache.of(connection, models.CATALOGUE[models.NEAREST].model_sha256)
        if not len(matrix.ids):
            return None
        question = nearness.one_each(self._loaded().vectors([text]))[0]
        with self._rooms.db.read() as connection:
            readings = Readings(connection, self._rooms.context())
            filters, columns = self._finding.narrowed(readings, viewer, asked, query)
            may_be = search.may_be_leads(connection, query, nearness.left_out(query), nearness.fields_asked(query), filters, columns)
            matrix = self._cache.of(connection, matrix.model)
            scores = matrix.scores(question, filters.wording, may_be)
            by_words = [u for u in leads.by_words(connection, nearness.telling(query), filters.wording, _BY_WORDS) if may_be[u : u + 1].any()]
            near = matrix.among(scores, by_words) | matrix.best(scores, _TOP)
            units, same = leads.stretches(connection, nearness.order(near, by_words, most), may_be)
            return show_near(readings, viewer, [(u.id, Stretch(u.recording_id, u.start_ms, u.end_ms)) for u in units], same)

    def _loaded(self) -> Encoder:
        with self._lock:
            if self._encoder is None:
                self._encoder = self._hire(1)
            return self._encoder


def _is_on(connection: Connection) -> bool:
    return facts.get_fact(connection, facts.NEAR_IN_MEANING) == "on"
