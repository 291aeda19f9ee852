"""Why consent says no, as values and as sentences for a person. People are named only by their code. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from archive.domain.agreements import Agreement, Approval, Asked, Permission, Relation, Restraint, Standing, Work
from archive.domain.values import RestraintKind, Way

MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip
WAY_WORDS = {Way.WORDS: "in words", Way.VOICE: "with the voice heard", Way.PICTURE: "in a picture"}


class Why(StrEnum):
    """Codes of the reasons, in the order of DESIGN §5 (their order here is the order of an explanation)."""

    NOBODY_HEARD = "nobody_heard"
    WITHDRAWN = "withdrawn"
    PAUSED = "paused"
    OBJECTED = "objected"
    SEALED = "sealed"
    EMBARGO = "embargo"
    TOO_SOON = "too_soon"
    NO_AGREEMENT = "no_agreement"
    USE_NOT_PERMITTED = "use_not_permitted"
    ANSWER_NO = "answer_no"
    EXPIRED = "expired"
    NOT_YET = "not_yet"
    ASK = "ask"
    REVIEW = "review"
    DECLINED = "declined"
    WAY_NOT_PERMITTED = "way_not_permitted"
    VOICE_NOT_HEARD = "voice_not_heard"
    MINOR_WITHOUT_GUARDIAN = "minor_without_guardian"
    SIGNER_DOES_NOT_COUNT = "signer_does_not_count"
    WORK_NOT_CLEARED = "work_not_cleared"
    INTERPRETED_UNCHECKED = "interpreted_unchecked"
    INTERPRETED_UNAPPROVED = "interpreted_unapproved"
    NOT_FOR_THIS_ACCOUNT = "not_for_this_account"
    LATER_WORDING = "later_wording"


ORDER = {why: n for n, why in enumerate(Why)}
NOT_HEARD = "Nobody has heard it against the sound."
NOT_HEARD_TWICE = "A second person has not yet heard what is masked, unnamed or disguised."
AROUND_CHANGED = "What stands around it changed since the second person listened."
STAYS_IN = "Not allowed. This use stays inside the house: nothing leaves for it. Choose the use it is to leave for."
SPEAKER_CORRECTED = (
    "Not allowed. The transcript was corrected since these words were chosen, and somebody else may be speaking them. "
    "Choose the words again from today's transcript."
)
PANEL_NAMES = (
    "Not allowed. The name of its panel holds a name, a code or words that must not stand beside this quote. "
    "Choose the words again for a panel of another name."
)
NO_TRANSLATION = "It is to be shown in translation, and that translation was set aside. Choose another one, or show the original."
OTHER_TRANSLATION = (
    "Its translation is not of exactly these words any more. Translate these words, or show the original: a quote and its translation say the same."
)
TRANSLATION_HELD = "The translation may not leave. {why}"
TRANSLATION_USE = "In translation. {why}"
TRANSLATION_DRAFT = "Its translation is a draft: a second speaker of the language has to check it."
LATER_WORDS_ONLY = "It stands in the speaker's later wording, which nobody says in the recording: words only."
LATER_NOT_TRANSLATED = "Not allowed. It stands in the speaker's later wording, and its translation is of other words. Show the original."
LATER_NAMES = "Not allowed. The speaker's later wording holds a name that must not stand there. Ask them for other words, or show what was said."
LATER_CHANGED = "It stands in other words now than when it went out."
NAMES_MOVED = "What is hidden in it was decided anew since it went out."
CALLED_OTHERWISE = "Somebody in it wishes to be called otherwise now."
HEARD_OTHERWISE = "The voice may not be heard any more as it went out."
DISGUISED = "The voice is disguised."
DISGUISE_CAUTION = (
    "Voice disguise is no protection against somebody who knows this voice or has another recording of it. Words only, or a "
    "reading by somebody else, is safer. It also makes the words harder to understand."
)
CANNOT_DISGUISE = (
    "The voice may be heard only disguised, and the ffmpeg of this machine cannot do that (it lacks the filter rubberband). "
    "Install the package imageio-ffmpeg."
)
READING_LAPSED = "The reading by somebody else does not count any more: the wording, a hidden name or the use is another one. Have it read again."
READING_NOT_ALLOWED = "The reading by somebody else is not used: the speaker does not allow these words to be spoken by somebody else (re-voicing)."
FORM_OFFERED = "A form to be signed is printed on their page."
HOLDS = frozenset({Why.WITHDRAWN, Why.PAUSED, Why.OBJECTED, Why.SEALED, Why.EMBARGO, Why.NOT_FOR_THIS_ACCOUNT})
# What somebody decided about themselves, or against others: whose decision it was is told to keepers alone.
PRIVATE = frozenset({Why.WITHDRAWN, Why.PAUSED, Why.OBJECTED, Why.NOT_FOR_THIS_ACCOUNT})
NOT_AVAILABLE = "This is not available at present; the keeper can say more."


@dataclass(frozen=True, slots=True)
class Reason:
    """One reason for a no. `words`: one sentence; `cites`: the agreement or restraint it rests on, "" where none is.

    `opens_on`: the first day on which this reason could fall away by the calendar alone or, where the sentence says so,
    after a review; None: only somebody's act can change it. `person_code` None: it is meant for nobody in particular. `signer`: whose
    answer it is, where somebody signed for the person; `died`: the person can answer nothing any more.
    """

    code: Why
    person_code: str | None
    words: str
    cites: str = ""
    opens_on: date | None = None
    signer: str = ""
    died: bool = False


def day_words(day: date) -> str:
    """A day as it is written in a sentence: "31 December 2039"."""
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def last_day(until_on: date) -> date:
    """The last day, as on paper, of something that ends before `until_on`."""
    return until_on - timedelta(days=1) if until_on > date.min else until_on


def in_order(reasons: list[Reason]) -> tuple[Reason, ...]:
    """Each reason once, in the order of DESIGN §5, then by person."""
    return tuple(sorted(dict.fromkeys(reasons), key=lambda r: (ORDER[r.code], r.person_code or "", r.cites, r.words, r.signer, r.died)))


def not_for_this_account() -> Reason:
    """Somebody heard is not to be opened by whoever asks, or it was not assigned to them; which of both, and whose wish it is, they are not told."""
    return Reason(Why.NOT_FOR_THIS_ACCOUNT, None, NOT_AVAILABLE)


def nobody_heard() -> Reason:
    """Nobody is on record as heard: no record means no."""
    return Reason(
        Why.NOBODY_HEARD,
        None,
        "Nobody is on record as heard here or as taking part in the interview, so nobody can have allowed it.",
    )


_HOLD_WORDS = {
    RestraintKind.WITHDRAWN: "withdrew {what}",
    RestraintKind.PAUSED: "asked for time to think about {what}",
    RestraintKind.OBJECTED: "is held by an objection against {what}",
    RestraintKind.SEALED: "closed {what}",
    RestraintKind.EMBARGO: "set an embargo on {what}",
}
_HOLD_WORDS_NOBODY = {
    RestraintKind.WITHDRAWN: "{What} was withdrawn",
    RestraintKind.PAUSED: "{What} is paused while somebody thinks it over",
    RestraintKind.OBJECTED: "{What} is held because somebody spoken about objected",
    RestraintKind.SEALED: "{What} is closed",
    RestraintKind.EMBARGO: "{What} is under embargo",
}


def _held_thing(restraint: Restraint, asked: Asked) -> str:
    if restraint.recording_id is not None:
        what = "this stretch"
    elif restraint.interview_id is not None:
        what = "this interview"
    else:
        what = "everything" if restraint.person_id is not None else "the whole archive"
    if restraint.use is not None:
        what += f", for the use “{asked.use.label}”"
    return f"{what}, {WAY_WORDS[restraint.way]}" if restraint.way is not None else what


def held(restraint: Restraint, person: Standing, asked: Asked) -> Reason:
    """The reason that a restraint in force gives."""
    what = _held_thing(restraint, asked)
    if restraint.person_id is None:
        words = _HOLD_WORDS_NOBODY[restraint.kind].format(What=what[0].upper() + what[1:])
    else:
        words = f"{person.code} {_HOLD_WORDS[restraint.kind].format(what=what)}"
    opens_on = restraint.until_on
    if opens_on is None:
        words += f", from {day_words(restraint.from_on)} on."
    elif opens_on <= asked.on:
        words += f" through {day_words(last_day(opens_on))}; it opens only after a review, and none is on record."
        opens_on = None
    elif restraint.needs_review:
        words += f" through {day_words(last_day(opens_on))}; after that it opens only when it has been reviewed."
    else:
        words += f" through {day_words(last_day(opens_on))}."
    code = person.code if restraint.person_id is not None else None
    return Reason(Why(restraint.kind.value), code, words, f"restraint {restraint.id}", opens_on)


def no_agreement(person: Standing, asked: Asked) -> Reason:
    """No agreement that counts speaks of this stretch: says what there is instead."""
    day = asked.on
    covering = [a for a in person.agreements if a.covers(asked.interview_id, asked.stretch)]
    made = [a for a in covering if a.signed_on <= day and not person.superseded(a, day)]
    coming = [a for a in covering if a.signed_on > day]
    cites, opens_on = "", None
    if made:
        cites = made[-1].cite
        words = f"{person.code} has only a participation agreement here, and that does not cover this use. {FORM_OFFERED}"
    elif coming:
        first = min(coming, key=lambda a: (a.signed_on, a.id))
        cites, opens_on = first.cite, first.signed_on
        words = f"{person.code} had no agreement yet; the first is dated {day_words(first.signed_on)}."
    elif any(a.signed_on <= day for a in person.agreements):
        words = f"No agreement of {person.code} in force covers this whole stretch of this interview."
    else:
        words = f"No agreement of {person.code} is on record. {FORM_OFFERED}"
    return Reason(Why.NO_AGREEMENT, person.code, words, cites, opens_on)


def answered_no(person: Standing, asked: Asked, agreement: Agreement, row: Permission) -> Reason:
    """The answer is no."""
    whose = f"{agreement.signed_by}, {agreement.relation.value} of {person.code}," if agreement.relation != Relation.NONE else person.code
    words = f"{whose} answered no to the use “{asked.use.label}” {WAY_WORDS[asked.way]}."
    return Reason(Why.ANSWER_NO, person.code, words, agreement.cite, row.until_on, agreement.signed_by)


def not_permitted(person: Standing, asked: Asked, rows: list[tuple[Agreement, Permission]]) -> Reason:
    """No answer allows it: it ran out, is still to come, is for elsewhere or for another way, or never was."""
    day, label = asked.on, asked.use.label
    here = [(a, p) for a, p in rows if p.way == asked.way]
    coming = [(a, p) for a, p in here if p.meant_for(asked.exhibition) and not p.begun(day)]
    gone = [(a, p) for a, p in here if p.meant_for(asked.exhibition) and p.over(day)]
    other_way = [(a, p) for a, p in rows if p.way != asked.way and p.in_force(asked.exhibition, day)]
    if coming:
        agreement, row = min(coming, key=lambda ap: (ap[1].from_on or day, ap[1].id))
        words = f"{person.code} allowed the use “{label}” only from {day_words(row.from_on or day)} on."
        return Reason(Why.NOT_YET, person.code, words, agreement.cite, row.from_on)
    if gone:
        agreement, row = max(gone, key=lambda ap: (ap[1].until_on or day, ap[1].id))
        words = f"{person.code} allowed the use “{label}” only through {day_words(last_day(row.until_on or day))}."
        return Reason(Why.EXPIRED, person.code, words, agreement.cite)
    if here:
        words = f"{person.code} allowed the use “{label}” only for another exhibition."
        return Reason(Why.USE_NOT_PERMITTED, person.code, words, here[0][0].cite)
    if other_way:
        words = f"{person.code} allowed the use “{label}”, but not {WAY_WORDS[asked.way]}."
        return Reason(Why.WAY_NOT_PERMITTED, person.code, words, other_way[0][0].cite)
    return Reason(
        Why.USE_NOT_PERMITTED, person.code, f"{person.code} was never recorded as allowing the use “{label}”."
    )


def heir_widens(person: Standing, asked: Asked, agreement: Agreement) -> Reason:
    """Only an heir said yes: the speaker's own answers stand, an heir may narrow them."""
    words = (
        f"Only an heir of {person.code} allowed the use “{asked.use.label}” {WAY_WORDS[asked.way]}; "
        "the speaker's own answers stand, and an heir may narrow but not widen them."
    )
    return Reason(Why.USE_NOT_PERMITTED, person.code, words, agreement.cite)


