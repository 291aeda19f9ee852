"""Agreements of one person and one day that answer the same question differently. Pure.

Both are on record as signed; the stricter answer counts (domain/consent.py), and a person has to ask.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from itertools import combinations

from archive.domain.agreements import Agreement, Permission, Standing
from archive.domain.reasons import WAY_WORDS, day_words


def contradictions(person: Standing, day: date) -> Iterator[str]:
    """One sentence for each two agreements, with the first use on which they differ. What a later version replaced is left out."""
    standing = [a for a in person.agreements if a.signed_on <= day and not person.superseded(a, day)]
    for one, other in combinations(standing, 2):
        if one.signed_on != other.signed_on or one.relation != other.relation or one.spoken_for_by_id != other.spoken_for_by_id:
            continue  # what somebody else signed narrows, and does not contradict
        differing = [(p, q) for p in one.permissions for q in other.permissions if _same_question(one, p, other, q) and p.answer != q.answer]
        if differing:
            p, q = differing[0]
            more = f", and in {len(differing) - 1} more" if len(differing) > 1 else ""
            yield (
                f"{one.code} and {other.code} of {person.code} are both of {day_words(one.signed_on)} and answer differently to the use "
                f"“{p.use}” {WAY_WORDS[p.way]}: {p.answer.value} and {q.answer.value}{more}. The stricter answer counts. Ask which one holds, and "
                "put the answer on record as a new agreement in the place of both."
            )


def _same_question(one: Agreement, p: Permission, other: Agreement, q: Permission) -> bool:
    here = one.interview_id is None or other.interview_id is None or one.interview_id == other.interview_id
    shared = one.stretch is None or other.stretch is None or one.stretch.overlaps(other.stretch)
    shows = p.exhibition is None or q.exhibition is None or p.exhibition == q.exhibition
    at_once = (p.from_on is None or q.until_on is None or p.from_on < q.until_on) and (q.from_on is None or p.until_on is None or q.from_on < p.until_on)
    return one.kind == other.kind and here and shared and shows and at_once and (p.use, p.way) == (q.use, q.way)
