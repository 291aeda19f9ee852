"""What services ask about an excerpt that is shown in translation, or may be."""

from __future__ import annotations

from archive.db import translations
from archive.domain.languages import name
from archive.domain.values import Way
from archive.gate.pinned import TRANSLATION, Pinned


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
    """(code, language in English) of the translations of exactly the words that are quoted."""
    known = translations.current(pinned.reading.connection, [pinned.row.recording_id])
    return tuple((str(t.code), name(t.language)) for t in known if pinned.is_of_these_words(t))
