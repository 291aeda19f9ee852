"""New or seen, by times: against a slow telling, millisecond by millisecond. The rule of half is a project choice."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from archive.domain.stretches import is_new, merged

STRETCHES = st.lists(st.tuples(st.integers(1, 3), st.integers(0, 40), st.integers(1, 20)).map(lambda s: (s[0], s[1], s[1] + s[2])), max_size=8)


def slowly(stretches: list[tuple[int, int, int]]) -> set[tuple[int, int]]:
    return {(r, ms) for r, start, end in stretches for ms in range(start, end)}


@settings(max_examples=60)
@given(STRETCHES, STRETCHES)
def test_as_a_slow_telling_has_it(seen: list[tuple[int, int, int]], now: list[tuple[int, int, int]]) -> None:
    before, pieces = slowly(seen), merged(seen)
    assert slowly([(r, s, e) for r, found in pieces.items() for s, e in found]) == before
    for recording, start, end in now:
        mine = slowly([(recording, start, end)])
        assert is_new((recording, start, end), pieces) is (2 * len(mine & before) < len(mine))


@settings(max_examples=40)
@given(STRETCHES)
def test_what_was_seen_is_never_new_however_it_is_cut(seen: list[tuple[int, int, int]]) -> None:
    pieces = merged(seen)
    for recording, start, end in seen:
        middle = (start + end + 1) // 2
        assert not is_new((recording, start, end), pieces) and not is_new((recording, start, middle), pieces)
