"""What services ask about an excerpt that is shown in translation, or may be."""

from __future__ import annotations

from itertools import islice, product
from typing import Any

from archive.db import translations
from archive.db.session import Row
from archive.domain.languages import name
from archive.domain.values import Way
from archive.gate.pinned import TRANSLATION, Pinned

MOST_WAYS = 12


def to_approve(pinned: Pinned) -> tuple[str, tuple[str, ...]]:
    """(the checksum of all that is read of it, the uses that an approval of it is for). Who agrees to a quote with its translation
    agrees to be translated."""
    return pinned.approved_as, (pinned.row.use, *((TRANSLATION,) if pinned.translation is not None else ()))


def wording_of_all(pinned: Pinned) -> str:
    """The checksum of all that is read of it: its own words, and the translation that it is shown in."""
    return pinned.wording


def why_not_translated(pinned: Pinned, use: str) -> tuple[str, ...]:
    """Why it may not leave in translation though its words may for this use, in sentences; () where that is not so."""
    return pinned.why_not_translated() if pinned.decide(use, Way.WORDS).allowed else ()


def of_these_words(pinned: Pinned) -> tuple[tuple[str, str], ...]:
    """(codes, language in English) of the translations of exactly the words that are quoted: "TR-1", or where words are left out one
    for each piece, "TR-1 TR-4", all into one language. The first dozen ways to put them together."""
    whole = (rows for rows in product(*_of_each(pinned)) if len({row.language for row in rows}) == 1)
    return tuple((" ".join(row.code for row in rows), name(rows[0].language)) for rows in islice(whole, MOST_WAYS))


def untranslated(pinned: Pinned) -> tuple[int, tuple[int, ...]]:
    """Of how many pieces the quote is, and which of them have no translation: 1 is the first."""
    each = _of_each(pinned)
    return len(each), tuple(n for n, rows in enumerate(each, 1) if not rows)


def _of_each(pinned: Pinned) -> list[list[Row[Any]]]:
    """For each piece of the quote the translations of exactly it that count today."""
    return pinned.of_each(translations.current(pinned.reading.connection, [pinned.row.recording_id]))
