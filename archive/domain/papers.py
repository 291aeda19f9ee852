"""What a newer version of an agreement changed, and who must be asked again for a new use or a longer run. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from archive.domain.agreements import Agreement, AgreementKind, Permission, Standing
from archive.domain.reasons import WAY_WORDS, day_words, last_day
from archive.domain.values import Answer, RestraintKind

_STOPPED = frozenset({RestraintKind.WITHDRAWN, RestraintKind.PAUSED, RestraintKind.OBJECTED})


def differences(old: Agreement, new: Agreement, labels: Mapping[str, str]) -> tuple[str, ...]:
    """What the newer version says otherwise, a sentence each; `labels`: uses in words. What it does not answer it does not allow."""
    before, after = _answers(old), _answers(new)
    lines = []
    for key in sorted({*before, *after}, key=lambda k: (labels.get(k[0], k[0]), k[1])):
        was, now = before.get(key, "not answered"), after.get(key, "not answered")
        if was != now:
            lines.append(f"{labels.get(key[0], key[0])}, {_way(key[1])}: was {was}, is {now}")
    if old.interview_id != new.interview_id or old.stretch != new.stretch:
        lines.append("It covers something else than the one before.")
    if old.spoken_for_by_id != new.spoken_for_by_id or old.relation != new.relation:
        lines.append("Somebody else signed it." if new.spoken_for_by_id is not None else "They signed it themselves; the one before was signed for them.")
    return tuple(lines)


def _answers(agreement: Agreement) -> dict[tuple[str, str], str]:
    found: dict[tuple[str, str], list[str]] = {}
    for row in agreement.permissions:
        found.setdefault((row.use, row.way.value), []).append(answer_words(row))
    return {key: "; ".join(sorted(words)) for key, words in found.items()}


def answer_words(row: Permission) -> str:
    """One answer with whatever narrows it: “yes, for Marigold only, through 31 December 2026”."""
    parts = [row.answer.value]
    parts += [f"for {row.exhibition} only"] if row.exhibition else []
    parts += [f"from {day_words(row.from_on)}"] if row.from_on else []
    parts += [f"through {day_words(last_day(row.until_on))}"] if row.until_on else []
    parts += [f"on the condition: {row.conditions}"] if row.conditions else []
    return ", ".join(parts)


def _way(way: str) -> str:
    return next(words for known, words in WAY_WORDS.items() if known.value == way)


class Again(StrEnum):
    """Whether somebody is to be asked about a use."""

    ASK = "ask"
    STANDS = "stands"  # they answered, and their answer holds as long as it has to
    SAID_NO = "said no"  # an answer as well: nobody is asked until they say yes
    STOPPED = "stopped"  # withdrew, thinks it over, or objected


@dataclass(frozen=True, slots=True)
class ToAsk:
    """Whether one person is to be asked, and why, in a sentence."""

    what: Again
    why: str


def to_ask(person: Standing, use: str, label: str, exhibition: str, today: date, through: date) -> ToAsk:
    """Must this person be asked again before `use` runs through this day? A yes to a person's other uses is no yes to this one."""
    holds = [r for r in person.restraints if r.person_id == person.person_id and r.kind in _STOPPED and r.use in (None, use) and r.holds_on(today)]
    if any(r.interview_id is None and r.recording_id is None for r in holds):
        return ToAsk(Again.STOPPED, "They withdrew, paused or objected: nobody writes to them about a use.")
    papers = [
        a for a in person.agreements
        if a.kind == AgreementKind.RECORDING and a.signed_on <= today and not person.superseded(a, today)
    ]  # fmt: skip
    rows = [(a, p) for a in papers for p in a.permissions if p.use == use and p.meant_for(exhibition)]
    if any(p.answer == Answer.NO and p.in_force(exhibition, day) for _, p in rows for day in (today, through)):
        return ToAsk(Again.SAID_NO, f"They said no to {label}.")
    given = [(a, p) for a, p in rows if p.answer != Answer.NO]
    lasting = [(a, p) for a, p in given if p.in_force(exhibition, today) and p.in_force(exhibition, through)]
    grown = [a for a, _ in lasting if person.ask_again(a, through)]
    if lasting and len(grown) < len({a.id for a, _ in lasting}):
        return ToAsk(Again.STANDS, f"Their answer to {label} holds through {day_words(through)}.")
    if lasting:
        return ToAsk(Again.ASK, "They signed as a minor and are asked again as an adult.")
    ends = [p.until_on for _, p in given if p.until_on is not None and p.until_on <= through]
    if ends:
        return ToAsk(Again.ASK, f"Their answer to {label} {'ended' if max(ends) <= today else 'ends'} on {day_words(last_day(max(ends)))}.")
    if not papers:
        return ToAsk(Again.ASK, "No agreement of theirs is on record.")
    return ToAsk(Again.ASK, f"They were never asked about {label}.")
