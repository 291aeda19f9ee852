"""The second door: something leaves. Decides every excerpt anew and builds the only values that render/ accepts.

Called twice for each export: before anything is made, and again in the transaction that writes the register.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from operator import itemgetter
from typing import Any

from archive.db import consent_rows, excerpts, facts, recordings
from archive.db.mentions import Mention
from archive.db.session import Connection, Row
from archive.domain import consent, quoting
from archive.domain import reasons as say
from archive.domain.attribution import WITHHELD, attribution_line
from archive.domain.cleared import (
    GATE_TOKEN,
    ClearedCaption,
    ClearedClip,
    ClearedExport,
    ClearedInside,
    ClearedQuote,
    PlayStretch,
)
from archive.domain.consent import Decision, explain
from archive.domain.hearing import Hearing, Tick, standing
from archive.domain.masking import mask_words, merge
from archive.domain.phrases import many
from archive.domain.quoting import Span, quote_text, text_tokens
from archive.domain.values import Attribution, Part, Stretch, Way, Word
from archive.gate.reading import Context, Readings, forbidden_names
from archive.gate.scan_match import Matcher
from archive.gate.voices import AS_RECORDED, DISGUISED, NOT_HEARD, READ, Voice, spread, voice_key, voice_of

LEAD_MS = 150  # a word's time is a guess: clips cut at word times keep a little before and after


@dataclass(frozen=True, slots=True)
class Refusal:
    """An excerpt that does not leave, with every reason in sentences."""

    excerpt: str
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Item:
    """What the register keeps of one person in one item of an export."""

    item: int
    excerpt_id: int
    person_id: int
    wording_sha256: str
    mask_digest: str
    attribution: str
    voice: bool  # the speaker's own voice leaves
    how_heard: str


@dataclass(frozen=True, slots=True)
class Clearing:
    """The answer of one round of decisions. `digest` compares two rounds; `withheld`: what leaves as words only, and why;
    `voices`: what leaves with another voice than the recorded one, and what that does not protect against."""

    export: ClearedExport
    items: tuple[Item, ...]
    refused: tuple[Refusal, ...]
    withheld: tuple[str, ...]
    voices: tuple[str, ...]
    revision: int

    @property
    def digest(self) -> str:
        """One checksum over all that was decided, to see whether two rounds agree."""
        left = self.export
        told = repr(
            (
                left.quotes, left.insides, left.clips, left.forbidden, left.allowed, self.items, self.refused, self.withheld,
                self.voices,
            )
        )
        return hashlib.sha256(told.encode("utf-8")).hexdigest()


@dataclass(frozen=True, slots=True)
class _Ask:
    """What is asked of the gate for one export."""

    use: str
    context: Context
    collection: str
    margin_ms: int


class Pinned:
    """One excerpt with its recording, in its pinned version and as of today: what both the gate and `may` decide on."""

    def __init__(self, readings: Readings, row: Row[Any]) -> None:
        self.row = row
        self.spans = [Span(*span) for span in row.spans]
        self.reading = readings.of(row.recording_id, row.version_id)
        self.today = readings.of(row.recording_id)
        self._decided: dict[tuple[str, Way], Decision] = {}
        self._voices: dict[str, Voice] = {}

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
        found = []
        for stretch, quoted in self.parts():
            piece, heard = stretch, quoted
            if way == Way.VOICE:
                piece = self.padded(stretch)
                heard = quoted | self.reading.people_in(*piece) | self.today.people_in(*piece)
            found.append(self.reading.decide(piece, heard, use, way, self.row.wording_sha256))
        return consent.merge(found)

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
            return " ".join(r.words for r in decision.reasons)
        if {i.mask_digest for i in gone} != {self.mask_digest()}:
            return say.NAMES_MOVED
        if any(i.attribution != self.reading.attribution(i.person_id).value for i in gone):
            return say.CALLED_OTHERWISE
        if any(i.how_heard and i.how_heard != self.how_heard(use) for i in gone):
            return say.HEARD_OTHERWISE
        return ""

    def shown_words(self) -> str:
        """The words as they leave, with whatever stands in the place of what is hidden."""
        return quote_text(self.spans, self.reading.block_words, self.masks(), self.reading.order(), self.reading.instead())

    def pieces(self) -> list[tuple[int, int]]:
        """What a clip of these words plays, ms of the recording, in order."""
        return _merged(self.padded(stretch) for stretch, _ in self.parts())

    def muted(self, margin_ms: int) -> list[tuple[int, int]]:
        """What is silent in those pieces."""
        pieces = self.pieces()
        return [
            (max(s, ps), min(e, pe))
            for s, e in merge([*self.reading.mutes(margin_ms), *self.today.hushed(margin_ms)])
            for ps, pe in pieces
            if s < pe and ps < e
        ]

    def narrators(self) -> list[int]:
        """Whose words they are put down to: the narrators among the speakers, else all who speak."""
        known = [p for p in self.speakers() if p is not None]
        return [p for p in known if self.reading.roles.get(p) == Part.NARRATOR] or known

    def attribution(self) -> str:
        """The line under the quote. Words that nobody is assigned to are put under nobody's name."""
        lines = dict.fromkeys(self.line_of(p) for p in self.narrators())
        return ", ".join(lines) if lines and None not in self.speakers() else WITHHELD

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
        return {p for p in named if p is not None} | {p for p in self.speakers() if p is not None and self.unnamed(p)}

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
        if self.attribution() == WITHHELD or any(self.line_of(p) == WITHHELD for p in self.narrators()):
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
            how, self.attribution(),
        ]  # fmt: skip
        return hashlib.sha256(json.dumps(shown, ensure_ascii=False).encode("utf-8", "surrogatepass")).hexdigest()

    def _voice_mark(self, use: str) -> str:
        """How the voice leaves, so that another sound gives another mark."""
        voice = self.voice(use)
        return f"{voice.how}:{voice.read.master_sha256}:{voice.read.credit}" if voice.read is not None else voice.how

    def hearing(self, use: str, margin_ms: int) -> Hearing:
        """Which ticks stand for what is shown and heard for this use today. What stands around it was looked at for the
        excerpt's own use: a second tick is for no other."""
        rows = excerpts.ticks(self.reading.connection, self.row.wording_sha256)
        ticks = [Tick(r.excerpt_id, r.shown_sha256, r.by, r.at, r.second) for r in rows if not r.second or use == self.row.use]
        return standing(ticks, self.row.id, self.shown_sha256(use, margin_ms), self.hidden(use, margin_ms))


