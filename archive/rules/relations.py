"""Words that point to somebody without a name: kin, houses, work, what sets one apart. Pure.

They would rather find one too many than one too few, but not bare kin ("my mother") nor one of many ("a constable").
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from archive.domain.values import Naming
from archive.rules.data import people_words as known
from archive.rules.data.people_words import CLOSE_KIN, COMPANY, KIN, OFFICES, PERSONS, SINGLING, STREET_ENDS, TRADES
from archive.rules.numbers import cardinal
from archive.rules.said import Found, Said
from archive.rules.spoken import word_set

_WHOSE = word_set("my our his her their your")
_ARTICLES = word_set("the a an our that this one my your his her their")
_ADJECTIVES = word_set(
    "old young little younger elder eldest oldest youngest big late dear poor best own great first second only other married lame blind deaf "
    "red-haired tall short fat thin quiet dead long-lost great-")
_AT = word_set("on at in of by near off up down behind opposite along above below")
_BACK = 25  # tokens within which "his wife" is still the wife of whoever was named
_MOST_TAIL = 16
_WHO = frozenset(("who", "that", "whose"))


def pointing(said: Said) -> Iterator[Found]:
    """Everything that points to somebody without naming them, rule by rule, in the order of the words."""
    for at in range(len(said)):
        for rule in _RULES:
            found = rule(said, at)
            if found is not None:
                yield found


# -- what several rules ask --------------------------------------------------------------------------------------------------
def _after_adjectives(said: Said, at: int, most: int = 2) -> int:
    """The first token from `at` on that is no adjective of those usual before kin."""
    end = at + most
    while at < end and said.text(at) in _ADJECTIVES and not said.ends(at):
        at += 1
    return at


def _place_after(said: Said, last: int) -> int:
    """The end of "… on Net Row" behind `last`; `last` where no place follows."""
    at = last + 1
    if said.ends(last) and said.closes(last):
        return last
    while at - last <= 3 and (said.text(at) in _AT or said.text(at) == "the") and not said.ends(at):
        at += 1
    for begin in (at, at - 1):  # the article may be part of the place's name
        if begin > last + 1 and begin in said.places:
            return said.places[begin]
    return last


def _clause_end(said: Said, at: int, most: int) -> int:
    """The last token of a clause that runs from `at`, at most so many tokens on."""
    last = at
    while not said.ends(last) and last + 1 < len(said) and last - at < most:
        last += 1
    return last


def _is_trade(said: Said, at: int) -> bool:
    text = said.text(at)
    if text in TRADES:
        return True
    compound = text in ("man", "woman") and said.text(at - 1) not in _ARTICLES | _ADJECTIVES
    return compound or (len(text) > 6 and text.endswith(known.TRADE_ENDS))


def _pointed_before(said: Said, at: int) -> bool:
    """Whether somebody was named, or told by an office, shortly before."""
    return any(said.is_name(back) or said.text(back) in OFFICES for back in range(max(0, at - _BACK), at))


# -- kin -------------------------------------------------------------------------------------------------------------------
def _kin_and_name(said: Said, at: int) -> Found | None:
    """ "my cousin Ted", "his old friend, Ann Teller"."""
    if said.text(at) not in _WHOSE or said.ends(at):
        return None
    kin = _after_adjectives(said, at + 1)
    if said.text(kin) not in COMPANY or said.closes(kin) or not said.is_name(kin + 1):
        return None
    if said.ends(kin) and said.text(at) == "your":
        return None  # "your mother, Maud?" speaks to Maud
    return Found(at, said.named[kin + 1], Naming.KIN, None, "kin or company, and a name")


def _kin_of(said: Said, at: int) -> Found | None:
    """ "Lund's wife", "the constable's brother", "the mayor's eldest daughter"."""
    owner = said.owner(at)
    if not owner or said.ends(at):
        return None
    kin = _after_adjectives(said, at + 1)
    if said.text(kin) not in KIN:
        return None
    if said.is_name(at):
        first = at
        while said.is_name(first - 1) and said.named[first - 1] == said.named[at]:
            first -= 1
        return Found(first, kin, Naming.KIN, None, "kin of somebody named")
    if owner in TRADES or owner.endswith(known.TRADE_ENDS) and len(owner) > 6:
        back = next((n for n in (1, 2) if said.text(at - n) in _ARTICLES and not said.ends(at - 1)), 0)
        return Found(at - back, kin, Naming.KIN, None, "kin of somebody told by their work")
    return None


def _kin_of_turned(said: Said, at: int) -> Found | None:
    """ "the brother of the constable", "a sister of Lund's"."""
    if said.text(at) not in KIN or said.text(at + 1) != "of" or said.ends(at):
        return None
    first = at - 1 if said.text(at - 1) in _ARTICLES else at
    if said.is_name(at + 2):
        return Found(first, said.named[at + 2], Naming.KIN, None, "kin of somebody named")
    whom = at + 3 if said.text(at + 2) in ("the", "that", "our") else at + 2
    if said.text(whom) in TRADES and said.text(at + 2) in ("the", "that", "our"):
        return Found(first, whom, Naming.KIN, None, "kin of somebody told by their work")
    return None


def _kin_of_just_named(said: Said, at: int) -> Found | None:
    """ "Walter Hobbs … and his wife": kin of whoever was named a moment before."""
    if said.text(at) not in ("his", "her") or said.ends(at):
        return None
    kin = _after_adjectives(said, at + 1)
    if said.text(kin) not in CLOSE_KIN or not _pointed_before(said, at):
        return None
    return Found(at, kin, Naming.KIN, None, "kin of somebody just named")


# -- houses ----------------------------------------------------------------------------------------------------------------
def _numbered_house(said: Said, at: int) -> Found | None:
    """ "62 Net Row", "number nine Ropewalk", "at number nine", "flat 3, Beacon Hill"."""
    marked = said.text(at) in ("number", "no", "flat", "numbers") and not said.closes(at)
    number = cardinal(said.spoken, at + 1 if marked else at)
    begin = at + 1 if marked else at
    text = said.text(begin)
    length = number.length if number is not None else (1 if text.isdigit() and len(text) <= 3 else 0)
    if not length and text[:-1].isdigit() and text[-1:] in ("a", "b", "c") and len(text) <= 4:
        length = 1
    if 0 < begin < len(said) and said.spoken[begin].word == said.spoken[begin - 1].word:
        return None  # the second half of "sixty-eight"
    if not length or said.text(at - 1) in ("in", "since", "until", "by") and not marked:
        return None
    last = begin + length - 1
    street = _street(said, last)
    if street > last:
        return Found(at, street, Naming.ADDRESS, None, "a house number and a street")
    told = said.text(at - 1) in ("at", "from", "in", "of", "to", "behind", "opposite", "lived") or said.text(at) == "flat"
    if marked and said.text(at) != "numbers" and told and said.text(last + 1) not in ("bus", "tram", "route", "priority", "of"):
        return Found(at, _place_after(said, last), Naming.ADDRESS, None, "a house number")
    return None


def _street(said: Said, last: int) -> int:
    """The end of a street's name that follows at once (or after a comma); `last` where none does."""
    if last + 1 in said.places and not said.closes(last) and said.capital(last + 1):
        return said.places[last + 1]
    for end in range(last + 1, last + 4):
        if said.ends(end - 1) or not said.capital(end):
            return last
        if said.text(end) in STREET_ENDS and end > last + 1:
            return end
    return last


