"""Passages, and what the machine suggests about them: place, date, theme, names. A person confirms or rejects."""

from __future__ import annotations

import secrets
from bisect import bisect_left, insort
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from operator import attrgetter, itemgetter
from pathlib import Path
from typing import NamedTuple

from archive.db import (
    audit,
    by_hand,
    consent_rows,
    deciding,
    describing,
    jobs,
    mentions,
    people,
    recordings,
    themes,
    units,
)
from archive.db.session import Connection
from archive.domain.attribution import PersonName
from archive.domain.dates import validate
from archive.domain.passages import Utterance
from archive.domain.phrases import begin, many
from archive.domain.placenames import Named
from archive.domain.values import Decision, Naming, Part, RestraintKind, Role, Stretch, Viewer, Word
from archive.errors import BadInput, NotFound, Refused
from archive.gate import custody
from archive.gate.custody import Errand, Spoken
from archive.gate.indexing import index_recording, index_tags
from archive.gate.places import entries
from archive.gate.reading import Context, Readings
from archive.gate.scan_match import Matcher
from archive.gate.titles import export_names
from archive.rules.calendar import Event
from archive.rules.dates import Turn, dates_in_passage
from archive.rules.names import PersonNames
from archive.rules.off_record import suggest_off_record
from archive.rules.place_sounds import PlaceSounds
from archive.rules.places import Gazetteer, Place, find_places
from archive.rules.pointing import Pointers
from archive.rules.segment import segment
from archive.rules.spoken import tokens
from archive.rules.suggestion import Suggestion
from archive.rules.themes import Lessons, Near, Thesaurus, suggest_themes
from archive.services.asking import asked_by, asking
from archive.services.learning import Teaching
from archive.services.near_themes import near_themes
from archive.services.rooms import EDITORS, Rooms, need
from archive.services.sheets import Sheet
from archive.services.work import Lease

STATES = ("suggested", "confirmed", "rejected")
MACHINE = "machine"
HEARD = "heard by the machine"
DESCRIBED_SINCE = "0023"  # the schema since which what is suggested, and what can be narrowed by, is as it is today
UPDATED = "update of Told Here"
KIND = "describe"


class Suggested(NamedTuple):
    """Suggestions of a recording that wait for a person, and stretches that were closed now as off the record."""

    waiting: int
    off_record: int


class Described(NamedTuple):
    """What describing anew came to: suggestions that wait, codes of recordings that our own computer may not read any
    more, and stretches that were closed now as off the record until a person decides."""

    waiting: int
    closed: tuple[str, ...]
    off_record: int


@dataclass(frozen=True, slots=True)
class Knowledge:
    """What the rules read: gazetteer, calendar, thesaurus, names and whatever else points to people."""

    gazetteer: Gazetteer
    sounds: PlaceSounds
    events: tuple[Event, ...]
    thesaurus: Thesaurus
    pointers: Pointers
    disguised: Matcher  # the last scan's own eyes: what it would refuse is hidden from the first day


def gazetteer_places(connection: Connection) -> list[Place]:
    """The places of the gazetteer, in the order in which they were put on record."""
    return [
        Place(
            p.name, p.kind, next((w.text for w in p.within if not w.edtf), ""), tuple(n.text for n in p.also), p.heard_as,
            p.valid_from, p.valid_until, p.same_as, tuple((n.text, n.edtf) for n in p.also if n.edtf),
            _further(p.within), p.not_heard,
        )
        for p in entries(connection)
    ]  # fmt: skip


def _further(within: Sequence[Named]) -> tuple[tuple[str, str], ...]:
    """All that a place lies within but the first without a time, which is kept apart."""
    first = next((w for w in within if not w.edtf), None)
    return tuple((w.text, w.edtf) for w in within if w is not first)


def knowledge(connection: Connection, context: Context, taught: Mapping[str, Lessons] | None = None) -> Knowledge:
    """Everything the archive holds for the rules, with what was `taught`, by theme. The capitals of the exhibition's name name nobody."""
    events = tuple(Event(r.name, r.edtf, tuple(r.also)) for r in describing.events(connection))
    listed = themes.everything(connection).values()
    names = people.names(connection)
    gazetteer = Gazetteer.of(gazetteer_places(connection))
    titles = [*(t for e in events for t in (e.name, *e.also)), *(t for h in listed for t in (h.name, *h.words, *(text for _, text in h.use_for))), context.exhibition]
    pointers = Pointers([PersonNames(p, _plain(n)) for p, n in names.items()], gazetteer, titles)
    return Knowledge(gazetteer, PlaceSounds(gazetteer), events, Thesaurus.of(listed, taught), pointers, Matcher(export_names(Readings(connection, context), [])))


