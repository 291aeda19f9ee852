"""Who is heard in one recording, and what of it is open to whom: the part of a `Reading` that has to do with consent."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import replace
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

from archive.db import words
from archive.domain import consent
from archive.domain.agreements import TEAM, Asked, Standing
from archive.domain.consent import Decision
from archive.domain.passages import Utterance
from archive.domain.reasons import HOLDS, Reason
from archive.domain.values import Part, Stretch, Viewer, Way, Word

if TYPE_CHECKING:
    from archive.gate.reading import Readings


class Run(NamedTuple):
    """Words of an utterance that stand in a row and are open: the index of the first one in its block, and the words."""

    first: int
    words: tuple[Word, ...]


def rest(open_pieces: Sequence[tuple[int, int]], duration_ms: int) -> list[tuple[int, int]]:
    """What lies outside these pieces (ms, in order)."""
    marks = [0, *(m for piece in open_pieces for m in piece), duration_ms]
    return [(s, e) for s, e in zip(marks[::2], marks[1::2], strict=True) if e > s]


class Heard:
    """A recording and its consent in one transaction. Decisions are remembered per set of people and piece."""

    def __init__(self, readings: Readings, recording_id: int, version_id: int | None) -> None:
        self.readings, self.recording_id, self.version_id = readings, recording_id, version_id
        self.connection, self.context = readings.connection, readings.context
        self.row, self.roles, self.edges = readings.about(recording_id)
        self._judged: dict[tuple[object, ...], Decision] = {}
        self._open: dict[tuple[object, ...], list[tuple[int, int]]] = {}

    @cached_property
    def utterances(self) -> list[Utterance]:
        """Everything that is said, in order."""
        return words.utterances(self.connection, self.version_id) if self.version_id else []

    def read_words(self, stretches: Iterable[tuple[int, int]]) -> None:
        """Read the words of the utterances that share time with these stretches (ms), where this is an outline without them."""
        bare = {u.block_id for start_ms, end_ms in stretches for u in self.overlapping(start_ms, end_ms) if not u.words}
        if bare:
            said = words.blocks(self.connection, bare)
            self.utterances = [replace(u, words=said[u.block_id][1]) if u.block_id in bare else u for u in self.utterances]
            for derived in ("words", "said"):
                self.__dict__.pop(derived, None)

    @cached_property
    def words(self) -> list[Word]:
        """Every word, in order of utterances."""
        return [w for u in self.utterances for w in u.words]

    @cached_property
    def _starts(self) -> list[int]:
        return [u.start_ms for u in self.utterances]

    @cached_property
    def _longest_ms(self) -> int:
        return max((u.end_ms - u.start_ms for u in self.utterances), default=0)

    # -- who is heard ------------------------------------------------------------------------------------------
    def overlapping(self, start_ms: int, end_ms: int) -> list[Utterance]:
        """Utterances that share time with this stretch."""
        first = bisect_left(self._starts, start_ms - self._longest_ms)
        last = bisect_left(self._starts, end_ms)
        return [u for u in self.utterances[first:last] if u.end_ms > start_ms]

    def expand(self, speakers: Iterable[int | None]) -> frozenset[int]:
        """People heard: an unassigned utterance (None) counts as everybody who took part (invariant 3); what an interpreter says is
        the narrators' as well, whose words they are."""
        heard: set[int] = set()
        for speaker in speakers:
            heard |= {speaker} if speaker is not None else set(self.roles)
            if speaker is not None and self.roles.get(speaker) == Part.INTERPRETER:
                heard |= {p for p, role in self.roles.items() if role == Part.NARRATOR}
        return frozenset(heard)

    def people_in(self, start_ms: int, end_ms: int) -> frozenset[int]:
        """Everybody heard in this stretch. Where no words are, it counts as everybody: silence is only the machine's word."""
        found = self.overlapping(start_ms, end_ms)
        return self.expand(u.speaker_id for u in found) if found else frozenset(self.roles)

    # -- decisions ---------------------------------------------------------------------------------------------
    def judge(
        self, stretch: tuple[int, int], people_heard: frozenset[int], use: str, way: Way, viewer: Viewer | None = None
    ) -> Decision:
        """The decision for these people in this stretch, without a wording (showing, finding)."""
        piece = (bisect_right(self.edges, stretch[0]), bisect_left(self.edges, stretch[1]))
        key = (piece, people_heard, use, way, viewer is not None and viewer.opened and viewer.role)
        if key not in self._judged:
            asked = self._asked(stretch, use, way, viewer, None)
            self._judged[key] = consent.judge(asked, self.standings_of(people_heard), self.readings.policy)
        return consent.within(self._judged[key], self.readings.reach(viewer), self.recording_id, people_heard)

    def decide(
        self, stretch: tuple[int, int], people_heard: frozenset[int], use: str, way: Way, wording_sha256: str | None, void: frozenset[int] = frozenset()
    ) -> Decision:
        """The whole decision with its re-check day, for exactly this wording. `void`: approvals (their ids) that do not count any more."""
        asked = self._asked(stretch, use, way, None, wording_sha256)
        standings = [s.without(void) for s in self.standings_of(people_heard)]
        return consent.decide(asked, standings, self.readings.policy)

    def approved(
        self, stretch: tuple[int, int], person_id: int, use: str, way: Way, wording_sha256: str, not_in: str, void: frozenset[int] = frozenset()
    ) -> bool:  # fmt: skip
        """True where this person, or who speaks for them, said yes to exactly this wording, put to them in another language than `not_in`."""
        (standing,) = self.standings_of(frozenset({person_id}))
        return consent.approved_in(self._asked(stretch, use, way, None, wording_sha256), standing.without(void), self.readings.policy, not_in)

    def _asked(
        self, stretch: tuple[int, int], use: str, way: Way, viewer: Viewer | None, wording_sha256: str | None
    ) -> Asked:
        return Asked(
            Stretch(self.recording_id, *stretch), self.row.interview_id, self.readings.uses[use], way, self.context.on,
            self.context.exhibition, wording_sha256, viewer, self.readings.interviewed_on(self.recording_id), self.readings.works_of(self.recording_id),
        )  # fmt: skip

    def standings_of(self, people_heard: frozenset[int]) -> list[Standing]:
        """What is on record about each of these people."""
        return self.readings.standings_of(people_heard)

    def runs(self, utterance: Utterance, viewer: Viewer, use: str = TEAM) -> list[Run]:
        """The words of an utterance that are open to this viewer: all, none, or what a closed stretch leaves of them."""
        people_heard = self.expand([utterance.speaker_id])
        words = utterance.words
        if not any(utterance.start_ms < e < utterance.end_ms for e in self.edges):
            whole = self.judge((utterance.start_ms, utterance.end_ms), people_heard, use, Way.WORDS, viewer).allowed
            return [Run(0, tuple(words))] if whole else []
        found: list[Run] = []
        for index, word in enumerate(words):
            if not self.judge((word.start_ms, word.end_ms), people_heard, use, Way.WORDS, viewer).allowed:
                continue
            if found and found[-1].first + len(found[-1].words) == index:
                found[-1] = Run(found[-1].first, (*found[-1].words, word))
            else:
                found.append(Run(index, (word,)))
        return found

    def open_pieces(self, viewer: Viewer | None, use: str, way: Way) -> list[tuple[int, int]]:
        """Stretches (ms) of the whole recording that are open, merged; the rest is closed."""
        key = (use, way, viewer is not None and viewer.opened and viewer.role, self.readings.reach(viewer))
        if key not in self._open:
            self._open[key] = self._open_pieces(viewer, use, way)
        return self._open[key]

    def held_pieces(self, viewer: Viewer) -> list[tuple[int, int, tuple[Reason, ...]]]:
        """Stretches (ms) whose words a hold keeps from this viewer, each with the reasons that holds give; neighbours of the same reasons are one."""
        if not self.may_be_held() and self.readings.reach(viewer).opens(self.recording_id, self.roles.keys()):
            return []
        pieces: list[tuple[int, int, tuple[Reason, ...]]] = []
        for start_ms, end_ms in self.parts():
            decision = self.judge((start_ms, end_ms), self.people_in(start_ms, end_ms), TEAM, Way.WORDS, viewer)
            reasons = tuple(r for r in decision.reasons if r.code in HOLDS)
            if not reasons:
                continue
            if pieces and pieces[-1][1] == start_ms and pieces[-1][2] == reasons:
                pieces[-1] = (pieces[-1][0], end_ms, reasons)
            else:
                pieces.append((start_ms, end_ms, reasons))
        return pieces

    def may_be_held(self) -> bool:
        """False where nothing on record can hold any of it back today: then nothing needs to be read."""
        standings = self.standings_of(frozenset(self.roles))
        return bool(self.edges) or any(r.recording_id is None and r.holds_on(self.context.on) for s in standings for r in s.restraints)

    def parts(self) -> list[tuple[int, int]]:
        """The recording (ms) cut wherever an answer could change."""
        marks = {0, self.row.duration_ms}
        for edge in self.edges:  # a word that an edge cuts is closed whole, in sound as on the page
            cut = [w for u in self.overlapping(edge, edge + 1) for w in u.words if w.start_ms < edge < w.end_ms]
            marks |= {m for w in cut for m in (w.start_ms, w.end_ms)} or {edge}
        for utterance in self.utterances:
            marks |= {utterance.start_ms, utterance.end_ms}
        ordered = sorted(m for m in marks if 0 <= m <= self.row.duration_ms)
        return list(zip(ordered, ordered[1:], strict=False))

    def _open_pieces(self, viewer: Viewer | None, use: str, way: Way) -> list[tuple[int, int]]:
        pieces: list[tuple[int, int]] = []
        for start_ms, end_ms in self.parts():
            if not self.judge((start_ms, end_ms), self.people_in(start_ms, end_ms), use, way, viewer).allowed:
                continue
            if pieces and pieces[-1][1] == start_ms:
                pieces[-1] = (pieces[-1][0], end_ms)
            else:
                pieces.append((start_ms, end_ms))
        return pieces
