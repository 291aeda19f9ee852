"""What an erasure takes of a recording, of words and of text: nothing of what must stay, everything of what must go."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive.domain.erasing import (
    Heard,
    digest_by,
    in_data,
    in_text,
    merged,
    moved,
    outside,
    runs,
    silent_but_for_others,
    tokens,
    touches,
    without,
)

LENGTH = 400
STRETCH = st.tuples(st.integers(0, LENGTH - 1), st.integers(1, 60)).map(lambda t: (t[0], min(LENGTH, t[0] + t[1])))
HEARD = st.lists(st.tuples(STRETCH, st.sampled_from([1, 2, 3, None])), max_size=12).map(lambda some: [Heard(*s, p) for s, p in some])


@given(HEARD, st.integers(0, 20))
def test_every_moment_is_silent_but_where_others_alone_speak(heard: list[Heard], beyond_ms: int) -> None:
    """Moment by moment, against the sentence of DESIGN §4, 3: who is not named counts as everybody, and so does nobody."""
    gone = silent_but_for_others(LENGTH, heard, 1, beyond_ms)
    for ms in range(LENGTH):
        mine = any(u.person_id == 1 and u.start_ms - beyond_ms <= ms < u.end_ms + beyond_ms for u in heard)
        others = any(u.person_id in (2, 3) and u.start_ms <= ms < u.end_ms for u in heard)
        assert any(s <= ms < e for s, e in gone) is (mine or not others), ms
    assert gone == merged(gone)


@given(st.lists(STRETCH, max_size=8), STRETCH)
def test_what_is_outside_and_what_is_gone_make_the_whole(gone: list[tuple[int, int]], whole: tuple[int, int]) -> None:
    left = outside(whole, gone)
    for ms in range(*whole):
        assert any(s <= ms < e for s, e in left) is not touches(ms, ms + 1, gone)


@given(st.integers(1, 12), st.lists(STRETCH, max_size=4), st.data())
def test_spans_follow_their_words_or_are_lost(count: int, gone: list[tuple[int, int]], data: st.DataObject) -> None:
    """An excerpt names the very same words afterwards, or none."""
    words = [[f"w{n}", n * 30, n * 30 + 20] for n in range(count)]
    kept, numbers = without(words, merged(gone))
    first = data.draw(st.integers(0, count - 1))
    last = data.draw(st.integers(first, count - 1))
    spans = moved([[7, first, last], [8, 0, 3]], {7: numbers})
    inside = words[first : last + 1]
    if any(touches(w[1], w[2], gone) for w in inside):
        assert spans is None
    else:
        assert spans is not None and spans[1] == [8, 0, 3] and kept[spans[0][1] : spans[0][2] + 1] == inside
    assert all(not touches(w[1], w[2], gone) for w in kept)


@pytest.mark.parametrize(
    ("written", "read"),
    [
        ('[["Wir", 500, 820, 0.9], ["gingen", 900, 1220, 0.9]]', ["wir", "gingen"]),
        ('["caf\\u00e9", 1]', ["cafe"]), ("CAFÉ cafe\u0301", ["cafe", "cafe"]), ("don't 1974 §", ["don", "t"]), ("Łódź", ["łodz"]),
    ],
)  # fmt: skip
def test_words_are_read_out_of_raw_bytes_however_they_are_kept(written: str, read: list[str]) -> None:
    """JSON as Python writes it escapes all but ASCII (RFC 8259 §7); accents are two characters in NFD (Unicode Annex 15)."""
    assert tokens(written) == read


def test_ten_words_in_a_row_are_known_by_a_digest_with_a_salt() -> None:
    said = [f"w{'x' * n}" for n in range(12)]
    assert len(list(runs(said))) == 3 and list(runs(said[:9])) == []
    one, other = digest_by("00" * 16), digest_by("01" * 16)
    assert one(b"a") == one(b"a") != other(b"a") and len(one(b"a")) == 8


def test_names_are_taken_out_whole_words_alone() -> None:
    assert in_text("Reeve, REEVE and Reeves; Samuel Reeve.", ["Reeve", "Samuel Reeve"]) == "[erased], [erased] and Reeves; [erased]."
    assert in_data({"Reeve": ["Mr Reeve", 3, None]}, ["Reeve"]) == {"Reeve": ["Mr [erased]", 3, None]}
