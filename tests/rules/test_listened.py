"""What is heard in a finished clip against its captions. Sentences invented; spellings as the engine wrote them on the samples.

Outside check: none exists for "words that the captions do not have"; the alignment is compared with jiwer's on random word lists.
"""

from __future__ import annotations

import jiwer
import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive.domain.cleared import ForbiddenName
from archive.domain.values import Word
from archive.gate.scan import matcher_for
from archive.rules.listened import A_NAME, EXTRA, IN_A_MUTE, OTHER_WORDS, Clip, Overheard, on_clip_clock, overheard

NAMES = ("Walter Brine", "Walter", "Brine", "Lena Fosse", "Lena", "Fosse")
MASKED = "[name withheld]"
SAID = "We carried the lantern down Net Row in 1968 and [name withheld] held the rope for us"


def timed(text: str, mask_words: int = 2) -> tuple[tuple[str, int, int], ...]:
    """Caption words of 400 ms; a mask lasts as long as a name of two words."""
    found, at = [], 500
    for part in text.replace("[name withheld]", "[name_withheld]").split():
        length = 400 * mask_words if part.startswith("[") else 400
        found.append((part.replace("_", " "), at, at + length - 80))
        at += length
    return tuple(found)


def spoken(text: str, start_ms: int = 500) -> list[Word]:
    return [Word(t, start_ms + n * 400, start_ms + n * 400 + 320, 0.9) for n, t in enumerate(text.split())]


def listen(captions: str, heard: list[Word], mutes: tuple[tuple[int, int], ...] = (), names: tuple[str, ...] = NAMES, **how: bool) -> list[Overheard]:
    places = matcher_for([ForbiddenName(n) for n in names]).places
    return overheard(Clip(timed(captions), mutes, **how), heard, names, places)


def with_hole(before: str, after: str, hole: str = "- -") -> list[Word]:
    """Words with as much silence between them as `hole` has words."""
    words = spoken(f"{before} {hole} {after}")
    return [w for w in words if w.text != "-"]


FAITHFUL = [
    (SAID, "We carried the lantern down net row in 1968 and", "held the rope for us."),
    (SAID, "We carried a lantern down Netrow in 1968, and", "held the rope for us"),
    (SAID, "We carried the lanterns down that row in 68 and", "held a rope for us"),
    ("Lund's Yard, we always said, [name withheld] was my grandfather", "Lunsyard, we always said,", "was my grandfather."),
    ("Arthur Bell kept the bread shop on Ropewalk and [name withheld] came", "Arthur Bell kept the bread shop on rope walk and", "came"),
    ("They moved us up to Coldharbour in 1970 [name withheld]", "They moved us up to Cold Harbor in 1970,", ""),
]


@pytest.mark.parametrize(("captions", "before", "after"), FAITHFUL)
def test_what_the_engine_only_writes_otherwise_is_no_finding(captions: str, before: str, after: str) -> None:
    assert listen(captions, with_hole(before, after)) == []


def test_a_name_to_be_hidden_is_found_wherever_it_is_heard() -> None:
    for heard in ("We carried the lantern down Net Row in 1968 and Walter Brine held the rope for us", "Walter Brine carried the lantern"):
        found = listen(SAID, spoken(heard))
        assert A_NAME in {f.what for f in found}
    (first, *_) = listen("We carried the lantern down", spoken("We carried the Walter lantern down"))
    assert first == Overheard(1700, A_NAME), "with its time on the clip's own clock"


@pytest.mark.parametrize("heard", ["Bryne", "Brian", "Brines", "Walder", "Fossey", "Voss", "lanterns"])
def test_what_sounds_like_a_hidden_name_counts_beside_a_mask_and_not_elsewhere(heard: str) -> None:
    """By ear: the engine mis-hears names most of all. Another word is another word."""
    words = with_hole(f"down Net Row in 1968 and {heard}", "held the rope for us", "-")
    beside = listen("down Net Row in 1968 and [name withheld] held the rope for us", words)
    assert (A_NAME in {f.what for f in beside}) is (heard != "lanterns")
    far = listen("down Net Row in 1968 and held the rope for us", [*spoken("down Net Row in 1968 and held the rope"), *spoken(heard, 3700), *spoken("for us", 4100)])
    assert far == [] or heard == "Brines", "one strange word elsewhere is the engine's"


