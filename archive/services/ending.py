"""What people decide later: they withdraw, think it over, or object to what is said of them. Each holds at once; what left already becomes tasks."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from os.path import commonpath, dirname, relpath
from typing import Any

from archive.db import audit, consent_rows, excerpts, jobs, mentions, objections, people, recordings, tasks, themes
from archive.db.session import Connection, Row
from archive.domain import phrases
from archive.domain.agreements import MACHINE, TEAM, ObjectionDecision, ReleaseKind, Restraint
from archive.domain.values import RestraintKind, Role, Stretch, Viewer, Way
from archive.errors import BadInput, Clash, NotFound
from archive.gate import custody
from archive.gate.indexing import index_recording
from archive.gate.pinned import Pinned
from archive.gate.reading import Readings
from archive.services.deciding import stretch_named
from archive.services.ending_rows import ObjectionRow, WithdrawalReport
from archive.services.exports import left_rows
from archive.services.people import concerns
from archive.services.reaching import codes_beyond, person_of
from archive.services.rooms import EDITORS, KEEPER, need
from archive.services.rows import LeftRow
from archive.services.sealing import Sealing

CANNOT = (
    "Withdrawal stops future use at once. It cannot recall what was printed or shown: see to the places listed by hand.",
    "The recording itself stays, closed; erasing it is another step.",
    "Not legal advice: ending a licence or a copyright assignment may be another matter; ask your institution's counsel.",
)
PAUSE_CANNOT = (
    "It is held at once, until a keeper lifts it on their own word. What was printed or shown already stays where it is: ask them about it.",
    "Not legal advice: local law and your institution's own counsel decide.",
)
OBJECTION_CANNOT = (
    "It is held at once, until a keeper decides, with a reason and a day. What was printed or shown already is for people to see to.",
    "Whoever objects may be a living third party, and what is said may be about health, crime, migration, a child, politics, religion, a union or where "
    "somebody comes from: it needs a person's eye.",
    "Not legal advice: local law and your institution's own counsel decide.",
)
LEFT = "left"  # the kind of task: something that left hangs, plays or lies somewhere
MOST_WORDS = 2000
CLIP = re.compile(r"clip-(\d+)\.")  # names of clips and captions say which item they are (services/exports.py)
NO_PERSON = ("There is no such person on record.", "Put them on record first: `toldhere people add`.")


@dataclass(frozen=True, slots=True)
class Aim:
    """What a withdrawal or a pause is meant for; "" and None mean any: a use, an interview, a stretch as it is written, a way."""

    use: str = ""
    interview: str = ""
    stretch: str = ""
    way: Way | None = None

    @property
    def whole(self) -> bool:
        """True where it is meant for everything of somebody's."""
        return not (self.use or self.interview or self.stretch or self.way)

    @property
    def stops(self) -> bool:
        """True where our own computer stops working on it, which makes words of a voice."""
        return self.use in ("", MACHINE) and self.way != Way.PICTURE

    @property
    def unheard(self) -> bool:
        """True where copies for listening go, as any cached sound."""
        return self.use in ("", MACHINE, TEAM) and self.way != Way.PICTURE


