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
_WOULD = frozenset(("it'd", "that'd", "this'd", "it'll", "that'll", "this'll", "would", "must", "might"))
_WEAK = frozenset(("be", "about", "around", "round", "by", "before", "after", "from", "to", "between", "and", "or", "was", "year", "maybe", "perhaps", "possibly", "probably"))
NUMBERED = word_set(
    "number numbers nos engine pattern form clause locker berth line pew row key check dial telephone phone model section paragraph "
    "plot grave desk hull seat stall "
    "no house flat room page bus route door hut berth platform channel chapter lot box gate pier bed ward shed size "
    "score extension at ring dial"
)
_PAID = frozenset(("cost", "costs", "paid", "pay", "for", "earned", "earning", "charged", "price"))
_GIVEN = frozenset(("me", "him", "her", "us", "them", "you"))
_GAVE = frozenset(("gave", "give", "paid", "pay", "cost", "charged", "owed", "offered", "asked", "lent"))
_STREETS = word_set(
    "row street lane road square steps walk view hill wharf quay yard hall slip estate terrace avenue close court place "
    "ropewalk gardens buildings cottages"
)
_PLURAL_NOT = word_set("was is this its his has does as us always perhaps yes across sometimes towards besides")


def text_at(spoken: Sequence[Token], at: int) -> str:
    """The folded text of a token; "" outside."""
    return spoken[at].text if 0 <= at < len(spoken) else ""


def said_to_be(spoken: Sequence[Token], at: int) -> bool:
    """ "it was …", "it'd be …", "either …": what stands before a year that is said to be that."""
    before = text_at(spoken, at - 1)
    if before == "either":
        return True
    return before in ("was", "be") and text_at(spoken, at - 2) in ("it", "that", "this", "year", *_WOULD)


def numeric(text: str) -> bool:
    """True for a word or sign of a number."""
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
    if before in NUMBERED or (number.value < 1700 and before not in _STRONG | {"of", "year"}):
        return False
    of_a_day = number.spelled and number.value > 2000 and number.value % 5 == 0 and number.length < 3
    if of_a_day and (before not in _STRONG | _WEAK | {"of"} or before in ("was", "or")):
        return False  # "twenty ten" is a time of the day as well
    if number.spelled and (text_at(spoken, last + 2) in ("cost", "costs") or before in _GIVEN and text_at(spoken, first - 2) in _GAVE):
        return False
    if _counts_on(after) and before not in _STRONG | _WEAK | {"of", ""}:
        return False
    if number.spelled and before in _PAID and not (before == "for" and number.value % 100 > 12):
        return False
    if first > 0 and not spoken[first - 1].stop and (_is_a_name(spoken, first) or _said_of_a_number(spoken, first)):
        return False
    if number.spelled and before == "the" and after in _RUNS:
        return False  # "the nineteen fifty never ran on a Sunday"
    if number.value == 2000 and number.spelled:
        return before in _STRONG or before in _WEAK or before == "of"
    return not (numeric(before) and not spoken[first - 1].stop)


_TIME_UNITS = word_set("years year months month weeks week days day")
_LATER = frozenset(("later", "earlier", "afterwards"))
_MANY = COUNTED - {"past"}


def _more_counted(spoken: Sequence[Token], last: int) -> bool:
    """ "1500 and 2000 people", "60 to 75 shillings": what is counted stands behind the second number."""
    if text_at(spoken, last + 1) not in ("and", "to", "or") or spoken[last].stop:
        return False
    n = last + 2
    while n < len(spoken) and numeric(spoken[n].text) and not spoken[n].stop:
        n += 1
    if text_at(spoken, n + 1) in _LATER or text_at(spoken, n + 1) in ("before", "after") and text_at(spoken, n) in _TIME_UNITS:
        return False  # "in sixty-one, and two years later"
    return n > last + 2 and (text_at(spoken, n) in _MANY or text_at(spoken, n) == "of" and spoken[last + 1].text == "or")


_RUNS = word_set("never ran run left always came took would used stopped was called")
_FEASTS = word_set("whitsun easter christmas friday monday tuesday wednesday thursday saturday sunday lent whit day eve candlemas michaelmas lord")
_NUMBERS_THEMSELVES = word_set("number numbers code page dial extension register pattern mark")


def _is_a_name(spoken: Sequence[Token], first: int) -> bool:
    """ "the office was Tarnwick 1974": after a name a number is its own, no year; "Whitsun 1961" tells a time."""
    before = spoken[first - 1]
    return before.capital and not before.opens and before.text not in _FEASTS and before.text not in FUNCTION and text_at(spoken, first - 2) in ("was", "is", "were", "dial", "ring", "rang", "to")


def _said_of_a_number(spoken: Sequence[Token], first: int) -> bool:
    """ "my check number was 1958": what is said of a number is that number."""
    if spoken[first - 1].text not in ("was", "were", "is"):
        return False
    n = first - 2
    while n >= 0 and not spoken[n].stop and n > first - 8:
        if spoken[n].text in _NUMBERS_THEMSELVES:
            return True
        n -= 1
    return False


