"""The first door: a viewer reads or hears. Fetching is the check: what is not allowed is not there, or a closed time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from functools import partial
from typing import Any

from archive.audio.peaks import closed_peaks
from archive.db import describing, languages, mentions, people, recordings, translations, units
from archive.db.session import Row
from archive.db.twins import Twin
from archive.domain.agreements import TEAM, Standing
from archive.domain.attribution import WITHHELD, attribution_line
from archive.domain.cleared import (
    GATE_TOKEN,
    PlayStretch,
    ShownFound,
    ShownHit,
    ShownMisfit,
    ShownNear,
    ShownOnRecord,
    ShownQuote,
    ShownRecording,
    ShownSnippet,
    ShownSound,
    ShownTag,
    ShownTwin,
    ShownUtterance,
    ShownWaiting,
    ShownWord,
)
from archive.domain.editing import least
from archive.domain.languages import Spoken
from archive.domain.marks import parts as parts_of
from archive.domain.masking import mask_words, merge, under_masks, wording
from archive.domain.passages import Utterance, in_view, shape, stages
from archive.domain.quoting import Span, quote_text
from archive.domain.values import MIN_WORD_MS, Attribution, Decision, Role, Stretch, Viewer, Way, Word
from archive.errors import Clash, NotFound, Refused
from archive.gate.closed import title_closed
from archive.gate.heard import Run, rest
from archive.gate.reading import Reading, Readings, called
from archive.gate.titles import named_in
from archive.gate.told_of import on_record
from archive.gate.translated import shown as shown_translation
from archive.gate.withheld import Facets, open_counts, tag_is_withheld
from archive.rules.marking import first_met, highlight
from archive.rules.questions import Nothing, Query
from archive.rules.told import FROM_BIRTH

MAX_PIECE_MS = 90_000
SNIPPET_WORDS = 26
AROUND_MS = 2500  # what is read beside a name that waits
CLOSED = "[closed]"


def sees_names(viewer: Viewer) -> bool:
    """Keeper and editor know who is who, and so does a helper in what was assigned; nobody else."""
    return viewer.role != Role.READER


def show_recording(
    readings: Readings, viewer: Viewer, recording_id: int, doubtful_below: float, at_ms: int | None = None
) -> ShownRecording:
    """A recording's words, times and drawn sound as this viewer may have them. `at_ms`: of a long one the words of the part at this
    time alone (`domain.passages.in_view`); the recording is then read in outline in this transaction."""
    if at_ms is not None:
        readings.in_outline(recording_id)
    reading = readings.of(recording_id)
    parts = stages([(u.start_ms, u.end_ms) for u in reading.utterances])
    read = [parts[n] for n in in_view(parts, at_ms)]
    reading.read_words((part.start_ms, part.end_ms) for part in read)
    whole = {n for part in read for n in range(part.first, part.last)}
    sound = show_heard(readings, viewer, recording_id)
    return ShownRecording(
        token=GATE_TOKEN, code=sound.code, title=sound.title, duration_ms=sound.duration_ms, playable=sound.playable, peaks=sound.peaks,
        peak_ms=sound.peak_ms, version=reading.version_id or 0,
        utterances=tuple(_utterance(reading, viewer, u, doubtful_below, n in whole) for n, u in enumerate(reading.utterances)),
    )  # fmt: skip


def show_part(
    readings: Readings, viewer: Viewer, recording_id: int, shaped: str, part: int, doubtful_below: float
) -> tuple[ShownUtterance, ...]:
    """The words of one part of a long recording. Raises Clash where it has other utterances by now (`domain.passages.shape`)."""
    readings.in_outline(recording_id)
    reading = readings.of(recording_id)
    parts = stages([(u.start_ms, u.end_ms) for u in reading.utterances])
    if shape(reading.order()) != shaped:
        raise Clash("This recording has another transcript by now.", "Load the page again.")
    if part >= len(parts):
        raise NotFound("There is no such part.", "Load the page again.")
    here = parts[part]
    reading.read_words([(here.start_ms, here.end_ms)])
    return tuple(_utterance(reading, viewer, u, doubtful_below, True) for u in reading.utterances[here.first : here.last])


def show_heard(readings: Readings, viewer: Viewer, recording_id: int) -> ShownSound:
    """What this viewer may hear of a recording, and its drawn sound: zero wherever they hear nothing."""
    readings.in_outline(recording_id)
    reading = readings.of(recording_id)
    playable = reading.open_pieces(viewer, TEAM, Way.VOICE)
    measured = recordings.measurement_of(readings.connection, recording_id)
    peaks, peak_ms = (measured.peaks, measured.peak_ms) if measured else (b"", 10)
    return ShownSound(
        token=GATE_TOKEN, code=reading.row.code, title=show_title(readings, viewer, recording_id), duration_ms=reading.row.duration_ms,
        playable=tuple(PlayStretch(s, e) for s, e in playable), peaks=closed_peaks(peaks, peak_ms, unheard(reading, viewer, playable)),
        peak_ms=peak_ms,
    )  # fmt: skip


def _utterance(reading: Reading, viewer: Viewer, utterance: Utterance, doubtful_below: float, whole: bool) -> ShownUtterance:
    """`whole`: with its words; else with the marks of what is closed in it alone."""
    speaker = utterance.speaker_id
    called = reading.called(speaker, viewer) if speaker is not None else ""
    mine = sees_names(viewer) and speaker not in reading.readings.reach(viewer).people
    code = reading.readings.codes[speaker] if speaker is not None and mine else ""
    if whole:
        words = words_shown(reading, viewer, utterance, doubtful_below)
        closed = not words
    else:
        runs = reading.runs(utterance, viewer)
        words, closed = tuple(_gaps(utterance, runs)), not runs
    if closed and not mine:
        called = ""  # who spoke in a closed stretch is closed with it
    return ShownUtterance(
        token=GATE_TOKEN, utterance_id=utterance.block_id, speaker=called, speaker_code=code,
        start_ms=utterance.start_ms, end_ms=utterance.end_ms, words=words, closed=closed,
        state=utterance.state.value, verbatim=utterance.verbatim,
    )  # fmt: skip


def words_shown(
    reading: Reading, viewer: Viewer, utterance: Utterance, doubtful_below: float
) -> tuple[ShownWord, ...]:
    """What this viewer may read of an utterance; where words are closed a mark stands, so that no two sentences run into one."""
    unsure = reading.unsure(utterance, doubtful_below)
    masks = reading.masks_in(utterance.start_ms, utterance.end_ms + MIN_WORD_MS)
    shown: list[ShownWord] = []
    at = 0
    for run in reading.runs(utterance, viewer):
        shown += _gap(utterance.words[at : run.first])
        shown += _words(reading, viewer, run, masks, unsure)
        at = run.first + len(run.words)
    return (*shown, *_gap(utterance.words[at:])) if shown else ()


def _gaps(utterance: Utterance, runs: Sequence[Run]) -> list[ShownWord]:
    """The marks of what is closed between what is open."""
    if not runs or not utterance.words:
        return []
    marks = [0, *(m for run in runs for m in (run.first, run.first + len(run.words))), len(utterance.words)]
    return [mark for a, b in zip(marks[::2], marks[1::2], strict=True) for mark in _gap(utterance.words[a:b])]


def _gap(words: Sequence[Word]) -> list[ShownWord]:
    if not words:
        return []
    start_ms, end_ms = words[0].start_ms, max(w.end_ms for w in words)
    return [ShownWord(token=GATE_TOKEN, text=CLOSED, start_ms=start_ms, end_ms=end_ms, masked=True, closed=True)]


def _words(
    reading: Reading, viewer: Viewer, run: Run, masks: Sequence[tuple[int, int]], unsure: frozenset[int]
) -> list[ShownWord]:
    """Words with masks in place; for who reads them whole, with what of them is hidden from others."""
    whole = reading.readings.reads_names(viewer)
    hides = under_masks(run.words, masks) if whole and masks else []
    waits = under_masks(run.words, [m for m in masks if m in reading.undecided]) if hides else []
    return [
        ShownWord(
            token=GATE_TOKEN, text=t.text, start_ms=t.start_ms, end_ms=t.end_ms, masked=t.masked,
            doubtful=not t.masked and t.start_ms in unsure, index=run.first + t.first,
            hidden=("undecided" if waits[t.first] else "decided") if hides and hides[t.first] else "",
        )
        for t in mask_words(run.words, [] if whole else masks, instead=reading.instead() if masks else None)
    ]  # fmt: skip


def show_languages(readings: Readings, viewer: Viewer, recording_id: int) -> Spoken:
    """Which language is spoken where. In closed speech another language than that of the whole is closed with it. The recording is read
    in outline."""
    spoken = languages.of(readings.connection, recording_id)
    if sees_names(viewer) or not spoken.stretches:
        return spoken
    readings.in_outline(recording_id)
    reading = readings.of(recording_id)
    open_ones = (s for s in spoken.stretches if reading.judge(s[:2], reading.people_in(*s[:2]), TEAM, Way.WORDS, viewer).allowed)
    return Spoken(spoken.whole, tuple(open_ones))


def unheard(reading: Reading, viewer: Viewer, playable: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """What of a recording's sound this viewer is told nothing about: closed, hushed beside what is closed, and muted names."""
    return [*rest(playable, reading.row.duration_ms), *reading.hushed(), *([] if reading.readings.reads_names(viewer) else reading.mutes())]


