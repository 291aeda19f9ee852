"""Where people are named, and what a person decided about it. Append-only; the latest row of a stretch and person counts."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from sqlalchemy import Connection, func, select

from archive.db.facts import bump_consent
from archive.db.rows import add
from archive.db.tables import mention
from archive.domain.values import Decision, Naming, Stretch


@dataclass(frozen=True, slots=True)
class Mention:
    """A stretch in which somebody is named. `person_id` None: somebody not on record."""

    stretch: Stretch
    person_id: int | None
    decision: Decision
    by: str
    at: str
    kind: Naming = Naming.NAME
    rule: str = ""
    instead: str = ""
    how: str = ""


def current(connection: Connection, recording_id: int) -> list[Mention]:
    """What counts today in one recording, in time order."""
    return current_in(connection, [recording_id])[recording_id]


def current_in(connection: Connection, recording_ids: Collection[int]) -> dict[int, list[Mention]]:
    """The same of several recordings, read at once."""
    latest = (
        select(func.max(mention.c.id))
        .where(mention.c.recording_id.in_(recording_ids))
        .group_by(mention.c.recording_id, mention.c.start_ms, mention.c.end_ms, mention.c.person_id)
    )
    query = select(mention).where(mention.c.id.in_(latest)).order_by(mention.c.start_ms, mention.c.id)
    found: dict[int, list[Mention]] = {r: [] for r in recording_ids}
    for r in connection.execute(query):
        found[r.recording_id].append(
            Mention(
                Stretch(r.recording_id, r.start_ms, r.end_ms), r.person_id, Decision(r.decision), r.by, r.at,
                Naming(r.kind), r.rule, r.instead, r.how,
            )
        )  # fmt: skip
    return found


def recordings_with_names(connection: Connection) -> list[int]:
    """Ids of the recordings in which anything was noted."""
    return sorted(connection.execute(select(mention.c.recording_id).distinct()).scalars())


def recordings_of(connection: Connection, person_id: int) -> set[int]:
    """Ids of the recordings in which a person is named."""
    query = select(mention.c.recording_id).where(mention.c.person_id == person_id).distinct()
    return {int(r) for r in connection.execute(query).scalars()}


def recordings_hiding(connection: Connection) -> set[int]:
    """Ids of the recordings in which somebody decided to hide words about nobody on record."""
    query = select(mention.c.recording_id).where(mention.c.person_id.is_(None), mention.c.decision == Decision.HIDE.value).distinct()
    return {int(r) for r in connection.execute(query).scalars()}


def recordings_with(connection: Connection, kind: Naming) -> set[int]:
    """Ids of the recordings in which words point in this way."""
    query = select(mention.c.recording_id).where(mention.c.kind == kind.value).distinct()
    return {int(r) for r in connection.execute(query).scalars()}


def decide(
    connection: Connection, stretch: Stretch, person_id: int | None, decision: Decision, how: str, by: str, at: str,
    kind: Naming = Naming.NAME, rule: str = "", instead: str = "",
) -> None:  # fmt: skip
    """Add one decision, or (undecided) what the machine suggests. Consent moves: what may be shown has changed.

    `instead`: the words of the mask, brackets and all; "" the usual ones.
    """
    add(
        connection, mention, recording_id=stretch.recording_id, start_ms=stretch.start_ms, end_ms=stretch.end_ms,
        person_id=person_id, decision=decision.value, how=how, by=by, at=at, kind=kind.value, rule=rule, instead=instead,
    )  # fmt: skip
    bump_consent(connection)
