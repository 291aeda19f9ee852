"""The records of consent as plain values: agreements, permissions, restraints, wishes, approvals (DESIGN §5). Pure.

Days are calendar days of the archive. `until_on` is the first day on which something no longer holds.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from archive.domain.values import Answer, Attribution, RestraintKind, Review, Stretch, Use, Viewer, VoiceWish, Way

MACHINE = "machine"
TEAM = "team"
# Project choice: what somebody wishes about being heard speaks of ears outside the team. Our own computer and the team's
# own listening are ruled by the permission in the way "voice", or nobody could tick a quote as heard against the sound.
VOICE_WISH_SPARES = frozenset({MACHINE, TEAM})
# Project choice: a seal and an embargo close speech to people. Our own computer may listen, and what it hears is closed
# as well. Withdrawal, pause and objection stop the machine too, and so does a seal that names the use "machine" itself.
SPARES_MACHINE = frozenset({RestraintKind.SEALED, RestraintKind.EMBARGO})


class AgreementKind(StrEnum):
    """The form before the interview, and the one after it (Oral History Society advice, CHECKS §8)."""

    PARTICIPATION = "participation"
    RECORDING = "recording"


class AgreementForm(StrEnum):
    """On paper, or spoken in the recording."""

    SIGNED = "signed"
    SPOKEN = "spoken"


class Copyright(StrEnum):
    """What became of the copyright in the words. Assigned needs a signed paper."""

    KEPT = "kept"
    ASSIGNED = "assigned"
    LICENSED = "licensed"


class Relation(StrEnum):
    """In which capacity somebody signed for another."""

    NONE = ""
    GUARDIAN = "guardian"
    HEIR = "heir"
    DEPUTY = "deputy"


class ReleaseKind(StrEnum):
    """What became of a restraint: taken back, looked at after its end and open, or looked at and closed as before."""

    LIFTED = "lifted"
    REVIEWED = "reviewed"
    KEPT = "kept"


class ObjectionDecision(StrEnum):
    """What was decided about an objection: what it held stays held, or is open again."""

    HELD = "held"
    ENDED = "ended"


@dataclass(frozen=True, slots=True)
class Policy:
    """What the archive decided once, at `init`, on record."""

    participation_covers_machine: bool = False


@dataclass(frozen=True, slots=True)
class Asked:
    """One question to consent: this stretch of this interview, for this use, in this way, on this day.

    `exhibition` "" means none in particular; `wording_sha256` None means that no exact wording is meant (finding).
    """

    stretch: Stretch
    interview_id: int | None
    use: Use
    way: Way
    on: date
    exhibition: str = ""
    wording_sha256: str | None = None
    viewer: Viewer | None = None


@dataclass(frozen=True, slots=True)
class Permission:
    """One answer to one use in one way. `exhibition` None: any. `until_on` exclusive."""

    id: int
    use: str
    way: Way
    answer: Answer
    exhibition: str | None = None
    from_on: date | None = None
    until_on: date | None = None
    conditions: str = ""

    def meant_for(self, exhibition: str) -> bool:
        """True where the answer was given for any exhibition or for exactly this one."""
        return self.exhibition is None or self.exhibition == exhibition

    def begun(self, day: date) -> bool:
        """True from its first day on."""
        return self.from_on is None or self.from_on <= day

    def over(self, day: date) -> bool:
        """True from the first day on which it no longer holds."""
        return self.until_on is not None and self.until_on <= day

    def in_force(self, exhibition: str, day: date) -> bool:
        """True where it answers for this exhibition on this day."""
        return self.meant_for(exhibition) and self.begun(day) and not self.over(day)


@dataclass(frozen=True, slots=True)
class Agreement:
    """One signed or spoken agreement. `interview_id` None: a standing one; `stretch`: it covers only that much."""

    id: int
    code: str
    number: int
    person_id: int
    kind: AgreementKind
    signed_on: date
    interview_id: int | None = None
    stretch: Stretch | None = None
    spoken_for_by_id: int | None = None
    relation: Relation = Relation.NONE
    minor: bool = False
    assent: bool = False
    supersedes_id: int | None = None
    permissions: tuple[Permission, ...] = ()

    def covers(self, interview_id: int | None, stretch: Stretch) -> bool:
        """True where the agreement speaks of this interview and of the whole stretch."""
        if self.interview_id is not None and self.interview_id != interview_id:
            return False
        return self.stretch is None or self.stretch.covers(stretch)

    def touches(self, interview_id: int | None, stretch: Stretch) -> bool:
        """True where it speaks of this interview and of any of the stretch: a no to a part is a no to all that holds it."""
        if self.interview_id is not None and self.interview_id != interview_id:
            return False
        return self.stretch is None or self.stretch.overlaps(stretch)

    @property
    def cite(self) -> str:
        """How the agreement is named in an explanation."""
        return f"{self.code} (version {self.number})"


@dataclass(frozen=True, slots=True)
class Release:
    """What became of a restraint, from a day on."""

    kind: ReleaseKind
    from_on: date


@dataclass(frozen=True, slots=True)
class Restraint:
    """Withdrawn, paused, objected, sealed or under embargo. Every filled target narrows it; None means any."""

    id: int
    kind: RestraintKind
    from_on: date
    until_on: date | None = None
    needs_review: bool = False
    person_id: int | None = None
    interview_id: int | None = None
    recording_id: int | None = None
    start_ms: int | None = None
    end_ms: int | None = None
    use: str | None = None
    releases: tuple[Release, ...] = ()
    raised_by_id: int | None = None  # who, being spoken about, objected; it decides nothing
    way: Way | None = None
    event: str = ""  # what ends it, in words; it decides nothing

    def targets(self, person_id: int, asked: Asked) -> bool:
        """True where it is meant for this speaker, interview, stretch, use and way, whatever the day."""
        return (
            (self.person_id is None or self.person_id == person_id)
            and (self.interview_id is None or self.interview_id == asked.interview_id)
            and (self.use is None or self.use == asked.use.code)
            and self._reaches(asked)
            and self._touches(asked.stretch)
            and (asked.use.code != MACHINE or self.kind not in SPARES_MACHINE or self.use == MACHINE)
        )

    def _reaches(self, asked: Asked) -> bool:
        """Our own computer makes words of a voice: what ends either ends its listening."""
        return self.way in (None, asked.way) or (asked.use.code == MACHINE and self.way != Way.PICTURE)

    def _touches(self, stretch: Stretch) -> bool:
        if self.recording_id is None:
            return True
        return (
            self.recording_id == stretch.recording_id
            and (self.start_ms is None or self.start_ms < stretch.end_ms)
            and (self.end_ms is None or stretch.start_ms < self.end_ms)
        )

    def holds_on(self, day: date) -> bool:
        """True while it holds. The end of one that needs review opens nothing before the review (CHECKS §8)."""
        if day < self.from_on or self._released(ReleaseKind.LIFTED, day):
            return False
        if self.until_on is None or day < self.until_on:
            return True
        return self.needs_review and not self._released(ReleaseKind.REVIEWED, day)

    def _released(self, kind: ReleaseKind, day: date) -> bool:
        return any(r.kind == kind and r.from_on <= day for r in self.releases)


@dataclass(frozen=True, slots=True)
class Wish:
    """How somebody wishes to be called and heard, and whether quotes go to them first, from a day on."""

    id: int
    attribution: Attribution
    voice: VoiceWish
    review: Review
    from_on: date
    at: str = ""  # when it was put on record (ISO 8601), to tell what was decided before it


# No record means no: without a wish the most careful one holds.
CAREFUL = Wish(0, Attribution.UNNAMED, VoiceWish.NOT_HEARD, Review.WANTED, date.min)


@dataclass(frozen=True, slots=True)
class Approval:
    """A speaker's word on one exact wording (and its sound) for one use in one way, from a day on."""

    id: int
    wording_sha256: str
    use: str
    way: Way
    answer: Answer
    from_on: date