def show_misfits(
    readings: Readings, viewer: Viewer, recording_id: int, heard_version: int, places: Sequence[tuple[bool, int, int]]
) -> tuple[ShownMisfit, ...]:
    """Where a typed transcript and the machine's do not fit: (typed, start_ms, end_ms) with the words of today's version, or
    of the machine's, that this viewer may read there."""
    shown = []
    for typed, start_ms, end_ms in places:
        reading = readings.of(recording_id, None if typed else heard_version)
        words = [
            w.text
            for u in reading.overlapping(start_ms, end_ms)
            for w in words_shown(reading, viewer, u, 0.0)
            if w.start_ms < end_ms and start_ms < w.end_ms
        ]
        text = " ".join(words) or CLOSED
        shown.append(ShownMisfit(token=GATE_TOKEN, typed=typed, start_ms=start_ms, end_ms=end_ms, words=text))
    return tuple(shown)


def show_sound(
    readings: Readings, viewer: Viewer, recording_id: int, stretch: tuple[int, int]
) -> tuple[PlayStretch, tuple[PlayStretch, ...]]:
    """A stretch that this viewer may hear, whole, and what in it is muted; a keeper who opened closed speech hears it.
    Raises Refused where any of it is closed."""
    start_ms, end_ms = stretch
    if not 0 <= start_ms < end_ms or end_ms - start_ms > MAX_PIECE_MS:
        raise NotFound("There is no such stretch to play.", "Play at most a minute and a half at a time.")
    readings.in_outline(recording_id)
    reading = readings.of(recording_id)
    if not any(s <= start_ms and end_ms <= e for s, e in reading.open_pieces(viewer, TEAM, Way.VOICE)):
        raise Refused("This stretch is not open for you to hear.", (), "What may be heard is marked on the recording's page.")
    opened = viewer.opened and viewer.role == Role.KEEPER
    mutes = merge([*([] if opened else reading.hushed()), *([] if readings.reads_names(viewer) else reading.mutes())])
    inside = [(s, e) for s, e in mutes if s < end_ms and start_ms < e]
    return PlayStretch(start_ms, end_ms), tuple(PlayStretch(s, e) for s, e in inside)