def _doors_from(said: Said, at: int) -> Found | None:
    """ "four doors from us, on Ropewalk", "two doors down"."""
    if said.text(at + 1) not in ("door", "doors") or said.text(at + 2) not in ("from", "down", "up", "along", "away", "past", "below", "above"):
        return None
    if cardinal(said.spoken, at) is None and said.text(at) not in ("a", "few", "some", "couple"):
        return None
    last = at + 2
    if said.text(last) != "from" and said.text(last + 1) == "from" and not said.ends(last):
        last += 1
    if said.text(last) == "from" and last + 1 < len(said):
        last = said.named.get(last + 1, last + 1)
        if said.text(last) in ("the", "my", "our", "his", "her") and not said.ends(last):
            last += 1
    return Found(at, _place_after(said, last), Naming.ADDRESS, None, "a house told by its neighbours")


_BESIDE = (("next", "door"), ("opposite",), ("upstairs",), ("downstairs",), ("across", "the", "road"), ("across", "the", "street"),
           ("across", "the", "way"), ("over", "the", "road"), ("across", "the", "landing"))  # fmt: skip
_NEAR = PERSONS | word_set("people family neighbour neighbours couple lodger sisters brothers lot girls boys children")


def _neighbour(said: Said, at: int) -> Found | None:
    """ "the woman opposite", "from next door", "next door to the Lunds"."""
    text = said.text(at)
    if text == "from" and said.text(at + 1) == "next" and said.text(at + 2) == "door":
        return Found(at, at + 2, Naming.ADDRESS, None, "a neighbour, by the house")
    if text == "next" and said.text(at + 1) == "door" and said.text(at + 2) == "to" and not said.ends(at + 1) and at + 3 < len(said):
        last = said.named.get(at + 3, at + 3)
        if said.text(last) in _ARTICLES and not said.ends(last):
            last += 1
        return Found(at, last, Naming.ADDRESS, None, "a neighbour, by the house")
    if text not in ("the", "that", "our", "a") or said.ends(at):
        return None
    who = _after_adjectives(said, at + 1)
    if said.text(who) not in _NEAR or said.ends(who):
        return None
    for beside in _BESIDE:
        if tuple(said.text(who + 1 + n) for n in range(len(beside))) == beside:
            last = who + len(beside)
            if beside == ("opposite",) and said.text(last + 1) in ("the", "us", "me", "them") and not said.ends(last):
                continue  # "the man opposite the church" stood there
            return Found(at, last, Naming.ADDRESS, None, "a neighbour, by the house")
    return None


