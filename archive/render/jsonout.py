"""Shown and cleared values as JSON. The gate's token and the list of hidden names never come out."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Mapping, Sequence, Set
from datetime import date, datetime
from enum import Enum
from typing import Any

from archive.domain.cleared import ClearedExport, ClearedQuote, ForbiddenName
from archive.domain.translating import Shows
from archive.domain.values import Word
from archive.errors import Broken
from archive.render.sanitise import printable

_LEFT_OUT = frozenset({"token", "forbidden"})


def plain(value: object) -> Any:
    """Dicts, lists, texts and numbers only; dates in ISO 8601, peaks as signed integers.

    Raises Broken on raw words, on hidden names and on anything that has no plain form.
    """
    if value is None or isinstance(value, bool | int | float):
        return value.value if isinstance(value, Enum) else value
    if isinstance(value, Enum):
        return plain(value.value)
    if isinstance(value, str):
        return printable(value)
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, bytes):
        return list(memoryview(value).cast("b"))
    if isinstance(value, ForbiddenName | Word):
        raise Broken("Hidden names and words that did not pass the gate are never written out.")
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {f.name: plain(getattr(value, f.name)) for f in dataclasses.fields(value) if f.name not in _LEFT_OUT}
    if isinstance(value, Mapping):
        return {str(plain(key)): plain(inner) for key, inner in value.items() if key not in _LEFT_OUT}
    if isinstance(value, Set):
        return sorted((plain(inner) for inner in value), key=str)
    if isinstance(value, Sequence):
        return [plain(inner) for inner in value]
    raise Broken(f"A value of the kind {type(value).__name__} has no form in JSON.")


def as_json(value: object, indent: int | None = 2) -> str:
    """The text that every reading command prints with --json: UTF-8 letters as they are, two spaces of indent; None: for a page."""
    return json.dumps(plain(value), ensure_ascii=False, indent=indent, allow_nan=False)


def _translated(quote: ClearedQuote) -> dict[str, Any]:
    """A quote that is shown in translation: in it alone, or beside its original. Languages as BCP 47 tags."""
    if not quote.translation:
        return {}
    other = {"language": quote.translation_language, "words": quote.translation, "credit": quote.translated}
    return {"words": quote.words if quote.shows == Shows.BOTH else "", "language": quote.language, "shows": quote.shows, "translation": other}


def quotes_json(export: ClearedExport) -> bytes:
    """The quotes of one export for outside eyes: no codes, no times, no agreements, no conditions. UTF-8, final newline."""
    read_by = {clip.item: clip.read_by for clip in export.clips}
    quotes = [
        {
            "item": quote.item,
            "panel": quote.panel,
            "words": quote.words,
            "attribution": quote.attribution,
            "source_line": quote.source_line,
            "draft": quote.draft,
            "read_by": read_by.get(quote.item, ""),
            **_translated(quote),
            **({"editorial_note": quote.dated} if quote.dated else {}),
        }
        for quote in export.quotes
    ]
    sheet = {"exhibition": export.exhibition, "use": export.use, "made_on": export.made_on, "draft": export.draft}
    return (as_json({**sheet, "quotes": quotes}) + "\n").encode("utf-8")