def show_tags(readings: Readings, viewer: Viewer, recording_id: int) -> tuple[ShownTag, ...]:
    """Suggestions and decisions whose evidence this viewer may read, in time order, each with what is on record beside it."""
    return tuple(shown_tags(readings.of(recording_id), viewer, describing.tags_of(readings.connection, recording_id)))


def show_told_of(readings: Readings, viewer: Viewer, recording_id: int, parts: Sequence[tuple[int, int]]) -> tuple[ShownTag, ...]:
    """Of those the dates in these stretches that tell of something on record as well."""
    rows = [r for r in describing.tags_of(readings.connection, recording_id) if r.about and any(r.start_ms < e and s < r.end_ms for s, e in parts)]
    return tuple(shown_tags(readings.of(recording_id), viewer, rows)) if rows else ()


def shown_tags(reading: Reading, viewer: Viewer, rows: Sequence[Row[Any]]) -> list[ShownTag]:
    """Of these tags of a recording those whose evidence this viewer may read, each with what is on record beside it."""
    shown = [r for r in rows if reads_tag(reading, viewer, r)]
    told = [r for r in shown if r.about]
    beside = on_record(reading, viewer, told, reads_tag) if told else {}
    return [_tag(r, viewer, beside.get(r.id, ())) for r in shown]