def must_ask(person: Standing, asked: Asked, agreement: Agreement, grown_up: bool) -> Reason:
    """The answer is "ask", or a yes given as a minor that has to be asked anew; and no approval is on record."""
    if grown_up and person.adult_from is None:
        why = "signed as a minor, and without a birth date on record every yes counts as “ask”"
    elif grown_up:
        why = f"signed as a minor and must be asked again from {day_words(person.adult_from or asked.on)} on"
    else:
        why = "wants to be asked each time"
    missing = (
        "no exact wording was put forward" if asked.wording_sha256 is None else "no yes to exactly this is on record"
    )
    heir = agreement.relation == Relation.HEIR
    whose = f"{agreement.signed_by}, heir of {person.code}," if heir else person.code
    words = f"{whose} {why} for the use “{asked.use.label}” {WAY_WORDS[asked.way]}, and {missing}."
    return Reason(Why.ASK, person.code, words, agreement.cite, signer=agreement.signed_by if heir else "")


def must_review(person: Standing, asked: Asked) -> Reason:
    """Quotes go to their speaker first, and this exact one was not approved."""
    missing = (
        "only an exact quote can be approved"
        if asked.wording_sha256 is None
        else "exactly this one has not been approved"
    )
    told = f" {_said_no(person, word)}" if (word := person.declined(asked)) is not None else ""
    return Reason(Why.REVIEW, person.code, f"Every quote of {person.code} goes to them first, and {missing}.{told}", word.sheet if word is not None else "")