_HOUSES = word_set("house houses cottage flat farm lodgings rooms front-door")


def _house_of(said: Said, at: int) -> Found | None:
    """ "his daughter's house on Saltpan Square", "the Lunds' house", "the mayor's house"; "the end house on Net Row"."""
    owner = said.owner(at)
    if owner and said.text(at + 1) in _HOUSES and not said.ends(at):
        last = _place_after(said, at + 1)
        told = said.is_name(at) or owner in TRADES
        if not told and not (owner in KIN and last > at + 1):
            return None
        first = at - 1 if said.text(at - 1) in _ARTICLES else at
        return Found(first, last, Naming.ADDRESS, None, "somebody's house")
    if said.text(at) == "house" and said.text(at - 1) in ("end", "last", "first", "corner", "top", "bottom"):
        last = _place_after(said, at)
        if last > at:
            return Found(at - 2 if said.text(at - 2) in _ARTICLES else at - 1, last, Naming.ADDRESS, None, "one house of a street")
    return None


# -- work ------------------------------------------------------------------------------------------------------------------
def _keeper_of(said: Said, at: int) -> Found | None:
    """ "who kept the bread shop on Ropewalk", "she ran the floor"."""
    if said.text(at) not in known.HOUSE_VERBS or said.text(at - 1) in ("i", "we", "they", "you", "to", "and", "never") and said.text(at - 2) != "used":
        return None
    if said.text(at + 1) not in ("the", "our", "a", "that", "his", "her") or said.ends(at):
        return None
    end = next((n for n in range(at + 2, at + 5) if said.text(n) in known.HOUSES), None)
    if end is None or any(said.ends(n) for n in range(at, end)):
        return None
    last = _place_after(said, end)
    who = at - 1
    while said.text(who) in ("used", "to", "had", "always"):
        who -= 1
    if said.text(who) not in _WHO | {"she", "he"} and last == end:
        return None
    if said.text(who) in ("i", "we", "they", "you"):
        return None
    return Found(who if said.text(who) in _WHO else at, last, Naming.WORK, None, "a house that somebody kept or ran")


