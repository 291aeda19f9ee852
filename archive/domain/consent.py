"""The decision of DESIGN §5: may this stretch be used so, in this way, on this day? Every reason, not only the first.

Pure. db/permitted.py is the same rule as SQL; a property test demands that both agree. Choices of this project where
DESIGN leaves one: agreements.py (`SPARES_MACHINE`, `VOICE_WISH_SPARES`), and `_waives` below.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence, Set
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from archive.domain import reasons as say
from archive.domain.agreements import (
    MACHINE,
    TEAM,
    VOICE_WISH_SPARES,
    Agreement,
    AgreementKind,
    Asked,
    Permission,
    Policy,
    Relation,
    Standing,
)
from archive.domain.reach import Reach
from archive.domain.reasons import HOLDS, NOT_AVAILABLE, PRIVATE, Reason, Why, in_order
from archive.domain.values import USES, Answer, Attribution, Review, Role, Stretch, VoiceWish, Way

Row = tuple[Agreement, Permission]
_MACHINE_USE = next(use for use in USES if use.code == MACHINE)


@dataclass(frozen=True, slots=True)
class PersonDuty:
    """How one person is to be called, and heard: `voice` DISGUISED means that no other sound of them may leave."""

    person_id: int
    code: str
    attribution: Attribution
    voice: VoiceWish


@dataclass(frozen=True, slots=True)
class Condition:
    """A condition written beside a permission, for the team to keep."""

    person_code: str
    words: str
    cites: str


@dataclass(frozen=True, slots=True)
class Duties:
    """What must be done if it is used. `agreements`: what the yes rests on, one line each, for the team only."""

    people: tuple[PersonDuty, ...] = ()
    conditions: tuple[Condition, ...] = ()
    agreements: tuple[str, ...] = ()

    @property
    def disguise(self) -> bool:
        """True where a voice may be heard only disguised."""
        return any(p.voice == VoiceWish.DISGUISED for p in self.people)


@dataclass(frozen=True, slots=True)
class Decision:
    """The answer, every reason in the order of DESIGN §5, the duties, and the next day on which it could change.

    `waived`: reasons that a keeper, on record, set aside for one look. `recheck_on` None: the calendar changes nothing.
    """

    allowed: bool
    reasons: tuple[Reason, ...]
    duties: Duties = field(default_factory=Duties)
    waived: tuple[Reason, ...] = ()
    recheck_on: date | None = None


def decide(asked: Asked, people: Iterable[Standing], policy: Policy) -> Decision:
    """Decide for everybody heard in the stretch; the most restrictive wins; nobody heard is a no.

    `people`: each person heard, an unassigned utterance already expanded to all who took part.
    """
    heard = tuple(people)
    decision = judge(asked, heard, policy)
    return replace(decision, recheck_on=_recheck_on(asked, heard, policy, decision))


def judge(asked: Asked, people: Sequence[Standing], policy: Policy) -> Decision:
    """`decide` without the re-check day (which costs as many judgements as the records hold days)."""
    if not people:
        return Decision(False, (say.nobody_heard(),))
    found = _of_the_stretch(asked, policy)
    duties: list[PersonDuty] = []
    conditions: list[Condition] = []
    lines: list[str] = []
    for person in people:
        answers, relied = _answers(asked, person, policy)
        own = [*_holds(asked, person), *_wishes(asked, person, policy), *answers]
        own += _declined(asked, person, own)
        found += [replace(r, died=r.person_code == person.code) for r in own] if person.dead(asked.on) else own
        duties.append(_duty(asked, person))
        conditions += [Condition(person.code, p.conditions, a.cite) for a, p in relied if p.conditions]
        lines += [", ".join(filter(None, (f"{person.code}: {a.cite}", say.day_words(a.signed_on), a.whose))) for a, _ in relied]
    reasons = in_order(found)
    kept = Duties(tuple(dict.fromkeys(duties)), tuple(dict.fromkeys(conditions)), tuple(dict.fromkeys(lines)))
    if _waives(asked):
        return Decision(True, (), kept, waived=reasons)
    return Decision(not reasons, reasons, kept)


def not_refused(person: Standing) -> frozenset[tuple[str, Way]]:
    """Use and way of every answer on record but no. Whatever is not among them is refused, on whatever day and for whatever stretch
    (no record means no): nothing needs to be judged for that. Not so for a keeper's deliberate look."""
    return frozenset((p.use, p.way) for a in person.agreements for p in a.permissions if p.answer != Answer.NO)