def declined(person: Standing, word: Approval) -> Reason:
    """They were shown exactly this, and did not say yes to it; what they allow otherwise does not count for it."""
    return Reason(Why.DECLINED, person.code, _said_no(person, word), word.sheet)


def _said_no(person: Standing, word: Approval) -> str:
    if word.answer_by is None:
        return f"{person.code} was shown exactly this, and said no to it."
    return f"{person.code} is asked about exactly this ({word.sheet}) and has not answered; no answer by {day_words(word.answer_by)} is no."


def voice_not_heard(person: Standing) -> Reason:
    """The person wishes not to be heard, or no wish is on record."""
    return Reason(
        Why.VOICE_NOT_HEARD, person.code, f"The voice of {person.code} is not to be heard; words may still be allowed."
    )


def minor_without_guardian(person: Standing, agreement: Agreement) -> Reason:
    """Signed by or for a minor without all that it takes."""
    words = (
        f"{person.code} was or may have been a minor when {agreement.code} was signed; it counts only with the minor's "
        "assent, signed by a guardian who has an agreement of their own on record."
    )
    return Reason(Why.MINOR_WITHOUT_GUARDIAN, person.code, words, agreement.cite)


def signer_does_not_count(person: Standing, agreement: Agreement, day: date) -> Reason:
    """Somebody signed for the person without all that it takes."""
    signer, relation = agreement.spoken_for_by_id or 0, agreement.relation
    first = person.guardians.get(signer)
    who = f"{agreement.signed_by}, who signed {agreement.code} as {relation.value or 'somebody else'} of {person.code},"
    if relation != Relation.HEIR and person.dead(agreement.signed_on):
        words = f"{who} could not: {person.code} had died. Their own answers stand; only heirs may allow more, where {person.code} said so."
    elif relation == Relation.GUARDIAN:
        words = f"{who} could not: a guardian speaks only for a minor, and {person.code} was of age."
    elif first is None or first > day:
        words = f"{who} has no agreement of their own on record; the answer counts only when there is one."
    else:
        words = f"{who} was not on record as such that day with papers that somebody saw; the answer counts only when that is noted."
    return Reason(Why.SIGNER_DOES_NOT_COUNT, person.code, words, agreement.cite, first if first is not None and first > day else None)


