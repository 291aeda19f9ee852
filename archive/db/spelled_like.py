"""Words of the archive that are spelled nearly like one that is not in it. Whoever shows one asks first whether its viewer may read it."""

from __future__ import annotations

from sqlalchemy import Connection, text
from whoosh.spelling import ListCorrector

_MOST = 5
_LONGEST = 40


def near(connection: Connection, token: str, wording: str) -> list[str]:
    """Exact tokens of a wording ("full" or "shown") with the same first letter, at most two letters away, the nearest and then the most
    used first."""
    if not 3 <= len(token) <= _LONGEST:
        return []
    connection.execute(text("CREATE VIRTUAL TABLE IF NOT EXISTS temp.find_words USING fts5vocab('main', 'find_fts', 'col')"))
    between = "SELECT term, doc FROM temp.find_words WHERE term >= :first AND term < :after AND col = :column AND length(term) BETWEEN :least AND :most"
    span = {"first": token[0], "after": chr(ord(token[0]) + 1), "column": f"{wording}_exact", "least": len(token) - 2, "most": len(token) + 2}
    used = {str(r.term): int(r.doc) for r in connection.execute(text(between), span)}
    corrector = ListCorrector(sorted(used))
    found: list[str] = []
    for distance in (1, 2) if len(token) > 4 else (1,):
        made = corrector.suggest(token, limit=50, maxdist=distance, prefix=1)
        found += sorted((w for w in made if w not in found), key=lambda w: (-used[w], w))
    return found[:_MOST]