class Ending(Sealing):
    """Holds of one archive that people asked for, and how they end."""

    def withdraw(
        self, viewer: Viewer, code: str, use: str = "", interview: str = "", how: str = "", stretch: str = "", way: Way | None = None,
    ) -> WithdrawalReport:  # fmt: skip
        """One action: permissions end, jobs stop, finding stops with the commit, and what already went out becomes tasks.

        Everything of theirs, or one use, one way, one interview, one stretch (TW-01.1@1:16-1:25), or what several of these have in common.
        """
        need(viewer, *KEEPER)
        return self._hold(viewer, RestraintKind.WITHDRAWN, code, Aim(use, interview, stretch, way), how)

    def pause(
        self, viewer: Viewer, code: str, how: str = "", use: str = "", interview: str = "", stretch: str = "", way: Way | None = None,
    ) -> WithdrawalReport:  # fmt: skip
        """Somebody thinks it over: everything of theirs, or as much as they name, is held until it is lifted."""
        need(viewer, *EDITORS)
        return self._hold(viewer, RestraintKind.PAUSED, code, Aim(use, interview, stretch, way), how)

    def _hold(self, viewer: Viewer, kind: RestraintKind, code: str, aim: Aim, how: str) -> WithdrawalReport:
        now = self._rooms.now()
        with self._rooms.db.write() as connection:
            person = person_of(connection, viewer, code)
            if person is None:
                raise NotFound(NO_PERSON[0])
            held_interview = recordings.find_interview(connection, aim.interview) if aim.interview else None
            if aim.interview and held_interview is None:
                raise NotFound("There is no such interview.")
            if aim.use:
                consent_rows.load_use(connection, aim.use)
            there = custody.snap_outwards(connection, stretch_named(connection, aim.stretch)) if aim.stretch else None
            self._must_take_part(connection, person.id, held_interview, there)
            restraint_id = consent_rows.add_restraint(
                connection, kind=kind, person_id=person.id, stretch=there, from_on=self._rooms.today(), use=aim.use or None, way=aim.way,
                interview_id=held_interview.id if held_interview is not None else None, how=how, by=viewer.name, at=now,
            )  # fmt: skip
            mine = [r for t in people.interviews_of(connection, person.id) for r in recordings.of_interview(connection, t.id)]
            touched = [r for r in mine if held_interview is None or r.interview_id == held_interview.id]
            if there is not None:
                touched = [r for r in touched if r.id == there.recording_id]
                index_recording(connection, there.recording_id, self._rooms.context())
            themes.forget_taught(connection, [r.id for r in touched])
            naming = self._hide_names(connection, person.id) if aim.whole else set()  # in what others say as well
            stopped = self._stop(connection, touched, aim)
            report = self._report(
                connection, viewer, code, _scope(aim), kind, stopped, {r.id for r in touched} | naming, [restraint_id], person.id,
            )  # fmt: skip
            audit.record(
                connection, viewer.name, kind.value, f"restraint {restraint_id}", now, person=person.id, use=aim.use, way=aim.way or "",
                interview=aim.interview, jobs=stopped, excerpts=len(report.excerpts_flagged), exports=[o.export for o in report.already_out],
            )  # fmt: skip
        return report

    def _stop(self, connection: Connection, touched: Sequence[Row[Any]], aim: Aim) -> int:
        """End work on these recordings where our own computer may not listen any more, and delete their copies for listening: what may still be
        heard is cut from the master. Returns how many jobs were stopped."""
        stopped = 0
        if aim.stops:
            stopped = jobs.stop_of_recordings(connection, [r.code for r in touched], "Stopped: consent changed.", self._rooms.now())
        if aim.unheard:
            for row in touched:
                self._rooms.derived.remove(recordings.master_of(connection, row.id).sha256)
        return stopped

    def _report(
        self, connection: Connection, viewer: Viewer, code: str, scope: str, kind: RestraintKind, stopped: int, reached: Collection[int],
        holds: Sequence[int], person_id: int, objection: int = 0,
    ) -> WithdrawalReport:  # fmt: skip
        """What these holds did, in the same transaction: flagged excerpts, and what left with tasks made of it."""
        readings = Readings(connection, self._rooms.context())
        concerned = flagged(readings, reached, holds)
        theirs = excerpts.codes_in(connection, reached)
        out = tuple(
            replace(row, recall=tuple(one for one in row.recall if one[0] in theirs))
            for row in left_rows(readings, excerpts.register(connection, recording_ids=reached)) if any(code in theirs for code, _ in row.recall)
        )  # fmt: skip
        made = self._make_tasks(connection, viewer, out, person_id, holds[0] if not objection else None, objection or None)
        sentences = {RestraintKind.PAUSED: PAUSE_CANNOT, RestraintKind.OBJECTED: OBJECTION_CANNOT}.get(kind, CANNOT)
        return WithdrawalReport(
            code, scope, stopped, tuple(r.code for r in concerned), out, sentences,
            panels=tuple(dict.fromkeys(r.panel for r in concerned if r.panel)), hold=holds[0], objection=objection, tasks=made,
        )  # fmt: skip

    def _make_tasks(
        self, connection: Connection, viewer: Viewer, out: Sequence[LeftRow], person_id: int, restraint_id: int | None, objection_id: int | None
    ) -> int:
        """One for each export that left, and one for each place where a file of it stands; none twice while it waits."""
        ids = {row.export: excerpts.export_by_code(connection, row.export) for row in out}
        known = tasks.open_of_exports(connection, [row.id for row in ids.values() if row is not None])
        standing: dict[int, list[Row[Any]]] = {}
        for place in tasks.places(connection, [row.id for row in ids.values() if row is not None]):
            if place.down_on is None:
                standing.setdefault(place.export_id, []).append(place)
        made = 0
        for row in out:
            export = ids[row.export]
            if export is None:
                continue
            gone = [code for code, _ in row.recall]
            told = f"{row.export}, {phrases.day(row.on)}, for {row.use}: {', '.join(gone)}"
            files = _files_with(row, [i.item for i in excerpts.items(connection, export.id) if i.excerpt_code in gone])
            wanted: list[tuple[int | None, str]] = [(p.id, f"{told} in {p.name}. Take it down.") for p in standing.get(export.id, ()) if p.name in files]
            wanted.append((None, f"{told} in {', '.join(files)}. Call back what was handed on, and delete copies."))
            for placement_id, what in wanted:
                if (export.id, placement_id) not in known:
                    tasks.add_task(
                        connection, LEFT, what, viewer.name, self._rooms.now(), person_id=person_id, restraint_id=restraint_id,
                        objection_id=objection_id, export_id=export.id, placement_id=placement_id,
                    )  # fmt: skip
                    made += 1
        return made

    def _must_take_part(self, connection: Connection, person_id: int, interview: Row[Any] | None, stretch: Stretch | None) -> None:
        """Raises BadInput where a hold would have no effect: the person has neither a part nor an agreement there."""
        papers = consent_rows.load_standings(connection, [person_id])[person_id].agreements
        mine = {t.id for t in people.interviews_of(connection, person_id)} | {a.interview_id for a in papers if a.interview_id}
        aimed = {interview.id} if interview is not None else set()
        if stretch is not None:
            aimed |= {r.interview_id for r in recordings.everything(connection) if r.id == stretch.recording_id}
        if len(aimed) > 1:
            raise BadInput("That stretch does not lie in that interview. Nothing was changed.", "Name one of the two.")
        if not aimed <= mine:
            raise BadInput(
                "This person takes no part in that interview, so there is nothing of theirs to hold. Nothing was changed.",
                "Name their own interview or stretch. Who is only spoken about objects: `toldhere agreements object`.",
            )

    def _hide_names(self, connection: Connection, person_id: int) -> set[int]:
        """Index anew whatever names somebody, after a hold on them began or ended; returns the recordings."""
        naming = mentions.recordings_of(connection, person_id)
        for recording_id in naming:
            index_recording(connection, recording_id, self._rooms.context())
        return naming

    # -- objections --------------------------------------------------------------------------------------------
    def object(self, viewer: Viewer, code: str, how: str = "", stretch: str = "") -> WithdrawalReport:
        """Somebody who is spoken about objects: every utterance that names them, or one stretch, is held until a keeper decides.

        Each objection has holds of its own, also where another one holds the same: none ends with another's. Raises NotFound.
        """
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            person = person_of(connection, viewer, code)
            if person is None:
                raise NotFound(*NO_PERSON)
            if stretch:
                held = [stretch_named(connection, stretch)]
            else:
                held = custody.utterances_naming(connection, person.id, self._rooms.context())
            if not held:
                raise NotFound("Nothing on record names this person.", "Name the stretch that they object to (TW-01.1@1:16-1:25).")
            number = objections.add_objection(connection, person.id, how, self._rooms.today(), viewer.name, self._rooms.now())
            whole = [custody.snap_outwards(connection, one) for one in held]
            holds = [self._add_seal(connection, viewer, one, RestraintKind.OBJECTED, None, how, raised_by_id=person.id) for one in whole]
            objections.holds(connection, number, holds)
            touched = recordings.by_ids(connection, {one.recording_id for one in whole})
            stopped = self._stop(connection, touched, Aim())
            codes = {row.id: row.code for row in touched}
            report = self._report(
                connection, viewer, code, f"to {phrases.many(len(whole), 'stretch', 'stretches')}", RestraintKind.OBJECTED, stopped, codes.keys(),
                holds, person.id, number,
            )  # fmt: skip
            audit.record(
                connection, viewer.name, "objection", f"objection {number}", self._rooms.now(), person=person.id, holds=holds, jobs=stopped,
                excerpts=len(report.excerpts_flagged), exports=[o.export for o in report.already_out],
            )  # fmt: skip
        return _with_passages(report, whole, codes)

    def objections(self, viewer: Viewer) -> tuple[ObjectionRow, ...]:
        """Every objection with what it holds, those that wait for a decision first. Only a keeper reads how it came, and why it was decided so."""
        need(viewer, *EDITORS)
        today, all_told = self._rooms.today(), viewer.role == Role.KEEPER
        with self._rooms.db.read() as connection:
            codes = {r.id: r.code for r in recordings.everything(connection)}
            holds = {r.id: r for r, _, _ in consent_rows.stretch_holds(connection)}
            mine, beyond = objections.holds_of(connection), codes_beyond(connection, viewer)
            return tuple(
                ObjectionRow(
                    row.id, row.person_code, row.on, row.how if all_told else "",
                    tuple(_written(holds[h], codes) for h in mine[row.id]), sum(holds[h].holds_on(today) for h in mine[row.id]),
                    row.decision, row.reason if all_told else "", row.decided_on, row.decided_by if all_told else "",
                )
                for row in objections.everything(connection) if row.person_code not in beyond
            )  # fmt: skip

    def decide_objection(self, viewer: Viewer, number: int, decision: ObjectionDecision, reason: str) -> None:
        """Decide an objection, once, with the reason: what it holds stays held, or is open again as the agreements say. Raises Clash, NotFound."""
        need(viewer, *KEEPER)
        if not reason.strip() or len(reason) > MOST_WORDS:
            raise BadInput("A decision needs its reason. Nothing was changed.", f"Say in a sentence or two why, in at most {MOST_WORDS} letters.")
        today, now = self._rooms.today(), self._rooms.now()
        with self._rooms.db.write() as connection:
            if objections.by_id(connection, number) is None:
                raise NotFound("There is no such objection.", "See the list of objections.")
            if not objections.decide(connection, number, decision.value, reason.strip(), today, viewer.name):
                raise Clash("This objection was decided already. Nothing was changed.", "What it held is on the list of closed stretches.")
            ended = []
            if decision == ObjectionDecision.ENDED:
                mine = set(objections.holds_of(connection)[number])
                ended = [r.id for r, _, _ in consent_rows.stretch_holds(connection) if r.id in mine and r.holds_on(today)]
                for hold in ended:
                    self._open(connection, viewer, hold, reason)
            audit.record(connection, viewer.name, "objection decided", f"objection {number}", now, decision=decision.value, ended=ended)

    # -- how a hold ends ---------------------------------------------------------------------------------------
    def lift(self, viewer: Viewer, restraint_id: int, reason: str, reviewed: bool = False, person: str = "", kept: bool = False) -> None:
        """End a hold, say that one was reviewed at its end and is open (`reviewed`), or that it was looked at and stays closed (`kept`). A reason
        is required and kept.

        `person`: on whose page it is lifted; NotFound unless it is theirs or lies on what they take part in. Raises BadInput for a review before
        the end: it would open by itself later.
        """
        need(viewer, *KEEPER)
        kind = ReleaseKind.KEPT if kept else ReleaseKind.REVIEWED if reviewed else ReleaseKind.LIFTED
        with self._rooms.db.write() as connection:
            hold = consent_rows.restraint_by_id(connection, restraint_id)
            whose = person_of(connection, viewer, person) if person else None
            if hold is None or (person and (whose is None or not concerns(connection, whose.id, hold))):
                raise NotFound("There is no such hold.", "See the holds on the person's own page.")
            if kind == ReleaseKind.REVIEWED and (hold.until_on is None or hold.until_on > self._rooms.today()):
                raise BadInput(
                    "It has not come to its end, so it cannot be reviewed for that. Nothing was changed.",
                    "Say that you looked and it stays closed, or lift it now, with the reason.",
                )
            consent_rows.add_release(
                connection, restraint_id=restraint_id, kind=kind, from_on=self._rooms.today(), reason=reason,
                by=viewer.name, at=self._rooms.now(),
            )  # fmt: skip
            if hold.person_id is not None:
                self._hide_names(connection, hold.person_id)
            audit.record(connection, viewer.name, f"hold {kind.value}", f"restraint {restraint_id}", self._rooms.now())


