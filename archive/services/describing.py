"""Passages, and what the machine suggests about them: place, date, theme, names. A person confirms or rejects."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from archive.db import audit, describing, mentions, people, recordings, units
from archive.db.session import Connection
from archive.domain.attribution import PersonName
from archive.domain.dates import validate
from archive.domain.passages import Utterance
from archive.domain.values import Decision, Part, Stretch, Viewer, Word
from archive.errors import BadInput, NotFound, Refused
from archive.gate import custody
from archive.gate.custody import Errand, Spoken
from archive.gate.indexing import index_recording, index_tags
from archive.gate.reading import Context, forbidden_names
from archive.gate.scan_match import Matcher
from archive.rules.calendar import Event
from archive.rules.dates import suggest_dates
from archive.rules.names import NameFinder, PersonNames
from archive.rules.places import Gazetteer, Place, suggest_places
from archive.rules.segment import segment
from archive.rules.suggestion import Suggestion
from archive.rules.themes import Theme, Thesaurus, suggest_themes
from archive.services.rooms import EDITORS, Rooms, need
from archive.services.sheets import Sheet

STATES = ("suggested", "confirmed", "rejected")


@dataclass(frozen=True, slots=True)
class Knowledge:
    """What the rules read: gazetteer, calendar, thesaurus, names."""

    gazetteer: Gazetteer
    events: tuple[Event, ...]
    thesaurus: Thesaurus
    names: NameFinder
    disguised: Matcher  # the last scan's own eyes: what it would refuse is hidden from the first day


def gazetteer_places(connection: Connection) -> list[Place]:
    """The places of the gazetteer, in the order in which they were put on record."""
    rows = sorted(describing.places(connection), key=lambda r: r.id)
    name_of = {r.id: r.name for r in rows}
    others = describing.place_names(connection)
    return [
        Place(
            r.name, r.kind, name_of.get(r.within_id, ""),
            tuple(t for t, k in others.get(r.id, []) if k == "also"),
            tuple(t for t, k in others.get(r.id, []) if k == "heard"),
            r.valid_from or "", r.valid_until or "", name_of.get(r.same_as_id, ""),
        )
        for r in rows
    ]  # fmt: skip


def knowledge(connection: Connection) -> Knowledge:
    """Everything the archive holds for the rules."""
    events = tuple(Event(r.name, r.edtf, tuple(r.also)) for r in describing.events(connection))
    broader = {r.id: r.name for r in describing.themes(connection)}
    themes = [
        Theme(r.name, broader.get(r.broader_id, ""), r.scope_note, tuple(r.words)) for r in describing.themes(connection)
    ]
    known = [PersonNames(p, _plain(n)) for p, n in people.names(connection).items()]
    return Knowledge(Gazetteer.of(gazetteer_places(connection)), events, Thesaurus.of(themes), NameFinder(known), Matcher(forbidden_names(people.names(connection))))


def _plain(names: list[PersonName]) -> tuple[tuple[str, str, str], ...]:
    return tuple((n.text, n.kind, n.scan.value) for n in names)


class Describing:
    """Suggestions and decisions for one archive."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms

    # -- sheets ------------------------------------------------------------------------------------------------
    def read_places(self, viewer: Viewer, path: Path) -> int:
        """Read places.csv into the gazetteer; returns how many rows."""
        need(viewer, *EDITORS)
        sheet = Sheet(path, ("name", "kind", "within"), key=("name",))
        with self._rooms.db.write() as connection:
            rows = list(sheet)
            for row in rows:
                others = [(t, "also") for t in row.list("also")] + [(t, "heard") for t in row.list("heard_as")]
                row.check("from", validate)
                row.check("until", validate)
                x_m = row.number_of("x_m") if row["x_m"] else None
                y_m = row.number_of("y_m") if row["y_m"] else None
                describing.write_place(
                    connection, row.needed("name"), others, kind=row["kind"], valid_from=row["from"] or None,
                    valid_until=row["until"] or None, x_m=x_m, y_m=y_m,
                )  # fmt: skip
            for row in rows:
                for name in describing.link_place(connection, row["name"], row["within"], row["same_as"]):
                    row.fault(f"“{name}” is no place on record. Add a row for it.")
            sheet.done()
            audit.record(connection, viewer.name, "places read", "sheet", self._rooms.now(), rows=len(rows))
        return len(rows)

    def read_events(self, viewer: Viewer, path: Path) -> int:
        """Read events.csv into the calendar; returns how many rows."""
        need(viewer, *EDITORS)
        sheet = Sheet(path, ("name", "edtf"), key=("name",))
        with self._rooms.db.write() as connection:
            rows = list(sheet)
            for row in rows:
                row.needed("edtf")
                describing.write_event(connection, row.needed("name"), row.check("edtf", validate), row.list("also"))
            sheet.done()
            audit.record(connection, viewer.name, "events read", "sheet", self._rooms.now(), rows=len(rows))
        return len(rows)

    def read_themes(self, viewer: Viewer, path: Path) -> int:
        """Read themes.csv into the thesaurus (a broader theme before its narrower ones); returns how many rows."""
        need(viewer, *EDITORS)
        sheet = Sheet(path, ("theme", "broader", "scope_note", "words"), key=("theme",))
        with self._rooms.db.write() as connection:
            rows = list(sheet)
            for row in sorted(rows, key=lambda r: bool(r["broader"])):
                if not describing.write_theme(
                    connection, row.needed("theme"), row["broader"], row["scope_note"], row.list("words")
                ):
                    row.fault(f"“{row['broader']}” is no theme on record. Add a row for it.")
            sheet.done()
            audit.record(connection, viewer.name, "themes read", "sheet", self._rooms.now(), rows=len(rows))
        return len(rows)

    # -- suggesting --------------------------------------------------------------------------------------------
    def describe(self, viewer: Viewer, recording: str = "") -> tuple[int, tuple[str, ...]]:
        """Suggest anew for one recording or all that have words. What a person decided stays.

        Returns suggestions waiting, and the codes of recordings that our own computer may not read any more.
        """
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            ids = [r.id for r in recordings.everything(connection) if recording in ("", r.code)]
            if recording and not ids:
                raise NotFound("There is no such recording.")
            ids = [i for i in ids if units.passages(connection, i)]
        waiting, closed = 0, []
        for recording_id in ids:
            try:
                with self._rooms.db.write() as connection:
                    now = self._rooms.now()
                    waiting += describe_recording(connection, recording_id, self._rooms.context(), viewer.name, now)
                    audit.record(connection, viewer.name, "described anew", f"recording {recording_id}", now)
            except Refused:
                if recording:
                    raise
                with self._rooms.db.read() as connection:  # the others are not held up by it
                    closed.append(recordings.by_id(connection, recording_id).code)
        return waiting, tuple(closed)

    def decide(self, viewer: Viewer, tag_id: int, state: str) -> None:
        """Confirm a suggestion, reject it, or take the decision back."""
        need(viewer, *EDITORS)
        if state not in STATES:
            raise BadInput("A suggestion can be confirmed, rejected, or left as suggested.")
        with self._rooms.db.write() as connection:
            tag = describing.tag_by_id(connection, tag_id)
            if tag is None:
                raise NotFound("There is no such suggestion.")
            describing.decide_tag(connection, tag_id, state, viewer.name, self._rooms.now())
            index_tags(connection, tag.recording_id, self._rooms.context())
            audit.record(connection, viewer.name, f"tag {state}", f"tag {tag_id}", self._rooms.now(), kind=tag.kind)