def merge(decisions: Sequence[Decision]) -> Decision:
    """One decision for several stretches used together (the pieces of an excerpt): all must be allowed."""
    if not decisions:
        return Decision(False, (say.nobody_heard(),))
    days = [d.recheck_on for d in decisions if d.recheck_on is not None]
    duties = Duties(
        tuple(dict.fromkeys(p for d in decisions for p in d.duties.people)),
        tuple(dict.fromkeys(c for d in decisions for c in d.duties.conditions)),
        tuple(dict.fromkeys(line for d in decisions for line in d.duties.agreements)),
    )
    return Decision(
        all(d.allowed for d in decisions),
        in_order([r for d in decisions for r in d.reasons]),
        duties,
        in_order([r for d in decisions for r in d.waived]),
        min(days, default=None),
    )


def within(decision: Decision, reach: Reach, recording_id: int, people_heard: Set[int]) -> Decision:
    """The same for whoever reaches no further: not allowed beyond that, and nothing else is told. No deliberate look goes round it."""
    return decision if reach.opens(recording_id, people_heard) else Decision(False, (say.not_for_this_account(),))


def with_more(decision: Decision, reasons: Sequence[Reason]) -> Decision:
    """The same with further reasons for a no."""
    return replace(decision, allowed=False, reasons=in_order([*decision.reasons, *reasons])) if reasons else decision


def approved_in(asked: Asked, person: Standing, policy: Policy, not_in: str) -> bool:
    """True where exactly this wording has the yes it takes, put in a language other than `not_in` (a tag; "" is none that is known)."""
    said = [a for a in person.approvals if a.wording_sha256 == asked.wording_sha256 and a.language and a.language.split("-")[0] != not_in.split("-")[0]]
    return replace(person, approvals=tuple(a for a in person.approvals if a in said or a.answer != Answer.YES)).approved(
        asked, _heirs_may(asked, person, policy)
    )


def machine_allowed(
    stretch: Stretch,
    interview_id: int | None,
    people: Iterable[Standing],
    on: date,
    policy: Policy,
    way: Way = Way.WORDS,
) -> Decision:
    """May our own computer listen to this stretch today? Asked before every job and every chunk; it makes words. The pause before use
    and other people's works stop nothing of it."""
    return judge(Asked(stretch, interview_id, _MACHINE_USE, way, on), tuple(people), policy)


def explain(decision: Decision, role: Role = Role.KEEPER) -> list[str]:
    """The decision in sentences, with the reasons that this role is told (`told`)."""
    if decision.allowed:
        lines = [
            "Allowed."
            if not decision.waived
            else "Opened by a keeper, on record, for this one look; otherwise it is closed."
        ]
        lines += told(decision.waived, role)
        lines += _duty_lines(decision.duties)
    else:
        lines = ["Not allowed.", *told(decision.reasons, role)]
    if decision.recheck_on is not None:
        lines.append(f"This answer could change on {say.day_words(decision.recheck_on)}; ask again then.")
    return lines


def told(reasons: Sequence[Reason], role: Role) -> tuple[str, ...]:
    """Reasons in sentences. Keepers get every one. To everybody else a withdrawal, a pause and an objection are only “not available”: nobody
    is to be asked about it. Editors, who answer for what leaves, get all others; readers no hold."""
    hidden = {Role.KEEPER: frozenset[Why](), Role.EDITOR: PRIVATE}.get(role, HOLDS)
    closed = (NOT_AVAILABLE,) if any(r.code in hidden for r in reasons) else ()
    return tuple(dict.fromkeys((*closed, *(r.words for r in reasons if r.code not in hidden))))


_CALLED = {
    Attribution.FULL: "with the full name",
    Attribution.FIRST: "with the first name only",
    Attribution.INITIALS: "with initials only",
    Attribution.PSEUDONYM: "with the pseudonym only",
    Attribution.UNNAMED: "without any name",
}


def _duty_lines(duties: Duties) -> list[str]:
    lines = []
    for person in duties.people:
        voice = "; the voice only disguised" if person.voice == VoiceWish.DISGUISED else ""
        lines.append(f"{person.code} is called {_CALLED[person.attribution]}{voice}.")
    if duties.disguise:
        lines.append(say.DISGUISE_CAUTION)
    lines += [f"Condition of {c.person_code}: {c.words} ({c.cites})" for c in duties.conditions]
    return lines + [f"Rests on {line}." for line in duties.agreements]


def _waives(asked: Asked) -> bool:
    """A keeper's deliberate look, on record: for the use "team" alone, and it waives every hold and missing permission.

    Project choice: pause, objection and embargo too, since a keeper must hear what they are to decide about.
    """
    viewer = asked.viewer
    return viewer is not None and viewer.opened and viewer.role == Role.KEEPER and asked.use.code == TEAM


