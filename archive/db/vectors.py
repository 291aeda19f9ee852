"""What find units and scope notes are about, as numbers made from their words: kept beside them, and gone with them.

They are as telling as words, so they follow these: a unit that is taken out of the index, or held back from the team or from our own
computer, has none. Nothing here decides who may find a unit: that is asked live, each time (db/leads.py).
"""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from sqlalchemy import ColumnElement, Connection, Select, and_, delete, exists, func, insert, not_, select

from archive.db import facts, permitted, uses
from archive.db.tables import find_text, find_unit, recording, tag, theme, theme_vector, unit_vector, voicing_person
from archive.domain.agreements import MACHINE, TEAM, Policy
from archive.domain.values import Stretch, Use, Way

BOTH = "both"  # readers' words are everybody's here
_WINDOW_BYTES = 2 * 384
_AT_ONCE = 400  # ids in one statement


@dataclass(frozen=True, slots=True)
class OpenTo:
    """Whose answer decides what may have vectors at all: the team's and our own computer's, on a day."""

    team: Use
    machine: Use
    on: date
    exhibition: str
    policy: Policy

    def condition(self) -> ColumnElement[bool]:
        """As a condition on find_unit."""
        asked = (self.on, self.exhibition, self.policy)
        return and_(
            find_unit.c.id.in_(permitted.visible_units(self.team, Way.WORDS, *asked)),
            find_unit.c.id.in_(permitted.visible_units(self.machine, Way.VOICE, *asked)),
        )


def open_to(connection: Connection, on: date, exhibition: str, cooling_off_days: int) -> OpenTo:
    """The team's and our own computer's answers on this day."""
    every = uses.every_use(connection)
    return OpenTo(every[TEAM], every[MACHINE], on, exhibition, Policy(facts.participation_covers_machine(connection), cooling_off_days))


class Wanted(NamedTuple):
    """A unit that has no vectors yet. `tokens_sha256`: of its words as they are indexed, to see whether they are still these."""

    unit_id: int
    recording_id: int
    start_ms: int
    end_ms: int
    tokens_sha256: str


class Made(NamedTuple):
    """The vectors of a unit in one wording: full, shown or both. Bytes: float16 little endian, window by window."""

    wording: str
    vectors: bytes


class Kept(NamedTuple):
    """A row of vectors by its id, which is never given twice."""

    id: int
    unit_id: int
    wording: str
    vectors: bytes


def _lacking(open_to: OpenTo, model: str) -> ColumnElement[bool]:
    here = exists().where(unit_vector.c.unit_id == find_unit.c.id, unit_vector.c.model == model)
    return and_(not_(here), open_to.condition())


def wanted(connection: Connection, open_to: OpenTo, model: str, most: int, among: Sequence[int] | None = None) -> list[Wanted]:
    """Units that may have vectors of this model and have none: the first ones, by recording and time, or those `among` these ids."""
    query = (
        select(find_unit, find_text.c.full_exact, find_text.c.shown_exact)
        .join(find_text, find_text.c.unit_id == find_unit.c.id)
        .where(_lacking(open_to, model))
        .order_by(find_unit.c.recording_id, find_unit.c.start_ms)
        .limit(most)
    )
    if among is not None:
        query = query.where(find_unit.c.id.in_(among))
    return [
        Wanted(r.id, r.recording_id, r.start_ms, r.end_ms, hashlib.sha256(f"{r.full_exact}\n{r.shown_exact}".encode()).hexdigest())
        for r in connection.execute(query)
    ]


def count(connection: Connection, open_to: OpenTo, model: str) -> tuple[int, int]:
    """(units that have vectors of this model, units that may have them and have none)."""
    have = connection.execute(select(func.count(func.distinct(unit_vector.c.unit_id))).where(unit_vector.c.model == model)).scalar_one()
    lack = connection.execute(select(func.count()).select_from(find_unit).where(_lacking(open_to, model))).scalar_one()
    return int(have), int(lack)


