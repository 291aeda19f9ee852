"""Translations as a viewer may read them, as they are found, and as they leave. A part of all three doors.

A translation is readable only where all of its original is. Whoever reads names reads it whatever stands in it; for everybody else, and
for what leaves, it is held back where anything that is hidden in the original is not hidden in it too.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from archive.db import accounts, people, translations
from archive.db.session import Row
from archive.domain.agreements import TEAM
from archive.domain.attribution import WITHHELD, attribution_line
from archive.domain.cleared import GATE_TOKEN, ShownTranslation
from archive.domain.languages import name
from archive.domain.letters import without_possessive
from archive.domain.masking import BRACKETED, MASK, mask_words, under_masks
from archive.domain.phrases import TRANSLATION_STATES, day, many
from archive.domain.quoting import OMISSION, text_tokens
from archive.domain.translating import MAY_BE_FINAL, count_masks, in_place, original_sha256
from archive.domain.values import Attribution, Role, Stretch, Viewer, Way, Word
from archive.errors import BadInput, Refused
from archive.gate.reading import Reading, Readings, called
from archive.gate.titles import named_in

A_NAME = "A name that is hidden, or that may not stand beside this recording, stands in the translation. Write [name withheld] there."
NEWLY_HIDDEN = "Something is hidden in the original today that was not when this was written. Read it against the original, and save it again."
MASKS = "The original hides something in {places}, the translation in {here}. Write [name withheld] wherever the original does."


@dataclass(frozen=True, slots=True)
class InPieces:
    """The translations that a quote is shown in: one for each run of its words, with […] where words are left out between two."""

    rows: tuple[Row[Any], ...]

    @property
    def text(self) -> str:
        """Their words, as a visitor reads them."""
        return f" {OMISSION} ".join(row.text for row in self.rows)

    @property
    def language(self) -> str:
        """The language of all of them, as a tag."""
        return str(self.rows[0].language)

    @property
    def translators(self) -> tuple[str, ...]:
        """Who translated, each once."""
        return tuple(dict.fromkeys(row.translator for row in self.rows))

    @property
    def final(self) -> bool:
        """True where a second speaker of the language checked every one, or the speaker agreed to it."""
        return all(row.state in MAY_BE_FINAL for row in self.rows)

    @property
    def marked(self) -> list[str]:
        """What of them goes into a checksum of what a reader reads."""
        return [part for row in self.rows for part in (row.language, row.text, row.translator)]


def show_translations(readings: Readings, viewer: Viewer, recording_id: int, outline: bool = False) -> tuple[ShownTranslation, ...]:
    """The translations of a recording that this viewer may read, in time order. `outline`: nothing else of it is asked, so that their
    words alone are read."""
    if outline:
        readings.in_outline(recording_id)
    reading = readings.of(recording_id)
    found = (shown(reading, viewer, row) for row in translations.current(readings.connection, [recording_id]))
    return tuple(one for one in found if one is not None)


def show_one(readings: Readings, viewer: Viewer, row: Row[Any]) -> ShownTranslation | None:
    """One translation, or None where this viewer may not read it."""
    return shown(readings.of(row.recording_id), viewer, row)


def shown(reading: Reading, viewer: Viewer, row: Row[Any]) -> ShownTranslation | None:
    """One translation, or None where this viewer may not read it. The reading has to hold all of its stretch."""
    stretch = (row.start_ms, row.end_ms)
    reading.read_words([stretch])
    if not reading.judge(stretch, people_of(reading, row), TEAM, Way.WORDS, viewer).allowed:
        return None
    held_back = trouble(reading, row)
    if viewer.role == Role.READER and (held_back or changed(reading, row)):  # a name may have gone out of the original
        return None
    return ShownTranslation(
        token=GATE_TOKEN, code=row.code, language=row.language, language_name=name(row.language), text=row.text,
        translator=translator(reading.readings, row.translator, viewer), state=row.state, state_words=_state(reading.readings, row, viewer),
        start_ms=row.start_ms, end_ms=row.end_ms, changed=changed(reading, row), held_back=held_back,
    )  # fmt: skip


def people_of(reading: Reading, row: Row[Any]) -> frozenset[int]:
    """Whose words a translation is of: everybody heard in its stretch; everybody who took part where other words stand there today."""
    heard = reading.people_in(row.start_ms, row.end_ms)
    return heard | frozenset(reading.roles) if changed(reading, row) else heard


def _state(readings: Readings, row: Row[Any], viewer: Viewer) -> str:
    told = TRANSLATION_STATES[row.state]
    return f"{told} ({translator(readings, row.by, viewer)}, {day(row.at)})" if row.state in MAY_BE_FINAL else told


def translator(readings: Readings, who: str, viewer: Viewer | None) -> str:
    """What to call a translator: somebody on record as they wish, an account by its name, but where it is a name that may not be read.
    `viewer` None: in what leaves."""
    row = people.by_code(readings.connection, who)
    if row is None:
        reads_names = viewer is not None and viewer.role != Role.READER
        return who if reads_names or readings.matcher.first_hit(who, any_case=True) is None else WITHHELD
    (standing,) = readings.standings_of([row.id])
    on = readings.context.on
    held = any(r.holds_on(on) and r.use is None and r.way is None and r.recording_id is None and r.interview_id is None for r in standing.restraints)
    names, wish = readings.names.get(row.id, []), Attribution.UNNAMED if held else standing.wish_on(on).attribution
    return called(names, wish, who, viewer) if viewer is not None else attribution_line(names, wish)


def is_known(readings: Readings, who: str) -> bool:
    """True for an account, or the code of somebody on record: nobody else can be named as a translator."""
    return accounts.by_name(readings.connection, who) is not None or people.by_code(readings.connection, who) is not None


def changed(reading: Reading, row: Row[Any]) -> bool:
    """True where the original has other words today than those that were translated."""
    return bool(row.original_sha256 != original_sha256(reading.said.spoken(row.start_ms, row.end_ms)))


def trouble(reading: Reading, row: Row[Any]) -> str:
    """Why nobody but who reads names may read it, in a sentence with what to do; "" where everybody may."""
    stretch = (row.start_ms, row.end_ms)
    said = [w for u in reading.overlapping(*stretch) for w in u.words if w.start_ms < row.end_ms and row.start_ms < w.end_ms]
    missing = masks_missing(row, hidden_in(reading, said), reading) or newly_hidden(row, hidden_places(reading, *stretch))
    return missing or named(reading, row)


def named(reading: Reading, row: Row[Any]) -> str:
    """In a sentence that a name stands in a translation which may not; "" where none does."""
    words, stand = row.text.split(), [_tokens(name) for name in _standing(reading, row)]
    found = [_tokens(" ".join(words[first : last + 1])) for first, last in named_in(reading, row.text, may_stand(reading, row))]
    return A_NAME if any(not any(_within(part, whole) for whole in stand) for part in found) else ""


def newly_hidden(row: Row[Any], hidden: Iterable[int]) -> str:
    """In a sentence that words are hidden (their numbers in the original) which were not when these words were typed; "" where none are.
    Counting alone would let one mask stand for another name."""
    return NEWLY_HIDDEN if row.hidden is not None and not set(hidden) <= set(row.hidden) else ""


def hidden_places(reading: Reading, start_ms: int, end_ms: int) -> list[int]:
    """The numbers of the words that are hidden among those of a stretch."""
    said = [reading.said.words[n] for n in reading.said.touched(start_ms, end_ms)]
    return hidden_numbers(reading, said)


def hidden_numbers(reading: Reading, said: Sequence[Word]) -> list[int]:
    """The numbers of those of these words that are hidden."""
    return [n for n, hit in enumerate(under_masks(said, reading.masks())) if hit]


def masks_missing(row: Row[Any], hidden: int, reading: Reading) -> str:
    """In a sentence that a translation withholds less than its original, which hides something in so many places; "" where it does not."""
    here = count_masks(row.text, reading.instead().values())
    return MASKS.format(places=many(hidden, "place"), here=many(here, "place")) if here < hidden else ""


def hidden_in(reading: Reading, said: Iterable[Word]) -> int:
    """In how many places something is hidden in these words."""
    return sum(token.masked for token in mask_words(list(said), reading.masks()))


def may_stand(reading: Reading, row: Row[Any]) -> list[str]:
    """Names that stand in the original for everybody to read, as the last scan lets them stand in its translation."""
    return [*reading.shown_mentions(row.start_ms, row.end_ms), *in_place(row.text, _standing(reading, row))]


def _standing(reading: Reading, row: Row[Any]) -> list[str]:
    """Names as they are said in the original, of those that everybody reads there."""
    there = reading.shown_mentions(row.start_ms, row.end_ms)
    said = (reading.words_in(m.stretch) for m in reading.mentions if m.stretch.start_ms < row.end_ms and row.start_ms < m.stretch.end_ms and reading.shows(m))
    return [name for name in said if any(name in standing for standing in there)]


def _tokens(text: str) -> list[str]:
    return [without_possessive(t) for t in text_tokens(text)]


def _within(part: Sequence[str], whole: Sequence[str]) -> bool:
    return any(list(whole[n : n + len(part)]) == list(part) for n in range(len(whole) - len(part) + 1))


# -- finding -----------------------------------------------------------------------------------------------------------
def texts_to_find(reading: Reading, rows: Iterable[Row[Any]]) -> tuple[list[str], list[str]]:
    """(for who reads names, for everybody else): the texts of these translations as they are looked for. Whatever stands in brackets
    is found by nobody, as in a transcript."""
    full, everybody = [], []
    for row in rows:
        text = BRACKETED.sub(MASK, row.text)
        full.append(text)
        if not trouble(reading, row) and not changed(reading, row):
            everybody.append(text)
    return full, everybody


def home_of(reading: Reading, row: Row[Any], units: Collection[tuple[int, int]]) -> tuple[int, int] | None:
    """The find unit (ms) under which a translation is found: of those it lies in, the one with most of it that is open to nobody
    who may not read all of the translation. None: it is not found, since no unit is as closed as it is."""
    heard = people_of(reading, row)
    fit = []
    for start_ms, end_ms in units:
        shared = min(end_ms, row.end_ms) - max(start_ms, row.start_ms)
        both = (min(start_ms, row.start_ms), max(end_ms, row.end_ms))
        cut = any(both[0] < edge < both[1] for edge in reading.edges)
        if shared > 0 and not cut and heard <= reading.people_in(start_ms, end_ms):
            fit.append((shared, -start_ms, (start_ms, end_ms)))
    return max(fit)[2] if fit else None


# -- writing -----------------------------------------------------------------------------------------------------------
def stretch_to_translate(
    readings: Readings, viewer: Viewer, recording_id: int, start_ms: int, end_ms: int
) -> tuple[Stretch, str, str, list[int]]:  # fmt: skip
    """(the stretch rounded outwards to whole words, what is said there with its masks, a checksum of it, which of its words are hidden). Raises BadInput where nothing is
    said, Refused where any of it is closed to this viewer."""
    reading = readings.of(recording_id)
    said = [reading.said.words[n] for n in reading.said.touched(start_ms, end_ms)]
    if not said:
        raise BadInput("Nothing is said there.", "Choose words of the transcript.")
    stretch = Stretch(recording_id, min(w.start_ms for w in said), max(w.end_ms for w in said))
    around = (stretch.start_ms, stretch.end_ms)
    if not reading.judge(around, reading.people_in(*around), TEAM, Way.WORDS, viewer).allowed:
        raise Refused("Something is closed here.", (), "It can be translated when it is open again.")
    told = " ".join(t.text for t in mask_words(said, reading.masks(), instead=reading.instead()))
    return stretch, told, original_sha256(reading.said.spoken(*around)), hidden_places(reading, *around)