def _office(said: Said, at: int) -> Found | None:
    """ "the manager", "the harbour master's" is kin's; "the secretary of the strike committee"."""
    if said.text(at) not in ("the", "our", "that") or said.ends(at):
        return None
    for who in (at + 1, at + 2, at + 3):
        if said.capital(who) and not said.opens(who) and said.text(who) not in TRADES:
            return None
        if said.text(who) in TRADES and not said.is_name(who):
            break
        if said.ends(who):
            return None
    else:
        return None
    last = who
    if said.text(who + 1) in ("of", "at") and not said.ends(who) and said.text(who + 2) in ("the", "our", "this"):
        last = _clause_end(said, who + 2, 3)
        if who + 2 in said.places or who + 3 in said.places:
            last = said.places.get(who + 2, said.places.get(who + 3, last))
        last = next((n for n in range(who + 3, last + 1) if said.text(n) in known.DONE or said.text(n) in ("who", "that", "and", "were")), last + 1) - 1
        if last < who + 3:
            return None
    elif said.text(who) not in OFFICES or who > at + 2:
        return None
    return Found(at, last, Naming.WORK, None, "an office that one person holds")


def _trade_beside_name(said: Said, at: int) -> Found | None:
    """ "Tom Fletcher, the mate", "the chain man, Joseph Tandy", "Ted the milkman"."""
    if said.text(at) not in ("the", "our", "a") or said.ends(at) or said.opens(at) and said.text(at) == "a":
        return None
    who = next((n for n in (at + 1, at + 2, at + 3) if _is_trade(said, n)), None)
    if who is None or any(said.ends(n) or said.is_name(n) for n in range(at, who)):
        return None
    before = said.is_name(at - 1) and not said.closes(at - 1) and "'" not in said.text(at - 1)
    after = said.is_name(who + 1) and not said.closes(who)
    return Found(at, who, Naming.WORK, None, "the work of somebody named") if before or after else None


# -- what sets somebody apart ----------------------------------------------------------------------------------------------------
def _singled_out(said: Said, at: int) -> Found | None:
    """ "the only woman on the crew", "the first girl who …", "the oldest man aboard"."""
    if said.text(at) not in SINGLING or said.text(at - 1) not in ("the", "our", "that", "its") or said.ends(at):
        return None
    who = at + 1
    while who < at + 3 and said.text(who) not in PERSONS and not _is_trade(said, who) and not said.ends(who):
        who += 1
    if said.text(who) not in PERSONS and not (_is_trade(said, who) and said.text(who) not in ("man", "woman")):
        return None
    tail = said.text(who + 1) if not said.ends(who) else ""
    last = who
    if tail in ("who", "that", "on", "in", "at", "of", "to", "from", "with", "ever", "aboard", "left", "there", "among"):
        last = _clause_end(said, who + 1, 8)
    elif said.text(at) in ("first", "last") or said.text(who) == "one":
        return None
    if said.text(who) == "one" and tail not in ("who", "that"):
        return None
    return Found(at - 1, last, Naming.APART, None, "what sets one person apart")


def _somebody_who(said: Said, at: int) -> Found | None:
    """ "a man from Ropewalk who carried the collecting tin"."""
    if said.text(at) not in ("a", "the", "that", "this", "one") or said.ends(at):
        return None
    who = _after_adjectives(said, at + 1, 1)
    if said.text(who) not in PERSONS or said.ends(who):
        return None
    last = _place_after(said, who) if said.text(who + 1) != "from" else said.places.get(who + 2, said.places.get(who + 3, who))
    if last == who or said.text(last + 1) not in _WHO or said.closes(last):
        return None
    return Found(at, _clause_end(said, last + 1, _MOST_TAIL), Naming.APART, None, "somebody of a place, and what they did")


_RULES: tuple[Callable[[Said, int], Found | None], ...] = (
    _kin_and_name, _kin_of, _kin_of_turned, _kin_of_just_named, _numbered_house, _doors_from, _neighbour, _house_of, _keeper_of, _office,
    _trade_beside_name, _singled_out, _somebody_who,
)  # fmt: skip