def reads_tag(reading: Reading, viewer: Viewer, row: Row[Any]) -> bool:
    """True where this viewer may read the words that a tag rests on."""
    stretch = (row.start_ms, row.end_ms)
    if not reading.readings.reads_names(viewer) and (reading.masks_in(*stretch) or tells_birth(reading, row) or tag_is_withheld(reading.readings, row.kind, row.value)):
        return False
    return reading.judge(stretch, reading.people_in(*stretch), TEAM, Way.WORDS, viewer).allowed


def tells_birth(reading: Reading, row: Row[Any]) -> bool:
    """True where a date and its words ("when I was five") tell the birth year of somebody who does not give their full name."""
    if not str(row.reckoning).startswith(FROM_BIRTH):
        return False
    return any(reading.attribution(p) != Attribution.FULL for p in reading.people_in(row.start_ms, row.end_ms))


def _tag(row: Row[Any], viewer: Viewer, beside: tuple[ShownOnRecord, ...]) -> ShownTag:
    """A reckoning tells a birth year ("born 1942, aged 10"): it is for those who may see names."""
    return ShownTag(
        token=GATE_TOKEN, tag_id=row.id, kind=row.kind, value=row.value, state=row.state, evidence=row.evidence,
        rule=row.rule, start_ms=row.start_ms, end_ms=row.end_ms, detail=row.reckoning if sees_names(viewer) else "",
        beside=beside,
        by=(row.decided_by or "") if sees_names(viewer) else "", at=(row.decided_at or "") if sees_names(viewer) else "",
    )  # fmt: skip


def waiting_names(readings: Readings, viewer: Viewer, recording_id: int) -> list[mentions.Mention]:
    """Names that wait for a decision, in speech that this viewer may read: who is named in closed speech is closed too."""
    reading = readings.of(recording_id)
    return [
        m
        for m in reading.mentions
        if m.decision == Decision.UNDECIDED
        and reading.judge(
            (m.stretch.start_ms, m.stretch.end_ms), reading.people_in(m.stretch.start_ms, m.stretch.end_ms), TEAM, Way.WORDS, viewer
        ).allowed
    ]


def show_waiting(
    readings: Readings, viewer: Viewer, recording_id: int, doubtful_below: float, first: int, most: int
) -> tuple[tuple[ShownWaiting, ...], int]:
    """So many of the names that wait, from the number `first` on, with what is said around them; and how many wait in all."""
    readings.in_outline(recording_id)
    reading, every = readings.of(recording_id), waiting_names(readings, viewer, recording_id)
    some = [(m, m.stretch.start_ms - AROUND_MS, m.stretch.end_ms + AROUND_MS) for m in every[first : first + most]]
    reading.read_words((start_ms, end_ms) for _, start_ms, end_ms in some)
    shown = tuple(
        ShownWaiting(
            token=GATE_TOKEN, start_ms=m.stretch.start_ms, end_ms=m.stretch.end_ms, person_code=readings.codes.get(m.person_id or 0, ""),
            around=words_around(reading, viewer, start_ms, end_ms, doubtful_below),
        )
        for m, start_ms, end_ms in some
    )  # fmt: skip
    return shown, len(every)


