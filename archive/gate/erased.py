"""Words for one errand: to be erased, and to be known again by digests alone. Nothing of it reaches a page, a file or a log."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from itertools import groupby
from typing import Any

from archive.db import words
from archive.db.session import Connection
from archive.domain.erasing import Heard, Times, runs, tokens, touches
from archive.gate.reading import Context, Readings

Digest = Callable[[bytes], bytes]


def heard_in(connection: Connection, recording_id: int, context: Context) -> tuple[Heard, ...]:
    """Who speaks when, in today's version."""
    reading = Readings(connection, context).of(recording_id)
    return tuple(Heard(u.start_ms, u.end_ms, u.speaker_id) for u in reading.utterances)


def runs_of(connection: Connection, recording_id: int, digest: Digest, gone: Times) -> set[bytes]:
    """Digests of every ten words in a row of a recording that all go, in all its versions and edits; `gone` empty: everything goes."""
    found = set()
    for block in words.spoken(connection, recording_id):
        goes = [not gone or touches(word[1], word[2], gone) for word in block]
        for together, some in groupby(zip(goes, block, strict=True), key=lambda pair: pair[0]):
            if together:
                found |= {digest(run.encode("utf-8")) for run in runs(_tokens([word for _, word in some]))}
    return found


def _tokens(block: Iterable[Sequence[Any]]) -> list[str]:
    return tokens(" ".join(str(word[0]) for word in block))


def runs_left(connection: Connection, digest: Digest, wanted: set[bytes]) -> set[bytes]:
    """Those of these digests that what stays in the archive has as well: a question that is asked in every interview, say."""
    if not wanted:
        return set()
    return {d for block in words.spoken(connection) for run in runs(_tokens(block)) if (d := digest(run.encode("utf-8"))) in wanted}


def erase_all(connection: Connection, recording_id: int) -> None:
    """Delete every word of a recording."""
    words.erase_words(connection, recording_id)


def erase_part(connection: Connection, recording_id: int, gone: Times, speaker_id: int | None) -> dict[int, dict[int, int]]:
    """Delete the words in these stretches, and what any version gives to this speaker; returns what became of words' numbers."""
    return words.erase_stretches(connection, recording_id, gone, speaker_id)


def names_left(connection: Connection, names: set[str]) -> set[str]:
    """Those of these names (folded, words parted by a space) that are said in what stays in the archive."""
    found: set[str] = set()
    for block in words.spoken(connection):
        said = f" {' '.join(_tokens(block))} "
        found |= {name for name in names - found if f" {name} " in said}
    return found