def heirs_missing(person: Standing, asked: Asked, agreement: Agreement) -> Reason:
    """The speaker let heirs allow more, and not all of them do, or nobody put the death on record."""
    if not person.dead(asked.on):
        words = f"{agreement.signed_by} allowed it as heir of {person.code}, whose death is not on record."
    else:
        words = (
            f"{person.code} said that their heirs may allow more, and all of them must: not every heir on record has allowed the use "
            f"“{asked.use.label}” {WAY_WORDS[asked.way]}."
        )
    return Reason(Why.USE_NOT_PERMITTED, person.code, words, agreement.cite)


def too_soon(interviewed_on: date, ends_on: date) -> Reason:
    """The pause before use is not over."""
    words = (
        f"The interview was on {day_words(interviewed_on)}; before {day_words(ends_on)} it is only kept safe and listened to by our own "
        "computer, so that everybody can sleep on it."
    )
    return Reason(Why.TOO_SOON, None, words, "the pause before use", ends_on)


def not_cleared(asked: Asked, work: Work) -> Reason:
    """Somebody else's work is in it, and nobody's word allows this use of it."""
    kind = "Somebody else's work" if work.kind == "other" else f"Somebody else's work ({work.kind})"
    words = f"{kind} is in this stretch (W-{work.id}), and it is not cleared for the use “{asked.use.label}” {WAY_WORDS[asked.way]}."
    return Reason(Why.WORK_NOT_CLEARED, None, words, f"W-{work.id}")


