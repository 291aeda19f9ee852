"""Nearness by its definition, on vectors that can be reckoned by hand; order of leads by the recipe of SEARCH.md, second part."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive.rules.nearness import LEAST, near_enough, nearness, one_each, order


def unit(*values: float) -> np.ndarray:
    found = np.array(values, dtype=np.float32)
    return found / np.linalg.norm(found)


def test_what_all_have_in_common_counts_for_nothing() -> None:
    """Two passages and two notes with one large common part: after the means are taken off, each is its own note's and the other's opposite."""
    passages = np.stack([unit(9, 1, 0), unit(9, 0, 1)])
    found = nearness(passages, {"a": unit(7, 1, 0), "b": unit(7, 0, 1)})
    for row, mine, other in ((found[0], "a", "b"), (found[1], "b", "a")):
        assert row[mine] == pytest.approx(1, abs=1e-3) and row[other] == pytest.approx(-1, abs=1e-3)
    assert min(passages @ unit(7, 0, 1)) > 0.97, "not centred, everything is near everything"


def test_confirmed_passages_move_a_note_by_three_tenths() -> None:
    """Note along x, confirmed along y: the nudged note points along (1, 0.3), so y is 0.3 ÷ √1.09 from it."""
    notes = {"a": unit(1, 0, 0), "b": unit(-1, 0, 0)}
    asked = np.stack([unit(0, 1, 0)])
    none = np.zeros(3, dtype=np.float32)
    assert nearness(asked, notes, mean=none)[0]["a"] == pytest.approx(0, abs=1e-6)
    assert nearness(asked, notes, {"a": np.stack([unit(0, 1, 0)] * 4)}, none)[0]["a"] == pytest.approx(0.3 / 1.09**0.5, abs=1e-5)


def test_where_nothing_can_be_told_apart_nothing_is_near() -> None:
    assert nearness(np.zeros((2, 3), dtype=np.float32), {"a": unit(1, 0, 0)}) == [{}, {}]
    assert nearness(np.zeros((0, 3), dtype=np.float32), {"a": unit(1, 0, 0), "b": unit(0, 1, 0)}) == []


def test_at_most_two_themes_are_near_enough() -> None:
    assert near_enough({"a": 0.3, "b": 0.5, "c": 0.26, "d": -1}) == {"b": 0.5, "a": 0.3} and near_enough({"a": 0.24}) == {}


def test_words_lift_a_lead_by_a_tenth_over_their_rank() -> None:
    near = {1: 0.40, 2: 0.33, 3: 0.36, 4: 0.05}
    assert order(near, [], 9) == [1, 3, 2], "what is not near at all is no lead"
    assert order(near, [2, 4, 3], 9) == [2, 1, 3]  # 0.43, 0.40, 0.36 + 0.033
    assert order(near, [4, 2, 3], 2) == [1, 3]  # 0.40, 0.393; 0.38 is the third


@given(st.dictionaries(st.integers(1, 40), st.floats(-1, 1)), st.lists(st.integers(1, 40), unique=True), st.integers(0, 12))
def test_leads_are_the_best_of_what_is_near(near: dict[int, float], words: list[int], most: int) -> None:
    found = order(near, words, most)
    able = {u for u, value in near.items() if value >= LEAST}
    value = {u: near[u] + (0.1 / (words.index(u) + 1) if u in words else 0) for u in able}
    assert len(found) == len(set(found)) == min(most, len(able)) and set(found) <= able
    assert all(value[u] >= value[v] for u in found for v in able - set(found))


@given(st.lists(st.integers(1, 3), min_size=1, max_size=5))
def test_one_vector_for_each_text(counts: list[int]) -> None:
    rng = np.random.default_rng(len(counts))
    found = one_each(rng.standard_normal((n, 8), dtype=np.float32) for n in counts)
    assert found.shape == (len(counts), 8) and np.linalg.norm(found, axis=1) == pytest.approx(1, abs=1e-5)
