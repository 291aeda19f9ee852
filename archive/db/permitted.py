"""The rule of domain/consent.py as SQL, decided per voicing (DESIGN §6): for finding, facets and counting, always live.

No exact wording is meant here, so what must be asked or reviewed first is not permitted. A keeper's opened look is not
for finding. Every select is set-based: consent is decided once for each voicing, stretch restraints once for each unit.
"""

from __future__ import annotations

from datetime import date
from functools import lru_cache

from sqlalchemy import (
    CTE,
    ColumnElement,
    FromClause,
    Select,
    and_,
    case,
    distinct,
    exists,
    false,
    func,
    literal,
    null,
    or_,
    select,
    true,
    union_all,
)

from archive.db.tables import (
    agreement,
    find_unit,
    permission,
    person,
    release,
    restraint,
    voicing,
    voicing_person,
    wish,
)
from archive.domain.agreements import (
    MACHINE,
    SPARES_MACHINE,
    VOICE_WISH_SPARES,
    AgreementKind,
    Policy,
    Relation,
    ReleaseKind,
)
from archive.domain.values import Answer, Review, Use, VoiceWish, Way

END_OF_TIME_MS = 2**31 - 1  # 24 days: later than any recording, and what an Integer column holds everywhere


@lru_cache(maxsize=512)  # building the statement costs more than running it; its arguments are all it depends on
def allowed_voicings(use: Use, way: Way, on: date, exhibition: str, policy: Policy) -> Select[tuple[int]]:
    """Ids of voicings allowed for use, way and day, less the restraints on stretches (see `closed_units`)."""
    held = _held(use, way, on)
    says = _says(_answers(use, way, on, exhibition, policy), held)
    heard = voicing_person.c.person_id
    return (
        select(voicing_person.c.voicing_id)
        .select_from(
            voicing_person.join(voicing, voicing.c.id == voicing_person.c.voicing_id).outerjoin(
                says, and_(says.c.person_id == heard, _speaks_of(says, voicing))
            )
        )
        .where(_not_held_for_all(held))
        .group_by(voicing_person.c.voicing_id)
        .having(
            and_(
                func.coalesce(func.max(says.c.blocks), 0) == 0,
                # everybody heard has a yes of their own: the most restrictive speaker wins
                func.count(distinct(case((says.c.grants == 1, heard)))) == func.count(distinct(heard)),
            )
        )
    )


@lru_cache(maxsize=512)
def visible_units(use: Use, way: Way, on: date, exhibition: str, policy: Policy) -> Select[tuple[int]]:
    """Ids of find units allowed for use, way and day, with the restraints that name a stretch."""
    return select(find_unit.c.id).where(
        find_unit.c.voicing_id.in_(allowed_voicings(use, way, on, exhibition, policy)),
        find_unit.c.id.not_in(closed_units(use, way, on, exhibition, policy)),
    )


def visible(unit: FromClause, use: Use, way: Way, on: date, exhibition: str, policy: Policy) -> ColumnElement[bool]:
    """The same as a condition on `unit` (find_unit or an alias), for a statement that some other clause narrows.

    The sum keeps SQLite from walking all units of all allowed voicings instead of the few that the words have found.
    """
    return and_(
        (unit.c.voicing_id + 0).in_(allowed_voicings(use, way, on, exhibition, policy)),
        (unit.c.id + 0).not_in(closed_units(use, way, on, exhibition, policy)),
    )


# --- agreements and permissions ---------------------------------------------------------------------------------------


