"""The second door: something leaves. Decides every excerpt anew and builds the only values that render/ accepts.

Called twice for each export: before anything is made, and again in the transaction that writes the register.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate, groupby, pairwise
from operator import itemgetter
from typing import Any

from archive.db import consent_rows, excerpts, facts, recordings
from archive.db.session import Connection, Row
from archive.domain import reasons as say
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
from archive.domain.hearing import Hearing
from archive.domain.marks import parts
from archive.domain.masking import mask_words, merge
from archive.domain.quoting import OMISSION
from archive.domain.translating import Shows
from archive.domain.values import Role, Stretch, Way
from archive.gate.pinned import Pinned, source_line
from archive.gate.reading import Context, Readings
from archive.gate.surroundings import around_all, draft_reason, hearing_of
from archive.gate.titles import export_names, named_in
from archive.gate.translated import may_stand
from archive.gate.voices import DISGUISED, NOT_HEARD, READ, Voice, spread, voice_key

EXCERPT = re.compile(r"EX-\d{1,9}", re.ASCII)


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
    recording_ids: set[int] = set()
    readings = Readings(connection, context)
    around = around_all(readings, collection, margin_ms)
    inward = consent_rows.load_use(connection, use).inward
    for number, code in enumerate(dict.fromkeys(codes), 1):
        row = excerpts.by_code(connection, code)
        if row is None or row.set_aside_at is not None:
            typed = code if EXCERPT.fullmatch(code) else f"excerpt {number} of those named"  # anything may have been typed, a name too
            refused.append(Refusal(typed, ("There is no such excerpt.",)))
            continue
        if inward:
            refused.append(Refusal(code, (say.STAYS_IN,)))
            continue
        pinned = Pinned(readings, row)
        by_words = pinned.decide(use, Way.WORDS)
        why_not = _why_not(pinned, by_words)
        if why_not:
            refused.append(Refusal(code, why_not))
            continue
        item = len(quotes) + 1
        voice = pinned.voice(use)
        if voice.why_not:
            withheld.append(f"{code}: words only. {voice.why_not}")
        if voice.told:
            voices.append(f"{code}: {voice.told}")
        hearing = hearing_of(pinned, use, around)
        quote = _quote(pinned, item, hearing, ask)
        quotes.append(quote)
        recording_ids.add(row.recording_id)
        insides.append(_inside(pinned, item, by_words, hearing))
        if voice.how != NOT_HEARD:
            clips.append(_clip(connection, pinned, item, quote, ask, voice))
        items += _items(pinned, item, by_words, voice.how)
        shown |= {quote.attribution, *_with_translation(pinned)}
        for stretch, _ in pinned.parts():
            shown.update(pinned.reading.shown_mentions(*stretch))
    export = ClearedExport(
        token=GATE_TOKEN, code=export_code, exhibition=context.exhibition, use=use, made_on=context.on,
        quotes=tuple(quotes), insides=tuple(insides), clips=tuple(clips),
        forbidden=export_names(readings, recording_ids), allowed=tuple(sorted(s for s in shown if s)),
    )  # fmt: skip
    return Clearing(export, tuple(items), tuple(refused), tuple(withheld), tuple(voices), facts.consent_revision(connection))


def _why_not(pinned: Pinned, by_words: Decision) -> tuple[str, ...]:
    """Why an excerpt does not leave, in sentences; () where it does."""
    if not by_words.allowed:
        return tuple(explain(by_words, Role.EDITOR))  # kept with the job, which the whole team reads
    if pinned.corrected():
        return (say.SPEAKER_CORRECTED,)
    if pinned.later and holds_names(pinned, pinned.later):
        return (say.LATER_NAMES,)
    return pinned.why_not_translated() or ((say.PANEL_NAMES,) if pinned.row.panel and holds_names(pinned, pinned.row.panel) else ())


def _with_translation(pinned: Pinned) -> set[str]:
    """What a translation lets stand: who made it, and names that stand in the original."""
    if pinned.translation is None:
        return set()
    return {pinned.translated_by(), *(name for row in pinned.translation.rows for name in may_stand(pinned.today, row))}


def holds_names(pinned: Pinned, text: str) -> bool:
    """Whether words that stand with the quote or in its place (its panel's name, the speaker's later wording) hold a name that may not
    stand there: what another item of the export may say does not count."""
    reading = pinned.reading
    may = [pinned.attribution(), *(w for stretch, _ in pinned.parts() for w in reading.shown_mentions(*stretch))]
    return bool(named_in(reading, text, may)) or any(reading.readings.codes[p] in text for p in pinned.people_hidden())


def _quote(pinned: Pinned, item: int, hearing: Hearing, ask: _Ask) -> ClearedQuote:
    reason, other = draft_reason(pinned, hearing), pinned.translation
    return ClearedQuote(
        token=GATE_TOKEN, item=item, words=pinned.shown_words(), attribution=pinned.attribution(),
        source_line=source_line(pinned.reading.row.recorded_on, ask.collection),
        draft=bool(reason), draft_reason=reason, use=ask.use, panel=pinned.row.panel, language=pinned.language(), shows=pinned.row.shows,
        translation=other.text if other is not None else "", translation_language=other.language if other is not None else "",
        translated=pinned.translated_by(), dated=pinned.dated,
    )  # fmt: skip


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
        # Who signed for somebody is told on their page alone.
        agreement_lines=tuple(line.partition(", signed by their ")[0] for line in decision.duties.agreements if line.partition(":")[0] in open_codes),
        conditions=tuple(
            f"{by_code[c.person_code]}: {c.words}" + (f" ({c.cites})" if c.person_code in open_codes else "")
            for c in decision.duties.conditions
        ),
        masks=sum(t.masked for t in mask_words(pinned.words(), pinned.masks())),
        recheck_on=None if secret else decision.recheck_on,  # the day somebody comes of age is their birthday
        heard_line=_heard_line(hearing, draft_reason(pinned, hearing)), wording_sha256=pinned.wording, unnamed=bool(secret),
    )  # fmt: skip


def _heard_line(hearing: Hearing, reason: str) -> str:
    if hearing.first is None:
        return reason
    line = f"Heard against the sound by {hearing.first.who} on {hearing.first.at[:10]}"
    line += f", and by {hearing.second.who} on {hearing.second.at[:10]}." if hearing.second is not None else "."
    return " ".join(part for part in (line, reason) if part)


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
        caption=caption, draft=quote.draft, disguised=voice.how == DISGUISED, language=pinned.language(),
        voice=voice_key(pinned.decide(ask.use, Way.VOICE)), shown=_captions(quote, caption, pieces),
    )  # fmt: skip


def _captions(quote: ClearedQuote, said: ClearedCaption, pieces: Sequence[tuple[int, int]] = ()) -> tuple[ClearedCaption, ...]:
    """The captions that are given: what is said, its translation spread over the same speech, or both. `pieces`: what the clip plays,
    ms of the recording; where these are as many as the translations, each is spread over its own."""
    if not quote.translation:
        return (said,)
    texts = quote.translation.split(f" {OMISSION} ")
    speech = merge([(start_ms, end_ms) for _, start_ms, end_ms in said.words])
    ends = [0, *accumulate(end_ms - start_ms for start_ms, end_ms in pieces)]
    if len(texts) == len(pieces):
        each = [(text, [(max(s, a), min(e, b)) for s, e in speech if s < b and a < e]) for text, (a, b) in zip(texts, pairwise(ends), strict=True)]
    else:
        each = [(" ".join(texts), list(speech))]
    words = tuple(token for text, its_own in each for token in spread([(word, 0, 0) for word in parts(text)], its_own))
    other = ClearedCaption(
        token=GATE_TOKEN, item=quote.item, speaker=said.speaker, words=words, draft=said.draft, read_by=said.read_by,
        language=quote.translation_language, translated=quote.translated,
    )  # fmt: skip
    return (other,) if quote.shows == Shows.TRANSLATION else (said, other)


def _read_aloud(pinned: Pinned, item: int, quote: ClearedQuote, read: Row[Any]) -> ClearedClip:
    """The clip of a reading: all of it, with the shown words spread over its speech."""
    caption = ClearedCaption(
        token=GATE_TOKEN, item=item, speaker=quote.attribution, words=spread(_caption_words(pinned, pinned.pieces()), read.speech_ms),
        draft=quote.draft, read_by=read.credit,
    )  # fmt: skip
    return ClearedClip(
        token=GATE_TOKEN, item=item, master_sha256=read.master_sha256, extension=read.extension, channels=(),
        pieces=(PlayStretch(0, read.duration_ms),), mutes=(), caption=caption, draft=quote.draft,
        language=pinned.language(), read_by=read.credit, shown=_captions(quote, caption),
    )  # fmt: skip


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
            item, pinned.row.id, p.person_id, pinned.wording, digest, p.attribution.value,
            voice=how not in (NOT_HEARD, READ), how_heard=how,
        )  # fmt: skip
        for p in decision.duties.people
    ]


__all__ = ["Clearing", "Item", "Refusal", "clear", "decide_stretch", "holds_names"]
