"""Find units: a passage cut at every edge inside it."""

from hypothesis import given
from hypothesis import strategies as st

from archive.domain.passages import cut_units
from archive.domain.values import Stretch


@given(st.integers(0, 1000), st.integers(1, 1000), st.lists(st.integers(-100, 2500)))
def test_pieces_cover_the_passage_and_no_edge_lies_inside_one(start: int, length: int, edges: list[int]) -> None:
    passage = Stretch(7, start, start + length)
    pieces = cut_units(passage, edges)
    assert pieces[0].start_ms == passage.start_ms and pieces[-1].end_ms == passage.end_ms
    assert all(a.end_ms == b.start_ms for a, b in zip(pieces, pieces[1:], strict=False))
    assert all(p.recording_id == 7 for p in pieces)
    assert not any(p.start_ms < e < p.end_ms for p in pieces for e in edges)
    assert len(pieces) == 1 + len({e for e in edges if start < e < start + length})
