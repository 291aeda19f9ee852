"""How times, days, numbers and wishes are said to people, on the pages and on the command line; and how times are read. Pure."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date

from archive.domain.beside import Agrees, Compared
from archive.domain.reasons import MONTHS, day_words
from archive.errors import BadInput

MOST_MS = 2**31 - 1
_CLOCK = re.compile(r"(?:(?:(\d{1,3}):)?(\d{1,4}):(\d\d)(?:\.(\d{1,3}))?|(\d{1,10}))", re.ASCII)
_CODE = re.compile(r"`([^`\n]*)`")
_STRETCH = re.compile(r"(?P<code>[\w.-]+)@(?P<start>[\d:.]+)\s*[-–]\s*(?P<end>[\d:.]+)", re.ASCII)
# Beside the decision whether somebody could be known by a quote (the substance is CHECKS §8; project wording).
BEFORE_A_TICK = (
    "A voice identifies even without a name.",
    "A living third party, health, crime, migration status or a child needs a person’s eye.",
    "Permission for the archive is not permission for the wall.",
    "Not legal advice: local law and your institution’s own counsel decide.",
)
# Where an objection, a hold or a risk is decided (CHECKS §8, and what the law of many places treats as sensitive).
BEFORE_A_DECISION = (
    "A living third party, health, crime or an accusation of it, migration status, a child, membership of a union, politics, religion and ethnic "
    "origin need a person’s eye.",
    "A voice identifies even without a name.",
    "What was printed cannot be called back.",
    "Not legal advice: local law and your institution’s own counsel decide.",
)
MIGHT_NAME = (
    "It stays a draft, since together they might name somebody. Choose fewer words, hide more of them, or put the quote on "
    "another panel; then let it be heard again."
)
SPELLING_KEPT = {  # where services/spellings.py put it
    "list": "Kept on the list.",
    "gazetteer": "Kept with the place in the gazetteer.",
    "people": "Kept with the person: it is hidden wherever their name is.",
}
SOUND_ESTIMATE = "An estimate: echo, distance and voices over voices are not measured. Somebody has to listen."
OWN_ACCOUNT = (
    "Whoever listens second needs an account of their own, also where the team shares one computer: a keeper makes it "
    "(toldhere accounts add NAME editor), then they sign in on the pages, or write toldhere --as NAME before their command."
)
KINDS_OF_WORK = {
    "transcribe": "Transcribe", "access": "Access copy of", "voices": "Compare voices in", "sound": "Measure again the sound of", "fit": "Put words to the sound in",
    "describe": "Suggest places, dates and themes anew for",
    "meaning": "Read for what is near in meaning:",
}  # any other by its own name
NEAR = "Near in meaning: leads, found by what passages are about. They are not complete, and a “not” is hardly noticed; listen before you rely on one."
NOTHING_NEAR = "Nothing else that you may read is near in meaning."
AS_WRITTEN = "Write it as TW-01.1@1:16-1:25 (minutes and seconds)."


def clock(ms: int) -> str:
    """Milliseconds as a place on the recording's clock: 0:07, 12:05, 1:02:05."""
    seconds = max(0, ms) // 1000
    hours, rest = divmod(seconds, 3600)
    minutes, seconds = divmod(rest, 60)
    return f"{hours}:{minutes:02d}:{seconds:02d}" if hours else f"{minutes}:{seconds:02d}"


def exact(ms: int) -> str:
    """A place on the recording's clock to the millisecond, as `clock_ms` reads it back: 1:16.567; 1:16 where it is whole."""
    rest = max(0, ms) % 1000
    return clock(ms) + (f".{rest:03d}".rstrip("0") if rest else "")


def clock_ms(text: str) -> int:
    """Milliseconds of a time as people write it: 1:16, 1:16.5, 1:02:05; a bare whole number is milliseconds. Raises BadInput."""
    match = _CLOCK.fullmatch(text.strip())
    if match is None or (match[1] and int(match[2]) > 59) or int(match[3] or 0) > 59:
        raise BadInput("What was written as a time is no time in a recording.", "Write it as 1:16 (minutes and seconds) or 1:02:05.")
    hours, minutes, seconds, part, bare = match.groups()
    ms = int(bare) if bare else ((int(hours or 0) * 60 + int(minutes)) * 60 + int(seconds)) * 1000 + int((part or "0").ljust(3, "0"))
    if ms > MOST_MS:
        raise BadInput("No recording is as long as that.", "Write the time as 1:16 (minutes and seconds) or 1:02:05.")
    return ms