def decide_stretch(readings: Readings, stretch: Stretch, use: str, way: Way) -> Decision:
    """The decision for a stretch of a recording, without an exact wording."""
    reading = readings.of(stretch.recording_id)
    heard = reading.people_in(stretch.start_ms, stretch.end_ms)
    return reading.decide((stretch.start_ms, stretch.end_ms), heard, use, way, None)


def clear(
    connection: Connection, codes: Sequence[str], use: str, context: Context, collection: str, margin_ms: int,
    export_code: str,
) -> Clearing:  # fmt: skip
    """Decide each excerpt for this use and exhibition, with every reason. Reads only; unknown codes are refused like any other."""
    ask = _Ask(use, context, collection, margin_ms)
    quotes: list[ClearedQuote] = []
    insides: list[ClearedInside] = []
    clips: list[ClearedClip] = []
    items: list[Item] = []
    refused: list[Refusal] = []
    withheld: list[str] = []
    voices: list[str] = []
    shown: set[str] = {collection, context.exhibition}
    readings = Readings(connection, context)
    inward = consent_rows.load_use(connection, use).inward
    for code in dict.fromkeys(codes):
        row = excerpts.by_code(connection, code)
        if row is None or row.set_aside_at is not None:
            refused.append(Refusal(code, ("There is no such excerpt.",)))
            continue
        if inward:
            refused.append(Refusal(code, (say.STAYS_IN,)))
            continue
        pinned = Pinned(readings, row)
        by_words = pinned.decide(use, Way.WORDS)
        if not by_words.allowed:
            refused.append(Refusal(code, tuple(explain(by_words))))
            continue
        if pinned.corrected():
            refused.append(Refusal(code, (say.SPEAKER_CORRECTED,)))
            continue
        if _panel_names(pinned):
            refused.append(Refusal(code, (say.PANEL_NAMES,)))
            continue
        item = len(quotes) + 1
        voice = pinned.voice(use)
        if voice.why_not:
            withheld.append(f"{code}: words only. {voice.why_not}")
        if voice.told:
            voices.append(f"{code}: {voice.told}")
        hearing = pinned.hearing(use, margin_ms)
        quote = _quote(pinned, item, hearing, ask)
        quotes.append(quote)
        insides.append(_inside(pinned, item, by_words, hearing))
        if voice.how != NOT_HEARD:
            clips.append(_clip(connection, pinned, item, quote, ask, voice))
        items += _items(pinned, item, by_words, voice.how)
        shown.add(quote.attribution)
        for stretch, _ in pinned.parts():
            shown.update(pinned.reading.shown_mentions(*stretch))
    export = ClearedExport(
        token=GATE_TOKEN, code=export_code, exhibition=context.exhibition, use=use, made_on=context.on,
        quotes=tuple(quotes), insides=tuple(insides), clips=tuple(clips),
        forbidden=forbidden_names(readings.names), allowed=tuple(sorted(s for s in shown if s)),
    )  # fmt: skip
    return Clearing(export, tuple(items), tuple(refused), tuple(withheld), tuple(voices), facts.consent_revision(connection))


