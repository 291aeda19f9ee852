"""Times that a person takes back: said not to be ("that was not 1974"), or put right in the next breath. Pure.

The phrases are from memory (common English).
"""

from __future__ import annotations

from collections.abc import Sequence

from archive.rules.context import text_at
from archive.rules.spoken import Token, word_set

_NEGATIONS = word_set(
    "not never wasn't weren't isn't ain't can't couldn't cannot mustn't didn't don't doesn't won't wouldn't hadn't haven't neither nor"
)
_NOT_BEFORE = word_set("not never wasn't weren't isn't ain't")
_PASSED = word_set("in the about around was back it have been be that that's as during really even actually quite just")
_STILL_TELLS = frozenset(("until", "till", "til", "since", "before", "after", "up"))
_DENYING = tuple(
    tuple(p.split())
    for p in (
        "don't think it was", "doubt it was", "doubt if it was", "won't have it that it was", "don't tell me it was", "can't have been", "couldn't have been",
        "cannot have been", "mustn't have been", "can't be", "thinking of", "mixing it up with", "mixing that up with", "mistaking it for", "confusing it with",
        "nothing to do with",
    )
)  # fmt: skip
_LAST_OF_DENYING = frozenset(p[-1] for p in _DENYING)
_CUES = word_set("no sorry wait rather lie correction mean wrong hang more")
_WITH_CUES = word_set(
    "no sorry wait rather lie correction mean wrong hang more on i i'm tell a or well it was that not what am saying er um erm oh make "
    "it'd be like in the of really hold let me think"
)
_MOST = 9  # words that a correction takes before its time


def denied(spoken: Sequence[Token], first: int, last: int) -> bool:
    """ "that was not 1974", "never in the fifties", "he's thinking of 1953"; "not until 1974" still tells a time."""
    if spoken[first].text in _STILL_TELLS:
        return False
    at = first - 1
    while at >= 0 and not spoken[at].stop and spoken[at].text in _PASSED and at > first - 6:
        if _denies(spoken, at):
            return True
        at -= 1
    if at < 0:
        return False
    if spoken[at].stop:
        return False
    if spoken[at].text in _NOT_BEFORE:
        return spoken[at].text != "never" or text_at(spoken, at + 1) != "the"
    return _denies(spoken, at) or _contrasted(spoken, first, last)


def _denies(spoken: Sequence[Token], at: int) -> bool:
    if spoken[at].text not in _LAST_OF_DENYING:
        return False
    return any(tuple(t.text for t in spoken[max(0, at + 1 - len(p)) : at + 1]) == p for p in _DENYING)


def _contrasted(spoken: Sequence[Token], first: int, last: int) -> bool:
    """ "I didn't start in the sixties, I started in 1971": the same is told of another time in the next clause."""
    if spoken[last].stop != ",":
        return False
    begin = first
    while begin > 0 and not spoken[begin - 1].stop and begin > first - 8:
        begin -= 1
        if spoken[begin].text in _NEGATIONS:
            break
    else:
        return False
    verb = text_at(spoken, begin + 1)
    at = last + 1
    while at < min(last + 8, len(spoken)):
        text = spoken[at].text
        if len(verb) > 3 and text[:4] == verb[:4] and text not in _NEGATIONS:
            return text_at(spoken, at + 1) in ("in", "on", "at", "about", "around")
        if spoken[at].stop:
            return False
        at += 1
    return False


def correction(spoken: Sequence[Token], last: int) -> int | None:
    """Where the time begins that puts right the one ending at token `last` ("no, hang on, …"); None where nothing does."""
    if not spoken[last].stop:
        return None
    at, cues = last + 1, 0
    first = text_at(spoken, at)
    if first not in _CUES and first not in ("or", "well", "i", "oh", "i'm", "hold", "make", "er", "um", "erm"):
        return None
    if spoken[last].stop == "." and first not in ("no", "sorry", "wait", "hang", "correction"):
        return None
    while at < len(spoken) and spoken[at].text in _WITH_CUES and at - last <= _MOST:
        cues += spoken[at].text in _CUES
        at += 1
    return at if cues and at < len(spoken) else None
