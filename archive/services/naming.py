"""Names that are spoken: what a person decided about each stretch. Undecided means hidden in whatever leaves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from archive.db import audit, mentions, people, recordings
from archive.db.mentions import Mention
from archive.db.session import Connection, Row
from archive.domain import phrases
from archive.domain.cleared import ShownMention
from archive.domain.letters import core, folded
from archive.domain.values import Decision, Stretch, Viewer
from archive.domain.values import Naming as Kind
from archive.errors import BadInput, Clash, NotFound, Refused
from archive.gate import custody
from archive.gate.indexing import index_recording
from archive.gate.names import (
    NEW,
    checked_own_words,
    noted,
    occurrences,
    placed,
    seen,
    show_mentions,
    words_of_spans,
)
from archive.gate.reading import Readings
from archive.gate.show import show_person, waiting_names
from archive.services.card import recording_of
from archive.services.reaching import person_of
from archive.services.rooms import EDITORS, Rooms, need
from archive.services.sheets import Row as SheetRow
from archive.services.sheets import Sheet

CAUTIONS = (
    "A living third party, health, crime, migration status or a child needs a person's eye.",
    "Hidden is safe; what was kept cannot be taken back once it hangs on a wall.",
    "Words around a name, a title, a picture, a date and a place may tell who is meant even without it.",
    "Not legal advice: local law and your institution's own counsel decide.",
)
MOST_AT_ONCE = 500


@dataclass(frozen=True, slots=True)
class NameGroup:
    """All stretches of one name: of somebody on record (`person`), or of the same words where nobody on record is meant.

    `key` stands in addresses and commands, and tells no name: a person's code, or the first of the stretches.
    """

    key: str
    person: str
    label: str  # what to call the person, or the words as they are said first
    first: ShownMention
    number: int
    undecided: int
    recordings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NamePage:
    """One name with every stretch that this viewer may read, those that wait first."""

    group: NameGroup
    stretches: tuple[ShownMention, ...]
    cautions: tuple[str, ...] = CAUTIONS


@dataclass(frozen=True, slots=True)
class Pointed:
    """A stretch as it was shown and, it is said, heard. `seen` as in ShownMention: what was on record when it was shown."""

    recording: str
    start_ms: int
    end_ms: int
    person: str
    seen: str
    heard: bool

    @classmethod
    def of(cls, shown: ShownMention, heard: bool) -> Pointed:
        """A stretch exactly as it was shown."""
        return cls(shown.recording, shown.start_ms, shown.end_ms, shown.person, shown.seen, heard)


class Naming:
    """Decisions about names, for one archive."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms

    # -- one name, all its stretches ---------------------------------------------------------------------------
    def heard(self, viewer: Viewer, waiting: bool = False) -> tuple[NameGroup, ...]:
        """Every name that is spoken, those that wait for a decision first. `waiting`: only those."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            readings = Readings(connection, self._rooms.context())
            every = noted(readings, mentions.recordings_with_names(connection))
            groups = [self._group(readings, viewer, some) for some in _grouped(show_mentions(readings, viewer, every, sound=False))]
        found = [g for g in groups if g.undecided or not waiting]
        return tuple(sorted(found, key=lambda g: (g.undecided == 0, -g.undecided, -g.number, g.key)))

    def name(self, viewer: Viewer, key: str) -> NamePage:
        """One name by its key, with the words around each stretch and what to play. Raises NotFound."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            readings = Readings(connection, self._rooms.context())
            person = person_of(connection, viewer, key)
            if person is not None:
                found = [m for m in noted(readings, sorted(mentions.recordings_of(connection, person.id))) if m.person_id == person.id]
            else:
                found = self._alike(readings, viewer, key)
            shown = show_mentions(readings, viewer, found, sound=True)
            if not shown:
                raise NotFound("No stretch that you may read has this name.", "See the list of names.")
            group = self._group(readings, viewer, shown)
        return NamePage(group, tuple(sorted(shown, key=lambda m: m.decision != Decision.UNDECIDED)))

    def _alike(self, readings: Readings, viewer: Viewer, key: str) -> list[Mention]:
        """The stretches of nobody on record that have the same words as the one that the key names."""
        if "@" not in key:
            raise NotFound("There is no such name.", "See the list of names.")
        connection = readings.connection
        row, start_ms, end_ms = self._pointed(connection, key)
        every = [m for m in noted(readings, mentions.recordings_with_names(connection)) if m.person_id is None]
        by_place = {(m.recording, m.start_ms, m.end_ms): m for m in show_mentions(readings, viewer, every, sound=False)}
        asked = by_place.get((row.code, start_ms, end_ms))
        codes = {r.id: r.code for r in recordings.everything(connection)}
        if asked is None:
            return []
        return [
            m for m in every
            if (other := by_place.get((codes[m.stretch.recording_id], m.stretch.start_ms, m.stretch.end_ms))) is not None
            and _words_key(other) == _words_key(asked)
        ]  # fmt: skip

    def _pointed(self, connection: Connection, key: str) -> tuple[Row[Any], int, int]:
        try:
            code, start_ms, end_ms = phrases.stretch(key)
        except BadInput:  # its words repeat what was typed, which may be a name
            raise NotFound("There is no such name.", "See the list of names.") from None
        row = recordings.named(connection, code)
        return row, start_ms, end_ms

    def _group(self, readings: Readings, viewer: Viewer, shown: Sequence[ShownMention]) -> NameGroup:
        first = shown[0]
        return NameGroup(
            key=first.person or key_of(first), person=first.person,
            label=show_person(readings, viewer, first.person) if first.person else f"“{core(first.said)}”", first=first, number=len(shown),
            undecided=sum(waits(m) for m in shown), recordings=tuple(dict.fromkeys(m.recording for m in shown)),
        )  # fmt: skip

    def occurrences(
        self, viewer: Viewer, recording: str, words: str = "", chosen: tuple[tuple[int, int], tuple[int, int]] | None = None,
        where: str = "recording",
    ) -> tuple[ShownMention, ...]:  # fmt: skip
        """Where these words are said, to be shown before they are hidden like a name. `chosen`: first and last word as
        (utterance, word) on the recording's page; `where`: here (only the chosen ones), recording, archive."""
        need(viewer, *EDITORS)
        if where not in ("here", "recording", "archive") or (where == "here" and chosen is None):
            raise BadInput("Words can be hidden here, in this recording, or in the whole archive.")
        with self._rooms.db.read() as connection:
            row = recordings.named(connection, recording)
            readings = Readings(connection, self._rooms.context())
            here = None
            if chosen is not None:
                _, spans = custody.choose_range(connection, viewer, row.id, *chosen, self._rooms.context())
                words, here = words_of_spans(readings, viewer, row.id, spans)
            if not any(c.isalnum() for c in words):
                raise BadInput("Choose the words that are to be hidden.", "Click the first word, then hold Shift and click the last one.")
            ids = [row.id] if where != "archive" else sorted(custody.transcribed(connection))
            found = [m for r in ids for m in occurrences(readings, viewer, r, words)]
            if where == "here":
                found = [m for m in found if m.stretch == here]
            if not found:
                raise NotFound("These words are not said in what you may read.", "Write them as they stand in the transcript.")
            if len(found) > MOST_AT_ONCE:
                raise BadInput(f"These words are said {len(found)} times, too often to look at each.", "Choose more words, or one recording.")
            return show_mentions(readings, viewer, found, sound=True)

    def decide_many(
        self, viewer: Viewer, stretches: Sequence[Pointed], decision: str, how: str = "", instead: str = "", kind: str = "",
    ) -> int:  # fmt: skip
        """Decide exactly these stretches, all or none, each as it was shown and heard. Returns how many.

        Raises BadInput where one was not heard, Refused where one is not to be heard and would not be hidden, Clash
        where one is not there any more or was decided meanwhile. `kind`: how words point that nobody had noted.
        """
        need(viewer, *EDITORS)
        wanted = list(dict.fromkeys(stretches))
        if not wanted:
            raise BadInput("No stretch was chosen; nothing was changed.", "Listen to each, then decide.")
        chosen = _checked(decision, how, instead)
        now = self._rooms.now()
        with self._rooms.db.write() as connection:
            readings = Readings(connection, self._rooms.context())
            found = [self._still_there(readings, viewer, one, chosen) for one in wanted]
            own = checked_own_words(readings, instead, [m.stretch for m in found])
            for mention in found:
                pointing = Kind(kind) if kind in list(Kind) and not mention.by else mention.kind
                mentions.decide(
                    connection, mention.stretch, mention.person_id, chosen, how.strip(), viewer.name, now, pointing, mention.rule, own
                )
            self._after(connection, viewer, found, chosen, now)
        return len(found)

    def _still_there(self, readings: Readings, viewer: Viewer, one: Pointed, chosen: Decision) -> Mention:
        connection = readings.connection
        row = recordings.by_code(connection, one.recording)
        who = person_of(connection, viewer, one.person) if one.person else None
        gone = Clash(
            "One of these stretches is not as it was shown to you: somebody decided about it meanwhile, or its words changed. Nothing was changed.",
            "Load the page again, and listen to what is new.",
        )
        if row is None or (one.person and who is None) or one.end_ms <= one.start_ms:
            raise gone
        stretch = Stretch(row.id, one.start_ms, one.end_ms)
        mention, playable = placed(readings, viewer, stretch, who.id if who is not None else None)
        if mention is None or seen(mention) != one.seen:
            raise gone
        if one.seen == NEW and (chosen != Decision.HIDE or custody.snap_outwards(connection, stretch) != stretch):
            raise gone
        if one.seen != NEW and playable and not one.heard:
            raise BadInput("Not every one of these was heard; nothing was changed.", "Play each to its end, then decide.")
        if not playable and chosen != Decision.HIDE:
            raise Refused("What may not be heard can only be hidden.", (), "Ask a keeper, or leave it as it is: undecided is hidden.")
        return mention

    def _after(self, connection: Connection, viewer: Viewer, found: Sequence[Mention], chosen: Decision, now: str) -> None:
        """Index each recording anew once, and put on record what was decided: places and codes, no names."""
        touched: dict[int, list[list[int | None]]] = {}
        for m in found:
            touched.setdefault(m.stretch.recording_id, []).append([m.stretch.start_ms, m.stretch.end_ms, m.person_id])
        for recording_id, places in touched.items():
            index_recording(connection, recording_id, self._rooms.context())
            audit.record(connection, viewer.name, f"names {chosen.value}", f"recording {recording_id}", now, stretches=places)

    # -- one stretch -------------------------------------------------------------------------------------------
    def waiting(self, viewer: Viewer, recording: str) -> tuple[tuple[int, int, str], ...]:
        """Undecided stretches of a recording: (start_ms, end_ms, code of who may be meant, "" where not on record)."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            row = recordings.named(connection, recording)
            codes = people.codes_by_id(connection)
            return tuple(
                (m.stretch.start_ms, m.stretch.end_ms, codes.get(m.person_id or 0, ""))
                for m in waiting_names(Readings(connection, self._rooms.context()), viewer, row.id)
            )

    def decide(
        self, viewer: Viewer, recording: str, start_ms: int, end_ms: int, person: str, decision: str, how: str = "",
        instead: str = "", waiting: bool = False,
    ) -> None:  # fmt: skip
        """Decide one stretch: hide (`instead`: the own words of its mask), keep, cleared (how it was cleared must be said), public (where).

        Raises NotFound where the viewer may not read it, or (but for hiding) no name was noted exactly there; Refused
        where it may not be heard and would not be hidden; Clash where only what waits was meant (`waiting`) and it was decided.
        """
        need(viewer, *EDITORS)
        chosen = _checked(decision, how, instead)
        with self._rooms.db.write() as connection:
            row = recordings.by_code(connection, recording)
            who = person_of(connection, viewer, person) if person else None
            if row is None or (person and who is None):
                raise NotFound("There is no such recording or person.")
            stretch = custody.snap_outwards(connection, Stretch(row.id, start_ms, end_ms))
            readings = Readings(connection, self._rooms.context())
            person_id = who.id if who is not None else None
            known = self._readable(readings, viewer, stretch, person_id, chosen)
            if waiting and known is not None and known.decision != Decision.UNDECIDED:
                raise Clash("Somebody decided about this name meanwhile; nothing was changed.", "Load the page again, and listen to it.")
            own = checked_own_words(readings, instead, [stretch])
            kind, rule = (known.kind, known.rule) if known is not None else (Kind.NAME, "")
            mentions.decide(connection, stretch, person_id, chosen, how, viewer.name, self._rooms.now(), kind, rule, own)
            index_recording(connection, row.id, self._rooms.context())
            audit.record(
                connection, viewer.name, f"name {chosen.value}", f"recording {row.id}", self._rooms.now(),
                start_ms=stretch.start_ms, end_ms=stretch.end_ms, person=person_id,
            )  # fmt: skip

    def _readable(
        self, readings: Readings, viewer: Viewer, stretch: Stretch, person_id: int | None, chosen: Decision
    ) -> Mention | None:
        """What is noted exactly there, for who may read it, and hear it where it would be shown."""
        found, playable = placed(readings, viewer, stretch, person_id)
        if found is None:
            raise NotFound("There are no words there that you may read.", "See what waits: toldhere names waiting.")
        on_record = found if found.by else None
        if chosen.shows and on_record is None:
            raise NotFound("No name is noted exactly there; nothing was changed.", "See what waits, with its times: toldhere names waiting.")
        if chosen.shows and not playable:
            raise Refused("What may not be heard can only be hidden.", (), "Ask a keeper, or leave it as it is: undecided is hidden.")
        return on_record

    def read(self, viewer: Viewer, path: Path) -> tuple[int, int]:
        """Read mentions.csv: decisions on words of a recording. Returns (decided, not found in the transcript)."""
        need(viewer, *EDITORS)
        sheet = Sheet(path, ("file", "words", "decision"))
        decided = missing = 0
        with self._rooms.db.write() as connection:
            persons = people.ids_by_code(connection)
            touched = set()
            for row in sheet:
                recording = recording_of(connection, row)
                person_id = row.one_of("person", persons)
                decision = row.choice("decision", Decision, Decision.HIDE)
                kind = row.choice("kind", Kind, Kind.NAME)
                if recording is None:
                    continue
                try:
                    stretches = self._stretches(connection, viewer, recording.id, row.needed("words"))
                except BadInput as error:
                    row.fault(f"{error.message} {error.remedy}")
                    continue
                own = self._own_words(connection, row, decision, stretches)
                found = [m for m in noted(Readings(connection, self._rooms.context()), [recording.id]) if any(m.stretch.overlaps(s) for s in stretches)]
                if not found and decision != Decision.UNDECIDED:
                    # A place that holds somebody's name was not taken as naming them; a person decides it all the same.
                    for stretch in stretches:
                        mentions.decide(
                            connection, stretch, person_id, decision, row["note"], row["by"] or viewer.name, self._rooms.now(),
                            kind, "", own,
                        )  # fmt: skip
                    decided += len(stretches)
                missing += not found and not stretches
                if decision.shows:  # only words that were written in the row, whole, may stand
                    found = [m for m in found if any(s.start_ms <= m.stretch.start_ms and m.stretch.end_ms <= s.end_ms for s in stretches)]
                if any(m.decision not in (Decision.UNDECIDED, decision) for m in found if person_id in (None, m.person_id)):
                    row.fault("Somebody decided otherwise about these words. Leave the row out, or decide it on the pages.")
                    continue
                for mention in found:
                    if person_id in (None, mention.person_id) and (mention.decision, mention.instead) != (decision, own):
                        mentions.decide(
                            connection, mention.stretch, mention.person_id, decision, row["note"],
                            row["by"] or viewer.name, self._rooms.now(),
                            kind if row["kind"] else mention.kind, mention.rule, own,
                        )  # fmt: skip
                        decided += 1
                touched.add(recording.id)
            sheet.done()
            for recording_id in touched:
                index_recording(connection, recording_id, self._rooms.context())
            audit.record(connection, viewer.name, "names read", "sheet", self._rooms.now(), decided=decided)
        return decided, missing

    def _own_words(self, connection: Connection, row: SheetRow, decision: Decision, stretches: Sequence[Stretch]) -> str:
        """The own words of a mask from the column “instead”; "" with the row's fault where they cannot be taken."""
        if row["instead"] and decision != Decision.HIDE:
            row.fault("“instead” goes with “hide” alone: it says what stands where the name was.")
            return ""
        try:
            return checked_own_words(Readings(connection, self._rooms.context()), row["instead"], stretches)
        except BadInput as error:
            row.fault(f"{error.message} {error.remedy}")
            return ""

    def _stretches(self, connection: Connection, viewer: Viewer, recording_id: int, words: str) -> list[Stretch]:
        return custody.stretches_of(connection, viewer, recording_id, words, self._rooms.context())


