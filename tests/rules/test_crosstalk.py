"""Crosstalk: what one speaker says is faintly on the other's microphone, and is written once; two who talk at once both stay.

Levels of lapel microphones: common practice, no source. Real recordings mixed so: tests/speech/test_crosstalk_heard.py.
"""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive.domain.values import Word
from archive.rules.crosstalk import Loud, without_crosstalk

LEAKS_DB = (-20, -30, -35, -45)


def said(text: str, start_ms: int, level_db: float | None, step_ms: int = 300) -> list[Loud]:
    return [Loud(Word(t, start_ms + n * step_ms, start_ms + n * step_ms + 250), level_db) for n, t in enumerate(text.split())]


def texts(words: Sequence[Word]) -> str:
    return " ".join(w.text for w in words)


ASKED = said("And what did you see that night from the window?", 0, -24)
TOLD = said("I saw the water come up through the drain, before the bells.", 5000, -27)


@pytest.mark.parametrize("leak_db", LEAKS_DB)
def test_a_voice_heard_faintly_on_the_other_side_is_written_once(leak_db: int) -> None:
    """Misheard here and there, and a little late, as an engine hears it."""
    faint_told = said("I saw the waters come up to the drain, before the bells.", 5040, -27 + leak_db)
    faint_asked = said("and what you seen that night for the window.", 30, -24 + leak_db)
    left, right, out = without_crosstalk([*ASKED, *faint_told], [*faint_asked, *TOLD])
    assert texts(left) == texts([w.word for w in ASKED]) and texts(right) == texts([w.word for w in TOLD])
    assert len(out) == len(faint_told) + len(faint_asked)


@pytest.mark.parametrize("gain_db", [-25, -12, 0, 12])
def test_two_who_talk_at_once_both_stay(gain_db: int) -> None:
    """Even in the same words, and where one microphone is turned down: they are as loud as they always are on it."""
    left = [*said("Yes, the bells rang for an hour.", 0, -24), *said("the bells, yes, the bells", 9000, -25)]
    right = [*said("It was me who rang them that night.", 4000, -24 + gain_db), *said("the bells, yes, the bells", 9000, -25 + gain_db)]
    kept_left, kept_right, out = without_crosstalk(left, right)
    assert (kept_left, kept_right, out) == ([w.word for w in left], [w.word for w in right], [])


def test_a_low_aside_in_other_words_stays() -> None:
    """An interviewer who murmurs while the narrator speaks: faint, but not the narrator's words."""
    left = [*ASKED, *said("mm, go on", 5600, -50)]
    kept, _, out = without_crosstalk(left, TOLD)
    assert kept == [w.word for w in left] and not out


def test_what_the_other_side_did_not_hear_stays() -> None:
    """Faint, and nothing at that time on the other side: it may be the only trace of what was said."""
    left = [*ASKED, *said("I saw the water", 9000, -60)]
    assert without_crosstalk(left, TOLD)[0] == [w.word for w in left]


def test_a_side_without_its_own_words_is_crosstalk_only_where_it_is_much_fainter() -> None:
    faint = said("I saw the water come up through the drain, before the bells.", 5000, -27 - 35)
    assert without_crosstalk(faint, TOLD)[0] == []
    nearly = said("I saw the water come up through the drain, before the bells.", 5000, -27 - 14)
    assert len(without_crosstalk(nearly, TOLD)[0]) == len(nearly)


def test_words_whose_level_was_never_measured_stay() -> None:
    left = said("I saw the water come up", 5000, None)
    assert without_crosstalk(left, TOLD) == ([w.word for w in left], [w.word for w in TOLD], [])


@st.composite
def side(draw: st.DrawFn) -> list[Loud]:
    words, at = [], 0
    for text in draw(st.lists(st.sampled_from(["we", "went.", "boats,", "yes"]), max_size=30)):
        at += draw(st.sampled_from([0, 50, 900]))
        words.append(Loud(Word(text, at, at + 250), draw(st.sampled_from([None, -20.0, -30.0, -50.0, -70.0]))))
        at += 250
    return words


@given(side(), side())
def test_nothing_is_changed_and_never_both_are_dropped(left: list[Loud], right: list[Loud]) -> None:
    """Kept words are the given ones in their order; whatever goes, a louder word at that time stays on the other side."""
    kept_left, kept_right, out = without_crosstalk(left, right)
    for given_side, kept, other in ((left, kept_left, kept_right), (right, kept_right, kept_left)):
        whole = [w.word for w in given_side]
        assert [w for w in whole if w in kept] == kept
        for word in (w for w in whole if w not in kept):
            assert any(o.start_ms < word.end_ms + 300 and word.start_ms - 300 < o.end_ms for o in other)
    assert len(out) == len(left) + len(right) - len(kept_left) - len(kept_right)
    assert without_crosstalk(right, left)[:2] == (kept_right, kept_left)
