"""What people say around a time that makes it about (~), uncertain (?) or both (%). Pure.

The phrases are from memory (common English); EDTF's marks are those of the Library of Congress (4 Feb 2019), level 1.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from archive.rules.context import text_at
from archive.rules.spoken import Token, word_set
from archive.rules.told import Told

_Phrases = dict[str, tuple[tuple[str, ...], ...]]


def _by(listed: str, at: int) -> _Phrases:
    """Phrases parted by semicolons, by their first (0) or last (-1) word, the longest first."""
    found: dict[str, list[tuple[str, ...]]] = {}
    for phrase in listed.split(";"):
        words = tuple(phrase.split())
        found.setdefault(words[at], []).append(words)
    return {k: tuple(sorted(v, key=len, reverse=True)) for k, v in found.items()}


_NEAR_BEFORE = _by(
    "about;around;round;roughly;circa;approximately;nearly;getting on for;going on for;coming up to;close on;near enough;towards;or thereabouts", -1
)  # fmt: skip
_DOUBT_BEFORE = _by(
    "maybe;perhaps;possibly;probably;i think;i believe;i suppose;i reckon;i fancy;i guess;must have been;must've been;might have been;"
    "could have been;may have been;must be;might be;could be;was it;i'm guessing;i think that", -1,
)  # fmt: skip
_PASSED_BEFORE = word_set(
    "in back the year it was that this be it's it'd that'd would it'll there sometime some time somewhere like were back"
)
_NEAR_AFTER = _by(
    "or so;or thereabouts;thereabouts;ish;give or take;or near enough;near enough;or near it;or around then;or round there;or somewhere there;"
    "something like that;or something like that;or something", 0,
)  # fmt: skip
_DOUBT_AFTER = _by(
    "i think;i believe;i suppose;i reckon;i fancy;i guess;perhaps;maybe;possibly;probably;if i remember;if i recall;if i'm not mistaken;"
    "if i'm right;if memory serves;i'm not sure;i'm not certain;i'm nearly sure;i'm almost sure;i'm fairly sure;i'm pretty sure;not sure;"
    "i couldn't swear;i wouldn't swear;i couldn't say;i can't swear;as far as i remember;as far as i know;as far as i recall;was it;"
    "or so we were told;or so i was told;or so they said;or so they say;or so he said;or so she said;don't quote me;unless i'm mistaken;"
    "unless i'm wrong;i could be wrong;i may be wrong;i might be wrong;to the best of my", 0,
)  # fmt: skip
_AFTER = frozenset((*_NEAR_AFTER, *_DOUBT_AFTER))
# "what about 1974?", "tell me about 1974": that is what it is about, not about when.
_ABOUT_IT = word_set("what how me us talk talking talked tell think thinking know knew ask asked asking hear heard story stories more much nothing")
_MOST = 4  # phrases of doubt one after another


def hedged(spoken: Sequence[Token], time: Told, floor: int = 0) -> Told:
    """The time with the mark that the words around it ask for; from token `floor` on nothing else has been read."""
    near, doubt, first = _before(spoken, time.first, floor)
    last = time.last
    if text_at(spoken, last + 1) in _AFTER and spoken[last].stop != ".":
        near_after, doubt_after, last = _after(spoken, last)
        near, doubt = near or near_after, doubt or doubt_after
    mark = "%" if near and doubt else "~" if near else "?" if doubt else ""
    if not mark or time.edtf[-1] in "~?%":
        return time
    return replace(time, first=first, last=last, edtf=time.edtf + mark, sure=time.sure - 0.1)


def near(spoken: Sequence[Token], at: int) -> bool:
    """True where the word before token `at` says "about"."""
    return _near_ends(spoken, at, 0) > 0


def _near_ends(spoken: Sequence[Token], at: int, floor: int) -> int:
    length = _ends(spoken, at, floor, _NEAR_BEFORE)
    return 0 if length == 1 and spoken[at - 1].text == "about" and text_at(spoken, at - 2) in _ABOUT_IT else length


def _before(spoken: Sequence[Token], first: int, floor: int) -> tuple[bool, bool, int]:
    near = doubt = False
    at = begin = first
    while at > floor and not spoken[at - 1].stop:
        about, unsure = _near_ends(spoken, at, floor), _ends(spoken, at, floor, _DOUBT_BEFORE)
        if about or unsure:
            near, doubt = near or bool(about), doubt or bool(unsure)
            at -= about or unsure
            begin = at
        elif spoken[at - 1].text in _PASSED_BEFORE:
            at -= 1
        else:
            break
    return near, doubt, begin


def _after(spoken: Sequence[Token], last: int) -> tuple[bool, bool, int]:
    near = doubt = False
    for _ in range(_MOST):
        if spoken[last].stop == ".":
            break
        unsure, about = _begins(spoken, last + 1, _DOUBT_AFTER), _begins(spoken, last + 1, _NEAR_AFTER)
        if not (about or unsure) or _goes_on(spoken, last + 1, max(about, unsure)):
            break
        near, doubt = near or about > unsure, doubt or unsure >= about
        last += max(about, unsure)
    return near, doubt, last


def _goes_on(spoken: Sequence[Token], at: int, length: int) -> bool:
    """ "in 1968 I think she was ill": the thought is about what follows."""
    end = at + length - 1
    own = spoken[at].text == "i" and not spoken[at - 1].stop
    return own and end + 1 < len(spoken) and not spoken[end].stop


def _ends(spoken: Sequence[Token], at: int, floor: int, phrases: _Phrases) -> int:
    """How many tokens a phrase takes that ends before token `at`; 0 where none does."""
    if at <= floor or spoken[at - 1].stop:
        return 0
    for words in phrases.get(spoken[at - 1].text, ()):
        run = spoken[max(0, at - len(words)) : at]
        if at - len(words) >= floor and tuple(t.text for t in run) == words and not any(t.stop for t in run):
            return len(words)
    return 0


def _begins(spoken: Sequence[Token], at: int, phrases: _Phrases) -> int:
    """How many tokens a phrase takes that begins at token `at`; 0 where none does."""
    for words in phrases.get(text_at(spoken, at), ()):
        if tuple(t.text for t in spoken[at : at + len(words)]) == words:
            return len(words)
    return 0


