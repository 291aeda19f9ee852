"""Fills the index: find units with one voicing each, in both wordings, cut at every edge at which an answer could change.

Called in the same transaction as whatever made it necessary: a new version, a seal, a decision about a name, a tag.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any

from archive.db import consent_rows, describing, themes, translations, units
from archive.db.session import Connection, Row
from archive.db.units import Tokens, Unit, UnitTag
from archive.domain.dates import decades
from archive.domain.marks import spoken
from archive.domain.masking import mask_words
from archive.domain.passages import cut_units
from archive.domain.values import MIN_WORD_MS, Stretch, Word
from archive.gate.forbidden import forbidden_words
from archive.gate.narrowed_by import write_facts
from archive.gate.reading import Context, Reading, Readings
from archive.gate.scan_match import Matcher
from archive.gate.show import tells_birth
from archive.gate.translated import home_of, texts_to_find
from archive.gate.withheld import names_somebody
from archive.rules.analysis import BOUNDARY, analyse, analyse_masked
from archive.rules.place_sounds import SOUNDS_LIKE


def index_recording(connection: Connection, recording_id: int, context: Context, *, closed: bool = True) -> None:
    """Make the units of a recording anew from its passages. Those that come out as they were stay. What somebody hid here holds
    translations elsewhere back that name the same, so these are found by nobody else from then on.

    `closed`: something in it may have been closed or hidden, so what its decided passages taught is forgotten wherever it was suggested;
    describing anew teaches it again as far as it is still open.
    """
    if closed:
        themes.forget_taught(connection, [recording_id])
    reading = Readings(connection, context).of(recording_id)
    _index(connection, reading)
    for other in _translations_naming(reading):
        _index(connection, Readings(connection, context).of(other))


def _translations_naming(reading: Reading) -> list[int]:
    """Other recordings with a translation in which a name stands that somebody decided to hide in this one."""
    hidden = forbidden_words([h for h in reading.readings.hidden_here(reading.recording_id) if h.decided], reading.readings.places)
    if not hidden:
        return []
    matcher = Matcher(hidden)
    others = [r for r in translations.recordings_with(reading.connection) if r != reading.recording_id]
    return sorted({row.recording_id for row in translations.current(reading.connection, others) if matcher.first_hit(row.text) is not None})


def _index(connection: Connection, reading: Reading) -> None:
    recording_id = reading.recording_id
    voicings: dict[tuple[frozenset[int], Stretch | None], int] = {}
    wanted = []
    for passage in units.passages(connection, recording_id):
        whole = Stretch(recording_id, passage.start_ms, passage.end_ms)
        for piece in cut_units(whole, reading.edges):
            runs = runs_in(reading, piece)
            if not runs:
                continue
            who = (reading.people_in(piece.start_ms, piece.end_ms), consent_rows.ground_piece(connection, piece))
            if who not in voicings:
                voicings[who] = units.voicing_of(connection, reading.row.interview_id, *who)
            wanted.append(Unit(passage.id, piece.start_ms, piece.end_ms, voicings[who], _tokens(reading, runs)))
    units.replace_units(connection, recording_id, _with_translations(reading, wanted))
    write_facts(reading)
    _index_tags(connection, reading)


def _with_translations(reading: Reading, wanted: Sequence[Unit]) -> list[Unit]:
    """The units, each with the words of the translations that are found under it. Between them stands the token of a mask, so that no
    phrase reaches from the one into the other."""
    at_home = translations_at_home(reading, {(unit.start_ms, unit.end_ms) for unit in wanted})
    found = []
    for unit in wanted:
        full, everybody = ([analyse(text) for text in texts] for texts in texts_to_find(reading, at_home.get((unit.start_ms, unit.end_ms), ())))
        own = unit.tokens
        tokens = Tokens(
            _joined(own.full_exact, [a.exact for a in full]), _joined(own.full_stem, [a.stem for a in full]),
            _joined(own.shown_exact, [a.exact for a in everybody]), _joined(own.shown_stem, [a.stem for a in everybody]),
        )  # fmt: skip
        found.append(unit._replace(tokens=tokens))
    return found


def translations_at_home(reading: Reading, pieces: Collection[tuple[int, int]]) -> dict[tuple[int, int], list[Row[Any]]]:
    """The translations of a recording by the unit (start_ms, end_ms) under which each is found."""
    at_home: dict[tuple[int, int], list[Row[Any]]] = {}
    for row in translations.current(reading.connection, [reading.recording_id]):
        home = home_of(reading, row, pieces)
        if home is not None:
            at_home.setdefault(home, []).append(row)
    return at_home


def _joined(own: str, more: Sequence[Sequence[str]]) -> str:
    return f" {BOUNDARY} ".join([own, *(" ".join(tokens) for tokens in more)])


def index_tags(connection: Connection, recording_id: int, context: Context) -> None:
    """Make the facet values of a recording's units anew, after a tag was decided."""
    _index_tags(connection, Readings(connection, context).of(recording_id))


