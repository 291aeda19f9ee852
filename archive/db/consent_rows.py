"""Consent between the database and the pure values: `load_standings` for given people, and plain inserts.

Every insert raises the consent revision in the caller's transaction. Nothing here updates or deletes: a change is a new
row. What an insert refuses (BadInput) is what the decision could not read rightly.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from datetime import date
from typing import Any

from sqlalchemy import ColumnElement, Connection, Row, Table, and_, func, insert, or_, select

from archive.db import likeness, reviews, spokespeople, vectors
from archive.db.facts import bump_consent, participation_covers_machine
from archive.db.tables import agreement, approval, permission, person, release, restraint, use, wish, work
from archive.domain.agreements import (
    TEAM,
    Agreement,
    AgreementForm,
    AgreementKind,
    Approval,
    Copyright,
    Permission,
    Policy,
    Relation,
    Release,
    ReleaseKind,
    Restraint,
    Standing,
    Wish,
)
from archive.domain.values import Answer, Attribution, RestraintKind, Review, Stretch, Use, VoiceWish, Way
from archive.errors import BadInput, NotFound

# --- reading ----------------------------------------------------------------------------------------------------------


def load_policy(connection: Connection, cooling_off_days: int) -> Policy:
    """What the archive decided at `init`, with its pause before use."""
    return Policy(participation_covers_machine(connection), cooling_off_days)


def load_use(connection: Connection, code: str) -> Use:
    """One use of the archive's own list, by its code or its label ("listening post"). Raises BadInput with the list."""
    wanted = code.strip().lower()
    same = or_(use.c.code == wanted.replace(" ", "_").replace("-", "_"), func.lower(use.c.label) == wanted)
    row = connection.execute(select(use).where(same).limit(1)).first()
    if row is None:
        known = ", ".join(connection.execute(select(use.c.code).order_by(use.c.code)).scalars())
        raise BadInput("There is no such use in this archive.", f"Use one of: {known}.")
    return Use(row.code, row.label, row.inward)


def load_standings(connection: Connection, person_ids: Collection[int]) -> dict[int, Standing]:
    """All that is on record about the consent of each person. Raises NotFound for an id that is no person's."""
    ids = sorted(set(person_ids))
    people = connection.execute(select(person).where(person.c.id.in_(ids))).all()
    if len(people) != len(ids):
        raise NotFound("Somebody heard here is not among the people on record.")
    agreements = _agreements(connection, ids)
    speakers = spokespeople.of(connection, ids)
    signers = {a.spoken_for_by_id for found in agreements.values() for a in found if a.spoken_for_by_id is not None}
    signers |= {s.other_id for found in speakers.values() for s in found}
    first_own = _first_agreements(connection, signers)
    restraints = _restraints(connection, _of_these(ids))
    wishes = _by_person(connection, wish, ids)
    approvals, asked = _by_person(connection, approval, ids), reviews.unanswered(connection, ids)
    return {
        row.id: Standing(
            person_id=row.id,
            code=row.code,
            adult_from=row.adult_from,
            adult_by=row.adult_by,
            wishes=tuple(_wish(w) for w in wishes[row.id]),
            agreements=tuple(agreements[row.id]),
            restraints=tuple(r for r in restraints if r.person_id is None or r.person_id == row.id),
            approvals=(*(_approval(a) for a in approvals[row.id]), *asked.get(row.id, ())),
            guardians=first_own,
            speakers=tuple(speakers[row.id]),
            dead_by=row.dead_by,
        )
        for row in people
    }


def cut_edges(connection: Connection, recording_ids: Collection[int]) -> dict[int, tuple[int, ...]]:
    """recording id → where its find units are cut: every edge (ms) of a restraint, of an agreement that covers only part, or of
    somebody else's work."""
    edges: dict[int, set[int]] = {recording_id: set() for recording_id in recording_ids}
    for table in (restraint, agreement, work):
        query = select(table.c.recording_id, table.c.start_ms, table.c.end_ms).where(table.c.recording_id.in_(recording_ids))
        for recording_id, *found in connection.execute(query):
            edges[recording_id].update(edge for edge in found if edge is not None)
    return {recording_id: tuple(sorted(found)) for recording_id, found in edges.items()}


