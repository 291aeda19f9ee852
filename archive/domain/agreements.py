"""The records of consent as plain values: agreements, permissions, restraints, wishes, approvals (DESIGN §5). Pure.

Days are calendar days of the archive. `until_on` is the first day on which something no longer holds.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from enum import StrEnum

from archive.domain.values import Answer, Attribution, RestraintKind, Review, Stretch, Use, Viewer, VoiceWish, Way

MACHINE = "machine"
TEAM = "team"
# Project choice: what somebody wishes about being heard speaks of ears outside the team. Our own computer and the team's
# own listening are ruled by the permission in the way "voice", or nobody could tick a quote as heard against the sound.
VOICE_WISH_SPARES = frozenset({MACHINE, TEAM})
# Project choice: somebody else's song may be heard and read by the team that is to recognise it; every other use of it needs a word.
WORKS_SPARE = frozenset({MACHINE, TEAM})
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
    """What the archive decided once, at `init`, on record; and its pause before use, in days after an interview."""

    participation_covers_machine: bool = False
    cooling_off_days: int = 0


@dataclass(frozen=True, slots=True)
class Asked:
    """One question to consent: this stretch of this interview, for this use, in this way, on this day.

    `exhibition` "" means none in particular; `wording_sha256` None means that no exact wording is meant (finding).
    `interviewed_on`: the last day of the interview, None where the question is not about one; `works`: other people's works in it.
    """

    stretch: Stretch
    interview_id: int | None
    use: Use
    way: Way
    on: date
    exhibition: str = ""
    wording_sha256: str | None = None
    viewer: Viewer | None = None
    interviewed_on: date | None = None
    works: tuple[Work, ...] = ()


@dataclass(frozen=True, slots=True)
class Clearance:
    """What whoever owns a work, or the law, says to a use of it. `use`, `way` and `exhibition` None: any. `until_on` exclusive."""

    id: int
    answer: Answer
    from_on: date
    until_on: date | None = None
    use: str | None = None
    way: Way | None = None
    exhibition: str | None = None

    def speaks_of(self, asked: Asked) -> bool:
        """True where it is in force and meant for this use, way and exhibition."""
        return (
            self.use in (None, asked.use.code)
            and self.way in (None, asked.way)
            and self.exhibition in (None, asked.exhibition)
            and self.from_on <= asked.on
            and (self.until_on is None or asked.on < self.until_on)
        )


@dataclass(frozen=True, slots=True)
class Work:
    """Somebody else's work inside speech: a song, hymn, poem, a letter read aloud, a radio playing."""

    id: int
    kind: str
    stretch: Stretch
    clearances: tuple[Clearance, ...] = ()

    def open_to(self, asked: Asked) -> bool:
        """True where the newest word in force on this use is yes. Without one: no."""
        said = [c for c in self.clearances if c.speaks_of(asked)]
        return bool(said) and max(said, key=lambda c: c.id).answer == Answer.YES

    def binds(self, asked: Asked) -> bool:
        """True where it lies in what is asked and has to be cleared for such a use."""
        return asked.use.code not in WORKS_SPARE and self.stretch.overlaps(asked.stretch)


@dataclass(frozen=True, slots=True)
class SpeaksFor:
    """Somebody who speaks for another, as what, from a day on. `papers`: what somebody saw that shows it; "": nothing was seen.

    `until_on`: the first day on which they no longer do. The newest row of the same two people and relation counts.
    """

    id: int
    other_id: int
    code: str
    relation: Relation
    from_on: date
    until_on: date | None = None
    papers: str = ""

    def on(self, day: date) -> bool:
        """True where they do on this day, whatever was seen."""
        return self.from_on <= day and (self.until_on is None or day < self.until_on)


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
    signed_by: str = ""  # the code of who signed for the person
    heirs_may_allow: bool = False  # the speaker said so: all heirs together may allow what the speaker did not answer

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

    @property
    def whose(self) -> str:
        """Whose answer it is, where that is not the speaker's own: "signed by their heir P-21"."""
        return f"signed by their {self.relation.value} {self.signed_by}".rstrip() if self.relation != Relation.NONE else ""


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
    """A speaker's word on one exact wording (and its sound) for one use in one way, from a day on. `given_by_id`: who gave it
    for them; None: they themselves. `sheet`, `answer_by`: the sheet that put the question and is not answered yet, and the day until which it
    may be; until then and after it counts as no."""

    id: int
    wording_sha256: str
    use: str
    way: Way
    answer: Answer
    from_on: date
    given_by_id: int | None = None
    language: str = ""  # in which it was put to them (a tag), where somebody noted it
    sheet: str = ""
    answer_by: date | None = None


