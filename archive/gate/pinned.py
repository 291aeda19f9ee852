"""One excerpt with its recording, pinned and as of today: what is decided on when it is ticked, when it leaves and when it is explained."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Collection, Iterable, Sequence
from datetime import date
from functools import cached_property
from itertools import islice, product
from typing import Any

from archive.db import interpreted, recordings, reviews, translations
from archive.db.mentions import Mention
from archive.db.session import Connection, Row
from archive.domain import consent, quoting
from archive.domain import reasons as say
from archive.domain.aligning import compared
from archive.domain.attribution import WITHHELD, attribution_line
from archive.domain.consent import Decision
from archive.domain.languages import name
from archive.domain.masking import mask_words, merge
from archive.domain.phrases import many, told
from archive.domain.quoting import Span, quote_text
from archive.domain.reasons import Reason
from archive.domain.translating import Shows, State, original_sha256
from archive.domain.values import Attribution, Part, Role, Way, Word
from archive.gate.reading import Context, Readings
from archive.gate.stands import void_of
from archive.gate.translated import (
    InPieces,
    hidden_in,
    hidden_numbers,
    masks_missing,
    named,
    newly_hidden,
    translator,
    trouble,
)
from archive.gate.voices import AS_RECORDED, DISGUISED, READ, Voice, voice_of

TRANSLATION = "translation"  # the use that is asked for beside another one
LATER_LINE = ", in later wording"  # whose it is stands before it: who reads it must not take it for what is said
CAPTION_ALONE = "A caption has them and the sound has not. Leave them out with […], or choose other words."
MOST_TO_TRY = 5_000  # ways in which older translations of the pieces of a quote may have left together
LEAD_MS = 150  # a word's time is a guess: clips cut at word times keep a little before and after


class Pinned:
    """One excerpt with its recording, in its pinned version and as of today: what both the gate and `may` decide on."""

    def __init__(self, readings: Readings, row: Row[Any]) -> None:
        self.row = row
        self.spans = [Span(*span) for span in row.spans]
        self.reading = readings.of(row.recording_id, row.version_id)
        self.today = readings.of(row.recording_id)
        self._decided: dict[tuple[str, Way], Decision] = {}
        self._voices: dict[str, Voice] = {}
        self._muted: dict[int, list[tuple[int, int]]] = {}

    def parts(self) -> list[tuple[tuple[int, int], frozenset[int]]]:
        """Each span's stretch and the people whose consent its words need."""
        return [self.reading.span_heard(span, self.today) for span in self.spans]

    def words(self) -> list[Word]:
        """Every chosen word, in order."""
        return [w for s in self.spans for w in self.reading.block_words(s.block_id)[s.first : s.last + 1]]

    def times(self) -> tuple[int, int]:
        """Where the words lie in the recording: start and end, ms."""
        words = self.words()
        return words[0].start_ms, max(w.end_ms for w in words)

    def decide(self, use: str, way: Way) -> Decision:
        """The decision for all spans together. For the voice, everybody heard while they play counts, not only who is quoted."""
        if (use, way) not in self._decided:
            self._decided[use, way] = self._decision(use, way)
        return self._decided[use, way]

    def _decision(self, use: str, way: Way) -> Decision:
        whole = consent.merge([self.decide_piece(piece, heard, use, way) for piece, heard in self.asked_for(way)])
        unsaid = [say.later_wording()] if self.later and way != Way.WORDS else []
        return consent.with_more(whole, [*self._of_interpreted(use, way), *unsaid])

    def decide_piece(self, piece: tuple[int, int], heard: frozenset[int], use: str, way: Way) -> Decision:
        """The decision for these people in one of its pieces, for exactly what is shown of it."""
        return self.reading.decide(piece, heard, use, way, self.approved_as, void_of(self, use, way))

    def _of_interpreted(self, use: str, way: Way) -> list[Reason]:
        """What an interpreter's words still lack: a check against what was said before them, and the narrators' yes in their language."""
        if not self.interpreters or self.reading.readings.uses[use].inward:
            return []
        found = [] if interpreted.checks(self.reading.connection, self.row.wording_sha256) else [say.interpreted_unchecked()]
        codes = self.reading.readings.codes
        for person_id in self.narrators():
            if not all(self.reading.approved(piece, person_id, use, way, self.approved_as, self.language(), void_of(self, use, way)) for piece, _ in self.asked_for(way)):
                found.append(say.interpreted_unapproved(codes[person_id]))
        return found

    @cached_property
    def interpreters(self) -> tuple[int, ...]:
        """Interpreters whose words they are, rendering what a narrator said."""
        return tuple(p for p in self.speakers() if p is not None and self.reading.roles.get(p) == Part.INTERPRETER)

    def holds(self, use: str, way: Way) -> frozenset[str]:
        """The holds that keep it from this use, as explanations cite them."""
        found = (r for piece, heard in self.asked_for(way) for r in self.reading.judge(piece, heard, use, way).reasons)
        return frozenset(r.cites for r in found if r.code in say.HOLDS)

    def asked_for(self, way: Way) -> list[tuple[tuple[int, int], frozenset[int]]]:
        """The pieces that are used in this way, and everybody whose consent each of them needs."""
        if way != Way.VOICE:
            return self.parts()
        padded = [(self.padded(stretch), quoted) for stretch, quoted in self.parts()]
        return [(piece, quoted | self.reading.people_in(*piece) | self.today.people_in(*piece)) for piece, quoted in padded]

    # -- in translation ----------------------------------------------------------------------------------------
    @cached_property
    def translation(self) -> InPieces | None:
        """What these words are shown in, or beside; None where the original is shown alone, or one that was chosen is no more."""
        if self.row.shows == Shows.ORIGINAL:
            return None
        found = [translations.by_code(self.reading.connection, code) for code in (self.row.translation, *self.row.translations_after)]
        rows = tuple(row for row in found if row is not None)
        return InPieces(rows) if len(rows) == len(found) else None

    @cached_property
    def wording(self) -> str:
        """The checksum of all that a reader reads of it: with a translation, of that as well. It is what somebody approves."""
        if self.later:
            return quoting.wording_of_later(self.row.wording_sha256, self.later)
        other = self.translation
        return self._wording_with(other, self.row.shows) if other is not None else str(self.row.wording_sha256)

    @cached_property
    def later(self) -> str:
        """The speaker's later wording that stands in place of what they said; "" where it stands as it was said."""
        row = reviews.later(self.reading.connection, self.row.later_id)
        return str(row.later) if row is not None else ""

    @cached_property
    def neighbours(self) -> list[Pinned]:
        """Other quotes for the same use on its panel, in the order in which they were chosen."""
        readings, mine = self.reading.readings, self.row
        return [Pinned(readings, row) for row in reviews.on_panel(readings.connection, mine.panel, mine.use) if row.id != mine.id]

    @property
    def dated(self) -> str:
        """The date that a person noted after the words, as it stands there: [1968]; "" where there is none."""
        return f"[{told(self.row.dated)}]" if self.row.dated else ""

    @property
    def approved_as(self) -> str:
        """What somebody approves: the wording, and a date noted after it."""
        if not self.dated:
            return self.wording
        return hashlib.sha256(json.dumps([self.wording, self.dated], ensure_ascii=False).encode("utf-8", "surrogatepass")).hexdigest()

    def _wording_with(self, other: InPieces, shows: str) -> str:
        shown = [self.row.wording_sha256, shows, *other.marked]
        return hashlib.sha256(json.dumps(shown, ensure_ascii=False).encode("utf-8", "surrogatepass")).hexdigest()

    @cached_property
    def unbroken(self) -> list[list[Word]]:
        """The words, parted where something is left out between them."""
        return quoting.unbroken(self.spans, self.reading.block_words, self.reading.order())

    def of_each(self, rows: Iterable[Row[Any]]) -> list[list[Row[Any]]]:
        """For each unbroken run of the words, those of these translations that are of exactly it."""
        found = list(rows)
        sums = [original_sha256(compared(w.text) for w in run) for run in self.unbroken]
        return [[row for row in found if row.original_sha256 == wanted] for wanted in sums]

    def why_not_translated(self) -> tuple[str, ...]:
        """Why the translation that it is to be shown in may not leave, in sentences; () where it may, or none is shown."""
        if self.row.shows == Shows.ORIGINAL:
            return ()
        if self.later:
            return (say.LATER_NOT_TRANSLATED,)
        other = self.translation
        if other is None or any(row.state == State.ASIDE for row in other.rows):
            return (say.NO_TRANSLATION,)
        if not self._is_of_these_words(other):
            return (say.OTHER_TRANSLATION,)
        decision = self.decide(TRANSLATION, Way.WORDS)
        if not decision.allowed:
            return tuple(say.TRANSLATION_USE.format(why=words) for words in consent.explain(decision, Role.EDITOR))
        held = [trouble(self.today, row) or self._withholds_less(row, run) for row, run in zip(other.rows, self.unbroken, strict=True)]
        return tuple(dict.fromkeys(say.TRANSLATION_HELD.format(why=why) for why in held if why))

    def _is_of_these_words(self, other: InPieces) -> bool:
        fit = self.of_each(other.rows)
        return len(fit) == len(other.rows) and all(row in each for row, each in zip(other.rows, fit, strict=True))

    def _withholds_less(self, row: Row[Any], run: Sequence[Word]) -> str:
        """What is hidden in these pinned words and not in this translation of them, in a sentence; "" where nothing is."""
        typed = translations.as_typed(self.reading.connection, row.code, row.number)
        missing = masks_missing(row, hidden_in(self.reading, run), self.reading)
        return missing or newly_hidden(typed, hidden_numbers(self.reading, run))

    def _translation_no_longer(self, wordings: Collection[str]) -> str:
        """Why the translation that left under these checksums may not leave today; "" where it may."""
        decision = self.decide(TRANSLATION, Way.WORDS)
        if not decision.allowed:
            return " ".join(say.TRANSLATION_USE.format(why=words) for words in consent.told(decision.reasons, Role.EDITOR))
        ever = self.of_each(translations.ever(self.reading.connection, self.row.recording_id))
        shown = (Shows.TRANSLATION, Shows.BOTH)
        whole = (InPieces(rows) for rows in islice(product(*ever), MOST_TO_TRY))
        left = next((o for o in whole if any(self._wording_with(o, s) in wordings for s in shown)), None)
        if left is None:
            return say.NAMES_MOVED
        pairs = zip(left.rows, self.unbroken, strict=True)
        why = next(filter(None, (self._withholds_less(row, run) or named(self.today, row) for row, run in pairs)), "")
        return say.TRANSLATION_HELD.format(why=why) if why else ""

    def translated_by(self) -> str:
        """The line that says so: "Translated from Polish by Marek Sobel."; whoever is not to be named is not."""
        if self.translation is None:
            return ""
        called = dict.fromkeys(translator(self.reading.readings, who, None) for who in self.translation.translators)
        by = "" if WITHHELD in called else f" by {' and '.join(called)}"
        return f"Translated from {name(self.language())}{by}." if self.language() else f"Translated{by}."

    def leaves_as(self) -> str:
        """All the words of it that a visitor reads."""
        other = self.translation.text if self.translation is not None else ""
        shown = {Shows.ORIGINAL: (self.shown_words(),), Shows.TRANSLATION: (other,), Shows.BOTH: (self.shown_words(), other)}
        return " ".join(filter(None, (" / ".join(shown[Shows(self.row.shows)]), self.dated)))

    def padded(self, stretch: tuple[int, int]) -> tuple[int, int]:
        """The stretch with a little before and after, never into a neighbouring word nor over an edge of something closed."""
        start_ms, end_ms = stretch
        near = [w for u in self.reading.overlapping(start_ms - LEAD_MS, end_ms + LEAD_MS) for w in u.words]
        before = max((w.end_ms for w in near if w.end_ms <= start_ms), default=0)
        after = min((w.start_ms for w in near if w.start_ms >= end_ms), default=self.reading.row.duration_ms)
        edges = self.reading.edges
        before = max([before, start_ms - LEAD_MS, *(e for e in edges if e <= start_ms)])
        after = min([after, end_ms + LEAD_MS, *(e for e in edges if e >= end_ms)])
        return max(0, min(before, start_ms)), max(after, end_ms)

    def language(self) -> str:
        """The language these words are spoken in, as a tag; "" where there is more than one."""
        found = {language for (start_ms, end_ms), _ in self.parts() for *_, language in self.reading.languages.pieces(end_ms, start_ms)}
        return found.pop() if len(found) == 1 else ""

    def speakers(self) -> list[int | None]:
        """Who speaks these words as we know it today, in order; None where nobody is assigned."""
        return list(dict.fromkeys(p for s in self.spans for p in self.reading.span_speakers(s, self.today)))

    def corrected(self) -> bool:
        """True where the words were corrected as well as their speaker: nobody can say whose the pinned words are."""
        return any(self.reading.span_speakers(s, self.today) == () for s in self.spans)

    def masks(self) -> list[tuple[int, int]]:
        """What is hidden in the pinned wording today."""
        return self.reading.masks()

    def mask_digest(self) -> str:
        """A checksum of what is hidden in these words and by which words."""
        own = self.reading.instead()
        masks = [m for stretch, _ in self.parts() for m in self.reading.masks_in(*stretch)]
        return hashlib.sha256(json.dumps([(m, own.get(m, "")) for m in masks]).encode("utf-8")).hexdigest()

    def no_longer(self, use: str, gone: Sequence[Row[Any]]) -> str:
        """Why what went out with these items of an export may not leave for this use today as it did; "" where it may."""
        decision = self.decide(use, Way.WORDS)
        if not decision.allowed:
            return " ".join(consent.told(decision.reasons, Role.EDITOR))
        left = {i.wording_sha256 for i in gone}
        in_later = {quoting.wording_of_later(self.row.wording_sha256, row.later) for row in reviews.laters(self.reading.connection, self.row.id)}
        if (in_later & left or self.later) and left != {self.wording}:
            return say.LATER_CHANGED
        translated = left - in_later - {self.row.wording_sha256}
        if translated and (why := self._translation_no_longer(translated)):
            return why
        if {i.mask_digest for i in gone} != {self.mask_digest()}:
            return say.NAMES_MOVED
        if any(i.attribution != self.reading.attribution(i.person_id).value for i in gone):
            return say.CALLED_OTHERWISE
        if any(i.how_heard and i.how_heard != self.how_heard(use) for i in gone):
            return say.HEARD_OTHERWISE
        return ""

    def shown_words(self) -> str:
        """The words as they leave, with whatever stands in the place of what is hidden; the speaker's later wording, where it stands in that."""
        if self.later:
            return self.later
        return quote_text(self.spans, self.reading.block_words, self.masks(), self.reading.order(), self.reading.instead())

    def pieces(self) -> list[tuple[int, int]]:
        """What a clip of these words plays, ms of the recording, in order."""
        return _merged(self.padded(stretch) for stretch, _ in self.parts())

    def muted(self, margin_ms: int) -> list[tuple[int, int]]:
        """What is silent in those pieces; found once."""
        if margin_ms not in self._muted:
            pieces = self.pieces()
            self._muted[margin_ms] = [
                (max(s, ps), min(e, pe))
                for s, e in merge([*self.reading.mutes(margin_ms), *self.today.hushed(margin_ms)])
                for ps, pe in pieces
                if s < pe and ps < e
            ]
        return self._muted[margin_ms]

    def swallowed(self, mutes: Sequence[tuple[int, int]]) -> list[str]:
        """Runs of words that may be read, most of whose sound is silent for the sake of a name beside them."""
        runs: list[list[str]] = [[]]
        tokens = mask_words(self.words(), self.masks())
        for token in tokens:
            silent_ms = sum(max(0, min(e, token.end_ms) - max(s, token.start_ms)) for s, e in mutes)
            if token.masked or silent_ms * 2 <= token.end_ms - token.start_ms:
                runs.append([])
            else:
                runs[-1].append(token.text)
        return [" ".join(run) for run in runs if run]

    def narrators(self) -> list[int]:
        """Whose words they are put down to: the narrators among the speakers, of an interpreter's words those of the interview, else all
        who speak."""
        known = [p for p in self.speakers() if p is not None]
        if self.interpreters:
            return sorted(p for p, role in self.reading.roles.items() if role == Part.NARRATOR) or known
        return [p for p in known if self.reading.roles.get(p) == Part.NARRATOR] or known

    def attribution(self) -> str:
        """The line under the quote. Words that nobody is assigned to are put under nobody's name."""
        lines = dict.fromkeys(self.line_of(p) for p in self.narrators())
        nobody_knows = None in self.speakers() or (self.interpreters and len(self.narrators()) > 1)  # for whom did the interpreter speak?
        line = ", ".join(lines) if lines and not nobody_knows else WITHHELD
        line += LATER_LINE if self.later else ""
        return f"{line}, {self.interpreted_by()}" if self.interpreters else line

    def interpreted_by(self) -> str:
        """Whose rendering it is: "interpreted by Marek Sobel"; whoever is not to be named is not."""
        named = [line for line in map(self.line_of, self.interpreters) if line != WITHHELD]
        return f"interpreted by {' and '.join(named)}" if named else "interpreted"

    def line_of(self, person_id: int) -> str:
        """How one person is called in what leaves."""
        return attribution_line(self.reading.names.get(person_id, []), self.reading.attribution(person_id))

    def unnamed(self, person_id: int) -> bool:
        """True where this person's own name is not given: unnamed, or under another name."""
        return self.line_of(person_id) == WITHHELD or self.reading.attribution(person_id) == Attribution.PSEUDONYM

    def people_named(self) -> set[int]:
        """Whoever on record is named or pointed to in these words."""
        return {m.person_id for m in self._mentions() if m.person_id is not None}

    def people_hidden(self) -> set[int]:
        """Whoever is hidden in these words: unnamed speakers, and people whose names are masked."""
        masked = set(self.masks())
        named = {m.person_id for m in self._mentions() if (m.stretch.start_ms, m.stretch.end_ms) in masked}
        return {p for p in named if p is not None} | {p for p in (*self.speakers(), *self.narrators()) if p is not None and self.unnamed(p)}

    def _mentions(self) -> list[Mention]:
        parts = [stretch for stretch, _ in self.parts()]
        return [m for m in self.reading.mentions if any(m.stretch.start_ms < e and s < m.stretch.end_ms for s, e in parts)]

    # -- heard by a person -------------------------------------------------------------------------------------
    def how_heard(self, use: str) -> str:
        """How the voice leaves for this use: as_recorded, disguised, read (by somebody else), "" where it does not."""
        return self.voice(use).how

    def voice(self, use: str) -> Voice:
        """The same with its reasons; decided once for each use."""
        if use not in self._voices:
            self._voices[use] = voice_of(self, use)
        return self._voices[use]

    def hidden(self, use: str, margin_ms: int) -> tuple[str, ...]:
        """What is masked, unnamed or disguised for this use, in sentences: a second person has to hear it. () is nothing."""
        found = []
        masks = sum(t.masked for t in mask_words(self.words(), self.masks()))
        if masks:
            found.append(f"In the words something is hidden in {many(masks, 'place')}.")
        how = self.how_heard(use)
        mutes = self.muted(margin_ms) if how in (AS_RECORDED, DISGUISED) else []
        if mutes:
            length_s = sum(e - s for s, e in mutes) / 1000
            found.append(f"In the sound {many(len(mutes), 'stretch', 'stretches')} must be silent: {length_s:.1f} s.")
            if lost := self.swallowed(mutes):
                found.append(f"The silence covers words that may be read: “{' … '.join(lost)}”. {CAPTION_ALONE}")
        if self.attribution().startswith(WITHHELD) or any(self.line_of(p) == WITHHELD for p in self.narrators()):
            found.append("The speaker is not named.")
        elif any(self.unnamed(p) for p in self.narrators()):
            found.append("The speaker stands under another name.")
        if how == DISGUISED:
            found.append("The voice must be disguised. A disguise hides a voice from chance listeners, not from whoever knows it.")
        if how == READ:
            found.append("Somebody else reads the words aloud.")
        return tuple(found)

    def shown_sha256(self, use: str, margin_ms: int) -> str:
        """One checksum over all that a tick is for: wording, shown words, silent stretches, how the voice leaves, whose name."""
        how = self._voice_mark(use)
        shown = [
            self.row.wording_sha256, self.shown_words(), self.pieces() if how else [], self.muted(margin_ms) if how in (AS_RECORDED, DISGUISED) else [],
            how, self.attribution(), *([self.wording, self.translated_by()] if self.translation is not None else []), *filter(None, (self.dated,)),
        ]  # fmt: skip
        return hashlib.sha256(json.dumps(shown, ensure_ascii=False).encode("utf-8", "surrogatepass")).hexdigest()

    def _voice_mark(self, use: str) -> str:
        """How the voice leaves, so that another sound gives another mark."""
        voice = self.voice(use)
        return f"{voice.how}:{voice.read.master_sha256}:{voice.read.credit}" if voice.read is not None else voice.how


