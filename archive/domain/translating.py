"""A translation beside the original: how far it has come, and in what a quote is shown. Pure.

A translation has one wording for everybody, and it is the shown one: what is hidden in the original has to be hidden in it as well.
"""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterable, Sequence
from enum import StrEnum

from archive.domain.letters import without_possessive
from archive.domain.masking import BRACKETED, MASK, mask_key
from archive.domain.quoting import text_tokens, word_tokens

MOST_LETTERS = 20_000


class State(StrEnum):
    """How far a translation has come, from somebody's draft to the speaker's word; or that it was set aside."""

    DRAFT = "draft"
    CHECKED = "checked"  # by a second speaker of the language
    AGREED = "agreed"  # with the speaker
    ASIDE = "set aside"


MAY_BE_FINAL = (State.CHECKED, State.AGREED)


class Shows(StrEnum):
    """In what a quote is shown."""

    ORIGINAL = "original"
    TRANSLATION = "translation"
    BOTH = "both"


def original_sha256(compared: Iterable[str]) -> str:
    """A checksum of the words that were translated, as they are compared (`domain.aligning.compared`): case and signs do not count."""
    return hashlib.sha256("\n".join(compared).encode("utf-8", "surrogatepass")).hexdigest()


def count_masks(text: str, own: Collection[str]) -> int:
    """How often a translation says that something is withheld: "[name withheld]", or a mask's own words (`own`, with brackets)."""
    known = {mask_key(words[1:-1]) for words in (MASK, *own) if words}
    return sum(mask_key(inner) in known for inner in BRACKETED.findall(text))


def in_place(text: str, said: Sequence[str]) -> list[str]:
    """Names that may stand in the original, as they stand in its translation: each with the word before it, and with that after it."""
    words = text.split()
    spelled = [(token, n) for n, word in enumerate(words) for token in word_tokens(word)]
    found: list[str] = []
    for name in said:
        wanted = [without_possessive(t) for t in text_tokens(name)]
        for at in range(len(spelled) - len(wanted) + 1):
            run = spelled[at : at + len(wanted)]
            if wanted and [without_possessive(t) for t, _ in run] == wanted:
                first, last = run[0][1], run[-1][1]
                as_written = " ".join(words[first : last + 1])
                found += [f"{words[first - 1]} {as_written}"] if first else []
                found += [f"{as_written} {words[last + 1]}"] if last + 1 < len(words) else []
                found += [as_written] if len(words) == last + 1 - first else []
    return list(dict.fromkeys(found))