def words_around(reading: Reading, viewer: Viewer, start_ms: int, end_ms: int, doubtful_below: float) -> tuple[ShownWord, ...]:
    """What this viewer may read of a stretch (ms), utterance after utterance."""
    return tuple(
        w for u in reading.overlapping(start_ms, end_ms) for w in words_shown(reading, viewer, u, doubtful_below)
        if w.start_ms < end_ms and start_ms < w.end_ms
    )  # fmt: skip


def show_quote(
    readings: Readings, viewer: Viewer, recording_id: int, version_id: int, spans: Sequence[Span]
) -> ShownQuote | None:
    """An excerpt's wording for this viewer, or None where any of it is closed to them today."""
    reading, today = readings.of(recording_id, version_id), readings.of(recording_id)
    masks = [] if readings.reads_names(viewer) else reading.masks()
    speakers: dict[int, None] = {}
    for span in spans:
        stretch, heard = reading.span_heard(span, today)
        if not reading.judge(stretch, heard, TEAM, Way.WORDS, viewer).allowed:
            return None
        speakers.update(dict.fromkeys(p for p in reading.span_speakers(span, today) if p is not None))
    return ShownQuote(
        token=GATE_TOKEN,
        words=quote_text(spans, reading.block_words, masks, reading.order(), reading.instead()),
        speakers=tuple(reading.called(p, viewer) for p in speakers),
    )


def show_hits(
    readings: Readings, viewer: Viewer, units_found: Sequence[tuple[int, Stretch]], query: Query,
    twins: Mapping[int, Sequence[Twin]],
) -> tuple[ShownHit, ...]:  # fmt: skip
    """The answers of Find, from units (id, stretch) that the query already found visible for this viewer, their `twins` too."""
    rows = translations.current(readings.connection, {stretch.recording_id for _, stretch in units_found})
    beside = [(row, Stretch(row.recording_id, row.start_ms, row.end_ms)) for row in rows]
    beside = [(row, own) for row, own in beside if any(own.overlaps(stretch) for _, stretch in units_found)]
    near = readings.near([*(stretch for _, stretch in units_found), *(own for _, own in beside)])
    tags = units.tags_of_units(readings.connection, [unit_id for unit_id, _ in units_found])
    codes = recordings.codes_of(readings.connection, [t.recording_id for each in twins.values() for t in each])
    above: set[int] = set()
    hits = []
    for unit_id, stretch in units_found:
        same = {t.recording_id: t for t in reversed(twins.get(unit_id, ()))}  # one of each recording, the first
        also = tuple(ShownTwin(token=GATE_TOKEN, recording=codes[t.recording_id], at_ms=t.at_ms, above=t.unit_id in above) for t in reversed(same.values()))
        above.add(unit_id)
        translated = [row for row, own in beside if own.overlaps(stretch)]
        hits.append(_hit(near[stretch.recording_id], viewer, unit_id, stretch, query, tags.get(unit_id, []), translated, also))
    return tuple(hits)


def show_near(
    readings: Readings, viewer: Viewer, units_found: Sequence[tuple[int, Stretch]], twins: Mapping[int, Sequence[Twin]]
) -> ShownNear:  # fmt: skip
    """Leads, from units that were already found visible for this viewer. Nothing is marked in them: no word of theirs was asked for."""
    return ShownNear(token=GATE_TOKEN, hits=show_hits(readings, viewer, units_found, Nothing(), twins))


