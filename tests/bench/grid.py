"""The grid of places and decades over 100,000 and 1,000,000 passages of tests/bench/big.py, with consent asked live: budget 500 ms (issue 6)."""

from __future__ import annotations

import shutil
import statistics
import time
from collections.abc import Callable
from pathlib import Path

from archive.domain.values import Role, Viewer
from tests.bench.big import made

KEEPER, EDITOR, READER = Viewer("K-01", Role.KEEPER), Viewer("E-01", Role.EDITOR), Viewer("R-01", Role.READER)
ROUNDS = 9


def grid(say: Callable[[str], None], folder: Path) -> None:
    """First time (columns are read), then median and worst, a role each; a pause seen in the next request."""
    for passages in (100_000, 1_000_000):
        home = folder / f"grid-{passages}"
        archive = made(home, passages).archive
        for viewer in (EDITOR, READER):
            took = []
            for _ in range(ROUNDS + 1):
                begun = time.perf_counter()
                found = archive.overview.grid(viewer, "exhibition")
                took.append((time.perf_counter() - begun) * 1000)
            say(
                f"grid {passages:,} passages, {viewer.role.value}: first {took[0]:.0f} ms, then median {statistics.median(took[1:]):.0f} ms, "
                f"worst {max(took[1:]):.0f} ms; {found.passages:,} passages in {len(found.rows)} × {len(found.decades)} cells"
            )
        archive.consent.pause(KEEPER, "N-007", "bench")
        begun = time.perf_counter()
        fewer = archive.overview.grid(EDITOR, "exhibition").passages
        say(f"grid {passages:,}: in the request after a pause {fewer:,} passages, {(time.perf_counter() - begun) * 1000:.0f} ms")
        archive.close()
        shutil.rmtree(home)