def _plain(names: list[PersonName]) -> tuple[tuple[str, str, str], ...]:
    return tuple((n.text, n.kind, n.scan.value) for n in names)


def queue_anew(connection: Connection, at: str) -> None:
    """Let the worker suggest anew for every recording of an archive that an older version described: by the rules of today, and with what
    can be narrowed by today. Nothing where no recording has words."""
    if custody.transcribed(connection):
        args = {"account": None, "role": Role.KEEPER.value}
        number = jobs.add_once(connection, KIND, "every recording", args, UPDATED, at)
        audit.record(connection, UPDATED, "described anew after an update", f"job {number}", at)


class Describing:
    """Suggestions and decisions for one archive."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms

    # -- sheets ------------------------------------------------------------------------------------------------
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

    # -- suggesting --------------------------------------------------------------------------------------------
    def describe(self, viewer: Viewer, recording: str = "") -> Described:
        """Suggest anew for one recording or all that have words. What a person decided stays."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            ids = [r.id for r in recordings.all_or_named(connection, recording) if units.passages(connection, r.id)]
        waiting, off_record, closed = 0, 0, []
        teaching = Teaching()
        for recording_id in ids:
            try:
                with self._rooms.db.write() as connection:
                    now = self._rooms.now()
                    made = describe_recording(connection, recording_id, self._rooms.context(), viewer.name, now, teaching)
                    waiting, off_record = waiting + made.waiting, off_record + made.off_record
                    audit.record(connection, viewer.name, "described anew", f"recording {recording_id}", now)
            except Refused:
                if recording:
                    raise
                with self._rooms.db.read() as connection:  # the others are not held up by it
                    closed.append(recordings.by_id(connection, recording_id).code)
        return Described(waiting, tuple(closed), off_record)

    def queue(self, viewer: Viewer) -> int:
        """Let the worker suggest anew for every recording; returns the number of the job."""
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            return jobs.add_once(connection, KIND, "every recording", asking(connection, viewer), viewer.name, self._rooms.now())

    def run(self, lease: Lease) -> str:
        """Suggest anew, a recording at a time; killed, it goes on after the last one. What our own computer may not read stays as it is."""
        with self._rooms.db.read() as connection:
            viewer = asked_by(connection, lease)
            ids = sorted(custody.transcribed(connection))
        teaching, left = Teaching(), 0
        for number, recording_id in enumerate(ids, 1):
            if recording_id <= int(lease.outcome.get("after", 0)):
                continue

            def one(connection: Connection, recording_id: int = recording_id, number: int = number) -> None:
                now = self._rooms.now()
                describe_recording(connection, recording_id, self._rooms.context(), viewer.name, now, teaching)
                audit.record(connection, viewer.name, "described anew", f"recording {recording_id}", now)
                lease.note(connection, after=recording_id)
                lease.got(connection, number, len(ids))

            try:
                lease.keep(one)
            except Refused:
                left += 1
        beside = f" {begin(many(left, 'recording'))} left as they are: our own computer may not read them." if left else ""
        return f"Suggested anew.{beside}"

    def decide(self, viewer: Viewer, tag_id: int, state: str) -> None:
        """Confirm a suggestion, reject it, or take the decision back."""
        need(viewer, *EDITORS)
        if state not in STATES:
            raise BadInput("A suggestion can be confirmed, rejected, or left as suggested.")
        with self._rooms.db.write() as connection:
            tag = describing.tag_by_id(connection, tag_id)
            if tag is None:
                raise NotFound("There is no such suggestion.")
            if state == "suggested":
                deciding.forget(connection, tag_id)
                describing.decide_tag(connection, tag_id, state, viewer.name, self._rooms.now())
            else:
                deciding.decide(connection, [tag], state, secrets.token_hex(12), viewer.name, self._rooms.now())
            index_tags(connection, tag.recording_id, self._rooms.context())
            audit.record(connection, viewer.name, f"tag {state}", f"tag {tag_id}", self._rooms.now(), kind=tag.kind)


