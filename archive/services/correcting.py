"""Correcting a transcript: what a person types is kept at once, undone at will, and becomes a version when they are done."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

from archive.db import audit, conflicts, people, recordings, sittings
from archive.db.session import Connection, Row
from archive.domain import editing
from archive.domain.cleared import ShownConflict, ShownDifference, ShownLine
from archive.domain.editing import Line
from archive.domain.values import Viewer
from archive.errors import BadInput, Clash, NotFound
from archive.gate import custody
from archive.gate.merged import decided, show_conflicts
from archive.gate.reading import Readings
from archive.gate.typing import LineAct, change_for, lines_now, require_open, show_differences, show_lines
from archive.services.describing import describe_recording
from archive.services.reaching import recording_named
from archive.services.rooms import EDITORS, HELPERS, Rooms, need

MOST_LINES = 400  # shown in one answer
MARK_LETTERS = 40


@dataclass(frozen=True, slots=True)
class Desk:
    """What somebody who corrects needs to know of a recording, beside its lines."""

    progress: editing.Progress
    unsaved: int  # changes that are in no version yet
    others: tuple[str, ...]  # who else sits at it
    may_undo: bool
    may_redo: bool
    conflicts: int  # places where a newer hearing differs from what people corrected, not decided yet


@dataclass(frozen=True, slots=True)
class Changed:
    """What a change came to: `gone` lines are replaced by `lines`, which stand after the line `after` (0: at the beginning)."""

    gone: tuple[int, ...]
    lines: tuple[ShownLine, ...]
    after: int
    desk: Desk


@dataclass(frozen=True, slots=True)
class VersionRow:
    """One version: its number in the recording's list, how it came, by whom, when, and who else typed in it."""

    number: int
    kind: str
    by: str
    also: tuple[str, ...]
    at: str
    today: bool


