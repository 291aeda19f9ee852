"""Correcting a transcript: lines, changes to them, and the times of typed words. Pure.

A line is one utterance. A change replaces neighbouring lines by others and can be turned round, so that undoing gives back
exactly what was there. Whoever changes names the lines they saw; where these are not there any more, it is a conflict.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field, replace
from difflib import SequenceMatcher
from itertools import groupby, pairwise

from archive.domain.hearing import same_person
from archive.domain.letters import core, folded
from archive.domain.marks import Kind, kind, lasting, spoken
from archive.domain.values import MIN_WORD_MS, LineState, Word
from archive.errors import BadInput, Clash

MS_A_LETTER, MS_A_WORD = 70, 120  # how long a word is taken to last where nothing else says so (common practice, no source)
RANK = {state: n for n, state in enumerate(LineState)}


@dataclass(frozen=True, slots=True)
class Line:
    """One utterance in a sitting. `key`: its block; 0 while its words are kept nowhere yet. Times in ms of the recording."""

    key: int
    speaker_id: int | None
    start_ms: int
    end_ms: int
    state: LineState = LineState.MACHINE
    state_by: str = ""
    verbatim: bool = False
    overlap: bool = False
    words: tuple[Word, ...] = field(default=(), compare=False)


@dataclass(frozen=True, slots=True)
class Change:
    """These neighbouring lines become those. `after`: the key of the line before them, 0 at the beginning."""

    old: tuple[Line, ...]
    new: tuple[Line, ...]
    after: int = 0

    def turned(self) -> Change:
        """The change that undoes this one."""
        return Change(self.new, self.old, self.after)


def place_of(lines: Sequence[Line], keys: Sequence[int]) -> int:
    """Where neighbouring lines with these keys begin. Raises Clash where they do not stand so any more."""
    first = next((n for n, line in enumerate(lines) if line.key == keys[0]), None)
    if first is None or [line.key for line in lines[first : first + len(keys)]] != list(keys):
        raise Clash("Somebody changed this passage meanwhile.", "Nothing is lost: both wordings are shown, choose one.")
    return first


def apply(lines: list[Line], change: Change) -> None:
    """Apply a change to the lines, in place. Raises Clash where what it changes is not there as it was."""
    if change.old:
        first = place_of(lines, [line.key for line in change.old])
        if tuple(lines[first : first + len(change.old)]) != change.old:
            raise Clash("Somebody changed this passage meanwhile.", "Load the page again.")
        lines[first : first + len(change.old)] = change.new
        return
    at = next((n + 1 for n, line in enumerate(lines) if line.key == change.after), None if change.after else 0)
    if at is None:  # its neighbour was changed meanwhile: its time says where it belongs
        at = bisect_right([line.start_ms for line in lines], change.new[0].start_ms)
    lines[at:at] = change.new


# --- what a person does to a line -----------------------------------------------------------------------------------
def typed(line: Line, texts: Sequence[str], by: str, most_ms: int) -> tuple[Line, ...]:
    """The line with these words in it; () where none is left. Raises BadInput where they have no room before `most_ms`."""
    words = fitted(line.words, texts, line.start_ms, line.end_ms, most_ms)
    return (_of(line, words, by),) if words else ()


def replaced(line: Line, runs: Sequence[tuple[int, int, Sequence[str]]], by: str, most_ms: int) -> tuple[Line, ...]:
    """The line with other words in the place of some: (first, last inclusive, texts) each, in order and apart. No other word
    changes, and none gets other times but beside words that have less than 20 ms each for what replaces them. Raises BadInput
    where there are no such words."""
    texts: list[str] = []
    same: list[tuple[int, int]] = []
    at = 0
    for first, last, instead in runs:
        if not at <= first <= last < len(line.words) or not instead:
            raise BadInput("These words are not in the line.", "Load the page again.")
        same += [(n, len(texts) + n - at) for n in range(at, first)]
        texts += [w.text for w in line.words[at:first]] + list(instead)
        at = last + 1
    same += [(n, len(texts) + n - at) for n in range(at, len(line.words))]
    texts += [w.text for w in line.words[at:]]
    return (_of(line, fitted(line.words, texts, line.start_ms, line.end_ms, most_ms, same), by),)


def heard(line: Line, words: Sequence[Word], by: str, most_ms: int = 0) -> tuple[Line, ...]:
    """The line with these words in it, at the times at which they were heard; () where none is left. Times that run backwards are fitted."""
    if any(b.start_ms < a.end_ms for a, b in pairwise(words)):
        return typed(line, [w.text for w in words], by, most_ms)
    return (_of(line, tuple(words), by),) if words else ()


def split(line: Line, at: int, by: str) -> tuple[Line, Line]:
    """Two lines, the second from word `at` on. Raises BadInput where one of them had no words."""
    if not 0 < at < len(line.words):
        raise BadInput("There is nothing to part here.", "Put the cursor between two words.")
    return _of(line, line.words[:at], by), _of(line, line.words[at:], by)


def join(first: Line, second: Line, by: str) -> Line:
    """Two neighbours as one line; spoken by nobody in particular where they had two speakers. Raises BadInput where both speak at once."""
    if second.words[0].start_ms < first.words[-1].start_ms:
        raise BadInput("These two are spoken at the same time.", "Leave them apart and mark them as overlapping.")
    speaker = first.speaker_id if first.speaker_id == second.speaker_id else None
    whole = _of(replace(first, speaker_id=speaker), first.words + second.words, by)
    return replace(whole, overlap=first.overlap or second.overlap)


def with_state(line: Line, state: LineState, by: str) -> Line:
    """The line in this state. Raises Clash where a second pair of ears is asked for and it is the same person's."""
    if state == LineState.CHECKED:
        if RANK[line.state] < RANK[LineState.CORRECTED]:
            raise Clash("Nobody has corrected this yet.", "Listen and correct it first; then somebody else checks it.")
        if line.state == LineState.CORRECTED and same_person(line.state_by, by):
            raise Clash("You corrected this yourself.", "Somebody else, signed in as themselves, has to check it.")
    if state == LineState.AGREED and RANK[line.state] < RANK[LineState.CORRECTED]:
        raise Clash("Nobody has corrected this yet.", "What goes to the speaker is corrected first.")
    return replace(line, state=state, state_by=by)


