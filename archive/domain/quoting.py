"""A quote is faithful: its words stand in the transcript, in order, and what is left out is marked. Pure.

Words are compared by their letters; the wording that is kept is always the transcript's own.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from archive.domain.letters import plain_signs
from archive.domain.marks import parts, spoken
from archive.domain.masking import BRACKETED, MASK, mask_key, mask_words, wording
from archive.domain.values import Word
from archive.errors import NotFaithful

OMISSION = "[…]"
_MARKED = re.compile(r"\[\s*(?:…|\.{3,}|\. \. \.)\s*\]")
_DOTS = re.compile(r"…|\.{3,}")
_ADDED = re.compile(r"\[[^\]]*\]?")
_EDGE = " \t\n\r.,;:!?…\"'()[]{}<>/*_-"
_SHOWN_DIFFERENCES = 12
_HIDDEN = "\x00"  # stands for any mask while a quote with "[name withheld]" in it is compared; two of them hold a mask's own words
_OWN = re.compile("\x00([^\x00]*)\x00")
_BLANK = "\x01"  # a space inside a mask's own words


@dataclass(frozen=True, slots=True)
class Span:
    """A run of words of one utterance: block and first to last word index, inclusive."""

    block_id: int
    first: int
    last: int


@dataclass(frozen=True, slots=True)
class _Piece:
    """What one word (or one mask) of the transcript is compared by."""

    tokens: tuple[str, ...]
    block_id: int
    first: int
    last: int
    text: str


@dataclass(frozen=True, slots=True)
class _Run:
    """Words of a quote between two omission marks: (token, as written); bare signs before and after are counted."""

    tokens: tuple[tuple[str, str], ...]
    lead: int
    trail: int


def word_tokens(text: str) -> tuple[str, ...]:
    """What a word is compared by: lower case, plain apostrophes, parted at dashes, punctuation around it ignored."""
    if text.isalpha() and text.isascii():
        return (text.lower(),)
    found = plain_signs(spoken(text)).casefold().split("-")
    return tuple(t for t in (p.strip(_EDGE) for p in found) if t)


def text_tokens(text: str) -> tuple[str, ...]:
    """`word_tokens` of every word of a text, in order."""
    return tuple(token for word in parts(text) for token in word_tokens(word))


def choose(
    quote: str, utterances: Sequence[tuple[int, Sequence[Word]]], masks: Sequence[tuple[int, int]] = (),
    instead: Mapping[tuple[int, int], str] | None = None,
) -> list[Span]:  # fmt: skip
    """The spans of words a quote consists of, in order. `utterances`: (block id, words) in the order of the recording.

    Omissions: "[…]", "[...]" or "…". `masks` (ms): what "[name withheld]", or their own words in `instead`, may stand for.
    Raises NotFaithful, with the differing words, when the quote is not made of the transcript's words in order.
    """
    written = _with_masks(quote, {mask_key(said[1:-1]) for said in (instead or {}).values() if said})
    pieces = _pieces(utterances, masks if _HIDDEN in written else (), instead)
    _refuse_additions(written, utterances)
    plain = _runs(_MARKED.split(written))
    if not any(r.tokens for r in plain):
        raise NotFaithful("The quote is empty.", (), "Choose at least one word of the passage.")
    index = _Index(pieces)
    found = index.place(plain)
    if found is None and _DOTS.search(written):
        loose = _runs([p for part in _MARKED.split(written) for p in _DOTS.split(part)])
        found = index.place(loose)
    if found is None:
        raise NotFaithful(
            "The quote differs from the transcript.",
            index.differences(plain),
            "Use the words as they stand in the transcript (14 stays 14), and mark what you leave out with […].",
        )
    return _spans(pieces, found)


def quote_text(
    spans: Sequence[Span],
    lookup: Callable[[int], Sequence[Word]],
    masks: Sequence[tuple[int, int]] = (),
    order: Sequence[int] = (),
    instead: Mapping[tuple[int, int], str] | None = None,
) -> str:
    """The wording of the spans, masks in place, […] wherever something is left out between two of them.

    `order`: the block ids of the version in order; without it a change of block always counts as an omission.
    `instead`: own words of masks.
    """
    texts: list[str] = []
    for n, run in enumerate(unbroken(spans, lookup, order)):
        texts += [*([OMISSION] if n else []), wording(mask_words(run, masks, instead=instead))]
    return " ".join(t for t in texts if t)


def unbroken(spans: Sequence[Span], lookup: Callable[[int], Sequence[Word]], order: Sequence[int] = ()) -> list[list[Word]]:
    """The words of the spans, parted wherever something is left out between two of them; parameters as of `quote_text`."""
    positions = {block_id: n for n, block_id in enumerate(order)}
    runs: list[list[Word]] = []
    previous: Span | None = None
    for span in spans:
        if previous is None or not _adjacent(previous, span, lookup, positions, order):
            runs.append([])
        runs[-1].extend(lookup(span.block_id)[span.first : span.last + 1])
        previous = span
    return runs


def wording_sha256(master_sha256: str, parts: Sequence[tuple[str, int, int, str, int, int]]) -> str:
    """One checksum over the exact wording and its sound.

    `parts`: (sha256 of the block, first, last, text, start_ms, end_ms). Any change of word, time or order changes it.
    """
    record = {"master": master_sha256, "parts": [list(p) for p in parts]}
    canonical = json.dumps(record, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(canonical.encode("utf-8", "surrogatepass")).hexdigest()


def _adjacent(
    before: Span,
    after: Span,
    lookup: Callable[[int], Sequence[Word]],
    positions: dict[int, int],
    order: Sequence[int],
) -> bool:
    if before.block_id == after.block_id:
        return before.last + 1 == after.first
    here, there = positions.get(before.block_id), positions.get(after.block_id)
    if here is None or there is None or there <= here or after.first != 0:
        return False
    if before.last != len(lookup(before.block_id)) - 1:
        return False
    return all(len(lookup(order[n])) == 0 for n in range(here + 1, there))


def _with_masks(quote: str, known: set[str]) -> str:
    """The quote with every mask in it, "[name withheld]" or own words that are known here, as one word between two signs."""

    def mark(match: re.Match[str]) -> str:
        inner = " ".join(match[1].split())
        if f"[{inner.lower()}]" == MASK:
            return _HIDDEN + _HIDDEN
        return _HIDDEN + inner.replace(" ", _BLANK) + _HIDDEN if mask_key(inner) in known else match[0]

    return BRACKETED.sub(mark, quote.replace(_HIDDEN, " "))


def _mask_token(said: str) -> str:
    return _HIDDEN + mask_key(said.replace(_BLANK, " ")) if said else _HIDDEN


def _pieces(
    utterances: Sequence[tuple[int, Sequence[Word]]], masks: Sequence[tuple[int, int]],
    instead: Mapping[tuple[int, int], str] | None = None,
) -> list[_Piece]:  # fmt: skip
    pieces = []
    for block_id, words in utterances:
        for token in mask_words(words, masks, instead=instead):
            compared: tuple[str, ...] = word_tokens(token.text)
            if token.masked:
                shown = BRACKETED.search(token.text)
                compared = (_mask_token(shown[1] if shown and shown[0] != MASK else ""),)
            pieces.append(_Piece(compared, block_id, token.first, token.last, token.text))
    return pieces


def _runs(parts: Sequence[str]) -> list[_Run]:
    return [r for r in map(_run, parts) if r.tokens]


def _run(part: str) -> _Run:
    tokens: list[tuple[str, str]] = []
    lead = trail = 0
    for written in parts(part):
        mask = _OWN.search(written)
        compared = (_mask_token(mask[1]),) if mask else word_tokens(written)
        if compared:
            trail = 0
            tokens += [(c, written) for c in compared]
        elif tokens:
            trail += 1
        else:
            lead += 1
    return _Run(tuple(tokens), lead, trail)


def _refuse_additions(written: str, utterances: Sequence[tuple[int, Sequence[Word]]]) -> None:
    added = _ADDED.findall(_MARKED.sub(" ", written))
    if added and not any("[" in w.text for _, words in utterances for w in words):
        shown = tuple(f"“{a}” was added in brackets" for a in added[:_SHOWN_DIFFERENCES])
        raise NotFaithful(
            "Additions in [brackets] are not taken yet.",
            shown,
            "Leave them out of the quote; a note beside it may explain.",
        )


class _Index:
    """The transcript's tokens in one line, with the places where each token stands."""

    def __init__(self, pieces: Sequence[_Piece]) -> None:
        self.tokens: list[str] = []
        self.owner: list[int] = []  # the piece a token belongs to
        for n, piece in enumerate(pieces):
            self.tokens += piece.tokens
            self.owner += [n] * len(piece.tokens)
        self.pieces = pieces
        self.where: dict[str, list[int]] = {}
        for at, token in enumerate(self.tokens):
            self.where.setdefault(token, []).append(at)
            if token.startswith(_HIDDEN) and token != _HIDDEN:  # "[name withheld]" stands for a mask with own words too
                self.where.setdefault(_HIDDEN, []).append(at)

    def place(self, runs: Sequence[_Run]) -> list[tuple[int, int]] | None:
        """Pieces (first, last) of each run: the earliest full match, drawn as tight as it can be; None: no match."""
        ends: list[tuple[int, int]] = []
        at = 0
        for run in runs:
            start = self._first(run, at, len(self.tokens))
            if start is None:
                return None
            at = start + len(run.tokens)
            ends.append((start, at))
        for n in range(len(runs) - 2, -1, -1):
            limit = ends[n + 1][0]
            latest = self._last(runs[n], ends[n][0], limit)
            ends[n] = (latest, latest + len(runs[n].tokens))
        found = [(self.owner[s], self.owner[e - 1]) for s, e in ends]
        return self._with_signs(runs, found)

    def _fits(self, run: _Run, start: int, limit: int) -> bool:
        end = start + len(run.tokens)
        if end > limit or any(not _same(self.tokens[start + k], t) for k, (t, _) in enumerate(run.tokens)):
            return False
        whole_start = start == 0 or self.owner[start - 1] != self.owner[start]
        whole_end = end == len(self.tokens) or self.owner[end] != self.owner[end - 1]
        return whole_start and whole_end

    def _first(self, run: _Run, at: int, limit: int) -> int | None:
        for start in self.where.get(run.tokens[0][0], ()):
            if start >= at and self._fits(run, start, limit):
                return start
        return None

    def _last(self, run: _Run, at: int, limit: int) -> int:
        fitting = [s for s in self.where[run.tokens[0][0]] if s >= at and self._fits(run, s, limit)]
        return fitting[-1]

    def _with_signs(self, runs: Sequence[_Run], found: list[tuple[int, int]]) -> list[tuple[int, int]]:
        """Words that are only a sign (a lone dash) go with the run where the quote has them at its edge too."""
        wide: list[tuple[int, int]] = []
        for n, (run, (first, last)) in enumerate(zip(runs, found, strict=True)):
            floor = wide[-1][1] + 1 if wide else 0
            ceiling = found[n + 1][0] - 1 if n + 1 < len(found) else len(self.pieces) - 1
            for _ in range(run.lead):
                if first - 1 >= floor and not self.pieces[first - 1].tokens:
                    first -= 1
            for _ in range(run.trail):
                if last + 1 <= ceiling and not self.pieces[last + 1].tokens:
                    last += 1
            wide.append((first, last))
        return wide

    def differences(self, runs: Sequence[_Run]) -> tuple[str, ...]:
        """What stands in the way, in sentences: words that are nowhere, then the first that breaks the order."""
        shown: list[str] = []
        for run in runs:
            for token, written in run.tokens:
                if token not in self.where:
                    shown.append(f"“{_clean(written)}” is not in this part of the transcript")
        at = 0
        for run in runs:
            start = self._first(run, at, len(self.tokens))
            if start is None:
                shown.append(self._break(run, at))
                break
            at = start + len(run.tokens)
        return tuple(dict.fromkeys(shown))[:_SHOWN_DIFFERENCES]

    def _break(self, run: _Run, at: int) -> str:
        best = 0
        for start in self.where.get(run.tokens[0][0], ()):
            if start < at:
                continue
            k = 0
            while k < len(run.tokens) and start + k < len(self.tokens) and _same(self.tokens[start + k], run.tokens[k][0]):
                k += 1
            best = max(best, k)
        if best >= len(run.tokens):
            return f"“{_clean(run.tokens[-1][1])}” is only part of a word here"
        word = _clean(run.tokens[best][1])
        if best == 0:
            return f"“{word}” does not stand {'after the omission' if at else 'where the quote begins'}"
        before = " ".join(_clean(w) for _, w in run.tokens[max(0, best - 3) : best])
        return f"“{word}” does not stand after “{before}”"


def _same(token: str, wanted: str) -> bool:
    return token == wanted or (wanted == _HIDDEN and token.startswith(_HIDDEN))


def _clean(written: str) -> str:
    written = _OWN.sub(lambda m: f"[{m[1].replace(_BLANK, ' ')}]" if m[1] else MASK, written)
    return written.strip(_EDGE + "“”‘’") or written


def _spans(pieces: Sequence[_Piece], found: Sequence[tuple[int, int]]) -> list[Span]:
    spans: list[Span] = []
    for first, last in found:
        for piece in pieces[first : last + 1]:
            before = spans[-1] if spans else None
            if before and before.block_id == piece.block_id and before.last + 1 == piece.first:
                spans[-1] = Span(before.block_id, before.first, piece.last)
            else:
                spans.append(Span(piece.block_id, piece.first, piece.last))
    return spans


def wording_of_later(wording_sha256: str, words: str) -> str:
    """The checksum of a speaker's later wording of these words, by which it is approved and ticked."""
    return hashlib.sha256(json.dumps([wording_sha256, "later", words], ensure_ascii=False).encode("utf-8", "surrogatepass")).hexdigest()
