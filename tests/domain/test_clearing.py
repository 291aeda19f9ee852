"""When a card may be cleared: any one fact that is missing, and it may not. Common practice of the trade, no source; the words are the project's."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from archive.domain.clearing import (
    CAUTIONS,
    MAY,
    PIECE_MS,
    Card,
    CardFile,
    Part,
    may_be_cleared,
    missing,
    piece_of,
    told,
)
from archive.domain.disks import Answer

HEARD = frozenset(Part)
GOOD = CardFile("REC1.wav", "taken", "IV-21.1", copied=True, read_back=True, listened=HEARD)
files = st.builds(
    CardFile, st.sampled_from(["REC1.wav", "A/REC2.wav"]), st.sampled_from(["taken", "duplicate", "refused", "missing"]),
    st.sampled_from(["IV-21.1", ""]), st.booleans(), st.booleans(), st.sampled_from(["", "The file has changed since it came."]),
    st.frozensets(st.sampled_from(Part)),
)  # fmt: skip
cards = st.builds(Card, st.lists(files, max_size=4).map(tuple), st.booleans(), st.booleans(), st.sampled_from(Answer), st.booleans())
good_cards = st.builds(
    Card, st.lists(st.builds(replace, st.just(GOOD), outcome=st.sampled_from(["taken", "duplicate"])), min_size=1, max_size=5).map(tuple),
    st.just(True), st.just(True), st.just(Answer.YES), st.booleans(),
)  # fmt: skip


@given(cards)
def test_it_may_exactly_where_every_fact_is_there(card: Card) -> None:
    """The rule said a second time, from the issue's own sentence."""
    apart = card.other_disk == Answer.YES or (card.other_disk == Answer.UNKNOWN and card.said_other_disk)
    whole = all(
        f.outcome in ("taken", "duplicate") and f.recording and f.copied and f.read_back and not f.trouble and f.listened == HEARD for f in card.files
    )
    wanted = bool(card.files) and whole and card.second_place and card.there and apart
    assert may_be_cleared(card) == wanted
    assert (MAY in told(card)) == wanted, "these words stand there, or nothing like them"
    assert wanted or missing(card)


@given(good_cards, st.data())
def test_any_one_fact_that_is_missing_is_enough(card: Card, data: st.DataObject) -> None:
    assert may_be_cleared(card) and told(card).endswith("this card may be cleared.")
    worse_file = data.draw(st.sampled_from([
        {"outcome": "refused"}, {"outcome": "missing"}, {"recording": ""}, {"copied": False}, {"read_back": False}, {"trouble": "It has changed."},
        *({"listened": HEARD - {part}} for part in Part),
    ]))  # fmt: skip
    n = data.draw(st.integers(0, len(card.files) - 1))
    files = (*card.files[:n], replace(card.files[n], **worse_file), *card.files[n + 1 :])
    worse_card = data.draw(st.sampled_from([{"files": ()}, {"second_place": False}, {"there": False}, {"other_disk": Answer.NO}]))
    for worse in (replace(card, files=files), replace(card, **worse_card)):
        assert not may_be_cleared(worse) and MAY not in " ".join((told(worse), *missing(worse)))


def test_who_says_it_is_another_disk_is_not_believed_against_the_computer() -> None:
    card = Card((GOOD,), True, True, Answer.NO, said_other_disk=True)
    assert "one physical disk" in missing(card)[0]
    assert may_be_cleared(replace(card, other_disk=Answer.UNKNOWN))
    assert "could not find out" in missing(replace(card, other_disk=Answer.UNKNOWN, said_other_disk=False))[0]


def test_deleting_is_not_wiping_is_always_said() -> None:
    assert "Deleting a card is not wiping it" in CAUTIONS[0]


@given(st.integers(1, 10**8))
def test_start_middle_and_end_lie_in_the_recording(duration_ms: int) -> None:
    pieces = [piece_of(part, duration_ms) for part in Part]
    assert all(0 <= s < e <= duration_ms and e - s == min(PIECE_MS, duration_ms) for s, e in pieces)
    assert pieces[0][0] == 0 and pieces[2][1] == duration_ms
