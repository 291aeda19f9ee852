"""What is on record, and whether the archive is whole."""

from __future__ import annotations

from archive.db import audit, units
from archive.domain.values import Viewer
from archive.services.copies import Copies
from archive.services.papers import Papers
from archive.services.rooms import EDITORS, KEEPER, Rooms, need
from archive.services.rows import RecordRow


class Records:
    """The audit record and the checks of one archive."""

    def __init__(self, rooms: Rooms, copies: Copies, papers: Papers) -> None:
        self._rooms, self._copies, self._papers = rooms, copies, papers

    def list(self, viewer: Viewer, limit: int = 100) -> tuple[RecordRow, ...]:
        """The newest entries first."""
        need(viewer, *KEEPER)
        with self._rooms.db.read() as connection:
            rows = audit.entries(connection, limit)
        return tuple(RecordRow(r.id, r.at, r.actor, r.action, r.subject, r.detail or {}) for r in rows)

    def newest(self, viewer: Viewer) -> tuple[int, str]:
        """(number, checksum) of the newest entry of the log, to be noted down outside the archive."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            return audit.newest(connection)

    def check(self, viewer: Viewer, fixity: bool = False, noted: str = "") -> tuple[str, ...]:
        """Faults of the audit chain and the index, scans of signed papers that are missing, and with `fixity` those and every master and its second copy read again; empty when all is whole.

        `noted`: the checksum of an entry that somebody noted down; where the log has it no more, its end was cut off.
        """
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:  # FTS5's own check is written as an insert
            faults = [*audit.verify(connection), *units.index_faults(connection)]
            if noted and not audit.holds(connection, noted.strip().rstrip("…")):
                faults.append("The log has no entry with the checksum that you noted down. Its end was cut off, or this is another archive.")
        return (*faults, *self._papers.faults(fixity), *(self._copies.check(viewer).faults if fixity else ()))
