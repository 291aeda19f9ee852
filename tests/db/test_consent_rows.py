"""Plain inserts of consent and single statements of the filter, each seen to open or close exactly what it should."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from sqlalchemy import Connection, create_engine, event, func, insert, select
from sqlalchemy.pool import StaticPool

from archive.db import people
from archive.db import tables as t
from archive.db.consent_rows import (
    add_agreement,
    add_approval,
    add_permission,
    add_release,
    add_restraint,
    add_wish,
    cut_edges,
    ground_piece,
    load_standings,
    load_use,
)
from archive.db.facts import consent_revision
from archive.db.permitted import allowed_voicings, visible, visible_units
from archive.domain.agreements import (
    AgreementForm,
    AgreementKind,
    Asked,
    Copyright,
    Policy,
    Relation,
    ReleaseKind,
)
from archive.domain.values import (
    USES,
    Answer,
    Attribution,
    PersonDay,
    RestraintKind,
    Review,
    Stretch,
    Use,
    VoiceWish,
    Way,
)
from archive.errors import BadInput, NotFound

WEEK = [date(2031, 2, 26) + timedelta(days=n) for n in range(6)]
LONG_AGO = date(2020, 1, 1)
BY = {"by": "test", "at": "2031-01-01T00:00:00Z"}
YES_DAY = WEEK[3]
EXHIBITION = next(use for use in USES if use.code == "exhibition")
TEAM = next(use for use in USES if use.code == "team")
POLICY = Policy()


@pytest.fixture
def small() -> Iterator[Connection]:
    """One interview, one recording, one passage cut in two units; one open person, and one voicing that nobody is in."""
    engine = create_engine("sqlite://", poolclass=StaticPool)
    event.listen(engine, "connect", lambda raw, _: raw.execute("PRAGMA foreign_keys = ON"))
    t.metadata.create_all(engine)
    with engine.connect() as connection:
        connection.execute(insert(t.use), [{"code": u.code, "label": u.label, "inward": u.inward} for u in USES])
        connection.execute(insert(t.person).values(id=1, code="N-01"))
        connection.execute(insert(t.interview).values(id=1, code="A-1"))
        connection.execute(insert(t.master).values(id=1, sha256="0" * 64, bytes=1, extension="wav", **BY))
        connection.execute(insert(t.recording).values(id=1, code="R-1", interview_id=1, master_id=1, original_name="x"))
        connection.execute(insert(t.version).values(id=1, recording_id=1, kind="machine", **BY))
        passage = {"recording_id": 1, "start_ms": 0, "end_ms": 60_000, "version_id": 1, "position": 0, "lineage": []}
        connection.execute(insert(t.passage).values(id=1, **passage))
        connection.execute(insert(t.voicing), [{"id": n, "key": str(n), "interview_id": 1} for n in (1, 2)])
        connection.execute(insert(t.voicing_person).values(voicing_id=1, person_id=1))
        place = {"passage_id": 1, "recording_id": 1}
        units = [(1, 0, 30_000, 1), (2, 30_000, 60_000, 1), (3, 0, 60_000, 2)]
        rows = [{"id": n, "start_ms": s, "end_ms": e, "voicing_id": v, **place} for n, s, e, v in units]
        connection.execute(insert(t.find_unit), rows)
        add_wish(
            connection, person_id=1, attribution=Attribution.FULL, voice=VoiceWish.AS_RECORDED, review=Review.NOT_WANTED,
            from_on=LONG_AGO, **BY,
        )  # fmt: skip
        yield connection
        connection.rollback()
    engine.dispose()


def sign(connection: Connection, stretch: Stretch | None = None, uses: tuple[str, ...] = ("exhibition", "team")) -> int:
    """An agreement of the only person, with a yes in words to these uses; its id."""
    code = f"AG-{connection.execute(select(func.count()).select_from(t.agreement)).scalar_one()}"
    paper = add_agreement(
        connection, code=code, person_id=1, kind=AgreementKind.RECORDING, form=AgreementForm.SIGNED, signed_on=LONG_AGO,
        taken_by="I-01", language="en", stretch=stretch, **BY,
    )  # fmt: skip
    for use in uses:
        add_permission(connection, agreement_id=paper, use=use, way=Way.WORDS, answer=Answer.YES, **BY)
    return paper


def units(connection: Connection, use: Use = EXHIBITION, day: date = YES_DAY) -> set[int]:
    """Ids of units found for a use, in words."""
    return set(connection.execute(visible_units(use, Way.WORDS, day, "", POLICY)).scalars())


def test_no_record_means_no_and_a_voicing_of_nobody_is_never_found(small: Connection) -> None:
    """DESIGN §4, 1: without rows nothing is found; where nobody is heard nothing ever is."""
    assert units(small) == set()
    sign(small)
    assert units(small) == {1, 2}


def test_a_withdrawal_needs_no_reindexing(small: Connection) -> None:
    """DESIGN §11: not findable in the next request, from its day on."""
    sign(small)
    add_restraint(small, kind=RestraintKind.WITHDRAWN, from_on=YES_DAY, person_id=1, **BY)
    assert units(small, day=WEEK[2]) == {1, 2}
    assert units(small) == set()


def test_stretch_restraints_close_units_but_not_voicings(small: Connection) -> None:
    """`allowed_voicings` leaves them to `visible_units`, which closes only what lies inside."""
    sign(small)
    add_restraint(
        small, kind=RestraintKind.SEALED, from_on=LONG_AGO, person_id=1, stretch=Stretch(1, 30_000, 60_000), **BY
    )
    assert set(small.execute(allowed_voicings(EXHIBITION, Way.WORDS, YES_DAY, "", POLICY)).scalars()) == {1}
    assert units(small) == {1}


def test_an_old_voicing_without_its_piece_stays_closed(small: Connection) -> None:
    """An agreement for part of a recording counts only once the voicings carry their pieces: doubt closes."""
    sign(small, stretch=Stretch(1, 0, 30_000))
    assert units(small) == set()
    piece = ground_piece(small, Stretch(1, 0, 30_000))
    assert piece == Stretch(1, 0, 30_000)
    assert cut_edges(small, [1]) == {1: (0, 30_000)}
    small.execute(insert(t.voicing).values(id=3, key="3", interview_id=1, recording_id=1, start_ms=0, end_ms=30_000))
    small.execute(insert(t.voicing_person).values(voicing_id=3, person_id=1))
    small.execute(t.find_unit.update().where(t.find_unit.c.id == 1).values(voicing_id=3))
    assert units(small) == {1}


def test_two_uses_in_one_statement(small: Connection) -> None:
    """What the team may read and the exhibition may use: the condition stands twice, once on an alias, without a clash."""
    sign(small, uses=("team",))
    unit = t.find_unit.alias()
    both = select(unit.c.id).where(
        visible(unit, TEAM, Way.WORDS, YES_DAY, "", POLICY), visible(unit, EXHIBITION, Way.WORDS, YES_DAY, "", POLICY)
    )
    assert set(small.execute(both).scalars()) == set()
    sign(small)
    assert set(small.execute(both).scalars()) == {1, 2}


def test_every_insert_raises_the_revision(small: Connection) -> None:
    """DESIGN §6: `consent_revision` is bumped in every such transaction."""
    hold = add_restraint(small, kind=RestraintKind.EMBARGO, from_on=LONG_AGO, person_id=1, until_on=YES_DAY, **BY)
    before = consent_revision(small)
    paper = sign(small, uses=())
    assert consent_revision(small) == before + 1
    add_permission(small, agreement_id=paper, use="exhibition", way=Way.WORDS, answer=Answer.YES, **BY)
    assert consent_revision(small) == before + 2
    assert units(small) == set()  # the embargo's end means review
    add_release(small, restraint_id=hold, kind=ReleaseKind.REVIEWED, from_on=YES_DAY, reason="read again", **BY)
    assert consent_revision(small) == before + 3
    assert units(small) == {1, 2}
    add_approval(
        small,
        person_id=1,
        wording_sha256="a" * 64,
        use="exhibition",
        way=Way.WORDS,
        answer=Answer.YES,
        from_on=YES_DAY,
        **BY,
    )
    assert consent_revision(small) == before + 4
    people.write(small, "N-01", None, None, PersonDay(date(2030, 1, 1), date(2030, 12, 31)), "")  # of age from then on
    assert consent_revision(small) == before + 5
    person = load_standings(small, [1])[1]
    asked = Asked(Stretch(1, 0, 60_000), 1, EXHIBITION, Way.WORDS, YES_DAY, wording_sha256="a" * 64)
    assert person.approved(asked, False)
    assert not person.approved(replace(asked, on=WEEK[2]), False)


def test_inserts_refuse_what_contradicts_itself(small: Connection) -> None:
    """What the decision could not read rightly is refused with words, and nothing is written."""
    revision = consent_revision(small)
    plain: dict[str, Any] = {
        "code": "AG-X", "person_id": 1, "kind": AgreementKind.RECORDING, "form": AgreementForm.SPOKEN, "signed_on": LONG_AGO,
        "taken_by": "I-01", "language": "en", **BY,
    }  # fmt: skip
    for wrong in (
        {"copyright_in": Copyright.ASSIGNED},
        {"spoken_for_by_id": 1, "relation": Relation.GUARDIAN},
        {"relation": Relation.HEIR},
        {"supersedes_id": 99},
    ):
        with pytest.raises(BadInput):
            add_agreement(small, **(plain | wrong))
    with pytest.raises(BadInput):
        add_restraint(small, kind=RestraintKind.SEALED, from_on=YES_DAY, use="web", **BY)
    with pytest.raises(BadInput):
        add_restraint(small, kind=RestraintKind.SEALED, from_on=YES_DAY, until_on=YES_DAY, person_id=1, **BY)
    with pytest.raises(BadInput):
        add_release(small, restraint_id=1, kind=ReleaseKind.LIFTED, from_on=YES_DAY, reason=" ", **BY)
    with pytest.raises(BadInput):
        load_use(small, "billboard")
    with pytest.raises(NotFound):
        load_standings(small, [1, 2])
    assert consent_revision(small) == revision