@lru_cache(maxsize=512)
def _answers(use: Use, way: Way, on: date, exhibition: str, policy: Policy) -> CTE:
    """Answers in force, a row an agreement: whose, what it speaks of, whether it blocks (no, ask) and grants (yes)."""
    counting = _counts(on)
    turned = and_(_as_minor(), or_(person.c.adult_from.is_(None), person.c.adult_from <= on))
    blocks = or_(
        permission.c.answer == Answer.NO.value,
        and_(counting, or_(permission.c.answer == Answer.ASK.value, turned)),
    )
    grants = and_(
        permission.c.answer == Answer.YES.value,
        agreement.c.relation != Relation.HEIR.value,
        counting,
        _ready(use, way, on),
    )
    return (
        select(
            agreement.c.person_id,
            agreement.c.interview_id,
            agreement.c.recording_id,
            agreement.c.start_ms,
            agreement.c.end_ms,
            func.max(case((blocks, 1), else_=0)).label("blocks"),
            func.max(case((grants, 1), else_=0)).label("grants"),
        )
        .select_from(
            permission.join(agreement, permission.c.agreement_id == agreement.c.id).join(
                person, person.c.id == agreement.c.person_id
            )
        )
        .where(
            permission.c.use == use.code,
            permission.c.way == way.value,
            or_(permission.c.exhibition.is_(None), permission.c.exhibition == exhibition),
            or_(permission.c.from_on.is_(None), permission.c.from_on <= on),
            or_(permission.c.until_on.is_(None), permission.c.until_on > on),
            agreement.c.signed_on <= on,
            _kind_counts(use, policy),
            ~_superseded(on),
        )
        .group_by(agreement.c.id)
        .cte()
    )


def _says(answers: CTE, held: CTE) -> CTE:
    """What speaks for or against each person of a voicing: answers, and holds that name the person.

    A no to part of a recording is left to `closed_units`: it must count wherever it touches, whatever the voicing's piece.
    """
    a = answers.c
    spoken = select(
        a.person_id, a.interview_id, a.recording_id, a.start_ms, a.end_ms,
        case((a.recording_id.is_(None), a.blocks), else_=0).label("blocks"), a.grants,
    )  # fmt: skip
    holds = select(
        held.c.person_id, held.c.interview_id, null(), null(), null(), literal(1).label("blocks"), literal(0)
    ).where(held.c.person_id.is_not(None))
    return union_all(spoken, holds).cte()


def _kind_counts(use: Use, policy: Policy) -> ColumnElement[bool]:
    if use.code == MACHINE and policy.participation_covers_machine:
        return agreement.c.kind.in_([AgreementKind.RECORDING.value, AgreementKind.PARTICIPATION.value])
    return agreement.c.kind == AgreementKind.RECORDING.value


def _superseded(on: date) -> ColumnElement[bool]:
    later = agreement.alias()
    return exists(
        select(later.c.id).where(
            later.c.supersedes_id == agreement.c.id,
            later.c.person_id == agreement.c.person_id,
            later.c.signed_on <= on,
            or_(later.c.relation != Relation.HEIR.value, agreement.c.relation == Relation.HEIR.value),
        )
    )


def _as_minor() -> ColumnElement[bool]:
    """Signed while the person was, or may have been, under 18; without any birth date an adult."""
    return or_(
        agreement.c.minor == true(),
        and_(person.c.adult_by.is_not(None), agreement.c.signed_on < person.c.adult_by),
        and_(person.c.adult_by.is_(None), person.c.adult_from.is_not(None)),
    )


def _counts(on: date) -> ColumnElement[bool]:
    own = agreement.alias()
    vouched = exists(
        select(own.c.id).where(
            own.c.person_id == agreement.c.spoken_for_by_id,
            own.c.person_id != agreement.c.person_id,
            own.c.signed_on <= on,
        )
    )
    guarded = and_(agreement.c.relation == Relation.GUARDIAN.value, agreement.c.assent == true(), vouched)
    return case((_as_minor(), guarded), else_=or_(agreement.c.spoken_for_by_id.is_(None), vouched))


def _speaks_of(answers: CTE, ground: FromClause) -> ColumnElement[bool]:
    """The agreement is a standing one or of this interview, and covers the whole piece where it covers only part."""
    return and_(
        or_(answers.c.interview_id.is_(None), answers.c.interview_id == ground.c.interview_id),
        or_(
            answers.c.recording_id.is_(None),
            and_(
                answers.c.recording_id == ground.c.recording_id,
                answers.c.start_ms <= ground.c.start_ms,
                ground.c.end_ms <= answers.c.end_ms,
            ),
        ),
    )


# --- wishes -----------------------------------------------------------------------------------------------------------


