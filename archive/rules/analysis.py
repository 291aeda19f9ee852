"""The one analyser: what passages and questions are compared by, and the reading of a question. Pure.

Whoosh tokenises, folds, stems and parses. Tokens hold only letters and digits: SQLite's unicode61 would split at an
apostrophe or a click's "!", so these are written as the letters U+02BC and U+01C3.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, NamedTuple, TypeAlias

from whoosh import query as wq
from whoosh.analysis import Filter, LowercaseFilter, RegexTokenizer
from whoosh.lang import stemmer_for_language
from whoosh.qparser import GroupPlugin, OperatorsPlugin, PhrasePlugin, PrefixPlugin, QueryParser, WhitespacePlugin
from whoosh.qparser.common import QueryParserError

from archive.domain.letters import folded, plain_signs
from archive.domain.marks import spoken
from archive.domain.masking import MASK, Masked

BOUNDARY = "ǂǂǂ"  # stands where a mask is; no question can hold it, so no phrase crosses a mask
MAX_QUERY_WORDS = 200
_MAX_DEPTH = 12
_APOSTROPHE, _CLICK = "ʼ", "ǃ"
_CHAR = r"[^\W_\u0300-\u036F]|[\u0300-\u036F\u01C0-\u01C3]"
_TOKEN = rf"!?(?:{_CHAR})+(?:[!'](?:{_CHAR})+)*"
_TO_LETTERS = str.maketrans({"'": _APOSTROPHE, "!": _CLICK})
_MASKED = re.compile(re.escape(MASK) + r"(?:['’]s\b)?")
_OPERATOR = r"(?i:{})(?=\s|\()"


class Analysed(NamedTuple):
    """Tokens of one text, in step with each other: as spoken (folded), and stemmed."""

    exact: tuple[str, ...]
    stem: tuple[str, ...]


class _Fold(Filter):  # type: ignore[misc]  # Whoosh comes without types
    """Folds case and accents, drops a possessive 's, writes signs as letters."""

    def __call__(self, stream: Iterator[Any]) -> Iterator[Any]:
        for token in stream:
            text = token.text
            if not (text.isascii() and text.isalnum()):
                text = folded(text)
                if text.endswith("'s") and len(text) > 3:
                    text = text[:-2]
                text = text.translate(_TO_LETTERS)
                text = "".join(c for c in text if c.isalnum())
            if text and text != BOUNDARY:
                token.text = text
                yield token


_exact = RegexTokenizer(_TOKEN) | LowercaseFilter() | _Fold()
_stem_english = stemmer_for_language("en")


@lru_cache(maxsize=50_000)
def stem(token: str) -> str:
    """The stem of one exact token (Whoosh's Snowball English): striking → strike. A boundary stays itself."""
    return token if token == BOUNDARY else str(_stem_english(token))


def analyse(text: str) -> Analysed:
    """Exact and stemmed tokens of a text; each mask in it ("[name withheld]") becomes one boundary token."""
    exact: list[str] = []
    for n, piece in enumerate(_MASKED.split(text) if MASK in text else [text]):
        if n:
            exact.append(BOUNDARY)
        exact += [t.text for t in _exact(plain_signs(piece))]
    return Analysed(tuple(exact), tuple(map(stem, exact)))


_analysed = lru_cache(maxsize=50_000)(analyse)  # for single words, which come again and again


def analyse_masked(tokens: Sequence[Masked]) -> Analysed:
    """Tokens of a wording with its masks in place; nothing of what a mask covers or of its punctuation is kept."""
    return analyse(" ".join(MASK if t.masked else spoken(t.text).replace(MASK, " ") for t in tokens))


# --- questions ---------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Term:
    """One word: its stem is looked for, or its exact form where it stood in quotes."""

    exact: str
    stem: str
    quoted: bool = False


@dataclass(frozen=True, slots=True)
class Phrase:
    """Words one after another, by their exact tokens."""

    exact: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Prefix:
    """Words that begin so, by their exact tokens."""

    start: str