def keep(connection: Connection, open_to: OpenTo, model: str, asked: Sequence[Wanted], made: Mapping[int, Sequence[Made]]) -> int:
    """Keep what was made in an earlier transaction, of those units that still have these very words, are still open and have none,
    instead of what another model made of them; returns how many units."""
    still = set(wanted(connection, open_to, model, len(asked), [w.unit_id for w in asked])) & set(asked)
    mine = sorted(w.unit_id for w in still)
    _delete(connection, unit_vector.c.unit_id.in_(mine))
    new = [{"unit_id": unit_id, "model": model, **one._asdict()} for unit_id in mine for one in made[unit_id]]
    if new:
        connection.execute(insert(unit_vector), new)
        facts.bump_find(connection)
    return len(mine)


def _delete(connection: Connection, where: ColumnElement[bool]) -> int:
    """Deleted rows are overwritten (secure_delete)."""
    gone = int(connection.execute(delete(unit_vector).where(where)).rowcount)
    if gone:
        facts.bump_find(connection)
    return gone


def forget(connection: Connection, unit_ids: Collection[int]) -> None:
    """Delete what was made of the words of these units."""
    _delete(connection, unit_vector.c.unit_id.in_(unit_ids))


def forget_held(connection: Connection, person_id: int | None, interview_id: int | None, stretch: Stretch | None) -> None:
    """Delete what a hold on a person, an interview or a stretch reaches: every filled one narrows it."""
    reached = select(find_unit.c.id)
    if stretch is not None:
        reached = reached.where(
            find_unit.c.recording_id == stretch.recording_id, find_unit.c.start_ms < stretch.end_ms, find_unit.c.end_ms > stretch.start_ms
        )
    if interview_id is not None:
        reached = reached.join(recording, recording.c.id == find_unit.c.recording_id).where(recording.c.interview_id == interview_id)
    if person_id is not None:
        theirs = select(voicing_person.c.voicing_id).where(voicing_person.c.person_id == person_id)
        reached = reached.where(find_unit.c.voicing_id.in_(theirs))
    _delete(connection, unit_vector.c.unit_id.in_(reached))


def forget_closed(connection: Connection, open_to: OpenTo) -> int:
    """Delete the vectors of all that is not open any more, for whatever reason and since whatever day; returns how many rows."""
    closed = list(connection.execute(_closed(open_to)).scalars())
    return sum(_delete(connection, unit_vector.c.id.in_(closed[at : at + _AT_ONCE])) for at in range(0, len(closed), _AT_ONCE))


def _closed(open_to: OpenTo) -> Select[tuple[int]]:
    return select(unit_vector.c.id).where(unit_vector.c.unit_id.not_in(select(find_unit.c.id).where(open_to.condition())))


def any_closed(connection: Connection, open_to: OpenTo) -> bool:
    """Whether anything has vectors that is not open any more."""
    return connection.execute(_closed(open_to).limit(1)).first() is not None


def forget_other_models(connection: Connection, model: str) -> None:
    """Delete what another model made: it is compared with nothing any more."""
    _delete(connection, unit_vector.c.model != model)
    connection.execute(delete(theme_vector).where(theme_vector.c.model != model))


# --- reading ----------------------------------------------------------------------------------------------------------


def ids(connection: Connection, model: str) -> list[int]:
    """Ids of all rows of this model, in order."""
    joined = connection.execute(select(func.group_concat(unit_vector.c.id)).where(unit_vector.c.model == model)).scalar()
    return sorted(map(int, joined.split(","))) if joined else []


def windows(connection: Connection, model: str, after: int = 0) -> int:
    """At most so many windows are in the rows of this model with a higher id than `after`."""
    size = func.coalesce(func.sum(func.length(unit_vector.c.vectors)), 0)
    return int(connection.execute(select(size).where(unit_vector.c.model == model, unit_vector.c.id > after)).scalar_one()) // _WINDOW_BYTES


def rows(connection: Connection, model: str, after: int = 0) -> Iterator[Kept]:
    """The rows of this model with a higher id than `after`, in order of ids, read bit by bit."""
    query = select(unit_vector.c.id, unit_vector.c.unit_id, unit_vector.c.wording, unit_vector.c.vectors)
    found = connection.execute(query.where(unit_vector.c.model == model, unit_vector.c.id > after).order_by(unit_vector.c.id))
    for row in found.yield_per(1000):
        yield Kept(row.id, row.unit_id, row.wording, row.vectors)


