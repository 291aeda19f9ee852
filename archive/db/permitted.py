"""The rule of domain/consent.py as SQL, decided per voicing (DESIGN §6): for finding, facets and counting, always live.

No exact wording is meant here, so what must be asked or reviewed first is not permitted. A keeper's opened look is not
for finding. Every select is set-based: consent is decided once for each voicing, stretch restraints once for each unit.
"""

from __future__ import annotations

from collections.abc import Collection
from datetime import date, timedelta
from functools import lru_cache
from typing import Any

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
    not_,
    null,
    or_,
    select,
    true,
    union,
    union_all,
)

from archive.db.tables import (
    agreement,
    find_unit,
    master,
    permission,
    person,
    recording,
    release,
    restraint,
    speaks_for,
    voicing,
    voicing_person,
    wish,
    work,
    work_clearance,
)
from archive.domain.agreements import (
    MACHINE,
    SPARES_MACHINE,
    VOICE_WISH_SPARES,
    WORKS_SPARE,
    AgreementKind,
    Policy,
    Relation,
    ReleaseKind,
)
from archive.domain.reach import Reach
from archive.domain.values import Answer, Review, Use, VoiceWish, Way

END_OF_TIME_MS = 2**31 - 1  # 24 days: later than any recording, and what an Integer column holds everywhere


@lru_cache(maxsize=512)  # building the statement costs more than running it; its arguments are all it depends on
def allowed_voicings(use: Use, way: Way, on: date, exhibition: str, policy: Policy) -> Select[tuple[int]]:
    """Ids of voicings allowed for use, way and day, less the restraints on stretches (see `closed_units`)."""
    held = _held(use, way, on)
    heirs = _heirs(on)
    says = _says(_answers(use, way, on, exhibition, policy), _said_so(use, on, policy), held, heirs)
    heard = voicing_person.c.person_id
    each = (
        select(
            voicing_person.c.voicing_id,
            heard,
            func.coalesce(func.max(says.c.blocks), 0).label("blocks"),
            func.coalesce(func.max(says.c.grants), 0).label("grants"),
            func.coalesce(func.max(says.c.said_so), 0).label("said_so"),
            func.count(distinct(says.c.heir)).label("heirs"),
        )
        .select_from(
            voicing_person.join(voicing, voicing.c.id == voicing_person.c.voicing_id).outerjoin(
                says, and_(says.c.person_id == heard, _speaks_of(says, voicing))
            )
        )
        .where(_not_held_for_all(held))
        .group_by(voicing_person.c.voicing_id, heard)
        .subquery()
    )
    every_heir = select(func.count()).select_from(heirs).where(heirs.c.person_id == each.c.person_id).scalar_subquery()
    allows = or_(each.c.grants == 1, and_(each.c.said_so == 1, each.c.heirs > 0, each.c.heirs == every_heir))
    return (
        select(each.c.voicing_id)
        .group_by(each.c.voicing_id)
        # everybody heard has a yes of their own, or of all who speak for them: the most restrictive speaker wins
        .having(and_(func.max(each.c.blocks) == 0, func.min(case((allows, 1), else_=0)) == 1))
    )


@lru_cache(maxsize=512)
def visible_units(use: Use, way: Way, on: date, exhibition: str, policy: Policy) -> Select[tuple[int]]:
    """Ids of find units allowed for use, way and day, with the restraints that name a stretch."""
    return select(find_unit.c.id).where(
        find_unit.c.voicing_id.in_(allowed_voicings(use, way, on, exhibition, policy)),
        find_unit.c.id.not_in(closed_units(use, way, on, exhibition, policy)),
    )


def within(unit: FromClause, reach: Reach) -> ColumnElement[bool]:
    """As a condition on `unit`: nobody is heard in it who is not to be opened by an account, and it lies in what was assigned to it."""
    wanted: list[ColumnElement[bool]] = []
    if reach.people:
        wanted.append(unit.c.voicing_id.not_in(shut_voicings(reach.people)))
    if reach.recordings is not None:
        wanted.append(unit.c.recording_id.in_(sorted(reach.recordings)))
    return and_(true(), *wanted)


def shut_voicings(people: Collection[int]) -> Select[tuple[int]]:
    """Ids of voicings in which one of these people is heard."""
    return select(voicing_person.c.voicing_id).where(voicing_person.c.person_id.in_(sorted(people)))


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
        permission.c.answer.in_([Answer.NO.value, Answer.ASK.value]),
        and_(permission.c.answer == Answer.YES.value, counting, turned),
    )
    yes = and_(permission.c.answer == Answer.YES.value, counting, _ready(use, way, on))
    from_heir = agreement.c.relation == Relation.HEIR.value
    return (
        select(
            agreement.c.person_id,
            agreement.c.interview_id,
            agreement.c.recording_id,
            agreement.c.start_ms,
            agreement.c.end_ms,
            func.max(case((blocks, 1), else_=0)).label("blocks"),
            func.max(case((and_(yes, ~from_heir), 1), else_=0)).label("grants"),
            func.max(case((and_(yes, from_heir, person.c.dead_by <= on), agreement.c.spoken_for_by_id))).label("heir"),
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
            _applies(use, on, policy),
        )
        .group_by(agreement.c.id)
        .cte()
    )


