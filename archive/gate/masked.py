"""Which names are hidden in one recording, in words and in sound: the part of a `Reading` that has to do with masks."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from functools import cached_property
from typing import TYPE_CHECKING

from archive.audio.edges import widened
from archive.db import mentions, recordings
from archive.db.mentions import Mention
from archive.domain.agreements import TEAM, Wish
from archive.domain.attribution import PersonName, shown_names
from archive.domain.letters import without_possessive
from archive.domain.masking import under_masks
from archive.domain.quoting import text_tokens, word_tokens
from archive.domain.silence import hidden_stretches
from archive.domain.values import MIN_WORD_MS, Attribution, Stretch, Way, Word
from archive.domain.values import Decision as Decided
from archive.gate.carried import counting
from archive.gate.heard import Heard, rest
from archive.rules.carrying import Said

if TYPE_CHECKING:
    from archive.gate.reading import Readings

PAUSE_MS = 600  # where captions are parted (render/captions.py)


def _stands_alone(words: Sequence[Word], first: int, last: int) -> bool:
    """True where words may be a caption of their own: between sentences or pauses on both sides."""
    starts = first == 0 or words[first - 1].text.endswith((".", "!", "?", "…")) or words[first].start_ms - words[first - 1].end_ms >= PAUSE_MS
    ends = last + 1 == len(words) or words[last].text.endswith((".", "!", "?", "…")) or words[last + 1].start_ms - words[last].end_ms >= PAUSE_MS
    return starts and ends


class Masked(Heard):
    """A recording's names in one transaction."""

    def __init__(self, readings: Readings, recording_id: int, version_id: int | None) -> None:
        super().__init__(readings, recording_id, version_id)
        self._masks: list[tuple[int, int]] | None = None
        self._instead: dict[tuple[int, int], str] | None = None
        self._tokens: dict[int, frozenset[str]] = {}
        self._mutes: dict[int, list[tuple[int, int]]] = {}
        self._hushed: dict[int, list[tuple[int, int]]] = {}

    @cached_property
    def noted(self) -> list[Mention]:
        """Everything on record about names in this recording, in whatever transcript."""
        return mentions.current(self.connection, self.recording_id)

    @cached_property
    def mentions(self) -> list[Mention]:
        """Who is named where in these words, as decided today. Decisions about another transcript count where its words are here."""
        known = self.noted
        if not self.readings.written_anew(self.recording_id):
            return known
        today = self.readings.of(self.recording_id)
        if self.version_id == today.version_id:
            return counting(known, self.said)
        if self.words == today.words:
            return today.mentions
        return counting(known, self.said, (today.mentions, today.said))

    @cached_property
    def said(self) -> Said:
        """The words by their times."""
        return Said(self.words)

    @property
    def names(self) -> dict[int, list[PersonName]]:
        """person id → names, of everybody on record."""
        return self.readings.names

    def masks(self) -> list[tuple[int, int]]:
        """Stretches (ms) with a name that is hidden or undecided. What was decided to show, and participants named as
        they themselves wish to be named, are not masked."""
        if self._masks is None:
            self._masks = [(m.stretch.start_ms, m.stretch.end_ms) for m in self._hidden]
        return self._masks

    @cached_property
    def _hidden(self) -> list[Mention]:
        return [m for m in self.mentions if not self.shows(m)]

    def masks_in(self, start_ms: int, end_ms: int) -> list[tuple[int, int]]:
        """The masks that share time with this stretch."""
        masks, (starts, longest_ms) = self.masks(), self._mask_starts
        first, last = bisect_left(starts, start_ms - longest_ms), bisect_left(starts, end_ms)
        return [m for m in masks[first:last] if start_ms < m[1]]

    @cached_property
    def _mask_starts(self) -> tuple[list[int], int]:
        masks = self.masks()  # in order of their starts, as mentions are
        return [s for s, _ in masks], max((e - s for s, e in masks), default=0)

    @cached_property
    def undecided(self) -> frozenset[tuple[int, int]]:
        """Those masks about which nobody has decided yet."""
        return frozenset((m.stretch.start_ms, m.stretch.end_ms) for m in self.mentions if m.decision == Decided.UNDECIDED) & frozenset(self.masks())

    def instead(self) -> dict[tuple[int, int], str]:
        """mask (ms) → its own words, where all that hide there agree on them; other masks have the usual words."""
        if self._instead is None:
            said: dict[tuple[int, int], set[str]] = {}
            for m in self._hidden:
                said.setdefault((m.stretch.start_ms, m.stretch.end_ms), set()).add(m.instead if m.decision == Decided.HIDE else "")
            self._instead = {mask: words.pop() for mask, words in said.items() if len(words) == 1 and "" not in words}
        return self._instead

    def mutes(self, margin_ms: int | None = None) -> list[tuple[int, int]]:
        """What to silence where names are withheld, ms of the recording: the margin (the archive's own, where none is given)
        around every hidden word, and on to where the sound itself says that the name begins and ends."""
        wide_ms = self.context.margin_ms if margin_ms is None else margin_ms
        if wide_ms not in self._mutes:
            self._mutes[wide_ms] = self._widened(hidden_stretches(self.utterances, self.masks()), wide_ms)
        return self._mutes[wide_ms]

    def hushed(self, margin_ms: int | None = None) -> list[tuple[int, int]]:
        """What to silence beside words that are closed to everybody, ms: their times are guesses too, and what is open could
        begin with the end of one. Widened like a name's mute; the closed words themselves are not played anyway."""
        wide_ms = self.context.margin_ms if margin_ms is None else margin_ms
        if wide_ms not in self._hushed:
            pieces = self.open_pieces(None, TEAM, Way.VOICE)
            closed: list[tuple[int, int]] = []
            self.read_words(rest(pieces, self.row.duration_ms))
            if pieces != [(0, self.row.duration_ms)]:
                starts = [s for s, _ in pieces]
                for word in self.words:
                    at = bisect_right(starts, word.start_ms) - 1
                    if at < 0 or word.end_ms > pieces[at][1]:
                        closed.append((word.start_ms, word.end_ms))
            self._hushed[wide_ms] = self._widened(closed, wide_ms)
        return self._hushed[wide_ms]

    def _widened(self, stretches: list[tuple[int, int]], margin_ms: int) -> list[tuple[int, int]]:
        levels = recordings.levels_of(self.connection, self.recording_id) if stretches else b""
        return widened(levels, stretches, margin_ms, self.row.duration_ms)

    def shown_mentions(self, start_ms: int, end_ms: int) -> list[str]:
        """The words of names in this stretch that may be read there (the last scan lets exactly these stand).

        What was decided to stand there and nowhere else ("keep") comes with a word beside it, so that the same name in a
        title or a file name is still found. Where something else hides any of these words, nothing lets them stand.
        """
        found: list[str] = []
        for m in self.mentions:
            if m.stretch.start_ms < end_ms and start_ms < m.stretch.end_ms and self.shows(m) and not self._masked(m.stretch):
                found += self._in_place(m.stretch, start_ms, end_ms) if m.decision == Decided.KEEP else [self.words_in(m.stretch)]
        return found

    def _masked(self, stretch: Stretch) -> bool:
        spoken = [w for u in self.overlapping(stretch.start_ms, stretch.end_ms) for w in u.words]
        mine = under_masks(spoken, [(stretch.start_ms, stretch.end_ms)])
        masked = under_masks(spoken, self.masks_in(stretch.start_ms, stretch.end_ms + MIN_WORD_MS))
        return any(a and b for a, b in zip(mine, masked, strict=True))

    def _in_place(self, stretch: Stretch, start_ms: int, end_ms: int) -> list[str]:
        """Words with the nearest word that is read before them, and with that after them, inside start_ms–end_ms; alone where there is neither."""
        found: list[str] = []
        for utterance in self.overlapping(stretch.start_ms, stretch.end_ms):
            inside = [w for w in utterance.words if start_ms <= w.start_ms < end_ms]
            under = under_masks(inside, [(stretch.start_ms, stretch.end_ms)])
            hits = [n for n, hit in enumerate(under) if hit]
            if not hits:
                continue
            masked = under_masks(inside, self.masks_in(start_ms, end_ms))
            said = " ".join(inside[n].text for n in hits)
            before = next((n for n in range(hits[0] - 1, -1, -1) if word_tokens(inside[n].text)), None)
            after = next((n for n in range(hits[-1] + 1, len(inside)) if word_tokens(inside[n].text)), None)
            found += [f"{inside[before].text} {said}"] if before is not None and not masked[before] else []
            found += [f"{said} {inside[after].text}"] if after is not None and not masked[after] else []
            found += [said] if _stands_alone(inside, hits[0], hits[-1]) else []
        return found or [self.words_in(stretch)]

    def shows(self, mention: Mention) -> bool:
        """True where a name may be read. "Keep" is about these very words and stands; what was cleared or is of public
        record is hidden again once its person withdraws, pauses or objects, or wishes later not to be named so."""
        person = mention.person_id
        if person is None or mention.decision == Decided.KEEP:
            return mention.decision.shows
        if mention.decision == Decided.HIDE or self.held(person):
            return False
        allowed = self._open_tokens(person)
        said = [without_possessive(t) for t in text_tokens(self.words_in(mention.stretch))]
        as_wished = bool(said) and all(t in allowed for t in said)
        if mention.decision.shows:
            return as_wished or self._wish(person).at <= mention.at
        return as_wished and person in self.roles

    def held(self, person_id: int) -> bool:
        """True while a hold on all of somebody's speech, or on this interview, is in force."""
        (standing,) = self.standings_of(frozenset({person_id}))
        return any(
            r.person_id == person_id and r.recording_id is None and r.use is None and r.way is None
            and r.interview_id in (None, self.row.interview_id) and r.holds_on(self.context.on)
            for r in standing.restraints
        )  # fmt: skip

    def words_in(self, stretch: Stretch) -> str:
        """What is said there, as one line."""
        found = [
            w.text
            for u in self.overlapping(stretch.start_ms, stretch.end_ms)
            for w, under in zip(u.words, under_masks(u.words, [(stretch.start_ms, stretch.end_ms)]), strict=True)
            if under
        ]
        return " ".join(found)

    def _open_tokens(self, person_id: int) -> frozenset[str]:
        if person_id not in self._tokens:
            self._tokens[person_id] = frozenset(t for name in self.open_names(person_id) for t in text_tokens(name))
        return self._tokens[person_id]

    def open_names(self, person_id: int) -> frozenset[str]:
        """The names of a person that may be read, as they wish to be called today."""
        return shown_names(self.names.get(person_id, []), self.attribution(person_id))

    def attribution(self, person_id: int) -> Attribution:
        """How this person wishes to be called today."""
        return self._wish(person_id).attribution

    def _wish(self, person_id: int) -> Wish:
        (standing,) = self.standings_of(frozenset({person_id}))
        return standing.wish_on(self.context.on)
