"""What readers are not told by the ways of Find that count, narrow and compare: withheld names that places, themes and events bear, and
years of birth. Invented people; the rules are DESIGN section 4 (5) and DEVELOPERS.md."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from archive.app import Archive, Asked, PickedTag
from archive.db import mentions
from archive.db.recordings import by_code
from archive.domain.values import Decision, Naming, Stretch
from archive.errors import NotFound
from tests import cast
from tests.cast import EDITOR, KEEPER, READER
from tests.conftest import copy_of

PLACES = (
    "name,kind,within,also,heard_as,from,until,same_as,x_m,y_m,latitude,longitude,language\n"
    "Brine's Wharf,wharf,Lower Quay,the Salt Wharf,,,,,,,,,\nTallow Shed,shed,Brine's Wharf,,,,,,,,,,\n"
    "Old Slip,slip,Lower Quay,Brine's Slip,,,,,,,,,\nTobin's Yard,yard,,the Paddock,,,,,,,,,\nCorder Lodge,house,,the Tall Roof,,,,,,,,,\n"
)
LINES = {
    "N-29": "we mended the nets in Tallow Shed in 1971 and then went along Old Slip to see the boats come home",
    "N-26": "when I was ten the herring went away and my father sold the boat",
    "N-28": "they stacked barrels on the Salt Wharf in 1971 and the feud began there and we played in the Paddock and walked home under the Tall Roof",
    "N-27": "old Tobin kept the keys of Corder Lodge",
}


@pytest.fixture(scope="module")
def town(made_cast: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Archive]:
    folder = tmp_path_factory.mktemp("kept")
    archive = Archive.open(copy_of(made_cast, folder / "archive"), {}, cast.clock)
    (folder / "places.csv").write_text(PLACES, encoding="utf-8")
    (folder / "themes.csv").write_text("theme,broader,scope_note,words\nThe Walter Brine feud,,,feud\n", encoding="utf-8")
    (folder / "events.csv").write_text("name,edtf\nWalter Brine's funeral,1971\n", encoding="utf-8")
    archive.places.read(EDITOR, folder / "places.csv")
    archive.themes.read(EDITOR, folder / "themes.csv")
    archive.describing.read_events(EDITOR, folder / "events.csv")
    for code, line in LINES.items():
        cast.give_words(archive, cast.recording_of(code), [(code, cast.words_of(line))])
    yield archive
    archive.close()


def found(archive: Archive, viewer: cast.Viewer, words: str = "", **narrowed: object) -> set[str]:
    return {h.recording for h in archive.finding.ask(viewer, Asked(words, **narrowed), 200).hits}  # type: ignore[arg-type]


def test_a_birth_year_is_narrowed_down_by_no_reader(town: Archive) -> None:
    """N-26 (born 1940) gives initials: "when I was ten" dates what is told for the team, and nobody finds it by that year otherwise."""
    before = town.finding.ask(EDITOR, Asked("herring", era="1950"))
    assert before.total == 1 and dict(before.facets["decade"]) == {"1950": 1}
    assert found(town, READER, "herring", era="1950") == found(town, READER, "herring year:1950/1951") == found(town, READER, "herring", decade="1950") == set()
    seen = town.finding.ask(READER, Asked("herring", interview="IV-26"))
    assert seen.total == 1 and seen.facets["decade"] == ()


def test_a_place_with_a_withheld_name_is_no_place_to_a_reader(town: Archive) -> None:
    for name in ("Brine's Wharf", "the Salt Wharf", "Brine's Slip"):
        assert found(town, EDITOR, place=name), name
        with pytest.raises(NotFound) as told:
            found(town, READER, place=name)
        with pytest.raises(NotFound) as unknown:
            found(town, READER, place="Atlantis")
        assert (told.value.message, told.value.remedy) == (unknown.value.message, unknown.value.remedy)
    said = town.finding.ask(READER, Asked('place:"Brine\'s Wharf"'))
    assert said.total == 0 and said.notes
    assert found(town, READER, place="Old Slip") == found(town, EDITOR, place="Old Slip") == {"IV-29.1"}
    assert found(town, EDITOR, '"Salt Wharf"') == found(town, EDITOR, '"Brine\'s Wharf"', other_names=True) == {"IV-28.1"}
    assert found(town, READER, '"Brine\'s Wharf"', other_names=True) == set()


def test_themes_and_events_with_a_withheld_name_are_for_the_team(town: Archive) -> None:
    assert "Brine" in repr(town.finding.choices(EDITOR)["themes"]) and "Brine" in repr(town.overview.choices(EDITOR)["events"])
    assert "Brine" not in repr((town.finding.choices(READER), town.overview.choices(READER)))
    assert "Brine" in repr(town.finding.ask(EDITOR, Asked("barrels")))
    assert "Brine" not in repr(town.finding.ask(READER, Asked("barrels")))
    number = next(n for n, name in town.overview.choices(EDITOR)["events"] if "Brine" in name)
    assert town.overview.beside(EDITOR, event=number).hits
    with pytest.raises(NotFound):
        town.overview.beside(READER, event=number)
    with pytest.raises(NotFound):
        town.overview.beside_called(READER, event="Walter Brine's funeral")
    with pytest.raises(NotFound):
        found(town, READER, theme="The Walter Brine feud")


def test_another_date_said_of_an_age_is_kept_from_readers_too(town: Archive) -> None:
    """Whoever decides "1950, not 1950/1951" of "when I was ten" decides about the date, not about the birth year."""
    (one,) = [w for w in town.confirming.waiting(EDITOR, kind="date", recording="IV-26.1")[0] if w.tag.evidence.startswith("when I was ten")]
    town.confirming.say(EDITOR, PickedTag(one.tag.tag_id, one.seen), "1950")
    assert found(town, EDITOR, "herring", era="1950", confirmed=True) == {"IV-26.1"}
    assert found(town, READER, "herring", era="1950") == set()
    assert not [t for t in town.recordings.page(READER, "IV-26.1").tags if t.kind == "date"]


def test_a_name_hidden_later_and_a_place_hidden_like_one_leave_what_is_counted(town: Archive) -> None:
    """Both are said by other names in another recording, which is not indexed anew when somebody hides them here."""
    def told(viewer: cast.Viewer) -> set[str]:
        answer = town.finding.ask(viewer, Asked("played home"))
        return {name for name, _ in (*answer.facets["place"], *answer.confirmed["place"])} | {t.value for h in answer.hits for t in h.tags if t.kind == "place"}

    named = {"Tobin's Yard", "Corder Lodge"}
    assert named <= told(READER)
    town.naming.decide(KEEPER, "IV-27.1", 900, 1220, "", "hide")
    assert named & told(READER) == {"Corder Lodge"} and named <= told(EDITOR)
    said = (500 + 6 * cast.WORD_MS, 500 + 8 * cast.WORD_MS - 80)
    with town.rooms.db.write() as connection:
        recording = by_code(connection, "IV-27.1")
        assert recording is not None
        mentions.decide(connection, Stretch(recording.id, *said), None, Decision.HIDE, "asked for", "K-01", town.rooms.now(), Naming.PLACE, "a place")
    assert not named & told(READER) and named <= told(EDITOR)
    for name in ("the Paddock", "the Tall Roof", *named):
        with pytest.raises(NotFound):
            found(town, READER, place=name)