def least(states: Iterable[LineState]) -> LineState:
    """The state of lines together: that of the one with least work in it; machine where there are none."""
    return min(states, key=lambda s: RANK[s], default=LineState.MACHINE)


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a transcript has come: lines in each state, in order, lines nobody is assigned to, lines that are verbatim."""

    lines: int
    states: tuple[tuple[str, int], ...]
    unassigned: int
    verbatim: int

    @property
    def state(self) -> LineState:
        """The state of the whole."""
        return least(LineState(state) for state, count in self.states if count)


def progress(counted: Iterable[tuple[LineState, bool, bool, int]]) -> Progress:
    """From (state, nobody is assigned, verbatim, how many lines)."""
    rows = list(counted)
    states = dict.fromkeys(sorted(LineState, key=lambda s: RANK[s]), 0)
    for state, _, _, count in rows:
        states[state] += count
    return Progress(
        sum(r[3] for r in rows), tuple((s.value, n) for s, n in states.items()), sum(r[3] for r in rows if r[1]), sum(r[3] for r in rows if r[2])
    )


def _of(line: Line, words: tuple[Word, ...], by: str) -> Line:
    """A line with other words: what was said of the old ones is not true of it any more."""
    start_ms, end_ms = words[0].start_ms, max(w.end_ms for w in words)
    return replace(
        line, key=0, start_ms=start_ms, end_ms=end_ms, state=LineState.IN_WORK, state_by=by, verbatim=False, words=words
    )


# --- the times of typed words ---------------------------------------------------------------------------------------
@dataclass(slots=True)
class _Piece:
    """Words that stay as they are (one), or that get their times between start and end."""

    texts: list[str]
    start_ms: int
    end_ms: int
    kept: Word | None = None
    loose: bool = False  # nothing was heard here: the words need not fill it

    @property
    def room(self) -> bool:
        return self.kept is not None or self.end_ms - self.start_ms >= MIN_WORD_MS * len(self.texts)


def fitted(
    old: Sequence[Word], texts: Sequence[str], start_ms: int, end_ms: int, most_ms: int,
    same: Sequence[tuple[int, int]] | None = None,
) -> tuple[Word, ...]:  # fmt: skip
    """Typed words with times. Words that were there keep theirs; the others share the time of those they replace, by their
    length, or stand in the pause where they were put. Words never get less than 20 ms each, and never run backwards.

    `start_ms`, `end_ms`: the line; it grows at its end, to `most_ms` at most, where there is no room. Raises BadInput.
    `same`: pairs (old, typed) that belong together, in order, where they are known; else equal words are looked for.
    """
    if not texts:
        return ()
    if most_ms < MIN_WORD_MS * len(texts):
        raise BadInput("These are more words than this recording is long.", "Shorten them; what was there before is kept.")
    pieces = _pieces(old, texts, start_ms, max(end_ms, start_ms), same)
    n = 0
    while n < len(pieces):
        if pieces[n].room:
            n += 1
            continue
        if len(pieces) == 1:
            only = pieces[0]
            only.end_ms = min(most_ms, only.start_ms + MIN_WORD_MS * len(only.texts))
            only.start_ms = min(only.start_ms, only.end_ms - MIN_WORD_MS * len(only.texts))
            break
        first, last = max(0, n - 1), min(len(pieces), n + 2)
        near = pieces[first:last]
        wide = _Piece([t for p in near for t in p.texts], min(p.start_ms for p in near), max(p.end_ms for p in near))
        pieces[first:last] = [wide]
        n = first
    return tuple(word for piece in pieces for word in _timed(piece))


def placed(
    words: Sequence[Word], which: Collection[int], found: Sequence[tuple[int, int] | None], low_ms: int, high_ms: int
) -> tuple[Word, ...]:  # fmt: skip
    """The same words; those whose numbers are in `which` at the times at which they were found (ms), as far as these fit between
    their neighbours and `low_ms`, `high_ms`. What was not found keeps its time, as far as that fits; nothing runs backwards."""
    made = list(words)
    for numbers in _runs(len(words), which):
        at = made[numbers[0] - 1].end_ms if numbers[0] else low_ms
        end_ms = made[numbers[-1] + 1].start_ms if numbers[-1] + 1 < len(made) else high_ms
        if end_ms - at < MIN_WORD_MS * len(numbers):
            continue
        for k, n in enumerate(numbers):
            room_ms = end_ms - MIN_WORD_MS * (len(numbers) - k - 1)  # the rest is for those that follow in this run
            start, end = found[n] or (words[n].start_ms, words[n].end_ms)
            following = next(((j, there[0]) for j, m in enumerate(numbers[k + 1 :]) if (there := found[m])), None)
            if found[n] is None and following:
                room_ms = min(room_ms, max(at + MIN_WORD_MS, following[1] - MIN_WORD_MS * following[0]))
            start = min(max(start, at), room_ms - MIN_WORD_MS)
            at = min(max(end, start + MIN_WORD_MS), room_ms)
            made[n] = replace(words[n], start_ms=start, end_ms=at)
    return tuple(made)


def _runs(many: int, which: Collection[int]) -> list[list[int]]:
    """The numbers of `which` below `many`, those that follow each other together."""
    return [list(group) for inside, group in groupby(range(many), lambda n: n in which) if inside]


def _pieces(
    old: Sequence[Word], texts: Sequence[str], start_ms: int, end_ms: int, same: Sequence[tuple[int, int]] | None
) -> list[_Piece]:
    if same is None:
        same = _alike([_key(w.text) for w in old], [_key(t) for t in texts])
    pieces: list[_Piece] = []
    i = j = 0
    floor = start_ms
    for at_old, at_new in [*same, (len(old), len(texts))]:
        ceiling = old[at_old].start_ms if at_old < len(old) else max(end_ms, floor)
        if at_new > j and at_old > i and at_new - j == at_old - i:  # as many words as before: each in the place of one
            pieces += [_Piece([t], w.start_ms, w.end_ms) for t, w in zip(texts[j:at_new], old[i:at_old], strict=True)]
        elif at_new > j and at_old > i:
            pieces.append(_Piece(list(texts[j:at_new]), old[i].start_ms, max(old[i].start_ms, old[at_old - 1].end_ms)))
        elif at_new > j:
            pieces.append(_Piece(list(texts[j:at_new]), floor, ceiling, loose=True))
        if at_old < len(old):
            word = old[at_old]
            kept = word if word.text == texts[at_new] else replace(word, text=texts[at_new])
            pieces.append(_Piece([texts[at_new]], word.start_ms, word.end_ms, kept))
            floor = word.end_ms
        i, j = at_old + 1, at_new + 1
    return pieces


def _alike(before: Sequence[str], after: Sequence[str]) -> list[tuple[int, int]]:
    """Pairs (old, new) of words that stay, in order. Equal beginnings and ends are taken off first: most edits are small."""
    lead = 0
    while lead < min(len(before), len(after)) and before[lead] == after[lead]:
        lead += 1
    tail = 0
    while tail < min(len(before), len(after)) - lead and before[-1 - tail] == after[-1 - tail]:
        tail += 1
    middle = SequenceMatcher(None, before[lead : len(before) - tail], after[lead : len(after) - tail], autojunk=False)
    found = [(n, n) for n in range(lead)]
    found += [(lead + m.a + k, lead + m.b + k) for m in middle.get_matching_blocks() for k in range(m.size)]
    return found + [(len(before) - tail + k, len(after) - tail + k) for k in range(tail)]


def _key(text: str) -> str:
    return folded(core(spoken(text))) or text


def _timed(piece: _Piece) -> list[Word]:
    if piece.kept is not None:
        return [replace(piece.kept, text=lasting(piece.kept.text, piece.end_ms - piece.start_ms))]
    weights = [len(core(spoken(t))) + 2 for t in piece.texts]
    start_ms, end_ms = piece.start_ms, piece.end_ms
    if piece.loose and not any(kind(t) in (Kind.SOUND, Kind.INAUDIBLE) for t in piece.texts):
        natural = sum(MS_A_WORD + MS_A_LETTER * len(core(spoken(t))) for t in piece.texts)
        end_ms = min(end_ms, start_ms + max(natural, MIN_WORD_MS * len(weights)))
    spare, whole = end_ms - start_ms - MIN_WORD_MS * len(weights), sum(weights)
    words: list[Word] = []
    done = 0
    for n, text in enumerate(piece.texts):
        begin = start_ms + MIN_WORD_MS * n + spare * done // whole
        done += weights[n]
        end = start_ms + MIN_WORD_MS * (n + 1) + spare * done // whole
        words.append(Word(lasting(text, end - begin), begin, end))
    return words


# --- undoing --------------------------------------------------------------------------------------------------------
@dataclass(frozen=True, slots=True)
class Entry:
    """One entry of a sitting's journal. `undoes`: the entry that it turned round, 0 for none."""

    id: int
    undoes: int = 0


def to_undo(journal: Sequence[Entry]) -> int:
    """The entry that undoing turns round next, 0 where there is nothing left."""
    done, _ = _stacks(journal)
    return done[-1] if done else 0


def to_redo(journal: Sequence[Entry]) -> int:
    """The entry that doing again turns round next, 0 where there is nothing."""
    _, undone = _stacks(journal)
    return undone[-1] if undone else 0


def _stacks(journal: Sequence[Entry]) -> tuple[list[int], list[int]]:
    done: list[int] = []
    undone: list[int] = []
    undoing: set[int] = set()
    for entry in journal:
        if not entry.undoes:
            done.append(entry.id)
            undone.clear()
        elif entry.undoes in undoing:  # an undoing that was turned round: done again
            undone.pop()
            done.append(entry.id)
        else:
            done.pop()
            undone.append(entry.id)
            undoing.add(entry.id)
    return done, undone
