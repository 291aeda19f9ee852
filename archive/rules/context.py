"""What stands around a number and tells a year from a price, a house number, a count or a time of day. Pure.

The word lists are from memory (common English); they grow with what the samples teach.
"""

from __future__ import annotations

from collections.abc import Sequence

from archive.rules.numbers import DECADES, SMALL, TENS, Number
from archive.rules.spoken import Token, word_set

# Counted, weighed, paid or measured things: a number before one of these is no year.
COUNTED = word_set(
    "people men women children kids boys girls persons families souls hands head workers strikers constables men's feet "
    "foot inches inch yards yard miles mile metres meters fathoms fathom acres tons ton tonnes pounds pound lb lbs stone "
    "ounces pints gallons quid bob shillings shilling pence penny pennies p guineas dollars euros percent per degrees "
    "minutes minute seconds hours hour o'clock am pm weeks months days nights years year times houses doors rooms beds "
    "boats tins boxes crates links rivets bricks tickets crossings fish nets barrels sheep cars lorries horsepower volts "
    "vision knots hundred thousand million dozen odd past to-the-dozen more less each apiece yearly altogether different separate other such"
)
# After a year these may follow; they never name what is counted.
FUNCTION = word_set(
    "a an the and but or so then when where while that this it it's its he she we they i i'd i'm i've you my our his her "
    "their your there here who which what was were is are had has have did do didn't wasn't weren't because as at in on "
    "by with without for from to of until till since after before if not no yes again already still only just when's "
    "everybody everyone nobody somebody somewhere everything nothing dad mum father mother grandad gran grandmother "
    "between about all both one now well er um erm oh mr mrs miss would could might must should"
)
_STRONG = frozenset(("in", "since", "until", "till", "til"))
_WEAK = frozenset(("about", "around", "round", "by", "before", "after", "from", "to", "between", "and", "or", "was", "year"))
_NUMBERED = word_set(
    "number no house flat room page bus route door hut berth platform channel chapter lot box gate pier bed ward shed size "
    "score extension at ring dial"
)
_PAID = frozenset(("cost", "costs", "paid", "pay", "for", "earned", "earning", "charged", "price"))
_STREETS = word_set(
    "row street lane road square steps walk view hill wharf quay yard hall slip estate terrace avenue close court place "
    "ropewalk gardens buildings cottages"
)
_PLURAL_NOT = word_set("was is this its his has does as us always perhaps yes across sometimes towards besides")


def text_at(spoken: Sequence[Token], at: int) -> str:
    """The folded text of a token; "" outside."""
    return spoken[at].text if 0 <= at < len(spoken) else ""


def _numeric(text: str) -> bool:
    return text.isdigit() or text in SMALL or text in TENS


def year_fits(spoken: Sequence[Token], first: int, last: int, number: Number, in_range: bool) -> bool:
    """Whether a year said in full is one, and no price, count, house number or time of the day."""
    before, after = text_at(spoken, first - 1), "" if spoken[last].stop else text_at(spoken, last + 1)
    if after in COUNTED or _street_follows(spoken, last) or (after == "of" and text_at(spoken, last + 2) != "course"):
        return False
    if _more_counted(spoken, last):
        return False
    if in_range:
        return True
    if before in _NUMBERED or (number.value < 1700 and before not in _STRONG | {"of", "year"}):
        return False
    of_a_day = number.spelled and number.value > 2000 and number.value % 5 == 0 and number.length < 3
    if of_a_day and (before not in _STRONG | _WEAK | {"of"} or before in ("was", "or")):
        return False  # "twenty ten" is a time of the day as well
    if number.spelled and text_at(spoken, last + 2) in ("cost", "costs"):
        return False
    if number.spelled and before in _PAID and not (before == "for" and number.value % 100 > 12):
        return False
    if number.value == 2000 and number.spelled:
        return before in _STRONG or before in _WEAK or before == "of"
    return not (_numeric(before) and not spoken[first - 1].stop)


def _more_counted(spoken: Sequence[Token], last: int) -> bool:
    """ "1500 and 2000 people", "60 to 75 shillings": what is counted stands behind the second number."""
    if text_at(spoken, last + 1) not in ("and", "to", "or") or spoken[last].stop:
        return False
    n = last + 2
    while n < len(spoken) and _numeric(spoken[n].text) and not spoken[n].stop:
        n += 1
    return n > last + 2 and text_at(spoken, n) in COUNTED - {"past"}