def cut_passages(connection: Connection, recording_id: int, context: Context) -> None:
    """Cut a recording's newest version into passages."""
    spoken = custody.take(connection, recording_id, Errand.DESCRIBE, context)
    cuts = segment(spoken.utterances, spoken.interviewers)
    units.replace_passages(connection, recording_id, spoken.version_id or 0, [(c.start_ms, c.end_ms) for c in cuts])


def describe_recording(connection: Connection, recording_id: int, context: Context, by: str, at: str) -> int:
    """Cut, suggest and index one recording in the caller's transaction. Returns suggestions that wait for a person."""
    known = knowledge(connection)
    cut_passages(connection, recording_id, context)
    spoken = custody.take(connection, recording_id, Errand.DESCRIBE, context)
    row = recordings.by_id(connection, recording_id)
    describing.forget_suggestions(connection, recording_id)
    name_stretches(connection, recording_id, spoken, known, by, at)
    for passage in units.passages(connection, recording_id):
        inside = [u for u in spoken.utterances if passage.start_ms <= u.start_ms < passage.end_ms]
        for suggestion in _suggestions(connection, spoken, inside, known, row.recorded_on):
            describing.suggest(
                connection, Stretch(recording_id, suggestion.start_ms, suggestion.end_ms), suggestion.kind,
                suggestion.value, evidence=suggestion.evidence, rule=suggestion.rule, reckoning=suggestion.reckoning,
                sure=suggestion.sure, decades=list(suggestion.decades), by=by, at=at,
            )  # fmt: skip
    index_recording(connection, recording_id, context)
    return sum(t.state == "suggested" for t in describing.tags_of(connection, recording_id))