@dataclass(frozen=True, slots=True)
class Standing:
    """All that is on record about one person's consent.

    `restraints` holds those that name the person and those that name nobody. `speakers`: who speaks for this one. `guardians`: for
    each of them, the first day on which they had an agreement of their own; absent: they have none. `dead_by`: the latest possible
    day of death, None where none is on record.
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
    speakers: tuple[SpeaksFor, ...] = ()
    dead_by: date | None = None

    def wish_on(self, day: date) -> Wish:
        """The latest wish of that day, or the most careful one where none is on record."""
        made = [w for w in self.wishes if w.from_on <= day]
        return max(made, key=lambda w: (w.from_on, w.id)) if made else CAREFUL

    def approved(self, asked: Asked, heirs_may: bool, heir: int | None = None) -> bool:
        """True where exactly this wording has the yes it takes, for this use and way, and nobody's latest word is no. Without a wording: never.

        It takes the speaker's own, given in life as an adult, which stands; a minor's own with a guardian's, until the 18th birthday; a deputy's;
        or, where the speaker said that heirs may, that of every heir. `heir`: what one heir wants to be asked, that heir answers.
        """
        latest = self._latest(asked)
        if any(a.answer != Answer.YES for a in latest.values()):
            return False
        if heir is not None:
            return heir in latest
        given = {who: a.from_on for who, a in latest.items() if who is not None}
        own = latest.get(None)
        if own is not None and not self.perhaps_minor(own.from_on) and (self.dead_by is None or own.from_on <= self.dead_by):
            return True
        if any(self.may_speak(who, Relation.DEPUTY, day, asked.on) for who, day in given.items()):
            return True
        if own is not None and not self.grown_up(asked.on):
            return any(self.may_speak(who, Relation.GUARDIAN, day, asked.on) for who, day in given.items())
        heirs = self.heirs(asked.on) if heirs_may and self.dead(asked.on) else frozenset()
        return bool(heirs) and all(h in given and self.may_speak(h, Relation.HEIR, given[h], asked.on) for h in heirs)

    def without(self, void: frozenset[int]) -> Standing:
        """The same without these approvals."""
        return replace(self, approvals=tuple(a for a in self.approvals if a.id not in void)) if void else self

    def declined(self, asked: Asked) -> Approval | None:
        """The latest word on exactly this wording, use and way that is no, of whoever gave it; a question that is out counts as one. None: there is none."""
        return next((a for a in self._latest(asked).values() if a.answer != Answer.YES), None)

    def _latest(self, asked: Asked) -> dict[int | None, Approval]:
        said = [
            a for a in self.approvals
            if (a.wording_sha256, a.use, a.way) == (asked.wording_sha256, asked.use.code, asked.way) and a.from_on <= asked.on
        ]  # fmt: skip
        return {a.given_by_id: a for a in sorted(said, key=lambda a: (a.from_on, a.id))}

    # -- who speaks for them -----------------------------------------------------------------------------------
    def dead(self, day: date) -> bool:
        """True from the latest possible day of their death on."""
        return self.dead_by is not None and self.dead_by <= day

    def _newest(self, relation: Relation) -> dict[int, SpeaksFor]:
        return {s.other_id: s for s in sorted(self.speakers, key=lambda s: s.id) if s.relation == relation}

    def heirs(self, day: date) -> frozenset[int]:
        """Everybody on record as an heir on this day, with papers or without, and whoever signed as one."""
        known = self._newest(Relation.HEIR)
        signed = {
            a.spoken_for_by_id for a in self.agreements
            if a.relation == Relation.HEIR and a.signed_on <= day and a.spoken_for_by_id is not None
        }  # fmt: skip
        return frozenset({who for who, row in known.items() if row.on(day)} | (signed - known.keys()))

    def may_speak(self, other_id: int, relation: Relation, acted_on: date, day: date) -> bool:
        """True where somebody's yes of `acted_on` counts for this person on `day`: on record as speaking for them then, heirs and
        deputies with papers that somebody saw, and with an agreement of their own. After a death nobody but heirs speaks."""
        row = self._newest(relation).get(other_id)
        first = self.guardians.get(other_id)
        return (
            row is not None and row.on(acted_on) and (relation == Relation.HEIR or not self.dead(acted_on)) and (relation == Relation.GUARDIAN or row.papers != "")
            and other_id != self.person_id and first is not None and first <= day
        )  # fmt: skip

    def superseded(self, agreement: Agreement, day: date) -> bool:
        """True where a later version took its place."""
        return any(
            a.supersedes_id == agreement.id and a.signed_on <= day and self._replaces(a, agreement, day) for a in self.agreements
        )

    def _replaces(self, later: Agreement, former: Agreement, day: date) -> bool:
        """May `later` take the place of `former`? Nobody's paper takes that of the speaker's own, nor a minor's that of a guardian; what
        somebody else signed takes that of their own earlier one, a deputy's also a guardian's and another deputy's."""
        if later.relation == Relation.NONE:
            return former.relation == Relation.NONE or not self.signed_as_minor(later)
        if former.relation == Relation.NONE or not self.counts(later, day):
            return False
        if later.relation == Relation.DEPUTY:
            return former.relation in (Relation.GUARDIAN, Relation.DEPUTY)
        return (later.relation, later.spoken_for_by_id) == (former.relation, former.spoken_for_by_id)

    def perhaps_minor(self, day: date) -> bool:
        """True where the person was, or may have been, under 18 on this day. No birth date and no paper that says so: an adult."""
        if self.adult_by is None:
            return self.adult_from is not None or any(a.minor for a in self.agreements)
        return day < self.adult_by

    def signed_as_minor(self, agreement: Agreement) -> bool:
        """True where the person was, or may have been, under 18 when it was signed. No birth date at all: an adult."""
        if agreement.minor:
            return True
        if self.adult_by is None:
            return self.adult_from is not None
        return agreement.signed_on < self.adult_by

    def grown_up(self, day: date) -> bool:
        """True from the earliest possible 18th birthday on."""
        return self.adult_from is not None and self.adult_from <= day

    def ask_again(self, agreement: Agreement, day: date) -> bool:
        """True where a minor's yes counts as "ask": from the earliest possible 18th birthday on, or it is not known."""
        return self.signed_as_minor(agreement) and (self.adult_from is None or self.grown_up(day))

    def counts(self, agreement: Agreement, day: date) -> bool:
        """True where its yes may count: signed by the speaker as an adult, or validly for them (DESIGN §5). A guardian signs for a minor
        who assents, and for nobody else; nobody else signs for a minor."""
        minor = self.signed_as_minor(agreement)
        if agreement.spoken_for_by_id is None:
            return not minor
        if minor != (agreement.relation == Relation.GUARDIAN) or (minor and not agreement.assent):
            return False
        return self.may_speak(agreement.spoken_for_by_id, agreement.relation, agreement.signed_on, day)
