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
            language, twice = languages.tag(inside), bool(language)
        if twice:
            raise BadInput(f"“{name}” has two dates or two languages.", "Keep one of each in square brackets.")
    return Named(name, edtf, language)


def written(named: Named) -> str:
    """The name as `read_named` reads it."""
    return " ".join([named.text, *(f"[{part}]" for part in (named.language, named.edtf) if part)])
