"""Measuring a transcript against a script that somebody else wrote: word error rate, and names right.

WER = (S + D + I) / N, reckoned by jiwer. Before comparing, both sides are put into one spelling: case, punctuation,
British and American endings stay as they are, and years and small numbers in digits become words.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import jiwer
from num2words import num2words

from archive.domain.letters import folded
from archive.rules.places import together

_KEEP = re.compile(r"[^a-z0-9' ]+")
_POUNDS = re.compile(r"£(\d+)")
_NUMBER = re.compile(r"(?<![a-z0-9])'?(\d+)'?(s|st|nd|rd|th)?(?![a-z0-9])")


@dataclass(frozen=True, slots=True)
class Measured:
    """Words in the script, errors against it, and how many of the names said in it came back."""

    words: int
    errors: int
    names: int
    names_right: int

    @property
    def rate(self) -> float:
        """Word error rate, 0..1 (and above, where more was heard than said)."""
        return self.errors / self.words if self.words else 0.0


def normal(text: str) -> str:
    """Lower case, no punctuation, hyphens parted, numbers in words."""
    plain = folded(text).replace("-", " ").replace("…", " ")
    plain = re.sub(r"(?<=\d),(?=\d{3})", "", plain)
    plain = _POUNDS.sub(r"\1 pounds", plain)
    plain = _NUMBER.sub(_spelled, _KEEP.sub(" ", plain)).replace("-", " ").replace(",", " ")
    words = " ".join(word.strip("'") for word in plain.split())
    return re.sub(r"\ba (?=hundred|thousand)", "one ", words)


def _spelled(match: re.Match[str]) -> str:
    """Digits as they are said: 1959 nineteen fifty-nine, 74 seventy-four, 1970s nineteen seventies, 12th twelfth."""
    number, ending = int(match[1]), match[2] or ""
    if ending in ("st", "nd", "rd", "th"):
        return str(num2words(number, ordinal=True))
    said = str(num2words(number, to="year" if 1100 <= number <= 2099 else "cardinal"))
    if ending:
        return said.removesuffix("y") + "ies" if said.endswith("y") else said + "s"
    return said


def against(script: str, heard: str, names: Iterable[str]) -> Measured:
    """Measure what was heard against what was said. `names`: every name whose spelling matters; the longest that fits
    counts once, and written together or apart it is the same ("Rope Walk", "Ropewalk")."""
    said_words, heard_words = normal(script), normal(heard)
    output = jiwer.process_words(said_words, heard_words)
    errors = output.substitutions + output.deletions + output.insertions
    listed = sorted({normal(n) for n in names} - {""}, key=len, reverse=True)
    wanted, found = _named(said_words, listed), _named(heard_words, listed)
    return Measured(len(said_words.split()), errors, wanted.total(), (wanted & found).total())


def summed(parts: Sequence[Measured]) -> Measured:
    """The sum over several recordings."""
    return Measured(*(sum(getattr(p, f) for p in parts) for f in ("words", "errors", "names", "names_right")))


def _named(text: str, names: Sequence[str]) -> Counter[str]:
    """How often each of these names stands in the text, longest first."""
    if not names:
        return Counter()
    apart = [" ?".join(map(re.escape, together(name))) for name in names]
    pattern = re.compile(rf"(?<![a-z0-9])(?:{'|'.join(apart)})(?![a-z0-9])")
    return Counter(together(found) for found in pattern.findall(text))
