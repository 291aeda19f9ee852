"""What an erasure takes away and what it leaves: decided here, without files, clock or database."""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

RUN_WORDS = 10  # so many words in a row say whose they were (issue 7; shorter runs are everybody's)
ERASED = "[erased]"
STEPS = (
    "closing the archive to everybody else",
    "making recordings in which this speech is silent",
    "taking the words, names and records out of the database",
    "describing anew what stays",
    "removing files",
    "writing the database anew, without what was freed",
    "writing the list that travels with backups",
    "searching the raw bytes of the whole folder",
)
Times = tuple[tuple[int, int], ...]  # half-open, ms, in order, apart


class State(StrEnum):
    """How far an erasure has come."""

    ASKED = "asked for"
    ERASING = "erasing"
    DONE = "done"
    TAKEN_BACK = "taken back"


class Paper(StrEnum):
    """What becomes of the signed paper: kept as bare proof that there was an agreement, or gone too."""

    KEEP = "keep"
    DESTROY = "destroy"


@dataclass(frozen=True, slots=True)
class Part:
    """What goes of one recording: all of it (`stretches` empty), or these stretches. `sha256`: of the file that held it."""

    recording: str
    sha256: str
    stretches: Times = ()

    @property
    def whole(self) -> bool:
        """Whether nothing of the recording stays."""
        return not self.stretches

    def to_json(self) -> dict[str, Any]:
        """As it stands in the list that travels with backups."""
        return {"recording": self.recording, "sha256": self.sha256, "stretches": [list(s) for s in self.stretches]}


def part_of(data: Mapping[str, Any]) -> Part:
    """The same, read back."""
    return Part(str(data["recording"]), str(data["sha256"]), tuple((int(s), int(e)) for s, e in data["stretches"]))


@dataclass(frozen=True, slots=True)
class Heard:
    """One utterance: from, to (ms), and who speaks; None: nobody was named."""

    start_ms: int
    end_ms: int
    person_id: int | None


def silent_but_for_others(duration_ms: int, heard: Collection[Heard], person_id: int, beyond_ms: int) -> Times:
    """Everything of a recording but what others say: where nobody speaks it counts as everybody's, as it does everywhere else
    (DESIGN §4, 3), since a sigh or a half word there may be theirs. What they say is taken `beyond_ms` wider: a word's time is a guess."""
    kept: list[tuple[int, int]] = []
    mine = [(max(0, u.start_ms - beyond_ms), u.end_ms + beyond_ms) for u in heard if u.person_id == person_id]
    others = merged((u.start_ms, u.end_ms) for u in heard if u.person_id not in (None, person_id))
    for other in others:
        kept += outside(other, mine)
    return tuple(outside((0, duration_ms), kept))


def merged(times: Iterable[tuple[int, int]]) -> Times:
    """In order and apart; what touches is one."""
    found: list[tuple[int, int]] = []
    for start, end in sorted(t for t in times if t[1] > t[0]):
        if found and start <= found[-1][1]:
            found[-1] = (found[-1][0], max(end, found[-1][1]))
        else:
            found.append((start, end))
    return tuple(found)


def outside(whole: tuple[int, int], gone: Iterable[tuple[int, int]]) -> list[tuple[int, int]]:
    """What is left of a stretch without these."""
    left, at = [], whole[0]
    for start, end in merged(gone):
        if start > at:
            left.append((at, min(start, whole[1])))
        at = max(at, end)
    if at < whole[1]:
        left.append((at, whole[1]))
    return [(s, e) for s, e in left if e > s]


def touches(start_ms: int, end_ms: int, gone: Iterable[tuple[int, int]]) -> bool:
    """Whether a stretch shares time with any of these."""
    return any(start_ms < end and start < end_ms for start, end in gone)


def without(words: Sequence[Sequence[Any]], gone: Times) -> tuple[list[Sequence[Any]], dict[int, int]]:
    """(the words [text, start_ms, end_ms, …] that stay, old number → new number of those). A word that an edge cuts goes whole."""
    kept = [n for n, word in enumerate(words) if not touches(word[1], word[2], gone)]
    return [words[n] for n in kept], {n: new for new, n in enumerate(kept)}


def moved(spans: Iterable[Sequence[int]], numbers: Mapping[int, Mapping[int, int]]) -> list[list[int]] | None:
    """Spans [block, first, last] by the new numbers of the words of changed blocks; None where any of their words went."""
    found = []
    for block, first, last in spans:
        changed = numbers.get(block)
        if changed is not None and any(n not in changed for n in range(first, last + 1)):
            return None
        found.append([block, first, last] if changed is None else [block, changed[first], changed[last]])
    return found


# --- what must be found nowhere ---------------------------------------------------------------------------------------
_TOKEN = re.compile(r"[^\W\d_]+")
_ESCAPED = re.compile(r"\\u([0-9a-fA-F]{4})")


def folded(text: str) -> str:
    """Letters as they are compared in raw bytes: escapes of JSON read, accents and case away."""
    plain = _ESCAPED.sub(lambda m: chr(int(m[1], 16)), text) if "\\u" in text else text
    if not plain.isascii():
        plain = "".join(c for c in unicodedata.normalize("NFKD", plain) if not unicodedata.combining(c))
    return plain.casefold()


def tokens(text: str) -> list[str]:
    """The words of a text, or of raw bytes read as one: runs of letters alone, so that times and brackets between words do not count."""
    return _TOKEN.findall(folded(text))


def runs(said: Sequence[str]) -> Iterator[str]:
    """Every ten words in a row, as one text."""
    for n in range(len(said) - RUN_WORDS + 1):
        yield " ".join(said[n : n + RUN_WORDS])


def digest_by(salt: str) -> Callable[[bytes], bytes]:
    """Eight bytes of some bytes, by this salt (hexadecimal)."""
    key = bytes.fromhex(salt)
    return lambda data: hashlib.blake2b(data, digest_size=8, key=key).digest()


def in_text(text: str, names: Collection[str]) -> str:
    """A text with each of these names, however it is written, replaced by [erased]; the longest first."""
    for name in sorted(names, key=lambda n: -len(n)):
        text = re.sub(rf"(?<!\w){re.escape(name)}(?!\w)", ERASED, text, flags=re.IGNORECASE)
    return text


def in_data(value: Any, names: Collection[str]) -> Any:
    """The same in whatever JSON holds; keys stay."""
    if isinstance(value, str):
        return in_text(value, names)
    if isinstance(value, list):
        return [in_data(v, names) for v in value]
    return {k: in_data(v, names) for k, v in value.items()} if isinstance(value, dict) else value


def names_any(value: Any, wanted: Collection[str]) -> bool:
    """Whether any of these texts stands by itself somewhere in JSON, as a value or a key."""
    if isinstance(value, str):
        return value in wanted
    if isinstance(value, list):
        return any(names_any(v, wanted) for v in value)
    return isinstance(value, dict) and any(k in wanted or names_any(v, wanted) for k, v in value.items())
