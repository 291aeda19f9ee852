"""Lists: working trays of stretches, kept from answers of Find, put in an order, used by the exhibition. They hold no words.

A list is the team's (keepers and editors), or somebody's own: a reader has own ones alone. What is deleted or taken off can be put back
for a month.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, timedelta
from typing import Any

from archive.db import excerpts, lists, recordings
from archive.db.session import Connection, Row
from archive.domain.values import Stretch, Viewer
from archive.errors import BadInput, Clash, NotFound
from archive.gate.pinned import Pinned
from archive.gate.reading import Readings
from archive.gate.show import sees_names
from archive.gate.show_kept import show_passages
from archive.render.sanitise import one_line, printable
from archive.services.list_rows import ItemRow, ListPage, ListRow
from archive.services.rooms import EVERYBODY, Rooms, need

MOST_NAME, MOST_NOTE, MOST_LISTS, MOST_ITEMS = 80, 1000, 200, 500
KEPT_DAYS = 30


class Lists:
    """Lists of one archive. They are named by their number, so that no name stands in an address."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms

    def list(self, viewer: Viewer, deleted: bool = False) -> tuple[ListRow, ...]:
        """Every list that this viewer may see: the team's for keepers and editors, and their own."""
        need(viewer, *EVERYBODY)
        with self._rooms.db.read() as connection:
            return tuple(_row(r, r.items) for r in lists.everything(connection, viewer.name, sees_names(viewer), deleted))

    def called(self, viewer: Viewer, name: str) -> int:
        """The number of a list that somebody names by it or by its name; one's own before the team's. Raises NotFound."""
        wanted = one_line(name).casefold()
        found = [r for deleted in (False, True) for r in self.list(viewer, deleted) if wanted in (r.name.casefold(), str(r.id))]
        if not found:
            raise NotFound("There is no such list.", "See them all: toldhere lists list")
        return min(found, key=lambda r: r.team).id

    def page(self, viewer: Viewer, list_id: int) -> ListPage:
        """A list with what this viewer may read of it today. Raises NotFound."""
        need(viewer, *EVERYBODY)
        with self._rooms.db.read() as connection:
            row = self._one(connection, viewer, list_id)
            readings = Readings(connection, self._rooms.context())
            items = self._shown(readings, viewer, lists.items(connection, list_id))
            off = self._shown(readings, viewer, lists.items(connection, list_id, taken_off=True))
        return ListPage(_row(row, len(items)), items, off, row.deleted_at is not None)

    def holding(self, viewer: Viewer, hits: Sequence[tuple[int, str, int, int]]) -> dict[int, tuple[str, ...]]:
        """key → names of this viewer's lists that have something of it, for each (key, recording, start_ms, end_ms)."""
        need(viewer, *EVERYBODY)
        with self._rooms.db.read() as connection:
            names = {r.id: r.name for r in lists.everything(connection, viewer.name, sees_names(viewer))}
            ids = {code: row.id for _, code, *_ in hits if (row := recordings.by_code(connection, code)) is not None}
            kept = lists.holding(connection, names, ids.values()) if names and ids else []
        found: dict[int, tuple[str, ...]] = {}
        for key, code, start_ms, end_ms in hits:
            here = [names[k.list_id] for k in kept if k.recording_id == ids.get(code) and k.start_ms < end_ms and start_ms < k.end_ms]
            if here:
                found[key] = tuple(dict.fromkeys(here))
        return found

    def used_last(self, viewer: Viewer) -> int:
        """The number of the list into which this viewer kept something last; 0 where there is none."""
        need(viewer, *EVERYBODY)
        with self._rooms.db.read() as connection:
            return lists.newest_used(connection, viewer.name) or 0

    # -- writing -----------------------------------------------------------------------------------------------
    def make(self, viewer: Viewer, name: str, own: bool = False) -> int:
        """A new list; `own`: for this viewer alone, as a reader's always is. Returns its number."""
        need(viewer, *EVERYBODY)
        called = _name(name)
        account = viewer.name if own or not sees_names(viewer) else lists.TEAM
        with self._rooms.db.write() as connection:
            lists.clear(connection, self._month_ago())
            known = lists.everything(connection, viewer.name, sees_names(viewer))
            if any(r.name.casefold() == called.casefold() and r.account == account for r in known):
                raise Clash("There is a list of this name already.", "Keep into that one, or choose another name.")
            if len(known) >= MOST_LISTS:
                raise Clash(f"There are {MOST_LISTS} lists already.", "Delete one that nobody needs any more.")
            return lists.make(connection, called, account, viewer.name, self._rooms.now())

    def keep(self, viewer: Viewer, list_id: int, recording: str, start_ms: int, end_ms: int, note: str = "") -> bool:
        """Keep a stretch at the end of a list; False where exactly it is there already. Raises NotFound, BadInput."""
        need(viewer, *EVERYBODY)
        told = _note(note)
        with self._rooms.db.write() as connection:
            lists.clear(connection, self._month_ago())
            self._open(connection, viewer, list_id)
            found = recordings.named(connection, recording)
            stretch = Stretch(found.id, start_ms, end_ms)
            if end_ms > found.duration_ms:
                raise BadInput("The recording is shorter than that.", "Keep it from an answer of Find once more.")
            known = lists.items(connection, list_id)
            if any((r.recording_id, r.start_ms, r.end_ms) == (stretch.recording_id, start_ms, end_ms) for r in known):
                return False
            if len(known) >= MOST_ITEMS:
                raise Clash(f"There are {MOST_ITEMS} passages in this list already.", "Begin another one.")
            lists.put(connection, list_id, stretch, told, viewer.name, self._rooms.now())
        return True

    def rename(self, viewer: Viewer, list_id: int, name: str) -> None:
        """Another name for a list."""
        called = _name(name)
        with self._rooms.db.write() as connection:
            self._open(connection, viewer, list_id)
            lists.change(connection, list_id, name=called)

    def delete(self, viewer: Viewer, list_id: int) -> None:
        """Take a whole list away; it can be put back for a month."""
        with self._rooms.db.write() as connection:
            self._open(connection, viewer, list_id)
            lists.change(connection, list_id, deleted_at=self._rooms.now())

    def put_back(self, viewer: Viewer, list_id: int) -> None:
        """A list that was deleted is there again."""
        with self._rooms.db.write() as connection:
            self._one(connection, viewer, list_id)
            lists.change(connection, list_id, deleted_at=None)

    def write_note(self, viewer: Viewer, item_id: int, note: str) -> int:
        """What is noted beside an item. One that is not available keeps the note that nobody sees. Returns its list's number, as all of these."""
        told = _note(note)
        with self._rooms.db.write() as connection:
            row = self._item(connection, viewer, item_id)
            readings = Readings(connection, self._rooms.context())
            if self._shown(readings, viewer, [row])[0].shown is None:
                raise Clash("This passage is not available today; its note stays as it is.")
            lists.change_item(connection, item_id, note=told)
        return int(row.list_id)

    def move(self, viewer: Viewer, item_id: int, by: int) -> int:
        """Move an item up (by -1) or down (1), as far as the list goes."""
        with self._rooms.db.write() as connection:
            row = self._item(connection, viewer, item_id)
            order = [r.id for r in lists.items(connection, row.list_id)]
            if item_id in order:
                at = order.index(item_id)
                order.insert(min(max(at + by, 0), len(order) - 1), order.pop(at))
                lists.order(connection, order)
        return int(row.list_id)

    def take_off(self, viewer: Viewer, item_id: int) -> int:
        """Take an item off its list; it can be put back for a month."""
        return self._off(viewer, item_id, self._rooms.now())

    def put_item_back(self, viewer: Viewer, item_id: int) -> int:
        """An item that was taken off is where it was."""
        return self._off(viewer, item_id, None)

    def _off(self, viewer: Viewer, item_id: int, at: str | None) -> int:
        with self._rooms.db.write() as connection:
            row = self._item(connection, viewer, item_id)
            lists.change_item(connection, item_id, taken_off_at=at)
        return int(row.list_id)

    # -- what is whose -----------------------------------------------------------------------------------------
    def _one(self, connection: Connection, viewer: Viewer, list_id: int) -> Row[Any]:
        """The list, for who may see it: a reader is not told that the team has one."""
        need(viewer, *EVERYBODY)
        row = lists.one_of(connection, list_id, viewer.name, sees_names(viewer))
        if row is None:
            raise NotFound("There is no such list.", "See the lists under Find.")
        return row

    def _open(self, connection: Connection, viewer: Viewer, list_id: int) -> Row[Any]:
        row = self._one(connection, viewer, list_id)
        if row.deleted_at is not None:
            raise Clash("This list was deleted.", "Put it back first.")
        return row

    def _item(self, connection: Connection, viewer: Viewer, item_id: int) -> Row[Any]:
        need(viewer, *EVERYBODY)
        row = lists.item(connection, item_id)
        if row is None or lists.one_of(connection, row.list_id, viewer.name, sees_names(viewer)) is None:
            raise NotFound("There is no such passage in a list.", "Load the list again.")
        return row

    def _shown(self, readings: Readings, viewer: Viewer, rows: Iterable[Row[Any]]) -> tuple[ItemRow, ...]:
        kept = list(rows)
        stretches = [Stretch(r.recording_id, r.start_ms, r.end_ms) for r in kept]
        shown = show_passages(readings, viewer, stretches, self._rooms.options.doubtful_below)
        chosen = self._chosen(readings, {s.recording_id for s in stretches}) if sees_names(viewer) else {}
        return tuple(
            ItemRow(
                r.id, passage, r.note if passage is not None else "", r.by, r.at,
                tuple(code for code, own in chosen.items() if own.overlaps(stretch)) if passage is not None else (),
            )
            for r, stretch, passage in zip(kept, stretches, shown, strict=True)
        )  # fmt: skip

    def _chosen(self, readings: Readings, recording_ids: set[int]) -> Mapping[str, Stretch]:
        """Where the excerpts lie that were chosen from these recordings."""
        rows = [r for r in excerpts.chosen(readings.connection) if r.recording_id in recording_ids]
        return {r.code: Stretch(r.recording_id, *Pinned(readings, r).times()) for r in rows}

    def _month_ago(self) -> str:
        return (self._rooms.clock() - timedelta(days=KEPT_DAYS)).astimezone(UTC).isoformat(timespec="seconds")


def _row(row: Row[Any], items: int) -> ListRow:
    return ListRow(row.id, row.name, items, row.account == lists.TEAM, row.by, row.at)


def _name(name: str) -> str:
    called = one_line(name)
    if not called:
        raise BadInput("A list needs a name.", "Write what it is for, in a few words.")
    if len(called) > MOST_NAME:
        raise BadInput(f"The name of a list has {MOST_NAME} letters at most.", "Write a shorter one; what is longer can stand as a note.")
    return called


def _note(note: str) -> str:
    told = printable(note).strip()
    if len(told) > MOST_NOTE:
        raise BadInput(f"A note has {MOST_NOTE:,} letters at most; nothing was changed.", "Write less.")
    return told
