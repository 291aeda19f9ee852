"""Names that are withheld: replaced in wording, muted in sound. Masks are stretches in ms and round outwards. Pure."""

from __future__ import annotations

import re
import unicodedata
from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from archive.domain.letters import core, folded, plain_signs, trailing, without_possessive
from archive.domain.marks import shown
from archive.domain.values import MIN_WORD_MS, Word
from archive.errors import BadInput

MASK = "[name withheld]"
MOST_LETTERS = 60  # of a mask's own words: so that they stay a hint and no second text (project choice)
BRACKETED = re.compile(r"\[([^\[\]]*)\]")
_ARTICLE = re.compile(r"(?:an?|the)\s+", re.IGNORECASE)
# After these the own words lose their article: "the [a neighbour]" reads badly; from memory.
_BEFORE_NO_ARTICLE = frozenset({
    "a", "an", "the", "my", "our", "his", "her", "its", "their", "your", "this", "that", "these", "those",
    "old", "young",
})  # fmt: skip
_SMALL_WORDS = frozenset({
    "a", "an", "the", "of", "from", "in", "on", "at", "by", "to", "for", "with", "and", "or", "who", "was",
    "were", "is", "one", "some", "our", "my", "his", "her", "their", "that",
})  # fmt: skip
_CONTRACTIONS = frozenset({
    "it's", "that's", "what's", "there's", "here's", "who's", "he's", "she's", "where's", "how's", "let's",
    "when's", "why's",
})  # fmt: skip
_RESERVED = frozenset({"closed", "gap", "…", "..."})  # what other marks say in brackets
_SHORTENED = frozenset({"mr.", "mrs.", "ms.", "dr.", "st.", "rev.", "prof."})
_ENDS_A_SENTENCE = re.compile(r"[.!?…][\"'”’»)\]]*$")
_OPENING = "\"'“‘(«"
_CLOSING = ".,;:!?…)]\"”»—–-"


@dataclass(frozen=True, slots=True)
class Masked:
    """One word, or one mask over adjacent words. `first`, `last`: word indices in the input, inclusive."""

    text: str
    start_ms: int
    end_ms: int
    masked: bool
    first: int
    last: int


def merge(stretches: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """Stretches (start_ms, end_ms) in order, with touching and overlapping ones made one."""
    merged: list[tuple[int, int]] = []
    for start_ms, end_ms in sorted(stretches):
        if merged and start_ms <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(merged[-1][1], end_ms))
        else:
            merged.append((start_ms, end_ms))
    return merged


def under_masks(words: Sequence[Word], masks: Sequence[tuple[int, int]]) -> list[bool]:
    """For each word whether a mask (ms, half-open) touches it. A word is taken to last at least 20 ms."""
    if not masks:
        return [False] * len(words)
    merged = merge([(s, max(e, s + 1)) for s, e in masks])
    starts = [s for s, _ in merged]
    hidden = []
    for word in words:
        end_ms = max(word.end_ms, word.start_ms + MIN_WORD_MS)
        last = bisect_right(starts, end_ms - 1) - 1
        hidden.append(last >= 0 and merged[last][1] > word.start_ms)
    return hidden


def own_words(text: str) -> str:
    """The own words of a mask as they are kept: "[a neighbour]"; "" where the usual ones are meant. Raises BadInput.

    In square brackets, 60 letters at most, no digit. Whether a name stands in them is the gate's to say.
    """
    inner = " ".join(unicodedata.normalize("NFC", text).split())
    if inner.startswith("[") and inner.endswith("]"):
        inner = inner[1:-1].strip()
    if inner.casefold() in ("", MASK[1:-1]):
        return ""
    if len(inner) > MOST_LETTERS:
        raise BadInput(f"The words of a mask may be {MOST_LETTERS} letters long.", "Say it shorter: [a neighbour].")
    if any(c.isnumeric() for c in inner):
        raise BadInput("Numbers in the words of a mask could tell who is meant.", "Say it without: [a neighbour].")
    if inner.casefold() in _RESERVED or not any(c.isalpha() for c in inner) or any(not (c.isalpha() or c in " -'’,") and not unicodedata.combining(c) for c in inner):
        raise BadInput("The words of a mask are a few plain words, without other signs.", "Write them like this: [a neighbour].")
    article = _ARTICLE.match(inner)
    return f"[{inner[: article.end()].lower() + inner[article.end() :] if article else inner}]"