def _panel_names(pinned: Pinned) -> bool:
    """Whether the panel's name, which stands beside the quote, holds a name that may not stand there: what another item
    of the export may say does not count, and what is hidden in this recording of people not on record does."""
    panel, reading = pinned.row.panel, pinned.reading
    if not panel:
        return False
    if reading.readings.forbidden.first_hit(panel) is not None:  # made once; what this item may say is looked at where it matters
        may = [pinned.attribution(), *(w for stretch, _ in pinned.parts() for w in reading.shown_mentions(*stretch))]
        if Matcher(forbidden_names(reading.names), may).first_hit(panel) is not None:
            return True
    if any(reading.readings.codes[p] in panel for p in pinned.people_hidden()):
        return True
    told = text_tokens(panel)
    for said in (text_tokens(reading.words_in(m.stretch)) for m in reading.mentions if m.person_id is None and not reading.shows(m)):
        if said and any(told[n : n + len(said)] == said for n in range(len(told))):
            return True
    return False


def _quote(pinned: Pinned, item: int, hearing: Hearing, ask: _Ask) -> ClearedQuote:
    return ClearedQuote(
        token=GATE_TOKEN, item=item, words=pinned.shown_words(), attribution=pinned.attribution(),
        source_line=source_line(pinned.reading.row.recorded_on, ask.collection),
        draft=bool(hearing.draft_reason), draft_reason=hearing.draft_reason, use=ask.use, panel=pinned.row.panel,
    )  # fmt: skip


def source_line(recorded_on: date | None, collection: str) -> str:
    """The year alone: a day could tell who was visited."""
    when = f", recorded in {recorded_on.year}" if recorded_on else ""
    return f"Oral history interview{when}. {collection}."


def _inside(pinned: Pinned, item: int, decision: Decision, hearing: Hearing) -> ClearedInside:
    """What the team may know beside a quote. About unnamed people it has a fresh label, and nothing that leads to them."""
    reading = pinned.reading
    codes = reading.readings.codes
    heard = {p.person_id: p.code for p in decision.duties.people}
    secret = {p for p in heard.keys() | {p for p in pinned.speakers() if p is not None} if pinned.unnamed(p)}
    called = dict.fromkeys(secret, f"unnamed speaker, item {item}")
    open_codes = {code for p, code in heard.items() if p not in secret}
    by_code = {code: called.get(p, code) for p, code in heard.items()}
    start_ms, end_ms = pinned.times() if not secret else (0, 0)
    return ClearedInside(
        token=GATE_TOKEN, item=item, excerpt_code=pinned.row.code, recording="" if secret else reading.row.code,
        start_ms=start_ms, end_ms=end_ms,
        speakers=tuple(dict.fromkeys("not assigned" if p is None else called.get(p, codes[p]) for p in pinned.speakers())),
        agreement_lines=tuple(line for line in decision.duties.agreements if line.partition(":")[0] in open_codes),
        conditions=tuple(
            f"{by_code[c.person_code]}: {c.words}" + (f" ({c.cites})" if c.person_code in open_codes else "")
            for c in decision.duties.conditions
        ),
        masks=sum(t.masked for t in mask_words(pinned.words(), pinned.masks())),
        recheck_on=None if secret else decision.recheck_on,  # the day somebody comes of age is their birthday
        heard_line=_heard_line(hearing), wording_sha256=pinned.row.wording_sha256, unnamed=bool(secret),
    )  # fmt: skip


