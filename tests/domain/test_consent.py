"""What must hold of every decision, whatever is on record (DESIGN §4 and §5), and the sentences it is told in."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from archive.domain.agreements import (
    CAREFUL,
    Agreement,
    AgreementKind,
    Approval,
    Asked,
    Clearance,
    Permission,
    Policy,
    Relation,
    Release,
    ReleaseKind,
    Restraint,
    SpeaksFor,
    Standing,
    Wish,
    Work,
)
from archive.domain.consent import decide, explain, judge, machine_allowed, merge, not_refused
from archive.domain.reasons import DISGUISE_CAUTION, ORDER, Why, day_words, last_day
from archive.domain.values import (
    USES,
    Answer,
    Attribution,
    RestraintKind,
    Review,
    Role,
    Stretch,
    Viewer,
    VoiceWish,
    Way,
)

DAY = date(2024, 2, 28)  # the days after it run over a leap day
WEEK = [DAY + timedelta(days=n) for n in range(7)]
HERE = Stretch(1, 0, 10_000)
USE = {use.code: use for use in USES}
POLICY = Policy(participation_covers_machine=True, cooling_off_days=3)
WORDING = "a" * 64

days = st.sampled_from(WEEK)
maybe_days = st.none() | days
spans = st.sampled_from([None, HERE, Stretch(1, 0, 5_000), Stretch(1, 10_000, 20_000)])
permissions = st.builds(
    Permission, id=st.integers(1, 9), use=st.sampled_from(["exhibition", "team"]), way=st.sampled_from(Way),
    answer=st.sampled_from([Answer.YES, Answer.YES, Answer.NO, Answer.ASK]),
    exhibition=st.sampled_from([None, None, "Marigold", "Rope"]), from_on=maybe_days, until_on=maybe_days,
    conditions=st.sampled_from(["", "with the photograph's credit"]),
)  # fmt: skip
agreements = st.builds(
    Agreement, id=st.integers(1, 4), code=st.sampled_from(["AG-1", "AG-2"]), number=st.integers(1, 2), person_id=st.just(1),
    kind=st.sampled_from([AgreementKind.RECORDING, AgreementKind.RECORDING, AgreementKind.PARTICIPATION]), signed_on=days,
    interview_id=st.sampled_from([None, None, 1, 2]), stretch=spans, spoken_for_by_id=st.sampled_from([None, None, 9]),
    relation=st.sampled_from(Relation), minor=st.booleans(), assent=st.booleans(), supersedes_id=st.none() | st.integers(1, 4),
    permissions=st.lists(permissions, max_size=4).map(tuple), signed_by=st.just("P-09"), heirs_may_allow=st.booleans(),
)  # fmt: skip
speakers = st.builds(
    SpeaksFor, id=st.integers(1, 9), other_id=st.sampled_from([8, 9]), code=st.just("P-09"), relation=st.sampled_from([r for r in Relation if r]),
    from_on=days, until_on=maybe_days, papers=st.sampled_from(["", "seen"]),
)  # fmt: skip
clearances = st.builds(
    Clearance, id=st.integers(1, 9), answer=st.sampled_from([Answer.YES, Answer.YES, Answer.NO]), from_on=days, until_on=maybe_days,
    use=st.sampled_from([None, "exhibition"]), way=st.sampled_from([None, Way.WORDS]), exhibition=st.sampled_from([None, "Marigold"]),
)  # fmt: skip
works = st.builds(Work, id=st.just(1), kind=st.just("song"), stretch=st.just(HERE), clearances=st.lists(clearances, max_size=2, unique_by=lambda c: c.id).map(tuple))
restraints = st.builds(
    Restraint, id=st.integers(1, 99), kind=st.sampled_from(RestraintKind), from_on=days, until_on=maybe_days,
    needs_review=st.booleans(), person_id=st.sampled_from([None, 1]), interview_id=st.sampled_from([None, 1, 2]),
    use=st.sampled_from([None, "exhibition"]),
    releases=st.lists(st.builds(Release, st.sampled_from(ReleaseKind), days), max_size=2).map(tuple),
)  # fmt: skip
wishes = st.builds(
    Wish, st.integers(1, 9), st.sampled_from(Attribution), st.sampled_from(VoiceWish), st.sampled_from(Review), days
)
approvals = st.builds(
    Approval, id=st.integers(1, 9), wording_sha256=st.just(WORDING), use=st.just("exhibition"), way=st.sampled_from(Way),
    answer=st.sampled_from([Answer.YES, Answer.NO]), from_on=days, given_by_id=st.sampled_from([None, None, 8, 9]),
)  # fmt: skip
standings = st.builds(
    Standing, person_id=st.just(1), code=st.sampled_from(["N-01", "N-02", "N-03"]), adult_from=maybe_days, adult_by=maybe_days,
    wishes=st.lists(wishes, max_size=2, unique_by=lambda w: w.id).map(tuple),
    agreements=st.lists(agreements, min_size=1, max_size=3, unique_by=lambda a: a.id).map(tuple),
    restraints=st.lists(restraints, max_size=2).map(tuple),
    approvals=st.lists(approvals, max_size=2, unique_by=lambda a: a.id).map(tuple),
    guardians=st.sampled_from([{}, {9: WEEK[2]}, {8: WEEK[1], 9: WEEK[0]}]), speakers=st.lists(speakers, max_size=2, unique_by=lambda s: s.id).map(tuple),
    dead_by=maybe_days,
)  # fmt: skip
questions = st.builds(
    Asked, stretch=st.just(HERE), interview_id=st.just(1), use=st.sampled_from([USE["exhibition"], USE["team"]]),
    way=st.sampled_from(Way), on=days, exhibition=st.just("Marigold"), wording_sha256=st.sampled_from([None, WORDING]),
    interviewed_on=st.sampled_from([None, None, None, *WEEK[:3]]), works=st.sampled_from([0, 0, 0, 1]).flatmap(lambda n: st.lists(works, max_size=n).map(tuple)),
)  # fmt: skip

OPEN = Standing(
    1,
    "N-01",
    wishes=(Wish(1, Attribution.FULL, VoiceWish.AS_RECORDED, Review.NOT_WANTED, DAY),),
    agreements=(
        Agreement(
            1,
            "AG-1",
            2,
            1,
            AgreementKind.RECORDING,
            DAY,
            permissions=tuple(
                Permission(n, u, w, Answer.YES) for n, (u, w) in enumerate((u.code, w) for u in USES for w in Way)
            ),
        ),  # fmt: skip
    ),
)


def ask(**changed: Any) -> Asked:
    """Exhibition in words on the third day, unless changed."""
    plain: dict[str, Any] = {
        "stretch": HERE,
        "interview_id": 1,
        "use": USE["exhibition"],
        "way": Way.WORDS,
        "on": WEEK[2],
    }
    return Asked(**(plain | changed))


def essence(question: Asked, people: list[Standing]) -> tuple[Any, ...]:
    """What of a decision may not change between the day of asking and the re-check day."""
    decision = judge(question, people, POLICY)
    return decision.allowed, [(r.code, r.person_code, r.cites) for r in decision.reasons], decision.duties


@settings(max_examples=300, deadline=None)
@given(questions, st.lists(standings, min_size=1, max_size=3))
def test_nothing_changes_before_the_recheck_day_and_something_does_on_it(
    question: Asked, people: list[Standing]
) -> None:
    """DESIGN §5: the re-check date is the next day on which the answer could change. Walked day by day, as an outside oracle."""
    now = essence(question, people)
    later = [question.on + timedelta(days=n) for n in range(1, 12)]
    changes = [day for day in later if essence(replace(question, on=day), people) != now]
    assert decide(question, people, POLICY).recheck_on == (changes[0] if changes else None)


@settings(max_examples=400, deadline=None)
@given(questions, standings)
def test_what_may_be_passed_over_unjudged_is_never_allowed(question: Asked, person: Standing) -> None:
    decision = judge(question, [person], POLICY)
    if decision.allowed and not decision.waived:
        assert (question.use.code, question.way) in not_refused(person)


@settings(max_examples=200, deadline=None)
@given(questions, st.lists(standings, min_size=1, max_size=3), standings)
def test_one_more_person_never_opens_anything(question: Asked, people: list[Standing], another: Standing) -> None:
    """DESIGN §4, 3: the most restrictive speaker wins, in any order; every reason of each is told."""
    alone = judge(question, people, POLICY)
    together = judge(question, [another, *people], POLICY)
    assert set(alone.reasons) | set(judge(question, [another], POLICY).reasons) == set(together.reasons)
    assert together.allowed == (alone.allowed and judge(question, [another], POLICY).allowed)
    assert judge(question, [*people, another], POLICY).reasons == together.reasons


@settings(max_examples=200, deadline=None)
@given(questions, standings)
def test_reasons_stand_in_the_order_of_the_design(question: Asked, person: Standing) -> None:
    """DESIGN §5: all reasons, in its order; a yes only without any."""
    decision = judge(question, [person], POLICY)
    assert all(ORDER[a.code] <= ORDER[b.code] for a, b in pairwise(decision.reasons))
    assert decision.allowed == (not decision.reasons)


@settings(max_examples=200, deadline=None)
@given(questions, standings, restraints)
def test_a_hold_never_opens_anything(question: Asked, person: Standing, hold: Restraint) -> None:
    """Whatever is held back additionally, nothing becomes allowed by it."""
    held = replace(person, restraints=(*person.restraints, hold))
    assert judge(question, [person], POLICY).allowed or not judge(question, [held], POLICY).allowed


@settings(max_examples=200, deadline=None)
@given(questions, st.lists(standings, min_size=1, max_size=2))
def test_sentences_name_people_only_by_code(question: Asked, people: list[Standing]) -> None:
    """Every reason is one sentence of plain English; nothing of Python's own forms leaks into it."""
    decision = decide(question, people, POLICY)
    for reason in decision.reasons:
        assert reason.words[0].isupper()
        assert reason.words.endswith(".")
        assert not re.search(r"None|\bTrue\b|\bFalse\b|[{}<>]|\d{4}-\d\d|  ", reason.words), reason.words
        assert reason.person_code is None or reason.person_code in reason.words
    assert explain(decision)[0] == ("Allowed." if decision.allowed else "Not allowed.")


