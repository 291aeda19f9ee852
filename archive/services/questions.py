"""Saved questions: a question of Find kept by name, for somebody alone or for the team, which says what is new since somebody looked.

A question's words may hold a name, so the team's are for keepers and editors; a reader has own ones alone. What is new is told by the times
of passages: their words are kept nowhere, and what may not be found any more is not told as gone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from typing import Any

from archive.db import questions
from archive.db.search import Unit
from archive.db.session import Connection, Row
from archive.domain.phrases import tag
from archive.domain.stretches import Seen, is_new, merged
from archive.domain.values import Stretch, Viewer
from archive.errors import BadInput, Clash, NotFound, ToldHereError
from archive.gate.reading import Readings
from archive.gate.show import sees_names, show_hits
from archive.render.sanitise import one_line
from archive.rules.questions import parse_query
from archive.services.finding import Finding
from archive.services.list_rows import News, SavedQuestion
from archive.services.rooms import EVERYBODY, Rooms, need
from archive.services.rows import Asked

MOST_NAME, MOST_SAVED, MOST_NEW = 80, 100, 50


class Questions:
    """Saved questions of one archive."""

    def __init__(self, rooms: Rooms, finding: Finding) -> None:
        self._rooms, self._finding = rooms, finding

    def list(self, viewer: Viewer) -> tuple[SavedQuestion, ...]:
        """Every saved question that this viewer may see, each with what is new."""
        need(viewer, *EVERYBODY)
        labels = self._labels(viewer)
        with self._rooms.db.read() as connection:
            rows = questions.saved(connection, viewer.name, sees_names(viewer))
            return tuple(self._row(connection, viewer, r, labels) for r in rows)

    def called(self, viewer: Viewer, name: str) -> SavedQuestion:
        """The saved question of this name; one's own before the team's. Raises NotFound."""
        found = [q for q in self.list(viewer) if q.name.casefold() == one_line(name).casefold()]
        if not found:
            raise NotFound("There is no saved question of this name.", "See them all: toldhere questions list")
        return min(found, key=lambda q: q.team)

    def save(self, viewer: Viewer, key: str, name: str, team: bool = False) -> None:
        """Keep a question of this viewer's by name. What answers it now counts as seen."""
        need(viewer, *EVERYBODY)
        called = one_line(name)
        if not called or len(called) > MOST_NAME:
            raise BadInput(f"A saved question needs a name of {MOST_NAME} letters at most.", "Write what it is for, in a few words.")
        with self._rooms.db.write() as connection:
            row = self._one(connection, viewer, key)
            known = questions.saved(connection, viewer.name, sees_names(viewer))
            if any(r.name.casefold() == called.casefold() and r.id != key for r in known):
                raise Clash("There is a saved question of this name already.", "Choose another name.")
            if len(known) >= MOST_SAVED:
                raise Clash(f"There are {MOST_SAVED} saved questions already.", "Delete one that nobody needs any more.")
            answer = self._finding.every(Readings(connection, self._rooms.context()), viewer, Asked(**row.asked))
            questions.save(connection, key, called, team and sees_names(viewer))
            questions.look(connection, key, viewer.name, _kept(answer), self._rooms.now())

    def look(self, viewer: Viewer, key: str) -> None:
        """Somebody looks: what answers now counts as seen, and `news` tells what of it was new."""
        need(viewer, *EVERYBODY)
        with self._rooms.db.write() as connection:
            row = self._saved(connection, viewer, key)
            answer = self._finding.every(Readings(connection, self._rooms.context()), viewer, Asked(**row.asked))
            questions.look(connection, key, viewer.name, _kept(answer), self._rooms.now())

    def news(self, viewer: Viewer, key: str) -> News:
        """What was new at this viewer's last look, as it may be read now."""
        need(viewer, *EVERYBODY)
        labels = self._labels(viewer)
        with self._rooms.db.read() as connection:
            row = self._saved(connection, viewer, key)
            asked = Asked(**row.asked)
            looked = questions.seen(connection, key, viewer.name)
            every = self._finding.every(Readings(connection, self._rooms.context()), viewer, asked)
            before = _seen(looked.before) if looked is not None else {}
            fresh = [u for u in every if is_new((u.recording_id, u.start_ms, u.end_ms), before)]
            readings = Readings(connection, self._rooms.context())
            units = [(u.id, Stretch(u.recording_id, u.start_ms, u.end_ms)) for u in fresh[:MOST_NEW]]
            hits = show_hits(readings, viewer, units, parse_query(asked.words), {})
            return News(self._row(connection, viewer, row, labels), hits, len(fresh))

    def drop(self, viewer: Viewer, key: str) -> None:
        """Forget a saved question for good, and what was seen of its answers."""
        need(viewer, *EVERYBODY)
        with self._rooms.db.write() as connection:
            self._saved(connection, viewer, key)
            questions.drop(connection, key)

    def _one(self, connection: Connection, viewer: Viewer, key: str) -> Row[Any]:
        row = questions.one_of(connection, key, viewer.name, sees_names(viewer))
        if row is None:
            raise NotFound("This question is no longer kept.", "Ask it again.")
        return row

    def _saved(self, connection: Connection, viewer: Viewer, key: str) -> Row[Any]:
        row = self._one(connection, viewer, key)
        if not row.name:
            raise NotFound("This question is not saved.", "Ask it again and save it under a name.")
        return row

    def _row(self, connection: Connection, viewer: Viewer, row: Row[Any], labels: dict[str, dict[str, str]]) -> SavedQuestion:
        asked = Asked(**row.asked)
        looked = questions.seen(connection, row.id, viewer.name)
        told, at = _told(asked, labels), looked.at if looked is not None else ""
        try:
            answer = self._finding.every(Readings(connection, self._rooms.context()), viewer, asked)
        except ToldHereError as refused:  # its place or theme is called otherwise by now: the question stays, to be looked at by a person
            return SavedQuestion(row.id, row.name, bool(row.team), row.account, asked, told, 0, -1, at, refused.message)
        seen = _seen(looked.seen) if looked is not None else {}
        new = sum(is_new((u.recording_id, u.start_ms, u.end_ms), seen) for u in answer)
        return SavedQuestion(row.id, row.name, bool(row.team), row.account, asked, told, len(answer), new, at)

    def _labels(self, viewer: Viewer) -> dict[str, dict[str, str]]:
        return {name: dict(values) for name, values in self._finding.choices(viewer).items()}


