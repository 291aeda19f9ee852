"""Find: a question, its answers with live consent, counts beside the facets; kept questions under random ids."""

from __future__ import annotations

import re
import secrets
from collections.abc import Iterable
from dataclasses import asdict, replace

from archive.db import describing, gazetteer, questions, search, spelled_like, themes, uses
from archive.db.columns import Columns
from archive.db.session import Connection
from archive.domain.cleared import ShownFound
from archive.domain.phrases import STATES, begin, many
from archive.domain.soundcheck import Fit
from archive.domain.spans import Span
from archive.domain.values import LineState, Part, Stretch, Viewer
from archive.errors import NotFound
from archive.gate.listed import open_themes
from archive.gate.places import show_gazetteer
from archive.gate.reading import Readings
from archive.gate.show import found, sees_names, show_hits, speaker_choices
from archive.gate.withheld import is_withheld
from archive.rules.alike import Tokens, names_at
from archive.rules.analysis import analyse
from archive.rules.questions import Everything, Phrase, Query, Term, leaves, parse_query, tokens_of, unread, widened
from archive.rules.thesaurus import preferred
from archive.services.grounds import Ground
from archive.services.narrowing import Narrow
from archive.services.rooms import EVERYBODY, Rooms, need
from archive.services.rows import Asked

_OLDER = (
    "{} indexed by an older version and cannot be narrowed by transcript, language or sound yet. "
    "“Suggest anew” under Recordings, Themes makes up for it; or `toldhere describe`."
)
_TOO_MANY = f"These words stand in more than {search.MOST_RANKED:,} passages: the newest recordings come first. More words, or a place or decade, tell the best."
_EMPTY = "There is nothing to find yet: no recording has words that you may read."