def test_anything_that_the_captions_do_not_have_counts_inside_a_mute() -> None:
    words = with_hole("We carried the lantern down Net Row in 1968 and", "held the rope for us", "eater -")
    assert [f.what for f in listen(SAID, words)] == [IN_A_MUTE]
    assert [f.what for f in listen("he held the rope", spoken("he held all the rope"), ((1200, 1700),))] == [IN_A_MUTE]
    assert listen("he held the rope", spoken("he held all the rope")) == []


@pytest.mark.parametrize(("extra", "refused"), [("", False), ("oh", False), ("oh well", False), ("he was drunk", True), ("and then I saw him run", True)])
def test_three_words_in_a_row_that_the_captions_do_not_have(extra: str, refused: bool) -> None:
    for at in ("{} We carried the lantern down Net Row", "We carried the {} lantern down Net Row", "We carried the lantern down Net Row {}"):
        found = listen("We carried the lantern down Net Row", spoken(at.format(extra)))
        assert [f.what for f in found] == ([EXTRA] if refused else [])


def test_an_and_in_between_does_not_hide_what_is_extra() -> None:
    found = listen("I had a baby and one good coat", spoken("I had a wife and another baby and one good coat"))
    assert [f.what for f in found] == [EXTRA]


def test_a_disguised_voice_may_be_misheard_more_but_no_name() -> None:
    heard = "We carried the lantern he was drunk down Net Row"
    assert listen("We carried the lantern down Net Row", spoken(heard), disguised=True) == []
    named = listen("We carried the lantern down Net Row", spoken("We carried the lantern Brine down Net Row"), disguised=True)
    assert [f.what for f in named] == [A_NAME]


def test_a_reading_may_say_its_masks_and_must_say_its_words() -> None:
    assert listen(SAID, spoken("We carried the lantern down Net Row in 1968 and name withheld held the rope for us"), is_reading=True) == []
    assert OTHER_WORDS in {f.what for f in listen(SAID, [], is_reading=True)}
    assert OTHER_WORDS in {f.what for f in listen(SAID, spoken("Something else altogether was read here"), is_reading=True)}


def test_a_name_that_the_captions_have_too_is_the_last_scans_to_judge() -> None:
    assert listen("Walter held the rope", spoken("Walter held the rope")) == []


def test_stretches_on_the_clock_of_a_clip() -> None:
    pieces = [(10_000, 12_000), (20_000, 25_000)]
    assert on_clip_clock(pieces, [(11_500, 12_500), (19_000, 20_400), (24_000, 24_500), (1, 2)]) == [
        (1500, 2000), (2000, 2400), (6000, 6500),
    ]  # fmt: skip


LETTERS = st.sampled_from(["lantern", "rope", "river", "ferry", "window", "kitchen", "winter", "constable", "ticket", "garden"])


@given(st.lists(LETTERS, min_size=1, max_size=12), st.integers(0, 12), st.lists(st.sampled_from(["hzq", "wvx", "kpj"]), min_size=3, max_size=3))
def test_as_many_extra_words_as_jiwer_inserts(said: list[str], at: int, extra: list[str]) -> None:
    """jiwer 4 as reference: words put in between are insertions there, and a finding here; without them there is none of either."""
    heard = [*said[:at], *extra, *said[at:]]
    assert jiwer.process_words(" ".join(said), " ".join(heard)).insertions == 3
    assert [f.what for f in listen(" ".join(said), spoken(" ".join(heard)), names=())] == [EXTRA]
    assert listen(" ".join(said), spoken(" ".join(said)), names=()) == []


def test_fifteen_minutes_of_words_take_no_time() -> None:
    """2,500 words and 2,500 others: quadratic work on all of them would take minutes."""
    words = [f"word{n % 97}" for n in range(2500)]
    assert listen(" ".join(words), spoken(" ".join(words))) == []
    assert EXTRA in {f.what for f in listen(" ".join(words), spoken(" ".join(f"other{n}" for n in range(2500))))}