def describe_recording(
    connection: Connection, recording_id: int, context: Context, by: str, at: str, teaching: Teaching | None = None
) -> Suggested:  # fmt: skip
    """Cut, suggest, close what was said off the record, and index one recording in the caller's transaction. `teaching`: of a run over
    many recordings, so that what is learned is not read for each."""
    teaching = teaching or Teaching()
    known = knowledge(connection, context, teaching.lessons(connection, context))
    spoken = custody.take(connection, recording_id, Errand.DESCRIBE, context)
    kept = [(r.start_ms, r.end_ms) for r in by_hand.passages(connection, recording_id)]
    cuts = segment(spoken.utterances, spoken.interviewers, kept)
    units.replace_passages(connection, recording_id, spoken.version_id or 0, [(c.start_ms, c.end_ms) for c in cuts])
    closed = close_off_record(connection, recording_id, spoken, context, at)
    name_stretches(connection, recording_id, spoken, known, by, at)
    if closed:  # it teaches nothing any more
        themes.forget_taught(connection, [recording_id])
        known = knowledge(connection, context, teaching.lessons(connection, context))
    recorded_on = recordings.by_id(connection, recording_id).recorded_on
    born = {p: _born(connection, spoken, p) for p in {u.speaker_id for u in spoken.utterances}}
    found = []
    near = near_themes(connection, recording_id, [(c.start_ms, c.end_ms) for c in cuts])
    for number, cut in enumerate(cuts):
        inside = [u for u in spoken.utterances if cut.start_ms <= u.start_ms < cut.end_ms]
        found += suggestions_for(inside, known, born, recorded_on, near[number])
    describing.suggest(connection, recording_id, found, by, at)
    index_recording(connection, recording_id, context, closed=False)
    return Suggested(describing.count_suggested(connection, recording_id), closed)


def hear_names_again(connection: Connection, context: Context, by: str, at: str) -> None:
    """After names or wishes changed: note who is named in every transcript, and index both wordings anew."""
    known = knowledge(connection, context)
    for recording_id in sorted(custody.transcribed(connection)):
        spoken = custody.take(connection, recording_id, Errand.NAMES, context)
        name_stretches(connection, recording_id, spoken, known, by, at)
        index_recording(connection, recording_id, context)


def close_off_record(connection: Connection, recording_id: int, spoken: Spoken, context: Context, at: str) -> int:
    """Seal what was said off the record until a person decides its true limits; returns how many stretches.

    Where a person decided, the machine closes nothing again; where one will, only what the answer turns out to be longer
    (once speakers are assigned, say).
    """
    before = consent_rows.closed_by_rule(connection, recording_id)
    begins = recordings.by_id(connection, recording_id).position in (None, 1)
    closed = 0
    for said in suggest_off_record(spoken.utterances, spoken.interviewers, begins=begins):
        whole = custody.snap_outwards(connection, Stretch(recording_id, said.start_ms, said.end_ms))
        if any(whole.overlaps(other) and (lifted or other.covers(whole)) for other, lifted in before):
            continue
        restraint_id = consent_rows.add_restraint(
            connection, kind=RestraintKind.SEALED, stretch=whole, from_on=context.on, rule=said.rule, by=MACHINE, at=at,
            how="heard as off the record; a person decides its true limits",
        )  # fmt: skip
        audit.record(
            connection, MACHINE, "stretch closed", f"restraint {restraint_id}", at, recording=recording_id,
            start_ms=whole.start_ms, end_ms=whole.end_ms, kind=RestraintKind.SEALED.value,
        )  # fmt: skip
        closed += 1
    return closed


