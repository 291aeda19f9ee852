"""What may stand in nothing that leaves unless something lets it stand: names on record, and hidden names of people who are not."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from archive.domain.attribution import PersonName, hidden_names
from archive.domain.cleared import ForbiddenName
from archive.domain.masking import bearing
from archive.domain.values import Attribution, Naming, Scan
from archive.rules.proper import proper_names


@dataclass(frozen=True, slots=True)
class Hidden:
    """Words that are hidden for somebody who is not on record. `decided`: by a person; else nobody has decided yet."""

    said: str
    kind: Naming
    decided: bool


def forbidden_names(names: Mapping[int, list[PersonName]]) -> tuple[ForbiddenName, ...]:
    """Every name on record: none may stand in a file that leaves unless it is in `allowed`, whoever it belongs to."""
    found: dict[str, ForbiddenName] = {}
    for known in names.values():
        shown_anyway = {n.text for n in known if n.kind == "pseudonym"}
        for text, scan in hidden_names(known, Attribution.UNNAMED):
            if text not in shown_anyway:  # two people may share a name: the stricter way to look for it counts
                strict = scan == Scan.ALWAYS or (text in found and not found[text].as_name)
                found[text] = ForbiddenName(text, as_name=not strict)
    return tuple(found[key] for key in sorted(found))


def forbidden_words(hidden: Iterable[Hidden], places: Collection[str], *, here: bool = False) -> tuple[ForbiddenName, ...]:
    """The names proper among hidden words. `here`: to be looked for in what leaves together with their recording, where a
    given name alone is them; elsewhere others bear it too."""
    found: dict[str, ForbiddenName] = {}
    for one in hidden:
        for proper in proper_names(one.said, one.kind, places):
            if here or not proper.common:
                strict = proper.whole or (proper.text in found and not found[proper.text].as_name)
                found[proper.text] = ForbiddenName(proper.text, as_name=not strict)
    return tuple(found[key] for key in sorted(found))


def as_said(hidden: Iterable[Hidden]) -> tuple[ForbiddenName, ...]:
    """Hidden words as they were said, descriptions too: they may not stand right beside their recording, in its title or on its panel."""
    return tuple(ForbiddenName(said) for said in sorted({one.said for one in hidden}) if bearing(said))
