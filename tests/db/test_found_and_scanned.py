"""Find = a slow scan, and its counts = a recount, over random small histories (issue 6; DESIGN §4, 4). `python -m tests.bench equal`: 5,000."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from sqlalchemy import Engine

from tests.db.found_and_scanned import compare
from tests.db.test_permitted import BATCH, World, batches, engine  # noqa: F401  fixture

BATCHES, ASKED = 5, 12  # 200 histories


@pytest.fixture
def base(engine: Engine) -> Iterator[Engine]:  # noqa: F811
    """An archive's tables in memory."""
    yield engine


def test_find_is_a_slow_scan_and_counts_are_a_recount(base: Engine) -> None:
    seen: Counter[str] = Counter()

    @settings(max_examples=BATCHES, deadline=None, database=None, suppress_health_check=list(HealthCheck), phases=[Phase.generate])
    @given(batches(), st.integers(0, 2**20))
    def check(world: World, seed: int) -> None:
        seen.update(compare(base, world, seed, ASKED))
        seen["histories"] += BATCH

    check()
    assert seen["histories"] >= 200
    # The questions must bite: neither may nearly all be found, nor nearly none.
    assert 0.001 < seen["found"] / seen["units"] < 0.6, seen  # 60 questions are few: by chance it was 0.008 once in five runs