def test_nobody_heard_is_a_no() -> None:
    """DESIGN §4, 1: no record means no, for our own computer as well."""
    for decision in (decide(ask(), [], POLICY), machine_allowed(HERE, 1, [], DAY, POLICY), merge([])):
        assert not decision.allowed
        assert [r.code for r in decision.reasons] == [Why.NOBODY_HEARD]


def test_without_a_wish_the_most_careful_one_holds() -> None:
    """Project choice: unnamed, not heard, reviewed first, until the person has said otherwise."""
    person = replace(OPEN, wishes=())
    assert (CAREFUL.attribution, CAREFUL.voice, CAREFUL.review) == (
        Attribution.UNNAMED,
        VoiceWish.NOT_HEARD,
        Review.WANTED,
    )
    decision = judge(ask(way=Way.VOICE), [person], POLICY)
    assert {r.code for r in decision.reasons} == {Why.REVIEW, Why.VOICE_NOT_HEARD}
    assert decision.duties.people[0].attribution == Attribution.UNNAMED


def test_duties_say_how_to_name_what_to_disguise_and_what_to_keep() -> None:
    """Irena Volk (N-03): a pseudonym, a disguised voice; a condition is carried with the agreement it stands in."""
    rows = (Permission(1, "exhibition", Way.VOICE, Answer.YES, conditions="not beside the strike"),)
    person = replace(
        OPEN,
        code="N-03",
        wishes=(Wish(1, Attribution.PSEUDONYM, VoiceWish.DISGUISED, Review.NOT_WANTED, DAY),),
        agreements=(replace(OPEN.agreements[0], permissions=rows),),
    )
    decision = decide(ask(way=Way.VOICE), [person], POLICY)
    assert decision.allowed
    assert decision.duties.disguise
    assert decision.duties.people[0].attribution == Attribution.PSEUDONYM
    assert [(c.person_code, c.words, c.cites) for c in decision.duties.conditions] == [
        ("N-03", "not beside the strike", "AG-1 (version 2)")
    ]
    assert explain(decision) == [
        "Allowed.",
        "N-03 is called with the pseudonym only; the voice only disguised.",
        DISGUISE_CAUTION,
        "Condition of N-03: not beside the strike (AG-1 (version 2))",
        "Rests on N-03: AG-1 (version 2), 28 February 2024.",
    ]