def _of_the_stretch(asked: Asked, policy: Policy) -> list[Reason]:
    """What holds it back whoever speaks: the pause after the interview, and works of others that nobody has cleared."""
    ends_on = _pause_ends(asked, policy)
    found = [say.too_soon(asked.interviewed_on or asked.on, ends_on)] if ends_on is not None and asked.on < ends_on else []
    return found + [say.not_cleared(asked, w) for w in asked.works if w.binds(asked) and not w.open_to(asked)]


def _pause_ends(asked: Asked, policy: Policy) -> date | None:
    """The first day after the pause before use; None where there is none. Our own computer may listen meanwhile."""
    if asked.interviewed_on is None or not policy.cooling_off_days or asked.use.code == MACHINE:
        return None
    return asked.interviewed_on + timedelta(days=policy.cooling_off_days)


def _holds(asked: Asked, person: Standing) -> list[Reason]:
    aimed = [r for r in person.restraints if r.targets(person.person_id, asked)]
    return [say.held(r, person, asked) for r in aimed if r.holds_on(asked.on)]


def _wishes(asked: Asked, person: Standing, policy: Policy) -> list[Reason]:
    wish = person.wish_on(asked.on)
    found = []
    if not asked.use.inward and wish.review == Review.WANTED and not person.approved(asked, _heirs_may(asked, person, policy)):
        found.append(say.must_review(person, asked))
    if _voice_wish_binds(asked) and wish.voice == VoiceWish.NOT_HEARD:
        found.append(say.voice_not_heard(person))
    return found


def _declined(asked: Asked, person: Standing, found: Sequence[Reason]) -> list[Reason]:
    """Whoever was shown exactly this and did not say yes holds it back, also where their papers allow it; told once."""
    word = person.declined(asked) if not asked.use.inward else None
    told = any(r.code in (Why.REVIEW, Why.ASK) and r.person_code == person.code for r in found)
    return [say.declined(person, word)] if word is not None and not told else []


def _voice_wish_binds(asked: Asked) -> bool:
    return asked.way == Way.VOICE and asked.use.code not in VOICE_WISH_SPARES


def _duty(asked: Asked, person: Standing) -> PersonDuty:
    wish = person.wish_on(asked.on)
    voice = wish.voice if _voice_wish_binds(asked) else VoiceWish.AS_RECORDED
    return PersonDuty(person.person_id, person.code, wish.attribution, voice)


def _applying(asked: Asked, person: Standing, policy: Policy) -> list[Agreement]:
    """Agreements that speak of any of this stretch today; the participation form only of the machine, where decided so."""
    participation = asked.use.code == MACHINE and policy.participation_covers_machine
    return [
        a
        for a in person.agreements
        if a.signed_on <= asked.on
        and (a.kind == AgreementKind.RECORDING or participation)
        and a.touches(asked.interview_id, asked.stretch)
        and not person.superseded(a, asked.on)
    ]


def _answers(asked: Asked, person: Standing, policy: Policy) -> tuple[list[Reason], list[Row]]:
    """The reasons that agreements and permissions give, and the rows that a yes rests on."""
    day = asked.on
    speaking = _applying(asked, person, policy)
    applying = [a for a in speaking if a.covers(asked.interview_id, asked.stretch)]
    counting = {a.id for a in speaking if person.counts(a, day)}
    for_use = [(a, p) for a in speaking for p in a.permissions if p.use == asked.use.code]
    current = [(a, p) for a, p in for_use if p.way == asked.way and p.in_force(asked.exhibition, day)]
    # A no and an ask count whoever signed and however: a minor's no beats a guardian's yes, an heir narrows. They count where they
    # touch, a yes only where its agreement covers the whole stretch.
    noes = [(a, p) for a, p in current if p.answer == Answer.NO]
    voiced = [(a, p) for a, p in current if p.answer != Answer.NO and a.id in counting]
    asks = [(a, p) for a, p in current if p.answer == Answer.ASK or (p.answer == Answer.YES and a.id in counting and person.ask_again(a, day))]
    whole = {a.id for a in applying}
    relied = [(a, p) for a, p in voiced if a.relation != Relation.HEIR and a.id in whole]
    heirs_may = _heirs_may(asked, person, policy)
    if not relied and heirs_may and person.dead(day):
        relied = _from_all_heirs(person, day, [(a, p) for a, p in voiced if a.id in whole])
    found = [say.answered_no(person, asked, a, p) for a, p in noes]
    for a, p in asks:
        heir = a.spoken_for_by_id if a.relation == Relation.HEIR else None
        if not person.approved(asked, heirs_may, heir):
            found.append(say.must_ask(person, asked, a, p.answer != Answer.ASK))
    if not applying:
        found.append(say.no_agreement(person, asked))
    elif not relied:
        found += _nothing_counts(asked, person, applying, [(a, p) for a, p in for_use if a.id in whole], heirs_may)
    return found, relied


