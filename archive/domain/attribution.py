"""How somebody is called in what leaves, and which of their names may then appear nowhere. Pure."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from typing import NamedTuple

from archive.domain.values import Attribution, Scan

WITHHELD = "Name withheld"

# Which kinds of a person's names may appear under which wish. "heard_as" follows what it stands for: in full only.
_SHOWN: dict[Attribution, frozenset[str]] = {
    Attribution.FULL: frozenset({"full", "first", "family", "nick", "initials", "heard_as"}),
    Attribution.FIRST: frozenset({"first"}),
    Attribution.INITIALS: frozenset({"initials"}),
    Attribution.PSEUDONYM: frozenset({"pseudonym"}),
    Attribution.UNNAMED: frozenset(),
}
_LINE_KIND = {
    Attribution.FULL: "full",
    Attribution.FIRST: "first",
    Attribution.INITIALS: "initials",
    Attribution.PSEUDONYM: "pseudonym",
}


# Words before a name that name nobody; from memory.
_TITLES = frozenset(
    {
        "old", "young", "mr", "mrs", "miss", "ms", "mx", "dr", "doctor", "prof", "professor", "sir", "lady", "lord", "father",
        "mother", "brother", "sister", "rev", "reverend", "pastor", "captain", "constable", "sergeant", "inspector", "uncle",
        "aunt", "auntie", "granny", "grandad", "the", "van", "von", "der", "den", "de", "du", "la", "le", "da", "dos", "del",
    }
)  # fmt: skip


class PersonName(NamedTuple):
    """One name of a person: as written, its kind (full first family nick initials heard_as pseudonym), and the scan."""

    text: str
    kind: str
    scan: Scan = Scan.ALWAYS


def attribution_line(names: Iterable[PersonName], wish: Attribution) -> str:
    """The line under a quote: "Maud Ellery", "Dot", "A. C.", “Ruta”; "Name withheld" where unnamed or not on record.

    A first name is never guessed from a full one (in many languages the family name stands first); initials are.
    """
    known = tuple(names)
    kind = _LINE_KIND.get(wish)
    line = next((n.text.strip() for n in known if n.kind == kind and n.text.strip()), "")
    if not line and wish == Attribution.INITIALS:
        line = _initials(known)
    if not line:
        return WITHHELD
    # In quotation marks, so that a visitor does not take an invented name for a real one.
    return f"“{line}”" if wish == Attribution.PSEUDONYM else line


def shown_names(names: Iterable[PersonName], wish: Attribution) -> frozenset[str]:
    """Texts that may appear in what leaves under this wish."""
    known = tuple(names)
    shown = {n.text for n in known if n.kind in _SHOWN[wish]}
    if wish in (Attribution.INITIALS, Attribution.FULL) and _initials(known):
        shown.add(_initials(known))
    return frozenset(shown)


def hidden_names(names: Iterable[PersonName], wish: Attribution) -> frozenset[tuple[str, Scan]]:
    """Names that may appear nowhere under this wish, each with how the scan takes it; "never" ones are left out.

    The parts of a full name are hidden with it, as names: a sheet that gives only "Lena Marsh" hides "Marsh" as well.
    """
    known = tuple(names)
    allowed = {_folded(text) for text in shown_names(known, wish)}
    hidden: dict[str, tuple[str, Scan]] = {}
    spelled = {_folded(n.text) for n in known}
    for name in known:
        if name.scan != Scan.NEVER and _folded(name.text) not in allowed:
            key = _folded(name.text)
            if key not in hidden or name.scan == Scan.ALWAYS:  # the stricter of two ways to look for one text
                hidden[key] = (name.text, name.scan)
    for part in (p for n in known if n.kind == "full" and n.scan != Scan.NEVER for p in name_parts(n.text)):
        if _folded(part) not in allowed | spelled:
            hidden.setdefault(_folded(part), (part, Scan.AS_NAME))
    if wish == Attribution.FULL:  # named in full, nothing of the real name is hidden; a pseudonym used elsewhere is
        hidden = {k: v for k, v in hidden.items() if any(n.kind == "pseudonym" and _folded(n.text) == k for n in known)}
    return frozenset(hidden.values())


def name_parts(full: str) -> list[str]:
    """The parts of a full name that name somebody by themselves: no titles, no "van", no single letters."""
    parts = [p for p in full.split() if len(p) > 1 and p[0].isupper() and not p.endswith(".")]
    return [p for p in parts if _folded(p) not in _TITLES]


def _initials(names: Iterable[PersonName]) -> str:
    on_record = [n for n in names if n.kind == "initials"]
    if on_record:
        return on_record[0].text.strip()
    full = next((n.text for n in names if n.kind == "full"), "")
    return " ".join(f"{letter}." for letter in (part[0] for part in full.split()) if letter.isupper())


def _folded(text: str) -> str:
    return unicodedata.normalize("NFC", text).casefold().strip()
