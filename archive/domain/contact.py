"""How somebody may be written to, and what must then be kept to: their contact rules. Pure.

Nothing on record means the most careful answer: a plain envelope, no voicemail, and no address.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum


class Rule(StrEnum):
    """What somebody asked us to keep to whenever we write, ring or label something."""

    NO_VOICEMAIL = "no_voicemail"
    PLAIN_ENVELOPE = "plain_envelope"
    NOT_AT_HOME = "not_at_home"  # somebody they live with is not to know: nothing comes to their home


RULE_WORDS = {
    Rule.NO_VOICEMAIL: "Leave no message on a voicemail, and none with whoever answers.",
    Rule.PLAIN_ENVELOPE: "Plain envelope: no sender, no name of the archive or the exhibition on the outside.",
    Rule.NOT_AT_HOME: "Somebody at home is not to know: post nothing and ring nobody there. Hand it over in person.",
}
NOT_ON_RECORD = "How to reach them is not on record: it is written to be handed over, and goes out, if at all, in a plain envelope."


@dataclass(frozen=True, slots=True)
class Contact:
    """How to reach one person. `called`: how they are addressed, "" by their full name; `address`: its lines; `language`: of letters and forms;
    `large`: they read large print; `how`: for the team (a telephone number, through whom)."""

    called: str = ""
    address: tuple[str, ...] = ()
    rules: frozenset[Rule] = frozenset()
    language: str = "en"
    large: bool = False
    how: str = ""
    known: bool = True

    @property
    def by_hand(self) -> bool:
        """True where nothing may be posted: it is handed over."""
        return Rule.NOT_AT_HOME in self.rules or not self.address

    @property
    def plain(self) -> bool:
        """True where the outside says nothing of who writes."""
        return bool(self.rules & {Rule.PLAIN_ENVELOPE, Rule.NOT_AT_HOME})

    def outside(self, name: str) -> tuple[str, ...]:
        """The lines of an address that may be read from outside; the name alone where nothing may be posted."""
        return (self.called or name,) if self.by_hand else (self.called or name, *self.address)

    def notes(self) -> tuple[str, ...]:
        """What the team must keep to, in sentences."""
        return (*((NOT_ON_RECORD,) if not self.known else ()), *(RULE_WORDS[rule] for rule in Rule if rule in self.rules))


UNKNOWN = Contact(rules=frozenset({Rule.NO_VOICEMAIL, Rule.PLAIN_ENVELOPE}), known=False)


def rules_of(codes: Iterable[str]) -> frozenset[Rule]:
    """Rules from what is on record."""
    return frozenset(Rule(code) for code in codes)
