"""Where something mis-heard stands in what somebody may correct; and which spellings may prime the engine.

The lines are those of the desk: the newest version and every edit since.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from archive.db import mentions, words
from archive.domain.agreements import TEAM
from archive.domain.attribution import hidden_names, name_parts
from archive.domain.cleared import GATE_TOKEN, ForbiddenName, ShownOccurrence
from archive.domain.editing import Line
from archive.domain.letters import in_a_row
from archive.domain.values import Attribution, Decision, Role, Scan, Stretch, Viewer, Way
from archive.gate.forbidden import Hidden, forbidden_words
from archive.gate.names import PLAYED_MS, to_play
from archive.gate.reading import Reading, Readings
from archive.gate.scan_match import Matcher
from archive.gate.typing import is_open
from archive.rules.spelled import Hit, Misheard, instead, letters_of, stands_in

AROUND = 7  # words before and after; where the line has fewer, of the lines beside it
_TEAM_VIEWER = Viewer("machine", Role.EDITOR)


@dataclass(frozen=True, slots=True)
class Spelled:
    """A spelling of the archive's own list, with what is taken for it."""

    text: str
    heard_as: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Found:
    reading: Reading  # of the lines with hits and those beside them
    lines: Sequence[Line]  # all of the recording; those in the reading with words
    hits: dict[int, list[Hit]]  # by the line's place


def count_same(readings: Readings, viewer: Viewer, misheard: Misheard) -> int:
    """In how many places, exactly as written, it stands in what this viewer may correct."""
    every = words.recordings_saying(readings.connection, misheard.surest)
    found = [_found(readings, viewer, recording_id, misheard, alike=False) for recording_id in every]
    return sum(len(hits) for one in found if one is not None for hits in one.hits.values())


def show_same(
    readings: Readings, viewer: Viewer, misheard: Misheard, recording_id: int | None, most: int
) -> tuple[tuple[ShownOccurrence, ...], int]:
    """Where it stands in one recording or (None) in the archive, `most` places at most, what only sounds like it last; and how
    many there are."""
    every = [recording_id] if recording_id is not None else sorted(words.recordings_with_words(readings.connection))
    found = [f for r in every if (f := _found(readings, viewer, r, misheard, alike=True)) is not None]
    places = [(hit.alike, f.reading.row.code, f.lines[n].start_ms, n, hit, f) for f in found for n, hits in f.hits.items() for hit in hits]
    places.sort(key=lambda p: p[:4])
    number = len(places)
    places = places[:most]
    heard = readings.near(_around(f, n, hit) for *_, n, hit, f in places)  # seconds of each recording, not hours
    playable = {recording_id: reading.open_pieces(viewer, TEAM, Way.VOICE) for recording_id, reading in heard.items()}
    shown = tuple(_shown(f, viewer, n, hit, misheard.right, playable[f.reading.recording_id]) for *_, n, hit, f in places)
    return shown, number


def _around(found: _Found, n: int, hit: Hit) -> Stretch:
    """The sound of a place, and more on both sides than is played."""
    words_there = found.lines[n].words[hit.first : hit.last + 1]
    end_ms = max(w.end_ms for w in words_there) + 2 * PLAYED_MS
    return Stretch(found.reading.recording_id, max(0, words_there[0].start_ms - 2 * PLAYED_MS), end_ms)


def _found(readings: Readings, viewer: Viewer, recording_id: int, misheard: Misheard, *, alike: bool) -> _Found | None:
    """The hits in lines of which nothing is closed to this viewer; None where there are none."""
    lines = words.lines_now(readings.connection, recording_id)
    said = words.saying(readings.connection, (n.key for n in lines), "" if alike else misheard.surest)
    hits = {n: some for n, line in enumerate(lines) if line.key in said and (some := misheard.hits(said[line.key], alike=alike))}
    if not hits:
        return None
    beside = sorted({m for n in hits for m in (n - 1, n, n + 1) if 0 <= m < len(lines)})
    said = words.saying(readings.connection, (lines[n].key for n in beside), "")
    for n in beside:
        lines[n] = replace(lines[n], words=said[lines[n].key])
    reading = readings.lines(recording_id, [lines[n] for n in beside])
    shut = {beside[k] for k, u in enumerate(reading.utterances) if not is_open(reading, viewer, u)}
    for n in shut:
        lines[n] = replace(lines[n], words=())
    hits = {n: some for n, some in hits.items() if n not in shut}
    return _Found(reading, lines, hits) if hits else None