def index_facts(connection: Connection, recording_id: int, context: Context) -> None:
    """Reckon anew what a recording's units can be narrowed by, after somebody said another language or its sound was measured again."""
    write_facts(Readings(connection, context).of(recording_id), anew=True)


def _index_tags(connection: Connection, reading: Reading) -> None:
    tags = [t for t in describing.tags_of(connection, reading.recording_id) if t.state != "rejected"]
    found = [
        UnitTag(unit.id, *facet)
        for unit in units.units_of(connection, reading.recording_id)
        for facet in _facets(reading, [t for t in tags if t.start_ms < unit.end_ms and unit.start_ms < t.end_ms])
    ]
    units.replace_unit_tags(connection, reading.recording_id, found)


def runs_in(reading: Reading, piece: Stretch) -> list[list[Word]]:
    """The words that begin in the piece, an utterance a run; a word that an edge cuts belongs to neither side."""
    runs = []
    for utterance in reading.overlapping(piece.start_ms, piece.end_ms):
        words = [
            w
            for w in utterance.words
            if piece.start_ms <= w.start_ms < piece.end_ms and not any(w.start_ms < e < w.end_ms for e in reading.edges)
        ]
        if words:
            runs.append(words)
    return runs


def _tokens(reading: Reading, runs: Sequence[Sequence[Word]]) -> Tokens:
    full, shown = [], []
    for run in runs:
        masks = reading.masks_in(min(w.start_ms for w in run), max(w.end_ms for w in run) + MIN_WORD_MS)
        plain = analyse(" ".join(spoken(w.text) for w in run))
        full.append(plain)
        shown.append(analyse_masked(mask_words(run, masks)) if reading.masks() else plain)
    return Tokens(*(" ".join(t for run in side for t in getattr(run, form)) for side in (full, shown) for form in ("exact", "stem")))


def _facets(reading: Reading, tags: Sequence[Row[Any]]) -> list[tuple[int, str, str, bool]]:
    """(tag id, kind, value, shown) of the tags whose evidence lies in a piece, wholly or in part; a date counts for its decades.

    Evidence that an edge cuts counts on neither side: the value could tell what only the closed side says. What merely sounds like a
    place counts nowhere before somebody said that it is the place.
    """
    rows = []
    for tag in tags:
        if tag.rule == SOUNDS_LIKE and tag.state == "suggested":
            continue
        if any(tag.start_ms < e < tag.end_ms for e in reading.edges):
            continue
        shown = not (reading.masks_in(tag.start_ms, tag.end_ms) or names_somebody(reading.readings, tag) or tells_birth(reading, tag))
        if tag.kind == "date":
            rows += [(tag.id, "decade", str(d), shown) for d in (tag.decades or decades(tag.value))]
        else:
            rows.append((tag.id, tag.kind, tag.value, shown))
    return rows