def _hit(
    reading: Reading, viewer: Viewer, unit_id: int, stretch: Stretch, query: Query,
    tags: Sequence[Row[Any]], beside: Sequence[Row[Any]], also: tuple[ShownTwin, ...],
) -> ShownHit:  # fmt: skip
    masks = [] if reading.readings.reads_names(viewer) else reading.masks()
    texts: list[str] = []
    times: list[int] = []
    hidden: set[int] = set()
    speakers: dict[int | None, None] = {}
    read: list[Utterance] = []
    for utterance in reading.overlapping(stretch.start_ms, stretch.end_ms):
        for run in reading.runs(utterance, viewer):
            inside = [w for w in run.words if w.start_ms < stretch.end_ms and stretch.start_ms < w.end_ms]
            if inside:
                shown = mask_words(inside, masks, instead=reading.instead())
                hidden |= {len(texts) + n for n, token in enumerate(shown) if token.masked}
                texts += [t.text for t in shown]
                times += [t.start_ms for t in shown]
                speakers[utterance.speaker_id] = None
                read.append(utterance)
    row = reading.row
    words = _usable(reading, (stretch.start_ms, stretch.end_ms), Way.WORDS, [u.code for u in reading.readings.uses.values() if not u.inward])
    span, at = (stretch.start_ms, stretch.end_ms), first_met(texts, query, SNIPPET_WORDS, hidden)
    parts, translated, language = highlight(texts, query, SNIPPET_WORDS, hidden), "", ""
    if beside and not any(is_match for _, is_match in parts):
        parts, translated, language = _in_translation(reading, viewer, beside, query) or (parts, "", "")
    return ShownHit(
        token=GATE_TOKEN, unit_id=unit_id, recording=row.code, title=show_title(reading.readings, viewer, reading.recording_id), interview=row.interview_code or "",
        start_ms=stretch.start_ms, end_ms=stretch.end_ms,
        speakers=tuple(reading.called(p, viewer) if p is not None else "speaker not assigned" for p in speakers),
        snippet=ShownSnippet(token=GATE_TOKEN, parts=tuple(parts)),
        tags=tuple(shown_tags(reading, viewer, tags)),
        playable=reading.judge(span, reading.people_in(*span), TEAM, Way.VOICE, viewer).allowed, play_ms=max(stretch.start_ms, times[at]) if at is not None else stretch.start_ms,
        usable=words, usable_voice=_usable(reading, span, Way.VOICE, words), also=also, state=least(u.state for u in read).value, verbatim=bool(read) and all(u.verbatim for u in read),
        translated=translated, language=language,
    )  # fmt: skip


def _usable(reading: Reading, stretch: tuple[int, int], way: Way, uses: Sequence[str]) -> tuple[str, ...]:
    """Those of the uses that a stretch may be put to in this way today, by code."""
    heard = reading.people_in(*stretch)
    return tuple(use for use in uses if reading.readings.may_be_put_to(heard, use, way) and reading.judge(stretch, heard, use, way).allowed)


def _in_translation(
    reading: Reading, viewer: Viewer, beside: Sequence[Row[Any]], query: Query
) -> tuple[list[tuple[str, bool]], str, str] | None:
    """What was found in a translation that this viewer may read: its words around it, whose they are, and in which language (a tag)."""
    for one in filter(None, (shown_translation(reading, viewer, row) for row in beside)):
        texts = parts_of(one.text)
        parts = highlight(texts, query, SNIPPET_WORDS, {n for n, text in enumerate(texts) if "[" in text})
        if any(is_match for _, is_match in parts):
            return parts, f"{one.language_name}, by {one.translator}", one.language
    return None


def speaker_choices(readings: Readings, viewer: Viewer) -> tuple[tuple[str, str], ...]:
    """Narrators to narrow a question by: (code, label). Whoever is unnamed is not offered to readers."""
    return tuple((row.code, label) for row, label, named in _narrators(readings, viewer) if named)


