"""What a transcript writes beside spoken words, in the trade's usual brackets (common practice, no source). Pure.

`[inaudible 3 s]`, `[laughter]`, `[pause 4 s]` and a few more (SOUNDS) are no words; `[Tandy?]` is a word that a person is unsure of;
`[cy: hiraeth]` is a word in another language (BCP 47 tag). What else stands in brackets counts as words, so that no name hides there.
The text of a word is its data: nothing else is stored, and `spoken` and `kind` read it.
"""

from __future__ import annotations

import re
from enum import StrEnum

from archive.domain.letters import folded
from archive.errors import BadInput

GAP = "\ue000"  # what an inaudible stretch is compared by: a letter that nobody types, so that no quote runs over it unmarked
_LENGTH = re.compile(r"\s+\d+(?:\.\d+)?\s*s(?:ec(?:onds?)?)?\.?$", re.IGNORECASE)
_BRACKETS = re.compile(r"\[([^\[\]]*)\]")
_TAGGED = re.compile(r"([a-z]{2,3}(?:-[A-Za-z0-9]{2,8})*):\s*(.*)", re.DOTALL)
_WRITTEN = re.compile(r"(?:[^\s\[\]]|\[[^\[\]]*\])+|[\[\]]\S*")
_LASTING = ("inaudible", "pause")
SOUNDS = frozenset({
    "applause", "bell", "breathes", "clears throat", "coughs", "crying", "door", "laughs", "laughter", "music", "noise", "pause",
    "sighs", "silence", "singing", "telephone", "weeps", "whispers", "whistles",
})  # fmt: skip
_OURS = frozenset({"closed", "gap", "name withheld", "…", "..."})  # what the archive itself writes in brackets


class Kind(StrEnum):
    """What stands in a word's place."""

    WORD = "word"
    UNSURE = "unsure"
    OTHER_LANGUAGE = "other language"
    INAUDIBLE = "inaudible"
    SOUND = "sound"


def kind(text: str) -> Kind:
    """What a word of a transcript is."""
    return _read(text)[0]


def spoken(text: str) -> str:
    """The spoken part of a word as written, with the punctuation around it; "" for sounds, a sign that nobody types for what is inaudible."""
    if "[" not in text:
        return text
    what, inside, lead, trail = _read(text)
    if what == Kind.SOUND:
        return lead + trail
    return GAP if what == Kind.INAUDIBLE else lead + inside + trail


def language(text: str) -> str:
    """The language tag of a word in another language; "" for all others."""
    found = _BRACKETS.search(text)
    tagged = _TAGGED.fullmatch(found[1]) if found else None
    return tagged[1] if tagged else ""


def shown(text: str) -> str:
    """A word as it is read: the tag of another language is data, and not read out."""
    if "[" not in text or kind(text) != Kind.OTHER_LANGUAGE:
        return text
    return spoken(text)


def written_words(text: str) -> list[str]:
    """Typed text as words: brackets hold together, and what they say of several words is said of each.

    Raises BadInput for brackets that only the archive itself writes ("[name withheld]").
    """
    return [word for part in parts(text) for word in _each(part)]


def parts(text: str) -> list[str]:
    """A text parted at its blanks, but for those inside brackets."""
    return _WRITTEN.findall(" ".join(text.split())) if "[" in text else text.split()


def lasting(text: str, length_ms: int) -> str:
    """An inaudible stretch or a pause with its whole seconds, as long as it turned out; any other word as it is."""
    found = _BRACKETS.fullmatch(text)
    name = _LENGTH.sub("", found[1]).strip().casefold() if found else ""
    return f"[{name} {max(1, round(length_ms / 1000))} s]" if name in _LASTING else text


def _read(text: str) -> tuple[Kind, str, str, str]:
    """(kind, what is inside, signs before, signs after)."""
    found = _BRACKETS.search(text)
    if found is None:
        return Kind.WORD, text, "", ""
    lead, inside, trail = text[: found.start()], found[1].strip(), text[found.end() :]
    if any(c.isalnum() for c in lead + trail):
        return Kind.WORD, text.replace("[", "").replace("]", ""), "", ""  # "cann[er]y": a word with brackets in it
    tagged = _TAGGED.fullmatch(inside)
    if tagged is not None:
        return Kind.OTHER_LANGUAGE, tagged[2].strip(), lead, trail
    if inside.endswith("?") and any(c.isalnum() for c in inside):
        return Kind.UNSURE, inside[:-1].strip(), lead, trail
    said = _LENGTH.sub("", inside).casefold()
    if said == "inaudible":
        return Kind.INAUDIBLE, inside, lead, trail
    return (Kind.SOUND if said in SOUNDS else Kind.WORD), inside, lead, trail


def _each(part: str) -> list[str]:
    found = _BRACKETS.search(part)
    if found is not None and folded(" ".join(found[1].split())) in _OURS:
        raise BadInput(f"[{' '.join(found[1].split())}] is what the archive itself writes where something is not shown.", "Say it in other words; the rest of what you typed is kept.")
    what, inside, lead, trail = _read(part)
    if what not in (Kind.UNSURE, Kind.OTHER_LANGUAGE):
        return [part]
    tag = f"{language(part)}: " if what == Kind.OTHER_LANGUAGE else ""
    end = "?" if what == Kind.UNSURE else ""
    words = [f"[{tag}{word}{end}]" for word in inside.split()]
    if words:
        words[0], words[-1] = lead + words[0], words[-1] + trail
    return words
