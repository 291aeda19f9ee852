"""The second door, for a speaker's own copy: what they said in a recording, and its sound, and nothing of anybody else.

Nobody was asked whether their words may go into somebody else's copy, so of a talk of several people it has one. Their own holds do not
keep their words from them; what others objected to, somebody else's works and the pause after the interview do. Names stay withheld:
they are other people's.
"""

from __future__ import annotations

from archive.db import recordings
from archive.domain.agreements import Restraint, Standing
from archive.domain.attribution import name_parts
from archive.domain.cleared import GATE_TOKEN, ClearedCaption, ClearedClip, ClearedCopy, ClearedLine, PlayStretch
from archive.domain.masking import mask_words
from archive.domain.passages import Utterance
from archive.domain.reasons import HOLDS, Why
from archive.domain.values import RestraintKind, Way, Word
from archive.gate.reading import Reading, Readings
from archive.gate.titles import export_names

ASKED_AS = "exhibition"  # a use that leaves the house: holds of all uses are asked about by it
KEEPS_BACK = HOLDS | {Why.WORK_NOT_CLEARED, Why.TOO_SOON}
LONGEST_PIECE_MS = 300_000  # of one file of sound
SHORTEST_MS = 300


def clear_copy(readings: Readings, person_id: int, recording_id: int, margin_ms: int) -> ClearedCopy:
    """What leaves as this person's own copy of a recording today. Reads only."""
    reading = readings.of(recording_id)
    named = readings.names.get(person_id, [])
    shown = {text for n in named for text in (n.text, *(name_parts(n.text) if n.kind == "full" else ()))}
    lines = _lines(reading, person_id)
    for utterance in reading.utterances:
        if utterance.speaker_id == person_id:
            shown.update(reading.shown_mentions(utterance.start_ms, utterance.end_ms))
    return ClearedCopy(
        token=GATE_TOKEN, recording=reading.row.code, recorded_on=reading.row.recorded_on, lines=lines, clips=_clips(reading, person_id, margin_ms),
        forbidden=export_names(readings, [recording_id]), allowed=tuple(sorted(s for s in shown if s)),
    )  # fmt: skip


def _lines(reading: Reading, person_id: int) -> tuple[ClearedLine, ...]:
    """Their words line by line; whatever lies between or is kept back is one mark."""
    found: list[ClearedLine] = []
    for utterance in reading.utterances:
        runs = _runs(reading, person_id, utterance)
        whole = sum(map(len, runs)) == len(utterance.words) and bool(runs)
        for run in runs:
            if not whole:
                _left_out(found, utterance.start_ms)
            text = " ".join(t.text for t in mask_words(run, reading.masks(), instead=reading.instead()))
            found.append(ClearedLine(token=GATE_TOKEN, start_ms=run[0].start_ms, text=text))
        if not whole:
            _left_out(found, utterance.start_ms)
    return tuple(found) if any(line.text for line in found) else ()


def _runs(reading: Reading, person_id: int, utterance: Utterance) -> list[list[Word]]:
    """The runs of words of an utterance that go into the copy."""
    runs: list[list[Word]] = [[]]
    for word in utterance.words if utterance.speaker_id == person_id else ():
        if _theirs(reading, person_id, word.start_ms, word.end_ms, Way.WORDS):
            runs[-1].append(word)
        elif runs[-1]:
            runs.append([])
    return [run for run in runs if run]


def _left_out(found: list[ClearedLine], start_ms: int) -> None:
    if not found or found[-1].text:
        found.append(ClearedLine(token=GATE_TOKEN, start_ms=start_ms, text=""))


def _theirs(reading: Reading, person_id: int, start_ms: int, end_ms: int, way: Way) -> bool:
    """True where nothing but their own decisions speaks of this stretch."""
    (standing,) = reading.standings_of(frozenset({person_id}))
    own = {f"restraint {r.id}" for r in standing.restraints if _is_own(r, standing)}
    reasons = reading.judge((start_ms, end_ms), frozenset({person_id}), ASKED_AS, way).reasons
    return not any(r.code in KEEPS_BACK and r.cites not in own for r in reasons)


def _is_own(restraint: Restraint, standing: Standing) -> bool:
    """Whether a hold is this person's own decision about themselves."""
    return restraint.person_id == standing.person_id and restraint.kind != RestraintKind.OBJECTED and restraint.raised_by_id in (None, standing.person_id)


def _clips(reading: Reading, person_id: int, margin_ms: int) -> tuple[ClearedClip, ...]:
    """Their sound in files of five minutes at most: where they alone are heard, a margin away from whatever is left out (a word's time is a guess)."""
    open_pieces: list[tuple[int, int]] = []
    for start_ms, end_ms in reading.parts():
        spoken = reading.overlapping(start_ms, end_ms)
        if not spoken or any(u.speaker_id != person_id for u in spoken) or not _theirs(reading, person_id, start_ms, end_ms, Way.VOICE):
            continue
        if open_pieces and open_pieces[-1][1] == start_ms:
            open_pieces[-1] = (open_pieces[-1][0], end_ms)
        else:
            open_pieces.append((start_ms, end_ms))
    kept = [(s + margin_ms, e - margin_ms) for s, e in open_pieces if e - s - 2 * margin_ms >= SHORTEST_MS]
    master = recordings.master_of(reading.connection, reading.recording_id)
    mutes = reading.mutes(margin_ms)
    files: list[list[tuple[int, int]]] = [[]]
    for start_ms, end_ms in kept:
        for first_ms in range(start_ms, end_ms, LONGEST_PIECE_MS):
            piece = (first_ms, min(first_ms + LONGEST_PIECE_MS, end_ms))
            if sum(e - s for s, e in files[-1]) + piece[1] - piece[0] > LONGEST_PIECE_MS:
                files.append([])
            files[-1].append(piece)
    return tuple(
        ClearedClip(
            token=GATE_TOKEN, item=n, master_sha256=master.sha256, extension=master.extension, track=master.track, channels=(),
            pieces=tuple(PlayStretch(s, e) for s, e in pieces),
            mutes=tuple(PlayStretch(max(s, a), min(e, b)) for s, e in mutes for a, b in pieces if s < b and a < e),
            caption=ClearedCaption(token=GATE_TOKEN, item=n, speaker="", words=(), draft=True), draft=True,
        )
        for n, pieces in enumerate((f for f in files if f), 1)
    )  # fmt: skip