class Correcting:
    """Correcting transcripts of one archive."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms

    # -- reading -----------------------------------------------------------------------------------------------
    def desk(self, viewer: Viewer, code: str) -> Desk:
        """How a recording stands at this person's desk."""
        need(viewer, *HELPERS)
        with self._rooms.db.read() as connection:
            row = recording_named(connection, viewer, code)
            return self._desk(connection, viewer, row.id, lines_now(connection, row.id))

    def lines(self, viewer: Viewer, code: str, first: int = 0, most: int = MOST_LINES) -> tuple[tuple[ShownLine, ...], int]:
        """So many lines from the line number `first` on, as they stand now; and how many there are."""
        need(viewer, *HELPERS)
        with self._rooms.db.read() as connection:
            row = recording_named(connection, viewer, code)
            every = lines_now(connection, row.id)
            some = every[max(0, first) : max(0, first) + min(most, MOST_LINES)]
            return self._show(connection, viewer, row.id, some), len(every)

    def lines_at(self, viewer: Viewer, code: str, start_ms: int, end_ms: int) -> tuple[ShownLine, ...]:
        """The lines that share time with a stretch, as they stand now: what somebody else typed meanwhile."""
        need(viewer, *HELPERS)
        with self._rooms.db.read() as connection:
            row = recording_named(connection, viewer, code)
            near = [n for n in lines_now(connection, row.id) if n.start_ms < end_ms and start_ms < n.end_ms]
            return self._show(connection, viewer, row.id, near[:MOST_LINES])

    def _show(self, connection: Connection, viewer: Viewer, recording_id: int, lines: Iterable[Line]) -> tuple[ShownLine, ...]:
        readings = Readings(connection, self._rooms.context())
        return show_lines(readings, viewer, recording_id, list(lines), self._rooms.options.doubtful_below)

    def _desk(self, connection: Connection, viewer: Viewer, recording_id: int, lines: list[Line]) -> Desk:
        at_it = sittings.at_it(connection, recording_id)
        mine = [s.id for s in at_it if s.by == viewer.name]
        journal = sittings.journal(connection, mine[0]) if mine else []
        return Desk(
            editing.progress((n.state, n.speaker_id is None, n.verbatim, 1) for n in lines), sittings.count_waiting(connection, recording_id), tuple(s.by for s in at_it if s.by != viewer.name),
            bool(editing.to_undo(journal)), bool(editing.to_redo(journal)), conflicts.count_open(connection, recording_id),
        )  # fmt: skip

    # -- changing ----------------------------------------------------------------------------------------------
    def change(self, viewer: Viewer, code: str, asked: LineAct, mark: str, speaker: str | None = None) -> Changed:
        """Do one thing to one line or several. `mark`: of the page that asks, its own for every change; what comes twice counts once.
        `speaker`: a participant's code, "" for nobody. Raises Clash where somebody else was there first: nothing is changed."""
        need(viewer, *HELPERS)
        with self._rooms.db.write() as connection:
            row = recording_named(connection, viewer, code)
            if speaker:
                asked = replace(asked, person_id=self._participant(connection, row, speaker))
            readings = Readings(connection, self._rooms.context())
            lines = lines_now(connection, row.id)
            before = self._done_before(connection, viewer, row.id, lines, mark)
            if before is not None:
                return before
            change = change_for(readings, viewer, row.id, lines, asked, viewer.name)
            return self._keep(connection, viewer, row.id, lines, change, mark, 0)

    def _participant(self, connection: Connection, row: Row[Any], code: str) -> int:
        person = people.by_code(connection, code)
        if person is None or person.id not in people.participants(connection, row.interview_id):
            raise BadInput("Somebody named did not take part in this interview.", "Add them to the interview first.")
        return int(person.id)

    def undo(self, viewer: Viewer, code: str, mark: str, again: bool = False) -> Changed:
        """Turn round the last change of this person's sitting (`again`: the last undoing). Raises Clash where there is none,
        or where somebody else changed the same lines since."""
        need(viewer, *HELPERS)
        with self._rooms.db.write() as connection:
            row = recording_named(connection, viewer, code)
            lines = lines_now(connection, row.id)
            before = self._done_before(connection, viewer, row.id, lines, mark)
            if before is not None:
                return before
            journal = sittings.journal(connection, sittings.sit_down(connection, row.id, viewer.name, self._rooms.now()))
            target = editing.to_redo(journal) if again else editing.to_undo(journal)
            entry = sittings.by_id(connection, target) if target else None
            if entry is None:
                raise Clash("There is nothing to do again." if again else "There is nothing to undo in this sitting.", "Older texts are in the list of versions.")
            change = sittings.change_of(entry).turned()
            require_open(Readings(connection, self._rooms.context()), viewer, row.id, change)
            return self._keep(connection, viewer, row.id, lines, change, mark, target)

    # -- where a newer hearing differs from what people corrected --------------------------------------------------
    def conflicts(self, viewer: Viewer, code: str) -> tuple[ShownConflict, ...]:
        """What is to be decided, in order of time, as far as this viewer may read it."""
        need(viewer, *HELPERS)
        with self._rooms.db.read() as connection:
            row = recording_named(connection, viewer, code)
            return show_conflicts(Readings(connection, self._rooms.context()), viewer, row.id, lines_now(connection, row.id))

    def decide(self, viewer: Viewer, code: str, conflict_id: int, take: bool, mark: str) -> Changed:
        """Decide one: what stands there stays; or `take` the newer wording, as a change of this sitting that can be undone.
        Raises NotFound where there is none, Clash where somebody decided it, Refused where it is closed."""
        need(viewer, *HELPERS)
        with self._rooms.db.write() as connection:
            row = recording_named(connection, viewer, code)
            lines = lines_now(connection, row.id)
            before = self._done_before(connection, viewer, row.id, lines, mark)
            if before is not None:
                return before
            found = conflicts.by_id(connection, conflict_id)
            if found is None or found.recording_id != row.id:
                raise NotFound("There is nothing of that kind to decide.", "Load the page again.")
            wanted = "theirs" if take else "ours"
            if (found.decided, found.decided_by) == (wanted, viewer.name):  # the answer got lost, and it is asked again
                return Changed((), (), 0, self._desk(connection, viewer, row.id, lines))
            if found.decided:
                raise Clash("Somebody decided this meanwhile.", "What stands there now is what they chose; it can be typed over.")
            change = decided(Readings(connection, self._rooms.context()), viewer, found, lines, take, viewer.name)
            now = self._rooms.now()
            conflicts.decide(connection, conflict_id, wanted, viewer.name, now)
            audit.record(connection, viewer.name, "wording decided", f"recording {row.id}", now, conflict=conflict_id, newer=take)
            if change is None:
                return Changed((), (), 0, self._desk(connection, viewer, row.id, lines))
            return self._keep(connection, viewer, row.id, lines, change, mark, 0)

    def _done_before(self, connection: Connection, viewer: Viewer, recording_id: int, lines: list[Line], mark: str) -> Changed | None:
        """What this page was answered under this mark, as it stands now; None where the mark is new."""
        known = _sent_before(connection, viewer, recording_id, mark)
        return self._done(connection, viewer, recording_id, lines, known) if known is not None else None

    def _keep(
        self, connection: Connection, viewer: Viewer, recording_id: int, lines: list[Line], change: editing.Change, mark: str, undoes: int
    ) -> Changed:  # fmt: skip
        now = self._rooms.now()
        editing.apply(lines, change)
        if not lines:
            raise BadInput("A transcript keeps one line at least.", "Type what is said into it.")
        sitting = sittings.sit_down(connection, recording_id, viewer.name, now)
        sittings.add_edit(connection, sitting, recording_id, mark, change, undoes, viewer.name, now)
        return self._done(connection, viewer, recording_id, lines, change)

    def _done(self, connection: Connection, viewer: Viewer, recording_id: int, lines: list[Line], change: editing.Change) -> Changed:
        shown = self._show(connection, viewer, recording_id, [n for n in change.new if n in lines])
        gone = tuple(n.key for n in change.old if n not in change.new)
        return Changed(gone, shown, change.after, self._desk(connection, viewer, recording_id, lines))

    def finish(self, viewer: Viewer, code: str) -> int:
        """End this person's sitting: what was changed becomes a version, is described anew and can be found. Returns how many versions there are."""
        need(viewer, *HELPERS)
        with self._rooms.db.write() as connection:
            row = recording_named(connection, viewer, code)
            now = self._rooms.now()
            made = custody.settle(connection, row.id, viewer.name, now)
            sittings.stand_up(connection, row.id, viewer.name, now)
            if made is not None:
                describe_recording(connection, row.id, self._rooms.context(), viewer.name, now)
                audit.record(connection, viewer.name, "transcript corrected", f"recording {row.id}", now, version=made)
            return len(sittings.versions_of(connection, row.id))

    # -- versions ----------------------------------------------------------------------------------------------
    def versions(self, viewer: Viewer, code: str) -> tuple[VersionRow, ...]:
        """Every version of a recording's transcript, the newest first."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            row = recordings.named(connection, code)
            found, before = [], 0
            every = sittings.versions_of(connection, row.id)
            for number, version in enumerate(every, 1):
                typed = sittings.edits_between(connection, row.id, before, version.edits_to)
                before = version.edits_to
                also = tuple(by for by in typed if by != version.by)
                found.append(VersionRow(number, version.kind, version.by, also, version.at, number == len(every)))
            return tuple(reversed(found))

    def compare(self, viewer: Viewer, code: str, before: int, after: int) -> tuple[ShownDifference, ...]:
        """Where two versions (by their numbers in the list) differ, word by word, in what this viewer may read."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            row = recordings.named(connection, code)
            one, other = (self._version(connection, row.id, number) for number in (before, after))
            readings = Readings(connection, self._rooms.context())
            return show_differences(readings, viewer, row.id, one.id, other.id)

    def back_to(self, viewer: Viewer, code: str, number: int) -> None:
        """Make an older version the newest one again, as a new version: nothing that came after it is lost."""
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            row = recordings.named(connection, code)
            old = self._version(connection, row.id, number)
            now = self._rooms.now()
            custody.settle(connection, row.id, viewer.name, now)
            made = custody.keep_again(connection, row.id, old.id, viewer.name, now)
            describe_recording(connection, row.id, self._rooms.context(), viewer.name, now)
            audit.record(connection, viewer.name, "older transcript taken up", f"recording {row.id}", now, version=made, of=old.id)

    def _version(self, connection: Connection, recording_id: int, number: int) -> Row[Any]:
        every = sittings.versions_of(connection, recording_id)
        if not 1 <= number <= len(every):
            raise NotFound("There is no such version.", "See the list of versions.")
        return every[number - 1]


def _sent_before(connection: Connection, viewer: Viewer, recording_id: int, mark: str) -> editing.Change | None:
    """What this page already did under this mark, None where it is new. Raises BadInput where it is no mark of this person's here."""
    known = sittings.by_mark(connection, mark)
    well_made = 8 <= len(mark) <= MARK_LETTERS and mark.isascii() and mark.isprintable()
    if not well_made or (known is not None and (known.recording_id != recording_id or known.by != viewer.name)):
        raise BadInput("This change could not be read.", "Load the page again; what was saved is kept.")
    return sittings.change_of(known) if known is not None else None