def waits(mention: ShownMention) -> bool:
    """True where a person should decide: nobody has, and the words do not stand by a participant's own wish."""
    return mention.decision == Decision.UNDECIDED and not mention.stands


def key_of(mention: ShownMention) -> str:
    """A stretch as commands and addresses write it."""
    return f"{mention.recording}@{phrases.from_to(mention.start_ms, mention.end_ms)}"


def _words_key(mention: ShownMention) -> tuple[str, str]:
    return mention.kind, " ".join(folded(core(word)) for word in mention.said.split())


def _grouped(shown: Sequence[ShownMention]) -> list[list[ShownMention]]:
    groups: dict[tuple[str, str], list[ShownMention]] = {}
    for mention in shown:
        groups.setdefault((mention.person, "") if mention.person else ("", repr(_words_key(mention))), []).append(mention)
    return list(groups.values())


def _checked(decision: str, how: str, instead: str) -> Decision:
    try:
        chosen = Decision(decision)
    except ValueError:
        raise BadInput(f"A name can be decided as {', '.join(Decision)}.") from None
    if chosen == Decision.CLEARED and not how.strip():
        raise BadInput("Say how it was cleared: who was asked, and when.")
    if chosen == Decision.PUBLIC and not how.strip():
        raise BadInput("Say where it is publicly known: which record or paper, and of when.")
    if instead.strip() and chosen != Decision.HIDE:
        raise BadInput("Words instead of a name go with “hide it” alone.", "Leave them out, or hide the name.")
    return chosen
