"""Find: a question, its answers with live consent, counts beside the facets; kept questions under random ids."""

from __future__ import annotations

import secrets
from dataclasses import asdict, replace

from archive.db import accounts, consent_rows, describing, people, search, themes, uses
from archive.db.session import Connection
from archive.domain.cleared import ShownFound
from archive.domain.values import Stretch, Viewer, Way
from archive.errors import BadInput, NotFound
from archive.gate.places import show_gazetteer
from archive.gate.reading import Kept, Readings
from archive.gate.show import found, sees_names, show_hits, speaker_choices
from archive.rules.analysis import parse_query
from archive.rules.thesaurus import meant, preferred
from archive.services.grounds import Ground
from archive.services.rooms import EVERYBODY, Rooms, need
from archive.services.rows import Asked


class Finding:
    """Questions to one archive."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms
        self._kept = Kept()

    def ask(self, viewer: Viewer, asked: Asked, limit: int = 20, offset: int = 0) -> ShownFound:
        """Answer one question. What the use “team” does not allow today is not there; nor is what is hidden from this role."""
        need(viewer, *EVERYBODY)
        query = parse_query(asked.words)
        with self._rooms.db.read() as connection:
            filters = self.filters(connection, viewer, asked)
            answer = search.find(connection, query, filters, max(1, min(limit, 200)), max(0, offset))
            readings = Readings(connection, self._rooms.context(), self._kept)
            usable = (asked.usable_for,) if asked.usable_for else ()
            units = [(u.id, Stretch(u.recording_id, u.start_ms, u.end_ms)) for u in answer.units]
            hits = show_hits(readings, viewer, units, query, usable, answer.twins)
            return found(readings, viewer, hits, answer.total, answer.facets)

    def filters(self, connection: Connection, viewer: Viewer, asked: Asked) -> search.Filters:
        """What narrows a question, for leads too. Raises BadInput, NotFound for what is none."""
        list_of_uses = uses.every_use(connection)
        usable = None
        if asked.usable_for:
            if asked.usable_for not in list_of_uses:
                raise BadInput("What was asked for as a use is no use of this archive.", f"Use one of: {', '.join(list_of_uses)}.")
            try:
                usable = (list_of_uses[asked.usable_for], Way(asked.way))
            except ValueError:
                raise BadInput("What was asked for as a way is no way of use.", f"Use one of: {', '.join(Way)}.") from None
        if asked.decade and not (len(asked.decade.rstrip("s")) == 4 and asked.decade.rstrip("s").isdigit()):
            raise BadInput("What was asked for as a decade is none.", "Write it as 1960.")
        return search.Filters(
            wording="full" if sees_names(viewer) else "shown", on=self._rooms.today(),
            exhibition=self._rooms.options.exhibition, policy=consent_rows.load_policy(connection),
            team=list_of_uses["team"], usable=usable, place=self._places(connection, asked.place),
            decade=asked.decade.rstrip("s"), theme=self._themes(connection, asked.theme),
            speaker_id=self._speaker(connection, viewer, asked.speaker),
        )  # fmt: skip

    def _places(self, connection: Connection, name: str) -> dict[str, tuple[str, ...] | None]:
        """The place by any of its names, with the same ground under other names and all that lies within: name → the dates told
        with which it counts (what lay within for a time), None where it always does."""
        if not name:
            return {}
        ground = Ground(connection)
        start = ground.called(name)
        if not start:
            raise NotFound("There is no such place in the gazetteer.", "See the list of places beside the question.")
        return ground.inside(start)

    def _themes(self, connection: Connection, name: str) -> tuple[str, ...]:
        if not name:
            return ()
        found = meant(name, themes.everything(connection))
        if not found:
            raise NotFound("There is no such theme in the thesaurus.", "See the list of themes beside the question.")
        return found

    def _speaker(self, connection: Connection, viewer: Viewer, code: str) -> int | None:
        if not code:
            return None
        row = people.by_code(connection, code)
        # An unknown code finds nothing, like one who may not be found: the answer does not tell which.
        offered = sees_names(viewer) or code in dict(speaker_choices(Readings(connection, self._rooms.context()), viewer))
        return int(row.id) if row is not None and offered else -1

    def per_place(self, viewer: Viewer) -> dict[str, int]:
        """place → how many passages a question for it alone finds today; of those with any."""
        need(viewer, *EVERYBODY)
        with self._rooms.db.read() as connection:
            ground, filters = Ground(connection), self.filters(connection, viewer, Asked())
            units: dict[str, set[int]] = {}
            for unit_id, value in search.named_places(connection, filters):
                units.setdefault(value, set()).add(unit_id)
            told: dict[str, set[int]] = {}
            for unit_id, value in search.told_dates(connection, filters):
                told.setdefault(value, set()).add(unit_id)
            dated = set().union(*told.values())
            counts = {}
            for name in ground.names:
                found: set[int] = set()
                for other, dates in ground.inside([name]).items():
                    named = units.get(other, set())
                    found |= named if dates is None or not named else named & set().union(*(told.get(d, ()) for d in dates)) | named - dated
                counts[name] = len(found)
            return {name: number for name, number in counts.items() if number}

    def choices(self, viewer: Viewer) -> dict[str, tuple[tuple[str, str], ...]]:
        """What a question can be narrowed by: (value, label) of places, decades, themes, speakers, uses."""
        need(viewer, *EVERYBODY)
        with self._rooms.db.read() as connection:
            readings = Readings(connection, self._rooms.context(), self._kept)
            places = tuple((p.name, p.name) for p in sorted(show_gazetteer(readings, viewer).places, key=lambda p: p.name))
            listed = tuple((r.name, r.name) for r in describing.themes(connection))
            speakers = speaker_choices(readings, viewer)
            every_use = tuple((u.code, u.label) for u in uses.every_use(connection).values())
        decades = tuple((str(d), f"{d}s") for d in range(1920, self._rooms.today().year + 1, 10))
        return {"places": places, "decades": decades, "themes": listed, "speakers": speakers, "uses": every_use}

    def keep(self, viewer: Viewer, asked: Asked) -> str:
        """Keep a question under a random id, so that no name stands in a URL. Returns the id."""
        need(viewer, *EVERYBODY)
        key = secrets.token_urlsafe(18)
        with self._rooms.db.write() as connection:
            accounts.keep_question(connection, key, viewer.name, asdict(asked), self._rooms.seconds())
        return key

    def question(self, viewer: Viewer, key: str) -> Asked:
        """A kept question, for who asked it. Raises NotFound."""
        need(viewer, *EVERYBODY)
        with self._rooms.db.read() as connection:
            asked = accounts.question_of(connection, key, viewer.name)
            theme = preferred(asked["theme"], themes.everything(connection)) if asked and asked.get("theme") else ""
        if asked is None:
            raise NotFound("This question is no longer kept.", "Ask it again.")
        return replace(Asked(**asked), theme=theme)
