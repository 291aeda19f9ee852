"""Three wordings made into one: by property, over corrections that the desk's own functions make and hearings that differ anyhow.

The rules are this project's own (issue 5: "corrections are carried over by aligning the words, conflicts listed").
"""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from archive.domain import editing
from archive.domain.aligning import compared
from archive.domain.editing import Line
from archive.domain.merging import Conflict, merge
from archive.domain.values import MIN_WORD_MS, LineState, Word

MOST_MS = 600_000
_HEARD = st.sampled_from(["the", "tide", "rope", "and", "net", "row", "we", "walked", "ferry", "black", "down"])
_OTHER = st.sampled_from(["um", "tied", "robe", "met", "road", "Well"])


@st.composite
def hearing(draw: st.DrawFn) -> list[Line]:
    """What an engine hears: lines of words, one after another."""
    lines, at = [], draw(st.integers(0, 900))
    for _ in range(draw(st.integers(1, 5))):
        words = []
        for text in draw(st.lists(_HEARD, min_size=1, max_size=9)):
            length = draw(st.sampled_from([MIN_WORD_MS, 180, 300]))
            words.append(Word(text, at, at + length, 0.8))
            at += length + draw(st.sampled_from([0, 0, 60]))
        lines.append(_line(words, len(lines) + 1))
        at += draw(st.sampled_from([0, 300, 2000]))
    return lines


def _line(words: list[Word], key: int) -> Line:
    return Line(key, None, words[0].start_ms, words[-1].end_ms, words=tuple(words))