@dataclass(frozen=True, slots=True)
class Standing:
    """All that is on record about one person's consent.

    `restraints` holds those that name the person and those that name nobody. `guardians`: for each person who signed
    for this one, the first day on which they had an agreement of their own; absent: they have none.
    """

    person_id: int
    code: str
    adult_from: date | None = None
    adult_by: date | None = None
    wishes: tuple[Wish, ...] = ()
    agreements: tuple[Agreement, ...] = ()
    restraints: tuple[Restraint, ...] = ()
    approvals: tuple[Approval, ...] = ()
    guardians: Mapping[int, date] = field(default_factory=dict)

    def wish_on(self, day: date) -> Wish:
        """The latest wish of that day, or the most careful one where none is on record."""
        made = [w for w in self.wishes if w.from_on <= day]
        return max(made, key=lambda w: (w.from_on, w.id)) if made else CAREFUL

    def approved(self, wording_sha256: str | None, use: str, way: Way, day: date) -> bool:
        """True where the latest word on exactly this wording, use and way is yes. Without a wording: never."""
        said = [
            a
            for a in self.approvals
            if a.wording_sha256 == wording_sha256 and a.use == use and a.way == way and a.from_on <= day
        ]
        return bool(said) and max(said, key=lambda a: (a.from_on, a.id)).answer == Answer.YES

    def superseded(self, agreement: Agreement, day: date) -> bool:
        """True where a later version took its place. An heir's paper never takes the place of the speaker's own."""
        return any(
            a.supersedes_id == agreement.id
            and a.signed_on <= day
            and (a.relation != Relation.HEIR or agreement.relation == Relation.HEIR)
            for a in self.agreements
        )

    def signed_as_minor(self, agreement: Agreement) -> bool:
        """True where the person was, or may have been, under 18 when it was signed. No birth date at all: an adult."""
        if agreement.minor:
            return True
        if self.adult_by is None:
            return self.adult_from is not None
        return agreement.signed_on < self.adult_by

    def ask_again(self, agreement: Agreement, day: date) -> bool:
        """True where a minor's yes counts as "ask": from the earliest possible 18th birthday on, or it is not known."""
        return self.signed_as_minor(agreement) and (self.adult_from is None or self.adult_from <= day)

    def vouched(self, agreement: Agreement, day: date) -> bool:
        """True where whoever signed for the person is somebody else and has an agreement of their own by that day."""
        signer = agreement.spoken_for_by_id
        if signer is None or signer == self.person_id:
            return False
        first = self.guardians.get(signer)
        return first is not None and first <= day

    def counts(self, agreement: Agreement, day: date) -> bool:
        """True where its yes may count: signed by the speaker as an adult, or validly for them (DESIGN §5)."""
        if self.signed_as_minor(agreement):
            return agreement.relation == Relation.GUARDIAN and agreement.assent and self.vouched(agreement, day)
        return agreement.spoken_for_by_id is None or self.vouched(agreement, day)
