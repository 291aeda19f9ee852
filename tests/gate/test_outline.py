"""A page that has some of the words shows them, and everything beside them, as a page that has all of them would."""

from __future__ import annotations

from dataclasses import replace

import pytest

from archive.app import Archive, LineAct
from archive.domain import passages
from archive.domain.values import Viewer
from archive.errors import Clash, NotFound
from tests import cast
from tests.gate.conftest import AddInterview

LINES = (
    ("N-21", "We carried the lamp down Net Row with Walter Brine and the rope was wet"),
    ("N-25", "They said Lena Fosse put the kettle on when the flood came"),
    (None, "and nobody knew who it was"),
    ("N-25", "My mother never spoke of the winter of 1962 at all"),
    ("N-21", "Then the council closed the quay for good"),
    ("N-25", "It was Walter Brine who mended it in the night"),
    ("N-21", "And that was the end of the ferry"),
)  # fmt: skip
OPENED = replace(cast.KEEPER, opened=True)


@pytest.fixture
def whole(cast_archive: Archive, add_interview: AddInterview, monkeypatch: pytest.MonkeyPatch) -> str:
    """A recording in parts of some seconds, with names and a closed stretch that cuts a word, corrected once."""
    monkeypatch.setattr(passages, "PART_MS", 6000)
    at, lines = 500, []
    for speaker, text in LINES * 3:
        words = cast.words_of(text, at)
        lines.append((speaker, words))
        at = words[-1].end_ms + 200
    made = add_interview(cast_archive, 61, ["N-21:narrator", "N-25:narrator"], lines, "Walter Brine on the quay")
    cast_archive.consent.seal(cast.KEEPER, made, lines[4][1][2].start_ms + 150, lines[5][1][1].start_ms + 150, "asked for")
    key = cast_archive.correcting.lines(cast.EDITOR, made)[0][-1].key
    cast_archive.correcting.change(cast.EDITOR, made, LineAct("type", (key,), "And that was the very end of the ferry"), "mark-0001")
    cast_archive.correcting.finish(cast.EDITOR, made)
    return made


@pytest.fixture
def code(cast_archive: Archive, whole: str) -> str:
    """The same, and somebody withdrew a part of it."""
    cast_archive.consent.withdraw(cast.KEEPER, "N-25", how="letter", stretch=f"{whole}@0:40-0:46")
    return whole


def test_a_part_is_what_the_whole_has_there(cast_archive: Archive, code: str) -> None:
    for viewer in (*cast.VIEWERS, OPENED):
        _as_in_the_whole(cast_archive, code, viewer)


def _as_in_the_whole(cast_archive: Archive, code: str, viewer: Viewer) -> None:
    whole = cast_archive.recordings.page(viewer, code)
    assert len(whole.parts) > 4 and whole.read == range(len(whole.parts))
    for n, part in enumerate(whole.parts):
        page = cast_archive.recordings.page(viewer, code, part.start_ms)
        assert page.parts == whole.parts and page.read == range(n, n + 1) and page.shape == whole.shape
        bare = replace(page, shown=whole.shown, read=whole.read)
        assert bare == whole, "tags, closed stretches, the sound check, names that wait"
        assert _differing(page.shown, whole.shown) == []
        for at, (mine, its) in enumerate(zip(page.shown.utterances, whole.shown.utterances, strict=True)):
            if part.first <= at < part.last:
                assert mine == its
            else:
                assert (mine.utterance_id, mine.speaker, mine.start_ms, mine.end_ms, mine.closed) == (its.utterance_id, its.speaker, its.start_ms, its.end_ms, its.closed)
                assert mine.words == tuple(w for w in its.words if w.closed)
        assert cast_archive.recordings.part(viewer, code, page.shape, n) == whole.shown.utterances[part.first : part.last]
    assert cast_archive.recordings.heard(viewer, code).peaks == whole.shown.peaks


def _differing(one: object, other: object) -> list[str]:
    """What differs beside the utterances."""
    names = ("code", "title", "duration_ms", "playable", "peaks", "peak_ms", "version")
    return [name for name in names if getattr(one, name) != getattr(other, name)]


def test_a_part_of_other_words_is_not_mixed_in(cast_archive: Archive, whole: str) -> None:
    page = cast_archive.recordings.page(cast.EDITOR, whole, 0)
    with pytest.raises(NotFound, match="no such part"):
        cast_archive.recordings.part(cast.EDITOR, whole, page.shape, len(page.parts))
    first, second = page.shown.utterances[:2]
    cast_archive.recordings.assign(cast.EDITOR, whole, {first.utterance_id: "N-25"})
    (now, *_) = cast_archive.recordings.part(cast.EDITOR, whole, page.shape, 0)
    assert now.speaker_code == "N-25", "speakers that were assigned leave the utterances as they are"
    cast_archive.correcting.change(cast.EDITOR, whole, LineAct("join", (first.utterance_id, second.utterance_id)), "mark-0002")
    cast_archive.correcting.finish(cast.EDITOR, whole)
    with pytest.raises(Clash, match="another transcript"):
        cast_archive.recordings.part(cast.EDITOR, whole, page.shape, 0)


def test_all_that_waits_comes_so_many_at_a_time(cast_archive: Archive, code: str) -> None:
    whole = cast_archive.recordings.page(cast.EDITOR, code)
    assert whole.names_waiting > 3 and len(whole.tags) > 3
    names, tags = [], []
    for first in range(0, max(whole.names_waiting, len(whole.tags)), 3):
        some = cast_archive.recordings.waiting(cast.EDITOR, code, first, 3)
        assert (some.names_waiting, some.tags_count) == (whole.names_waiting, len(whole.tags))
        names, tags = [*names, *some.names], [*tags, *some.tags]
    assert tuple(names) == whole.names[: len(names)] and sorted(tags, key=lambda t: t.tag_id) == sorted(whole.tags, key=lambda t: t.tag_id)
    assert not cast_archive.recordings.page(cast.READER, code).names
