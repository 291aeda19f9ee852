"""Never down to fewer than three unnamed people: who may be found by what they were. Pure.

People are put into fixed groups (decade of birth, sex, role). Whoever does not give their full name is found by what they were only as one
of a group with at least `FEW` such people in it; a smaller group is found by nobody. Every question by birth, sex and role is a union of whole
groups, and so is every difference between two questions: none of them holds one or two unnamed people. It does not protect against what
somebody knows already, against what is said in the passages themselves, or against comparing answers of before and after somebody withdrew.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from typing import NamedTuple

FEW = 3  # project choice


class Member(NamedTuple):
    """Somebody heard in a role, and what is on record of them. `decades`: of birth, every one that it may be."""

    person_id: int
    role: str
    decades: tuple[int, ...] = ()
    sex: str = ""


def may_be_found(members: Iterable[Member], named: Collection[int]) -> frozenset[Member]:
    """Those who may be found by what they were, or counted by it. `named`: who gives their full name."""
    known = set(members)
    groups: dict[tuple[tuple[int, ...], str, str], set[int]] = defaultdict(set)
    for m in known:
        if m.person_id not in named:
            groups[m.decades, m.sex, m.role].add(m.person_id)
    return frozenset(m for m in known if m.person_id in named or len(groups[m.decades, m.sex, m.role]) >= FEW)
