"""Erasure: asked for with a reason, agreed to by a second keeper or after some days, carried out at once and completely, and proved.

An erasure that was begun is always ended: whatever opens the archive next goes on with it. What was erased once is erased again in an
archive that was restored from a backup of before, when it is opened.
"""

from __future__ import annotations

import contextlib
import secrets
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from archive.db import accounts, audit, erasures, origins, people, reach, recordings, tasks
from archive.db.session import Connection, Row
from archive.domain import phrases
from archive.domain.erasing import STEPS, Paper, Part, State, digest_by, silent_but_for_others
from archive.domain.values import Part as Takes
from archive.domain.values import Role, Stretch, Viewer
from archive.errors import BadInput, Clash, Erasing, NotAllowed, NotFound, Refused
from archive.files import erasedlist, remains
from archive.files.closed import Closed
from archive.gate import custody
from archive.gate import erased as gate_erased
from archive.services.accounts import Accounts
from archive.services.consent import Consent
from archive.services.erasing_steps import CONNECT, Steps, there_too, write_list
from archive.services.reaching import person_of
from archive.services.rooms import KEEPER, Rooms, need
from archive.services.secondplace import SecondPlace

CAUTIONS = (
    "An erasure cannot be undone. To stop every use and keep the recording closed instead, withdraw or seal it.",
    "It cannot call back what was printed, copied or seen, nor what lies outside this archive: that becomes a list of tasks.",
    "After it our own computer does not know the name any more, so it cannot hide it in recordings that come later.",
    "Not legal advice: local law and your institution's own counsel decide, also how long papers and money matters must be kept.",
)
NONE = "There is no such erasure."
SEE = "See Upkeep, Erasure, or: toldhere erase list."


@dataclass(frozen=True, slots=True)
class Going:
    """What goes of one recording: `stretches` in words, () for all of it."""

    recording: str
    stretches: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Task:
    """Something outside that people see to; it is ticked on the list of tasks."""

    id: int
    words: str
    done_by: str
    done_at: str


@dataclass(frozen=True, slots=True)
class ErasureRow:
    """An erasure in the list. `state`: domain.erasing.State; `open_tasks`: how many are not ticked."""

    code: str
    target: str
    state: str
    asked_on: str
    by: str
    open_tasks: int


@dataclass(frozen=True, slots=True)
class ErasurePage:
    """One erasure. `may`: whether it may be carried out now; `why_not`: in words. `step`: how far it has come, in words."""

    row: ErasureRow
    reason: str
    paper: str
    going: tuple[Going, ...]
    due_on: date
    seconded_by: str
    may: bool
    why_not: str
    step: str
    ended_at: str
    tasks: tuple[Task, ...]
    cautions: tuple[str, ...] = CAUTIONS