@dataclass(frozen=True, slots=True)
class And:
    """All of these."""

    parts: tuple[Query, ...]


@dataclass(frozen=True, slots=True)
class Or:
    """Any of these."""

    parts: tuple[Query, ...]


@dataclass(frozen=True, slots=True)
class Not:
    """What does not fit this."""

    part: Query


@dataclass(frozen=True, slots=True)
class Everything:
    """Nothing was asked: all that may be seen."""


@dataclass(frozen=True, slots=True)
class Nothing:
    """Something was asked that holds no word at all."""


Query: TypeAlias = Term | Phrase | Prefix | And | Or | Not | Everything | Nothing

_parser = QueryParser(
    None,
    None,
    plugins=[
        WhitespacePlugin(),
        GroupPlugin(),
        OperatorsPlugin(
            Not=r"(^|(?<=[\s(]))" + _OPERATOR.format("not"),
            And=r"(?<=[\s)])" + _OPERATOR.format("and"),
            Or=r"(?<=[\s)])" + _OPERATOR.format("or"),
            AndNot=None,
            AndMaybe=None,
            Require=None,
        ),
        PhrasePlugin('"(?P<text>[^"]*)"(?P<slop>(?!))?'),
        PrefixPlugin(),
    ],
)


def parse_query(text: str) -> Query:
    """A question as a tree: words, "phrases", begin*, and / or / not, groups. Never raises, whatever is typed.

    Only the first 200 words are read (`left_out` says how many were not).
    """
    readable = _readable(text)
    if not readable:
        return Everything()
    try:
        tree = _convert(_parser.parse(readable, normalize=False))
    except (QueryParserError, RecursionError, ValueError, IndexError, AttributeError, TypeError):
        # An oddity of the parser must not keep anybody from an answer: all the words, without operators.
        tree = _all_of([_word(w, quoted=False) for w in readable.split()])
    return tree or Nothing()


def left_out(text: str) -> int:
    """How many words of a question were not read because it is too long."""
    return max(0, len(text.split()) - MAX_QUERY_WORDS)


def _readable(text: str) -> str:
    printable = "".join(" " if unicodedata.category(c) in ("Cc", "Cs", "Co", "Cn") else c for c in text)
    words = plain_signs(_MASKED.sub(" ", printable)).split()[:MAX_QUERY_WORDS]
    # Twice not is none, and would nest without end; between quotation marks these are words like any other.
    line = re.sub(r'(?i)("[^"]*"?)|\b(?:not\s+not\s+)+', lambda m: m[1] or "", " ".join(words))
    if line.count('"') % 2:  # an open quotation mark closes at the end of the question
        line += '"'
    return line if _depth(line) <= _MAX_DEPTH else line.replace("(", " ").replace(")", " ")


def _depth(line: str) -> int:
    depth = deepest = 0
    for sign in line:
        depth += {"(": 1, ")": -1}.get(sign, 0)
        deepest = max(deepest, depth)
    return deepest


def _convert(node: Any) -> Query | None:
    """Whoosh's query as our tree; None where it holds no word."""
    if isinstance(node, wq.Not):
        inner = _convert(node.query)
        return Not(inner) if inner else None
    if isinstance(node, wq.Or):
        parts = [p for p in map(_convert, node.subqueries) if p]
        return _flat(Or, parts)
    if isinstance(node, wq.compound.CompoundQuery):
        return _all_of([_convert(n) for n in node.subqueries])
    if isinstance(node, wq.Prefix):
        exact = analyse(node.text).exact
        if not exact:
            return None
        *before, start = exact
        # A mask's own token begins with this click: such a beginning is taken as a whole word, or every mask would be found.
        last = Term(start, stem(start)) if BOUNDARY.startswith(start) else Prefix(start)
        return _all_of([*(Term(t, stem(t)) for t in before), last])
    if isinstance(node, wq.Phrase):
        return _word(" ".join(node.words), quoted=True)
    if isinstance(node, wq.Term):
        return _word(node.text, quoted=False)
    return None


