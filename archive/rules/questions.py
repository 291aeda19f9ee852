"""The reading of a question into a tree, and where it could not be read. Pure; Whoosh parses.

Words, "phrases", begin*, and / or / not, groups, two words near each other, and fields in the words of the trade (place:"Net Row").
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

from whoosh import query as wq
from whoosh.qparser import (
    FieldsPlugin,
    GroupPlugin,
    OperatorsPlugin,
    PhrasePlugin,
    PrefixPlugin,
    QueryParser,
    WhitespacePlugin,
    syntax,
)
from whoosh.qparser.common import QueryParserError

from archive.domain.letters import plain_signs
from archive.rules.alike import Tokens, numbers_at
from archive.rules.analysis import BOUNDARY, MASKED, analyse, stem

MAX_QUERY_WORDS = 200
NEAR_WORDS = 10
FIELDS = ("place", "year", "theme", "speaker", "interview", "language", "state", "sound", "born", "role")
_MOST_APART = 200
_MAX_DEPTH = 12
_OPERATOR = r"(?i:{})(?=\s|\()"
_NEAR = r"(?<=[\s)\"])(?:NEAR|(?i:within)\s+(?P<apart>[0-9]{1,3})\s+(?i:of))(?=[\s(\"])"
_FIELD = rf"(^|(?<=[\s(]))(?P<text>(?i:{'|'.join(FIELDS)})):(?=[^\s)])"


@dataclass(frozen=True, slots=True)
class Term:
    """One word: its stem is looked for, or its exact form where it stood in quotes."""

    exact: str
    stem: str
    quoted: bool = False


@dataclass(frozen=True, slots=True)
class Phrase:
    """Words one after another, by their exact tokens."""

    exact: Tokens


@dataclass(frozen=True, slots=True)
class Prefix:
    """Words that begin so, by their exact tokens."""

    start: str


@dataclass(frozen=True, slots=True)
class Near:
    """Two words, or two runs of words, in any order with fewer than `apart` words between them; by stems."""

    first: Tokens
    second: Tokens
    apart: int


@dataclass(frozen=True, slots=True)
class Field:
    """Something that narrows, written among the words: one of FIELDS and its value as it was typed."""

    name: str
    value: str


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


Query: TypeAlias = Term | Phrase | Prefix | Near | Field | And | Or | Not | Everything | Nothing


@dataclass(frozen=True, slots=True)
class Unread:
    """A place in a question that could not be read as it was perhaps meant. `at`: its letter, from 1; `words`: what, and how it was taken."""

    at: int
    words: str


class _NearQuery(wq.compound.CompoundQuery):  # type: ignore[misc]  # Whoosh comes without types
    """Two things and how far apart, as our operator leaves them in Whoosh's tree."""

    def __init__(self, subqueries: Sequence[Any], boost: float = 1.0, apart: int = NEAR_WORDS) -> None:
        super().__init__(subqueries, boost)
        self.apart = apart


class _NearGroup(syntax.GroupNode):  # type: ignore[misc]
    merging = False
    qclass = _NearQuery


class _NearOperator(syntax.InfixOperator):  # type: ignore[misc]
    """Binds what stands right before and after it, if both are words or phrases; else it is left out."""

    def __init__(self, text: str, apart: int) -> None:
        super().__init__(text, _NearGroup)
        self.apart = apart

    def replace_self(self, parser: Any, group: Any, position: int) -> int:
        around = [group[n] for n in (position - 1, position + 1) if 0 <= n < len(group)]
        if len(around) == 2 and all(isinstance(n, (syntax.WordNode, PhrasePlugin.PhraseNode)) for n in around):
            group[position - 1 : position + 2] = [_NearGroup(around, apart=self.apart)]
        else:
            del group[position]
        return position


class _NearTagger(OperatorsPlugin.OpTagger):  # type: ignore[misc]
    def __init__(self) -> None:
        super().__init__(_NEAR, _NearGroup, _NearOperator)

    def create(self, parser: Any, match: re.Match[str]) -> _NearOperator:
        return _NearOperator(match[0], min(max(1, int(match["apart"] or NEAR_WORDS)), _MOST_APART))