def ground_piece(connection: Connection, stretch: Stretch) -> Stretch | None:
    """The piece that the voicing of a unit carries: None where no agreement covers only part of its recording.

    Otherwise from the last edge of such an agreement before the unit to the first one after it, so that units between
    the same edges share a voicing.
    """
    found = connection.execute(
        select(agreement.c.start_ms, agreement.c.end_ms).where(agreement.c.recording_id == stretch.recording_id)
    )
    edges = {edge for row in found for edge in row}
    if not edges:
        return None
    before = [edge for edge in edges if edge <= stretch.start_ms]
    after = [edge for edge in edges if edge >= stretch.end_ms]
    return Stretch(stretch.recording_id, max(before, default=0), min(after, default=2**31 - 1))


def agreement_ids(connection: Connection) -> dict[str, int]:
    """Every agreement on record: code → id."""
    return {r.code: r.id for r in connection.execute(select(agreement.c.code, agreement.c.id))}


def has_answer(connection: Connection, agreement_id: int, use: str, way: Way, answer: Answer) -> bool:
    """True where this agreement gives this answer on record (a sheet read twice)."""
    query = select(permission.c.id).where(
        permission.c.agreement_id == agreement_id,
        permission.c.use == use,
        permission.c.way == way.value,
        permission.c.answer == answer.value,
    )
    return connection.execute(query.limit(1)).first() is not None


def restraint_by_id(connection: Connection, restraint_id: int) -> Row[Any] | None:
    """One hold, or None."""
    return connection.execute(select(restraint).where(restraint.c.id == restraint_id)).one_or_none()


def stretch_holds(connection: Connection) -> list[tuple[Restraint, str, str]]:
    """Every hold on a stretch of a recording with what made the machine close it ("" where a person did) and how it came, in order."""
    found = connection.execute(
        select(restraint).where(restraint.c.recording_id.is_not(None), restraint.c.start_ms.is_not(None))
        .order_by(restraint.c.recording_id, restraint.c.start_ms, restraint.c.id)
    ).all()  # fmt: skip
    releases: dict[int, list[Release]] = defaultdict(list)
    for row in connection.execute(select(release).where(release.c.restraint_id.in_([r.id for r in found])).order_by(release.c.id)):
        releases[row.restraint_id].append(Release(ReleaseKind(row.kind), row.from_on))
    return [(_restraint(row, tuple(releases[row.id])), row.rule, row.how) for row in found]


def same_restraints(connection: Connection, kind: RestraintKind, stretch: Stretch, until_on: date | None, event: str) -> frozenset[int]:
    """Ids of what holds exactly this stretch in this way until this day (or event) already: a sheet read twice. What the machine closed
    does not count: it says neither until when nor on whose word."""
    same = [restraint.c[name] == value for name, value in _target(stretch).items()]
    until = restraint.c.until_on.is_(None) if until_on is None else restraint.c.until_on == until_on
    query = select(restraint.c.id).where(restraint.c.kind == kind.value, restraint.c.rule == "", restraint.c.event == event, until, *same)
    return frozenset(connection.execute(query).scalars())


def reviewed_holds(connection: Connection) -> list[Restraint]:
    """Every hold whose end, or the event that ends it, has to be looked at."""
    return _restraints(connection, or_(and_(restraint.c.needs_review.is_(True), restraint.c.until_on.is_not(None)), restraint.c.event != ""))


def closed_by_rule(connection: Connection, recording_id: int) -> list[tuple[Stretch, bool]]:
    """What the machine ever closed in a recording, and whether a person decided about it by lifting it."""
    lifted = select(release.c.restraint_id).where(release.c.kind == ReleaseKind.LIFTED.value)
    query = select(restraint, restraint.c.id.in_(lifted).label("lifted"))
    rows = connection.execute(query.where(restraint.c.recording_id == recording_id, restraint.c.rule != ""))
    return [(Stretch(r.recording_id, r.start_ms, r.end_ms), bool(r.lifted)) for r in rows]


def _by_person(connection: Connection, table: Table, ids: Sequence[int]) -> Mapping[int, list[Row[Any]]]:
    found: dict[int, list[Row[Any]]] = defaultdict(list)
    for row in connection.execute(select(table).where(table.c.person_id.in_(ids)).order_by(table.c.id)):
        found[row.person_id].append(row)
    return found