def test_words_need_no_disguise() -> None:
    """A wish about the voice says nothing about words, nor about the team's own listening."""
    person = replace(OPEN, wishes=(Wish(1, Attribution.FULL, VoiceWish.DISGUISED, Review.NOT_WANTED, DAY),))
    assert not judge(ask(), [person], POLICY).duties.disguise
    assert not judge(ask(use=USE["team"], way=Way.VOICE), [person], POLICY).duties.disguise
    assert judge(ask(use=USE["reading_room"], way=Way.VOICE), [person], POLICY).duties.disguise


def test_a_seal_is_told_with_its_last_day_and_the_review() -> None:
    """Lena Marsh (N-05): "closed through 31 December 2039" on paper is half-open in the records (DESIGN §6)."""
    seal = Restraint(3, RestraintKind.SEALED, DAY, date(2040, 1, 1), True, 1, recording_id=1, start_ms=0, end_ms=9_000)
    decision = decide(ask(), [replace(OPEN, code="N-05", restraints=(seal,))], POLICY)
    assert [r.words for r in decision.reasons] == [
        "N-05 closed this stretch through 31 December 2039; after that it opens only when it has been reviewed."
    ]
    assert decision.reasons[0].opens_on == date(2040, 1, 1)
    assert decision.recheck_on is None  # the calendar alone opens nothing
    after = decide(ask(on=date(2040, 1, 1)), [replace(OPEN, restraints=(seal,))], POLICY)
    assert "none is on record" in after.reasons[0].words
    assert after.reasons[0].opens_on is None


