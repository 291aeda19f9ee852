"""The rule of the two ticks, pure: any ticks in any order (project rules, issue 4; no outside source)."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive.domain.hearing import Hearing, Tick, may_tick_again, of_the_team, same_person, standing, why_not_second
from archive.domain.reasons import AROUND_CHANGED, NOT_HEARD, NOT_HEARD_TWICE
from archive.domain.values import Part

NOW, OTHER = "a" * 64, "b" * 64
HIDDEN = ("The speaker is not named.",)
PANEL, BESIDE, JOINED = "1" * 64, "2" * 64, "3" * 64
AROUNDS = st.frozensets(st.sampled_from([PANEL, BESIDE, JOINED]), max_size=3)
NAMES = ["E-01", "e–01 ", "K-01", "I-01"]
TICKS = st.builds(
    Tick, st.sampled_from([1, 2]), st.sampled_from([NOW, OTHER, ""]), st.sampled_from(NAMES), st.just("2026-06-01T12:00:00+00:00"),
    second=st.booleans(), typed_by=st.sampled_from([*NAMES, ""]), from_sheet=st.booleans(), around=AROUNDS,
)  # fmt: skip
LISTS = st.lists(TICKS, max_size=8)


def key(name: str) -> str:
    """One person, however typed: what `same_person` must agree with."""
    return name.strip().lower().replace("–", "-")


@given(ticks=LISTS, around=AROUNDS)
def test_what_needs_two_is_never_final_without_two_people_and_two_accounts_or_a_sheet(ticks: list[Tick], around: frozenset[str]) -> None:
    found = standing(ticks, 1, NOW, HIDDEN, around)
    if found.draft_reason:
        return
    first, second = found.first, found.second
    assert first is not None and second is not None and ticks.index(first) < len(ticks) - 1 - ticks[::-1].index(second)
    assert (first.second, second.second) == (False, True) and first.shown_sha256 == second.shown_sha256 == NOW
    assert key(first.by) != key(second.by), "two people listened"
    assert second.from_sheet or (first.typed_by and second.typed_by and key(first.typed_by) != key(second.typed_by)), "two accounts, or a sheet"
    assert second.excerpt_id == 1 and around <= second.around, "for this excerpt, and all that stands around it was seen"


@given(ticks=LISTS, around=AROUNDS, hidden=st.sampled_from([(), HIDDEN]))
def test_ticks_are_worth_what_the_rule_says(ticks: list[Tick], around: frozenset[str], hidden: tuple[str, ...]) -> None:
    """The rule written otherwise, in both directions."""
    now = [t for t in ticks if t.shown_sha256 == NOW]
    twice = any(
        s.second and not f.second and n < m and s.excerpt_id == 1 and key(f.by) != key(s.by) and around <= s.around
        and (s.from_sheet or ("" not in (f.typed_by, s.typed_by) and key(f.typed_by) != key(s.typed_by)))
        for n, f in enumerate(now) for m, s in enumerate(now)
    )  # fmt: skip
    once = any(not t.second for t in now)
    found = standing(ticks, 1, NOW, hidden, around)
    assert (not found.draft_reason) == (once and (not hidden or twice))
    assert (found.draft_reason == NOT_HEARD) == (not once)


@given(ticks=LISTS, around=AROUNDS, more=TICKS)
def test_another_tick_takes_nothing_away(ticks: list[Tick], around: frozenset[str], more: Tick) -> None:
    """Ticking, also of other excerpts, voids no tick: only what is shown or stands around it does."""
    if not standing(ticks, 1, NOW, HIDDEN, around).draft_reason:
        assert not standing([*ticks, more], 1, NOW, HIDDEN, around).draft_reason


@given(ticks=LISTS, around=AROUNDS, gone=AROUNDS)
def test_what_is_gone_voids_nothing_and_what_came_does(ticks: list[Tick], around: frozenset[str], gone: frozenset[str]) -> None:
    if not standing(ticks, 1, NOW, HIDDEN, around).draft_reason:
        assert not standing(ticks, 1, NOW, HIDDEN, around - gone).draft_reason
        came = standing(ticks, 1, NOW, HIDDEN, around | {"9" * 64})
        assert came.draft_reason == AROUND_CHANGED and came.moved is not None and came.first is not None


@given(ticks=LISTS, around=AROUNDS, by=st.sampled_from(NAMES), typed_by=st.sampled_from([*NAMES, ""]), from_sheet=st.booleans())
def test_the_reason_is_given_exactly_where_the_tick_would_not_stand(
    ticks: list[Tick], around: frozenset[str], by: str, typed_by: str, from_sheet: bool
) -> None:
    before = standing(ticks, 1, NOW, HIDDEN, around)
    tick = Tick(1, NOW, by, "2026-06-02", True, typed_by, from_sheet, around)
    after = standing([*ticks, tick], 1, NOW, HIDDEN, around)
    if before.second is None:
        assert bool(why_not_second(before, tick)) == bool(after.draft_reason)


@given(ticks=LISTS, around=AROUNDS, by=st.sampled_from(NAMES), typed_by=st.sampled_from(NAMES))
def test_there_is_always_a_way_out(ticks: list[Tick], around: frozenset[str], by: str, typed_by: str) -> None:
    """Whoever typed what before: two people who tick under their own accounts, one after the other, make it final."""
    first, second = Tick(1, NOW, "Ann", "", typed_by="Ann"), Tick(1, NOW, "Bea", "", True, "Bea", around=around)
    for tick in (first, second):
        found = standing(ticks, 1, NOW, HIDDEN, around)
        if not tick.second and (found.first is None or may_tick_again(found, tick)):
            ticks = [*ticks, tick]
        if tick.second and found.second is None:
            assert why_not_second(found, tick) == ""
            ticks = [*ticks, tick]
    assert not standing(ticks, 1, NOW, HIDDEN, around).draft_reason


FIRST = Tick(1, NOW, "E-01", "2026-06-01", typed_by="K-01")


@pytest.mark.parametrize(
    ("tick", "says"),
    [
        (Tick(1, NOW, "E-01", "", True, "E-01"), "E-01 has heard it already"),
        (Tick(1, NOW, "K-01", "", True, "K-01"), "same account (K-01)"),
        (Tick(1, NOW, "I-01", "", True, "K-01"), "toldhere accounts add NAME editor"),
        (Tick(1, NOW, "I-01", "", True, "E-01"), ""),
        (Tick(1, NOW, "I-01", "", True, "K-01", from_sheet=True), ""),
    ],
)
def test_why_not(tick: Tick, says: str) -> None:
    found = why_not_second(standing([FIRST], 1, NOW, HIDDEN), tick)
    assert says in found if says else found == ""


def test_a_tick_of_before_accounts_were_kept_carries_no_second() -> None:
    old = replace(FIRST, typed_by="")
    found = standing([old], 1, NOW, HIDDEN)
    assert found.draft_reason == NOT_HEARD_TWICE and not standing([old], 1, NOW, ()).draft_reason
    second = Tick(1, NOW, "I-01", "", True, "I-01")
    assert "once more" in why_not_second(found, second) and may_tick_again(found, replace(FIRST, typed_by="E-01"))


def test_one_is_enough_and_one_is_missing() -> None:
    second = Tick(1, NOW, "I-01", "", True, "I-01")
    assert "one listening is enough" in why_not_second(Hearing(NOW, (), (FIRST,), FIRST), second)
    assert "first" in why_not_second(Hearing(NOW, HIDDEN), second)
    assert not may_tick_again(Hearing(NOW, (), (FIRST,), FIRST), second)


def test_who_is_told() -> None:
    assert FIRST.who == "E-01, typed in by K-01"
    assert replace(FIRST, from_sheet=True).who == "E-01, typed in by K-01 from a sheet"
    assert replace(FIRST, typed_by="e-01").who == replace(FIRST, typed_by="").who == "E-01"


def test_one_person_however_typed() -> None:
    assert same_person("E-01", " e–01 ") and same_person("Ｅ-01", "e-01") and not same_person("E-01", "E-10")


@pytest.mark.parametrize(
    ("parts", "adult_by", "may"),
    [
        ({Part.INTERVIEWER}, None, True), ({Part.INTERPRETER, Part.NARRATOR}, date(1998, 5, 1), True), ({Part.NARRATOR}, None, False),
        ({Part.COMPANION}, None, False), (set(), None, False), ({Part.INTERVIEWER}, date(2026, 6, 2), False), ({Part.INTERVIEWER}, date(2026, 6, 1), True),
    ],
)  # fmt: skip
def test_who_may_be_named_as_a_listener_without_an_account(parts: set[Part], adult_by: date | None, may: bool) -> None:
    assert of_the_team(parts, adult_by, date(2026, 6, 1)) is may
