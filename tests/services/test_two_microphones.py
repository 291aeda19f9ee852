"""Find, where two microphones recorded the same speech: each hit says so, the consent of each is asked by itself."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest

from archive.app import Archive, Asked, as_json
from archive.db import consent_rows, origins, recordings
from archive.domain.values import RestraintKind, Stretch, Viewer
from archive.gate.indexing import index_recording
from tests import cast

SAID = "We hauled the tidegauge up the steps and read it by candle every night that winter"
LATER_MS = 2_000  # the second recorder was switched on so much later


@pytest.fixture
def archive(cast_archive: Archive, tmp_path: Path) -> Archive:
    card = tmp_path / "pair"
    card.mkdir()
    cast.sound(card / "near.wav", 12, 51)
    cast.sound(card / "far.wav", 10, 52)
    rows = ["file,interview,part,participants", "near.wav,IV-21,2,N-21:narrator", "far.wav,IV-21,3,N-21:narrator"]
    (card / "recordings.csv").write_text("\n".join(rows), encoding="utf-8")
    cast_archive.ingest.take(cast.EDITOR, [card])
    cast.give_words(cast_archive, "IV-21.2", [("N-21", cast.words_of(SAID, 3_000))])
    cast.give_words(cast_archive, "IV-21.3", [("N-21", cast.words_of(SAID, 3_000 - LATER_MS))])
    with cast_archive.rooms.db.write() as connection:
        near, far = (recordings.by_code(connection, code) for code in ("IV-21.2", "IV-21.3"))
        assert near is not None and far is not None
        origins.put_beside(connection, far.id, near.id, LATER_MS)
    return cast_archive


def close(archive: Archive, code: str, start_ms: int, end_ms: int) -> None:
    with archive.rooms.db.write() as connection:
        row = recordings.by_code(connection, code)
        assert row is not None
        consent_rows.add_restraint(
            connection, kind=RestraintKind.SEALED, stretch=Stretch(row.id, start_ms, end_ms), until_on=date(2040, 1, 1), from_on=cast.SIGNED, by="K-01", at=archive.rooms.now()
        )
        index_recording(connection, row.id, archive.rooms.context())


@pytest.mark.parametrize("viewer", [cast.EDITOR, cast.READER])
def test_both_are_counted_stand_together_and_say_so(archive: Archive, viewer: Viewer) -> None:
    found = archive.finding.ask(viewer, Asked("tidegauge"))
    assert found.total == 2 and {h.recording for h in found.hits} == {"IV-21.2", "IV-21.3"}
    for first, hit in enumerate(found.hits):
        (also,) = hit.also
        assert {hit.recording, also.recording} == {"IV-21.2", "IV-21.3"} and also.above == bool(first)
        assert also.at_ms - hit.start_ms == (LATER_MS if also.recording == "IV-21.2" else -LATER_MS), "the same moment on the other's clock"
    said = json.loads(as_json(found))["hits"][0]["also"]
    assert said[0]["recording"] == found.hits[1].recording


def test_what_one_may_not_hear_is_not_spoken_of_beside_the_other(archive: Archive) -> None:
    close(archive, "IV-21.3", 0, 10_000)
    for viewer in (cast.EDITOR, cast.READER):
        found = archive.finding.ask(viewer, Asked("tidegauge"))
        assert [(h.recording, h.also) for h in found.hits] == [("IV-21.2", ())] and found.total == 1
        assert "IV-21.3" not in str(found)


def test_another_moment_is_no_twin(archive: Archive) -> None:
    """The same word said at another time, and by somebody in a recording of their own."""
    cast.give_words(archive, "IV-21.3", [("N-21", cast.words_of("The tidegauge", 9_000))])
    assert [h.also for h in archive.finding.ask(cast.EDITOR, Asked("tidegauge")).hits] == [(), ()]
    assert all(h.also == () for h in archive.finding.ask(cast.EDITOR, Asked("the")).hits if h.recording not in ("IV-21.2", "IV-21.3"))
