"""Whether a word that is also a name ("the Steps", "the Walk") names the place here, by what stands around it. Pure."""

from __future__ import annotations

from collections.abc import Container, Sequence

from archive.rules.data.given_names import GIVEN_NAMES
from archive.rules.data.people_words import KIN_TITLES, TITLES
from archive.rules.seasons import MONTHS
from archive.rules.spoken import Token, word_set

WHERE = word_set(
    "above across along around at before behind below beside between beyond by down from in into near off on onto opposite outside over past "
    "round through to towards toward under underneath up upon"
)
_GOES_ON = word_set("of home with for that who whose")  # "the steps of the chapel", "the walk home"
_ALWAYS_CAPITAL = word_set("i i'm i'd i've i'll monday tuesday wednesday thursday friday saturday sunday christmas easter god mum dad") | frozenset(MONTHS)
WRITTEN, NO_CAPITAL, BESIDE = 0.65, 0.4, 0.75  # how sure: a capital alone, a neighbour alone, a capital and where


def names_it(spoken: Sequence[Token], first: int, last: int, at: int, beside: str) -> tuple[str, float] | None:
    """Why an ordinary word (`at`, in the run first–last) names a place here and how sure that is; None where it does not seem to.

    `beside`: which name near by speaks for it ("Net Row named beside it"); "" where none does.
    """
    word = spoken[at]
    said = " ".join(t.raw for t in spoken[first : last + 1]).strip(".,;:!? ")
    before = spoken[first - 1] if first and not spoken[first - 1].stop else None
    where = before.text if before is not None and before.text in WHERE else ""
    after = spoken[last + 1] if last + 1 < len(spoken) and not spoken[last].stop else None
    if longer_name(spoken, last) or (after is not None and after.text in _GOES_ON):
        return None
    if word.capital and not word.opens:
        if before is not None and at == first and (before.text in TITLES or before.capital and before.text in GIVEN_NAMES):
            return None
        return (f"“{said}” has a capital and stands after “{where}”", BESIDE) if where else (f"“{said}” has a capital", WRITTEN)
    if where and beside:
        return f"“{said}” has no capital, but stands after “{where}”, with {beside}", NO_CAPITAL
    return None


def longer_name(spoken: Sequence[Token], last: int, starts: Container[str] = ()) -> str:
    """The word with a capital that goes on a name ("Net Row Chapel"); "" where none does. `starts`: words that begin a name themselves."""
    if last + 1 >= len(spoken) or spoken[last].stop or spoken[last].text.endswith(("'s", "'")):
        return ""
    after = spoken[last + 1]
    single = len(after.letters) < 2 or after.text in _ALWAYS_CAPITAL or after.text in GIVEN_NAMES or after.letters in starts
    return "" if not after.capital or single else after.raw.strip(".,;:!? ")


def is_a_person(spoken: Sequence[Token], first: int, last: int) -> bool:
    """True where one word alone stands behind a title or a given name: "Mrs Marsh", "Lena Marsh"."""
    if first != last or not first or spoken[first - 1].stop:
        return False
    before = spoken[first - 1]
    return before.text in TITLES or before.capital and (before.text in KIN_TITLES or before.text in GIVEN_NAMES)