def test_no_reader_is_told_who_withdrew() -> None:
    """The issue's own words: for every role but keeper “not available”, never “withdrew”. Editors, who answer for what leaves, are told of a seal
    and an embargo; a reader of no hold."""
    rows = (Permission(1, "exhibition", Way.WORDS, Answer.NO),)
    holds = tuple(Restraint(n, kind, DAY, person_id=1) for n, kind in enumerate(RestraintKind))
    person = replace(OPEN, restraints=holds, agreements=(replace(OPEN.agreements[0], permissions=rows),))
    decision = decide(ask(), [person], POLICY)
    assert "N-01 withdrew everything, from 28 February 2024 on." in explain(decision)
    assert explain(decision, Role.EDITOR) == [
        "Not allowed.",
        "This is not available at present; the keeper can say more.",
        *(words for words in explain(decision) if "closed" in words or "embargo" in words or "answered" in words),
    ]
    assert explain(decision, Role.READER) == [
        "Not allowed.",
        "This is not available at present; the keeper can say more.",
        "N-01 answered no to the use “exhibition” in words.",
    ]


def test_an_opened_look_tells_what_was_waived() -> None:
    """A keeper's deliberate act waives holds and missing permissions for the team's own look, and says so."""
    person = replace(OPEN, agreements=(), restraints=(Restraint(1, RestraintKind.WITHDRAWN, DAY, person_id=1),))
    keeper = Viewer("K-01", Role.KEEPER, opened=True)
    decision = decide(ask(use=USE["team"], viewer=keeper), [person], POLICY)
    assert decision.allowed
    assert not decision.reasons
    assert [r.code for r in decision.waived] == [Why.WITHDRAWN, Why.NO_AGREEMENT]
    assert explain(decision)[0].startswith("Opened by a keeper, on record")


def test_pieces_used_together_must_all_be_allowed() -> None:
    """An excerpt of several stretches: one refused piece refuses it; the earliest re-check day counts."""
    soon = replace(OPEN, restraints=(Restraint(1, RestraintKind.PAUSED, WEEK[4], person_id=1),))
    later = replace(
        OPEN, person_id=2, code="N-02", restraints=(Restraint(2, RestraintKind.PAUSED, WEEK[5], person_id=2),)
    )
    one, two = decide(ask(), [soon], POLICY), decide(ask(), [later], POLICY)
    both = merge([two, one])
    assert both.allowed
    assert both.recheck_on == WEEK[4]
    assert [p.code for p in both.duties.people] == ["N-02", "N-01"]
    refused = merge([one, decide(ask(on=WEEK[5]), [later], POLICY)])
    assert not refused.allowed
    assert [r.code for r in refused.reasons] == [Why.PAUSED]


@pytest.mark.parametrize(
    ("until_on", "words"),
    [
        (date(2040, 1, 1), "31 December 2039"),
        (date(2024, 3, 1), "29 February 2024"),
        (date(2023, 3, 1), "28 February 2023"),
    ],
)
def test_days_as_on_paper(until_on: date, words: str) -> None:
    """Inclusive on paper, half-open in the records, over a year's end and a leap day."""
    assert day_words(last_day(until_on)) == words