def _agreements(connection: Connection, ids: Sequence[int]) -> Mapping[int, list[Agreement]]:
    answers: dict[int, list[Permission]] = defaultdict(list)
    mine = select(agreement.c.id).where(agreement.c.person_id.in_(ids))
    rows = connection.execute(select(permission).where(permission.c.agreement_id.in_(mine)).order_by(permission.c.id))
    for row in rows:
        answers[row.agreement_id].append(_permission(row))
    papers = _by_person(connection, agreement, ids)
    signers = {row.spoken_for_by_id for found in papers.values() for row in found}
    codes = {r.id: r.code for r in connection.execute(select(person.c.id, person.c.code).where(person.c.id.in_(signers - {None})))}
    return defaultdict(
        list,
        {
            person_id: [_agreement(row, tuple(answers[row.id]), codes.get(row.spoken_for_by_id, "")) for row in found]
            for person_id, found in papers.items()
        },
    )


def _first_agreements(connection: Connection, ids: Collection[int]) -> dict[int, date]:
    rows = connection.execute(
        select(agreement.c.person_id, func.min(agreement.c.signed_on))
        .where(agreement.c.person_id.in_(sorted(ids)))
        .group_by(agreement.c.person_id)
    )
    return {row[0]: row[1] for row in rows}


def holds_on_page(connection: Connection, person_id: int) -> list[Restraint]:
    """Every hold that is this person's own, lies on speech of nobody in particular, or was raised by them."""
    return _restraints(connection, or_(_of_these([person_id]), restraint.c.raised_by_id == person_id))


def _of_these(ids: Sequence[int]) -> ColumnElement[bool]:
    return or_(restraint.c.person_id.is_(None), restraint.c.person_id.in_(ids))


def _restraints(connection: Connection, wanted: ColumnElement[bool]) -> list[Restraint]:
    releases: dict[int, list[Release]] = defaultdict(list)
    rows = connection.execute(
        select(release).where(release.c.restraint_id.in_(select(restraint.c.id).where(wanted))).order_by(release.c.id)
    )
    for row in rows:
        releases[row.restraint_id].append(Release(ReleaseKind(row.kind), row.from_on))
    found = connection.execute(select(restraint).where(wanted).order_by(restraint.c.id))
    return [_restraint(row, tuple(releases[row.id])) for row in found]


def _permission(row: Row[Any]) -> Permission:
    return Permission(
        id=row.id,
        use=row.use,
        way=Way(row.way),
        answer=Answer(row.answer),
        exhibition=row.exhibition,
        from_on=row.from_on,
        until_on=row.until_on,
        conditions=row.conditions,
    )


def _agreement(row: Row[Any], permissions: tuple[Permission, ...], signed_by: str) -> Agreement:
    part = None if row.recording_id is None else Stretch(row.recording_id, row.start_ms, row.end_ms)
    return Agreement(
        id=row.id,
        code=row.code,
        number=row.number,
        person_id=row.person_id,
        kind=AgreementKind(row.kind),
        signed_on=row.signed_on,
        interview_id=row.interview_id,
        stretch=part,
        spoken_for_by_id=row.spoken_for_by_id,
        relation=Relation(row.relation),
        minor=row.minor,
        assent=row.assent,
        supersedes_id=row.supersedes_id,
        permissions=permissions,
        signed_by=signed_by,
        heirs_may_allow=row.heirs_may_allow,
    )


def _restraint(row: Row[Any], releases: tuple[Release, ...]) -> Restraint:
    return Restraint(
        id=row.id,
        kind=RestraintKind(row.kind),
        from_on=row.from_on,
        until_on=row.until_on,
        needs_review=row.needs_review,
        person_id=row.person_id,
        interview_id=row.interview_id,
        recording_id=row.recording_id,
        start_ms=row.start_ms,
        end_ms=row.end_ms,
        use=row.use,
        releases=releases,
        raised_by_id=row.raised_by_id,
        way=Way(row.way) if row.way else None,
        event=row.event,
    )


def _wish(row: Row[Any]) -> Wish:
    return Wish(row.id, Attribution(row.attribution), VoiceWish(row.voice), Review(row.review), row.from_on, row.at)


def _approval(row: Row[Any]) -> Approval:
    return Approval(row.id, row.wording_sha256, row.use, Way(row.way), Answer(row.answer), row.from_on, row.given_by_id, row.language)


# --- writing ----------------------------------------------------------------------------------------------------------


