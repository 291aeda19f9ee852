"""Who speaks, where one microphone heard several: a person names some seconds of each, our own computer suggests the rest.

What voices are like is personal data. It is heard by a job, compared inside one interview, never shown, and deleted once every
utterance has its speaker, somebody says it is decided, our own computer may not listen any more, or a month has gone by.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np

from archive.audio import decode
from archive.db import audit, jobs, likeness, people, recordings
from archive.db.session import Connection, Row
from archive.domain.passages import Utterance
from archive.domain.phrases import many
from archive.domain.values import Viewer
from archive.errors import BadInput, Clash, NotFound, Refused
from archive.gate import custody
from archive.rules import whose_voice
from archive.rules.whose_voice import Piece, Voices
from archive.services.recordings import keep_speakers
from archive.services.rooms import EDITORS, Rooms, need
from archive.services.work import Lease
from archive.speech.likeness import SIZE, likenesses, windows_of

KIND = "voices"
PIECE_MS = 60_000  # heard and committed alone: about a second's work
KEPT_DAYS = 30  # undecided, it is deleted all the same; listening again takes minutes
CLOSE_MS = 20  # by which a window may stick out of its utterance
Windows = dict[tuple[int, int], np.ndarray[Any, np.dtype[np.float32]]]


@dataclass(frozen=True, slots=True)
class VoiceLine:
    """Somebody who takes part. `key`: the digit that assigns to them (0: none); `said_ms`: how much is theirs in this interview;
    `named`: enough of it to know their voice by."""

    code: str
    role: str
    key: int
    said_ms: int
    named: bool


@dataclass(frozen=True, slots=True)
class VoiceSuggestion:
    """One utterance without a speaker sounds like somebody. `lean` 0-1: how far from the next voice to this one. Not a fact."""

    utterance_id: int
    start_ms: int
    end_ms: int
    code: str
    sure: bool
    lean: float


@dataclass(frozen=True, slots=True)
class VoiceChange:
    """Perhaps two voices in one utterance: `first` until about `at_ms`, then `second`. Offered for splitting."""

    utterance_id: int
    at_ms: int
    first: str
    second: str


@dataclass(frozen=True, slots=True)
class SpeakingPage:
    """Who speaks in one recording: what is assigned, what is not, what is suggested. Codes and times, no words."""

    recording: str
    people: tuple[VoiceLine, ...]
    unassigned: int
    unassigned_ms: int
    spoken_ms: int
    asked_ms: int  # of each voice, to be named first
    by_voice: bool  # one microphone and several people: voices can be compared
    listening: bool  # a job for it waits or works
    heard: bool  # this recording was listened to
    kept_until: str  # the moment at which what is kept of this interview's voices is deleted, decided or not; "" where nothing is
    ready: bool = False  # enough is named of two voices at least
    suggestions: tuple[VoiceSuggestion, ...] = ()
    changes: tuple[VoiceChange, ...] = ()
    refused: tuple[str, ...] = ()  # why our own computer may not listen


@dataclass(frozen=True, slots=True)
class _Interview:
    """What is known of the voices of one interview: pieces of each recording, and whose voices were named."""

    pieces: Mapping[int, Sequence[tuple[Utterance, Piece]]]  # recording id → utterances our own computer may compare
    voices: Voices


class Speaking:
    """Who speaks in the recordings of one archive."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms

    # -- what is known and suggested ---------------------------------------------------------------------------
    def page(self, viewer: Viewer, code: str) -> SpeakingPage:
        """Who takes part, how much is assigned, what is suggested: codes and times, no words."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            row = recordings.named(connection, code)
            roles = people.participants(connection, row.interview_id)
            codes = people.codes_by_id(connection)
            times = custody.times_of_utterances(connection, row.id)
            whole = recordings.beside(connection, row.id)
            said: dict[int, int] = {}
            for recording_id in whole:
                for _, start_ms, end_ms, speaker in times if recording_id == row.id else custody.times_of_utterances(connection, recording_id):
                    if speaker is not None:
                        said[speaker] = said.get(speaker, 0) + end_ms - start_ms
            lines = tuple(
                VoiceLine(codes[p], role, n if n <= 9 else 0, said.get(p, 0), said.get(p, 0) >= whose_voice.LEAST_NAMED_MS)
                for n, (p, role) in enumerate(roles.items(), 1)
            )  # fmt: skip
            open_ms = [e - s for _, s, e, speaker in times if speaker is None]
            found = SpeakingPage(
                recording=row.code, people=lines, unassigned=len(open_ms), unassigned_ms=sum(open_ms),
                spoken_ms=sum(e - s for _, s, e, _ in times), asked_ms=whose_voice.ASKED_MS,
                by_voice=row.microphones == "one" and len(roles) > 1,
                listening=any(j.kind == KIND and j.subject == row.code for j in jobs.open_ones(connection)),
                heard=bool(likeness.of(connection, [row.id])),
                kept_until=self._kept_until(connection, whole),
            )  # fmt: skip
            return self._with_suggestions(connection, row, found, codes)

    def _with_suggestions(self, connection: Connection, row: Row[Any], page: SpeakingPage, codes: Mapping[int, str]) -> SpeakingPage:
        if not page.heard or not page.unassigned:
            return page
        try:
            interview = self._interview(connection, row)
        except Refused as refused:  # since it was heard, the answer to “machine” has run out
            return replace(page, refused=refused.reasons)
        suggestions, changes = [], []
        for utterance, piece in interview.pieces[row.id]:
            if utterance.speaker_id is not None:
                continue
            change = interview.voices.two_voices(piece)
            if change is not None:
                at = whose_voice.at_word(change, utterance.words)
                changes.append(VoiceChange(at.block_id, at.at_ms, codes[at.first_id], codes[at.second_id]))
                continue
            like = interview.voices.suggest(piece)
            if like is not None:
                told = (piece.start_ms, piece.end_ms, codes[like.person_id], like.sure, round(like.lean, 2))
                suggestions.append(VoiceSuggestion(like.block_id, *told))
        return replace(page, suggestions=tuple(suggestions), changes=tuple(changes), ready=len(interview.voices.people) >= 2)

    def _interview(self, connection: Connection, row: Row[Any]) -> _Interview:
        """Raises Refused where our own computer may not listen to this recording; others of the interview are then left out."""
        whole = recordings.beside(connection, row.id)
        windows = self._windows(connection, whole)
        pieces: dict[int, list[tuple[Utterance, Piece]]] = {}
        for recording_id in whole:
            try:
                said = custody.utterances_to_compare(connection, recording_id, self._rooms.context())
            except Refused:
                if recording_id == row.id:
                    raise
                said = ()
            pieces[recording_id] = [(u, _piece(u, windows.get(recording_id, {}))) for u in said]
        assigned = [(u.speaker_id, p) for there in pieces.values() for u, p in there if u.speaker_id is not None]
        roles = people.participants(connection, row.interview_id)
        return _Interview(pieces, Voices(whose_voice.named(assigned), list(roles)))

    def _windows(self, connection: Connection, recording_ids: Sequence[int]) -> dict[int, Windows]:
        found: dict[int, Windows] = {}
        for kept in likeness.of(connection, recording_ids):
            vectors = np.frombuffer(kept.vectors, dtype="<f2").astype(np.float32).reshape(-1, SIZE)
            found.setdefault(kept.recording_id, {}).update(zip(map(tuple, kept.windows), vectors, strict=True))
        return found

    def alike(self, viewer: Viewer, code: str, utterance_id: int) -> tuple[int, ...]:
        """Utterances without a speaker that surely sound like this one (not itself). Raises Clash where nothing was listened to."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            row = recordings.named(connection, code)
            if not likeness.of(connection, [row.id]):
                raise Clash("Our own computer has not listened to the voices here.", "Let it listen first.")
            interview = self._interview(connection, row)
            there = interview.pieces[row.id]
            mine = next((p for _, p in there if p.block_id == utterance_id), None)
            if mine is None:
                raise NotFound("There is no such utterance, or its voice may not be compared.", "Load the page again.")
            others = [p for u, p in there if u.speaker_id is None and u.block_id != utterance_id]
            return tuple(whose_voice.alike(mine, others, interview.voices))

    # -- deciding ----------------------------------------------------------------------------------------------
    def accept(self, viewer: Viewer, code: str, seen: Mapping[int, str]) -> int:
        """Take these suggestions as decided, exactly as they were shown: utterance → person. Returns how many.

        Raises Clash where one is not suggested so any more, and then nothing is taken.
        """
        need(viewer, *EDITORS)
        now = {s.utterance_id: s.code for s in self.page(viewer, code).suggestions}
        if any(now.get(utterance) != person for utterance, person in seen.items()):
            raise Clash("Some of these suggestions have changed since the page was loaded. Nothing was taken.", "Load the page again.")
        with self._rooms.db.write() as connection:
            row = recordings.named(connection, code)
            persons = people.ids_by_code(connection)
            waiting = {block for block, *_, speaker in custody.times_of_utterances(connection, row.id) if speaker is None}
            if not set(seen) <= waiting:
                raise Clash("Somebody has assigned one of these meanwhile. Nothing was taken.", "Load the page again.")
            return keep_speakers(self._rooms, connection, viewer, row.id, {u: persons[p] for u, p in seen.items()})

    def name(self, viewer: Viewer, code: str, person: str, start_ms: int, end_ms: int) -> int:
        """Say that somebody speaks in this stretch: every utterance that lies in it is theirs. Returns how many changed."""
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            row = recordings.named(connection, code)
            person_id = people.ids_by_code(connection).get(person)
            if person_id not in people.participants(connection, row.interview_id):
                raise BadInput("This person did not take part in this interview.", "Add them to the interview first.")
            inside = {
                block: person_id for block, s, e, _ in custody.times_of_utterances(connection, row.id)
                if (min(e, end_ms) - max(s, start_ms)) * 5 >= (e - s) * 4
            }  # fmt: skip
            if not inside:
                raise BadInput("No whole utterance lies in this stretch.", "Name a longer one: utterances are assigned whole.")
            return keep_speakers(self._rooms, connection, viewer, row.id, inside)

    def forget(self, viewer: Viewer, code: str) -> bool:
        """It is decided who speaks: what the voices of this interview are like is deleted. True where there was anything."""
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            row = recordings.named(connection, code)
            gone = likeness.forget(connection, recordings.beside(connection, row.id))
            if gone:
                audit.record(connection, viewer.name, "voices forgotten", f"recording {row.id}", self._rooms.now())
            return bool(gone)

    def _kept_until(self, connection: Connection, recording_ids: Sequence[int]) -> str:
        heard = likeness.oldest(connection, recording_ids)
        return (datetime.fromisoformat(heard) + timedelta(days=KEPT_DAYS)).isoformat() if heard else ""

    def forget_old(self) -> int:
        """Delete what nobody decided in a month; asked by the worker. Returns of how many recordings."""
        before = (self._rooms.clock().astimezone(UTC) - timedelta(days=KEPT_DAYS)).isoformat(timespec="seconds")
        with self._rooms.db.read() as connection:
            heard = likeness.oldest(connection)
        if not heard or heard >= before:
            return 0
        with self._rooms.db.write() as connection:
            gone = likeness.forget_before(connection, before)
            for recording_id in gone:
                audit.record(connection, "machine", "voices forgotten", f"recording {recording_id}", self._rooms.now(), days=KEPT_DAYS)
            return len(gone)

    # -- listening ---------------------------------------------------------------------------------------------
    def listen(self, viewer: Viewer, code: str) -> int:
        """Queue listening to the voices of this interview, in every recording with one microphone; returns how many jobs.

        Raises Refused where our own computer may not listen to this one.
        """
        need(viewer, *EDITORS)
        with self._rooms.db.write() as connection:
            row = recordings.named(connection, code)
            if not self._to_compare(connection, row):
                raise BadInput("There is nothing to compare here.", "Voices are told apart where one microphone heard several people.")
            ids = [r for r in recordings.beside(connection, row.id) if r == row.id or self._comparable(connection, r)]
            for recording_id in ids:
                there = recordings.by_id(connection, recording_id)
                total = len(self._todo(connection, there.id)[0])
                jobs.add_job(connection, KIND, there.code, {"recording": there.id}, viewer.name, self._rooms.now(), total=total)
            audit.record(connection, viewer.name, "listening to voices queued", f"recording {row.id}", self._rooms.now(), jobs=len(ids))
            return len(ids)

    def _comparable(self, connection: Connection, recording_id: int) -> bool:
        try:
            return bool(self._to_compare(connection, recordings.by_id(connection, recording_id)))
        except Refused:
            return False

    def _to_compare(self, connection: Connection, row: Row[Any]) -> tuple[Utterance, ...]:
        if row.microphones != "one" or len(people.participants(connection, row.interview_id)) < 2:
            return ()
        return custody.utterances_to_compare(connection, row.id, self._rooms.context())

    def run(self, lease: Lease) -> str:
        """The job: hear the windows that are not kept yet, a piece of a minute at most at a time. Raises Refused, LeaseLost."""
        recording_id = int(lease.args["recording"])
        with self._rooms.db.read() as connection:
            master = recordings.master_of(connection, recording_id)
            todo, kept = self._todo(connection, recording_id)
        source = self._rooms.masters.path(master.sha256, master.extension)
        total, done = len(todo) + kept, kept
        while todo:
            piece = [w for w in todo if w[1] <= todo[0][0] + PIECE_MS]
            start_ms, end_ms = piece[0][0], max(e for _, e in piece)
            pcm = decode.pcm(source, start_ms, end_ms)
            vectors = likenesses(pcm, [(s - start_ms, e - start_ms) for s, e in piece])
            done += len(piece)
            lease.keep(self._keeping(lease, recording_id, piece, vectors, done, total))
            with self._rooms.db.read() as connection:  # what may be heard, and what is there, may have changed
                todo, _ = self._todo(connection, recording_id)
        return f"{many(done, 'stretch', 'stretches')} of speech compared." if done else "Nothing to compare was found."

    def _keeping(
        self, lease: Lease, recording_id: int, windows: Sequence[tuple[int, int]], vectors: whose_voice.Vectors, done: int, total: int
    ) -> Callable[[Connection], None]:  # fmt: skip
        def keep(connection: Connection) -> None:
            still = {w for u in custody.utterances_to_compare(connection, recording_id, self._rooms.context()) for w in windows_of(u.start_ms, u.end_ms)}
            wanted = [n for n, w in enumerate(windows) if w in still]
            if wanted:
                data = vectors[wanted].astype("<f2").tobytes()
                likeness.keep(connection, recording_id, [windows[n] for n in wanted], data, self._rooms.now())
            lease.got(connection, done, total)

        return keep

    def _todo(self, connection: Connection, recording_id: int) -> tuple[list[tuple[int, int]], int]:
        """Windows that are still to be heard, in order; and how many are kept."""
        said = custody.utterances_to_compare(connection, recording_id, self._rooms.context())
        wanted = sorted({w for u in said for w in windows_of(u.start_ms, u.end_ms)})
        kept = {tuple(w) for row in likeness.of(connection, [recording_id]) for w in row.windows}
        return [w for w in wanted if w not in kept], len(kept)


def _piece(utterance: Utterance, windows: Windows) -> Piece:
    """An utterance with what was heard of it; windows of an utterance that was longer once count where they lie inside."""
    first, last = utterance.start_ms - CLOSE_MS, utterance.end_ms + CLOSE_MS
    mine = sorted(w for w in windows if first <= w[0] and w[1] <= last)
    vectors = np.array([windows[w] for w in mine], dtype=np.float32).reshape(len(mine), SIZE)
    return Piece(utterance.block_id, utterance.start_ms, utterance.end_ms, tuple(mine), vectors)