def _heirs_may(asked: Asked, person: Standing, policy: Policy) -> bool:
    """True where the speaker said, in a paper of their own that counts here, that their heirs may allow what they did not answer."""
    own = (a for a in _applying(asked, person, policy) if a.heirs_may_allow and a.relation == Relation.NONE)
    return any(a.covers(asked.interview_id, asked.stretch) and person.counts(a, asked.on) for a in own)


def _from_all_heirs(person: Standing, day: date, voiced: list[Row]) -> list[Row]:
    """The heirs' answers, where every heir on record gave one; else none."""
    rows = [(a, p) for a, p in voiced if a.relation == Relation.HEIR]
    heirs = person.heirs(day)
    return rows if heirs and heirs <= {a.spoken_for_by_id for a, _ in rows} else []


def _nothing_counts(
    asked: Asked, person: Standing, applying: list[Agreement], for_use: list[Row], heirs_may: bool
) -> list[Reason]:
    """Why no answer allows it: papers that do not count, an heir alone, or no such answer (any more, or yet)."""
    day = asked.on
    open_rows = [
        (a, p) for a, p in for_use
        if p.way == asked.way and p.in_force(asked.exhibition, day) and p.answer != Answer.NO
    ]  # fmt: skip
    flawed = {a.id for a in applying if not person.counts(a, day)}
    answering = {a.id for a, _ in open_rows}
    spoiled = [a for a in applying if a.id in flawed and (len(flawed) == len(applying) or a.id in answering)]
    found = [
        say.minor_without_guardian(person, a) if person.signed_as_minor(a) else say.signer_does_not_count(person, a, day)
        for a in spoiled
    ]
    heirs = [a for a, _ in open_rows if a.relation == Relation.HEIR and a.id not in flawed]
    found += [say.heirs_missing(person, asked, a) if heirs_may else say.heir_widens(person, asked, a) for a in heirs]
    if not found and not any(
        p.answer == Answer.NO and p.way == asked.way and p.in_force(asked.exhibition, day) for _, p in for_use
    ):
        rows = [(a, p) for a, p in for_use if p.answer != Answer.NO and a.id not in flawed]
        found.append(say.not_permitted(person, asked, rows))
    return found


def _recheck_on(asked: Asked, people: Sequence[Standing], policy: Policy, now: Decision) -> date | None:
    """The next day after `asked.on` on which answer, reasons or duties differ, as far as the records can tell."""
    known = {d for person in people for d in _days(asked, person)} | set(_days_of_the_stretch(asked, policy))
    for day in sorted(d for d in known if d > asked.on):
        then = judge(replace(asked, on=day), people, policy)
        if _essence(then) != _essence(now):
            return day
    return None


def _essence(decision: Decision) -> tuple[object, ...]:
    told = tuple((r.code, r.person_code, r.cites) for r in (*decision.reasons, *decision.waived))
    return decision.allowed, told, decision.duties


def _days_of_the_stretch(asked: Asked, policy: Policy) -> Iterable[date]:
    """The end of the pause before use, and every day on which a word on a work begins or ends."""
    if (ends_on := _pause_ends(asked, policy)) is not None:
        yield ends_on
    for clearance in (c for w in asked.works if w.binds(asked) for c in w.clearances):
        yield clearance.from_on
        if clearance.until_on is not None:
            yield clearance.until_on


def _days(asked: Asked, person: Standing) -> Iterable[date]:
    """Every day on record at which something about this person could begin or end for what is asked."""
    for restraint in person.restraints:
        if restraint.targets(person.person_id, asked):
            yield restraint.from_on
            yield from (r.from_on for r in restraint.releases)
            if restraint.until_on is not None:
                yield restraint.until_on
    for agreement in person.agreements:
        yield agreement.signed_on
        for row in agreement.permissions:
            if row.use == asked.use.code:
                yield from (d for d in (row.from_on, row.until_on) if d is not None)
    yield from (w.from_on for w in person.wishes)
    yield from (a.from_on for a in person.approvals if a.wording_sha256 == asked.wording_sha256)
    yield from person.guardians.values()
    yield from (d for row in person.speakers for d in (row.from_on, row.until_on) if d is not None)
    yield from (d for d in (person.adult_from, person.adult_by, person.dead_by) if d is not None)
