"""The steps of an erasure, in their order (domain/erasing.py): each is committed, and may be done again after a kill."""

from __future__ import annotations

import contextlib
import secrets
import shutil
import time
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path
from typing import Any

from archive.audio.silenced import kind_of, make_silenced, make_silent
from archive.db import audit, erasing, erasures, jobs, mentions, people, recordings, tasks
from archive.db.session import Connection, Row
from archive.domain.erasing import STEPS, Paper, Part, State, digest_by, merged, tokens
from archive.domain.phrases import day
from archive.errors import BadMedia, Erasing, Refused
from archive.files import erasedlist, remains
from archive.files.closed import FILE_NAME as CLOSED
from archive.files.closed import NAMES, Closed
from archive.files.masters import Masters
from archive.files.uploads import Uploads
from archive.gate import custody
from archive.gate import erased as gate_erased
from archive.gate.indexing import index_recording
from archive.services.access import queue_copy
from archive.services.describing import describe_recording
from archive.services.exports import GIVEN
from archive.services.measuring import measure_in_child
from archive.services.origins import COMPANIONS
from archive.services.papers import PAPERS
from archive.services.rooms import Rooms
from archive.services.secondplace import SecondPlace
from archive.services.uploads import FOLDER as UPLOADS
from archive.services.work import NOTICE_S, STAGING, sweep_staging

INTERRUPTED = "Something was erased meanwhile; it goes on by itself."
TRIES, PAUSE_S = 60, 0.5
BY = "the erasure"
UNREAD = "The recording {recording} could not be read, so nothing of its sound is left, of nobody. Should a whole copy be elsewhere, take it in anew and erase what is theirs there."
STILL_READ = "Somebody still reads what is being erased. Close the pages and programs that have the archive open; it goes on when it is opened next."