@st.composite
def heard_again(draw: st.DrawFn, old: list[Line]) -> list[Line]:
    """Another hearing: words elsewhere by up to 90 ms, dropped, put in, heard otherwise; parted into other lines."""
    words: list[Word] = []
    at = 0
    for word in [w for line in old for w in line.words]:
        fate = draw(st.sampled_from(["same"] * 5 + ["drop", "other", "more", "sign"]))
        texts = {"same": [word.text], "drop": [], "other": [draw(_OTHER)], "more": [word.text, draw(_OTHER)], "sign": [word.text + "."]}[fate]
        for text in texts:
            start = max(at, word.start_ms + draw(st.integers(-90, 90)))
            words.append(Word(text, start, start + max(MIN_WORD_MS, (word.end_ms - word.start_ms) // len(texts)), 0.7))
            at = words[-1].end_ms
    lines: list[list[Word]] = []
    for word in words:
        if not lines or draw(st.sampled_from([False] * 5 + [True])):
            lines.append([])
        lines[-1].append(word)
    return [_line(line, 100 + n) for n, line in enumerate(lines)]


@st.composite
def corrected(draw: st.DrawFn, old: list[Line]) -> list[Line]:
    """What people make of a hearing at the desk: typed, parted, joined, named, declared; with keys of their own."""
    lines, key = list(old), 1000
    for _ in range(draw(st.integers(0, 6))):
        at = draw(st.integers(0, len(lines) - 1))
        line, act = lines[at], draw(st.sampled_from(["type", "type", "part", "join", "speaker", "state", "remove"]))
        made: tuple[Line, ...] = (line,)
        last = at + 1
        if act == "type":
            texts = [w.text for w in line.words]
            n = draw(st.integers(0, len(texts)))
            texts[n : n + draw(st.integers(0, 2))] = draw(st.lists(st.sampled_from(["Lund", "scullery", "Tarn", "[laughter]"]), max_size=2))
            made = editing.typed(line, texts, "E-01", MOST_MS) if texts else (line,)
        elif act == "part" and len(line.words) > 1:
            made = editing.split(line, draw(st.integers(1, len(line.words) - 1)), "E-01")
        elif act == "join" and at + 1 < len(lines) and lines[at + 1].words[0].start_ms >= line.words[-1].start_ms:
            made, last = (editing.join(line, lines[at + 1], "E-01"),), at + 2
        elif act == "speaker":
            made = (replace(line, speaker_id=draw(st.sampled_from([7, 8]))),)
        elif act == "state":
            made = (replace(line, state=LineState.CORRECTED, state_by="E-01", verbatim=draw(st.booleans())),)
        elif act == "remove" and len(lines) > 1:
            made = ()
        for n, one in enumerate(made):
            if one.key == 0:
                key += 1
                made = (*made[:n], replace(one, key=key), *made[n + 1 :])
        lines[at:last] = made
    return lines


@st.composite
def three(draw: st.DrawFn) -> tuple[list[Line], list[Line], list[Line]]:
    old = draw(hearing())
    return old, draw(corrected(old)), draw(heard_again(old))


def texts(lines: list[Line]) -> list[str]:
    return [w.text for line in lines for w in line.words]


@given(three())
@settings(max_examples=40)
def test_without_corrections_it_is_the_new_hearing(given_: tuple[list[Line], list[Line], list[Line]]) -> None:
    old, _, new = given_
    lines, conflicts = merge(old, old, new, MOST_MS)
    assert lines == new and [n.words for n in lines] == [n.words for n in new] and conflicts == []


@given(three())
@settings(max_examples=40)
def test_where_the_new_hearing_says_the_same_it_is_the_corrected_one(given_: tuple[list[Line], list[Line], list[Line]]) -> None:
    old, mine, _ = given_
    lines, conflicts = merge(old, mine, old, MOST_MS)
    assert lines == mine and [n.words for n in lines] == [n.words for n in mine] and conflicts == []


@given(three())
@settings(max_examples=40)
def test_what_was_typed_stays_in_its_order_and_times_rise(given_: tuple[list[Line], list[Line], list[Line]]) -> None:
    old, mine, new = given_
    lines, conflicts = merge(old, mine, new, MOST_MS)
    known = set(texts(old))
    said = iter(texts(lines))
    assert all(word in said for word in texts(mine) if word not in known), "every typed word, in order"
    for line in lines:
        assert line.words and (line.start_ms, line.end_ms) == (line.words[0].start_ms, max(w.end_ms for w in line.words))
        assert all(a.end_ms <= b.start_ms for a, b in zip(line.words, line.words[1:], strict=False))
        assert all(w.end_ms - w.start_ms >= MIN_WORD_MS for w in line.words)
    assert [n.start_ms for n in lines] == sorted(n.start_ms for n in lines)
    keys = [n.key for n in lines if n.key]
    assert len(set(keys)) == len(keys), "no line stands twice"
    assert all(c.end_ms > c.start_ms for c in conflicts)


@given(three())
@settings(max_examples=40)
def test_a_line_is_only_what_a_person_declared_it_while_its_words_are_the_same(given_: tuple[list[Line], list[Line], list[Line]]) -> None:
    old, mine, new = given_
    declared = [(texts([n]), n.state, n.verbatim) for n in mine if n.state == LineState.CORRECTED]
    found = [(texts([n]), n.state, n.verbatim) for n in merge(old, mine, new, MOST_MS)[0] if n.state == LineState.CORRECTED]
    assert found == declared


@given(st.lists(_HEARD, min_size=3, max_size=12, unique=True), st.data())
def test_a_conflict_is_where_both_changed_the_same_word_differently(said: list[str], data: st.DataObject) -> None:
    """Words that are all different, each replaced by one or none: then word by word says what has to come out."""
    old = _line([Word(t, n * 400, n * 400 + 300, 0.8) for n, t in enumerate(said)], 1)
    typed = [data.draw(st.sampled_from([t, t, f"typed{n % 2}"])) for n, t in enumerate(said)]
    heard = [data.draw(st.sampled_from([t, t, f"typed{n % 2}", "heard"])) for n, t in enumerate(said)]
    mine = replace(editing.typed(old, typed, "E-01", MOST_MS)[0], key=2)
    new = replace(old, key=3, words=tuple(replace(w, text=t, end_ms=w.end_ms + 20) for w, t in zip(old.words, heard, strict=True)))
    lines, conflicts = merge([old], [mine] if typed != said else [old], [new], MOST_MS)
    wanted = [t if t != o else h for o, t, h in zip(said, typed, heard, strict=True)]
    differ = [n for n, (o, t, h) in enumerate(zip(said, typed, heard, strict=True)) if t != o and h not in (o, t)]
    covered = [n for n in range(len(said)) for _, first, last in [s for c in conflicts for s in c.spans] if first <= n <= last]
    assert set(differ) <= set(covered)
    assert all(compared(said[n]) != compared(typed[n]) or compared(said[n]) != compared(heard[n]) for n in covered), "what nobody changed is no conflict"
    for n, text in enumerate(texts(lines)):
        assert text == wanted[n] or n in covered, "outside conflicts each word is that of who changed it"
        assert text == typed[n] or n not in covered, "inside them a person's stands"


def test_a_correction_the_new_hearing_and_a_conflict_side_by_side() -> None:
    def said(text: str, key: int, shift_ms: int = 0) -> Line:
        return _line([Word(t, 1000 + n * 400 + shift_ms, 1300 + n * 400 + shift_ms, 0.8) for n, t in enumerate(text.split())], key)

    old = said("it was the zero throne who had the key of the bolt nobody else", 1)
    mine = replace(editing.typed(old, ["it", "was", "Peter", "Lund", "who", "had", "the", "key", "of", "the", "boat", "nobody", "else"], "E-01", MOST_MS)[0], key=2)
    new = said("it was the zeros alone who had a key of the boat nobody else.", 3, 40)
    lines, conflicts = merge([old], [replace(mine, speaker_id=5)], [new], MOST_MS)
    assert " ".join(texts(lines)) == "it was Peter Lund who had a key of the boat nobody else."
    (line,) = lines
    assert (line.key, line.speaker_id, line.state, line.state_by) == (0, 5, LineState.IN_WORK, "E-01")
    assert [w.start_ms for w in line.words[:2]] == [1040, 1440], "heard anew"
    assert conflicts == [Conflict(1840, 2940, 5, ((3, 2, 4),))] or conflicts[0].spans == ((3, 2, 4),)


def test_each_microphone_is_merged_by_itself() -> None:
    def turn(speaker: int, start_ms: int, text: str, key: int) -> Line:
        return replace(_line([Word(t, start_ms + n * 300, start_ms + n * 300 + 250, 0.8) for n, t in enumerate(text.split())], key), speaker_id=speaker)

    old = [turn(1, 0, "so we went down to the ferry slip that night", 1), turn(2, 900, "yes", 2)]
    mine = [replace(old[0], key=11, words=tuple(replace(w, text="Slip") if w.text == "slip" else w for w in old[0].words)), old[1]]
    new = [turn(1, 0, "so we went", 21), turn(2, 900, "yes yes", 22), turn(1, 930, "down to the ferry slip at night", 23)]
    lines, conflicts = merge(old, mine, new, MOST_MS)
    assert [(n.speaker_id, " ".join(texts([n]))) for n in lines] == [(1, "so we went down to the ferry Slip at night"), (2, "yes yes")]
    assert conflicts == []


def test_what_is_heard_between_two_people_is_given_to_neither() -> None:
    def turn(start_ms: int, text: str, key: int, speaker: int | None = None) -> Line:
        return replace(_line([Word(t, start_ms + n * 300, start_ms + n * 300 + 250, 0.8) for n, t in enumerate(text.split())], key), speaker_id=speaker)

    old = [turn(0, "where were you", 1), turn(5000, "on net row", 2)]
    mine = [replace(old[0], speaker_id=1), replace(old[1], speaker_id=2)]
    new = [turn(0, "where were you", 3), turn(2000, "in the flood", 4), turn(5000, "on net row", 5)]
    lines, _ = merge(old, mine, new, MOST_MS)
    assert [(n.speaker_id, " ".join(texts([n]))) for n in lines] == [(1, "where were you"), (None, "in the flood"), (2, "on net row")]
