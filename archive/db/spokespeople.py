"""Who speaks for whom: guardians, deputies, heirs. Only ever added to."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping
from datetime import date

from sqlalchemy import Connection, select

from archive.db.facts import bump_consent
from archive.db.rows import add
from archive.db.tables import person, speaks_for
from archive.domain.agreements import Relation, SpeaksFor
from archive.errors import BadInput


def of(connection: Connection, ids: Collection[int]) -> Mapping[int, list[SpeaksFor]]:
    """person id → who speaks, or spoke, for them, in the order in which it was put on record."""
    found: dict[int, list[SpeaksFor]] = defaultdict(list)
    query = select(speaks_for, person.c.code).join(person, person.c.id == speaks_for.c.other_id).where(speaks_for.c.person_id.in_(ids))
    for row in connection.execute(query.order_by(speaks_for.c.id)):
        found[row.person_id].append(SpeaksFor(row.id, row.other_id, row.code, Relation(row.relation), row.from_on, row.until_on, row.papers))
    return found


def add_speaker(
    connection: Connection,
    *,
    person_id: int,
    other_id: int,
    relation: Relation,
    from_on: date,
    by: str,
    at: str,
    until_on: date | None = None,
    papers: str = "",
) -> int:
    """Put on record who speaks for somebody, as what; the newest row of the same two and relation counts. Returns its id.

    `until_on`: the first day on which they no longer do.
    """
    if other_id == person_id:
        raise BadInput("Nobody speaks for themselves as somebody else.", "Name the guardian, heir or deputy.")
    if relation == Relation.NONE:
        raise BadInput("As what they speak is missing.", "Write guardian, heir or deputy.")
    if until_on is not None and until_on <= from_on:
        raise BadInput("It would end before it begins.", "Give a last day on or after the first one.")
    bump_consent(connection)
    return add(
        connection, speaks_for, person_id=person_id, other_id=other_id, relation=relation.value, from_on=from_on, until_on=until_on,
        papers=papers.strip(), by=by, at=at,
    )  # fmt: skip