def _word(text: str, *, quoted: bool) -> Query | None:
    found = analyse(text)
    exact = tuple(t for t in found.exact if t != BOUNDARY)
    if not exact:
        return None
    if len(exact) == 1:
        return Term(exact[0], stem(exact[0]), quoted)
    return Phrase(exact)


def _all_of(parts: Sequence[Query | None]) -> Query | None:
    return _flat(And, [p for p in parts if p])


def _flat(kind: type[And] | type[Or], parts: Sequence[Query]) -> Query | None:
    """One level instead of And in And; a single part stands for itself; the same part counts once."""
    level: list[Query] = []
    for part in parts:
        level += part.parts if isinstance(part, kind) else [part]
    single = list(dict.fromkeys(level))
    if not single:
        return None
    return single[0] if len(single) == 1 else kind(tuple(single))


# --- marking what was found --------------------------------------------------------------------------------------


def highlight(
    words: Sequence[str], query: Query, around: int = 32, masks: Collection[int] = ()
) -> list[tuple[str, bool]]:
    """About `around` words where the question is met best: (text, is a match), neighbours of one sort joined.

    `words` come from the wording that the viewer may read, a mask as one of them; `masks`: which of them are masks, whose
    own words are never marked and over which no phrase reaches. "…" stands where words were left out.
    """
    marked = _marked(words, query, masks)
    first = _best_window(marked, around)
    last = min(len(words), first + around)
    parts: list[tuple[str, bool]] = []
    for text, is_match in zip(words[first:last], (m > 0 for m in marked[first:last]), strict=True):
        if parts and parts[-1][1] == is_match:
            parts[-1] = (parts[-1][0] + " " + text, is_match)
        else:
            parts.append((text, is_match))
    before = [("…", False)] if first > 0 else []
    return before + parts + ([("…", False)] if last < len(words) else [])


_AT_A_MASK = Analysed((BOUNDARY,), (BOUNDARY,))


def _marked(words: Sequence[str], query: Query, masks: Collection[int] = ()) -> list[int]:
    """For each word 0, or the number of the wanted thing it meets."""
    sought = list(_wanted(query))
    if not sought:
        return [0] * len(words)
    exact: list[str] = []
    stems: list[str] = []
    owner: list[int] = []
    for n, text in enumerate(words):
        found = _AT_A_MASK if n in masks else _analysed(text)
        exact += found.exact
        stems += found.stem
        owner += [n] * len(found.exact)
    marked = [0] * len(words)
    for number, wanted in enumerate(sought, start=1):
        for at in range(len(exact)):
            length = _meets(wanted, exact, stems, at)
            for k in range(at, at + length):
                marked[owner[k]] = number
    return marked


def _wanted(query: Query) -> list[Term | Phrase | Prefix]:
    if isinstance(query, (And, Or)):
        return [w for part in query.parts for w in _wanted(part)]
    return [query] if isinstance(query, (Term, Phrase, Prefix)) else []


def _meets(wanted: Term | Phrase | Prefix, exact: Sequence[str], stems: Sequence[str], at: int) -> int:
    """How many tokens from `at` on meet the wanted thing; 0: none."""
    if isinstance(wanted, Phrase):
        return len(wanted.exact) if tuple(exact[at : at + len(wanted.exact)]) == wanted.exact else 0
    if isinstance(wanted, Prefix):
        return int(exact[at] != BOUNDARY and exact[at].startswith(wanted.start))
    return int(exact[at] == wanted.exact or (not wanted.quoted and stems[at] == wanted.stem))


def _best_window(marked: Sequence[int], around: int) -> int:
    """Where to begin: the window with most different things met, then most matches, then the earliest."""
    hits = [n for n, m in enumerate(marked) if m]
    if not hits or len(marked) <= around:
        return 0
    best, best_score = 0, (-1, -1)
    for hit in hits:
        first = max(0, min(hit - around // 4, len(marked) - around))
        inside = [m for m in marked[first : first + around] if m]
        score = (len(set(inside)), len(inside))
        if score > best_score:
            best, best_score = first, score
    return best
