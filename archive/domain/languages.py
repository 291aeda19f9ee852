"""Languages by their tags (BCP 47, RFC 5646) and in plain English; which language is spoken where in a recording. Pure.

Tags are read, checked against the registry of subtags, and named by langcodes and the tables of CLDR that come with it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

import langcodes

from archive.errors import BadInput

MOST_LETTERS = 35  # of a tag (RFC 5646 §4.4.1)
_NONE = {"und", "mul", "zxx", "mis"}  # undetermined, several, no language, uncoded (RFC 5646 §4.1): they tell nobody how to listen
_WRITE = "Write it as a tag like en, cy or pl, or as its English name."


@lru_cache(maxsize=1000)
def tag(text: str) -> str:
    """The language somebody meant, by its tag or its English name, as a tag in its usual form: "Welsh" → cy, "en_gb" → en-GB.

    Raises BadInput for what is no language of the registry.
    """
    written = " ".join(text.split())
    if not written:
        raise BadInput("No language was named.", _WRITE)
    try:
        found = langcodes.standardize_tag(written)
    except ValueError:  # no tag
        try:
            found = langcodes.find(written).to_tag()
        except LookupError:
            raise BadInput("What was written as a language is none that we know.", _WRITE) from None
    if not langcodes.tag_is_valid(found) or len(found) > MOST_LETTERS:
        raise BadInput("What was written as a language is none of the registry of languages (RFC 5646).", _WRITE)
    if primary(found) in _NONE:
        raise BadInput("That says of no language which it is.", "Name one language; where several are spoken, name each for its stretch.")
    return found


def primary(of: str) -> str:
    """The language itself, without script, region or variety: en-GB → en."""
    return of.partition("-")[0].lower()


@lru_cache(maxsize=1000)
def name(of: str) -> str:
    """A tag in English: cy → Welsh, pt-BR → Portuguese (Brazil); the tag itself where it has no name."""
    try:
        said = langcodes.Language.get(of).display_name("en")
    except ValueError:
        return of
    return of if said.startswith("Unknown language") else said


@dataclass(frozen=True, slots=True)
class Told:
    """What a person said: this language is spoken from–to (ms), or (None) in all of the recording. `tag` "": what they said of
    that stretch before does not count any more."""

    start_ms: int | None
    end_ms: int | None
    tag: str


@dataclass(frozen=True, slots=True)
class Spoken:
    """Which language is spoken where: in all of a recording, but for stretches (start_ms, end_ms, tag), apart and in order."""

    whole: str
    stretches: tuple[tuple[int, int, str], ...] = ()

    def at(self, start_ms: int, end_ms: int) -> str:
        """The language of a stretch (ms): the one that most of it is spoken in."""
        lasting: dict[str, int] = {}
        for s, e, language in self.pieces(max(end_ms, start_ms + 1), start_ms):
            lasting[language] = lasting.get(language, 0) + e - s
        return max(lasting, key=lambda language: lasting[language])

    def pieces(self, end_ms: int, start_ms: int = 0) -> tuple[tuple[int, int, str], ...]:
        """From start to end (ms) without a gap: (from, to, tag), neighbours of one language as one."""
        found: list[tuple[int, int, str]] = []
        at = start_ms
        for s, e, language in (*self.stretches, (end_ms, end_ms, "")):
            s, e = max(at, min(s, end_ms)), min(e, end_ms)
            for piece in ((at, s, self.whole), (s, e, language)):
                if piece[0] >= piece[1]:
                    continue
                if found and found[-1][2] == piece[2]:
                    found[-1] = (found[-1][0], piece[1], piece[2])
                else:
                    found.append(piece)
            at = max(at, e)
        return tuple(found)


def spoken(whole: str, told: Iterable[Told]) -> Spoken:
    """What counts of everything that was said, in its order: the later word of two about the same moment.

    `whole`: the language of the recording until somebody said another.
    """
    stretches: list[tuple[int, int, str]] = []
    for one in told:
        if one.start_ms is None or one.end_ms is None:
            whole = one.tag or whole
            continue
        start_ms, end_ms = one.start_ms, one.end_ms
        left = [(s, min(e, start_ms), t) for s, e, t in stretches if s < start_ms]
        right = [(max(s, end_ms), e, t) for s, e, t in stretches if e > end_ms]
        stretches = left + ([(start_ms, end_ms, one.tag)] if one.tag else []) + right
    return Spoken(whole, tuple(sorted(stretches)))
