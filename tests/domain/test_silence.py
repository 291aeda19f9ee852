"""Every millisecond of a masked name is among what may not be heard (DESIGN section 4, 5)."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from archive.domain.masking import mask_words
from archive.domain.passages import Utterance
from archive.domain.silence import hidden_stretches
from archive.domain.values import Word
from tests.domain.test_masking import masks, speech


def said(lines: list[list[Word]]) -> list[Utterance]:
    return [Utterance(n, None, ws[0].start_ms, max(w.end_ms for w in ws), tuple(ws)) for n, ws in enumerate(lines)]


@given(speech(), masks, st.integers(1, 5))
def test_sound_covers_every_masked_token_whole(words: list[Word], hidden: list[tuple[int, int]], each: int) -> None:
    """However the words fall into utterances: a mask of the wording, with what lies between its words, is inside one stretch."""
    lines = [words[at : at + each] for at in range(0, len(words), each)]
    muted = hidden_stretches(said(lines), hidden)
    for token in mask_words(words, hidden):
        if token.masked:
            assert any(s <= token.start_ms and token.end_ms <= e for s, e in muted)
    for start, end in hidden:
        assert any(s <= start and end <= e for s, e in muted)
    assert all(0 <= s < e for s, e in muted)
    assert all(before[1] < after[0] for before, after in zip(muted, muted[1:], strict=False))
    covered = [(t.start_ms, t.end_ms) for t in mask_words(words, hidden) if t.masked] + hidden
    for start, end in muted:
        assert start in [s for s, _ in covered]
        assert end - 20 <= max(e for s, e in covered if s <= end), "and nothing else is silent (a word lasts 20 ms at least)"


def test_a_name_over_two_utterances_is_one_stretch() -> None:
    lines = said([[Word("then", 0, 300), Word("Walter", 400, 700)], [Word("Hobbs,", 1_900, 2_300), Word("he", 2_400, 2_500)]])
    assert hidden_stretches(lines, [(450, 500), (2_000, 2_100)]) == [(400, 2_300)]
    assert hidden_stretches(lines, [(450, 500)]) == [(400, 700)]
    assert hidden_stretches(lines, []) == []
