"""How the words of an excerpt are heard: as recorded, disguised, read by somebody else, or not at all.

The speaker's own voice as it was recorded comes first, where it is allowed. A reading comes before a disguise: a disguise
protects almost nobody (CHECKS §10). A reading counts only for exactly the words it was made for.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from archive.audio import disguise
from archive.db import spoken
from archive.db.session import Row
from archive.domain import reasons as say
from archive.domain.consent import Decision, explain
from archive.domain.values import MIN_WORD_MS, Role, Way
from archive.gate.reading import Reading

AS_RECORDED, DISGUISED, READ, NOT_HEARD = "as_recorded", "disguised", "read", ""
RE_VOICING = "re_voicing"
Token = tuple[str, int, int]


class Quoted(Protocol):
    """What is asked here of a pinned excerpt (gate/pinned.py)."""

    @property
    def row(self) -> Row[Any]: ...
    @property
    def reading(self) -> Reading: ...
    def decide(self, use: str, way: Way) -> Decision: ...
    @property
    def later(self) -> str: ...
    def shown_words(self) -> str: ...


@dataclass(frozen=True, slots=True)
class Voice:
    """How a quote is heard for one use. `why_not`: where it is not; `told`: what the team should know of how it is heard."""

    how: str
    why_not: str = ""
    told: str = ""
    read: Row[Any] | None = None


def voice_of(quoted: Quoted, use: str) -> Voice:
    """The decision, made now."""
    if quoted.later:  # not read by somebody else either: what is heard is what was said
        return Voice(NOT_HEARD, say.LATER_WORDS_ONLY)
    own = quoted.decide(use, Way.VOICE)
    if own.allowed and not own.duties.disguise:
        return Voice(AS_RECORDED)
    read, lapsed = counting(quoted, use)
    if read is not None:
        return Voice(READ, told=f"Read by {read.credit}; the speaker’s own voice does not leave.", read=read)
    if own.allowed and disguise.possible():
        return Voice(DISGUISED, told=" ".join(filter(None, (say.DISGUISED, say.DISGUISE_CAUTION, lapsed))))
    why = say.CANNOT_DISGUISE if own.allowed else " ".join(explain(own, Role.EDITOR)[1:])
    return Voice(NOT_HEARD, " ".join(filter(None, (why, lapsed))))


def counting(quoted: Quoted, use: str) -> tuple[Row[Any] | None, str]:
    """(the reading that counts for this use today, or None; why none of those that are here does, or "")."""
    rows = spoken.readings(quoted.reading.connection, quoted.row.id)
    if not rows:
        return None, ""
    if not quoted.decide(RE_VOICING, Way.WORDS).allowed:
        return None, say.READING_NOT_ALLOWED
    key = shown_key(quoted, use)
    found = next((row for row in rows if row.shown_sha256 == key), None)
    return found, "" if found is not None else say.READING_LAPSED


def shown_key(quoted: Quoted, use: str) -> str:
    """The checksum that ties a reading to its words: the wording, as it is shown with its masks, for one use."""
    told = json.dumps([quoted.row.wording_sha256, quoted.shown_words(), use], ensure_ascii=False)
    return hashlib.sha256(told.encode("utf-8", "surrogatepass")).hexdigest()


def voice_key(decision: Decision) -> str:
    """Whose voice it is, as a key alone: everybody heard together."""
    people = ",".join(str(p) for p in sorted({p.person_id for p in decision.duties.people}))
    return hashlib.sha256(people.encode("ascii")).hexdigest()


def spread(tokens: Sequence[Token], speech_ms: Sequence[Sequence[int]]) -> tuple[Token, ...]:
    """Caption words over the speech of a reading, each as long as its letters are: nobody knows when which word is read."""
    speech = [(int(s), int(e)) for s, e in speech_ms if e > s]
    whole = sum(e - s for s, e in speech)
    weights = [len(text) + 2 for text, _, _ in tokens]  # two more: short words are not that short
    if not whole or not weights:
        return ()
    found, at = [], 0
    for (text, _, _), weight in zip(tokens, weights, strict=True):
        start, end = (_moment(speech, whole * part // sum(weights)) for part in (at, at + weight))
        found.append((text, start, max(end, start + MIN_WORD_MS)))
        at += weight
    return tuple(found)


def _moment(speech: Sequence[tuple[int, int]], spoken_ms: int) -> int:
    """The time at which so much has been spoken."""
    for start_ms, end_ms in speech:
        if spoken_ms <= end_ms - start_ms:
            return start_ms + spoken_ms
        spoken_ms -= end_ms - start_ms
    return speech[-1][1]
