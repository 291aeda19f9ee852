"""Correcting a transcript: no edit loses a word, times never run backwards, undoing gives back exactly what was there.

The rules are this project's own; difflib of the standard library and a plain list stand beside them as the slow reading.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from archive.domain import editing
from archive.domain.editing import Change, Entry, Line, apply, fitted, join, least, placed, split, typed, with_state
from archive.domain.values import MIN_WORD_MS, LineState, Word
from archive.errors import BadInput, Clash

MOST_MS = 600_000
_SOME = st.sampled_from(["the", "tide", "rope", "and", "Net", "Row,", "we", "walked.", "[Tandy?]", "[laughter]", "é", "14"])


@st.composite
def spoken(draw: st.DrawFn, start_ms: int = 0, least: int = 1, most: int = 12) -> tuple[Word, ...]:
    """Words as an engine gives them: 20 ms at least, gaps or none, now and then two that overlap a little."""
    at, words = start_ms, []
    for text in draw(st.lists(_SOME, min_size=least, max_size=most)):
        length = draw(st.integers(MIN_WORD_MS, 700))
        words.append(Word(text, at, at + length, draw(st.sampled_from([0.2, 0.9]))))
        at += length + draw(st.sampled_from([0, 0, 5, 400]))
    return tuple(words)


def monotone(words: tuple[Word, ...]) -> bool:
    starts = [w.start_ms for w in words]
    return starts == sorted(starts) and all(w.end_ms - w.start_ms >= MIN_WORD_MS for w in words)


def line_of(words: tuple[Word, ...], key: int = 1, speaker: int | None = None) -> Line:
    return Line(key, speaker, words[0].start_ms, max(w.end_ms for w in words), words=words)


@given(spoken(start_ms=1000), st.lists(_SOME, max_size=20))
def test_typed_words_stand_in_order_with_times_inside_the_recording(old: tuple[Word, ...], texts: list[str]) -> None:
    words = fitted(old, texts, old[0].start_ms, old[-1].end_ms, MOST_MS)
    assert [w.text for w in words] == texts
    assert monotone(words)
    assert all(w.start_ms >= 0 and w.end_ms <= MOST_MS for w in words)


@given(spoken(start_ms=1000, least=3), st.data())
def test_words_that_were_not_touched_keep_their_times(old: tuple[Word, ...], data: st.DataObject) -> None:
    at = data.draw(st.integers(0, len(old) - 1))
    texts = [w.text for w in old]
    texts[at] = "Hollin"
    words = fitted(old, texts, old[0].start_ms, old[-1].end_ms, MOST_MS)
    assert [(w.start_ms, w.end_ms) for w in words] == [(w.start_ms, w.end_ms) for w in old]
    assert [w.probability for n, w in enumerate(words) if n != at] == [w.probability for n, w in enumerate(old) if n != at]


def test_a_sign_or_a_capital_changes_no_time_and_what_is_put_into_a_pause_does_not_fill_it() -> None:
    old = (Word("the", 0, 200, 0.4), Word("harbour", 3000, 3600, 0.9))
    assert fitted(old, ["The", "harbour."], 0, 3600, MOST_MS) == (Word("The", 0, 200, 0.4), Word("harbour.", 3000, 3600, 0.9))
    added = fitted(old, ["the", "old", "harbour"], 0, 3600, MOST_MS)
    assert added[1].start_ms == 200 and added[1].end_ms < 1000 and added[2] == old[1]
    paused = fitted(old, ["the", "[pause]", "harbour"], 0, 3600, MOST_MS)
    assert paused[1] == Word("[pause 3 s]", 200, 3000)


def test_where_there_is_no_room_the_neighbours_give_some_and_at_last_the_line_grows() -> None:
    old = (Word("a", 100, 130), Word("b", 130, 160))
    words = fitted(old, ["a", *"vwxyz", "b"], 100, 160, MOST_MS)
    assert monotone(words) and words[-1].end_ms == 100 + 7 * MIN_WORD_MS
    with pytest.raises(BadInput, match="more words than this recording is long"):
        fitted(old, ["x"] * 10, 100, 160, 190)
    last = fitted(old, ["x"] * 9, 100, 160, 190)  # at the end of a recording the line grows at its beginning
    assert monotone(last) and last[-1].end_ms <= 190 and last[0].start_ms >= 0


@given(spoken(least=2), st.data())
def test_parting_and_joining_gives_the_same_words(words: tuple[Word, ...], data: st.DataObject) -> None:
    line = line_of(words, speaker=4)
    first, second = split(line, data.draw(st.integers(1, len(words) - 1)), "E-01")
    assert first.words + second.words == words
    whole = join(first, second, "E-01")
    assert (whole.words, whole.speaker_id, whole.start_ms, whole.end_ms) == (words, 4, line.start_ms, line.end_ms)


def test_two_speakers_joined_are_nobody_in_particular_and_two_at_once_are_not_joined() -> None:
    one, other = line_of((Word("no", 0, 100),), 1, 4), line_of((Word("yes", 200, 300),), 2, 5)
    assert join(one, other, "E-01").speaker_id is None
    with pytest.raises(BadInput):
        join(other, one, "E-01")
    for at in (0, 1):
        with pytest.raises(BadInput):
            split(one, at, "E-01")


class Table:
    """Lines with keys for what is new, as the database gives them, and a journal."""

    def __init__(self, lines: list[Line]) -> None:
        self.lines, self.next_key = lines, max(line.key for line in lines) + 1
        self.journal: list[Entry] = []
        self.changes: dict[int, Change] = {}

    def do(self, change: Change, undoes: int = 0) -> None:
        new = tuple(line if line.key else replace(line, key=self._key()) for line in change.new)
        change = replace(change, new=new)
        apply(self.lines, change)
        entry = Entry(len(self.journal) + 1, undoes)
        self.journal.append(entry)
        self.changes[entry.id] = change

    def _key(self) -> int:
        self.next_key += 1
        return self.next_key

    def turn(self, entry_id: int) -> None:
        self.do(self.changes[entry_id].turned(), entry_id)


@settings(max_examples=150)
@given(st.data())
def test_any_sequence_of_edits_keeps_words_and_order_and_undoing_returns_exactly(data: st.DataObject) -> None:
    lines, at = [], 0
    for key in range(1, data.draw(st.integers(2, 5)) + 1):
        words = data.draw(spoken(start_ms=at))
        lines.append(line_of(words, key, data.draw(st.sampled_from([None, 4, 5]))))
        at = words[-1].end_ms + 50
    table = Table(list(lines))
    states = [list(lines)]
    said = [w.text for line in lines for w in line.words]  # the slow reading: a plain list of texts
    for _ in range(data.draw(st.integers(1, 8))):
        n = data.draw(st.integers(0, len(table.lines) - 1))
        line, before = table.lines[n], sum(len(x.words) for x in table.lines[:n])
        act = data.draw(st.sampled_from(["type", "type", "split", "join", "speaker", "state", "away"]))
        after = table.lines[n - 1].key if n else 0
        if act == "type":
            texts = data.draw(st.lists(_SOME, min_size=1, max_size=14))
            said[before : before + len(line.words)] = texts
            table.do(Change((line,), typed(line, texts, "E-01", MOST_MS), after))
        elif act == "split" and len(line.words) > 1:
            table.do(Change((line,), split(line, data.draw(st.integers(1, len(line.words) - 1)), "E-01"), after))
        elif act == "join" and n + 1 < len(table.lines) and table.lines[n + 1].words[0].start_ms >= line.words[-1].start_ms:
            table.do(Change((line, table.lines[n + 1]), (join(line, table.lines[n + 1], "E-01"),), after))
        elif act == "speaker":
            table.do(Change((line,), (replace(line, speaker_id=data.draw(st.sampled_from([None, 4, 5]))),), after))
        elif act == "state":
            table.do(Change((line,), (with_state(line, LineState.CORRECTED, "E-01"),), after))
        elif act == "away" and len(table.lines) > 1:
            said[before : before + len(line.words)] = []
            table.do(Change((line,), (), after))
        else:
            continue
        assert [w.text for x in table.lines for w in x.words] == said
        assert all(monotone(x.words) for x in table.lines)
        assert all(x.start_ms == x.words[0].start_ms and x.end_ms == max(w.end_ms for w in x.words) for x in table.lines)
        states.append(list(table.lines))
    newest = list(table.lines)
    for was in reversed(states[:-1]):
        table.turn(editing.to_undo(table.journal))
        assert table.lines == was and [x.words for x in table.lines] == [x.words for x in was]
    assert editing.to_undo(table.journal) == 0
    steps = data.draw(st.integers(0, len(states) - 1))
    for n in range(steps):
        table.turn(editing.to_redo(table.journal))
        assert table.lines == states[n + 1]
    if steps == len(states) - 1:
        assert table.lines == newest and editing.to_redo(table.journal) == 0


def test_what_is_not_there_any_more_is_a_conflict_and_changes_nothing() -> None:
    lines = [line_of((Word("a", n * 100, n * 100 + 50),), n + 1) for n in range(3)]
    table = Table(list(lines))
    table.do(Change((lines[1],), typed(lines[1], ["b"], "E-01", MOST_MS), 1))
    now = list(table.lines)
    for change in (
        Change((lines[1],), typed(lines[1], ["c"], "E-02", MOST_MS), 1),
        Change((lines[0], lines[1]), (), 0),
        Change((replace(lines[2], speaker_id=9),), (), 0),
    ):
        with pytest.raises(Clash):
            apply(table.lines, change)
        assert table.lines == now


def test_a_line_that_was_taken_away_comes_back_where_its_time_says_when_its_neighbour_changed() -> None:
    lines = [line_of((Word("a", n * 100, n * 100 + 50),), n + 1) for n in range(3)]
    table = Table(list(lines))
    table.do(Change((lines[1],), (), 1))
    table.do(Change((lines[0],), typed(lines[0], ["z"], "E-02", MOST_MS), 0))
    table.turn(1)
    assert [x.words[0].text for x in table.lines] == ["z", "a", "a"] and table.lines[1] == lines[1]


def test_states_go_up_by_the_right_people_and_fall_back_when_words_change() -> None:
    line = replace(line_of((Word("a", 0, 50),)), verbatim=True)
    with pytest.raises(Clash, match="Nobody has corrected"):
        with_state(line, LineState.CHECKED, "E-02")
    corrected = with_state(line, LineState.CORRECTED, "E-01")
    with pytest.raises(Clash, match="yourself"):
        with_state(corrected, LineState.CHECKED, "e-01 ")
    checked = with_state(corrected, LineState.CHECKED, "E-02")
    (again,) = typed(checked, ["b"], "E-02", MOST_MS)
    assert (again.state, again.verbatim, again.state_by) == (LineState.IN_WORK, False, "E-02")
    assert least([checked.state, again.state]) == LineState.IN_WORK and least([]) == LineState.MACHINE


@given(spoken(start_ms=500, most=9), st.data())
def test_words_put_to_the_sound_never_run_backwards_and_the_others_stay(words: tuple[Word, ...], data: st.DataObject) -> None:
    which = data.draw(st.sets(st.integers(0, len(words) - 1)))
    times = st.none() | st.tuples(st.integers(0, 5000), st.integers(0, 900)).map(lambda t: (t[0], t[0] + t[1]))
    found = data.draw(st.lists(times, min_size=len(words), max_size=len(words)))
    made = placed(words, which, found, words[0].start_ms, words[-1].end_ms)
    assert [(w.text, w.probability) for w in made] == [(w.text, w.probability) for w in words]
    assert monotone(made) and all(words[0].start_ms <= w.start_ms and w.end_ms <= words[-1].end_ms for w in made)
    assert all(made[n] == w for n, w in enumerate(words) if n not in which)


def test_words_are_put_where_they_were_found_and_a_lost_one_between_them() -> None:
    words = tuple(Word(t, 1000 + 100 * n, 1100 + 100 * n) for n, t in enumerate(["so", "we", "walked", "down", "it"]))
    words = (*words[:4], Word("it", 3000, 3200))
    made = placed(words, {1, 2, 3}, [None, (1500, 1700), None, (1900, 2500), None], 1000, 3200)
    assert [(w.start_ms, w.end_ms) for w in made] == [(1000, 1100), (1500, 1700), (1700, 1720), (1900, 2500), (3000, 3200)]
