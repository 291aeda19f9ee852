"""Names that hold for a time or in a language, as people write them in one cell: “Netgate [nl] [1850/1910]”. Pure."""

from __future__ import annotations

import re
from dataclasses import dataclass

from archive.domain import languages
from archive.domain.dates import validate
from archive.errors import BadInput

_IN_BRACKETS = re.compile(r"\[([^\[\]]*)\]")
_WHOLE = re.compile(r"([^\[\]]*)((?:\[[^\[\]]*\]\s*)*)")
_A_DATE = re.compile(r"[0-9./]")
MOST_LETTERS = 120


@dataclass(frozen=True, slots=True)
class Named:
    """A name. `edtf`: when it is called so, "" at any time; `language`: its tag, "" where nobody said."""

    text: str
    edtf: str = ""
    language: str = ""


def read_named(cell: str) -> Named:
    """A name with what stands in square brackets behind it: a date of EDTF, a language. Raises BadInput."""
    match = _WHOLE.fullmatch(cell.strip())
    name = " ".join(match[1].split()) if match else ""
    if match is None or not name or len(name) > MOST_LETTERS:
        raise BadInput(
            f"“{cell[:60]}” cannot be read as a name.",
            f"Write a name of up to {MOST_LETTERS} letters, and behind it in square brackets when it was called so or in which language: Netgate [nl] [1850/1910].",
        )
    edtf = language = ""
    for inside in (text.strip() for text in _IN_BRACKETS.findall(match[2])):
        if _A_DATE.match(inside):
            edtf, twice = validate(inside), bool(edtf)
        else:
            language, twice = _language(inside), bool(language)
        if twice:
            raise BadInput(f"“{name}” has two dates or two languages.", "Keep one of each in square brackets.")
    return Named(name, edtf, language)


def _language(inside: str) -> str:
    """The language in square brackets, by its tag or its whole English name: a note ("[before the war]") is none. Raises BadInput."""
    found = languages.tag(inside)
    if inside.casefold() not in (found.casefold(), languages.name(found).casefold()):
        raise BadInput(f"“{inside[:40]}” in square brackets is neither a date nor a language.", "Write a date (1850/1910, ../1974) or a language (nl, Dutch).")
    return found


def written(named: Named) -> str:
    """The name as `read_named` reads it."""
    return " ".join([named.text, *(f"[{part}]" for part in (named.language, named.edtf) if part)])


@dataclass(frozen=True, slots=True)
class PlaceEntry:
    """A place as the gazetteer has it. `also`: other names; `within`: the places it lies in, each with its time; `valid_from`, `valid_until`:
    EDTF of the name, "" where open; `not_heard`: what sounds like it and is something else."""

    number: int
    name: str
    kind: str = ""
    language: str = ""
    also: tuple[Named, ...] = ()
    heard_as: tuple[str, ...] = ()
    within: tuple[Named, ...] = ()
    valid_from: str = ""
    valid_until: str = ""
    same_as: str = ""
    x_m: int | None = None
    y_m: int | None = None
    latitude: float | None = None
    longitude: float | None = None
    not_heard: tuple[str, ...] = ()

    @property
    def span(self) -> str:
        """When it bore this name, as EDTF; "" at any time."""
        if not self.valid_from and not self.valid_until:
            return ""
        return f"{self.valid_from.partition('/')[0] or '..'}/{self.valid_until.rpartition('/')[2] or '..'}"


COLUMNS = ("name", "kind", "within", "also", "heard_as", "from", "until", "same_as", "x_m", "y_m", "latitude", "longitude", "language")


def cells(entry: PlaceEntry) -> dict[str, str]:
    """A place as a row of places.csv."""
    numbers = {name: "" if (value := getattr(entry, name)) is None else f"{value}" for name in ("x_m", "y_m", "latitude", "longitude")}
    return {
        "name": entry.name, "kind": entry.kind, "within": "; ".join(map(written, entry.within)), "also": "; ".join(map(written, entry.also)),
        "heard_as": "; ".join(entry.heard_as), "from": entry.valid_from, "until": entry.valid_until, "same_as": entry.same_as,
        **numbers, "language": entry.language,
    }  # fmt: skip
