"""What may be offered as near in meaning: asked live, with the same filters and the same consent as the exact hits, and none of these."""

from __future__ import annotations

import json
from collections.abc import Collection, Sequence

from sqlalchemy import Connection, column, func, literal_column, not_, select, table

from archive.db import search
from archive.db.search import Filters, Unit
from archive.db.tables import find_unit
from archive.db.twins import Twin, twins
from archive.rules.analysis import Everything, Phrase, Prefix, Query, Term

_fts = table("find_fts", column("rowid"))


def open_units(
    connection: Connection, query: Query, left_out: Sequence[Query], filters: Filters, among: Collection[int] | None = None
) -> set[int]:  # fmt: skip
    """Ids of units that this viewer may find under these filters and that are neither hits of the question nor what it leaves out;
    all of them, or those `among` these."""
    wanted = search.units_under(Everything(), filters).where(not_(search.said(query, filters.wording)))
    for part in left_out:
        wanted = wanted.where(not_(search.said(part, filters.wording)))
    if among is not None:
        asked = select(func.json_each(json.dumps(sorted(among))).table_valued("value").c.value)
        wanted = wanted.where(find_unit.c.id.in_(asked))
    return {int(row.id) for row in connection.execute(wanted)}


def by_words(connection: Connection, parts: Sequence[Term | Phrase | Prefix], wording: str, most: int) -> list[int]:
    """Units in which any of these is said, best first (BM25). Who may find them is not asked here."""
    if not parts:
        return []
    said = " OR ".join(f"({search.leaf(part, wording)})" for part in parts)
    match = literal_column("find_fts").op("MATCH")(said)
    return list(connection.execute(select(_fts.c.rowid).where(match).order_by(literal_column("find_fts.rank")).limit(most)).scalars())


def stretches(connection: Connection, ids: Sequence[int]) -> tuple[list[Unit], dict[int, tuple[Twin, ...]]]:
    """Where these units lie, in the order of the ids, and which of them several microphones have."""
    asked = select(func.json_each(json.dumps(ids)).table_valued("value").c.value)
    rows = connection.execute(select(find_unit).where(find_unit.c.id.in_(asked)))
    units = {r.id: Unit(r.id, r.recording_id, r.start_ms, r.end_ms) for r in rows}
    ordered = [units[unit_id] for unit_id in ids]
    return ordered, twins(connection, asked, [(u.id, u.recording_id, u.start_ms, u.end_ms) for u in ordered])
