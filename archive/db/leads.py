"""What may be offered as near in meaning: ranked by words, and where it lies. Who may find it: search.may_be_leads, asked each time."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import Connection, column, literal_column, select, table

from archive.db import search
from archive.db.columns import Mask
from archive.db.search import Unit
from archive.db.tables import find_unit
from archive.db.twins import Twin, twins
from archive.rules.questions import Or, Query

_fts = table("find_fts", column("rowid"))


def by_words(connection: Connection, parts: Sequence[Query], wording: str, most: int) -> list[int]:
    """Units in which any of these is said, best first (BM25). Who may find them is not asked here."""
    said = search.match_of(Or(tuple(parts)), wording) if parts else ""
    if not said:
        return []
    match = literal_column("find_fts").op("MATCH")(said)
    return list(connection.execute(select(_fts.c.rowid).where(match).order_by(literal_column("find_fts.rank")).limit(most)).scalars())


def stretches(connection: Connection, ids: Sequence[int], may_be: Mask) -> tuple[list[Unit], dict[int, tuple[Twin, ...]]]:
    """Where these units lie, in the order of the ids, and which of them several microphones have. `may_be`: what may be leads, by id."""
    rows = connection.execute(select(find_unit).where(find_unit.c.id.in_(ids)))
    units = {r.id: Unit(r.id, r.recording_id, r.start_ms, r.end_ms) for r in rows}
    ordered = [units[unit_id] for unit_id in ids]
    these = may_be & False
    these[list(ids)] = True
    return ordered, twins(connection, these, [(u.id, u.recording_id, u.start_ms, u.end_ms) for u in ordered])
