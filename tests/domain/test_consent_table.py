"""The decision of DESIGN §5 as a table: what is on record, what is asked, what comes out. One line a case.

Everybody starts as Maud Ellery (N-01): a standing yes to everything, no review, voice as recorded. Source of the cases:
DESIGN §5, CHECKS §8, SCENARIO (the invented people); "project choice" where they leave one.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from archive.domain.agreements import (
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
from archive.domain.consent import decide
from archive.domain.reasons import Why
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

DAY = date(2026, 11, 25)
BEFORE, AFTER = date(2026, 11, 24), date(2026, 11, 26)
EARLY = date(2026, 1, 10)
HERE = Stretch(1, 10_000, 20_000)
WORDING, OTHER_WORDING = "a" * 64, "b" * 64
USE = {use.code: use for use in USES}
KEEPER = Viewer("K-01", Role.KEEPER, opened=True)


def rows(answer: str = "yes", use: str = "", **more: Any) -> tuple[Permission, ...]:
    """One answer to one use, or to all, in every way."""
    uses = [use] if use else [u.code for u in USES]
    return tuple(
        Permission(n, code, way, Answer(answer), **more)
        for n, (code, way) in enumerate((c, w) for c in uses for w in Way)
    )


def paper(id_: int = 1, permissions: tuple[Permission, ...] | None = None, **more: Any) -> Agreement:
    """An agreement of the person, signed early, with a yes to everything."""
    plain: dict[str, Any] = {"kind": AgreementKind.RECORDING, "signed_on": EARLY}
    answers = rows() if permissions is None else permissions
    return Agreement(id=id_, code=f"AG-{id_}", number=1, person_id=1, permissions=answers, **(plain | more))


def wish(voice: str = "as_recorded", review: str = "not_wanted", from_on: date = EARLY, id_: int = 1) -> Wish:
    """A wish; called by the full name."""
    return Wish(id_, Attribution.FULL, VoiceWish(voice), Review(review), from_on)


def hold(kind: str, **more: Any) -> Restraint:
    """A hold on the person since early in the year."""
    return Restraint(**({"id": 7, "kind": RestraintKind(kind), "from_on": EARLY, "person_id": 1} | more))


def lifted(day: date) -> tuple[Release, ...]:
    """Taken back from a day on."""
    return (Release(ReleaseKind.LIFTED, day),)


def reviewed(day: date) -> tuple[Release, ...]:
    """Reviewed from a day on."""
    return (Release(ReleaseKind.REVIEWED, day),)


def approval(
    answer: str = "yes", wording: str = WORDING, use: str = "exhibition", way: str = "words", **more: Any
) -> Approval:
    """A word on one wording."""
    return Approval(
        **({"id": 1, "from_on": EARLY} | more), wording_sha256=wording, use=use, way=Way(way), answer=Answer(answer)
    )


OPEN = Standing(1, "N-01", wishes=(wish(),), agreements=(paper(),))
MINOR: dict[str, Any] = {"adult_from": AFTER, "adult_by": AFTER}  # Ines Marsh (N-11), a day before her birthday
SIGNED_FOR: dict[str, Any] = {"spoken_for_by_id": 9, "relation": Relation.GUARDIAN, "assent": True}
SPEAKERS = tuple(SpeaksFor(n, 9, "P-30", relation, EARLY, papers="the paper, seen by K-01") for n, relation in enumerate(Relation) if relation)
SPOKEN_FOR: dict[str, Any] = {"guardians": {9: EARLY}, "speakers": SPEAKERS}
BY_GUARDIAN: dict[str, Any] = {"guardians": {9: EARLY}, "speakers": (SpeaksFor(1, 9, "P-30", Relation.GUARDIAN, EARLY),)}
DEAD: dict[str, Any] = {"dead_by": EARLY, "guardians": {9: EARLY, 8: EARLY}}


def heirs(*others: int, papers: str = "the will, seen by K-01", until_on: date | None = None) -> tuple[SpeaksFor, ...]:
    """Heirs on record, P-08 and P-09."""
    return tuple(SpeaksFor(20 + n, n, f"P-0{n}", Relation.HEIR, EARLY, until_on, papers) for n in others)


def by_heir(id_: int, heir: int, answer: str = "yes", **more: Any) -> Agreement:
    """An heir's paper with one answer to everything."""
    signed: dict[str, Any] = {"spoken_for_by_id": heir, "signed_by": f"P-0{heir}", "relation": Relation.HEIR}
    return paper(id_, rows(answer), **(signed | more))


