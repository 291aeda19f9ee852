"""The archive's own list of uses."""

from __future__ import annotations

from sqlalchemy import Connection, select

from archive.db.rows import add, one
from archive.db.tables import use
from archive.domain.values import USES, Use


def every_use(connection: Connection) -> dict[str, Use]:
    """code → use, in the order they were added."""
    rows = connection.execute(select(use))
    order = {u.code: n for n, u in enumerate(USES)}
    found = sorted(rows, key=lambda r: (order.get(r.code, len(order)), r.code))
    own = {u.code: u.label for u in USES}  # our own words for our own uses, also in an archive made before they were these
    return {r.code: Use(r.code, own.get(r.code, r.label), r.inward) for r in found}


def add_use(connection: Connection, item: Use) -> None:
    """Add one of the archive's own. What nobody was asked about nobody allows."""
    add(connection, use, code=item.code, label=item.label, inward=item.inward)


def start(connection: Connection) -> None:
    """Fill the list with what DESIGN §5 names, where it is not there yet."""
    for item in USES:
        if one(connection, use, code=item.code) is None:
            add_use(connection, item)