class Finding:
    """Questions to one archive."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms
        self.columns = Columns()
        self._kept = self.columns.decided

    def ask(self, viewer: Viewer, asked: Asked, limit: int = 20, offset: int = 0) -> ShownFound:
        """Answer one question. What the use “team” does not allow today is not there; nor is what is hidden from this role."""
        need(viewer, *EVERYBODY)
        query = parse_query(asked.words)
        with self._rooms.db.read() as connection:
            readings = Readings(connection, self._rooms.context(), self._kept)
            if asked.other_names:
                query = widened(query, names_at(_names_of_places(readings, viewer)))
            narrow = Narrow(self._rooms, readings, viewer)
            filters = narrow.filters(asked, query)
            answer = search.find(connection, query, filters, max(1, min(limit, 200)), max(0, offset), self.columns)
            units = [(u.id, Stretch(u.recording_id, u.start_ms, u.end_ms)) for u in answer.units]
            hits = show_hits(readings, viewer, units, query, answer.twins)
            notes = [f"Letter {u.at}: {u.words}" for u in unread(asked.words)] + narrow.notes
            if answer.order == "newest" and asked.order in ("", "best"):
                notes.append(_TOO_MANY)
            if any(n.by_facts for n in (filters.narrow, *filters.fields.values())):
                older = search.not_reckoned(connection, filters, self.columns)
                notes += [_OLDER.format(begin(many(older, "passage was", "passages were")))] if older else []
            suggestion = ""
            if not answer.total:
                suggestion = self._suggestion(connection, asked.words, query, filters)
                if not search.may_be_read(connection, parse_query(""), filters, self.columns):
                    notes.append(_EMPTY)
            return found(
                readings, viewer, hits, answer.total, answer.facets, confirmed=answer.confirmed, order=answer.order,
                suggestion=suggestion, notes=tuple(notes),
            )  # fmt: skip

    def every(self, readings: Readings, viewer: Viewer, asked: Asked, told: Span | None = None) -> list[search.Unit]:
        """All units that answer a question, in the caller's transaction, for services that count or compare them. `told`: of them those
        with a date that lies within this span. Raises BadInput, NotFound where it can't be asked."""
        query = parse_query(asked.words)
        if asked.other_names:
            query = widened(query, names_at(_names_of_places(readings, viewer)))
        return search.every(readings.connection, query, Narrow(self._rooms, readings, viewer).filters(asked, query), self.columns, told)

    def narrowed(self, readings: Readings, viewer: Viewer, asked: Asked, query: Query) -> tuple[search.Filters, Columns]:
        """What narrows a question, for leads too, and the columns it is asked on. Raises BadInput, NotFound for what is none."""
        return Narrow(self._rooms, readings, viewer).filters(asked, query), self.columns

    def _suggestion(self, connection: Connection, typed: str, query: Query, filters: search.Filters) -> str:
        """The question with words that this viewer may find in the place of those that they may not, spelled nearly so; "" where there
        is none. A word is only ever suggested from passages that they may read today."""
        better: dict[str, str] = {}
        for token in dict.fromkeys(t for leaf in leaves(query) if isinstance(leaf, (Term, Phrase)) for t in tokens_of(leaf)):
            if token.isdigit() or search.may_be_read(connection, _exactly(token), filters, self.columns):
                continue
            near = spelled_like.near(connection, token, filters.wording)
            best = next((w for w in near if search.may_be_read(connection, _exactly(w), filters, self.columns)), None)
            if best is not None:
                better[token] = best
        return re.sub(r"[^\s()\"“”:]+", lambda m: _swapped(m[0], better), typed) if better else ""

    def per_place(self, viewer: Viewer) -> dict[str, int]:
        """place → how many passages a question for it alone finds today; of those with any."""
        need(viewer, *EVERYBODY)
        with self._rooms.db.read() as connection:
            readings = Readings(connection, self._rooms.context(), self._kept)
            ground, filters = Ground(connection), Narrow(self._rooms, readings, viewer).filters(Asked(), Everything())
            units: dict[str, set[int]] = {}
            for unit_id, value in search.named_places(connection, filters, self.columns):
                units.setdefault(value, set()).add(unit_id)
            told: dict[str, set[int]] = {}
            for unit_id, value in search.told_dates(connection, filters, self.columns):
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
        """What a question can be narrowed by: (value, label) of places, decades, themes, speakers, uses, states, sounds, roles."""
        need(viewer, *EVERYBODY)
        with self._rooms.db.read() as connection:
            readings = Readings(connection, self._rooms.context(), self._kept)
            places = tuple((p.name, p.name) for p in sorted(show_gazetteer(readings, viewer).places, key=lambda p: p.name))
            open_ones = open_themes(readings, viewer, themes.everything(connection))
            listed = tuple((r.name, r.name) for r in describing.themes(connection) if r.name in open_ones)
            speakers = speaker_choices(readings, viewer)
            every_use = tuple((u.code, u.label) for u in uses.every_use(connection).values())
        decades = tuple((str(d), f"{d}s") for d in range(1920, self._rooms.today().year + 1, 10))
        return {
            "places": places, "decades": decades, "themes": listed, "speakers": speakers, "uses": every_use,
            "states": tuple((s.value, STATES[s.value]) for s in LineState), "sounds": tuple((f.value, f.words) for f in Fit),
            "roles": tuple((p.value, p.value) for p in Part),
        }  # fmt: skip

    def keep(self, viewer: Viewer, asked: Asked) -> str:
        """Keep a question under a random id, so that no name stands in a URL. Returns the id."""
        need(viewer, *EVERYBODY)
        key = secrets.token_urlsafe(18)
        with self._rooms.db.write() as connection:
            questions.keep(connection, key, viewer.name, asdict(asked), self._rooms.seconds())
        return key

    def question(self, viewer: Viewer, key: str) -> Asked:
        """A kept question, for who asked it; one that is saved for the team, for its keepers and editors. Raises NotFound."""
        need(viewer, *EVERYBODY)
        with self._rooms.db.read() as connection:
            row = questions.one_of(connection, key, viewer.name, sees_names(viewer))
            if row is None:
                raise NotFound("This question is no longer kept.", "Ask it again.")
            asked = Asked(**row.asked)
            if not asked.theme:
                return asked
            known = open_themes(Readings(connection, self._rooms.context(), self._kept), viewer, themes.everything(connection))
            return replace(asked, theme=preferred(asked.theme, known))


def _exactly(token: str) -> Query:
    return Term(token, token, quoted=True)


def _swapped(word: str, better: dict[str, str]) -> str:
    exact = analyse(word).exact
    return " ".join(better.get(t, t) for t in exact) if any(t in better for t in exact) else word


def _names_of_places(readings: Readings, viewer: Viewer) -> Iterable[list[Tokens]]:
    """The names that this viewer may know of each place, with those of the same ground in other times; mis-hearings are none."""
    rows = gazetteer.places(readings.connection)
    others = gazetteer.place_names(readings.connection)
    head = {r.id: r.id for r in rows}
    for r in rows:
        if r.same_as_id is not None:
            old, new = head[r.id], head[r.same_as_id]
            head = {n: new if h == old else h for n, h in head.items()}
    groups: dict[int, list[Tokens]] = {}
    for r in rows:
        names = (r.name, *(text for text, kind in others.get(r.id, ()) if kind == "also"))
        known = (name for name in names if sees_names(viewer) or not is_withheld(readings, name, place=True))
        groups.setdefault(head[r.id], []).extend(t for t in (analyse(name).exact for name in known) if t)
    return groups.values()