def _files_with(row: LeftRow, items: Collection[int]) -> list[str]:
    """The files of an export that hold any of these items: sheets hold all, a clip and its captions one."""
    folder = commonpath([dirname(name) for name in row.files]) if row.files else ""
    names = [relpath(name, folder).replace("\\", "/") for name in row.files]
    return [name for name in names if (clip := CLIP.search(name)) is None or int(clip[1]) in items]


def _scope(aim: Aim) -> str:
    what = f"of {aim.stretch or aim.interview or 'everything'}"
    if aim.use:
        what += f" for {aim.use}"
    return what + (f", {phrases.in_way(aim.way)}" if aim.way else "")


def flagged(readings: Readings, recording_ids: Collection[int], holds: Sequence[int]) -> list[Row[Any]]:
    """Chosen excerpts of these recordings that these holds keep from leaving for their use, in words or in voice."""
    cited = {f"restraint {hold}" for hold in holds}
    found = []
    for row in excerpts.chosen(readings.connection):
        if row.recording_id in recording_ids:
            pinned = Pinned(readings, row)
            if any(pinned.holds(row.use, way) & cited for way in (Way.WORDS, Way.VOICE)):
                found.append(row)
    return found


def _written(hold: Restraint, codes: dict[int, str]) -> str:
    return f"{codes[hold.recording_id or 0]}@{phrases.from_to(hold.start_ms or 0, hold.end_ms or 0)}"


def _with_passages(report: WithdrawalReport, held: Sequence[Stretch], codes: dict[int, str]) -> WithdrawalReport:
    return replace(report, passages=tuple(f"{codes[s.recording_id]}@{phrases.from_to(s.start_ms, s.end_ms)}" for s in held))
