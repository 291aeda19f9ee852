"""Shown words as markup, built in Python because a three-hour interview has 27,000 of them. Every text is escaped here."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from typing import Protocol

from markupsafe import Markup, escape


class Word(Protocol):
    """A shown word, as far as the pages read it."""

    @property
    def text(self) -> str: ...
    @property
    def start_ms(self) -> int: ...
    @property
    def end_ms(self) -> int: ...
    @property
    def doubtful(self) -> bool: ...
    @property
    def masked(self) -> bool: ...
    @property
    def closed(self) -> bool: ...
    @property
    def index(self) -> int: ...
    @property
    def hidden(self) -> str: ...


class Utterance(Protocol):
    """A shown utterance, as far as the pages read it."""

    @property
    def utterance_id(self) -> int: ...
    @property
    def end_ms(self) -> int: ...
    @property
    def words(self) -> Sequence[Word]: ...


HIDDEN = {
    "undecided": '<span class="vh nocopy"> (hidden from readers and from what leaves: undecided)</span>',
    "decided": '<span class="vh nocopy"> (hidden from readers and from what leaves)</span>',
}
UNSURE = '<span class="vh nocopy"> (unsure)</span>'


def words(spoken: Iterable[Word], glossed: Collection[int] = ()) -> Markup:
    """One `span` a word with start and end in ms as data-s, data-e (no end for a mask) and its number as data-n; masks and doubtful words
    are marked by class and by words, and so is what is hidden from others. What is closed is no word: it can be neither played nor chosen.
    `glossed`: places of words that the glossary explains beside them."""
    parts = []
    every = list(spoken)
    for n, (word, following) in enumerate(zip(every, [*every[1:], None], strict=True)):
        text = escape(word.text)
        if n in glossed and not word.masked:
            text = Markup('<span class="glossed">') + text + Markup("</span>")
        here = f'data-s="{word.start_ms}" data-n="{word.index}"'
        end = f' data-e="{word.end_ms}"'
        if word.closed:
            parts.append(f'<span class="mask">{text}</span>')
        elif word.masked:
            parts.append(f'<span class="mask" {here}>{text}</span>')
        elif word.hidden:
            told = "" if following is not None and following.hidden == word.hidden else HIDDEN[word.hidden]  # once for a run of words
            unsure, more = (" unsure", UNSURE) if word.doubtful else ("", "")
            parts.append(f'<span class="hides{unsure}" {here}{end}>{text}{more}{told}</span>')
        elif word.doubtful:
            parts.append(f'<span class="unsure" {here}{end}>{text}{UNSURE}</span>')
        else:
            parts.append(f'<span {here}{end}>{text}</span>')
    return Markup(" ".join(parts))


def stretches(playable: Sequence[tuple[int, int]]) -> str:
    """Playable stretches for the player's data attribute: "0-12000,15000-90000" in ms."""
    return ",".join(f"{start}-{end}" for start, end in playable)
