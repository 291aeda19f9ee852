"""Saved questions: what is new since somebody looked, by the times of passages; whose they are; what becomes of them.

Common practice, no source; that a withdrawal is not told as gone follows DESIGN §5 (what may not be found is not there).
"""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from archive.app import Archive, Asked
from archive.domain.values import Viewer
from archive.errors import BadInput, Clash, NotFound
from tests import cast
from tests.cast import EDITOR, KEEPER, READER
from tests.conftest import Opener


def saved(archive: Archive, viewer: Viewer, words: str, name: str = "Kept", team: bool = False) -> str:
    key = archive.finding.keep(viewer, Asked(words))
    archive.questions.save(viewer, key, name, team)
    return key


def new_of(archive: Archive, viewer: Viewer = EDITOR) -> list[int]:
    return [q.new for q in archive.questions.list(viewer)]


def another_recording(archive: Archive, folder: Path, text: str) -> None:
    """A second recording of Edith Quill's interview, taken in later."""
    media = folder / "later"
    media.mkdir()
    cast.sound(media / "later.wav", 1.5 + len(text.split()) * cast.WORD_MS / 1000, 90)
    rows = ["file,interview,part,recorded_on,title,language,microphones,left,right,participants,place", "later.wav,IV-21,2,2025-02-02,,en,one,,,N-21:narrator,"]
    (media / "recordings.csv").write_text("\n".join(rows), encoding="utf-8")
    archive.ingest.take(EDITOR, [media])
    cast.give_words(archive, "IV-21.2", [("N-21", cast.words_of(text))])


def test_new_is_what_came_since_somebody_looked(cast_archive: Archive, tmp_path: Path) -> None:
    key = saved(cast_archive, EDITOR, "lantern", team=True)
    assert new_of(cast_archive) == [0], "what stood there when it was saved was seen"
    assert new_of(cast_archive, KEEPER) == [1], "somebody else of the team has not looked yet"
    another_recording(cast_archive, tmp_path, "The lantern hung there for years after that")
    assert new_of(cast_archive) == [1]
    cast_archive.questions.look(EDITOR, key)
    news = cast_archive.questions.news(EDITOR, key)
    assert [h.recording for h in news.hits] == ["IV-21.2"] and news.total == 1 and new_of(cast_archive) == [0]
    cast_archive.questions.look(EDITOR, key)
    assert cast_archive.questions.news(EDITOR, key).total == 0


def test_other_words_in_the_same_place_are_not_new(cast_archive: Archive) -> None:
    """Corrected or heard again: the unit is another row of the index, its time is not new."""
    saved(cast_archive, EDITOR, "lantern")
    cast.give_words(cast_archive, "IV-21.1", [("N-21", cast.words_of(cast.QUOTES["N-21"].replace("rope", "cable")))])
    assert new_of(cast_archive) == [0] and cast_archive.questions.list(EDITOR)[0].total == 1


def test_a_withdrawal_is_not_told_as_gone_and_leaves_with_the_next_look(cast_archive: Archive) -> None:
    key = saved(cast_archive, EDITOR, "lantern or windlass")
    cast_archive.consent.withdraw(KEEPER, "N-21", how="letter")
    (row,) = cast_archive.questions.list(EDITOR)
    assert (row.total, row.new) == (1, 0) and "N-21" not in str(row) and "gone" not in str(row)
    cast_archive.questions.look(EDITOR, key)
    assert cast_archive.questions.news(EDITOR, key).total == 0
    with cast_archive.rooms.db.read() as connection:
        from archive.db import questions, recordings

        kept = questions.seen(connection, key, EDITOR.name)
        withdrawn = recordings.named(connection, "IV-21.1").id
    assert kept is not None and str(withdrawn) not in kept.seen, "not even its times are kept as seen any more"


def test_what_opens_by_itself_is_new(open_cast: Opener) -> None:
    """An embargo ends with a day; nothing is written to the index, and yet it became findable."""
    archive = open_cast()
    saved(archive, EDITOR, "capstan")
    assert archive.questions.list(EDITOR)[0].total == 0
    later = Archive.open(archive.folder, {}, lambda: cast.TODAY + timedelta(days=500))
    hold = next(h.id for h in later.people.page(KEEPER, "N-22").restraints if h.kind == "embargo")
    later.consent.lift(KEEPER, hold, "reviewed", reviewed=True)
    assert new_of(later) == [1]
    later.close()


def test_whose_they_are(cast_archive: Archive) -> None:
    """A question's words may hold a name: the team's are for keepers and editors, others for who saved them."""
    shared, own, readers = saved(cast_archive, EDITOR, "Walter Brine", "One", team=True), saved(cast_archive, EDITOR, "rope", "Two"), saved(cast_archive, READER, "rope", "Three", team=True)
    assert [q.name for q in cast_archive.questions.list(KEEPER)] == ["One"]
    assert [q.name for q in cast_archive.questions.list(EDITOR)] == ["One", "Two"]
    assert [(q.name, q.team) for q in cast_archive.questions.list(READER)] == [("Three", False)]
    assert cast_archive.finding.question(KEEPER, shared).words == "Walter Brine"
    for viewer, key in ((READER, shared), (KEEPER, own), (EDITOR, readers)):
        for act in (cast_archive.finding.question, cast_archive.questions.look, cast_archive.questions.news, cast_archive.questions.drop):
            with pytest.raises(NotFound):
                act(viewer, key)


def test_one_mechanism_an_unsaved_one_is_dropped_after_a_day(open_cast: Opener) -> None:
    archive = open_cast()
    passing, key = archive.finding.keep(EDITOR, Asked("rope")), saved(archive, EDITOR, "lantern")
    for act in (archive.questions.look, archive.questions.news):
        with pytest.raises(NotFound):
            act(EDITOR, passing)
    later = Archive.open(archive.folder, {}, lambda: cast.TODAY + timedelta(days=2))
    later.finding.keep(EDITOR, Asked("door"))
    assert later.finding.question(EDITOR, key).words == "lantern"
    with pytest.raises(NotFound):
        later.finding.question(EDITOR, passing)
    later.questions.drop(EDITOR, key)
    assert later.questions.list(EDITOR) == ()
    later.close()


def test_bad_input_and_a_question_that_cannot_be_asked_any_more(cast_archive: Archive) -> None:
    saved(cast_archive, EDITOR, "lantern", "Kept")
    key = cast_archive.finding.keep(EDITOR, Asked(place="Atlantis"))
    for name, error in (("", BadInput), ("x" * 81, BadInput), ("KEPT", Clash), ("New", NotFound)):
        with pytest.raises(error):
            cast_archive.questions.save(EDITOR, key, name)
    with cast_archive.rooms.db.write() as connection:
        from archive.db import questions

        questions.save(connection, key, "Of a place that had another name", False)
    row = next(q for q in cast_archive.questions.list(EDITOR) if q.new == -1)
    assert "no such place" in row.trouble and "Atlantis" not in row.trouble