def of_recordings(connection: Connection, model: str, recording_ids: Collection[int]) -> list[tuple[int, int, int, bytes]]:
    """(recording, start_ms, end_ms, vectors) of every unit of these recordings, from its full wording, in order of time."""
    query = (
        select(find_unit.c.recording_id, find_unit.c.start_ms, find_unit.c.end_ms, unit_vector.c.vectors)
        .join(unit_vector, unit_vector.c.unit_id == find_unit.c.id)
        .where(unit_vector.c.model == model, unit_vector.c.wording.in_(("full", BOTH)), find_unit.c.recording_id.in_(recording_ids))
        .order_by(find_unit.c.recording_id, find_unit.c.start_ms)
    )
    return [(r.recording_id, r.start_ms, r.end_ms, r.vectors) for r in connection.execute(query)]


def sample(connection: Connection, model: str, most: int) -> list[bytes]:
    """Vectors of about so many units from all over the archive, or of all where there are fewer."""
    count_of = connection.execute(select(func.count()).where(unit_vector.c.model == model)).scalar_one()
    every = max(1, int(count_of) // most)
    query = select(unit_vector.c.vectors).where(unit_vector.c.model == model, unit_vector.c.wording.in_(("full", BOTH)), unit_vector.c.id % every == 0)
    return [v for v in connection.execute(query.limit(most)).scalars() if v]


# --- scope notes ------------------------------------------------------------------------------------------------------


class Note(NamedTuple):
    """What a theme's scope note is about, as long as the note is the one it was made from."""

    name: str
    model: str
    vector: bytes


def note_text(name: str, scope_note: str) -> str:
    """What of a theme is compared by its meaning."""
    return f"{name}. {scope_note}".strip()


def notes_wanted(connection: Connection, model: str) -> dict[int, str]:
    """theme id → text, of all that have no vector of this model from this very text."""
    query = select(theme.c.id, theme.c.name, theme.c.scope_note, theme_vector.c.text_sha256).outerjoin(
        theme_vector, and_(theme_vector.c.theme_id == theme.c.id, theme_vector.c.model == model)
    )
    rows = [(r.id, note_text(r.name, r.scope_note), r.text_sha256) for r in connection.execute(query)]
    return {theme_id: text for theme_id, text, sha256 in rows if _sum(text) != sha256}


def keep_notes(connection: Connection, model: str, made: Mapping[int, tuple[str, bytes]]) -> None:
    """Keep the vectors of scope notes: theme id → (text it was made from, vector)."""
    connection.execute(delete(theme_vector).where(theme_vector.c.theme_id.in_(made)))
    rows = [{"theme_id": t, "text_sha256": _sum(text), "model": model, "vector": vector} for t, (text, vector) in made.items()]
    if rows:
        connection.execute(insert(theme_vector), rows)


def notes(connection: Connection) -> list[Note]:
    """The vectors of all scope notes that still read as they did."""
    query = select(theme.c.name, theme.c.scope_note, theme_vector).join(theme_vector, theme_vector.c.theme_id == theme.c.id)
    return [
        Note(r.name, r.model, r.vector)
        for r in connection.execute(query.order_by(theme.c.id))
        if _sum(note_text(r.name, r.scope_note)) == r.text_sha256
    ]


def confirmed(connection: Connection, model: str, most: int) -> dict[str, list[tuple[int, bytes]]]:
    """theme → (recording id, vectors) of units for which a person confirmed it, the newest decisions first, at most so many a theme."""
    query = (
        select(tag.c.value, tag.c.recording_id, unit_vector.c.vectors)
        .join(find_unit, and_(find_unit.c.recording_id == tag.c.recording_id, find_unit.c.start_ms < tag.c.end_ms, find_unit.c.end_ms > tag.c.start_ms))
        .join(unit_vector, unit_vector.c.unit_id == find_unit.c.id)
        .where(tag.c.kind == "theme", tag.c.state == "confirmed", unit_vector.c.model == model, unit_vector.c.wording.in_(("full", BOTH)))
        .order_by(tag.c.decided_at.desc(), tag.c.id.desc())
    )
    found: dict[str, list[tuple[int, bytes]]] = {}
    for row in connection.execute(query):
        mine = found.setdefault(row.value, [])
        if len(mine) < most and row.vectors:
            mine.append((row.recording_id, row.vectors))
    return found


def _sum(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()
