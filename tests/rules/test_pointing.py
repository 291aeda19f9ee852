"""Who is named or pointed to: the samples against their truth (names_said.csv), and every kind of pointing."""

from __future__ import annotations

import pytest

from archive.domain.values import Naming
from archive.rules.pointing import Pointers, suggest_pointers
from tests.rules.named import MINUTES, against_truth, pointers_of_samples, truth


def test_the_samples_against_their_truth() -> None:
    """Issue 4: recall at least 0.98, at most three false suggestions a minute, on the scripts' own words."""
    measured = against_truth(pointers_of_samples())
    assert len(truth()) > 60
    assert measured.recall >= 0.98, measured.missed
    assert len(measured.false) / MINUTES <= 3, measured.false
