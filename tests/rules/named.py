"""The truth of names_said.csv, and how suggestions are measured against it: for the test and for the benchmark."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import dataclass, field
from difflib import SequenceMatcher
from pathlib import Path

from archive.domain.letters import folded
from archive.domain.values import Word
from archive.rules.calendar import Event
from archive.rules.data.people_words import BEFORE_TITLE, TITLES
from archive.rules.names import PersonNames
from archive.rules.places import Gazetteer, Place
from archive.rules.pointing import Pointers
from archive.rules.spoken import tokens

SAMPLES = Path(__file__).resolve().parents[2] / "sample_media"
TRUTH = Path(__file__).with_name("names_said.csv")
MINUTES = 22.2  # of the samples, from sample_media/ABOUT.md
_KINDS = ("full", "first", "family", "nick", "initials", "heard_as", "pseudonym")
_SIGNS = ".,;:!?\"“”‘’'"
_LEADING = TITLES | BEFORE_TITLE | {"the", "a", "an"}


@dataclass
class Measured:
    """What came out: how many are to be found, which were missed, which suggestions nobody is named by."""

    said: int = 0
    missed: list[str] = field(default_factory=list)
    false: list[str] = field(default_factory=list)
    right_person: int = 0
    right_kind: int = 0

    @property
    def recall(self) -> float:
        return 1 - len(self.missed) / self.said if self.said else 0.0


def rows_of(path: Path) -> list[dict[str, str]]:
    with open(path, encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(line for line in stream if not line.startswith("#")))


def truth() -> list[dict[str, str]]:
    return rows_of(TRUTH)


def pointers_of_samples() -> tuple[Pointers, dict[int, str]]:
    """From the sheets of the samples, with the code of every person id."""
    codes, known = {}, []
    for number, row in enumerate(rows_of(SAMPLES / "people.csv"), 1):
        codes[number] = row["code"]
        texts = [(t.strip(), kind) for kind in _KINDS for t in row[kind].split(";") if t.strip()]
        known.append(PersonNames(number, tuple((t, k, "never" if k == "pseudonym" else row["scan"]) for t, k in texts)))
    places = [
        Place(r["name"], r["kind"], r["within"], tuple(filter(None, r["also"].split(";"))), tuple(filter(None, r["heard_as"].split(";"))))
        for r in rows_of(SAMPLES / "places.csv")
    ]
    words = [r["name"] for r in rows_of(SAMPLES / "events.csv")] + [r["words"] for r in rows_of(SAMPLES / "themes.csv")]
    return Pointers(known, Gazetteer.of(places), [*words, "Marigold"]), codes


def events_of_samples() -> list[Event]:
    """The calendar of the samples."""
    return [Event(r["name"], r["edtf"], tuple(filter(None, r["also"].split(";")))) for r in rows_of(SAMPLES / "events.csv")]


def scripts() -> dict[str, list[list[str]]]:
    """script → the words of each of its rows."""
    return {p.stem: [r["words"].split() for r in rows_of(p)] for p in sorted((SAMPLES / "scripts").glob("*.csv"))}


def spans(row: Sequence[str], wanted: Sequence[dict[str, str]]) -> list[tuple[int, int, dict[str, str]]]:
    """Where the truths of one row stand in its words: (first, last, truth)."""
    said = ["".join(t.text for t in tokens([Word(w, 0, 20)])) for w in row]
    taken: set[tuple[int, int]] = set()
    found = []
    for one in wanted:
        asked = ["".join(t.text for t in tokens([Word(w, 0, 20)])) for w in one["words"].split()]
        starts = [n for n in range(len(said)) if said[n : n + len(asked)] == asked and all(not (a <= n <= b) for a, b in taken)]
        assert starts, f"{one} does not stand in its row"
        taken.add((starts[0], starts[0] + len(asked) - 1))
        found.append((starts[0], starts[0] + len(asked) - 1, one))
    return found


def pointing_words(row: Sequence[str], first: int, last: int) -> set[int]:
    """The words of a truth that must be covered: all but titles and articles in front."""
    while first < last and folded(row[first]).strip(".,") in _LEADING:
        first += 1
    return set(range(first, last + 1))


def against_truth(made: tuple[Pointers, dict[int, str]]) -> Measured:
    """Suggestions on the scripts' own words, a recording at a time."""
    result = Measured()
    for script, rows in scripts().items():
        every = [w for row in rows for w in row]
        against_script(result, script, [Word(w, n * 300, n * 300 + 250) for n, w in enumerate(every)], *made)
    return result


def against_script(result: Measured, script: str, words: Sequence[Word], pointers: Pointers, codes: dict[int, str]) -> None:
    """Suggestions on these words of a script, as they were written or as an engine heard them, added to `result`."""
    rows = scripts()[script]
    heard_at = _heard_at([w for row in rows for w in row], [w.text for w in words])
    suggested = pointers.suggest(words)
    covered = {n for p in suggested for n in range(p.first, p.last + 1)}
    true: set[int] = set()
    offset = 0
    for number, row in enumerate(rows, 1):
        wanted = [t for t in truth() if t["script"] == script and t["row"] == str(number)]
        for first, last, one in spans(row, wanted):
            result.said += 1
            true |= {h for n in range(first, last + 1) for h in heard_at[offset + n]}
            need = {h for n in pointing_words(row, first, last) for h in heard_at[offset + n]}
            if not need <= covered:
                result.missed.append(f"{script}.{number} {one['words']} (heard: {' '.join(words[n].text for n in sorted(need))})")
            own = [p for p in suggested if need & set(range(p.first, p.last + 1))]
            result.right_person += not one["person"] or any(codes.get(p.person_id or 0) == one["person"] for p in own)
            result.right_kind += any(p.kind == one["kind"] for p in own)
        offset += len(row)
    for p in suggested:
        if true.isdisjoint(range(p.first, p.last + 1)):
            result.false.append(f"{script}: {' '.join(w.text for w in words[p.first : p.last + 1])} ({p.rule})")


def _heard_at(said: Sequence[str], heard: Sequence[str]) -> list[set[int]]:
    """For each word of a script the words in which it was heard: the same one, or those between the same neighbours."""
    a, b = [folded(w).strip(_SIGNS) for w in said], [folded(w).strip(_SIGNS) for w in heard]
    found: list[set[int]] = [set() for _ in said]
    for tag, i1, i2, j1, j2 in SequenceMatcher(None, a, b, autojunk=False).get_opcodes():
        for i in range(i1, i2):
            found[i] = {j1 + i - i1} if tag == "equal" or i2 - i1 == j2 - j1 else set(range(j1, j2))
    return found