def stretch(text: str) -> tuple[str, int, int]:
    """(recording, start_ms, end_ms) of a stretch as people write it: TW-01.1@1:16-1:25 or TW-01.1@76567-85896. Raises BadInput."""
    match = _STRETCH.fullmatch(text.strip())
    if match is None:
        raise BadInput("What was written as a stretch is no stretch of a recording.", AS_WRITTEN)
    start_ms, end_ms = clock_ms(match["start"]), clock_ms(match["end"])
    if end_ms <= start_ms:
        raise BadInput("A stretch must end after it starts, and start at 0 or later.", AS_WRITTEN)
    return match["code"], start_ms, end_ms


def from_to(start_ms: int, end_ms: int) -> str:
    """A stretch as `stretch` reads it after the recording and @: 1:16.567-1:25.896."""
    return f"{exact(start_ms)}-{exact(end_ms)}"


def lasting(ms: int) -> str:
    """Milliseconds as a length: 48 seconds, 3 min 20 s, 1 h 05 min."""
    seconds = round(max(0, ms) / 1000)
    if seconds < 60:
        return many(seconds, "second")
    if seconds < 3600:
        return f"{seconds // 60} min {seconds % 60:02d} s"
    return f"{seconds // 3600} h {seconds % 3600 // 60:02d} min"


def about(seconds: int | None) -> str:
    """Time left, no finer than it is known: about 25 seconds, about 3 minutes, about 2 hours; "" while unknown."""
    if seconds is None:
        return ""
    if seconds < 90:
        return f"about {max(5, round(seconds / 5) * 5)} seconds"
    if seconds < 90 * 60:
        return f"about {round(seconds / 60)} minutes"
    return f"about {many(round(seconds / 3600), 'hour')}"


def work(kind: str, subject: str) -> str:
    """What a job does, on what: Transcribe TW-01.1."""
    return f"{KINDS_OF_WORK.get(kind, begin(kind))} {subject}"


# How far a person has come with what the machine heard, by `domain.values.LineState`.
STATES = {
    "machine": "as our own computer heard it", "in work": "in work", "corrected": "corrected", "checked": "checked by a second person",
    "agreed": "agreed with the speaker",
}  # fmt: skip
NOT_VERBATIM = "Where it does not say “verbatim”, fillers and false starts may be missing."


def state(state: str, verbatim: bool = False) -> str:
    """How far a stretch of transcript has come: “corrected, verbatim”."""
    return STATES[state] + (", verbatim" if verbatim else "")


def far(states: Sequence[tuple[str, int]]) -> str:
    """How far a transcript has come, from (state, lines): “corrected”; “of 40 lines 12 corrected, 28 as our own computer heard it”."""
    some = [(name, count) for name, count in reversed(states) if count]
    if len(some) < 2:
        return STATES[some[0][0]] if some else ""
    return f"of {many(sum(c for _, c in some), 'line')} " + ", ".join(f"{count} {STATES[name]}" for name, count in some)


def day(on: date | str | None) -> str:
    """A day as people write it: 2 May 2026, also from a moment as it is written down; nothing where it is not known."""
    if isinstance(on, str):
        on = date.fromisoformat(on[:10]) if on else None
    return day_words(on) if on else ""


def closed_through(last: date | None, event: str = "") -> str:
    """How long something is closed: “closed through 31 December 2039”, “closed” where nobody said; `event`: what ends it before that."""
    until = f"closed through {day_words(last)}" if last else "closed"
    return f"{until}{' at the latest' if last else ''}, until: {event}" if event else until


def plainly(text: str) -> str:
    """A message as a page says it: what the command line sets between backticks stands between quotation marks."""
    return _CODE.sub(r"“\1”", text)


def begin(text: str) -> str:
    """The same text with a capital at its start; the rest is left as it is."""
    return text[:1].upper() + text[1:]


def many(number: int, one: str, more: str = "") -> str:
    """A number with its noun: no words, 1 word, 12 words."""
    noun = one if number == 1 else more or one + "s"
    return f"{number:,} {noun}" if number else f"no {more or one + 's'}"


def in_way(way: str) -> str:
    """A way in which something is used, in words."""
    return {"words": "as words", "voice": "as voice", "picture": "as picture"}.get(way, way)


# What somebody wished for, by the code it is on record with.
WISHES = {
    "full": "by their full name", "first": "by their first name", "initials": "by their initials",
    "pseudonym": "by a pseudonym", "unnamed": "unnamed",
    "as_recorded": "as recorded", "disguised": "disguised", "not_heard": "not to be heard",
    "wanted": "yes", "not_wanted": "no",
}  # fmt: skip


def wish(code: str) -> str:
    """A wish in words."""
    return WISHES.get(code, code.replace("_", " "))


