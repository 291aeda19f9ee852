"""Names of people who are not on record, by their titles, their capitals and their company. Pure."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from archive.domain.values import Naming
from archive.rules.data.given_names import ALSO_WORDS, GIVEN_NAMES
from archive.rules.data.ordinary import ORDINARY
from archive.rules.data.people_words import BEFORE_TITLE, DONE, KIN_TITLES, TITLES
from archive.rules.said import Found, Said, bare
from archive.rules.seasons import MONTHS

NO_NAMES = ORDINARY - GIVEN_NAMES | frozenset(MONTHS) | frozenset(("nan", "nana", "nanna", "dad", "mum", "christmas"))


def titled(said: Said) -> Iterator[Found]:
    """ "old Mrs …", "Constable …", "Uncle Ted": a title before a capitalised word. Names on record are found without it."""
    for at in range(len(said) - 1):
        title = said.text(at)
        if title not in TITLES and title not in KIN_TITLES or said.ends(at) or said.is_name(at):
            continue
        last = at
        while said.capital(last + 1) and last + 1 not in said.inside:
            if last > at and (said.ends(last) or bare(said.spoken[last + 1]) in NO_NAMES):
                break
            last += 1
        if last == at or bare(said.spoken[at + 1]) in ("i", "god", *MONTHS) or said.is_name(at + 1):
            continue
        first = at
        while first > 0 and said.text(first - 1) in BEFORE_TITLE and not said.ends(first - 1):
            first -= 1
        kin = title in KIN_TITLES
        yield Found(first, last, Naming.KIN if kin else Naming.NAME, None, "kin and a name" if kin else "title and a name")


def capitalised(said: Said, no_names: Collection[str]) -> Iterator[Found]:
    """Capitals in a row, or one alone, that are no name on record, no place, no day and no ordinary word."""
    small = {t.letters for t in said.spoken if not t.capital}
    at = 0
    while at < len(said):
        if not _may_be(said, at, no_names):
            at += 1
            continue
        last = at
        while not said.ends(last) and "'" not in said.text(last) and _may_be(said, last + 1, no_names):
            last += 1
        rule = _why(said, at, last, small)
        if rule:
            yield Found(at, last, Naming.NAME, None, rule)
        at = last + 1


def spelled_initials(said: Said) -> Iterator[Found]:
    """ "J. B.", "J.B.": two single capitals with dots, in a row."""
    for at in range(len(said) - 1):
        one, two = said.spoken[at], said.spoken[at + 1]
        single = len(one.letters) == len(two.letters) == 1 and one.letters.isalpha() and two.letters.isalpha()
        dotted = one.capital and two.capital and "." in one.raw and "." in two.raw
        if single and dotted and not said.is_name(at) and not said.is_name(at + 1):
            yield Found(at, at + 1, Naming.NAME, None, "initials")


def _may_be(said: Said, at: int, no_names: Collection[str]) -> bool:
    if not said.capital(at) or at in said.inside or said.is_name(at):
        return False
    word = bare(said.spoken[at])
    if len(word) < 2 or not word.isalpha() or word in no_names:
        return False
    return word not in NO_NAMES and not (word in ALSO_WORDS and said.opens(at) and word in ORDINARY)


def _why(said: Said, first: int, last: int, small: Collection[str]) -> str:
    """In plain words, why these capitals may name somebody; "" where they do not look so."""
    word, opens = bare(said.spoken[first]), said.opens(first)
    if last > first:
        return "" if opens and word in ORDINARY and last == first + 1 and bare(said.spoken[last]) in small else "first and family name"
    beside = said.is_name(first - 1) and not said.ends(first - 1) or said.is_name(last + 1) and not said.ends(last)
    if beside and not (opens and word in small and word not in GIVEN_NAMES):
        return "beside a name on record"
    if word in GIVEN_NAMES and not (opens and (word in ALSO_WORDS or word in small)):
        return "a given name"
    if not opens:
        return "" if word in small else "written like a name, and no place or day on record"
    owned = bool(said.owner(first)) and word not in small
    return "opens a sentence like a name" if word not in small and (said.text(last + 1) in DONE and not said.ends(last) or owned) else ""