def cleared(answer: str = "yes", id_: int = 1, **more: Any) -> Clearance:
    """A word on a work."""
    return Clearance(**({"id": id_, "answer": Answer(answer), "from_on": EARLY} | more))


def song(*said: Clearance, stretch: Stretch = HERE) -> tuple[Work, ...]:
    """A song in the stretch."""
    return (Work(4, "song", stretch, said),)




def on_record(**more: Any) -> Standing:
    """The open person, changed."""
    return replace(OPEN, **more)


def held(kind: str, **more: Any) -> Standing:
    """The open person under one hold."""
    return on_record(restraints=(hold(kind, **more),))


def with_answers(*answers: Permission, **more: Any) -> Standing:
    """The open person with these answers only."""
    return on_record(agreements=(paper(permissions=answers, **more),))


def one(answer: str = "yes", **more: Any) -> Permission:
    """One answer to exhibition in words."""
    return Permission(**({"id": 1, "use": "exhibition", "way": Way.WORDS, "answer": Answer(answer)} | more))


# what stands on record, what is asked differently from "exhibition, words, 25 November 2026, Marigold", reasons (none: yes)
CASES: list[tuple[str, Standing, dict[str, Any], list[Why]]] = [
    ("a standing yes", OPEN, {}, []),
    ("nothing on record at all", Standing(1, "N-01"), {}, [Why.NO_AGREEMENT, Why.REVIEW]),
    ("nothing on record, voice", Standing(1, "N-01"), {"way": "voice"}, [Why.NO_AGREEMENT, Why.REVIEW, Why.VOICE_NOT_HEARD]),
    # holds: DESIGN §5, and the day itself on both sides
    ("withdrawn today", held("withdrawn", from_on=DAY), {}, [Why.WITHDRAWN]),
    ("withdrawn from tomorrow", held("withdrawn", from_on=AFTER), {}, []),
    ("withdrawn, the machine too", held("withdrawn"), {"use": "machine"}, [Why.WITHDRAWN]),
    ("paused, the machine too", held("paused"), {"use": "machine"}, [Why.PAUSED]),
    ("objected, the machine too", held("objected", person_id=None), {"use": "machine"}, [Why.OBJECTED]),
    ("sealed, our computer may listen (project choice)", held("sealed"), {"use": "machine"}, []),
    ("sealed for the machine itself", held("sealed", use="machine"), {"use": "machine"}, [Why.SEALED]),
    ("sealed, the team may not", held("sealed"), {"use": "team"}, [Why.SEALED]),
    ("embargo, our computer may listen", held("embargo"), {"use": "machine"}, []),
    ("paused and taken back today", held("paused", releases=lifted(DAY)), {}, []),
    ("paused and taken back tomorrow", held("paused", releases=lifted(AFTER)), {}, [Why.PAUSED]),
    ("paused, a review is no taking back", held("paused", releases=reviewed(EARLY)), {}, [Why.PAUSED]),
    ("closed through today", held("sealed", until_on=AFTER), {}, [Why.SEALED]),
    ("closed through yesterday, no review needed", held("sealed", until_on=DAY), {}, []),
    ("embargo over, not reviewed (CHECKS §8)", held("embargo", until_on=DAY, needs_review=True), {}, [Why.EMBARGO]),
    ("embargo over, reviewed", held("embargo", until_on=DAY, needs_review=True, releases=reviewed(DAY)), {}, []),
    ("embargo reviewed before its end", held("embargo", until_on=AFTER, needs_review=True, releases=reviewed(EARLY)), {}, [Why.EMBARGO]),
    ("another use withdrawn", held("withdrawn", use="web"), {}, []),
    ("this use withdrawn", held("withdrawn", use="exhibition"), {}, [Why.WITHDRAWN]),
    ("another person's", held("withdrawn", person_id=2), {}, []),
    ("another interview", held("withdrawn", interview_id=2), {}, []),
    ("this interview, nobody named", held("sealed", interview_id=1, person_id=None), {}, [Why.SEALED]),
    ("a stretch that ends where this one starts", held("sealed", recording_id=1, start_ms=0, end_ms=10_000), {}, []),
    ("a stretch that starts where this one ends", held("sealed", recording_id=1, start_ms=20_000, end_ms=30_000), {}, []),
    ("a millisecond of it closed", held("sealed", recording_id=1, start_ms=19_999, end_ms=30_000), {}, [Why.SEALED]),
    ("the same times of another recording", held("sealed", recording_id=2, start_ms=0, end_ms=30_000), {}, []),
    ("all kinds at once, in order", on_record(restraints=tuple(hold(k, id=n) for n, k in enumerate(RestraintKind))), {},
     [Why.WITHDRAWN, Why.PAUSED, Why.OBJECTED, Why.SEALED, Why.EMBARGO]),
    # agreements
    ("signed today", on_record(agreements=(paper(signed_on=DAY),)), {}, []),
    ("signed tomorrow", on_record(agreements=(paper(signed_on=AFTER),)), {}, [Why.NO_AGREEMENT]),
    ("for another interview", on_record(agreements=(paper(interview_id=2),)), {}, [Why.NO_AGREEMENT]),
    ("for exactly this stretch", on_record(agreements=(paper(stretch=HERE),)), {}, []),
    ("for all but a millisecond", on_record(agreements=(paper(stretch=Stretch(1, 10_001, 20_000)),)), {}, [Why.NO_AGREEMENT]),
    ("a standing yes, a no to a part that touches it", on_record(agreements=(paper(), paper(2, rows("no"), stretch=Stretch(1, 19_999, 30_000)))), {},
     [Why.ANSWER_NO]),
    ("a standing yes, a no to the part after it", on_record(agreements=(paper(), paper(2, rows("no"), stretch=Stretch(1, 20_000, 30_000)))), {}, []),
    ("a standing yes, an ask for a part of it", on_record(agreements=(paper(), paper(2, rows("ask"), stretch=Stretch(1, 0, 10_001)))), {}, [Why.ASK]),
    ("superseded today by a no", on_record(agreements=(paper(), paper(2, rows("no"), signed_on=DAY, supersedes_id=1))), {}, [Why.ANSWER_NO]),
    ("superseded from tomorrow", on_record(agreements=(paper(), paper(2, (), signed_on=AFTER, supersedes_id=1))), {}, []),
    ("superseded by an empty one", on_record(agreements=(paper(), paper(2, (), supersedes_id=1))), {}, [Why.USE_NOT_PERMITTED]),
    ("participation only", on_record(agreements=(paper(kind=AgreementKind.PARTICIPATION),)), {}, [Why.NO_AGREEMENT]),
    ("participation covers the machine, as decided", on_record(agreements=(paper(kind=AgreementKind.PARTICIPATION),)), {"use": "machine"}, []),
    ("participation, decided otherwise", on_record(agreements=(paper(kind=AgreementKind.PARTICIPATION),)),
     {"use": "machine", "covers": False}, [Why.NO_AGREEMENT]),
    # answers
    ("no such use", with_answers(one(use="web")), {}, [Why.USE_NOT_PERMITTED]),
    ("this use, another way", with_answers(one(way=Way.VOICE)), {}, [Why.WAY_NOT_PERMITTED]),
    ("no", with_answers(one("no")), {}, [Why.ANSWER_NO]),
    ("one no beats every yes", on_record(agreements=(paper(), paper(2, (one("no"),)))), {}, [Why.ANSWER_NO]),
    ("from today", with_answers(one(from_on=DAY)), {}, []),
    ("from tomorrow", with_answers(one(from_on=AFTER)), {}, [Why.NOT_YET]),
    ("through today", with_answers(one(until_on=AFTER)), {}, []),
    ("through yesterday", with_answers(one(until_on=DAY)), {}, [Why.EXPIRED]),
    ("for this exhibition", with_answers(one(exhibition="Marigold")), {}, []),
    ("for another exhibition", with_answers(one(exhibition="Rope")), {}, [Why.USE_NOT_PERMITTED]),
    ("for this exhibition, asked for none", with_answers(one(exhibition="Marigold")), {"exhibition": ""}, [Why.USE_NOT_PERMITTED]),
    ("a no for another exhibition", with_answers(one(), one("no", exhibition="Rope")), {}, []),
    # ask
    ("ask, no wording", with_answers(one("ask")), {}, [Why.ASK]),
    ("ask, not approved", with_answers(one("ask")), {"wording_sha256": WORDING}, [Why.ASK]),
    ("ask, approved", replace(with_answers(one("ask")), approvals=(approval(),)), {"wording_sha256": WORDING}, []),
    ("ask, another wording approved", replace(with_answers(one("ask")), approvals=(approval(wording=OTHER_WORDING),)), {"wording_sha256": WORDING}, [Why.ASK]),
    ("ask, approved for another use", replace(with_answers(one("ask")), approvals=(approval(use="web"),)), {"wording_sha256": WORDING}, [Why.ASK]),
    ("ask, approved in another way", replace(with_answers(one("ask")), approvals=(approval(way="voice"),)), {"wording_sha256": WORDING}, [Why.ASK]),
    ("ask, approved from tomorrow", replace(with_answers(one("ask")), approvals=(approval(from_on=AFTER),)), {"wording_sha256": WORDING}, [Why.ASK]),
    ("ask, the yes taken back today", replace(with_answers(one("ask")), approvals=(approval(), approval("no", from_on=DAY, id=2))),
     {"wording_sha256": WORDING}, [Why.ASK]),
    ("an ask beside a yes still asks", with_answers(one(), one("ask")), {}, [Why.ASK]),
    # review and voice: Irena Volk (N-03), Agnes Coyle (N-07)
    ("review wanted", on_record(wishes=(wish(review="wanted"),)), {"wording_sha256": WORDING}, [Why.REVIEW]),
    ("review wanted, approved", on_record(wishes=(wish(review="wanted"),), approvals=(approval(),)), {"wording_sha256": WORDING}, []),
    ("review wanted, words approved, the clip is not", on_record(wishes=(wish(review="wanted"),), approvals=(approval(),)),
     {"wording_sha256": WORDING, "way": "voice"}, [Why.REVIEW]),
    ("review wanted, the team may read", on_record(wishes=(wish(review="wanted"),)), {"use": "team"}, []),
    ("review wanted from tomorrow", on_record(wishes=(wish(), wish(review="wanted", from_on=AFTER, id_=2))), {}, []),
    ("the later of two wishes of one day", on_record(wishes=(wish(review="wanted"), wish(id_=2))), {}, []),
    ("not heard, words", on_record(wishes=(wish("not_heard"),)), {}, []),
    ("not heard, voice", on_record(wishes=(wish("not_heard"),)), {"way": "voice"}, [Why.VOICE_NOT_HEARD]),
    ("not heard, nor in the reading room", on_record(wishes=(wish("not_heard"),)), {"way": "voice", "use": "reading_room"}, [Why.VOICE_NOT_HEARD]),
    ("not heard, the team may hear (project choice)", on_record(wishes=(wish("not_heard"),)), {"way": "voice", "use": "team"}, []),
    ("disguised, voice", on_record(wishes=(wish("disguised"),)), {"way": "voice"}, []),
    # minors: CHECKS §8 (guardian signs, the minor assents, ask again at 18)
    ("a minor's own signature", on_record(**MINOR), {}, [Why.MINOR_WITHOUT_GUARDIAN]),
    ("guardian and assent", on_record(**MINOR, **BY_GUARDIAN, agreements=(paper(**SIGNED_FOR),)), {}, []),
    ("guardian, no assent", on_record(**MINOR, **BY_GUARDIAN, agreements=(paper(**(SIGNED_FOR | {"assent": False})),)), {}, [Why.MINOR_WITHOUT_GUARDIAN]),
    ("a deputy is no guardian", on_record(**MINOR, **BY_GUARDIAN, agreements=(paper(**(SIGNED_FOR | {"relation": Relation.DEPUTY})),)), {},
     [Why.MINOR_WITHOUT_GUARDIAN]),
    ("the guardian has no agreement", on_record(**MINOR, agreements=(paper(**SIGNED_FOR),)), {}, [Why.MINOR_WITHOUT_GUARDIAN]),
    ("the guardian has one from tomorrow", on_record(**MINOR, guardians={9: AFTER}, agreements=(paper(**SIGNED_FOR),)), {}, [Why.MINOR_WITHOUT_GUARDIAN]),
    ("a minor as their own guardian", on_record(**MINOR, guardians={1: EARLY}, agreements=(paper(**(SIGNED_FOR | {"spoken_for_by_id": 1})),)), {},
     [Why.MINOR_WITHOUT_GUARDIAN]),
    ("the 18th birthday", on_record(**MINOR, **BY_GUARDIAN, agreements=(paper(**SIGNED_FOR),)), {"on": AFTER}, [Why.ASK]),
    ("the 18th birthday, signed anew", on_record(**MINOR, **BY_GUARDIAN, agreements=(paper(**SIGNED_FOR), paper(2, signed_on=AFTER, supersedes_id=1))),
     {"on": AFTER}, []),
    ("the minor's own no beats the guardian's yes", on_record(**MINOR, **BY_GUARDIAN, agreements=(paper(**SIGNED_FOR), paper(2, rows("no")))), {},
     [Why.ANSWER_NO]),
    ("said to be a minor, no birth date (project choice)", on_record(**SPOKEN_FOR, agreements=(paper(**SIGNED_FOR, minor=True),)), {}, [Why.ASK]),
    ("born in a year: perhaps 18 already, perhaps not", on_record(adult_from=BEFORE, adult_by=date(2027, 1, 1)), {}, [Why.MINOR_WITHOUT_GUARDIAN]),
    # who speaks for whom: DESIGN §5, SCENARIO N-04 (Carol Pask may narrow her father's answers)
    ("a deputy with an own agreement", on_record(**SPOKEN_FOR, agreements=(paper(spoken_for_by_id=9, relation=Relation.DEPUTY),)), {}, []),
    ("a deputy without", on_record(agreements=(paper(spoken_for_by_id=9, relation=Relation.DEPUTY),)), {}, [Why.SIGNER_DOES_NOT_COUNT]),
    ("an heir narrows", on_record(**SPOKEN_FOR, agreements=(paper(), paper(2, rows("no", "exhibition"), spoken_for_by_id=9, relation=Relation.HEIR))), {},
     [Why.ANSWER_NO]),
    ("an heir alone cannot allow", on_record(**SPOKEN_FOR, agreements=(paper(spoken_for_by_id=9, relation=Relation.HEIR),)), {}, [Why.USE_NOT_PERMITTED]),
    ("an heir's paper does not replace the speaker's no",
     on_record(**SPOKEN_FOR, agreements=(paper(1, rows("no")), paper(2, spoken_for_by_id=9, relation=Relation.HEIR, supersedes_id=1), paper(3))), {},
     [Why.ANSWER_NO]),
    # whose paper takes whose place (project choice: nobody's takes that of the speaker's own)
    ("a guardian's paper does not replace the minor's own no (issue 7)",
     on_record(**MINOR, **BY_GUARDIAN, agreements=(paper(1, rows("no")), paper(2, **SIGNED_FOR, supersedes_id=1))), {}, [Why.ANSWER_NO]),
    ("a minor's own “ask me” beside the guardian's yes", on_record(**MINOR, **BY_GUARDIAN, agreements=(paper(**SIGNED_FOR), paper(2, rows("ask")))), {}, [Why.ASK]),
    ("a minor's own paper does not replace the guardian's no",
     on_record(**MINOR, **BY_GUARDIAN, agreements=(paper(1, rows("no"), **SIGNED_FOR), paper(2, supersedes_id=1), paper(3, **SIGNED_FOR))), {}, [Why.ANSWER_NO]),
    ("a deputy's paper does not replace the speaker's own no",
     on_record(**SPOKEN_FOR, agreements=(paper(1, rows("no")), paper(2, spoken_for_by_id=9, relation=Relation.DEPUTY, supersedes_id=1))), {}, [Why.ANSWER_NO]),
    ("a deputy answers what the speaker never did",
     on_record(**SPOKEN_FOR, agreements=(paper(1, ()), paper(2, spoken_for_by_id=9, relation=Relation.DEPUTY))), {}, []),
    ("a deputy without papers", on_record(guardians={9: EARLY}, speakers=(SpeaksFor(1, 9, "P-30", Relation.DEPUTY, EARLY),),
                                          agreements=(paper(spoken_for_by_id=9, relation=Relation.DEPUTY),)), {}, [Why.SIGNER_DOES_NOT_COUNT]),
    ("a deputy whose time was over when they signed", on_record(guardians={9: EARLY}, speakers=(replace(SPEAKERS[-1], from_on=date(2025, 1, 1), until_on=EARLY),),
                                          agreements=(paper(spoken_for_by_id=9, relation=Relation.DEPUTY),)), {}, [Why.SIGNER_DOES_NOT_COUNT]),
    ("a guardian signs for somebody of age", on_record(**SPOKEN_FOR, agreements=(paper(**SIGNED_FOR),)), {}, [Why.SIGNER_DOES_NOT_COUNT]),
    ("a guardian signs after the 18th birthday", on_record(adult_from=EARLY, adult_by=EARLY, **BY_GUARDIAN, agreements=(paper(**SIGNED_FOR, signed_on=BEFORE),)), {},
     [Why.SIGNER_DOES_NOT_COUNT]),
    # a quote approved by whom: SCENARIO N-11, N-04
    ("a minor's approval alone", on_record(**MINOR, **BY_GUARDIAN, wishes=(wish(review="wanted"),), agreements=(paper(**SIGNED_FOR),), approvals=(approval(),)),
     {"wording_sha256": WORDING}, [Why.REVIEW]),
    ("the minor's and the guardian's approval", on_record(**MINOR, **BY_GUARDIAN, wishes=(wish(review="wanted"),), agreements=(paper(**SIGNED_FOR),),
                                                          approvals=(approval(), approval(id=2, given_by_id=9))), {"wording_sha256": WORDING}, []),
    ("the guardian's approval, the minor says no", on_record(**MINOR, **BY_GUARDIAN, wishes=(wish(review="wanted"),), agreements=(paper(**SIGNED_FOR),),
                                                             approvals=(approval("no"), approval(id=2, given_by_id=9))), {"wording_sha256": WORDING}, [Why.REVIEW]),
    ("approved as a minor, asked again at 18", on_record(**MINOR, **BY_GUARDIAN, agreements=(paper(**SIGNED_FOR),), approvals=(approval(), approval(id=2, given_by_id=9))),
     {"wording_sha256": WORDING, "on": AFTER}, [Why.ASK]),
    ("approved on the 18th birthday", on_record(**MINOR, **BY_GUARDIAN, agreements=(paper(**SIGNED_FOR),), approvals=(approval(from_on=AFTER),)),
     {"wording_sha256": WORDING, "on": AFTER}, []),
    ("a deputy approves", on_record(**SPOKEN_FOR, wishes=(wish(review="wanted"),), approvals=(approval(given_by_id=9),)), {"wording_sha256": WORDING}, []),
    ("approved while alive, it stands", on_record(**DEAD, wishes=(wish(review="wanted"),), approvals=(approval(),)), {"wording_sha256": WORDING}, []),
    ("approved while alive, an heir says no", on_record(**DEAD, speakers=heirs(9), wishes=(wish(review="wanted"),),
                                                        approvals=(approval(), approval("no", id=2, given_by_id=9))), {"wording_sha256": WORDING}, [Why.REVIEW]),
    ("an heir approves what the speaker wanted to see", on_record(**DEAD, speakers=heirs(9), wishes=(wish(review="wanted"),), approvals=(approval(given_by_id=9),)),
     {"wording_sha256": WORDING}, [Why.REVIEW]),
    ("the same where the speaker said so", on_record(**DEAD, speakers=heirs(9), wishes=(wish(review="wanted"),), agreements=(paper(heirs_may_allow=True),),
                                                     approvals=(approval(given_by_id=9),)), {"wording_sha256": WORDING}, []),
    # heirs, where the speaker said that they may allow more: issue 7
    ("all heirs say yes", on_record(**DEAD, speakers=heirs(8, 9), agreements=(paper(1, (), heirs_may_allow=True), by_heir(2, 8), by_heir(3, 9))), {}, []),
    ("one of two heirs says yes", on_record(**DEAD, speakers=heirs(8, 9), agreements=(paper(1, (), heirs_may_allow=True), by_heir(2, 8))), {}, [Why.USE_NOT_PERMITTED]),
    ("one of two says no", on_record(**DEAD, speakers=heirs(8, 9), agreements=(paper(1, (), heirs_may_allow=True), by_heir(2, 8), by_heir(3, 9, "no"))), {}, [Why.USE_NOT_PERMITTED, Why.ANSWER_NO]),
    ("the other is an heir no more", on_record(**DEAD, speakers=(*heirs(8), *heirs(9, until_on=BEFORE)), agreements=(paper(1, (), heirs_may_allow=True), by_heir(2, 8))), {}, []),
    ("an heir without papers (issue 7)", on_record(**DEAD, speakers=heirs(8, papers=""), agreements=(paper(1, (), heirs_may_allow=True), by_heir(2, 8))), {},
     [Why.SIGNER_DOES_NOT_COUNT]),
    ("an heir without papers narrows all the same", on_record(**DEAD, agreements=(paper(), by_heir(2, 8, "no"))), {}, [Why.ANSWER_NO]),
    ("the speaker is alive", on_record(guardians={8: EARLY}, speakers=heirs(8), agreements=(paper(1, (), heirs_may_allow=True), by_heir(2, 8))), {}, [Why.USE_NOT_PERMITTED]),
    ("died today", on_record(**(DEAD | {"dead_by": DAY}), speakers=heirs(8), agreements=(paper(1, (), heirs_may_allow=True), by_heir(2, 8))), {}, []),
    ("the speaker's own no stands all the same", on_record(**DEAD, speakers=heirs(8), agreements=(paper(1, rows("no"), heirs_may_allow=True), by_heir(2, 8))), {}, [Why.ANSWER_NO]),
    ("an heir's paper does not replace another heir's no", on_record(**DEAD, speakers=heirs(8, 9), agreements=(paper(), by_heir(2, 8, "no"), by_heir(3, 9, supersedes_id=2))), {}, [Why.ANSWER_NO]),
    ("an heir thinks better of it", on_record(**DEAD, speakers=heirs(8), agreements=(paper(), by_heir(2, 8, "no"), by_heir(3, 8, supersedes_id=2))), {}, []),
    ("an heir wants to be asked; the speaker had approved", on_record(**DEAD, speakers=heirs(8), agreements=(paper(), by_heir(2, 8, "ask")), approvals=(approval(),)),
     {"wording_sha256": WORDING}, [Why.ASK]),
    ("an heir wants to be asked, and was", on_record(**DEAD, speakers=heirs(8), agreements=(paper(), by_heir(2, 8, "ask")), approvals=(approval(given_by_id=8),)),
     {"wording_sha256": WORDING}, []),
    # the pause before use: issue 7, fourteen days; the day itself on both sides
    ("interviewed today", OPEN, {"interviewed_on": DAY}, [Why.TOO_SOON]),
    ("interviewed thirteen days ago", OPEN, {"interviewed_on": date(2026, 11, 12)}, [Why.TOO_SOON]),
    ("interviewed fourteen days ago", OPEN, {"interviewed_on": date(2026, 11, 11)}, []),
    ("the team waits as well", OPEN, {"interviewed_on": DAY, "use": "team"}, [Why.TOO_SOON]),
    ("our own computer listens", OPEN, {"interviewed_on": DAY, "use": "machine"}, []),
    ("no pause was wanted", OPEN, {"interviewed_on": DAY, "pause": 0}, []),
    # somebody else's work: issue 7
    ("a song that nobody cleared", OPEN, {"works": song()}, [Why.WORK_NOT_CLEARED]),
    ("a song before it", OPEN, {"works": song(stretch=Stretch(1, 0, 10_000))}, []),
    ("a song, for the team's own ears (project choice)", OPEN, {"works": song(), "use": "team"}, []),
    ("a song, cleared for all", OPEN, {"works": song(cleared())}, []),
    ("a song, cleared for another use", OPEN, {"works": song(cleared(use="web"))}, [Why.WORK_NOT_CLEARED]),
    ("a song, cleared in words alone", OPEN, {"works": song(cleared(way=Way.WORDS)), "way": "voice"}, [Why.WORK_NOT_CLEARED]),
    ("a song, cleared through yesterday", OPEN, {"works": song(cleared(until_on=DAY))}, [Why.WORK_NOT_CLEARED]),
    ("a song, cleared through today", OPEN, {"works": song(cleared(until_on=AFTER))}, []),
    ("a song, cleared for another exhibition", OPEN, {"works": song(cleared(exhibition="Rope"))}, [Why.WORK_NOT_CLEARED]),
    ("a song, the yes taken back", OPEN, {"works": song(cleared(), cleared("no", 2))}, [Why.WORK_NOT_CLEARED]),
    # the keeper's deliberate look, on record
    ("opened: sealed", held("sealed"), {"use": "team", "viewer": KEEPER}, []),
    ("opened: withdrawn", held("withdrawn"), {"use": "team", "viewer": KEEPER}, []),
    ("opened: no agreement", Standing(1, "N-01"), {"use": "team", "viewer": KEEPER}, []),
    ("opened, but to export", held("sealed"), {"viewer": KEEPER}, [Why.SEALED]),
    ("a keeper who has not opened it", held("sealed"), {"use": "team", "viewer": replace(KEEPER, opened=False)}, [Why.SEALED]),
    ("an editor cannot open", held("sealed"), {"use": "team", "viewer": replace(KEEPER, role=Role.EDITOR)}, [Why.SEALED]),
    # several reasons, all told
    ("everything at once", Standing(1, "N-01", wishes=(wish("not_heard", "wanted"),), agreements=(paper(permissions=rows("no")),),
                                    restraints=(hold("paused"), hold("withdrawn", id=8))),
     {"way": "voice"}, [Why.WITHDRAWN, Why.PAUSED, Why.ANSWER_NO, Why.REVIEW, Why.VOICE_NOT_HEARD]),
]  # fmt: skip


def asked(changed: dict[str, Any]) -> tuple[Asked, Policy]:
    """Exhibition, words, today, Marigold, unless changed."""
    given = {"use": "exhibition", "way": "words", "on": DAY, "exhibition": "Marigold"} | changed
    policy = Policy(given.pop("covers", True), given.pop("pause", 14))
    return Asked(HERE, 1, **(given | {"use": USE[given["use"]], "way": Way(given["way"])})), policy


@pytest.mark.parametrize(("person", "changed", "reasons"), [c[1:] for c in CASES], ids=[c[0] for c in CASES])
def test_the_table(person: Standing, changed: dict[str, Any], reasons: list[Why]) -> None:
    """Each line of the table: the reasons, in order, and a yes only where there is none."""
    question, policy = asked(changed)
    decision = decide(question, [person], policy)
    assert [r.code for r in decision.reasons] == reasons
    assert decision.allowed == (not reasons)