# How far a translation has come, by the value it is on record with; what is said where its original has other words now, and where it hides less.
TRANSLATION_STATES = {
    "draft": "a draft", "checked": "checked by a second speaker of the language", "agreed": "agreed with the speaker", "set aside": "set aside",
}  # fmt: skip
CHANGED_SINCE = "The original was changed since it was translated."
NOT_FOR_READERS = "Readers do not see it, and it does not leave."
SENSITIVE = "Sensitive: it may hurt somebody who reads it, or of whom it is said."  # a word of the glossary

# What somebody decided about a name that is spoken, by the value it is on record with.
DECISIONS = {
    "undecided": "not decided yet", "hide": "hide it", "keep": "the name may stand", "cleared": "they agreed", "public": "publicly known",
}  # fmt: skip


def decided(decision: str) -> str:
    """A decision about a name in words."""
    return DECISIONS.get(decision, decision)


# How words point to somebody, by the value it is on record with.
NAMINGS = {
    "name": "a name", "kin": "a title or kinship", "address": "where somebody lives", "work": "where somebody works",
    "apart": "a description that sets somebody apart", "number": "a number", "birth": "a year of birth", "place": "a place or description",
}  # fmt: skip


def pointing(kind: str) -> str:
    """How words point to somebody, in words."""
    return NAMINGS.get(kind, kind)


def went(state: str) -> str:
    """What became of an export, by its state in the register."""
    return {"given": "went out", "approved": "approved, and perhaps went out"}.get(state, state)


_EDTF_DAY = re.compile(r"(\d{4}|\d{3}X)(?:-(\d{2}))?(?:-(\d{2}))?([~?%]?)", re.ASCII)
_SEASONS = {21: "spring", 22: "summer", 23: "autumn", 24: "winter"}
_HEDGES = {"~": "about ", "?": "perhaps ", "%": "perhaps about ", "": ""}


def told(edtf: str) -> str:
    """A date of the record (EDTF) as people say it: 14 January 1968 to 16 January 1968. What is not simple stays as it is."""
    first, _, last = edtf.partition("/")
    if ".." in (first, last):  # an open start or end
        said = _told_part(last if first == ".." else first)
        return f"{'until' if first == '..' else 'from'} {said}" if said else edtf
    parts = [_told_part(part) for part in ((first, last) if last else (first,))]
    return " to ".join(parts) if all(parts) else edtf


def told_in(text: str) -> str:
    """A sentence about a suggestion with the dates in it as people say them."""
    return " ".join(told(word[: len(word.rstrip(";,."))]) + word[len(word.rstrip(";,.")) :] for word in text.split(" "))


def tag(kind: str, value: str) -> str:
    """The value of a tag or a facet in words: dates as people say them, decades with their s."""
    if kind == "date":
        return told(value)
    return f"{value}s" if kind == "decade" and value.isdecimal() else value


def agrees(row: Compared) -> str:
    """How those that tell something of a kind compare, in words; sides by their number."""
    pairs = ", ".join(f"{a} from {b}" for a, b in row.apart) if len(row.apart) < 6 else "several from one another"
    return {
        Agrees.SAME: "the same in all that tell of it", Agrees.OVERLAPS: "overlaps, and is not quite the same",
        Agrees.DIFFERS: f"differs: {pairs}", Agrees.ONE: "only one tells of it", Agrees.NOTHING: "none tells of it",
    }[row.agrees]  # fmt: skip


def _told_part(part: str) -> str:
    match = _EDTF_DAY.fullmatch(part)
    if match is None:
        return ""
    year, month, day_of, hedge = match.groups()
    year = f"the {year[:3]}0s" if year.endswith("X") else year
    number = int(month or 0)
    name = MONTHS[number - 1] if 1 <= number <= 12 else _SEASONS.get(number, "")
    if number and not name:
        return ""
    return _HEDGES[hedge] + " ".join(p for p in (str(int(day_of)) if day_of else "", name, year) if p)


def labels(some: Sequence[tuple[str, str]]) -> str:
    """Labels with their languages, as a sheet has them: “inundation; pl: zalanie”."""
    return "; ".join(f"{language}: {text}" if language else text for language, text in some)


def taught(speaks_for: bool, here: int, all_here: int, there: int, all_there: int) -> str:
    """In which passages a word was said that decisions taught."""
    return f"{here} of {all_here} {'confirmed' if speaks_for else 'rejected'}, {there} of {all_there} other passages"


# Papers to be signed, by domain.printed.FormKind.
FORM_KINDS = {
    "participation": "before the interview", "recording": "after the interview", "standing": "standing agreement of who asks, interprets or accompanies",
    "interpreter": "undertaking of an interpreter", "helper": "undertaking of a helper",
}  # fmt: skip


def form_kind(kind: str) -> str:
    """Which form it is, in words."""
    return FORM_KINDS.get(kind, kind)