def add_agreement(
    connection: Connection,
    *,
    code: str,
    person_id: int,
    kind: AgreementKind,
    form: AgreementForm,
    signed_on: date,
    taken_by: str,
    language: str,
    by: str,
    at: str,
    interview_id: int | None = None,
    stretch: Stretch | None = None,
    number: int = 1,
    paper_sha256: str | None = None,
    copyright_in: Copyright = Copyright.KEPT,
    basis: str = "",
    spoken_for_by_id: int | None = None,
    relation: Relation = Relation.NONE,
    minor: bool = False,
    assent: bool = False,
    supersedes_id: int | None = None,
    heirs_may_allow: bool = False,
    note: str = "",
) -> int:
    """Put an agreement on record; returns its id. Raises BadInput where it contradicts itself."""
    if copyright_in == Copyright.ASSIGNED and form != AgreementForm.SIGNED:
        raise BadInput("Copyright can be assigned only by a signed paper.", "Record it as kept or licensed.")
    if spoken_for_by_id == person_id:
        raise BadInput("Nobody signs for themselves as somebody else.", "Leave out who signed for them.")
    if (spoken_for_by_id is None) != (relation == Relation.NONE):
        raise BadInput("Who signed for somebody, and as what, go together.", "Give both: guardian, heir or deputy.")
    if heirs_may_allow and relation != Relation.NONE:
        raise BadInput("Only the speaker can let their heirs allow more.", "Leave that out of what somebody else signed.")
    if supersedes_id is not None:
        _may_follow(connection, supersedes_id, person_id, relation, spoken_for_by_id, signed_on)
    values: dict[str, Any] = {
        "code": code, "person_id": person_id, "interview_id": interview_id, **_target(stretch),
        "kind": kind.value, "form": form.value,
        "signed_on": signed_on, "taken_by": taken_by, "language": language, "number": number, "paper_sha256": paper_sha256,
        "copyright": copyright_in.value, "basis": basis, "spoken_for_by_id": spoken_for_by_id, "relation": relation.value,
        "minor": minor,
        "assent": assent, "supersedes_id": supersedes_id, "heirs_may_allow": heirs_may_allow, "note": note, "by": by, "at": at,
    }  # fmt: skip
    return _add(connection, agreement, values)


def _may_follow(
    connection: Connection, former_id: int, person_id: int, relation: Relation, signer_id: int | None, signed_on: date
) -> None:
    """Raises BadInput where a paper cannot take the place of that one: the decision would not let it, so nobody should think it did."""
    former = connection.execute(select(agreement).where(agreement.c.id == former_id)).one_or_none()
    if former is None or former.person_id != person_id:
        raise BadInput("A new version takes the place of an agreement of the same person only.")
    if signed_on < former.signed_on:
        raise BadInput(f"It is dated before {former.code}, whose place it is to take.", "Look at both papers: the later one counts.")
    if relation == Relation.NONE:
        return
    if former.relation == Relation.NONE:
        raise BadInput(
            f"{former.code} is the speaker's own answer, and what somebody else signs does not take its place.",
            "Leave out whose place it takes: both stay on record, and a no or an “ask me” in either counts.",
        )
    of_a_guardian = former.relation in (Relation.GUARDIAN.value, Relation.DEPUTY.value)
    if (former.relation, former.spoken_for_by_id) != (relation.value, signer_id) and not (relation == Relation.DEPUTY and of_a_guardian):
        raise BadInput(
            f"{former.code} was signed by somebody else for them, and only that person changes it.",
            "Leave out whose place it takes: both stay on record, and a no or an “ask me” in either counts.",
        )


def add_permission(
    connection: Connection,
    *,
    agreement_id: int,
    use: str,
    way: Way,
    answer: Answer,
    by: str,
    at: str,
    exhibition: str | None = None,
    from_on: date | None = None,
    until_on: date | None = None,
    conditions: str = "",
) -> int:
    """Put one answer on record; returns its id. `until_on` is the first day on which it no longer holds."""
    _in_order(from_on, until_on)
    values: dict[str, Any] = {
        "agreement_id": agreement_id, "use": use, "way": way.value, "answer": answer.value,
        "exhibition": exhibition or None, "from_on": from_on, "until_on": until_on, "conditions": conditions, "by": by, "at": at,
    }  # fmt: skip
    return _add(connection, permission, values)


