"""A mis-heard spelling in spoken words: where it stands, what stands there instead, and what may be it by its sound. Pure."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass

from rapidfuzz.distance import Levenshtein

from archive.domain.letters import core, folded, plain_signs, trailing, without_possessive
from archive.domain.marks import language, parts, spoken
from archive.domain.values import Word
from archive.rules.capitals import NO_NAMES
from archive.rules.data.ordinary import ORDINARY
from archive.rules.likeness import ALIKE, SAME_SOUND, likeness, sound
from archive.rules.spoken import Token, tokens

MOST_WORDS = 6  # of a spelling, and of what is taken for a mis-hearing of it
MOST_LETTERS = 100
_FEWEST = 4  # letters from which sound says anything (as in rules/likeness.py)
_LONGER = 2  # letters by which what sounds alike may be longer or shorter
_PLAIN = ORDINARY | NO_NAMES


@dataclass(frozen=True, slots=True)
class Hit:
    """Words from `first` to `last` (inclusive). `alike`: they only sound like it."""

    first: int
    last: int
    alike: bool = False


def letters_of(text: str) -> tuple[str, ...]:
    """What a spelling is compared by: its words folded, without the possessive."""
    spelled = [Word(part, 0, 20) for part in parts(text)]
    return tuple(without_possessive(t.text) for t in tokens(spelled))


def run_together(text: str) -> str:
    """A spelling's letters as one word."""
    return "".join(c for part in letters_of(text) for c in part if c.isalnum())


def pair(before: str, after: str) -> tuple[str, str] | None:
    """A typed change as (mis-heard, spelling), without punctuation around them and without a possessive that both have; None
    where it is no change of a few words, or of punctuation alone."""
    old, new = _bare(before), _bare(after)
    if _owned(old) and _owned(new):
        old, new = old[: len(without_possessive(plain_signs(old)))], new[: len(without_possessive(plain_signs(new)))]
    if not letters_of(old) or not letters_of(new) or old == new or max(len(old.split()), len(new.split())) > MOST_WORDS:
        return None
    return old, new


def is_name(spelling: str) -> bool:
    """True where a spelling has the capitals of a name, and not only that of an ordinary word at the beginning of a sentence."""
    capitals = [p for p in spelling.split() if core(p)[:1].isupper()]
    return len(capitals) > 1 or any(folded(core(p)) not in _PLAIN for p in capitals)