_parser = QueryParser(
    None,
    None,
    plugins=[
        WhitespacePlugin(),
        GroupPlugin(),
        FieldsPlugin(_FIELD),
        OperatorsPlugin(
            ops=[(_NearTagger(), -1)],
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
    """A question as a tree. Never raises, whatever is typed. Numbers are looked for as they are written and as they are said.

    Only the first 200 words are read; `unread` says how many were not.
    """
    readable = _readable(text)
    if not readable:
        return Everything()
    try:
        tree = _convert(_parser.parse(readable, normalize=False))
    except (QueryParserError, RecursionError, ValueError, IndexError, AttributeError, TypeError):
        # An oddity of the parser must not keep anybody from an answer: all the words, without operators.
        tree = _all_of([_word(w, quoted=False) for w in readable.split()])
    return widened(tree, numbers_at) if tree else Nothing()


def _readable(text: str) -> str:
    printable = "".join(" " if unicodedata.category(c) in ("Cc", "Cs", "Co", "Cn") else c for c in text)
    words = plain_signs(MASKED.sub(" ", printable)).split()[:MAX_QUERY_WORDS]
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
    if isinstance(node, _NearQuery):
        return _near([_convert(n) for n in node.subqueries], node.apart)
    if isinstance(node, wq.compound.CompoundQuery):
        return _all_of([_convert(n) for n in node.subqueries])
    if getattr(node, "fieldname", None):
        value = " ".join(node.words) if isinstance(node, wq.Phrase) else str(node.text)
        return Field(node.fieldname.lower(), value)
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


def _near(parts: Sequence[Query | None], apart: int) -> Query | None:
    runs = [tokens_of(p) for p in parts if p]
    if len(runs) == 2 and all(runs):
        first, second = (tuple(map(stem, run)) for run in runs)
        return Near(first, second, apart)
    return _all_of(parts)


def tokens_of(query: Query) -> Tokens:
    """The exact tokens of a word or phrase; () of anything else."""
    if isinstance(query, Term):
        return (query.exact,)
    return query.exact if isinstance(query, Phrase) else ()


def _word(text: str, *, quoted: bool) -> Query | None:
    found = analyse(text)
    return _run(tuple(t for t in found.exact if t != BOUNDARY), quoted)


def _run(exact: Tokens, quoted: bool = False) -> Query | None:
    if not exact:
        return None
    return Term(exact[0], stem(exact[0]), quoted) if len(exact) == 1 else Phrase(exact)


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


# --- the same in other words ---------------------------------------------------------------------------------------

# From the exact tokens of a question and a place in them: how many of them are one thing, and how else it is written.
Alike: TypeAlias = Callable[[Tokens, int], tuple[int, tuple[Tokens, ...]] | None]
_MOST_VARIANTS = 24


def widened(query: Query, alike: Alike) -> Query:
    """The question with whatever else its words are called: numbers, names. What was asked for stays in it as it was."""
    if isinstance(query, Not):
        return Not(widened(query.part, alike))
    if isinstance(query, Or):
        return _flat(Or, [widened(p, alike) for p in query.parts]) or query
    if isinstance(query, And):
        return _flat(And, list(_in_runs(query.parts, alike))) or query
    if isinstance(query, Near):
        sides = [_variants(side, alike) for side in (query.first, query.second)]
        made = [Near(tuple(map(stem, a)), tuple(map(stem, b)), query.apart) for a in sides[0] for b in sides[1]]
        return _flat(Or, made[:_MOST_VARIANTS]) or query
    if isinstance(query, Phrase) or (isinstance(query, Term) and not query.quoted):
        others = [p for p in map(_run, _variants(tokens_of(query), alike)[1:]) if p]
        return _flat(Or, [query, *others]) or query
    return query


def _in_runs(parts: Sequence[Query], alike: Alike) -> Iterator[Query]:
    """Parts that must all be met; words that stand side by side in the question may together be one thing."""
    at = 0
    while at < len(parts):
        run: list[Tokens] = []
        for part in parts[at : at + 6]:
            tokens = () if isinstance(part, Term) and part.quoted else tokens_of(part)
            if not tokens:
                break
            run.append(tokens)
        for many in range(len(run), 1, -1):
            together = tuple(t for tokens in run[:many] for t in tokens)
            found = alike(together, 0)
            if found and found[0] == len(together):
                others = [p for p in map(_run, (together, *found[1])) if p]
                yield _flat(Or, [And(tuple(parts[at : at + many])), *others]) or parts[at]
                at += many
                break
        else:
            yield widened(parts[at], alike)
            at += 1


def _variants(tokens: Tokens, alike: Alike) -> list[Tokens]:
    """A run of tokens first as it is, then with each thing in it as it is else called."""
    made: list[Tokens] = [()]
    at = 0
    while at < len(tokens):
        found = alike(tokens, at)
        length, others = found or (1, ())
        own = tokens[at : at + length]
        made = [before + part for part in (own, *others) for before in made][:_MOST_VARIANTS]
        at += length
    return list(dict.fromkeys(made))


# --- where it cannot be read ---------------------------------------------------------------------------------------

_QUOTED_OR_SIGN = re.compile(r"\"[^\"]*\"?|[()]|[^\s()\"]+")


def unread(text: str) -> tuple[Unread, ...]:
    """Where a question could not be read, in order: what is not closed, what joins nothing, what was too long."""
    line = plain_signs(text)
    pieces = [(m.start() + 1, m[0]) for m in _QUOTED_OR_SIGN.finditer(line)]
    found: list[Unread] = []
    open_at: list[int] = []
    for n, (at, piece) in enumerate(pieces):
        before = pieces[n - 1][1] if n else "("
        after = pieces[n + 1][1] if n + 1 < len(pieces) else ")"
        if piece.startswith('"') and (len(piece) == 1 or not piece.endswith('"')):
            found.append(Unread(at, f"A quotation mark opens before “{_short(piece[1:])}” and is not closed; it was taken to close at the end."))
        elif piece == "(":
            open_at.append(at)
        elif piece == ")" and open_at:
            open_at.pop()
        elif piece == ")":
            found.append(Unread(at, "A bracket closes that was not opened; it was left out."))
        elif piece.lower() in ("and", "or") and (before == "(" or after == ")"):
            found.append(Unread(at, f"“{piece}” has nothing {'before' if before == '(' else 'after'} it to join; it was looked for as a word."))
        elif piece.lower() == "not" and after == ")":
            found.append(Unread(at, f"“{piece}” has nothing after it to leave out; it was looked for as a word."))
        elif piece.lower() in ("and", "or") and after.lower() in ("and", "or"):
            found.append(Unread(at, f"“{piece} {after}” joins nothing in between; one of them was read."))
        elif piece.endswith(":") and piece[:-1].lower() in FIELDS and not line[at + len(piece) - 1 : at + len(piece)].strip():
            found.append(Unread(at, f"“{piece}” has nothing after it; it was looked for as a word."))
    found += [Unread(at, "A bracket opens that is not closed; it was taken to close at the end.") for at in open_at]
    words = text.split()
    if len(words) > MAX_QUERY_WORDS:
        at = len(" ".join(words[:MAX_QUERY_WORDS])) + 2
        found.append(Unread(at, f"Only the first {MAX_QUERY_WORDS} words were read; {len(words) - MAX_QUERY_WORDS} were not."))
    return tuple(sorted(found, key=lambda u: u.at))


def _short(text: str) -> str:
    words = text.split()
    return " ".join(words[:4]) + (" …" if len(words) > 4 else "")


def leaves(query: Query) -> list[Query]:
    """The words, phrases, beginnings, pairs and fields of a question, but for what is left out."""
    if isinstance(query, (And, Or)):
        return [leaf for part in query.parts for leaf in leaves(part)]
    return [] if isinstance(query, (Not, Everything, Nothing)) else [query]


def fields_of(query: Query) -> tuple[Field, ...]:
    """Every field of a question, those too that are left out."""
    if isinstance(query, (And, Or)):
        return tuple(dict.fromkeys(f for part in query.parts for f in fields_of(part)))
    if isinstance(query, Not):
        return fields_of(query.part)
    return (query,) if isinstance(query, Field) else ()