def suggestions_for(
    inside: list[Utterance], known: Knowledge, born: Mapping[int | None, str | None], recorded_on: date | None, near: Mapping[str, Near]
) -> list[Suggestion]:
    """What the rules say of one passage: dates turn by turn (whose birth year counts), places, and themes of the whole of it."""
    turns = [
        Turn([w for u in spoken for w in u.words], born[speaker]) for speaker, spoken in groupby(inside, key=attrgetter("speaker_id"))
    ]
    found = dates_in_passage(turns, recorded_on or date.max, known.events)
    told = [s.value for s in found if s.decades]
    before: set[str] = set()
    for utterance in inside:
        spoken = tokens(utterance.words)
        named = list(find_places(spoken, utterance.words, known.gazetteer, told, before))
        before |= {n.suggestion.value for n in named}
        found += [n.suggestion for n in named]
        found += known.sounds.find(spoken, utterance.words, [(n.first, n.last) for n in named])
    every = [w for u in inside for w in u.words]
    return found + suggest_themes(every, known.thesaurus, nearness=near)


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
    """Note every stretch that may name or point to somebody, as undecided: hidden in whatever leaves until a person decides."""
    before, noted = _Noted(), _Noted()
    for m in spoken.noted:
        before.add(m.stretch, m.person_id, m.decision)
        noted.add(m.stretch, m.person_id, m.decision)

    def note(stretch: Stretch, person_id: int | None, kind: Naming, rule: str) -> None:
        noted.add(stretch, person_id, Decision.UNDECIDED)
        mentions.decide(connection, stretch, person_id, Decision.UNDECIDED, HEARD, by, at, kind, rule)

    # A name may be split over two utterances: all words of the recording are read as one, a speaker's turn at a time.
    every = [w for u in spoken.utterances for w in u.words]
    for said in known.pointers.suggest(every):
        run = every[said.first : said.last + 1]
        for new in _not_noted(run, recording_id, said.person_id, said.kind, before.near(_stretch_of(recording_id, run))):
            note(_stretch_of(recording_id, new), said.person_id, said.kind, said.rule)
    for first, last in known.disguised.places([w.text for w in every]):
        stretch = _stretch_of(recording_id, every[first : last + 1])
        if not noted.near(stretch):
            note(stretch, None, Naming.NAME, "reads like a name that the last scan looks for")


class _Noted:
    """Who is noted where in one recording, found by its times."""

    def __init__(self) -> None:
        self._known: list[tuple[int, Stretch, int | None, Decision]] = []
        self._longest_ms = 0

    def add(self, stretch: Stretch, person_id: int | None, decision: Decision) -> None:
        insort(self._known, (stretch.start_ms, stretch, person_id, decision), key=itemgetter(0))
        self._longest_ms = max(self._longest_ms, stretch.end_ms - stretch.start_ms)

    def near(self, stretch: Stretch) -> list[tuple[Stretch, int | None, Decision]]:
        """What shares time with a stretch."""
        first = bisect_left(self._known, stretch.start_ms - self._longest_ms, key=itemgetter(0))
        last = bisect_left(self._known, stretch.end_ms, key=itemgetter(0))
        return [(s, p, d) for _, s, p, d in self._known[first:last] if s.overlaps(stretch)]


def _not_noted(
    run: Sequence[Word], recording_id: int, person_id: int | None, kind: Naming, near: Sequence[tuple[Stretch, int | None, Decision]]
) -> list[list[Word]]:
    """The words of a suggestion that nothing on record is about yet: for its person, or for nobody; in rows. `near`: what is
    noted there.

    What was decided is never decided again by the machine. A suggestion that grew at one end is noted there alone.
    """
    own = [s for s, p, d in near if p == person_id or p is None and (person_id is None or d != Decision.UNDECIDED)]
    if not own and (person_id is not None or not near):
        return [list(run)]
    covered = [any(_stretch_of(recording_id, [w]).overlaps(s) for s in own) for w in run]
    anyhow = [any(_stretch_of(recording_id, [w]).overlaps(s) for s, _, _ in near) for w in run]
    if all(covered) or person_id is None and all(anyhow):
        return []
    rows: list[list[Word]] = []
    for n, word in enumerate(run):
        if covered[n]:
            continue
        if rows and n > 0 and not covered[n - 1]:
            rows[-1].append(word)
        else:
            rows.append([word])
    telling = kind not in (Naming.NAME, Naming.KIN) or not any(covered)
    return [r for r in rows if telling or any(w.text.lstrip("\"'“‘(")[:1].isupper() for w in r)]


def _stretch_of(recording_id: int, run: Sequence[Word]) -> Stretch:
    return Stretch(recording_id, min(w.start_ms for w in run), max(w.end_ms for w in run))