class Misheard:
    """A mis-hearing and the spelling it stands for; `hits` then works on any words."""

    def __init__(self, wrong: str, right: str, known: Collection[str] = ()) -> None:
        """`known`: other spellings, run together: words that are one of these are left in peace where only sound speaks for it."""
        self.wrong, self.right = wrong, right
        self._wrong, self._right = letters_of(wrong), letters_of(right)
        self._sounds = tuple(dict.fromkeys(s for s in (run_together(wrong), run_together(right)) if len(s) >= _FEWEST))
        self._known = frozenset(known)

    @property
    def surest(self) -> str:
        """The longest run of letters that stands unbroken wherever these words do, in lower case; "" where nothing says so."""
        runs = ["".join(c if c.isalnum() else " " for c in part).split() for part in self._wrong]
        return max((r for some in runs for r in some), key=len, default="")

    def hits(self, words: Sequence[Word], *, alike: bool = False) -> list[Hit]:
        """Where it stands, in order, none inside the right spelling; `alike`: also what sounds like either of the two."""
        said = tokens(words)
        spelled = [without_possessive(t.text) for t in said]
        right = {n for a, b in _runs(spelled, self._right) for n in range(a, b)} if self._right != self._wrong else set()
        found = [
            Hit(said[a].word, said[b - 1].word) for a, b in _runs(spelled, self._wrong)
            if _whole(said, a, b) and not right >= set(range(a, b))
        ]  # fmt: skip
        if alike:
            taken = {n for h in found for n in range(h.first, h.last + 1)} | {said[n].word for n in right}
            found += self._alike(said, spelled, taken)
        changed = [h for h in found if instead(words, h.first, h.last, self.right) != [w.text for w in words[h.first : h.last + 1]]]
        return sorted(changed, key=lambda h: h.first)

    def _alike(self, said: Sequence[Token], spelled: Sequence[str], taken: set[int]) -> list[Hit]:
        sizes = {n for parts in (self._wrong, self._right) for n in range(max(1, len(parts) - 1), len(parts) + 2)}
        lengths = [sum(map(str.isalnum, part)) for part in spelled]
        wanted = {len(s) + n for s in self._sounds for n in range(-_LONGER, _LONGER + 1)}
        near: list[tuple[float, int, int]] = []
        for size in sizes:
            for at in range(len(said) - size + 1):
                last = at + size
                if sum(lengths[at:last]) not in wanted or self._ordinary(said[at], 0) or self._ordinary(said[last - 1], -1):
                    continue
                if not _whole(said, at, last):
                    continue
                joined = "".join(c for part in spelled[at:last] for c in part if c.isalnum())
                if joined not in self._known and (score := self._score(joined)):
                    near.append((-score, at, last))
        found = []
        for _, at, last in sorted(near):
            own = set(range(said[at].word, said[last - 1].word + 1))
            if not own & taken:
                taken |= own
                found.append(Hit(said[at].word, said[last - 1].word, alike=True))
        return found

    def _ordinary(self, token: Token, edge: int) -> bool:
        """True for an ordinary word in lower case, but where the mis-hearing or the spelling begins (0) or ends (-1) with it."""
        return not token.capital and token.text in _PLAIN and token.text not in (self._wrong[edge], self._right[edge])

    def _score(self, joined: str) -> float:
        if len(joined) < _FEWEST:
            return 0.0
        best = 0.0
        for wanted in self._sounds:
            if abs(len(wanted) - len(joined)) > _LONGER or Levenshtein.distance(joined, wanted) > max(1, len(wanted) // 3):
                continue
            score = likeness(joined, wanted)
            if score >= ALIKE or (score >= SAME_SOUND and sound(joined) == sound(wanted)):
                best = max(best, score)
        return best


def instead(words: Sequence[Word], first: int, last: int, spelling: str) -> list[str]:
    """The words that stand there with this spelling from word `first` to `last`: with the signs around it, a possessive, and a
    capital where it begins a sentence with one. Words marked as another language stay marked, unsure ones are sure now."""
    begins, ends = spoken(words[first].text), spoken(words[last].text)
    opens = any(t.opens for t in tokens(words[: first + 1]) if t.word == first)
    text = spelling
    if opens and core(begins)[:1].isupper():
        text = text[:1].upper() + text[1:]
    if _owned(core(ends)) and not _owned(text):
        text += core(ends)[-2:]
    tag = language(words[first].text)
    made = [f"[{tag}: {t}]" if tag else t for t in text.split()]
    made[0] = begins[: begins.find(core(begins))] + made[0]
    made[-1] += trailing(ends)
    return made


def _bare(text: str) -> str:
    return core(" ".join(spoken(p) for p in parts(text)))


def _owned(text: str) -> bool:
    return plain_signs(text).endswith("'s")


def _whole(said: Sequence[Token], at: int, end: int) -> bool:
    """True where tokens are whole words: no part of a hyphenated one, and no sentence ends between them."""
    before = at == 0 or said[at - 1].word != said[at].word
    after = end == len(said) or said[end].word != said[end - 1].word
    return before and after and not any(t.stop == "." for t in said[at : end - 1])


def _runs(spelled: Sequence[str], wanted: Sequence[str]) -> Iterator[tuple[int, int]]:
    """(from, to) of each place where these stand in a row, apart from each other."""
    at, size = 0, len(wanted)
    while wanted and at + size <= len(spelled):
        if spelled[at] == wanted[0] and tuple(spelled[at : at + size]) == tuple(wanted):
            yield at, at + size
            at += size
        else:
            at += 1


def stands_in(texts: Iterable[str], words: Sequence[Word]) -> bool:
    """True where any of these spellings is said in these words."""
    spelled = [without_possessive(t.text) for t in tokens(words)]
    return any(True for text in texts for _ in _runs(spelled, letters_of(text)))