def short_year_fits(spoken: Sequence[Token], first: int, last: int, number: Number, in_range: bool) -> bool:
    """Whether two digits are a year: by an apostrophe, the word before, and what follows."""
    before, after = text_at(spoken, first - 1), "" if spoken[last].stop else text_at(spoken, last + 1)
    if after in COUNTED or _street_follows(spoken, last) or _more_counted(spoken, last):
        return False
    if after == "of" and text_at(spoken, last + 2) != "course" or [t.text for t in spoken[last + 1 : last + 4]] == ["in", "the", "shade"]:
        return False
    if number.marked:
        return in_range or before not in NUMBERED
    if number.value < 20 and not _nought_before(spoken, first, number):
        return before == "in" and number.value > 12 and bool(spoken[last].stop) and not number.spelled
    if in_range:
        return after != "of" and not _counts_on(after)
    if before in NUMBERED or number.value == 20:
        return False
    if spoken[first].opens:
        return _answers(spoken, last) or _opens(spoken, last, number)
    if first > 0 and spoken[first - 1].stop:
        return _answers(spoken, last, anywhere=True)
    if after == "baby" and before in ("a", "the"):
        return True
    if before == "of":
        return text_at(spoken, first - 2) in ("year", "years", "class") and (text_at(spoken, first - 3) in ("school", "the") and number.value % 10 != 0)
    if before in _STRONG:
        earlier = text_at(spoken, first - 2)
        return not (numeric(earlier) or earlier == "out") and not _counts_on(after)
    return before in _WEAK and _weak_fits(spoken, first, number, after, bool(spoken[last].stop))


def _answers(spoken: Sequence[Token], last: int, anywhere: bool = False) -> bool:
    """ "Sixty-eight, that was.", "then the spring came, forty-seven that was"."""
    return (spoken[last].stop == "," or anywhere) and [t.text for t in spoken[last + 1 : last + 3]] in (
        ["that", "was"], ["it", "was"], ["it", "must"], ["that", "would"], ["that", "must"],
    )


_DOUBTED = word_set("perhaps maybe possibly probably")
_RATHER_A_NUMBER = word_set("number house score bus room limit most highest lowest age size price")


def _opens(spoken: Sequence[Token], last: int, number: Number) -> bool:
    """ "76 was the dry one", "Seventy-three, perhaps, they …", "Seventy-one-ish I moved"; round numbers are left alone."""
    following = [t.text for t in spoken[last + 1 : last + 4]]
    if number.value % 10 == 0 or not following:
        return False
    if following[0] in _DOUBTED and spoken[last].stop or following[0] == "ish" or following[:2] == ["or", "thereabouts"]:
        return True
    if following[:2] == ["or", "so"] and len(following) > 2:
        return following[2] in FUNCTION - {"of", "in", "on", "to"}
    return following[:2] in (["was", "the"], ["was", "when"]) and following[2:3] != [] and following[2] not in _RATHER_A_NUMBER


def time_after_until(spoken: Sequence[Token], first: int, last: int) -> bool:
    """After "until" and "since" two digits need no more than what follows: "until sixty" may be an age."""
    number = spoken[first]
    return number.text not in TENS or last > first or "'" in number.raw.replace("’", "'")


def round_number(edtf: str, rule: str) -> bool:
    """True for a year given by its tens alone ("fifty")."""
    return rule == "year without its century" and edtf.endswith("0")


_HEDGING = word_set("about around round maybe perhaps possibly probably")
_THEN = word_set("we i they he she it the my our when that or")


def _weak_fits(spoken: Sequence[Token], first: int, number: Number, after: str, closed: bool) -> bool:
    """After "about", "by", "before": only in company that speaks of time, and where nothing counted can follow."""
    before = text_at(spoken, first - 1)
    if after and after not in FUNCTION:
        return False
    if before == "year":
        return text_at(spoken, first - 2) == "the"
    if before in ("was", "be"):
        if number.value % 10 == 0 and after not in ("", "when"):
            return False  # "it was seventy that day"
        subject = ("it", "that", "this", "year") if before == "was" else _WOULD
        return text_at(spoken, first - 2) in subject and not numeric(after) and after != "to"
    hedging = before in _HEDGING and (spoken[first - 1].opens or text_at(spoken, first - 2) in _HEDGING | {"somewhere"})
    if hedging:
        return number.value % 10 != 0 and (closed or after in _THEN)
    if before == "by" and after == "to":
        return False  # "they won by sixty-one to fifty-nine"
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


_HOUSES = word_set("pub club band bar inn hotel café cafe shop dance-hall")


def a_house_of_that_name(spoken: Sequence[Token], last: int) -> bool:
    """ "in the Sixties, the pub, not the years": a name, by what stands after it."""
    return spoken[last].stop == "," and text_at(spoken, last + 1) in ("the", "a", "that") and text_at(spoken, last + 2) in _HOUSES


def someones_age(spoken: Sequence[Token], at: int) -> bool:
    """ "in her sixties" is an age, no decade; so is "my twenties"."""
    return any(text_at(spoken, n) in ("his", "her", "their", "my", "your", "our") for n in (at - 1, at - 2))