def _applies(use: Use, on: date, policy: Policy) -> ColumnElement[bool]:
    """The agreement speaks of this use at all on this day."""
    return and_(agreement.c.signed_on <= on, _kind_counts(use, policy), ~_superseded(on))


def _said_so(use: Use, on: date, policy: Policy) -> Select[tuple[Any, ...]]:
    """Papers in which a speaker said that their heirs may allow more."""
    own = and_(agreement.c.heirs_may_allow == true(), agreement.c.relation == Relation.NONE.value, _counts(on))
    return (
        select(
            agreement.c.person_id, agreement.c.interview_id, agreement.c.recording_id, agreement.c.start_ms, agreement.c.end_ms,
            literal(0).label("blocks"), literal(0).label("grants"), null().label("heir"), literal(1).label("said_so"),
        )
        .select_from(agreement.join(person, person.c.id == agreement.c.person_id))
        .where(own, _applies(use, on, policy))
    )  # fmt: skip


@lru_cache(maxsize=64)
def _heirs(on: date) -> CTE:
    """Everybody on record as an heir, with papers or without, and whoever signed as one."""
    known, other = _newest(Relation.HEIR), speaks_for.alias()
    first = select(known.c.person_id, known.c.other_id).where(known.c.from_on <= on, or_(known.c.until_on.is_(None), known.c.until_on > on))
    listed = exists(
        select(other.c.id).where(
            other.c.person_id == agreement.c.person_id, other.c.other_id == agreement.c.spoken_for_by_id, other.c.relation == Relation.HEIR.value
        )
    )
    signed = select(agreement.c.person_id, agreement.c.spoken_for_by_id.label("other_id")).where(
        agreement.c.relation == Relation.HEIR.value, agreement.c.spoken_for_by_id.is_not(None), agreement.c.signed_on <= on, ~listed
    )
    return union(first, signed).cte()


def _newest(relation: Relation) -> FromClause:
    """The newest row of each two people in this relation: it alone counts."""
    newest = select(func.max(speaks_for.c.id)).where(speaks_for.c.relation == relation.value).group_by(speaks_for.c.person_id, speaks_for.c.other_id)
    return select(speaks_for).where(speaks_for.c.id.in_(newest)).subquery()


def _says(answers: CTE, said_so: Select[tuple[Any, ...]], held: CTE, heirs: CTE) -> CTE:
    """What speaks for or against each person of a voicing: answers, and holds that name the person.

    A no to part of a recording is left to `closed_units`: it must count wherever it touches, whatever the voicing's piece.
    """
    a = answers.c
    is_heir = exists(select(null()).where(heirs.c.person_id == a.person_id, heirs.c.other_id == a.heir))
    spoken = select(
        a.person_id, a.interview_id, a.recording_id, a.start_ms, a.end_ms,
        case((a.recording_id.is_(None), a.blocks), else_=0).label("blocks"), a.grants, case((is_heir, a.heir)).label("heir"), literal(0).label("said_so"),
    )  # fmt: skip
    holds = select(
        held.c.person_id, held.c.interview_id, null(), null(), null(), literal(1).label("blocks"), literal(0), null(), literal(0)
    ).where(held.c.person_id.is_not(None))
    return union_all(spoken, said_so, holds).cte()


def _kind_counts(use: Use, policy: Policy) -> ColumnElement[bool]:
    if use.code == MACHINE and policy.participation_covers_machine:
        return agreement.c.kind.in_([AgreementKind.RECORDING.value, AgreementKind.PARTICIPATION.value])
    return agreement.c.kind == AgreementKind.RECORDING.value


def _superseded(on: date) -> ColumnElement[bool]:
    """A later paper took its place: the speaker's own; or what the same person signed for them, or a deputy."""
    later = agreement.alias()
    same_signer = and_(later.c.relation == agreement.c.relation, later.c.spoken_for_by_id == agreement.c.spoken_for_by_id)
    by_deputy = and_(later.c.relation == Relation.DEPUTY.value, agreement.c.relation.in_([Relation.GUARDIAN.value, Relation.DEPUTY.value]))
    others = agreement.c.relation != Relation.NONE.value
    return exists(
        select(later.c.id).where(
            later.c.supersedes_id == agreement.c.id,
            later.c.person_id == agreement.c.person_id,
            later.c.signed_on <= on,
            case(
                (later.c.relation == Relation.NONE.value, not_(and_(others, _as_minor(later)))),
                else_=and_(others, _counts(on, later), or_(same_signer, by_deputy)),
            ),
        )
    )


def _as_minor(paper: FromClause = agreement) -> ColumnElement[bool]:
    """Signed while the person was, or may have been, under 18; without any birth date an adult."""
    return or_(
        paper.c.minor == true(),
        and_(person.c.adult_by.is_not(None), paper.c.signed_on < person.c.adult_by),
        and_(person.c.adult_by.is_(None), person.c.adult_from.is_not(None)),
    )


