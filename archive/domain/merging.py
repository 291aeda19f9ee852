"""Three wordings of one recording made into one: an older hearing, what people made of it, and a newer hearing. Pure.

What a person typed, took out or declared corrected stays; everything else is as the newer hearing has it. Where it heard something
else at a place that a person changed, the person's wording stays and the place is told, to be decided. Lines that nobody touched
are those of the newer hearing; where two microphones were heard, each side is merged by itself.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby, pairwise
from operator import attrgetter
from typing import NamedTuple

from archive.domain.aligning import align, compared
from archive.domain.editing import RANK, Line, fitted
from archive.domain.values import LineState, Word


@dataclass(frozen=True, slots=True)
class Conflict:
    """A place (ms) where people and the newer hearing both changed the older one, differently. `spans`: what was heard there,
    as (key of its line, first word, last word inclusive); () where nothing was. `speaker_id`: who speaks there in the merged text."""

    start_ms: int
    end_ms: int
    speaker_id: int | None
    spans: tuple[tuple[int, int, int], ...]


def merge(old: Sequence[Line], mine: Sequence[Line], new: Sequence[Line], most_ms: int) -> tuple[list[Line], list[Conflict]]:
    """The merged lines and the places to decide. All three with their words; `mine` grew from `old`; `most_ms`: the recording's length.

    A line that stands as it was keeps its key; one with other words has 0. A line keeps its state where its words are the same.
    """
    sides = _sides(old, new)
    pairs = _grown(_Words(old), _Words(mine))
    where = _side_of_lines(old, mine, sides, pairs)
    lines: list[Line] = []
    conflicts: list[Conflict] = []
    for side in sides:
        first = _Words(old, [n for n, line in enumerate(old) if side in (None, line.speaker_id)])
        theirs = _Words(new, [n for n, line in enumerate(new) if side in (None, line.speaker_id)])
        own = _Words(mine, [n for n in range(len(mine)) if where[n] == side])
        merged, found = _Side(first, own, theirs, _both_in(pairs, first, own), most_ms).merged()
        lines += merged
        conflicts += found
    if len(sides) > 1:
        lines.sort(key=attrgetter("start_ms"))
    return lines, sorted(conflicts, key=attrgetter("start_ms"))


# --- the three as lists of words ------------------------------------------------------------------------------------
class _Words:
    """Lines as one list of words; `line[n]`: the number of the line in which word n stands, `first[line]`: its first word."""

    def __init__(self, lines: Sequence[Line], numbers: Sequence[int] | None = None) -> None:
        self.lines = lines
        self.numbers = range(len(lines)) if numbers is None else numbers
        self.words = [w for n in self.numbers for w in lines[n].words]
        self.line = [n for n in self.numbers for _ in lines[n].words]
        self.keys = [compared(w.text) for w in self.words]
        self.first: dict[int, int] = {}
        for at, n in enumerate(self.line):
            self.first.setdefault(n, at)


def _same(before: _Words, after: _Words) -> list[tuple[int, int]]:
    return [(p.before, p.after) for p in align(before.keys, after.keys) if p.same]


def _grown(old: _Words, mine: _Words) -> list[tuple[int, int]]:
    """`_same` of a text and what became of it: a line that both have is itself, whatever else says the same beside it."""
    number = {line.key: n for n, line in enumerate(old.lines)}
    found: list[tuple[int, int]] = []
    a = b = 0
    for n, line in enumerate(mine.lines):
        there = old.first.get(number.get(line.key, -1), -1)
        if there >= a:
            here = mine.first[n]
            found += [(a + p.before, b + p.after) for p in align(old.keys[a:there], mine.keys[b:here]) if p.same]
            found += [(there + k, here + k) for k in range(len(line.words))]
            a, b = there + len(line.words), here + len(line.words)
    return found + [(a + p.before, b + p.after) for p in align(old.keys[a:], mine.keys[b:]) if p.same]


def _sides(old: Sequence[Line], new: Sequence[Line]) -> list[int | None]:
    """The speakers that the engine told apart, one a microphone; [None] where it heard all of them with one."""
    heard = [{line.speaker_id for line in lines} for lines in (old, new)]
    return sorted(heard[0], key=str) if heard[0] == heard[1] and len(heard[0]) > 1 and None not in heard[0] else [None]


def _side_of_lines(
    old: Sequence[Line], mine: Sequence[Line], sides: Sequence[int | None], pairs: Sequence[tuple[int, int]]
) -> list[int | None]:  # fmt: skip
    """On which microphone each line of `mine` is heard: by its words that were heard, else by its speaker, else by its time."""
    if len(sides) == 1:
        return [None] * len(mine)
    first, own = _Words(old), _Words(mine)
    counted: dict[int, Counter[int | None]] = {}
    for a, b in pairs:
        counted.setdefault(own.line[b], Counter())[old[first.line[a]].speaker_id] += 1
    found: list[int | None] = []
    starts = [line.start_ms for line in old]
    for n, line in enumerate(mine):
        if n in counted:
            found.append(counted[n].most_common(1)[0][0])
        else:
            near = old[max(0, bisect_right(starts, line.start_ms) - 1)].speaker_id
            found.append(line.speaker_id if line.speaker_id in sides else near)
    return found


def _both_in(pairs: Sequence[tuple[int, int]], first: _Words, own: _Words) -> list[tuple[int, int]]:
    """Pairs of words of all lines as pairs of the words of these lines; those with one partner elsewhere are left out."""
    if len(first.numbers) == len(first.lines) and len(own.numbers) == len(own.lines):
        return list(pairs)
    places = [_places(first), _places(own)]
    return [(places[0][a], places[1][b]) for a, b in pairs if a in places[0] and b in places[1]]


def _places(some: _Words) -> dict[int, int]:
    """Number of a word among those of all lines → its number among these."""
    found: dict[int, int] = {}
    at, kept = 0, set(some.numbers)
    for n, line in enumerate(some.lines):
        for k in range(len(line.words)):
            if n in kept:
                found[at + k] = len(found)
        at += len(line.words)
    return found


# --- where two of them differ ---------------------------------------------------------------------------------------
class _Part(NamedTuple):
    """Words first … last (exclusive) of the older hearing became words start … end of another list."""

    first: int
    last: int
    start: int
    end: int


def _parts(same: Sequence[tuple[int, int]], many: int, others: int) -> Iterator[_Part]:
    for (a, b), (c, d) in pairwise([(-1, -1), *same, (many, others)]):
        if c - a > 1 or d - b > 1:
            yield _Part(a + 1, c, b + 1, d)


@dataclass(slots=True)
class _Place:
    """A piece of the older hearing that people, the newer hearing or both changed, with all changes that touch it."""

    first: int
    last: int
    mine: list[_Part] = field(default_factory=list)
    new: list[_Part] = field(default_factory=list)

    def touches(self, part: _Part) -> bool:
        """Shares a word; or something was put in, at its edge or inside. Words replaced side by side do not touch."""
        if part.first < self.last and self.first < part.last:
            return True
        return part.first <= self.last and self.first <= part.last and (part.first == part.last or self.first == self.last)


def _places_changed(mine: Sequence[_Part], new: Sequence[_Part]) -> list[_Place]:
    found: list[_Place] = []
    every = [(p, True) for p in mine] + [(p, False) for p in new]
    for part, own in sorted(every, key=lambda e: (e[0].first, e[0].last)):
        if not found or not found[-1].touches(part):
            found.append(_Place(part.first, part.last))
        found[-1].last = max(found[-1].last, part.last)
        (found[-1].mine if own else found[-1].new).append(part)
    return found


def _range_of(place: _Place, parts: Sequence[_Part], partner: Sequence[int]) -> tuple[int, int]:
    """What a place is in another list: (from, to)."""
    if parts and parts[0].first == place.first:
        start = parts[0].start
    else:
        start = partner[place.first] if place.first < place.last else partner[place.first - 1] + 1 if place.first else 0
    if parts and parts[-1].last == place.last:
        return start, parts[-1].end
    return start, partner[place.last - 1] + 1 if place.first < place.last else start


# --- one side -------------------------------------------------------------------------------------------------------
@dataclass(slots=True)
class _Item:
    """One word of the merged text: its number in `mine` and in `new`, -1 where it is not there.

    `kept`: as `mine` writes it. `moved`: heard at another time than before. `slot`: words (from, to) that stand in its place, of
    `new` where it is typed, of `mine` where it is not. `line`: of `mine`; -1: it stands in a line of `new`.
    """

    mine: int
    new: int
    kept: bool = False
    moved: bool = False
    slot: tuple[int, int] = (0, 0)
    line: int = -1


class _Side:
    """One microphone."""

    def __init__(self, old: _Words, mine: _Words, new: _Words, same: list[tuple[int, int]], most_ms: int) -> None:
        self._old, self._mine, self._new, self._most_ms = old, mine, new, most_ms
        heard = _same(old, new)
        self._to_mine, self._to_new = [-1] * len(old.words), [-1] * len(old.words)
        for a, b in same:
            self._to_mine[a] = b
        for a, b in heard:
            self._to_new[a] = b
        self._places = _places_changed(
            list(_parts(same, len(old.words), len(mine.words))), list(_parts(heard, len(old.words), len(new.words)))
        )
        as_heard = {old.lines[n] for n in old.numbers}  # compared without their words: by block, speaker, state and marks
        self._held = {n for n in mine.numbers if mine.lines[n] not in as_heard}
        self._items: list[_Item] = []
        self._open: list[tuple[tuple[int, int], tuple[int, int]]] = []  # items (from, to), words of `new` (from, to)

    def merged(self) -> tuple[list[Line], list[Conflict]]:
        """The lines of this side, in order, and what is to be decided."""
        at = 0
        for place in self._places:
            self._stable(at, place.first)
            self._changed(place)
            at = place.last
        self._stable(at, len(self._old.words))
        self._give_lines()
        self._ends = self._bounds()
        lines: list[Line] = []
        for first, last in self._groups():
            lines.append(self._line(first, last, lines[-1].start_ms if lines else 0))
        words = [(w, line.speaker_id) for line in lines for w in line.words]
        return lines, [self._conflict(words[slice(*items)], heard) for items, heard in self._open]

    # -- which words -------------------------------------------------------------------------------------------
    def _confirmed(self, line: int) -> bool:
        """A person declared this line corrected, or verbatim: then each of its words is theirs."""
        return RANK[self._mine.lines[line].state] >= RANK[LineState.CORRECTED] or self._mine.lines[line].verbatim

    def _stable(self, first: int, last: int) -> None:
        """Words that all three have."""
        for n in range(first, last):
            mine, new = self._to_mine[n], self._to_new[n]
            before, now = self._old.words[n], self._new.words[new]
            kept = self._mine.words[mine].text != before.text or self._confirmed(self._mine.line[mine])
            self._items.append(_Item(mine, new, kept, (before.start_ms, before.end_ms) != (now.start_ms, now.end_ms)))

    def _changed(self, place: _Place) -> None:
        start, end = _range_of(place, place.mine, self._to_mine)
        heard = _range_of(place, place.new, self._to_new)
        if not place.mine and not self._all_confirmed(start, end):
            self._items += [_Item(-1, n, slot=(start, end)) for n in range(*heard)]
            return
        own, new = self._mine.keys[start:end], self._new.keys[slice(*heard)]
        there = {p.before: heard[0] + p.after for p in align(own, new) if p.same} if place.new else {}
        inside = {self._mine.line[n] for n in range(start, end)}
        self._held |= inside
        slot = heard if len(inside) == 1 else (0, 0)
        first = len(self._items)
        self._items += [_Item(start + n, there.get(n, -1), True, True, slot) for n in range(end - start)]
        if place.new and own != new:
            self._open.append(((first, len(self._items)), heard))

    def _all_confirmed(self, start: int, end: int) -> bool:
        """Any of these words of `mine` is a person's; of none at all: both beside them are, in one line."""
        line = self._mine.line
        if start < end:
            return any(self._confirmed(n) for n in set(line[start:end]))
        return 0 < start < len(line) and line[start - 1] == line[start] and self._confirmed(line[start])

    # -- which lines -------------------------------------------------------------------------------------------
    def _give_lines(self) -> None:
        before: list[_Item | None] = []  # of every item, the nearest one before it that is in `mine`, and after it
        after: list[_Item | None] = []
        for found, items in ((before, self._items), (after, self._items[::-1])):
            near = None
            for item in items:
                found.append(near)
                near = item if item.mine >= 0 else near
        for n, item in enumerate(self._items):
            if item.mine >= 0:
                item.line = self._mine.line[item.mine]
            elif item.slot[0] < item.slot[1]:
                item.line = self._line_replaced(item, self._items[n - 1].line if n else -1)
            else:
                item.line = self._line_between(item, before[n], after[-1 - n])
        for item in self._items:
            item.line = item.line if item.line in self._held else -1

    def _line_replaced(self, item: _Item, before: int) -> int:
        """Where a word goes that stands in the place of others: into their line; of several, into that which had begun."""
        word = self._new.words[item.new]
        inside = list(dict.fromkeys(self._mine.line[slice(*item.slot)]))
        begun = [n for n in inside if self._mine.lines[n].start_ms <= (word.start_ms + word.end_ms) // 2]
        return max([inside[0], *(n for n in (before, *begun[-1:]) if n in inside)])

    def _line_between(self, item: _Item, left: _Item | None, right: _Item | None) -> int:
        """Where a word goes that only the newer hearing has: into the line it is heard in. Between two lines, to the one with
        which it was heard in one go, but to neither where two people may speak, or where a person answers for the line."""
        sides = [self._mine.line[side.mine] if side is not None else -1 for side in (left, right)]
        if sides[0] == sides[1]:
            return sides[0]
        with_it = [
            line for line, side in zip(sides, (left, right), strict=True)
            if side is not None and side.new >= 0 and self._new.line[side.new] == self._new.line[item.new]
        ]  # fmt: skip
        if not with_it or self._confirmed(with_it[0]):
            return -1
        speakers = {self._mine.lines[line].speaker_id for line in with_it}
        return with_it[0] if len(speakers) == 1 else -1

    def _groups(self) -> list[tuple[int, int]]:
        """Items (from, to) of each line of the merged text."""

        def line(n: int) -> tuple[int, int]:
            item = self._items[n]
            return (item.line, 0) if item.line >= 0 else (-1, self._new.line[item.new])

        found = [list(group) for _, group in groupby(range(len(self._items)), line)]
        return [(group[0], group[-1] + 1) for group in found]

    def _line(self, first: int, last: int, from_ms: int) -> Line:
        items = self._items[first:last]
        if items[0].line >= 0:
            return self._held_line(first, last, from_ms)
        whole = self._new.lines[self._new.line[items[0].new]]
        words = tuple(self._new.words[i.new] for i in items)
        return whole if len(words) == len(whole.words) else _with(whole, words)

    def _held_line(self, first: int, last: int, from_ms: int) -> Line:
        """A line of `mine` with the words it has now; its state only where they are those it had. `from_ms`: where the line before begins."""
        items, line = self._items[first:last], self._mine.lines[self._items[first].line]
        texts = [self._text(i) for i in items]
        same = texts == [w.text for w in line.words]
        if same and line.start_ms >= from_ms and not any(i.moved and i.new >= 0 for i in items):
            return line
        made = _with(line, self._timed(first, last, line, texts, from_ms))
        if same:
            return made
        if line.state == LineState.MACHINE and not any(i.kept for i in items):
            return made
        return replace(made, state=LineState.IN_WORK, verbatim=False)

    def _text(self, item: _Item) -> str:
        return self._mine.words[item.mine].text if item.kept else self._new.words[item.new].text

    # -- which times -------------------------------------------------------------------------------------------
    def _bounds(self) -> list[tuple[int, int]]:
        """Before each item, and after the last: where the last word ends that was heard before it, where the next one begins."""
        ends, starts = [0], [self._most_ms]
        for item in self._items:
            ends.append(self._new.words[item.new].end_ms if item.new >= 0 else ends[-1])
        for item in reversed(self._items):
            starts.append(self._new.words[item.new].start_ms if item.new >= 0 else starts[-1])
        return list(zip(ends, reversed(starts), strict=True))

    def _timed(self, first: int, last: int, line: Line, texts: list[str], from_ms: int) -> tuple[Word, ...]:
        """Words of a line: those heard anew with their new times; typed ones where they stood, if that fits, else fitted into the
        place of those that were heard there."""
        items = self._items[first:last]
        known = [self._word(i, i.moved) for i in items]
        if any(b.start_ms < a.end_ms for a, b in pairwise(w for w in known if w is not None)):
            known = [self._word(i, True) for i in items]
        low = max(from_ms, self._ends[first][0])
        high = max(low, self._ends[last][1])
        old: list[Word] = []
        same: list[tuple[int, int]] = []
        for is_heard, run in groupby(range(len(items)), lambda n: known[n] is not None):
            numbers = list(run)
            if not is_heard:
                before = known[numbers[0] - 1] if numbers[0] else None
                after = known[numbers[-1] + 1] if numbers[-1] + 1 < len(items) else None
                typed = [self._mine.words[items[n].mine] for n in numbers]
                if (before.end_ms if before else low) > typed[0].start_ms or typed[-1].end_ms > (after.start_ms if after else high):
                    old += self._instead(items, numbers)
                    continue
                for n, word in zip(numbers, typed, strict=True):
                    known[n] = word
            same += [(len(old) + k, n) for k, n in enumerate(numbers)]
            old += [w for n in numbers if (w := known[n]) is not None]
        placed = [w for w in known if w is not None]
        start_ms = max(low, min([line.start_ms, high, *(w.start_ms for w in placed[:1])]))
        end_ms = max(start_ms, min(high, max([line.end_ms, *(w.end_ms for w in placed[-1:])])))
        return fitted(old, texts, start_ms, end_ms, self._most_ms, same)

    def _word(self, item: _Item, moved: bool) -> Word | None:
        """An item with its time; None where it was not heard."""
        if item.new < 0:
            return None
        now = self._new.words[item.new]
        if item.mine < 0:
            return now
        mine = self._mine.words[item.mine]
        at = now if moved else mine
        return replace(mine if item.kept else now, start_ms=at.start_ms, end_ms=at.end_ms)

    def _instead(self, items: Sequence[_Item], run: Sequence[int]) -> list[Word]:
        """What was heard where this run of typed words stands."""
        first, last = items[run[0]].slot[0], items[run[-1]].slot[1]
        first = max([first, *(i.new + 1 for i in items[: run[0]][-1:] if i.new >= 0)])
        last = min([last, *(i.new for i in items[run[-1] + 1 :][:1] if i.new >= 0)])
        return self._new.words[first:last] if all(items[n].slot[0] < items[n].slot[1] for n in run) else []

    def _conflict(self, own: Sequence[tuple[Word, int | None]], heard: tuple[int, int]) -> Conflict:
        new = self._new
        words = [w for w, _ in own] + new.words[slice(*heard)]
        speaker_id = own[0][1] if own else new.lines[new.line[heard[0]]].speaker_id
        spans = []
        for line, group in groupby(range(*heard), lambda n: new.line[n]):
            inside = [n - new.first[line] for n in group]
            spans.append((new.lines[line].key, inside[0], inside[-1]))
        return Conflict(min(w.start_ms for w in words), max(w.end_ms for w in words), speaker_id, tuple(spans))


def _with(line: Line, words: tuple[Word, ...]) -> Line:
    return line if words == line.words else replace(line, key=0, words=words, start_ms=words[0].start_ms, end_ms=max(w.end_ms for w in words))
