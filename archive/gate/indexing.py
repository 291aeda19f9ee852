"""Fills the index: find units with one voicing each, in both wordings, cut at every edge at which an answer could change.

Called in the same transaction as whatever made it necessary: a new version, a seal, a decision about a name, a tag.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from archive.db import consent_rows, translations, units
from archive.db.session import Connection, Row
from archive.db.units import Tokens
from archive.domain.dates import decades
from archive.domain.marks import spoken
from archive.domain.masking import mask_words
from archive.domain.passages import Utterance, cut_units
from archive.domain.values import Stretch, Word
from archive.gate.reading import Context, Reading, Readings
from archive.gate.translated import home_of, texts_to_find
from archive.rules.analysis import BOUNDARY, analyse, analyse_masked


def index_recording(connection: Connection, recording_id: int, context: Context) -> int:
    """Make the units of a recording anew from its passages; returns how many."""
    reading = Readings(connection, context).of(recording_id)
    units.forget_units(connection, recording_id)
    masks = reading.masks()
    made: list[tuple[Stretch, int]] = []
    for passage in units.passages(connection, recording_id):
        whole = Stretch(recording_id, passage.start_ms, passage.end_ms)
        for piece in cut_units(whole, reading.edges):
            runs = _runs(reading.overlapping(piece.start_ms, piece.end_ms), piece, reading.edges)
            if not runs:
                continue
            heard = reading.people_in(piece.start_ms, piece.end_ms)
            ground = consent_rows.ground_piece(connection, piece)
            voicing = units.voicing_of(connection, reading.row.interview_id, heard, ground)
            unit = units.add_unit(connection, passage.id, piece, voicing, _tokens(runs, masks))
            units.set_unit_tags(connection, unit, _facets(connection, piece, masks, reading.edges))
            made.append((piece, unit))
    _index_translations(reading, made)
    return len(made)


def _index_translations(reading: Reading, made: Sequence[tuple[Stretch, int]]) -> None:
    """Add each translation's words to those of the unit under which it is found. Between them stands the token of a mask, so that no
    phrase reaches from the one into the other."""
    at_home: dict[tuple[int, int], list[Row[Any]]] = {}
    pieces = {(piece.start_ms, piece.end_ms): unit for piece, unit in made}
    for row in translations.current(reading.connection, [reading.recording_id]):
        home = home_of(reading, row, pieces.keys())
        if home is not None:
            at_home.setdefault(home, []).append(row)
    for home, rows in at_home.items():
        own = units.tokens_of(reading.connection, pieces[home])
        full, everybody = ([analyse(text) for text in texts] for texts in texts_to_find(reading, rows))
        units.replace_text(
            reading.connection, pieces[home],
            Tokens(
                _joined(own.full_exact, [a.exact for a in full]), _joined(own.full_stem, [a.stem for a in full]),
                _joined(own.shown_exact, [a.exact for a in everybody]), _joined(own.shown_stem, [a.stem for a in everybody]),
            ),
        )  # fmt: skip


def _joined(own: str, more: Sequence[Sequence[str]]) -> str:
    return f" {BOUNDARY} ".join([own, *(" ".join(tokens) for tokens in more)])


def index_tags(connection: Connection, recording_id: int, context: Context) -> None:
    """Make the facet values of a recording's units anew, after a tag was decided."""
    reading = Readings(connection, context).of(recording_id)
    for unit in units.units_of(connection, recording_id):
        piece = Stretch(recording_id, unit.start_ms, unit.end_ms)
        units.set_unit_tags(connection, unit.id, _facets(connection, piece, reading.masks(), reading.edges))


def _runs(utterances: Sequence[Utterance], piece: Stretch, edges: Sequence[int]) -> list[list[Word]]:
    """The words that begin in the piece, an utterance a run; a word that an edge cuts belongs to neither side."""
    runs = []
    for utterance in utterances:
        words = [
            w
            for w in utterance.words
            if piece.start_ms <= w.start_ms < piece.end_ms and not any(w.start_ms < e < w.end_ms for e in edges)
        ]
        if words:
            runs.append(words)
    return runs


def _tokens(runs: Sequence[Sequence[Word]], masks: Sequence[tuple[int, int]]) -> Tokens:
    full = [analyse(" ".join(spoken(w.text) for w in run)) for run in runs]
    shown = [analyse_masked(mask_words(run, masks)) for run in runs] if masks else full
    return Tokens(*(" ".join(t for run in side for t in getattr(run, form)) for side in (full, shown) for form in ("exact", "stem")))


def _facets(
    connection: Connection, piece: Stretch, masks: Sequence[tuple[int, int]], edges: Sequence[int]
) -> list[tuple[int, str, str, bool]]:
    """(tag id, kind, value, shown) of the tags whose evidence lies in this piece; a date counts for its decades.

    Evidence that an edge cuts counts on neither side: the value could tell what only the closed side says.
    """
    rows = []
    for tag in units.tags_in(connection, piece):
        if any(tag.start_ms < e < tag.end_ms for e in edges):
            continue
        shown = not any(s < tag.end_ms and tag.start_ms < e for s, e in masks)
        if tag.kind == "date":
            rows += [(tag.id, "decade", str(d), shown) for d in (tag.decades or decades(tag.value))]
        else:
            rows.append((tag.id, tag.kind, tag.value, shown))
    return rows
