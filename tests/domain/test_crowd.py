"""Never down to fewer than three unnamed people: not by one question, nor by the difference of two. Project choice (no source for the number)."""

from __future__ import annotations

from itertools import product

from hypothesis import given
from hypothesis import strategies as st

from archive.domain.crowd import FEW, Member, may_be_found
from archive.domain.spans import asked_span, span_of

MEMBERS = st.lists(
    st.builds(Member, st.integers(1, 14), st.sampled_from(("narrator", "interviewer")), st.sampled_from(((1930,), (1940,), (1940, 1950), ())), st.sampled_from(("woman", "man", ""))),
    max_size=25, unique_by=lambda m: (m.person_id, m.role),
)  # fmt: skip


def asked(found: frozenset[Member], decade: int | None, sex: str, role: str) -> set[Member]:
    return {m for m in found if (decade is None or m.decades == (decade,)) and (not sex or m.sex == sex) and (not role or m.role == role)}


@given(MEMBERS, st.frozensets(st.integers(1, 14)))
def test_neither_a_question_nor_a_difference_leaves_one_or_two(members: list[Member], named: frozenset[int]) -> None:
    found = may_be_found(members, named)
    assert {m for m in members if m.person_id in named} <= found, "who gives their full name is always found"
    answers = [asked(found, *q) for q in product((None, 1930, 1940), ("", "woman", "man"), ("", "narrator", "interviewer"))]
    for one, other in product(answers, answers):
        for left in (one, one - other, one & other, one ^ other):
            assert len({m.person_id for m in left} - named) not in range(1, FEW), (left, named)


def test_a_span_as_people_write_it() -> None:
    """EDTF bounds: CHECKS §1 (the edtf library 5.0.2); years with a dash are a project choice."""
    assert asked_span("1960s") == asked_span("the 1960's") == asked_span("196X") == span_of("1960-01-01/1969-12-31")
    assert asked_span("1959–1962") == asked_span("1959-1962") == asked_span("1959 to 1962") == span_of("1959/1962")
    assert asked_span("1968-01") == span_of("1968-01-01/1968-01-31")
    assert asked_span("../1970").overlaps(asked_span("1970")) and not asked_span("1971").overlaps(asked_span("../1970"))