def _kept(answer: Sequence[Unit]) -> dict[str, list[list[int]]]:
    found = merged((u.recording_id, u.start_ms, u.end_ms) for u in answer)
    return {str(recording): [list(piece) for piece in pieces] for recording, pieces in found.items()}


def _seen(kept: dict[str, list[list[int]]]) -> Seen:
    return {int(recording): [(start_ms, end_ms) for start_ms, end_ms in pieces] for recording, pieces in kept.items()}


def _told(asked: Asked, labels: dict[str, dict[str, str]]) -> str:
    """A question in words: “flood”, place Net Row, 1960s, speaker Maud Ellery, allowed for exhibition."""
    parts = [f"“{asked.words}”"] if asked.words else []
    parts += [f"place {asked.place}"] if asked.place else []
    parts += [tag("decade", asked.decade.rstrip("s"))] if asked.decade else []
    parts += [f"theme {asked.theme}"] if asked.theme else []
    parts += [f"speaker {labels['speakers'].get(asked.speaker, asked.speaker)}"] if asked.speaker else []
    parts += [f"allowed for {labels['uses'].get(asked.usable_for, asked.usable_for)}"] if asked.usable_for else []
    known = {"words", "place", "decade", "theme", "speaker", "usable_for"}
    parts += [f"{f.name.replace('_', ' ')} {value}" for f in fields(asked) if f.name not in known and (value := getattr(asked, f.name)) != f.default]
    return ", ".join(parts) or "everything"
