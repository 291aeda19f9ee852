"""The first door for names that are spoken: each stretch with the words around it, as who decides may read and hear it."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence

from archive.db.mentions import Mention
from archive.domain.agreements import TEAM
from archive.domain.cleared import GATE_TOKEN, ForbiddenName, PlayStretch, ShownMention
from archive.domain.letters import without_possessive
from archive.domain.masking import own_words, tells_hidden_words, under_masks
from archive.domain.quoting import Span, text_tokens, word_tokens
from archive.domain.values import MIN_WORD_MS, Decision, Naming, Stretch, Viewer, Way, Word
from archive.errors import BadInput
from archive.gate.reading import Reading, Readings
from archive.gate.scan_match import Matcher

AROUND_MS = 2500  # of words shown before and after
PLAYED_MS = 1000  # of sound played before and after: a name is a second long, 40 of them have three minutes
NEW = "new"  # what `seen` says of words about which nothing is on record


def noted(readings: Readings, recording_ids: Iterable[int]) -> list[Mention]:
    """Everything on record about the words that these recordings have today."""
    return [m for recording_id in recording_ids for m in readings.of(recording_id).mentions]


def show_mentions(readings: Readings, viewer: Viewer, found: Iterable[Mention], *, sound: bool) -> tuple[ShownMention, ...]:
    """What this viewer may read of these stretches, in order; what is closed to them is left out. `sound`: with what to play."""
    by_recording: dict[int, list[Mention]] = {}
    for mention in found:
        by_recording.setdefault(mention.stretch.recording_id, []).append(mention)
    if sound:
        every = {recording_id: readings.of(recording_id) for recording_id in by_recording}
    else:  # an answer for the whole archive needs seconds of each recording
        every = readings.near(m.stretch for some in by_recording.values() for m in some)
    shown: list[ShownMention] = []
    shut = readings.reach(viewer).people
    for recording_id, some in by_recording.items():
        reading = every[recording_id]
        playable = reading.open_pieces(viewer, TEAM, Way.VOICE) if sound else []
        shown += [_mention(reading, viewer, m, playable) for m in some if m.person_id not in shut and readable(reading, viewer, m.stretch)]
    return tuple(sorted(shown, key=lambda m: (m.recording, m.start_ms, m.end_ms, m.person)))


def readable(reading: Reading, viewer: Viewer, stretch: Stretch) -> bool:
    """True where this viewer may read what is said there: who is named in closed speech is closed too."""
    start_ms, end_ms = stretch.start_ms, stretch.end_ms
    return reading.judge((start_ms, end_ms), reading.people_in(start_ms, end_ms), TEAM, Way.WORDS, viewer).allowed


def _mention(reading: Reading, viewer: Viewer, mention: Mention, playable: Sequence[tuple[int, int]]) -> ShownMention:
    codes = reading.readings.codes
    start_ms, end_ms = mention.stretch.start_ms, mention.stretch.end_ms
    before, said, after = around(reading, viewer, mention.stretch)
    others = {
        codes[m.person_id] for m in reading.mentions
        if m.person_id not in (None, mention.person_id) and m.stretch.overlaps(mention.stretch)
    }  # fmt: skip
    return ShownMention(
        token=GATE_TOKEN, recording=reading.row.code, start_ms=start_ms, end_ms=end_ms,
        person=codes.get(mention.person_id or 0, ""), kind=mention.kind.value, rule=mention.rule,
        before=before, said=said, after=after, play=to_play(start_ms, end_ms, playable),
        decision=mention.decision.value, stands=reading.shows(mention), instead=mention.instead, how=mention.how if mention.by else "",
        by=mention.by, at=mention.at, seen=seen(mention), also=tuple(sorted(others)),
    )  # fmt: skip


def seen(mention: Mention) -> str:
    """A mark of what is on record about a stretch: another one means that somebody decided meanwhile."""
    if not mention.by:
        return NEW
    told = repr((mention.decision.value, mention.by, mention.at, mention.how, mention.instead))
    return hashlib.sha256(told.encode("utf-8")).hexdigest()[:16]


def around(reading: Reading, viewer: Viewer, stretch: Stretch) -> tuple[str, str, str]:
    """Words before, the words themselves, words after; without the names of whoever is not to be opened by this account."""
    sides: tuple[list[str], list[str], list[str]] = ([], [], [])
    for utterance in reading.overlapping(stretch.start_ms, stretch.end_ms):
        for run in reading.runs(utterance, viewer):
            hits = under_masks(run.words, [(stretch.start_ms, stretch.end_ms)])
            beyond = under_masks(run.words, reading.names_beyond(viewer, stretch.start_ms - AROUND_MS, stretch.end_ms + AROUND_MS))
            for word, hit, is_beyond in zip(run.words, hits, beyond, strict=True):
                if is_beyond:
                    continue
                if hit:
                    sides[1].append(word.text)
                elif stretch.start_ms - AROUND_MS < word.end_ms and word.start_ms < stretch.start_ms:
                    sides[0].append(word.text)
                elif stretch.end_ms <= word.start_ms < stretch.end_ms + AROUND_MS:
                    sides[2].append(word.text)
    return " ".join(sides[0]), " ".join(sides[1]), " ".join(sides[2])


def to_play(start_ms: int, end_ms: int, playable: Sequence[tuple[int, int]]) -> PlayStretch | None:
    """About a second before and after, as far as it is open; None where the stretch itself is not to be heard."""
    for open_from, open_to in playable:
        if open_from <= start_ms and end_ms <= open_to:
            return PlayStretch(max(open_from, start_ms - PLAYED_MS), min(open_to, end_ms + PLAYED_MS))
    return None


def occurrences(readings: Readings, viewer: Viewer, recording_id: int, words: str) -> list[Mention]:
    """Every stretch of a recording where these words are said one after another and may be read; possessives count.

    As it is on record where somebody decided about exactly this stretch of nobody on record; else as new.
    """
    reading = readings.of(recording_id)
    known = {m.stretch: m for m in reading.mentions if m.person_id is None}
    wanted = [without_possessive(t) for t in text_tokens(words)]
    found: list[Mention] = []
    spoken: list[tuple[str, Word]] = []
    for utterance in reading.utterances:
        for run in reading.runs(utterance, viewer):
            spoken += [(without_possessive(t), w) for w in run.words for t in word_tokens(w.text)]
    at = 0
    while wanted and at <= len(spoken) - len(wanted):
        run_of = spoken[at : at + len(wanted)]
        if [t for t, _ in run_of] == wanted:
            end_ms = max(max(w.end_ms, w.start_ms + MIN_WORD_MS) for _, w in run_of)
            stretch = Stretch(recording_id, min(w.start_ms for _, w in run_of), end_ms)
            found.append(known.get(stretch) or Mention(stretch, None, Decision.UNDECIDED, "", ""))
            at += len(wanted) - 1
        at += 1
    return found


def words_of_spans(readings: Readings, viewer: Viewer, recording_id: int, spans: Sequence[Span]) -> tuple[str, Stretch]:
    """The words of spans that were chosen on the page, to look for elsewhere, and where they lie."""
    reading = readings.of(recording_id)
    chosen = [w for s in spans for w in reading.block_words(s.block_id)[s.first : s.last + 1]]
    stretch = Stretch(recording_id, chosen[0].start_ms, max(max(w.end_ms, w.start_ms + MIN_WORD_MS) for w in chosen))
    return " ".join(w.text for w in chosen), stretch


def checked_own_words(readings: Readings, text: str, stretches: Sequence[Stretch]) -> str:
    """The own words of masks over these stretches, as they are kept. Raises BadInput where they tell what they hide:
    a name on record, whoever's it is, or a word of what is hidden."""
    said = own_words(text)
    if not said:
        return ""
    every = [ForbiddenName(n.text) for known in readings.names.values() for n in known]
    parts = [ForbiddenName(p) for n in every for p in n.text.split() if len(p) > 2 and p[:1].isupper()]
    if Matcher([*every, *parts]).first_hit(said, any_case=True):
        raise BadInput("A name on record stands in the words of the mask.", "Say it without any name: [a neighbour].")
    if any(tells_hidden_words(said, readings.of(s.recording_id).words_in(s)) for s in stretches):
        raise BadInput("The words of the mask are made of the words that it hides.", "Say it in other words: [a neighbour].")
    return said


def placed(readings: Readings, viewer: Viewer, stretch: Stretch, person_id: int | None) -> tuple[Mention | None, bool]:
    """What is on record today about a stretch and a person, as new where nothing is (None: no words, or closed to this viewer),
    and whether they may hear it."""
    reading = readings.of(stretch.recording_id)
    if not readable(reading, viewer, stretch):
        return None, False
    playable = any(s <= stretch.start_ms and stretch.end_ms <= e for s, e in reading.open_pieces(viewer, TEAM, Way.VOICE))
    found = next((m for m in reading.mentions if m.stretch == stretch and m.person_id == person_id), None)
    if found is None and reading.words_in(stretch):
        found = Mention(stretch, person_id, Decision.UNDECIDED, "", "", Naming.PLACE)
    return found, playable
