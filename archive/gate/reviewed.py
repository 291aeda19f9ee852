"""Quotes that are put to their speaker, as they will stand: only what lacks nothing but a yes goes onto the sheet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from archive.db.session import Row
from archive.domain.attribution import name_parts
from archive.domain.cleared import GATE_TOKEN, ClearedQuestion, ClearedReview, PlayStretch
from archive.domain.consent import told
from archive.domain.reasons import SPEAKER_CORRECTED, STAYS_IN, Why
from archive.domain.values import Role, Viewer, Way
from archive.gate.clear import holds_names
from archive.gate.pinned import Pinned
from archive.gate.reading import Readings
from archive.gate.show import show_quote
from archive.gate.stands import changed, marks
from archive.gate.titles import export_names
from archive.gate.translated import may_stand

# What a yes, or a check before it, can mend.
ASKED = frozenset({Why.REVIEW, Why.ASK, Why.DECLINED, Why.INTERPRETED_UNCHECKED, Why.INTERPRETED_UNAPPROVED})
NOT_THEIRS = "They do not speak in it."
NAMES = "Its words or the name of its panel hold a name that must not stand there."


@dataclass(frozen=True, slots=True)
class Question:
    """One question of a sheet, as it is kept."""

    number: int
    excerpt_id: int
    use: str
    way: Way
    wording_sha256: str
    stands: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Put:
    """A sheet: what is printed, what is kept, and (excerpt, why) of what could not be asked."""

    review: ClearedReview
    questions: tuple[Question, ...]
    left_out: tuple[tuple[str, tuple[str, ...]], ...]


def speaks_in(readings: Readings, row: Row[Any]) -> frozenset[int]:
    """Whose words an excerpt is put down to, and whoever speaks in it: they are asked."""
    pinned = Pinned(readings, row)
    return frozenset(pinned.narrators()) | {p for p in pinned.speakers() if p is not None}


def lacks_their_yes(readings: Readings, row: Row[Any], code: str, way: Way) -> bool:
    """True where it may not leave in this way, and somebody's yes to exactly this is all that is missing, this person's among them."""
    reasons = Pinned(readings, row).decide(row.use, way).reasons
    return bool(reasons) and all(r.code in ASKED for r in reasons) and any(r.person_code == code for r in reasons)


def put(readings: Readings, person_id: int, rows: Sequence[Row[Any]]) -> Put:
    """These quotes, put to one person: each in words, and where nothing but a yes is missing for it, in sound. Reads only.

    The words of others in a quote are those of the same talk. What stands beside it on its panel is given in words only where it may leave
    for that use today: else two speakers who both look first could never be asked."""
    asked: list[ClearedQuestion] = []
    kept: list[Question] = []
    left_out: list[tuple[str, tuple[str, ...]]] = []
    recording_ids: set[int] = set()
    named = readings.names.get(person_id, [])
    shown = {text for n in named for text in (n.text, *(name_parts(n.text) if n.kind == "full" else ()))}
    for row in rows:
        pinned = Pinned(readings, row)
        if why := _why_not(pinned, person_id):
            left_out.append((row.code, why))
            continue
        ways = [Way.WORDS, *([Way.VOICE] if _may_be_asked(pinned, Way.VOICE) else [])]
        numbers = {}
        for way in ways:
            numbers[way] = len(kept) + 1
            kept.append(Question(numbers[way], row.id, row.use, way, pinned.approved_as, tuple(sorted(marks(pinned, way)))))
        beside = _beside(pinned)
        asked.append(_question(pinned, numbers, tuple(words for words, _ in beside)))
        for quoted in (pinned, *(other for _, other in beside if other is not None)):
            recording_ids.add(quoted.row.recording_id)
            shown |= _may(quoted)
    review = ClearedReview(
        token=GATE_TOKEN, questions=tuple(asked), forbidden=export_names(readings, recording_ids), allowed=tuple(sorted(s for s in shown if s))
    )
    return Put(review, tuple(kept), tuple(left_out))


def changed_since(readings: Readings, row: Row[Any], way: Way, wording_sha256: str, stood: frozenset[str]) -> tuple[str, ...]:
    """What of a quote came or changed since a sheet with these marks was printed; () where nothing did."""
    pinned = Pinned(readings, row)
    found = changed(pinned, way, stood)
    return found if found or pinned.approved_as == wording_sha256 else ("its words",)


def show_later(readings: Readings, viewer: Viewer, row: Row[Any], later: str) -> str:
    """A later wording of a quote as this viewer may read it: where what was said may be read, else ""."""
    spans = Pinned(readings, row).spans
    return later if show_quote(readings, viewer, row.recording_id, row.version_id, spans) is not None else ""


def holds_a_name_of_others(readings: Readings, row: Row[Any], later: str) -> bool:
    """True where a later wording of a quote holds a name that may not stand there."""
    return holds_names(Pinned(readings, row), later)


def _why_not(pinned: Pinned, person_id: int) -> tuple[str, ...]:
    """Why a quote is not put to this person, in sentences for the team; () where it is."""
    readings = pinned.reading.readings
    if person_id not in speaks_in(readings, pinned.row):
        return (NOT_THEIRS,)
    if readings.uses[pinned.row.use].inward:
        return (STAYS_IN,)
    if pinned.corrected():
        return (SPEAKER_CORRECTED,)
    if not _may_be_asked(pinned, Way.WORDS):
        return told([r for r in pinned.decide(pinned.row.use, Way.WORDS).reasons if r.code not in ASKED], Role.EDITOR)
    texts = filter(None, (pinned.row.panel, pinned.later))
    return pinned.why_not_translated() or ((NAMES,) if any(holds_names(pinned, text) for text in texts) else ())


def _may_be_asked(pinned: Pinned, way: Way) -> bool:
    return all(r.code in ASKED for r in pinned.decide(pinned.row.use, way).reasons)


def _question(pinned: Pinned, numbers: dict[Way, int], beside: tuple[tuple[str, str], ...]) -> ClearedQuestion:
    row, other = pinned.row, pinned.translation
    return ClearedQuestion(
        token=GATE_TOKEN, words_number=numbers[Way.WORDS], voice_number=numbers.get(Way.VOICE, 0), words=pinned.shown_words(),
        attribution=pinned.attribution(), use=row.use, panel=row.panel.strip(), shows=row.shows, translation=other.text if other is not None else "",
        translated=pinned.translated_by(), dated=pinned.dated, recording=pinned.reading.row.code,
        pieces=tuple(PlayStretch(s, e) for s, e in pinned.pieces()), disguised=pinned.decide(row.use, Way.VOICE).duties.disguise,
        later=bool(pinned.later), beside=beside,
    )  # fmt: skip


def _beside(pinned: Pinned) -> list[tuple[tuple[str, str], Pinned | None]]:
    """What is printed of each quote on its panel, and the quote itself where that is its words."""
    found: list[tuple[tuple[str, str], Pinned | None]] = []
    for other in pinned.neighbours:
        leaves = other.decide(other.row.use, Way.WORDS).allowed and not other.why_not_translated() and not other.corrected()
        leaves = leaves and not (other.later and holds_names(other, other.later))
        found.append(((other.leaves_as(), other.attribution()), other) if leaves else (("", ""), None))
    return found


def _may(pinned: Pinned) -> set[str]:
    """Wordings that may stand on the paper although a name is in them."""
    other = pinned.translation
    translated = {pinned.translated_by(), *(name for row in other.rows for name in may_stand(pinned.today, row))} if other is not None else set()
    return {pinned.attribution(), *translated, *(w for stretch, _ in pinned.parts() for w in pinned.reading.shown_mentions(*stretch))}