class Erasures:
    """Erasures of one archive."""

    cautions = CAUTIONS

    def __init__(self, rooms: Rooms, consent: Consent, people_may: Accounts, second: SecondPlace) -> None:
        self._rooms, self._consent, self._accounts, self._second = rooms, consent, people_may, second
        self.after: Callable[[int], None] = lambda step: None  # called after each step that was committed

    # -- asking ------------------------------------------------------------------------------------------------
    def ask(self, viewer: Viewer, target: str, reason: str, paper: str, whole: bool = False) -> str:
        """Ask for the erasure of a person (N-06), a recording (TW-06.1) or a stretch (TW-06.1@1:16-1:25); returns its code.

        It is held at once. `paper`: keep or destroy, of the signed one. `whole`: every recording of a person whole, also where others
        are heard. Raises BadInput, NotFound, Clash; then nothing was changed.
        """
        need(viewer, *KEEPER)
        target = target.strip()
        if not reason.strip():
            raise BadInput("An erasure needs a reason, which is kept.", "Say who asked for it, when and how.")
        if paper not in set(Paper):
            raise BadInput("Say what becomes of the signed paper: keep, or destroy.", "Keep it where you may have to show that you were allowed to record.")
        with self._rooms.db.read() as connection:
            person, parts = self._meant(connection, target, whole)
            if person is not None and person_of(connection, viewer, person.code) is None:
                raise NotFound("There is no such person on record.")
            if (before := erasures.open_for(connection, target)) is not None:
                raise Clash(f"The erasure of {target} was asked for already ({before.code}).", SEE)
        self._hold(viewer, target, person, parts)
        with self._rooms.db.write() as connection:
            due = self._rooms.today() + timedelta(days=self._rooms.options.erasure_wait_days)
            made, code = erasures.ask(
                connection, target=target, person_id=person.id if person is not None else None, parts=[p.to_json() for p in parts], paper=paper,
                reason=reason.strip(), state=State.ASKED.value, due_on=due, by=viewer.name, at=self._rooms.now(), made={"whole": whole},
            )  # fmt: skip
            audit.record(connection, viewer.name, "erasure asked for", f"erasure {made}", self._rooms.now(), paper=paper, parts=len(parts))
        return code

    def _hold(self, viewer: Viewer, target: str, person: Row[Any] | None, parts: Sequence[Part]) -> None:
        """Nothing of it is used while it waits."""
        if person is not None:
            self._consent.pause(viewer, person.code, "an erasure was asked for")
            return
        for part in parts:
            with self._rooms.db.read() as connection:
                length_ms = recordings.named(connection, part.recording).duration_ms
            for start_ms, end_ms in part.stretches or ((0, length_ms),):
                self._consent.seal(viewer, part.recording, start_ms, end_ms, "an erasure was asked for")

    def _meant(self, connection: Connection, target: str, whole: bool) -> tuple[Row[Any] | None, tuple[Part, ...]]:
        person = people.by_code(connection, target)
        if person is not None:
            if person.erased_at:
                raise NotFound(f"{target} was erased already.", SEE)
            return person, self._of_person(connection, person.id, whole)
        if "@" in target:
            code, start_ms, end_ms = phrases.stretch(target)
            row = recordings.named(connection, code)
            if end_ms > row.duration_ms:
                raise NotFound("The recording ends before that.", f"It lasts until {phrases.exact(row.duration_ms)}.")
            there = [(row, start_ms, end_ms), *self._beside(connection, row, start_ms, end_ms)]
            return None, tuple(self._stretch(connection, *one) for one in there)
        alone = recordings.by_code(connection, target)
        if alone is None:
            raise NotFound("There is no such person, recording or stretch.", "Name a person (N-06), a recording (TW-06.1) or a stretch (TW-06.1@1:16-1:25).")
        return None, (Part(alone.code, recordings.master_of(connection, alone.id).sha256),)

    def _stretch(self, connection: Connection, row: Row[Any], start_ms: int, end_ms: int) -> Part:
        snapped = custody.snap_outwards(connection, Stretch(row.id, start_ms, end_ms))
        return Part(row.code, recordings.master_of(connection, row.id).sha256, ((snapped.start_ms, snapped.end_ms),))

    def _beside(self, connection: Connection, row: Row[Any], start_ms: int, end_ms: int) -> Iterator[tuple[Row[Any], int, int]]:
        """The same moment in the file of another microphone."""
        for other_id, later_ms in origins.same_time(connection, row.id):
            other = recordings.by_id(connection, other_id)
            start, end = max(0, start_ms - later_ms), min(other.duration_ms, end_ms - later_ms)
            if end > start and not other.erased_at:
                yield other, start, end

    def _of_person(self, connection: Connection, person_id: int, whole: bool) -> tuple[Part, ...]:
        found = []
        for interview_id in dict.fromkeys(t.id for t in people.interviews_of(connection, person_id)):
            others = {p for p, role in people.participants(connection, interview_id).items() if role == Takes.NARRATOR.value} - {person_id}
            for row in recordings.of_interview(connection, interview_id):
                sha256 = recordings.master_of(connection, row.id).sha256
                if whole or not others:
                    found.append(Part(row.code, sha256))
                    continue
                found.append(Part(row.code, sha256, self._theirs(connection, row, person_id)))
        return tuple(found)

    def _theirs(self, connection: Connection, row: Row[Any], person_id: int) -> tuple[tuple[int, int], ...]:
        """What goes where other narrators are heard too. Raises Clash where it is not on record who speaks."""
        heard = gate_erased.heard_in(connection, row.id, self._rooms.context())
        if not heard or any(u.person_id is None for u in heard):
            raise Clash(
                f"Somebody else is heard in {row.code} too, and it is not on record who speaks in all of it. Nothing was changed.",
                "Name the speakers on its page first; or erase their recordings whole, also what the others say there.",
            )
        return silent_but_for_others(row.duration_ms, heard, person_id, self._rooms.options.mute_margin_ms)

    # -- deciding ----------------------------------------------------------------------------------------------
    def second(self, viewer: Viewer, code: str, password: str) -> None:
        """A second keeper agrees, with the password of their own account: it need not wait then. Raises NotAllowed, Clash."""
        need(viewer, *KEEPER)
        with self._rooms.db.read() as connection:
            row = self._asked(connection, code)
            keepers = {a.name for a in accounts.everything(connection) if a.active and a.role == Role.KEEPER.value}
        if row.by == viewer.name or viewer.name not in keepers:
            raise NotAllowed(
                "Whoever agrees must be another keeper than the one who asked, with an account and a password of their own.",
                f"Without a second keeper it may be carried out from {phrases.day(row.due_on)} on.",
            )
        self._accounts.sign_in(viewer.name, password, "an erasure")
        with self._rooms.db.write() as connection:
            row = self._asked(connection, code)
            erasures.change(connection, row.id, seconded_by=viewer.name)
            audit.record(connection, viewer.name, "erasure agreed to", f"erasure {row.id}", self._rooms.now())

    def take_back(self, viewer: Viewer, code: str, reason: str) -> None:
        """Do not carry it out. What holds the speech meanwhile stays until a keeper lifts it."""
        need(viewer, *KEEPER)
        if not reason.strip():
            raise BadInput("Say why it is taken back; it is kept.", "A sentence will do.")
        with self._rooms.db.write() as connection:
            row = self._asked(connection, code)
            kept = f"{row.reason}\nTaken back: {reason.strip()}"
            erasures.change(connection, row.id, state=State.TAKEN_BACK.value, reason=kept, ended_at=self._rooms.now())
            audit.record(connection, viewer.name, "erasure taken back", f"erasure {row.id}", self._rooms.now())

    def _asked(self, connection: Connection, code: str) -> Row[Any]:
        row = erasures.by_code(connection, code)
        if row is None:
            raise NotFound(NONE, SEE)
        if row.state != State.ASKED.value:
            raise Clash(f"{row.code} is {row.state}; nothing was changed.", SEE)
        return row

    def _why_not(self, row: Row[Any]) -> str:
        if row.seconded_by or row.due_on <= self._rooms.today():
            return ""
        return f"It waits for a second keeper to agree, or until {phrases.day(row.due_on)}."

    # -- carrying out ------------------------------------------------------------------------------------------
    def carry_out(self, viewer: Viewer, code: str) -> ErasurePage:
        """Erase, now. Nobody else reads or writes meanwhile. Raises Refused, Clash; Erasing where somebody reads on: then it goes on
        when the archive is opened next."""
        need(viewer, *KEEPER)
        with self._rooms.db.read() as connection:
            row = self._asked(connection, code)
            why_not = self._why_not(row)
            if why_not:
                raise Refused("This erasure may not be carried out yet.", (why_not,), "Ask the other keeper, or wait.")
            _, parts = self._meant(connection, row.target, bool(row.made.get("whole")))
        with self._closed() as closed:
            with self._rooms.db.write() as connection:
                row = self._asked(connection, code)
                erasures.change(connection, row.id, state=State.ERASING.value, parts=[p.to_json() for p in parts], made={}, step=0)
                audit.record(connection, viewer.name, "erasure begun", f"erasure {row.id}", self._rooms.now())
            self._steps(closed).run(row.id)
        return self.page(viewer, code)

    def _steps(self, closed: Closed) -> Steps:
        return Steps(self._rooms, self._second, closed, self.after)

    @contextlib.contextmanager
    def _closed(self) -> Iterator[Closed]:
        """The archive, closed to everybody else. It opens again where all went well; else the next to come goes on."""
        closed = Closed.take(self._rooms.folder)
        if closed is None:
            raise Erasing(Closed.words(self._rooms.folder) or "Something is being erased from this archive already.")
        with self._rooms.db.alone():
            try:
                yield closed
            except BaseException:
                if self._begun():
                    closed.let_go()
                else:
                    closed.open_again()
                raise
            closed.open_again()

    def _begun(self) -> bool:
        with self._rooms.db.read() as connection:
            return bool(erasures.everything(connection, State.ERASING))

    # -- opening an archive ------------------------------------------------------------------------------------
    @contextlib.contextmanager
    def opening(self) -> Iterator[None]:
        """Around the opening of an archive: what was interrupted is gone on with before anybody reads. Raises Erasing where another
        process is at it."""
        if not Closed.is_so(self._rooms.folder):
            yield
            return
        with self._closed() as closed:
            yield
            self._go_on(closed)

    def catch_up(self) -> None:
        """After opening: erase again what the list of the folder or of the second place has and this database does not, because it was
        restored from a backup of before; and remove copies from a second place that was away."""
        with self._rooms.db.read() as connection:
            begun = bool(erasures.everything(connection, State.ERASING))
            missing = self._missing(connection)
            waiting = [r for r in erasures.everything(connection, State.DONE) if r.touched.get("there")]
        if begun or missing:
            with self._closed() as closed:
                self._again(missing)
                self._go_on(closed)
        for row in waiting:
            if not there_too(self._rooms, self._second, row.touched["there"]):
                with self._rooms.db.write() as connection:
                    erasures.change(connection, row.id, touched={})
                    for task in erasures.tasks(connection, row.id):
                        if task.what == CONNECT:
                            tasks.tick(connection, task.id, "", "this computer", self._rooms.now())
                write_list(self._rooms, self._second)

    def _go_on(self, closed: Closed) -> None:
        with self._rooms.db.read() as connection:
            rows = erasures.everything(connection, State.ERASING)
        for row in rows:
            self._steps(closed).run(row.id)
            closed.forget_names()

    def _missing(self, connection: Connection) -> list[dict[str, Any]]:
        lists = [self._rooms.folder / erasedlist.FILE_NAME]
        place = self._second.known(connection)
        if place is not None and self._second.is_there(place):
            lists.append(place.path / erasedlist.FILE_NAME)
        known, own = erasures.marks(connection), audit.first(connection)
        found: dict[str, dict[str, Any]] = {}
        for path in lists:
            mark, entries = erasedlist.read(path)
            if mark == own:
                found |= {e["mark"]: e for e in entries if known.get(e["mark"]) not in (State.DONE.value, State.ERASING.value)}
        return list(found.values())

    def apply(self, viewer: Viewer, path: Path) -> int:
        """Erase again what a list has that was kept elsewhere; returns how many. Raises Clash where it is another archive's."""
        need(viewer, *KEEPER)
        mark, entries = erasedlist.read(path)
        with self._rooms.db.read() as connection:
            known, own = erasures.marks(connection), audit.first(connection)
        if mark != own:
            raise Clash("This is no list of what was erased from this archive. Nothing was changed.", "Take erased.json from a backup of this archive, or from its second place.")
        missing = [e for e in entries if known.get(e["mark"]) not in (State.DONE.value, State.ERASING.value)]
        if missing:
            with self._closed() as closed:
                self._again(missing)
                self._go_on(closed)
        return len(missing)

    def _again(self, entries: Sequence[dict[str, Any]]) -> None:
        """Put erasures on record that this database does not know, as begun."""
        now = self._rooms.now()
        with self._rooms.db.write() as connection:
            for entry in entries:
                person = people.by_code(connection, entry["person"]) if entry["person"] else None
                values = {
                    "target": entry["target"], "person_id": person.id if person is not None else None, "parts": entry["parts"], "paper": entry["paper"],
                    "state": State.ERASING.value, "made": {}, "step": 0,
                }  # fmt: skip
                known = next((r for r in erasures.everything(connection) if r.mark == entry["mark"]), None)
                if known is not None:
                    erasures.change(connection, known.id, **values)
                    made = known.id
                else:
                    again = "Erased again: it stands in the list that travels with backups."
                    made, _ = erasures.ask(connection, mark=entry["mark"], reason=again, due_on=self._rooms.today(), by="the list of what was erased", at=now, **values)
                audit.record(connection, "the list of what was erased", "erasure begun again", f"erasure {made}", now, mark=entry["mark"])

    # -- looking -----------------------------------------------------------------------------------------------
    def list(self, viewer: Viewer) -> tuple[ErasureRow, ...]:
        """Every erasure, newest first."""
        need(viewer, *KEEPER)
        with self._rooms.db.read() as connection:
            shut = reach.of(connection, viewer).people
            return tuple(self._line(connection, r) for r in reversed(erasures.everything(connection)) if r.person_id not in shut)

    def _line(self, connection: Connection, row: Row[Any]) -> ErasureRow:
        left = sum(t.done_at is None for t in erasures.tasks(connection, row.id))
        return ErasureRow(row.code, row.target, row.state, row.at[:10], row.by, left)

    def page(self, viewer: Viewer, code: str) -> ErasurePage:
        """One erasure, with what goes, what it waits for and what is left to do. Raises NotFound."""
        need(viewer, *KEEPER)
        with self._rooms.db.read() as connection:
            row = erasures.by_code(connection, code)
            if row is None or row.person_id in reach.of(connection, viewer).people:
                raise NotFound(NONE, SEE)
            left = tuple(Task(t.id, t.what, t.done_by, t.done_at or "") for t in erasures.tasks(connection, row.id))
            line = self._line(connection, row)
        going = tuple(Going(p.recording, tuple(phrases.from_to(s, e) for s, e in p.stretches)) for p in erasures.parts(row))
        asked = row.state == State.ASKED.value
        step = f"step {row.step} of {len(STEPS)}" if row.state == State.ERASING.value else ""
        why_not = self._why_not(row) if asked else ""
        return ErasurePage(line, row.reason, row.paper, going, row.due_on, row.seconded_by, asked and not why_not, why_not, step, row.ended_at or "", left)

    def search(self, viewer: Viewer, names: Sequence[str] = (), tick: Callable[[], None] = lambda: None) -> tuple[str, ...]:
        """Search the raw bytes of the whole folder for what was ever erased: sentences, none where nothing is found. Names are not kept,
        so that whoever wants them looked for says them."""
        need(viewer, *KEEPER)
        with self._rooms.db.read() as connection:
            traces = erasures.traces(connection)
        wanted = [remains.Wanted(digest_by(salt), frozenset(runs), frozenset(sound)) for _, salt, runs, sound in traces]
        typed = tuple(n.strip() for n in names if n.strip())
        if typed:
            wanted.append(remains.Wanted(digest_by(secrets.token_hex(16)), frozenset(), frozenset(), typed))
        return tuple(remains.search(self._rooms.folder, wanted, tick=tick))
