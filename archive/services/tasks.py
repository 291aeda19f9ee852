"""What only people can do once something may not be used any more, to be ticked; and where what left hangs, plays or lies."""

from __future__ import annotations

from datetime import date
from pathlib import PurePath

from archive.db import audit, excerpts, tasks
from archive.db.session import Connection
from archive.domain.phrases import day
from archive.domain.values import Role, Viewer
from archive.errors import BadInput, Clash, NotFound
from archive.services.ending_rows import TaskRow
from archive.services.reaching import codes_beyond
from archive.services.rooms import EDITORS, Rooms, need

MOST_WHERE, MOST_NOTE = 200, 400


class Tasks:
    """Tasks of one archive, and the places where things of it stand."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms

    def list(self, viewer: Viewer, done: bool = False) -> tuple[TaskRow, ...]:
        """Tasks that wait, or those that were ticked; the newest first. Whose hold made one is told to keepers alone."""
        need(viewer, *EDITORS)
        all_told = viewer.role == Role.KEEPER
        with self._rooms.db.read() as connection:
            files: dict[int, tuple[str, ...]] = {}
            found = []
            beyond = codes_beyond(connection, viewer)
            for row in tasks.everything(connection, done):
                if row.person_code in beyond:
                    continue
                if row.export_id is not None and row.export_id not in files:
                    files[row.export_id] = tuple(f.name for f in excerpts.files(connection, row.export_id))
                ticked = f"by {row.done_by} on {day(row.done_at)}" if row.done_at else ""
                found.append(
                    TaskRow(
                        row.id, row.kind, row.what, row.where or "", row.export_code or "", files.get(row.export_id, ()),
                        (row.person_code or "") if all_told else "", (row.restraint_id or 0) if all_told else 0, row.at[:10], ticked, row.note,
                    )
                )  # fmt: skip
            return tuple(found)

    def tick(self, viewer: Viewer, number: int, note: str = "") -> None:
        """Say that it was done, and how. What was to be taken down does not stand there any more. Raises Clash where it was ticked, NotFound."""
        need(viewer, *EDITORS)
        if len(note) > MOST_NOTE:
            raise BadInput(f"A note has at most {MOST_NOTE} letters. Nothing was changed.", "Make it shorter.")
        with self._rooms.db.write() as connection:
            row = tasks.by_id(connection, number)
            if row is None:
                raise NotFound("There is no such task.", "See the list of tasks.")
            if not tasks.tick(connection, number, note.strip(), viewer.name, self._rooms.now()):
                raise Clash("This task was ticked already. Nothing was changed.", "See the list of tasks.")
            if row.placement_id is not None:
                tasks.take_down(connection, row.placement_id, self._rooms.today())
            audit.record(connection, viewer.name, "task done", f"task {number}", self._rooms.now(), export=row.export_id)

    # -- where it stands -----------------------------------------------------------------------------------------
    def place(self, viewer: Viewer, export: str, file: str, where: str, up_on: date | None = None) -> int:
        """Write down where a file of an export hangs, plays or lies; returns the number of the place. Raises NotFound, BadInput."""
        need(viewer, *EDITORS)
        where = " ".join(where.split())
        if not where or len(where) > MOST_WHERE:
            raise BadInput(f"Say where it stands, in at most {MOST_WHERE} letters. Nothing was changed.", "For example: gallery 2, panel 3.")
        with self._rooms.db.write() as connection:
            number = tasks.place(connection, self._file(connection, export, file), where, up_on, viewer.name, self._rooms.now())
            audit.record(connection, viewer.name, "placed", f"placement {number}", self._rooms.now(), export=export)
        return number

    def take_down(self, viewer: Viewer, number: int) -> None:
        """Say that something does not stand there any more. Raises NotFound."""
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            if not tasks.take_down(connection, number, self._rooms.today()):
                raise NotFound("Nothing stands under that number.", "See the register of what went out.")
            audit.record(connection, viewer.name, "taken down", f"placement {number}", self._rooms.now())

    def _file(self, connection: Connection, export: str, name: str) -> int:
        row = excerpts.export_by_code(connection, export)
        found = [f for f in excerpts.files(connection, row.id) if name in (f.name, PurePath(f.name).name)] if row is not None else []
        if len(found) != 1:
            raise NotFound("There is no such file in the register.", "Name the export and its file as the register lists them.")
        return int(found[0].id)