def short_year_fits(spoken: Sequence[Token], first: int, last: int, number: Number, in_range: bool) -> bool:
    """Whether two digits are a year: by an apostrophe, the word before, and what follows."""
    before, after = text_at(spoken, first - 1), "" if spoken[last].stop else text_at(spoken, last + 1)
    if after in COUNTED or _street_follows(spoken, last) or _more_counted(spoken, last):
        return False
    if after == "of" and text_at(spoken, last + 2) != "course":
        return False
    if number.marked:
        return in_range or before not in _NUMBERED
    if number.value < 20 and not _nought_before(spoken, first, number):
        return False
    if in_range:
        return after != "of" and not _counts_on(after)
    if before in _NUMBERED or number.value == 20:
        return False
    if spoken[first].opens:
        return _answers(spoken, last)
    if first > 0 and spoken[first - 1].stop:
        return False
    if before in _STRONG:
        earlier = text_at(spoken, first - 2)
        return not (_numeric(earlier) or earlier == "out") and not _counts_on(after)
    return before in _WEAK and _weak_fits(spoken, first, number, after)


def _answers(spoken: Sequence[Token], last: int) -> bool:
    """ "Sixty-eight, that was." — a year that opens a sentence."""
    return spoken[last].stop == "," and [t.text for t in spoken[last + 1 : last + 3]] in (
        ["that", "was"], ["it", "was"], ["it", "must"], ["that", "would"], ["that", "must"],
    )


def time_after_until(spoken: Sequence[Token], first: int, last: int) -> bool:
    """After "until" and "since" two digits need no more than what follows: "until sixty" may be an age."""
    number = spoken[first]
    return number.text not in TENS or last > first or "'" in number.raw.replace("’", "'")


def round_number(edtf: str, rule: str) -> bool:
    """True for a year given by its tens alone ("fifty")."""
    return rule == "year without its century" and edtf.endswith("0")


def _weak_fits(spoken: Sequence[Token], first: int, number: Number, after: str) -> bool:
    """After "about", "by", "before": only in company that speaks of time, and where nothing counted can follow."""
    before = text_at(spoken, first - 1)
    if after and after not in FUNCTION:
        return False
    if before == "year":
        return text_at(spoken, first - 2) == "the"
    if before == "was":
        if number.value % 10 == 0 and after not in ("", "when"):
            return False  # "it was seventy that day"
        return text_at(spoken, first - 2) in ("it", "that", "this", "year") and not _numeric(after) and after != "to"
    return before in ("about", "around", "round", "by", "before", "after") and (
        text_at(spoken, first - 2) in ("in", "was", "it", "be", "been", "back", "till", "until", "round", "just", "since")
        or before in ("by", "before", "after") and (after == "" or after in FUNCTION - {"of", "in"})
    )


def _nought_before(spoken: Sequence[Token], first: int, number: Number) -> bool:
    return number.length == 2 and number.value < 10 and spoken[first].text not in TENS


def _counts_on(after: str) -> bool:
    """True where the next word looks like a plural, that is like something counted."""
    return len(after) > 3 and after.endswith("s") and not after.endswith(("'s", "ss")) and after not in _PLURAL_NOT


def _street_follows(spoken: Sequence[Token], last: int) -> bool:
    """ "62 Net Row": a capitalised name with a street's word in it."""
    if spoken[last].stop:
        return False
    for n in range(last + 1, min(last + 4, len(spoken))):
        token = spoken[n]
        if not token.capital:
            return False
        if token.text in _STREETS:
            return True
        if token.stop:
            return False
    return False


def article_before(spoken: Sequence[Token], at: int) -> bool:
    """True where a decade in words stands after "the", "in", "early" and the like, not as a bare plural."""
    before = text_at(spoken, at - 1)
    listed = ("the", "in", "since", "until", "till", "and", "or", "to", "of", "into", "through", "mid", "early", "late")
    return before in listed or before in DECADES or (text_at(spoken, at - 2) == "the" and not spoken[at - 1].stop)


def someones_age(spoken: Sequence[Token], at: int) -> bool:
    """ "in her sixties" is an age, no decade; so is "my twenties"."""
    return any(text_at(spoken, n) in ("his", "her", "their", "my", "your", "our") for n in (at - 1, at - 2))