def _heard_line(hearing: Hearing) -> str:
    if hearing.first is None:
        return hearing.draft_reason
    line = f"Heard against the sound by {hearing.first.by} on {hearing.first.at[:10]}"
    line += f", and by {hearing.second.by} on {hearing.second.at[:10]}." if hearing.second is not None else "."
    return " ".join(part for part in (line, hearing.draft_reason) if part)


def _clip(
    connection: Connection, pinned: Pinned, item: int, quote: ClearedQuote, ask: _Ask, voice: Voice
) -> ClearedClip:  # fmt: skip
    if voice.read is not None:
        return _read_aloud(pinned, item, quote, voice.read)
    master = recordings.master_of(connection, pinned.reading.recording_id)
    pieces, mutes = pinned.pieces(), pinned.muted(ask.margin_ms)
    caption = ClearedCaption(
        token=GATE_TOKEN, item=item, speaker=quote.attribution, words=_caption_words(pinned, pieces), draft=quote.draft
    )
    return ClearedClip(
        token=GATE_TOKEN, item=item, master_sha256=master.sha256, extension=master.extension, track=master.track, channels=(),
        pieces=tuple(PlayStretch(s, e) for s, e in pieces), mutes=tuple(PlayStretch(s, e) for s, e in mutes),
        caption=caption, draft=quote.draft, disguised=voice.how == DISGUISED, language=pinned.reading.row.language,
        voice=voice_key(pinned.decide(ask.use, Way.VOICE)),
    )  # fmt: skip


def _read_aloud(pinned: Pinned, item: int, quote: ClearedQuote, read: Row[Any]) -> ClearedClip:
    """The clip of a reading: all of it, with the shown words spread over its speech."""
    caption = ClearedCaption(
        token=GATE_TOKEN, item=item, speaker=quote.attribution, words=spread(_caption_words(pinned, pinned.pieces()), read.speech_ms),
        draft=quote.draft, read_by=read.credit,
    )  # fmt: skip
    return ClearedClip(
        token=GATE_TOKEN, item=item, master_sha256=read.master_sha256, extension=read.extension, channels=(),
        pieces=(PlayStretch(0, read.duration_ms),), mutes=(), caption=caption, draft=quote.draft,
        language=pinned.reading.row.language, read_by=read.credit,
    )  # fmt: skip


def _merged(pieces: Iterable[tuple[int, int]]) -> list[tuple[int, int]]:
    """Pieces in the order of the quote; those that touch become one, so that sound and words run on together."""
    merged: list[tuple[int, int]] = []
    for start_ms, end_ms in pieces:
        if merged and merged[-1][0] <= start_ms <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(merged[-1][1], end_ms))
        else:
            merged.append((start_ms, end_ms))
    return merged


def _caption_words(pinned: Pinned, pieces: Sequence[tuple[int, int]]) -> tuple[tuple[str, int, int], ...]:
    """The words on the clip's own clock, masks in place: piece by piece, so that no mask reaches over what was left out."""
    found: list[tuple[str, int, int]] = []
    placed = [(n, w) for w in pinned.words() for n in [next((n for n, (s, e) in enumerate(pieces) if s <= w.start_ms < e), None)] if n is not None]
    for n, words in groupby(placed, itemgetter(0)):
        start_ms, end_ms = pieces[n]
        offset = sum(e - s for s, e in pieces[:n]) - start_ms
        for token in mask_words([w for _, w in words], pinned.masks(), instead=pinned.reading.instead()):
            found.append((token.text, offset + token.start_ms, offset + min(token.end_ms, end_ms)))
    return tuple(found)


def _items(pinned: Pinned, item: int, decision: Decision, how: str) -> list[Item]:
    digest = pinned.mask_digest()
    return [
        Item(
            item, pinned.row.id, p.person_id, pinned.row.wording_sha256, digest, p.attribution.value,
            voice=how not in (NOT_HEARD, READ), how_heard=how,
        )  # fmt: skip
        for p in decision.duties.people
    ]


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


__all__ = ["Clearing", "Item", "Pinned", "Refusal", "clear", "decide_stretch", "source_line", "wording_of"]
