"""Names in words that stand beside what is quoted or listed: titles, panels. And what the last scan looks for in an export."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from archive.domain.attribution import name_parts
from archive.domain.cleared import ForbiddenName
from archive.domain.letters import without_possessive
from archive.domain.quoting import text_tokens, word_tokens
from archive.domain.values import Word
from archive.gate.forbidden import as_said, forbidden_words
from archive.gate.reading import Reading, Readings
from archive.gate.scan_match import Matcher
from archive.gate.withheld import is_withheld


def export_names(readings: Readings, recording_ids: Iterable[int]) -> tuple[ForbiddenName, ...]:
    """What may stand in no file of an export of these recordings, unless what leaves lets it stand there."""
    here = [h for r in sorted(set(recording_ids)) for h in readings.hidden_here(r)]
    known = {n.text: n for n in forbidden_words(here, readings.places, here=True)}
    for name in readings.forbidden:  # of two ways to look for one text the stricter
        if name.text not in known or known[name.text].as_name:
            known[name.text] = name
    return tuple(known[key] for key in sorted(known))


def holds_a_name(readings: Readings, texts: Iterable[str]) -> bool:
    """True where a name on record, or a name or place that somebody decided to hide, stands in words that belong to no recording."""
    return any(is_withheld(readings, text, place=True) for text in texts)


def names_another(readings: Readings, texts: Iterable[str], may: Iterable[int], wordings: Iterable[str] = ()) -> bool:
    """True where a letter's words hold a name on record, or a hidden one, of anybody but those it is written to or about (`may`: their ids)."""
    theirs = [name for person_id in may for name in readings.names.get(person_id, [])]
    parts = [part for name in theirs if name.kind == "full" for part in name_parts(name.text)]
    matcher = Matcher(readings.forbidden, (*(name.text for name in theirs), *parts, *wordings))
    return any(matcher.first_hit(text) is not None for text in texts)


def named_in(reading: Reading, text: str, may: Sequence[str]) -> list[tuple[int, int]]:
    """(first, last) of the words of a title or panel that stand for a name which may not be read beside this recording.

    `may`: wordings that may, as the last scan is given them. Names on record are found as they are spoken too.
    """
    readings, words = reading.readings, text.split()
    hidden = readings.hidden_here(reading.recording_id)
    beside = [*as_said(hidden), *forbidden_words(hidden, readings.places, here=True)]
    spelled = [Word(word, n * 100, n * 100 + 50) for n, word in enumerate(words)]
    found = [(h.first, h.last) for h in readings.finder.find(spelled) if not _called_so(reading, h.person_id, spelled[h.first : h.last + 1])]
    if readings.matcher.first_hit(text) is None and Matcher(beside).first_hit(text) is None:
        return found  # most titles: made once, and nothing that may stand makes it find more
    known = Matcher(export_names(readings, [reading.recording_id]), may)
    return sorted({*found, *known.places(words), *Matcher(as_said(hidden)).places(words)})


def _called_so(reading: Reading, person_id: int, spelled: Sequence[Word]) -> bool:
    """True where somebody who takes part is called as they wish to be."""
    here = person_id in reading.roles and not reading.held(person_id)
    names = {t for n in reading.open_names(person_id) for t in text_tokens(n)} if here else set()
    return all(without_possessive(t) in names for w in spelled for t in word_tokens(w.text))
