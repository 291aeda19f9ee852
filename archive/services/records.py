"""What is on record, and whether the archive is whole."""

from __future__ import annotations

import json
from pathlib import Path

from archive.db import audit, units
from archive.domain.phrases import begin, many
from archive.domain.values import Viewer
from archive.errors import BadInput, Clash
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

    def check_log(self, viewer: Viewer) -> tuple[tuple[str, ...], str]:
        """(faults of the log, verified from its first entry; how much was verified, in words)."""
        need(viewer, *KEEPER)
        with self._rooms.db.read() as connection:
            faults, (entries, bare) = audit.verify(connection), audit.count(connection)
        details = f"; of {many(bare, 'entry', 'entries')} the details were erased, which changes nothing in the chain" if bare else ""
        return tuple(faults), f"{begin(many(entries, 'entry', 'entries'))} verified, from the first on{details}."

    def write_log(self, viewer: Viewer, path: Path) -> int:
        """Write the whole log to a new file, a JSON object a line, with all that is needed to verify it elsewhere; returns how many.

        Each entry's checksum is SHA-256 of the JSON list [previous, actor, action, subject, at, commitment] as Python writes it without
        escapes; its commitment that of salt and detail (sorted keys, no spaces). Raises Clash, BadInput.
        """
        need(viewer, *KEEPER)
        with self._rooms.db.write() as connection:
            audit.record(connection, viewer.name, "log written out", "log", self._rooms.now())
            lines = [json.dumps(entry, ensure_ascii=False) for entry in audit.whole(connection)]
        try:
            with open(path, "x", encoding="utf-8") as stream:
                stream.write("\n".join(lines) + "\n")
        except FileExistsError:
            raise Clash("There is a file of this name already.", "Name another one.") from None
        except OSError:
            raise BadInput("The file cannot be written there.", "Name another place.") from None
        return len(lines)

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
