"""Which language is spoken in a recording, or from–to: said by a person, on record; and whether our own computer heard it so."""

from __future__ import annotations

from archive.db import audit, languages, recordings, runs
from archive.db.session import Connection
from archive.domain.languages import Spoken, Told, name, tag
from archive.domain.phrases import clock, day
from archive.domain.values import Stretch, Viewer
from archive.errors import BadInput
from archive.gate.indexing import index_facts
from archive.gate.reading import Readings
from archive.gate.show import show_languages
from archive.services.language_rows import LanguageLine, LanguagePage
from archive.services.reaching import recording_named
from archive.services.rooms import ANYBODY, EDITORS, Rooms, need
from archive.speech.languages import heard_as

INVENTS = "Heard as another language, our own computer does not stop: it writes a translation of its own making, which reads well and is nobody's words."


class Languages:
    """The languages of the recordings of one archive."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms

    def of(self, viewer: Viewer, code: str) -> LanguagePage:
        """What counts today, who said so, and what our own computer heard otherwise."""
        need(viewer, *ANYBODY)
        with self._rooms.db.read() as connection:
            row = recording_named(connection, viewer, code)
            spoken = show_languages(Readings(connection, self._rooms.context()), viewer, row.id)
            lines = [LanguageLine(s, e, t, name(t)) for s, e, t in spoken.pieces(row.duration_ms)] or [LanguageLine(0, 0, spoken.whole, name(spoken.whole))]
            if viewer.role not in EDITORS:
                return LanguagePage(code, spoken.whole, name(spoken.whole), tuple(lines), (), (), False)
            said = (
                f"{_where(s.start_ms, s.end_ms)}: {name(s.language) if s.language else 'as the rest'}, said by {s.by} on {day(s.at)}"
                for s in languages.said(connection, row.id)
            )  # fmt: skip
            told, otherwise = self._heard(connection, row.id, row.duration_ms, spoken)
            return LanguagePage(code, spoken.whole, name(spoken.whole), tuple(lines), tuple(said), told, otherwise)

    def _heard(self, connection: Connection, recording_id: int, duration_ms: int, spoken: Spoken) -> tuple[tuple[str, ...], bool]:
        """(what is to be said about it in sentences, whether it would be heard otherwise today)."""
        told = [
            f"Our own computer does not know {name(t)} ({clock(s)} – {clock(e)}): somebody has to type what is said there."
            for s, e, t in spoken.pieces(duration_ms) if heard_as(t) is None
        ]  # fmt: skip
        run = runs.newest_run(connection, recording_id)
        if run is None or run.job_id is None:  # nothing was heard yet, or the words came from elsewhere
            return tuple(told), False
        then = Spoken(run.language, tuple((s, e, t) for s, e, t in run.options.get("languages", [])))
        other = [(s, e, then.at(s, e), now) for s, e, now in _compared(then, spoken, duration_ms) if heard_as(then.at(s, e)) != heard_as(now)]
        told += [f"{clock(s)} – {clock(e)} was heard as {name(was)}, and is {name(now)}. Let it be heard again." for s, e, was, now in other]
        return (*told, *([INVENTS] if other else [])), bool(other)

    def say(self, viewer: Viewer, code: str, language: str, start_ms: int | None = None, end_ms: int | None = None) -> None:
        """A person says which language is spoken in a recording, or from–to (ms); "" takes back what was said of that stretch.
        `language`: a tag or an English name. Raises BadInput, NotFound."""
        need(viewer, *EDITORS)
        if (start_ms is None) != (end_ms is None):
            raise BadInput("A stretch needs a beginning and an end.", "Give both, or neither for the whole recording.")
        whole = start_ms is None
        if whole or language.strip():
            language = tag(language)
        with self._rooms.db.write() as connection:
            row = recordings.named(connection, code)
            if start_ms is not None and end_ms is not None:
                end_ms = min(end_ms, row.duration_ms)
                Stretch(row.id, start_ms, end_ms)  # raises where it does not end after it starts
            now = self._rooms.now()
            languages.say(connection, row.id, Told(start_ms, end_ms, language.strip()), viewer.name, now)
            index_facts(connection, row.id, self._rooms.context())
            audit.record(
                connection, viewer.name, "language said", f"recording {row.id}", now, language=language.strip(), start_ms=start_ms, end_ms=end_ms
            )


def _where(start_ms: int | None, end_ms: int | None) -> str:
    return "the whole recording" if start_ms is None or end_ms is None else f"{clock(start_ms)} – {clock(end_ms)}"


def _compared(then: Spoken, now: Spoken, duration_ms: int) -> list[tuple[int, int, str]]:
    """Stretches that are in one language then and in one today: (from, to, today's)."""
    edges = sorted({s for of in (then, now) for s, _, _ in of.pieces(duration_ms)} | {duration_ms})
    return [(s, e, now.at(s, e)) for s, e in zip(edges, edges[1:], strict=False)]