def source_line(recorded_on: date | None, collection: str) -> str:
    """The year alone: a day could tell who was visited."""
    when = f", recorded in {recorded_on.year}" if recorded_on else ""
    return f"Oral history interview{when}. {collection}."


def _merged(pieces: Iterable[tuple[int, int]]) -> list[tuple[int, int]]:
    """Pieces in the order of the quote; those that touch become one, so that sound and words run on together."""
    merged: list[tuple[int, int]] = []
    for start_ms, end_ms in pieces:
        if merged and merged[-1][0] <= start_ms <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(merged[-1][1], end_ms))
        else:
            merged.append((start_ms, end_ms))
    return merged


def wording_of(connection: Connection, recording_id: int, version_id: int, spans: Sequence[Span], context: Context) -> str:
    """The checksum of an exact wording and its sound ranges, by which it is approved and ticked as heard."""
    reading = Readings(connection, context).of(recording_id, version_id)
    master = recordings.master_of(connection, recording_id)
    parts = []
    for span in spans:
        sha256, block = reading.block(span.block_id)
        chosen = block[span.first : span.last + 1]
        text = " ".join(w.text for w in chosen)
        parts.append((sha256, span.first, span.last, text, chosen[0].start_ms, chosen[-1].end_ms))
    return quoting.wording_sha256(master.sha256, parts)


__all__ = ["Pinned", "source_line", "wording_of"]