class Steps:
    """One erasure, carried out while the archive is closed to everybody else."""

    def __init__(self, rooms: Rooms, second: SecondPlace, closed: Closed, after: Callable[[int], None] = lambda step: None) -> None:
        self._rooms, self._second, self._closed, self._after = rooms, second, closed, after

    def run(self, erasure_id: int) -> None:
        """Do what is left of it. Raises Erasing where somebody reads on and on; NoSpace, BadMedia. The archive stays closed then."""
        steps = (self._begin, self._silence, self._words, self._describe, self._files, self._database, self._list, self._look)
        with self._rooms.db.read() as connection:
            first = int(erasures.by_id(connection, erasure_id).step)
        for n in range(first, len(steps)):
            self._closed.say(f"Something is being erased from this archive: step {n + 1} of {len(STEPS)}, {STEPS[n]}.")
            steps[n](erasure_id)
            with self._rooms.db.write() as connection:
                erasures.change(connection, erasure_id, step=n + 1)
            self._after(n + 1)
        self._end(erasure_id)

    def _row(self, connection: Connection, erasure_id: int) -> Row[Any]:
        return erasures.by_id(connection, erasure_id)

    # -- 1: nobody else works ----------------------------------------------------------------------------------
    def _begin(self, erasure_id: int) -> None:
        with self._rooms.db.read() as connection:
            row = self._row(connection, erasure_id)
            at_work = erasures.working(connection)
            names = erasing.names_of(connection, row.person_id) if row.person_id is not None else ()
        self._closed.keep_names(names)
        if at_work:
            time.sleep(NOTICE_S + PAUSE_S)  # their processes look so often whether they may go on, and end
        with self._rooms.db.write() as connection:
            for job_id in erasures.working(connection):
                jobs.give_back(connection, job_id, INTERRUPTED)
        sweep_staging(self._rooms)
        self._rooms.masters.sweep()

    # -- 2: masters in which this speech is silent -------------------------------------------------------------
    def _silence(self, erasure_id: int) -> None:
        with self._rooms.db.read() as connection:
            row = self._row(connection, erasure_id)
            found = [(part, erasures.recording_of(connection, part)) for part in erasures.parts(row) if not part.whole]
        for part, recording in found:
            if recording is not None and not recording.erased_at and str(recording.id) not in row.made:
                self._one_silent(erasure_id, row, part, recording.id)

    def _one_silent(self, erasure_id: int, row: Row[Any], part: Part, recording_id: int) -> None:
        with self._rooms.db.read() as connection:
            master = recordings.master_of(connection, recording_id)
            measured = recordings.measurement_of(connection, recording_id)
        assert measured is not None
        beyond = 0 if row.person_id is not None else self._rooms.options.mute_margin_ms  # a word's time is a guess
        gone = merged((max(0, s - beyond), e + beyond) for s, e in part.stretches)
        folder = self._staging(erasure_id)
        folder.mkdir(parents=True, exist_ok=True)
        extension = kind_of(measured.codec, measured.channels)
        out = folder / f"{recording_id}.{extension}"
        out.unlink(missing_ok=True)
        source = self._rooms.masters.path(master.sha256, master.extension)
        unread = ""
        try:
            make_silenced(source, out, gone, measured.codec, measured.bit_depth, self._rooms.caps(), track=master.track)
        except (BadMedia, OSError):  # what was begun must end
            unread = UNREAD.format(recording=part.recording)
            make_silent(out, measured.duration_ms, measured.rate_hz, measured.channels)
        taken = self._rooms.masters.take(out, extension, max(self._rooms.options.max_bytes, out.stat().st_size))
        out.unlink()
        with self._rooms.db.write() as connection:
            made = {**self._row(connection, erasure_id).made, str(recording_id): [taken.sha256, extension, taken.bytes, master.sha256]}
            erasures.change(connection, erasure_id, made=made)
            erasures.add_tasks(connection, row, [unread] if unread else [], self._rooms.now())

    def _staging(self, erasure_id: int) -> Path:
        return self._rooms.folder / STAGING / f"erasing-{erasure_id}"

    # -- 3: words, names and records ---------------------------------------------------------------------------
    def _words(self, erasure_id: int) -> None:
        now, salt = self._rooms.now(), secrets.token_hex(16)
        digest = digest_by(salt)
        with self._rooms.db.write() as connection, erasing.guards_open(connection):
            row = self._row(connection, erasure_id)
            if row.step > 2:
                return
            parts = [(p, r) for p in erasures.parts(row) if (r := erasures.recording_of(connection, p)) is not None and not r.erased_at]
            touched: dict[str, Any] = {"sums": [], "companions": [], "uploads": [], "given": [], "again": [], "there": [], "papers": []}
            runs: set[bytes] = set()
            sound: set[bytes] = set()
            lost: dict[int, str] = {}
            said_by_others = mentions.recordings_of(connection, row.person_id) if row.person_id is not None else set()
            for part, recording in parts:
                old = recordings.master_of(connection, recording.id).sha256
                touched["sums"] += sorted({old, part.sha256})
                runs |= gate_erased.runs_of(connection, recording.id, digest, part.stretches)
                sound |= self._sound_of(old, row.made.get(str(recording.id)), digest)
                lost |= self._one(connection, row, part, recording, touched, now)
            if row.person_id is not None:
                touched["papers"] = erasing.papers_of(connection, row.person_id)
                erasing.person_gone(connection, row.person_id, row.paper == Paper.DESTROY, BY, now)
            codes = [r.code for p, r in parts if p.whole] + ([people.codes_by_id(connection)[row.person_id]] if row.person_id is not None else [])
            bears = erasing.scrub(connection, self._closed.names(), codes)
            touched["again"] = sorted({*touched["again"], *(said_by_others - {r.id for p, r in parts if p.whole})})
            gone_now = gate_erased.runs_left(connection, digest, runs)
            erasures.keep_trace(connection, erasure_id, salt, runs - gone_now, sound)
            erasures.add_tasks(connection, row, self._tasks(connection, row, parts, lost, bears), now)
            self._forget_details(connection, row, parts, lost)
            audit.record(
                connection, row.by, "words erased", f"erasure {row.id}", now, mark=row.mark, recordings=[r.id for _, r in parts], person=row.person_id,
                excerpts=sorted(lost), reason_given=bool(row.reason), seconded_by=row.seconded_by,
            )  # fmt: skip
            erasures.change(connection, erasure_id, touched=touched, step=3)

    def _sound_of(self, sha256: str, made: list[Any] | None, digest: Callable[[bytes], bytes]) -> set[bytes]:
        old = self._rooms.masters.find(sha256)
        if old is None:
            return set()
        found = remains.blocks_of(old, digest)
        new = self._rooms.masters.find(made[0]) if made else None
        return found - remains.holds_blocks(new, digest, found) if new is not None else found

    def _one(self, connection: Connection, row: Row[Any], part: Part, recording: Row[Any], touched: dict[str, Any], now: str) -> dict[int, str]:
        """Erase one part; returns id → code of the excerpts that went with it."""
        files = erasing.files_of(connection, recording.id)
        touched["companions"] += files["companions"]
        touched["uploads"] += files["uploads"]
        if not part.whole:
            custody.settle(connection, recording.id, BY, now)
        before = {r.id: r.code for r in erasing.excerpts_of(connection, recording.id)}
        readings = erasing.readings_of(connection, before)
        if part.whole:
            touched["given"] += [out.code for out in erasing.exports_of(connection, before)]
            gate_erased.erase_all(connection, recording.id)
            erasing.recording_gone(connection, recording.id, now)
        else:
            numbers = gate_erased.erase_part(connection, recording.id, part.stretches, row.person_id)
            before = {r.id: r.code for r in erasing.lost_excerpts(connection, recording.id, numbers)}
            touched["given"] += [out.code for out in erasing.exports_of(connection, before)]
            erasing.stretches_gone(connection, recording.id, part.stretches, numbers, now)
            sha256, extension, size, old = row.made[str(recording.id)]
            erasing.new_master(connection, recording.id, sha256=sha256, extension=extension, bytes=size, made_from=old)
            touched["again"].append(recording.id)
        kept = erasures.master_sums(connection)
        touched["sums"] += [s for s in readings if s not in kept]
        return before

    def _tasks(self, connection: Connection, row: Row[Any], parts: list[tuple[Part, Row[Any]]], lost: dict[int, str], bears: list[str]) -> list[str]:
        """What lies outside and only people can see to."""
        some = []
        for out in erasing.exports_of(connection, lost):
            inside = (self._rooms.folder / GIVEN / out.code).is_dir()
            there = "its folder in the archive is removed" if inside else f"delete its folder: {out.folder}"
            standing = [place.where for place in tasks.places(connection, [out.id]) if place.down_on is None]
            hangs = f" ({'; '.join(dict.fromkeys(standing))})" if standing else ""
            some.append(f"{out.code} went out on {day(out.at[:10])} for {out.use}: take down what hangs{hangs}, ask everybody who has a copy to delete it; {there}.")
        if parts:
            codes = ", ".join(r.code for _, r in parts)
            some += [
                f"Memory cards, recorders and telephones that {codes} came from: delete the files there and format the cards.",
                "Computers and mail of whoever recorded, transcribed, translated or designed: delete copies, attachments and drafts.",
                "Players, listening posts and screens: take the files off, also from cards kept in reserve.",
                "Deposits at libraries and archives, and whoever was given a copy: ask them to delete theirs, in writing.",
                "Older backups of this archive: delete them, or keep erased.json beside each; what is restored from one erases it again before it opens.",
                "Disks: blocks of an SSD, a card or a disk that were freed may still be read in a laboratory. If that is a danger, replace the disk and destroy it.",
            ]
        some.append("Field notebooks, printed transcripts and cuttings on paper: strike or shred what is theirs.")
        if row.person_id is not None:
            paper = "shred the signed paper, and every copy and scan of it elsewhere" if row.paper == Paper.DESTROY else "keep the signed paper apart and locked; note until when it is needed"
            some.append(f"Signed papers of {row.target}: {paper}.")
            names = {" ".join(tokens(n)) for n in self._closed.names()}
            if gate_erased.names_left(connection, names):
                some.append(f"{row.target} is named in what others said. It is hidden there for good; if it must go too, erase those stretches.")
        some += [f"{what} bears the name: give it another." for what in bears]
        return some

    def _forget_details(self, connection: Connection, row: Row[Any], parts: list[tuple[Part, Row[Any]]], lost: dict[int, str]) -> None:
        subjects = {f"recording {r.id}" for _, r in parts} | {f"excerpt {n}" for n in lost}
        texts = {r.code for _, r in parts} | set(lost.values()) | {p.sha256 for p, _ in parts}
        ids = {"recording": {r.id for _, r in parts}, "excerpt": set(lost)}
        if row.person_id is not None:
            subjects.add(f"person {row.person_id}")
            texts.add(people.codes_by_id(connection)[row.person_id])
            ids["person"] = {row.person_id}
        erasing.details_gone(connection, subjects, ids, texts)

    # -- 4: what stays is described anew -----------------------------------------------------------------------
    def _describe(self, erasure_id: int) -> None:
        with self._rooms.db.read() as connection:
            row = self._row(connection, erasure_id)
        for recording_id in row.touched["again"]:
            if str(recording_id) in row.made:
                with contextlib.suppress(BadMedia):  # it stays unmeasured: `sound --again`
                    self._measure(recording_id)
            with self._rooms.db.write() as connection:
                try:
                    if str(recording_id) in row.made:
                        describe_recording(connection, recording_id, self._rooms.context(), BY, self._rooms.now())
                except Refused:
                    pass  # our own computer may not listen to it: it is only indexed
                index_recording(connection, recording_id, self._rooms.context())

    def _measure(self, recording_id: int) -> None:
        with self._rooms.db.read() as connection:
            master = recordings.master_of(connection, recording_id)
        found = asdict(measure_in_child(self._rooms.masters.path(master.sha256, master.extension), self._rooms.caps()))
        found["ears"] = b"".join(found["ears"])
        with self._rooms.db.write() as connection:
            recordings.measured_again(connection, recording_id, **found)
            queue_copy(connection, recordings.by_id(connection, recording_id), BY, self._rooms.now())

    # -- 5: files ----------------------------------------------------------------------------------------------
    def _files(self, erasure_id: int) -> None:
        with self._rooms.db.read() as connection:
            row = self._row(connection, erasure_id)
            touched = dict(row.touched)
        companions, sent = Masters(self._rooms.folder / COMPANIONS), Uploads(self._rooms.folder / UPLOADS)
        for sha256 in touched["sums"]:
            self._rooms.masters.erase(sha256)
            self._rooms.derived.remove(sha256)
        for sha256 in touched["companions"]:
            companions.erase(sha256)
        if row.paper == Paper.DESTROY:
            for sha256 in touched["papers"]:
                Masters(self._rooms.folder / PAPERS).erase(sha256)
        for key in touched["uploads"]:
            sent.remove(key)
        for code in touched["given"]:  # by its code: the folder may have moved since
            shutil.rmtree(self._rooms.folder / GIVEN / code, ignore_errors=True)
        shutil.rmtree(self._rooms.folder / STAGING, ignore_errors=True)  # nobody works: what was put together may have it, and is made anew
        left = there_too(self._rooms, self._second, touched["sums"])
        with self._rooms.db.write() as connection:
            if left:
                erasures.add_tasks(connection, self._row(connection, erasure_id), [CONNECT], self._rooms.now())
            erasures.change(connection, erasure_id, touched={**touched, "there": touched["sums"] if left else []})

    # -- 6 to 8 ------------------------------------------------------------------------------------------------
    def _database(self, erasure_id: int) -> None:
        self._rooms.db.write_anew()
        for _ in range(TRIES):
            if self._rooms.db.empty_log():
                return
            time.sleep(PAUSE_S)
        raise Erasing(STILL_READ)

    def _list(self, erasure_id: int) -> None:
        write_list(self._rooms, self._second)

    def _look(self, erasure_id: int) -> None:
        with self._rooms.db.read() as connection:
            traces, kept = erasures.traces(connection, erasure_id), self._row(connection, erasure_id).touched.get("papers", [])
            names = self._closed.names()
            said = gate_erased.names_left(connection, {" ".join(tokens(n)) for n in names})
        silent = tuple(n for n in names if " ".join(tokens(n)) not in said)
        wanted = [remains.Wanted(digest_by(salt), frozenset(runs), frozenset(sound), silent) for _, salt, runs, sound in traces]
        papers = [f"{PAPERS}/{s[:2]}/{path.name}" for s in kept if (path := Masters(self._rooms.folder / PAPERS).find(s)) is not None]  # kept, as was asked
        found = remains.search(self._rooms.folder, wanted, skip=(CLOSED, NAMES, *papers), sound_too=False)
        with self._rooms.db.write() as connection:
            some = [f"Still found after the erasure, in {words} Look at this file and remove it." for words in found]
            erasures.add_tasks(connection, self._row(connection, erasure_id), some, self._rooms.now())

    def _end(self, erasure_id: int) -> None:
        with self._rooms.db.write() as connection:
            row = self._row(connection, erasure_id)
            kept = {"there": row.touched.get("there", [])}
            erasures.change(connection, erasure_id, state=State.DONE.value, ended_at=self._rooms.now(), touched=kept)
            audit.record(connection, row.by, "erasure done", f"erasure {row.id}", self._rooms.now(), mark=row.mark)