def interpreted_unchecked() -> Reason:
    """An interpreter's words that nobody compared with what was said before them."""
    return Reason(Why.INTERPRETED_UNCHECKED, None, "These are an interpreter's words, and no second speaker of the language has checked them against what was said.")


def later_wording() -> Reason:
    """The speaker's later wording has no sound."""
    return Reason(Why.LATER_WORDING, None, LATER_WORDS_ONLY)


def interpreted_unapproved(code: str) -> Reason:
    """An interpreter's words that the narrator has not approved in their own language."""
    words = f"These are an interpreter's words for what {code} said, and {code} has not said yes to exactly them in their own language."
    return Reason(Why.INTERPRETED_UNAPPROVED, code, words)


_CHANGES = {
    Why.DECLINED: "A yes of {who} to exactly this, on the sheet that was sent or by whoever speaks for them. Other words are another question.",
    Why.LATER_WORDING: "Nothing: the sound says other words. To be heard, it has to stand as it was said.",
    Why.NOBODY_HEARD: "Say who speaks, or who took part in the interview.",
    Why.WITHDRAWN: "Only {who}'s own word ends a withdrawal; nobody is to be pressed for it.",
    Why.PAUSED: "{who} ends the pause, or withdraws; a keeper puts it on record.",
    Why.OBJECTED: "A keeper decides about the objection, with a reason.",
    Why.SEALED: "A keeper reviews it when it ends, or opens it on the word of who closed it.",
    Why.EMBARGO: "A keeper reviews it on the day it ends. It never opens by itself.",
    Why.TOO_SOON: "Wait for that day.",
    Why.NO_AGREEMENT: "A signed or spoken agreement of {who} that covers all of it.",
    Why.USE_NOT_PERMITTED: "A new version of the agreement, in which {who} allows it.",
    Why.ANSWER_NO: "A new version of the agreement, in which {who} answers otherwise of their own accord.",
    Why.EXPIRED: "A new version of the agreement, in which {who} allows it for longer.",
    Why.NOT_YET: "Wait for that day.",
    Why.ASK: "{who} is asked about exactly this wording and says yes.",
    Why.REVIEW: "{who} reads or hears exactly this quote and says yes.",
    Why.WAY_NOT_PERMITTED: "A new version of the agreement, in which {who} allows this way, or use it in the way they allowed.",
    Why.VOICE_NOT_HEARD: "Use the words alone; or {who} wishes otherwise.",
    Why.MINOR_WITHOUT_GUARDIAN: "A guardian on record signs and the minor assents; from the 18th birthday on, their own signature.",
    Why.SIGNER_DOES_NOT_COUNT: "Put on record who speaks for {who}, with the papers that show it, and that person's own agreement.",
    Why.INTERPRETED_UNCHECKED: "Somebody who speaks both languages, and did not interpret, listens to both and says that they agree.",
    Why.INTERPRETED_UNAPPROVED: "The quote is put to {who} in their own language, and they say yes.",
    Why.WORK_NOT_CLEARED: "Put on record who owns the work and what they allow, or leave the work out.",
}


_OWN_ANSWERS = frozenset(
    {
        Why.NO_AGREEMENT, Why.USE_NOT_PERMITTED, Why.ANSWER_NO, Why.EXPIRED, Why.ASK, Why.REVIEW, Why.WAY_NOT_PERMITTED, Why.VOICE_NOT_HEARD,
        Why.WITHDRAWN, Why.PAUSED, Why.INTERPRETED_UNAPPROVED,
    }
)  # fmt: skip


def change(reason: Reason) -> str:
    """What would change this answer, in a sentence."""
    if reason.died and not reason.signer and reason.code in _OWN_ANSWERS:
        return f"{reason.person_code} has died, and their own answers stand. Their heirs may allow more only where {reason.person_code} said so, all of them together."
    return _CHANGES[reason.code].format(who=reason.signer or reason.person_code or "who it is about")
