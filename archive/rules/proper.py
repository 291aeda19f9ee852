"""Names proper in words that point to somebody: what can be looked for elsewhere. "My mother" and "the shop" cannot. Pure."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from archive.domain.letters import core, folded, plain_signs, without_possessive
from archive.domain.values import Naming
from archive.rules.capitals import NO_NAMES
from archive.rules.data.given_names import GIVEN_NAMES
from archive.rules.data.people_words import KIN, KIN_TITLES, OFFICES, PERSONS, TITLES, TRADES

_POINTING = NO_NAMES | KIN | KIN_TITLES | OFFICES | PERSONS | TITLES | TRADES
_FEWEST_DIGITS = 7  # a shorter number may be years or a price


@dataclass(frozen=True, slots=True)
class Proper:
    """A name in hidden words. `common`: a given name alone, which others bear as well; `whole`: no word is spelled like it."""

    text: str
    common: bool = False
    whole: bool = False


def proper_names(said: str, kind: Naming, places: Collection[str] = ()) -> tuple[Proper, ...]:
    """The names proper in hidden words: capitals in a row, each of them alone, a telephone number. () where there are none.

    Descriptions, kin, houses and hidden places have none: these words occur elsewhere and mean nobody. `places`: folded words
    of the gazetteer, which are not looked for alone.
    """
    if kind == Naming.NUMBER:
        digits = " ".join(part for part in said.split() if any(c.isdigit() for c in part)).strip(".,;:")
        return (Proper(digits, whole=True),) if sum(c.isdigit() for c in digits) >= _FEWEST_DIGITS else ()
    if kind not in (Naming.NAME, Naming.KIN):
        return ()
    rows: list[list[str]] = [[]]
    for word in said.split():
        bare = _bare(word)
        if bare[:1].isupper() and len(bare) > 1 and folded(bare) not in _POINTING:
            rows[-1].append(bare)
        if not bare[:1].isupper() or word.endswith((".", "!", "?")):
            rows.append([])
    found = {Proper(" ".join(row), whole=True): None for row in rows if len(row) > 1}
    for part in (p for row in rows for p in row):
        if folded(part) not in places:
            found[Proper(part, common=folded(part) in GIVEN_NAMES)] = None
    return tuple(found)


def _bare(word: str) -> str:
    """Without punctuation and possessive, its capitals kept."""
    plain = plain_signs(core(word))
    return plain[: len(without_possessive(plain))]
