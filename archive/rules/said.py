"""Words as the rules of pointing see them: tokens, with the names and places among them marked. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from archive.domain.letters import plain_signs
from archive.domain.values import Naming
from archive.rules.spoken import Token

_SHORT_TITLES = frozenset(("mr", "mrs", "ms", "mx", "dr", "prof", "rev", "st", "capt", "sgt"))


class Found(NamedTuple):
    """What a rule found: tokens first..last (inclusive), how they point, to whom (None: nobody on record), and why."""

    first: int
    last: int
    kind: Naming
    person_id: int | None
    rule: str


@dataclass(slots=True)
class Said:
    """Tokens in order, with the places and names among them."""

    spoken: Sequence[Token]
    places: dict[int, int] = field(default_factory=dict)  # first token of a place → its last
    inside: set[int] = field(default_factory=set)  # every token of a place
    named: dict[int, int] = field(default_factory=dict)  # every token of a name → its last token
    known: list[Found] = field(default_factory=list)  # names on record

    def __len__(self) -> int:
        return len(self.spoken)

    def text(self, at: int) -> str:
        """The folded text of a token; "" outside."""
        return self.spoken[at].text if 0 <= at < len(self.spoken) else ""

    def ends(self, at: int) -> bool:
        """True where a sentence or its part closes behind this token; the dot of "Mr." closes nothing."""
        return not 0 <= at < len(self.spoken) or bool(self.spoken[at].stop) and self.text(at) not in _SHORT_TITLES

    def closes(self, at: int) -> bool:
        """True where a sentence closes behind this token."""
        return not 0 <= at < len(self.spoken) or self.spoken[at].stop == "." and self.text(at) not in _SHORT_TITLES

    def opens(self, at: int) -> bool:
        """True where a sentence begins."""
        return self.spoken[at].opens and self.text(at - 1) not in _SHORT_TITLES

    def capital(self, at: int) -> bool:
        """True where a token is written with a capital."""
        return 0 <= at < len(self.spoken) and self.spoken[at].capital

    def mark(self, found: Found) -> None:
        """Note a name, so that other rules see it."""
        for at in range(found.first, found.last + 1):
            self.named[at] = max(found.last, self.named.get(at, -1))

    def is_name(self, at: int) -> bool:
        """True where a token belongs to a name."""
        return at in self.named

    def owner(self, at: int) -> str:
        """The word without its possessive ending, where it has one ("Lund's", "Hobbs'"); else ""."""
        text = self.text(at)
        if text.endswith("'s"):
            return text[:-2]
        raw = plain_signs(self.spoken[at].raw).rstrip(".,;:!?") if text.endswith("s") else ""
        return text if raw.endswith("s'") else ""


def bare(token: Token) -> str:
    """The letters of a token without a possessive ending."""
    text = token.text
    if text.endswith("'s"):
        return "".join(c for c in text[:-2] if c.isalnum())
    return token.letters