def tells_hidden_words(own: str, hidden: str) -> bool:
    """True where the own words of a mask are made of what it hides: a word of it that carries meaning stands in them."""
    return bool(bearing(own) & bearing(hidden))


def bearing(text: str) -> set[str]:
    """The words of a text that carry meaning, folded: without articles, prepositions and their like."""
    parts = (without_possessive(p) for p in re.split(r"[^\w']+", folded(text)) if p)
    return {p for p in (part.strip("'_") for part in parts) if p and p not in _SMALL_WORDS}


def mask_key(text: str) -> str:
    """What the words of a mask are compared by, without brackets: case and a leading article do not count."""
    return _ARTICLE.sub("", " ".join(folded(text).split()), count=1)


def mask_words(
    words: Sequence[Word], masks: Sequence[tuple[int, int]], replacement: str = MASK,
    instead: Mapping[tuple[int, int], str] | None = None,
) -> list[Masked]:  # fmt: skip
    """Words with everything under a mask (ms, half-open) replaced; adjacent masked words become one token.

    Punctuation around a masked run and a possessive 's stay, so that the sentence still reads; no letter of it does.
    `instead`: own words of a mask ("[a neighbour]"); where masks of one run disagree, the usual ones stand.
    """
    hidden = under_masks(words, masks)
    tokens: list[Masked] = []
    i = 0
    while i < len(words):
        last = i
        if not hidden[i]:
            tokens.append(Masked(shown(words[i].text), words[i].start_ms, words[i].end_ms, False, i, i))
        else:
            while last + 1 < len(words) and hidden[last + 1]:
                last += 1
            run = words[i : last + 1]
            said = _own(run, masks, instead, words[i - 1].text if i else "") if instead else ""
            text = _opening(run[0].text) + (said or replacement) + _ending(run[-1].text)
            tokens.append(
                Masked(text, min(w.start_ms for w in run), max(w.end_ms for w in run), True, i, last)
            )
        i = last + 1
    return tokens


def _own(run: Sequence[Word], masks: Sequence[tuple[int, int]], instead: Mapping[tuple[int, int], str], before: str) -> str:
    """The own words of the masks over a run, fitted to its sentence; "" where there are none or they disagree."""
    found = {instead.get(m, "") for m in masks if any(under_masks(run, [m]))}
    said = found.pop() if len(found) == 1 else ""
    if not said:
        return ""
    if folded(core(before)) in _BEFORE_NO_ARTICLE and not _ENDS_A_SENTENCE.search(before):
        return "[" + _ARTICLE.sub("", said[1:], count=1)
    if not before or (_ENDS_A_SENTENCE.search(before) and before.lower() not in _SHORTENED):
        return said[:1] + said[1:2].upper() + said[2:]
    return said


def wording(tokens: Sequence[Masked]) -> str:
    """The tokens as one line of text."""
    return " ".join(t.text for t in tokens if t.text)


def _opening(text: str) -> str:
    kept = ""
    for sign in text.strip():
        if sign not in _OPENING:
            break
        kept += sign
    return kept


def _ending(text: str) -> str:
    text = text.strip()
    if not core(text):
        return ""
    after = "".join(c for c in trailing(text) if c in _CLOSING)
    name = plain_signs(core(text))
    owned = name.endswith("'s") and len(name) > 2 and (name[0].isupper() or name.lower() not in _CONTRACTIONS)
    return ("’s" if owned else "") + after
