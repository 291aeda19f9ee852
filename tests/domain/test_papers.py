"""What a newer version changed; who is asked again. CHECKS §8: consent is never inferred from silence, a no is an answer, ask again at 18."""

from __future__ import annotations

from datetime import date

import pytest

from archive.domain.agreements import Agreement, AgreementKind, Permission, Relation, Restraint, Standing
from archive.domain.contact import UNKNOWN, Contact, Rule
from archive.domain.papers import Again, differences, to_ask
from archive.domain.sheetcode import LENGTH, SIGNS, Coded, code_of, read_code
from archive.domain.values import Answer, RestraintKind, Way
from archive.errors import BadInput

TODAY, LAST, SIGNED = date(2026, 6, 1), date(2027, 12, 31), date(2025, 1, 10)
LABELS = {"web": "web", "print": "print"}


def paper(*rows: Permission, id: int = 1, kind: AgreementKind = AgreementKind.RECORDING, **other: object) -> Agreement:
    return Agreement(id, f"A-{id}", id, 1, kind, SIGNED, permissions=rows, **other)  # type: ignore[arg-type]


def said(answer: Answer, use: str = "web", **other: object) -> Permission:
    return Permission(1, use, Way.WORDS, answer, **other)  # type: ignore[arg-type]


def standing(*agreements: Agreement, **other: object) -> Standing:
    return Standing(1, "N-21", **{"adult_from": date(1958, 1, 1), "adult_by": date(1958, 12, 31), "agreements": agreements, **other})  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("person", "what", "why"),
    [
        (standing(), Again.ASK, "No agreement"),
        (standing(paper(said(Answer.YES, "print"))), Again.ASK, "never asked about web"),
        (standing(paper(said(Answer.YES))), Again.STANDS, "through 31 December 2027"),
        (standing(paper(said(Answer.ASK))), Again.STANDS, "holds"),
        (standing(paper(said(Answer.NO))), Again.SAID_NO, "said no"),
        (standing(paper(said(Answer.YES, until_on=date(2027, 1, 1)))), Again.ASK, "ends on 31 December 2026"),
        (standing(paper(said(Answer.YES, until_on=date(2026, 1, 1)))), Again.ASK, "ended on 31 December 2025"),
        (standing(paper(said(Answer.YES, until_on=date(2028, 1, 1)))), Again.STANDS, "holds"),
        (standing(paper(said(Answer.YES, exhibition="Elsewhere"))), Again.ASK, "never asked"),
        (standing(paper(said(Answer.YES), kind=AgreementKind.PARTICIPATION)), Again.ASK, "No agreement"),
        (standing(paper(said(Answer.YES)), paper(said(Answer.NO), id=2, supersedes_id=1)), Again.SAID_NO, "said no"),
        (standing(paper(said(Answer.YES)), restraints=(Restraint(1, RestraintKind.WITHDRAWN, SIGNED, person_id=1),)), Again.STOPPED, "nobody writes"),
        (standing(restraints=(Restraint(1, RestraintKind.PAUSED, SIGNED, person_id=1, use="web"),)), Again.STOPPED, "nobody writes"),
        (standing(restraints=(Restraint(1, RestraintKind.PAUSED, SIGNED, person_id=1, use="film"),)), Again.ASK, "No agreement"),
        (  # of age before the run ends, and signed by a guardian
            standing(
                paper(said(Answer.YES), minor=True, assent=True, spoken_for_by_id=2, relation=Relation.GUARDIAN),
                adult_from=date(2027, 3, 1), adult_by=date(2027, 3, 1), guardians={2: SIGNED},
            ),
            Again.ASK, "asked again as an adult",
        ),
    ],
)  # fmt: skip
def test_who_is_asked_again(person: Standing, what: Again, why: str) -> None:
    found = to_ask(person, "web", "web", "Marigold", TODAY, LAST)
    assert found.what == what and why in found.why, found


def test_a_newer_version_is_told_by_what_it_says_otherwise() -> None:
    old = paper(said(Answer.YES), said(Answer.YES, "print", until_on=date(2027, 1, 1)))
    new = paper(said(Answer.NO), id=2, supersedes_id=1, spoken_for_by_id=2, relation=Relation.DEPUTY)
    assert differences(old, new, LABELS) == (
        "print, in words: was yes, through 31 December 2026, is not answered", "web, in words: was yes, is no", "Somebody else signed it.",
    )  # fmt: skip
    assert differences(old, old, LABELS) == ()


def test_what_may_be_read_from_outside() -> None:
    at_home = Contact(address=("4 Gull Steps", "Tarnwick"))
    assert at_home.outside("Ada Marl") == ("Ada Marl", "4 Gull Steps", "Tarnwick") and not at_home.plain and not at_home.by_hand
    hidden = Contact(address=("4 Gull Steps",), rules=frozenset({Rule.NOT_AT_HOME}))
    assert hidden.outside("Ada Marl") == ("Ada Marl",) and hidden.plain and hidden.by_hand
    assert UNKNOWN.by_hand and UNKNOWN.plain and Rule.NO_VOICEMAIL in UNKNOWN.rules, "nothing on record is the most careful answer"


def test_a_slip_of_the_pen_shows() -> None:
    """ISO/IEC 7064's two promises (common practice of check digits): one wrong sign, and two neighbours that changed places."""
    code = code_of((3, 17, 8, 25), Coded.FORM)
    assert read_code(f" {code.lower().replace('-', ' ')} ", Coded.FORM) == code
    signs = code[3:]
    slips = {signs[:n] + s + signs[n + 1 :] for n in range(LENGTH + 1) for s in SIGNS} | {signs[:n] + signs[n + 1] + signs[n] + signs[n + 2 :] for n in range(LENGTH)}
    for slip in slips - {signs}:
        with pytest.raises(BadInput):
            read_code(f"FM-{slip}", Coded.FORM)