CONNECT = "The disk of the second copy was not connected: connect it and open the archive, and the copies there are removed by themselves."


def there_too(rooms: Rooms, second: SecondPlace, sums: list[str]) -> bool:
    """Remove these files from the second place; True where it was not there, so that they wait."""
    with rooms.db.read() as connection:
        place = second.known(connection)
    if place is None:
        return False
    if not second.is_there(place):
        return bool(sums)
    there = second.masters(place)
    there.sweep()
    for sha256 in sums:
        there.erase(sha256)
    return False


def write_list(rooms: Rooms, second: SecondPlace) -> None:
    """Write the list of what was erased beside the database and, where its disk is connected, into the second place."""
    with rooms.db.read() as connection:
        codes = people.codes_by_id(connection)
        entries = [
            {"mark": r.mark, "target": r.target, "person": codes.get(r.person_id or 0, ""), "paper": r.paper, "on": (r.ended_at or rooms.now())[:10], "parts": r.parts}
            for r in erasures.everything(connection, State.ERASING, State.DONE) if r.step >= 3
        ]  # fmt: skip
        mark, place = audit.first(connection), second.known(connection)
    erasedlist.write(rooms.folder, mark, entries)
    if place is not None and second.is_there(place):
        erasedlist.write(place.path, mark, entries)