def _counts(on: date, paper: FromClause = agreement) -> ColumnElement[bool]:
    """Its yes may count: the speaker's own as an adult; a guardian's for a minor who assents; a deputy's or an heir's with papers;
    after a death nobody but heirs speaks."""
    own = agreement.alias()
    vouched = exists(
        select(own.c.id).where(
            own.c.person_id == paper.c.spoken_for_by_id,
            own.c.person_id != paper.c.person_id,
            own.c.signed_on <= on,
        )
    )
    minor, guardian = _as_minor(paper), paper.c.relation == Relation.GUARDIAN.value
    dead, heir = func.coalesce(person.c.dead_by <= paper.c.signed_on, false()), paper.c.relation == Relation.HEIR.value
    signed_for = and_(
        or_(and_(minor, guardian, paper.c.assent == true()), and_(not_(minor), not_(guardian))), or_(heir, not_(dead)), vouched, _on_record(paper),
    )  # fmt: skip
    return case((paper.c.spoken_for_by_id.is_(None), not_(minor)), else_=signed_for)


def _on_record(paper: FromClause) -> ColumnElement[bool]:
    """Whoever signed was on record as speaking for the person that day; heirs and deputies with papers that somebody saw."""
    row, newer = speaks_for.alias(), speaks_for.alias()
    same = (newer.c.person_id == row.c.person_id, newer.c.other_id == row.c.other_id, newer.c.relation == row.c.relation)
    return exists(
        select(row.c.id).where(
            row.c.person_id == paper.c.person_id,
            row.c.other_id == paper.c.spoken_for_by_id,
            row.c.relation == paper.c.relation,
            row.c.from_on <= paper.c.signed_on,
            or_(row.c.until_on.is_(None), row.c.until_on > paper.c.signed_on),
            or_(row.c.relation == Relation.GUARDIAN.value, row.c.papers != ""),
            ~exists(select(newer.c.id).where(*same, newer.c.id > row.c.id)),
        )
    )


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
    """Units under a restraint that names a stretch, under a no or an ask of an agreement for part of a recording, in the pause before
    use, or with somebody else's work in them that is not cleared.

    Units are cut at the edges of all of them, so overlapping is lying inside.
    """
    held = _held(use, way, on, by_stretch=True)
    a = _answers(use, way, on, exhibition, policy).c
    partly = select(a.person_id, a.interview_id, a.recording_id, a.start_ms, a.end_ms)
    closing = union_all(
        select(held), partly.where(a.blocks == 1, a.recording_id.is_not(None)), *_too_soon(use, on, policy), *_not_cleared(use, way, on, exhibition)
    ).cte().c  # fmt: skip
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


def _too_soon(use: Use, on: date, policy: Policy) -> list[Select[tuple[Any, ...]]]:
    """Recordings of interviews that ended so lately that nothing but our own computer listens. Where nobody said the day of any of
    them, the day counts on which the last one came in (UTC)."""
    if use.code == MACHINE or not policy.cooling_off_days:
        return []
    last = on - timedelta(days=policy.cooling_off_days)
    one_sitting = func.coalesce(recording.c.interview_id, -recording.c.id)
    said, came = func.max(recording.c.recorded_on), func.max(master.c.at)
    young = (
        select(one_sitting.label("sitting"))
        .join(master, master.c.id == recording.c.master_id)
        .group_by(one_sitting)
        .having(or_(said > last, and_(said.is_(None), came >= (last + timedelta(days=1)).isoformat())))
        .cte()
    )
    too_soon = select(null(), null(), recording.c.id, literal(0), literal(END_OF_TIME_MS)).where(one_sitting.in_(select(young.c.sitting)))
    return [too_soon]


def _not_cleared(use: Use, way: Way, on: date, exhibition: str) -> list[Select[tuple[Any, ...]]]:
    """Stretches with somebody else's work in them of which the newest word in force on such a use is not yes."""
    if use.code in WORKS_SPARE:
        return []

    def in_force(row: FromClause) -> ColumnElement[bool]:
        return and_(
            or_(row.c.use.is_(None), row.c.use == use.code),
            or_(row.c.way.is_(None), row.c.way == way.value),
            or_(row.c.exhibition.is_(None), row.c.exhibition == exhibition),
            row.c.from_on <= on,
            or_(row.c.until_on.is_(None), row.c.until_on > on),
        )

    said, newer = work_clearance.alias(), work_clearance.alias()
    outdone = exists(select(newer.c.id).where(newer.c.work_id == said.c.work_id, in_force(newer), newer.c.id > said.c.id))
    yes = exists(select(said.c.id).where(said.c.work_id == work.c.id, in_force(said), said.c.answer == Answer.YES.value, ~outdone))
    return [select(null(), null(), work.c.recording_id, work.c.start_ms, work.c.end_ms).where(~yes)]