def show_person(readings: Readings, viewer: Viewer, code: str) -> str:
    """What to call somebody on record, to this viewer."""
    row = people.by_code(readings.connection, code)
    if row is None or row.id in readings.reach(viewer).people:
        return ""
    (standing,) = readings.standings_of([row.id])
    return called(readings.names.get(row.id, []), standing.wish_on(readings.context.on).attribution, code, viewer)


def _narrators(readings: Readings, viewer: Viewer) -> list[tuple[Row[Any], str, bool]]:
    """(person, label, may be offered to this viewer) of everybody who narrates."""
    on = readings.context.on

    def read() -> list[tuple[Row[Any], str, bool]]:
        narrators = people.narrators(readings.connection)
        standings = {s.person_id: s for s in readings.standings_of(r.id for r in narrators)}
        found = []
        for row in narrators:
            standing, names = standings[row.id], readings.names.get(row.id, [])
            wish = standing.wish_on(on).attribution
            named = sees_names(viewer) or _named_to_readers(standing, attribution_line(names, wish), on)
            found.append((row, called(names, wish, row.code, viewer), named))
        return found

    shut = readings.reach(viewer).people
    every = readings.known.once(("narrators", on, viewer.role), read)
    return [(row, label, named) for row, label, named in every if row.id not in shut] if shut else every


def narrators_shown(readings: Readings, viewer: Viewer) -> frozenset[int]:
    """Narrators whom this viewer may tell from others."""
    return frozenset(row.id for row, _, named in _narrators(readings, viewer) if named or sees_names(viewer))


def _named_to_readers(standing: Standing, line: str, on: date) -> bool:
    """Whether readers may know that somebody is in the archive: under a name, with a paper of theirs, and not held back altogether."""
    agreed = any(standing.counts(a, on) and a.signed_on <= on for a in standing.agreements)
    held = any(r.person_id == standing.person_id and r.recording_id is None and r.holds_on(on) for r in standing.restraints)
    return line != WITHHELD and agreed and not held


def full_names(readings: Readings) -> frozenset[int]:
    """Who gives their full name today, of everybody on record; what others were is theirs to keep (domain/crowd.py)."""
    on = readings.context.on
    return frozenset(s.person_id for s in readings.standings_of(readings.codes) if s.wish_on(on).attribution == Attribution.FULL)


def found(
    readings: Readings, viewer: Viewer, hits: tuple[ShownHit, ...], total: int, facets: Facets, *, confirmed: Facets, order: str,
    suggestion: str, notes: tuple[str, ...],
) -> ShownFound:  # fmt: skip
    """The whole answer. Speakers are told as they wish to be called; the unnamed are not counted for readers."""
    labels = {row.code: label for row, label, named in _narrators(readings, viewer) if named}
    speakers = tuple((labels[code], n) for code, n in facets.get("speaker", ()) if code in labels)
    # A name may have been hidden after a recording was indexed.
    counted = partial(open_counts, readings) if not sees_names(viewer) else dict
    return ShownFound(
        token=GATE_TOKEN, hits=hits, total=total, facets={**counted(facets), "speaker": speakers}, confirmed=counted(confirmed), order=order,
        suggestion=suggestion, notes=notes,
    )  # fmt: skip


def show_title(readings: Readings, viewer: Viewer, recording_id: int) -> str:
    """A recording's title; names in it that are not shown to this viewer are masked like spoken ones. What is held back takes a title that
    tells of it along."""
    reading = readings.of(recording_id)
    title = str(reading.row.title)
    instead = title_closed(reading, viewer, title)
    if instead or readings.reads_names(viewer) or not title:
        return instead or title
    hidden = named_in(reading, title, [n for p in reading.roles for n in reading.open_names(p)])
    spelled = [Word(text, n * 100, n * 100 + 50) for n, text in enumerate(title.split())]
    return wording(mask_words(spelled, [(spelled[first].start_ms, spelled[last].end_ms) for first, last in hidden]))