def _shown(found: _Found, viewer: Viewer, n: int, hit: Hit, right: str, playable: Sequence[tuple[int, int]]) -> ShownOccurrence:
    line, reading = found.lines[n], found.reading
    said = line.words
    here = said[hit.first : hit.last + 1]
    start_ms, end_ms = here[0].start_ms, max(w.end_ms for w in here)
    before = [w.text for w in (*(found.lines[n - 1].words if n else ()), *said[: hit.first])]
    after = [w.text for w in (*said[hit.last + 1 :], *(found.lines[n + 1].words if n + 1 < len(found.lines) else ()))]
    return ShownOccurrence(
        token=GATE_TOKEN, recording=reading.row.code, key=line.key, first=hit.first, last=hit.last, start_ms=start_ms, end_ms=end_ms,
        speaker=reading.called(line.speaker_id, viewer) if line.speaker_id is not None else "", before=" ".join(before[-AROUND:]),
        said=" ".join(w.text for w in here), after=" ".join(after[:AROUND]), becomes=" ".join(instead(said, hit.first, hit.last, right)),
        alike=hit.alike, play=to_play(start_ms, end_ms, playable),
    )  # fmt: skip


# --- what may prime the engine ----------------------------------------------------------------------------------------
def may_prime(readings: Readings, recording_id: int, spelled: Iterable[Spelled]) -> Iterator[str]:
    """Those of these spellings that the engine may be given for a recording, in their order. None that holds a name which is
    hidden, or not decided yet, of anybody anywhere; and none that, with its mis-hearings, is said in closed speech alone."""
    hidden: _HiddenNames | None = None  # costs a look at every name that is noted
    for one in spelled:
        hidden = hidden or _hidden(readings, recording_id)
        if not hidden.names(one.text) and not _only_closed(readings, (one.text, *one.heard_as)):
            yield one.text


@dataclass(frozen=True, slots=True)
class _HiddenNames:
    matcher: Matcher  # of names on record, and of names proper that are hidden
    said: frozenset[tuple[str, ...]]  # whatever is hidden anywhere, as it was said

    def names(self, text: str) -> bool:
        spelled = letters_of(text)
        return self.matcher.first_hit(text, any_case=True) is not None or any(in_a_row(spelled, other) for other in self.said)


def _hidden(readings: Readings, recording_id: int) -> _HiddenNames:
    reading = readings.of(recording_id)
    names: dict[str, ForbiddenName] = {}
    for person_id, known in readings.names.items():
        wish = Attribution.UNNAMED if reading.held(person_id) else reading.attribution(person_id)
        for text, scan in hidden_names(known, wish):
            for part in (text, *name_parts(text)):
                names[part] = ForbiddenName(part, as_name=scan != Scan.ALWAYS)
    noted = [h for other in mentions.recordings_with_names(readings.connection) for h in _hidden_in(readings, other)]
    proper = forbidden_words(noted, readings.places)
    said = frozenset(letters_of(h.said) for h in noted)
    return _HiddenNames(Matcher([*names.values(), *proper]), said)


def _hidden_in(readings: Readings, recording_id: int) -> Iterator[Hidden]:
    """What is hidden or undecided in a recording, as it was said; in older transcripts too, as today's may have another word there."""
    known = mentions.current(readings.connection, recording_id)
    places = {(m.stretch.start_ms, m.stretch.end_ms) for m in known}
    versions = words.versions_with_words(readings.connection, recording_id)
    said = words.utterances_near(readings.connection, dict.fromkeys(versions, places))
    for version_id in versions:
        one = Reading(readings, recording_id, version_id)
        one.utterances = said[version_id]
        for m in known:
            if one.said.fits(m.stretch.start_ms, m.stretch.end_ms) and not one.shows(m):
                yield Hidden(one.words_in(m.stretch), m.kind, m.decision == Decision.HIDE)


def _only_closed(readings: Readings, texts: Sequence[str]) -> bool:
    """True where these are said, and in nothing that an editor may read today."""
    closed = False
    for recording_id in sorted({r for t in texts for r in words.recordings_saying(readings.connection, Misheard(t, t).surest)}):
        lines = words.lines_now(readings.connection, recording_id)
        said = words.saying(readings.connection, (n.key for n in lines), "")
        lines = [replace(n, words=said[n.key]) for n in lines if stands_in(texts, said[n.key])]
        reading = readings.lines(recording_id, lines)
        for utterance in reading.utterances:
            runs = reading.runs(utterance, _TEAM_VIEWER)
            if any(stands_in(texts, run.words) for run in runs):
                return False
            closed = True
    return closed
