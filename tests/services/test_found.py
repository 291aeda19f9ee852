"""Find as its services answer: what narrows it, in which order, what it says of the question, what it never suggests."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from sqlalchemy import text

from archive.app import Archive, Asked, as_json
from archive.errors import BadInput
from tests import cast
from tests.cast import EDITOR, KEEPER, READER
from tests.conftest import copy_of

LINES = {
    "N-21": "the rope was new in nineteen seventy-four and Walter Brine held it by the old quay",
    "N-25": "well now then you see how it was with them they tarred the rope in 1974 and the zebrawood was tarred again",
    "N-26": "no rope and no tar until 1962 when the flood came up Ropewalk",
    "N-27": "well now then you see how it was with them rope rope rope said the man in the shed",
}


@pytest.fixture(scope="module")
def town(made_cast: Path, tmp_path_factory: pytest.TempPathFactory) -> Archive:
    """The cast with other words; only ever read."""
    archive = Archive.open(copy_of(made_cast, tmp_path_factory.mktemp("found") / "archive"), {}, cast.clock)
    for code, line in LINES.items():
        cast.give_words(archive, cast.recording_of(code), [(code, cast.words_of(line))])
    with archive.rooms.db.write() as connection:
        for code, born, sex in (("N-21", "1941", "woman"), ("N-25", "1940", "woman"), ("N-26", "1943", "man"), ("N-27", "1955", "woman")):
            connection.execute(text("UPDATE person SET born = :born, sex = :sex WHERE code = :code"), {"born": born, "sex": sex, "code": code})
    return archive


def found(archive: Archive, viewer: cast.Viewer, words: str = "", **narrowed: object) -> set[str]:
    return {h.recording for h in archive.finding.ask(viewer, Asked(words, **narrowed), 200).hits}  # type: ignore[arg-type]


def test_numbers_alike_in_every_wording(town: Archive) -> None:
    for viewer in cast.VIEWERS:
        for asked in ("1974", "74", "nineteen seventy-four", "seventy-four", '"in 1974"', "year:1974"):
            assert "IV-25.1" in found(town, viewer, asked), asked
        assert found(town, viewer, '"nineteen seventy-four and"') == {"IV-21.1", "IV-25.1"}


def test_era_takes_any_overlap(town: Archive) -> None:
    for era, codes in (("1974", {"IV-21.1", "IV-25.1"}), ("1970s", {"IV-21.1", "IV-25.1"}), ("1959–1962", {"IV-26.1"}), ("../1965", {"IV-26.1"}), ("1962-07", {"IV-26.1"}), ("1975/1980", set())):
        assert found(town, EDITOR, "rope", era=era) == codes, era
    for wrong in ("sixties", "1985-13", "1962-1959", "flood"):
        with pytest.raises(BadInput) as told:
            found(town, EDITOR, era=wrong)
        assert told.value.remedy


def test_fields_among_the_words_narrow_as_the_choices_do(town: Archive) -> None:
    assert found(town, EDITOR, "rope year:1974") == found(town, EDITOR, "rope", era="1974")
    assert found(town, EDITOR, "rope speaker:N-21") == {"IV-21.1"}
    assert found(town, EDITOR, "rope not interview:IV-21") == {"IV-25.1", "IV-26.1", "IV-27.1"}
    assert found(town, EDITOR, "place:Ropewalk or speaker:N-27") == {"IV-26.1", "IV-27.1"}
    answer = town.finding.ask(EDITOR, Asked("rope place:Atlantis"))
    assert answer.total == 0 and any("Atlantis" in n and "gazetteer" in n for n in answer.notes)


def test_what_an_older_version_indexed_is_told_where_it_cannot_be_narrowed(town: Archive, tmp_path: Path) -> None:
    folder = copy_of(town.folder, tmp_path / "older")
    older = Archive.open(folder, {}, cast.clock)
    with older.rooms.db.write() as connection:  # as the migration leaves them
        connection.execute(text("UPDATE find_unit SET state = '', language = '', sound = ''"))
    asked = Asked("rope", state="machine")
    whole, answer = town.finding.ask(EDITOR, asked), older.finding.ask(EDITOR, asked)
    assert whole.total and not any("older version" in n for n in whole.notes)
    assert answer.total == 0 and any("older version" in n and "toldhere describe" in n for n in answer.notes)
    assert any("older version" in n for n in older.finding.ask(READER, Asked("rope state:machine")).notes)
    assert not older.finding.ask(EDITOR, Asked("rope")).notes
    older.describing.describe(EDITOR)
    assert older.finding.ask(EDITOR, asked) == whole
    older.close()


def test_what_speakers_were(town: Archive) -> None:
    """An editor knows everybody; a reader finds whoever does not give a full name only among three alike: here nobody."""
    assert found(town, EDITOR, "rope", born="1940–1941") == {"IV-21.1", "IV-25.1"}
    assert found(town, EDITOR, "rope", sex="man") == {"IV-26.1"}
    assert found(town, EDITOR, "rope", role="narrator", born="1955") == {"IV-27.1"}
    assert found(town, READER, "rope", born="1940s") == {"IV-21.1"}, "N-25 is unnamed, N-26 has initials"
    assert found(town, READER, "rope", born="1941") == set(), "readers ask by whole decades: one year would tell a birthday"
    assert found(town, READER, "rope", sex="man") == found(town, READER, "rope born:1943") == set()
    answer = town.finding.ask(READER, Asked("rope"))
    assert answer.total == 4 and dict(answer.facets["sex"]) == {"woman": 2} and dict(answer.facets["born"]) == {"1940": 1, "1950": 1}
    for facet, narrowed in (("born", "1940s"), ("sex", "woman")):
        counted = dict(answer.facets[facet])[narrowed.removesuffix("s")]
        assert town.finding.ask(READER, Asked("rope", **{facet: narrowed})).total == counted


def test_state_language_and_sound_are_counted_as_they_narrow(town: Archive) -> None:
    answer = town.finding.ask(EDITOR, Asked("rope"))
    assert dict(answer.facets["state"]) == {"machine": 4} and dict(answer.facets["language"]) == {"en": 4}
    assert sum(n for _, n in answer.facets["sound"]) >= 3, "the cast was measured"
    for facet in ("state", "language", "sound"):
        for value, count in answer.facets[facet]:
            assert town.finding.ask(EDITOR, Asked("rope", **{facet: value})).total == count, (facet, value)
    for wrong in ({"state": "done"}, {"sound": "nice"}, {"role": "hero"}, {"language": "qqqqqqqqqqqq"}, {"order": "random"}, {"usable_on": "soon"}, {"usable_on": "2020-01-01"}):
        with pytest.raises(BadInput):
            town.finding.ask(EDITOR, Asked("rope", **wrong))


def test_usable_on_a_day_to_come(cast_archive: Archive) -> None:
    """What is refused from a day on is asked on that day: permitted today, not any more then (consent is decided for the day)."""
    with cast_archive.rooms.db.write() as connection:
        connection.execute(text("INSERT INTO permission (agreement_id, use, way, answer, from_on, by, at) SELECT id, 'touring', 'words', 'no', '2027-01-01', 'x', 'x' FROM agreement WHERE person_id = (SELECT id FROM person WHERE code = 'N-21')"))
    days = {on: found(cast_archive, EDITOR, "lantern", usable_for="touring", usable_on=on) for on in ("", "2026-12-31", "2027-01-01")}
    assert days == {"": {"IV-21.1"}, "2026-12-31": {"IV-21.1"}, "2027-01-01": set()}


def test_orders(town: Archive) -> None:
    def order(by: str) -> list[str]:
        return [h.recording for h in town.finding.ask(EDITOR, Asked("rope", order=by)).hits]

    assert order("")[0] == order("best")[0] == "IV-27.1", "the word stands there most"
    assert order("interview") == ["IV-21.1", "IV-25.1", "IV-26.1", "IV-27.1"]
    assert order("oldest") == ["IV-26.1", "IV-21.1", "IV-25.1", "IV-27.1"], "by what is told; what tells of no time comes last"
    assert town.finding.ask(EDITOR, Asked("")).order == "interview"


def test_confirmed_and_suggested_are_told_apart(cast_archive: Archive) -> None:
    tag = next(t for t in cast_archive.recordings.page(EDITOR, "IV-21.1").tags if t.value == "Net Row")
    before = cast_archive.finding.ask(EDITOR, Asked("lantern"))
    assert dict(before.facets["place"])["Net Row"] == 1 and not before.confirmed["place"]
    assert found(cast_archive, EDITOR, "lantern", place="Net Row", confirmed=True) == set()
    cast_archive.describing.decide(EDITOR, tag.tag_id, "confirmed")
    after = cast_archive.finding.ask(EDITOR, Asked("lantern", place="Net Row", confirmed=True))
    assert after.total == 1 and dict(after.facets["place"]) == {"Net Row": 1} == dict(after.confirmed["place"])
    assert {t.state for t in after.hits[0].tags if t.value == "Net Row"} == {"confirmed"}


def test_played_from_the_word_that_was_asked_for(town: Archive) -> None:
    (hit,) = town.finding.ask(EDITOR, Asked("zebrawood")).hits
    assert hit.play_ms == next(w.start_ms for w in cast.words_of(LINES["N-25"]) if w.text == "zebrawood")
    (hit,) = town.finding.ask(EDITOR, Asked("speaker:N-25")).hits
    assert hit.play_ms == hit.start_ms


def test_what_a_hit_may_be_used_for_is_what_consent_says(town: Archive) -> None:
    with town.rooms.db.read() as connection:
        outward = list(connection.execute(text("SELECT code FROM use WHERE inward = 0")).scalars())
    for hit in town.finding.ask(EDITOR, Asked("rope")).hits:
        stretch = f"{hit.recording}@{hit.start_ms}-{hit.start_ms + 1000}"
        assert set(hit.usable) == {u for u in outward if town.deciding.may(EDITOR, stretch, u, cast.Way.WORDS).allowed}
        assert set(hit.usable_voice) <= set(hit.usable)


def test_a_word_is_suggested_from_what_may_be_read(town: Archive) -> None:
    for viewer in cast.VIEWERS:
        assert town.finding.ask(viewer, Asked("zebrawool")).suggestion == "zebrawood"
        assert town.finding.ask(viewer, Asked('"old quey" rope')).suggestion == '"old quay" rope'
        assert town.finding.ask(viewer, Asked("zebrawood")).suggestion == ""


def test_no_hidden_name_and_nothing_closed_is_suggested(town: Archive, cast_archive: Archive) -> None:
    """Brine is hidden in what N-21 says; the words of who is held back are in the index, and nobody is led to them."""
    assert town.finding.ask(EDITOR, Asked("brime")).suggestion == "brine"
    assert town.finding.ask(READER, Asked("brime")).suggestion == ""
    for member in cast.CAST:
        if member.held:
            near = member.secret[:-1] + "z"
            for viewer in cast.VIEWERS:
                assert cast_archive.finding.ask(viewer, Asked(near)).suggestion == "", member
    assert cast_archive.finding.ask(READER, Asked("lanterm")).suggestion == "lantern"
    cast_archive.consent.withdraw(KEEPER, "N-21", how="call")
    assert cast_archive.finding.ask(READER, Asked("lanterm")).suggestion == "", "gone in the next request"


def test_old_and_new_names_alike_when_asked(cast_archive: Archive, tmp_path: Path) -> None:
    sheet = tmp_path / "places.csv"
    sheet.write_text("name,kind,within,also,heard_as,same_as\nLongwharf,quay,,the Basin,Longworth,\nOldstrand,quay,,,,Longwharf\n", encoding="utf-8")
    cast_archive.places.read(EDITOR, sheet)
    cast.give_words(cast_archive, "IV-21.1", [("N-21", cast.words_of("we lived on Oldstrand"))])
    assert found(cast_archive, EDITOR, "longwharf") == set()
    for asked in ("longwharf", "the basin", '"on longwharf"', "oldstrand"):
        assert found(cast_archive, EDITOR, asked, other_names=True) == {"IV-21.1"}, asked
    assert found(cast_archive, EDITOR, "longworth", other_names=True) == set(), "a mis-hearing is no name"


def test_bad_questions_are_answered_and_said(town: Archive) -> None:
    answer = town.finding.ask(EDITOR, Asked('rope or "old quay'))
    assert answer.total == 4 and any(n.startswith("Letter 9:") and "quotation mark" in n for n in answer.notes)
    many = town.finding.ask(EDITOR, Asked("rope " * 3000))
    assert many.total == 4 and "2800 were not" in many.notes[0]
    assert town.finding.ask(EDITOR, Asked("the and of")).notes == ()
    assert town.finding.ask(EDITOR, Asked("( ) \x00 !!!")).total == 0
    assert town.finding.ask(EDITOR, Asked(" ".join(f"w{n}" for n in range(3000)))).total == 0


def test_an_empty_archive_says_so(tmp_path: Path) -> None:
    archive = Archive.create(tmp_path / "new", KEEPER, "New", "Marigold", True, {}, cast.clock)
    for words in ("", "rope", '"rope', "not rope", "year:1968"):
        answer = archive.finding.ask(EDITOR, Asked(words))
        assert answer.total == 0 and any("nothing to find yet" in n for n in answer.notes)
    archive.close()


def test_as_json_with_times_and_evidence(town: Archive) -> None:
    made = json.loads(as_json(town.finding.ask(EDITOR, Asked("Ropewalk"))))
    (hit,) = made["hits"]
    assert hit["start_ms"] <= hit["play_ms"] < hit["end_ms"]
    assert {t["value"] for t in hit["tags"]} >= {"Ropewalk"} and all(t["evidence"] and t["rule"] and t["state"] for t in hit["tags"])


def test_columns_follow_what_is_written(cast_archive: Archive) -> None:
    """The kept columns are brought up to date a recording at a time; a new archive object reads them whole: both count the same."""
    cast_archive.finding.ask(EDITOR, Asked(""))
    for n, code in enumerate(("N-21", "N-25", "N-21", "N-28", "N-21")):
        cast.give_words(cast_archive, cast.recording_of(code), [(code, cast.words_of(f"we met by Gull Steps in 19{60 + n} and on Net Row"))])
        for viewer in cast.VIEWERS:
            kept = cast_archive.finding.ask(viewer, Asked(""), 200)
            anew = Archive.open(cast_archive.folder, {}, cast.clock)
            fresh = anew.finding.ask(viewer, Asked(""), 200)
            assert (kept.total, kept.facets, kept.confirmed) == (fresh.total, fresh.facets, fresh.confirmed)
            anew.close()