def _ready(use: Use, way: Way, on: date) -> ColumnElement[bool]:
    """The latest wish asks for no review of an outward quote and lets the voice be heard. No wish: false."""
    wanted: list[ColumnElement[bool]] = []
    ranked = (
        select(
            wish.c.person_id,
            wish.c.voice,
            wish.c.review,
            func.row_number()
            .over(partition_by=wish.c.person_id, order_by=[wish.c.from_on.desc(), wish.c.id.desc()])
            .label("place"),
        )
        .where(wish.c.from_on <= on)
        .cte()
    )
    if not use.inward:
        wanted.append(ranked.c.review != Review.WANTED.value)
    if way == Way.VOICE and use.code not in VOICE_WISH_SPARES:
        wanted.append(ranked.c.voice != VoiceWish.NOT_HEARD.value)
    if not wanted:
        return true()
    return person.c.id.in_(select(ranked.c.person_id).where(ranked.c.place == 1, *wanted))


# --- restraints -------------------------------------------------------------------------------------------------------


def _released(kind: ReleaseKind, on: date) -> ColumnElement[bool]:
    return exists(
        select(release.c.id).where(
            release.c.restraint_id == restraint.c.id, release.c.kind == kind.value, release.c.from_on <= on
        )
    )


def _held(use: Use, way: Way, on: date, by_stretch: bool = False) -> CTE:
    """Restraints that hold on this day for this use: those that name a stretch, or those that name none."""
    spared: ColumnElement[bool] = false()
    reached = or_(restraint.c.way.is_(None), restraint.c.way == way.value)
    if use.code == MACHINE:
        reached = or_(restraint.c.way.is_(None), restraint.c.way != Way.PICTURE.value, restraint.c.way == way.value)
        spared = and_(
            restraint.c.kind.in_(sorted(kind.value for kind in SPARES_MACHINE)),
            or_(restraint.c.use.is_(None), restraint.c.use != MACHINE),
        )
    return (
        select(
            restraint.c.person_id,
            restraint.c.interview_id,
            restraint.c.recording_id,
            func.coalesce(restraint.c.start_ms, 0).label("start_ms"),
            func.coalesce(restraint.c.end_ms, literal(END_OF_TIME_MS)).label("end_ms"),
        )
        .where(
            restraint.c.recording_id.is_not(None) if by_stretch else restraint.c.recording_id.is_(None),
            restraint.c.from_on <= on,
            or_(restraint.c.use.is_(None), restraint.c.use == use.code),
            reached,
            ~spared,
            ~_released(ReleaseKind.LIFTED, on),
            or_(
                restraint.c.until_on.is_(None),
                restraint.c.until_on > on,
                and_(restraint.c.needs_review == true(), ~_released(ReleaseKind.REVIEWED, on)),
            ),
        )
        .cte()
    )


def _not_held_for_all(held: CTE) -> ColumnElement[bool]:
    """No hold that names no person is on the voicing's interview, or on the whole archive."""
    whole = exists(select(literal(1)).where(held.c.person_id.is_(None), held.c.interview_id.is_(None)))
    interviews = select(held.c.interview_id).where(held.c.person_id.is_(None), held.c.interview_id.is_not(None))
    return and_(~whole, or_(voicing.c.interview_id.is_(None), voicing.c.interview_id.not_in(interviews)))


@lru_cache(maxsize=512)
def closed_units(use: Use, way: Way, on: date, exhibition: str, policy: Policy) -> Select[tuple[int]]:
    """Units under a restraint that names a stretch, or under a no or an ask of an agreement for part of a recording.

    Units are cut at the edges of both, so overlapping is lying inside.
    """
    held = _held(use, way, on, by_stretch=True)
    a = _answers(use, way, on, exhibition, policy).c
    partly = select(a.person_id, a.interview_id, a.recording_id, a.start_ms, a.end_ms)
    closing = union_all(select(held), partly.where(a.blocks == 1, a.recording_id.is_not(None))).cte().c
    heard = exists(
        select(null()).where(
            voicing_person.c.voicing_id == find_unit.c.voicing_id, voicing_person.c.person_id == closing.person_id
        )
    )
    overlap = and_(
        # The same twice: so SQLite looks up the few recordings that have something closed instead of walking all units.
        find_unit.c.recording_id.in_(select(closing.recording_id)),
        find_unit.c.recording_id == closing.recording_id,
        find_unit.c.start_ms < closing.end_ms,
        find_unit.c.end_ms > closing.start_ms,
    )
    return (
        select(find_unit.c.id)
        .join(voicing, voicing.c.id == find_unit.c.voicing_id)
        .where(
            overlap,
            or_(closing.interview_id.is_(None), closing.interview_id == voicing.c.interview_id),
            or_(closing.person_id.is_(None), heard),
        )
    )