def hear_names_again(connection: Connection, context: Context, by: str, at: str) -> None:
    """After names or wishes changed: note who is named in every transcript, and index both wordings anew."""
    known = knowledge(connection)
    for recording_id in sorted(custody.transcribed(connection)):
        spoken = custody.take(connection, recording_id, Errand.NAMES, context)
        name_stretches(connection, recording_id, spoken, known, by, at)
        index_recording(connection, recording_id, context)


def _suggestions(
    connection: Connection, spoken: Spoken, inside: list[Utterance], known: Knowledge, recorded_on: date | None
) -> list[Suggestion]:
    """Dates by utterance (whose birth year counts), places and themes of the whole passage."""
    found: list[Suggestion] = []
    for utterance in inside:
        born = _born(connection, spoken, utterance.speaker_id)
        found += suggest_dates(utterance.words, born, recorded_on or date.max, known.events)
    told = [s.value for s in found if s.decades]
    for utterance in inside:
        found += suggest_places(utterance.words, known.gazetteer, told)
    every = [w for u in inside for w in u.words]
    return found + suggest_themes(every, known.thesaurus)


def _born(connection: Connection, spoken: Spoken, speaker_id: int | None) -> str | None:
    """The birth date of who speaks; with no speaker assigned, of the only narrator, and of nobody where there are more."""
    narrators = [p for p, role in spoken.roles.items() if role == Part.NARRATOR]
    who = speaker_id if speaker_id is not None else (narrators[0] if len(narrators) == 1 else None)
    if who is None or who in spoken.interviewers:
        return None
    return people.born(connection, who)


def name_stretches(
    connection: Connection, recording_id: int, spoken: Spoken, known: Knowledge, by: str, at: str
) -> None:
    """Note every stretch that names somebody on record, as undecided: hidden in whatever leaves until a person decides."""
    noted = mentions.current(connection, recording_id)
    before = {(m.stretch, m.person_id) for m in noted}
    # A name may be split over two utterances: all words of the recording are read as one, a speaker's turn at a time.
    every = [w for u in spoken.utterances for w in u.words]
    named = [m.stretch for m in noted]
    for hit in known.names.find(every):
        stretch = _stretch_of(recording_id, every[hit.first : hit.last + 1])
        named.append(stretch)
        if (stretch, hit.person_id) not in before:
            mentions.decide(connection, stretch, hit.person_id, Decision.UNDECIDED, "heard by the machine", by, at)
    for first, last in known.disguised.places([w.text for w in every]):
        stretch = _stretch_of(recording_id, every[first : last + 1])
        if not any(stretch.overlaps(other) for other in named):
            named.append(stretch)
            mentions.decide(connection, stretch, None, Decision.UNDECIDED, "reads like a name on record", by, at)


def _stretch_of(recording_id: int, run: Sequence[Word]) -> Stretch:
    return Stretch(recording_id, min(w.start_ms for w in run), max(w.end_ms for w in run))
