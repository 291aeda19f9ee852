"""Where a mis-hearing stands and what is put in its place. The sentences are ours; the mis-hearings at the end are the real engine's.

Metaphone and Jaro-Winkler are jellyfish's and rapidfuzz's own; the thresholds are those of rules/likeness.py (a project choice).
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive.domain.editing import Line, replaced
from archive.domain.values import Word
from archive.errors import BadInput
from archive.rules.spelled import Misheard, instead, is_name, pair, run_together

ROOT = Path(__file__).resolve().parents[2]


def words(text: str) -> list[Word]:
    return [Word(t, n * 400, n * 400 + 320, 0.5) for n, t in enumerate(text.split())]


def found(wrong: str, right: str, said: str, *, alike: bool = True) -> list[tuple[str, str]]:
    """(what is said, what it becomes); "~" before what only sounds like it."""
    spoken = words(said)
    return [
        ("~" * h.alike + " ".join(w.text for w in spoken[h.first : h.last + 1]), " ".join(instead(spoken, h.first, h.last, right)))
        for h in Misheard(wrong, right).hits(spoken, alike=alike)
    ]  # fmt: skip


@pytest.mark.parametrize(("wrong", "right", "said", "wanted"), [
    ("Canery", "Cannery", "the Canery, “Canery's” and the Cannery", [("Canery,", "Cannery,"), ("“Canery's”", "“Cannery's”")]),
    ("Canery", "Cannery", "the Canary and Kanery sing in a cannon", [("~Canary", "Cannery"), ("~Kanery", "Cannery")]),
    ("the Zero Throne", "Peter Lund", "It was the Zero Throne’s boat", [("the Zero Throne’s", "Peter Lund’s")]),
    ("Net Roe", "Net Row", "on Net-Roe and Netroe, not Net Row", [("Net-Roe", "Net Row"), ("~Netroe,", "Net Row,")]),
    ("Row", "Net Row", "on Net Row and on Row.", [("Row.", "Net Row.")]),
    ("net row", "Net Row", "on net row and Net Row", [("net row", "Net Row")]),
    ("hirath", "hiraeth", "Hirath it is. [cy: hirath] and [hirath?]", [("Hirath", "Hiraeth"), ("[cy:", "hiraeth:"), ("hirath]", "hiraeth]"), ("[hirath?]", "hiraeth")]),
    ("Zero Throne", "Lund", "That was Zero. Throne he called it", []),
    ("Wolf", "Wharf", "the Wolf-hound and a wolf", [("wolf", "Wharf")]),
    ("the canery", "the cannery", "past the canary. The canery shut", [("~the canary.", "the cannery."), ("The canery", "The cannery")]),
])  # fmt: skip
def test_what_is_found_and_what_it_becomes(wrong: str, right: str, said: str, wanted: list[tuple[str, str]]) -> None:
    if "[cy: hirath]" in said:  # brackets hold together in a transcript
        spoken = [Word(t, n * 400, n * 400 + 320) for n, t in enumerate(["Hirath", "it", "is.", "[cy: hirath]", "and", "[hirath?]"])]
        hits = Misheard(wrong, right).hits(spoken)
        assert [instead(spoken, h.first, h.last, right) for h in hits] == [["Hiraeth"], ["[cy: hiraeth]"], ["hiraeth"]]
    else:
        assert found(wrong, right, said) == wanted


@pytest.mark.parametrize(("before", "after", "wanted"), [
    ("the Zero Throne's", "Peter Lund's", ("the Zero Throne", "Peter Lund")), ("Canery,", "Cannery.", ("Canery", "Cannery")),
    ("row", "Row", ("row", "Row")), ("cat.", "cat", None), ("", "cat", None), ("cat", "", None), ("a b c d e f g", "x", None),
    ("[Tandie?]", "Tandy", ("Tandie", "Tandy")), ("[laughter]", "Tandy", None),
])  # fmt: skip
def test_what_a_typed_change_says(before: str, after: str, wanted: tuple[str, str] | None) -> None:
    assert pair(before, after) == wanted


def test_a_name_has_the_capitals_of_one() -> None:
    assert is_name("Net Row") and is_name("Cannery") and not is_name("The") and not is_name("the boat") and is_name("the Duchess")


SAID = st.lists(st.sampled_from(["a", "of", "Canery", "Canery's", "rain,", "row"]), min_size=1, max_size=12)


@given(SAID, st.sampled_from(["Cannery", "Cannery Wharf", "old Cannery Wharf Road"]), st.data())
def test_no_word_changes_but_those_that_were_chosen(said: list[str], right: str, data: st.DataObject) -> None:
    spoken = tuple(words(" ".join(said)))
    line = Line(7, 1, 0, spoken[-1].end_ms, words=spoken)
    hits = Misheard("Canery", right).hits(spoken)
    chosen = sorted(data.draw(st.sets(st.sampled_from(hits)) if hits else st.just(set())), key=lambda h: h.first)
    (new,) = replaced(line, [(h.first, h.last, instead(spoken, h.first, h.last, right)) for h in chosen], "E-01", 60_000)
    mine = {h.first for h in chosen}
    assert [w for w in new.words if w in spoken] == [w for n, w in enumerate(spoken) if n not in mine]
    assert len(new.words) == len(spoken) + len(chosen) * (len(right.split()) - 1)
    assert all(a.end_ms <= b.start_ms and b.end_ms - b.start_ms >= 20 for a, b in zip(new.words, new.words[1:], strict=False))


def test_words_that_are_not_there_are_refused() -> None:
    line = Line(7, 1, 0, 720, words=tuple(words("a b")))
    for runs in ([(0, 2, ["x"])], [(1, 0, ["x"])], [(1, 1, ["x"]), (0, 0, ["y"])], [(0, 0, [])]):
        with pytest.raises(BadInput):
            replaced(line, runs, "E-01", 60_000)


def test_one_mishearing_of_the_real_engine_leads_to_the_others() -> None:
    """sample_media/places.csv and people.csv list what the engine made of names in the samples: looking for one finds half of
    the others (the rest are mostly of another name of the same place), and hardly any of 246 innocent words (each place is heard by a person before anything is changed)."""
    innocent = words((ROOT / "tests/rules/innocent_words.txt").read_text(encoding="utf-8"))
    led = asked = strange = 0
    for sheet, column in (("places.csv", "name"), ("people.csv", "full")):
        with open(ROOT / "sample_media" / sheet, encoding="utf-8", newline="") as rows:
            for row in csv.DictReader(rows):
                heard = [t for t in row["heard_as"].split(";") if t]
                for wrong in heard:
                    misheard = Misheard(wrong, row[column])
                    others = [t for t in heard if run_together(t) != run_together(wrong)]
                    led += sum(any(h.alike for h in misheard.hits(words(t), alike=True)) for t in others)
                    asked += len(others)
                    strange += len(misheard.hits(innocent, alike=True))
    assert led >= 0.5 * asked > 0, (led, asked)
    assert strange <= 3, strange
