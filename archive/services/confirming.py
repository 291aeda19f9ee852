"""Confirming: suggestions decided one after another, or the same evidence once for all; every decision of the hour can be taken back."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from archive.db import audit, consent_rows, deciding, describing, gazetteer, reach, recordings, uses
from archive.db.session import Connection, Row
from archive.domain.cleared import ShownEvidence, ShownTag
from archive.domain.dates import validate
from archive.domain.values import Viewer
from archive.errors import BadInput, Clash, NotFound
from archive.gate.evidence import chosen, seen, show_decided, show_evidence
from archive.gate.indexing import index_tags
from archive.gate.reading import Readings
from archive.services.rooms import EDITORS, Rooms, need

ORDERS = deciding.ORDERS
KINDS = ("place", "date", "theme")
MOST = 500  # suggestions whose order is reckoned at once
MOST_ALIKE = 200
MOST_TOLD = 60  # decisions of the hour
_HOUR = timedelta(hours=1)


@dataclass(frozen=True, slots=True)
class Picked:
    """A suggestion as it was shown (`ShownEvidence.seen`)."""

    tag_id: int
    seen: str


@dataclass(frozen=True, slots=True)
class DecidedRow:
    """What somebody decided in one go within the last hour. `tags`: what of it this viewer may read."""

    press: str
    state: str
    by: str
    at: str
    number: int
    recording: str
    tag: ShownTag
    said: bool  # another value, said by a person


@dataclass(frozen=True, slots=True)
class ConfirmPage:
    """The suggestion to decide (None: nothing waits), which is next, how many wait, how many words alike wait elsewhere, and the hour."""

    one: ShownEvidence | None
    next_id: int
    waiting: int
    alike: int
    values: tuple[str, ...]  # what may be said instead of a place or theme
    decided: tuple[DecidedRow, ...]
    mine: int  # suggestions that this viewer decided within the hour


class Confirming:
    """Suggestions of one archive, decided by persons."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms

    def page(self, viewer: Viewer, order: str = "needed", kind: str = "", recording: str = "", at: int = 0) -> ConfirmPage:
        """One suggestion to decide: that of the number `at` where it waits, else the first in this order (`ORDERS`)."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            readings = Readings(connection, self._rooms.context())
            may_read, recording_id = self._asked(connection, viewer, order, kind, recording)
            ids = deciding.waiting(connection, may_read, order, MOST, kind, recording_id, chosen(connection))
            first = ids.index(at) if at in ids else 0
            rows = deciding.named(connection, ids[first:])
            for n, tag_id in enumerate(ids[first:], first):
                shown = show_evidence(readings, viewer, [rows[tag_id]], whole=True)
                if shown:
                    alike = len(deciding.alike(connection, rows[tag_id], may_read, MOST_ALIKE)) - 1
                    following = ids[n + 1] if n + 1 < len(ids) else 0
                    break
            else:
                shown, alike, following = (), 0, 0
            decided = self._decided(connection, readings, viewer)
            return ConfirmPage(
                shown[0] if shown else None, following, deciding.count_waiting(connection, may_read, kind, recording_id), alike,
                self._values(connection, shown[0].tag.kind) if shown else (), decided, sum(d.number for d in decided if d.by == viewer.name),
            )  # fmt: skip

    def waiting(self, viewer: Viewer, order: str = "needed", kind: str = "", recording: str = "", most: int = 50) -> tuple[tuple[ShownEvidence, ...], int]:
        """The first suggestions that wait in this order, and how many do."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            may_read, recording_id = self._asked(connection, viewer, order, kind, recording)
            ids = deciding.waiting(connection, may_read, order, most, kind, recording_id, chosen(connection))
            rows = deciding.named(connection, ids)
            shown = show_evidence(Readings(connection, self._rooms.context()), viewer, [rows[n] for n in ids])
            return shown, deciding.count_waiting(connection, may_read, kind, recording_id)

    def alike(self, viewer: Viewer, tag_id: int) -> tuple[ShownEvidence, ...]:
        """Every suggestion that waits and says the same of the same words as this one, which comes first, each with its words and sound."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            one = describing.tag_by_id(connection, tag_id)
            may_read, _ = self._asked(connection, viewer, "needed", "", "")
            found = deciding.alike(connection, one, may_read, MOST_ALIKE) if one is not None else []
            shown = show_evidence(Readings(connection, self._rooms.context()), viewer, found)
            if not shown:
                raise NotFound("There is no such suggestion that waits.", "Somebody decided it meanwhile; go on with the next.")
            return shown

    def decide(self, viewer: Viewer, picked: Sequence[Picked], state: str) -> str:
        """Confirm or reject exactly these as they were shown, all or none; returns the key by which it is taken back."""
        need(viewer, *EDITORS)
        if state not in ("confirmed", "rejected"):
            raise BadInput("A suggestion can be confirmed or rejected.")
        return self._press(viewer, picked, state, "")

    def say(self, viewer: Viewer, picked: Picked, value: str) -> str:
        """Reject a suggestion and confirm another value of its kind of the same words; returns the key by which it is taken back."""
        return self._press(viewer, [picked], "rejected", " ".join(value.split()))

    def undo(self, viewer: Viewer, press: str = "") -> int:
        """Take one decision back (its key), or the newest one of this viewer within the hour. Returns how many suggestions wait again."""
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            rows = [r for r in deciding.since(connection, self._hour_ago(), MOST) if r.press == press or not press and r.decided_by_whom == viewer.name]
            if not rows:
                raise NotFound("There is nothing of the last hour to take back.", "On the recording's page any decision can be taken back.")
            key = rows[0].press
            shown = [r for r in rows if r.press == key]
            touched = deciding.undo(connection, key)
            if touched is None:
                raise Clash("It was decided again since; nothing was changed.", "Take the newer decision back first.")
            for recording_id in touched:
                index_tags(connection, recording_id, self._rooms.context())
            number = sum(not r.made for r in shown)
            audit.record(connection, viewer.name, "tag decisions undone", f"tag {shown[-1].id}", self._rooms.now(), tags=[r.id for r in shown])
            return number

    def _press(self, viewer: Viewer, picked: Sequence[Picked], state: str, value: str) -> str:
        need(viewer, *EDITORS)
        if not picked:
            raise BadInput("Nothing was chosen; nothing was changed.")
        press, now = secrets.token_hex(12), self._rooms.now()
        with self._rooms.db.write() as connection:
            rows = self._as_shown(connection, viewer, picked)
            if value:
                value = self._checked(connection, rows[0].kind, value)
                if value == rows[0].value:
                    raise BadInput("That is what is suggested already.", "Confirm it, or say something else.")
            deciding.decide(connection, rows, state, press, viewer.name, now)
            other = deciding.same_stretch(connection, rows[0], value) if value else None
            if other is not None:
                deciding.decide(connection, [other], "confirmed", press, viewer.name, now)
            elif value:
                deciding.say(connection, rows[0], value, press, viewer.name, now)
            for recording_id in sorted({r.recording_id for r in rows}):
                index_tags(connection, recording_id, self._rooms.context())
            action = "tag said otherwise" if value else f"tag {state}"
            audit.record(connection, viewer.name, action, f"tag {rows[0].id}", now, kind=rows[0].kind, tags=[r.id for r in rows])
        return press

    def _as_shown(self, connection: Connection, viewer: Viewer, picked: Sequence[Picked]) -> list[Row[Any]]:
        """The rows of what was picked, each as it was shown and as this viewer may read it; all or none."""
        rows = deciding.named(connection, [p.tag_id for p in picked])
        wanted = list(dict.fromkeys(picked))
        same = [p for p in wanted if p.tag_id in rows and seen(rows[p.tag_id]) == p.seen]
        shown = show_evidence(Readings(connection, self._rooms.context()), viewer, [rows[p.tag_id] for p in same])
        if len(shown) != len(wanted):
            raise Clash("One of these is not as it was shown to you: somebody decided it meanwhile, or its words changed. Nothing was changed.", "Load the page again.")
        return [rows[p.tag_id] for p in wanted]

    def _checked(self, connection: Connection, kind: str, value: str) -> str:
        """Another value of a kind as it is on record."""
        if kind == "date":
            return validate(value)
        known = {name.casefold(): name for name in self._values(connection, kind)}
        if value.casefold() not in known:
            raise BadInput(f"There is no such {kind} on record.", f"Choose one of the list, or add the {kind} first.")
        return known[value.casefold()]

    def _values(self, connection: Connection, kind: str) -> tuple[str, ...]:
        if kind == "date":
            return ()
        return tuple(str(r.name) for r in (gazetteer.places if kind == "place" else describing.themes)(connection))

    def _decided(self, connection: Connection, readings: Readings, viewer: Viewer) -> tuple[DecidedRow, ...]:
        """What was decided within the hour, newest first, a row a press; of what this viewer may read."""
        presses: dict[str, list[Row[Any]]] = {}
        for row in deciding.since(connection, self._hour_ago(), MOST):
            presses.setdefault(row.press, []).append(row)
        found = []
        for press, rows in list(presses.items())[:MOST_TOLD]:
            row = rows[0]  # of another value said by a person that value
            tag = show_decided(readings, viewer, row)
            if tag is not None:
                code = recordings.by_id(connection, row.recording_id).code
                number = sum(not r.made for r in rows)
                found.append(DecidedRow(press, row.now, row.decided_by_whom, row.decided_when, number, code, tag, len({r.now for r in rows}) > 1))
        return tuple(found)

    def _hour_ago(self) -> str:
        return (datetime.fromisoformat(self._rooms.now()) - _HOUR).isoformat()

    def _asked(self, connection: Connection, viewer: Viewer, order: str, kind: str, recording: str) -> tuple[Any, int | None]:
        """(What the team may read today, as SQL; the recording)."""
        if order not in ORDERS or kind not in ("", *KINDS):
            raise BadInput("Suggestions can be put in no such order.", f"Orders: {', '.join(ORDERS)}; kinds: {', '.join(KINDS)}.")
        recording_id = recordings.named(connection, recording).id if recording else None
        limit = reach.of(connection, viewer)
        team = uses.every_use(connection)["team"]
        policy = consent_rows.load_policy(connection, self._rooms.options.cooling_off_days)
        return deciding.open_to(team, self._rooms.today(), self._rooms.options.exhibition, policy, limit), recording_id