def add_restraint(
    connection: Connection,
    *,
    kind: RestraintKind,
    from_on: date,
    by: str,
    at: str,
    person_id: int | None = None,
    interview_id: int | None = None,
    stretch: Stretch | None = None,
    use: str | None = None,
    way: Way | None = None,
    raised_by_id: int | None = None,
    until_on: date | None = None,
    needs_review: bool | None = None,
    event: str = "",
    how: str = "",
    rule: str = "",
) -> int:
    """Hold speech back; returns its id. `needs_review` None: the end of a seal or an embargo means review (CHECKS §8).

    `rule`: what made the machine close it; "" where a person does.
    """
    if person_id is None and interview_id is None and stretch is None:
        raise BadInput("A hold must say whom or what it is for.", "Name a person, an interview or a stretch.")
    _in_order(from_on, until_on)
    if needs_review is None:
        needs_review = kind in (RestraintKind.SEALED, RestraintKind.EMBARGO)
    values: dict[str, Any] = {
        "kind": kind.value, "person_id": person_id, "interview_id": interview_id, **_target(stretch), "use": use,
        "way": way.value if way is not None else None, "raised_by_id": raised_by_id, "from_on": from_on, "until_on": until_on, "needs_review": needs_review,
        "event": event, "how": how, "rule": rule,
        "by": by, "at": at,
    }  # fmt: skip
    if use in (None, "machine"):  # what our own computer heard of these voices goes with the permission to listen
        there = (stretch.recording_id, stretch.start_ms, stretch.end_ms) if stretch is not None else None
        likeness.forget_held(connection, person_id, interview_id, there)
    if use in (None, "machine", TEAM):
        vectors.forget_held(connection, person_id, interview_id, stretch)
    return _add(connection, restraint, values)


def add_release(
    connection: Connection, *, restraint_id: int, kind: ReleaseKind, from_on: date, reason: str, by: str, at: str
) -> int:
    """Take a restraint back, or say that it was reviewed at its end; a reason is required. Returns the id."""
    if not reason.strip():
        raise BadInput("Ending a hold needs a reason.", "Say in a sentence why it ends.")
    values: dict[str, Any] = {
        "restraint_id": restraint_id, "kind": kind.value, "from_on": from_on, "reason": reason, "by": by, "at": at,
    }  # fmt: skip
    return _add(connection, release, values)


def add_approval(
    connection: Connection,
    *,
    person_id: int,
    wording_sha256: str,
    use: str,
    way: Way,
    answer: Answer,
    from_on: date,
    by: str,
    at: str,
    given_by_id: int | None = None,
    language: str = "",
) -> int:
    """Put a speaker's word on one exact wording on record; the latest counts. `given_by_id`: who answered for them; `language`: in which
    it was put to them. Returns its id."""
    if answer == Answer.ASK:
        raise BadInput("A speaker's word on a quote is yes or no.")
    values: dict[str, Any] = {
        "person_id": person_id, "wording_sha256": wording_sha256, "use": use, "way": way.value, "answer": answer.value,
        "from_on": from_on, "given_by_id": given_by_id, "language": language, "by": by, "at": at,
    }  # fmt: skip
    return _add(connection, approval, values)


def add_wish(
    connection: Connection,
    *,
    person_id: int,
    attribution: Attribution,
    voice: VoiceWish,
    review: Review,
    from_on: date,
    by: str,
    at: str,
) -> int:
    """Put on record how somebody wishes to be called and heard from a day on; returns its id."""
    values: dict[str, Any] = {
        "person_id": person_id, "attribution": attribution.value, "voice": voice.value, "review": review.value,
        "from_on": from_on, "by": by, "at": at,
    }  # fmt: skip
    return _add(connection, wish, values)


def _add(connection: Connection, table: Table, values: Mapping[str, Any]) -> int:
    done = connection.execute(insert(table).values(**values))
    bump_consent(connection)
    assert done.inserted_primary_key is not None
    return int(done.inserted_primary_key[0])


def _target(stretch: Stretch | None) -> dict[str, int | None]:
    if stretch is None:
        return {"recording_id": None, "start_ms": None, "end_ms": None}
    return {"recording_id": stretch.recording_id, "start_ms": stretch.start_ms, "end_ms": stretch.end_ms}


def _in_order(from_on: date | None, until_on: date | None) -> None:
    if from_on is not None and until_on is not None and until_on <= from_on:
        raise BadInput("It would end before it begins.", "Give a last day on or after the first one.")
