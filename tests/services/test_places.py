"""The gazetteer: files in and out, what is bad in them, names that may not leave, places in their time, mis-hearings decided.

RFC 7946 (GeoJSON): a position is longitude, latitude in WGS 84 (section 4), geometry may be null (3.2). Linked Places format 1.3
(CHECKS section 11): names, types and relations may each carry time spans; its members from memory beyond that.
"""

from __future__ import annotations

import csv
import io
import json
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from archive.app import Archive, Asked
from archive.db import mentions
from archive.db.recordings import by_code
from archive.domain.cleared import GATE_TOKEN, ClearedGazetteer
from archive.domain.placenames import Named, PlaceEntry, cells, read_named, written
from archive.domain.values import Decision, Naming, Stretch
from archive.domain.whereabouts import far_off, on_a_plane, swapped
from archive.errors import BadInput, Clash, NotAllowed, NotFound, SheetError
from archive.gate.places import entries
from archive.render.gazetteer import FORMS
from archive.rules.place_files import read_features
from tests import cast
from tests.cast import EDITOR, KEEPER, READER

HEAD = "name,kind,within,also,heard_as,from,until,same_as,x_m,y_m,latitude,longitude,language\n"
FULL = (
    "Northshire,county,,,,,,,,,,,\nSouthshire,county,,,,,,,,,,,\n"
    "Abbotsford,town,Northshire [../1974]; Southshire [1974/..],Abbotstown [../1920]; Abtsfurt [de]; the Ford,Habits Ford,,,,10,-20,51.6708,-1.2879,en\n"
    "Herring Gate,street,Abbotsford,,,1830~,1930,Customs Arch,-5,7,,,\nCustoms Arch,street,Abbotsford,,,1930,,Herring Gate,,,,,nl\n"
)


@pytest.fixture(scope="module")
def empty_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("places") / "archive"
    Archive.create(folder, KEEPER, "Tarnwick Voices", "Marigold", True, {}, cast.clock).close()
    return folder


@pytest.fixture
def empty(empty_once: Path, tmp_path: Path) -> Iterator[Archive]:
    shutil.copytree(empty_once, tmp_path / "archive")
    opened = Archive.open(tmp_path / "archive", {}, cast.clock)
    yield opened
    opened.close()


def read(archive: Archive, folder: Path, text: str, name: str = "places.csv") -> Any:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return archive.places.read(EDITOR, path)


def on_record(archive: Archive) -> list[dict[str, str]]:
    with archive.rooms.db.read() as connection:
        return [cells(p) for p in entries(connection)]


def faults(archive: Archive, folder: Path, text: str, name: str = "places.csv") -> str:
    before = on_record(archive)
    with pytest.raises(SheetError) as told:
        read(archive, folder, text, name)
    assert on_record(archive) == before, "nothing lost, nothing taken"
    return " ".join((told.value.message, *told.value.findings, told.value.remedy))


# --- files ------------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("form", sorted(FORMS))
def test_a_gazetteer_comes_back_as_it_left(empty: Archive, tmp_path: Path, form: str) -> None:
    read(empty, tmp_path, HEAD + FULL)
    before = on_record(empty)
    name, data, left_out = empty.places.file(EDITOR, form)
    assert left_out == 0
    again = Archive.create(tmp_path / "again", KEEPER, "Other", "Marigold", True, {}, cast.clock)
    (tmp_path / name).write_bytes(data)
    done = again.places.read(EDITOR, tmp_path / name)
    assert done.rows == 5 and done.notes == () and on_record(again) == before
    again.places.read(EDITOR, tmp_path / name)
    assert on_record(again) == before, "a second time changes nothing"
    again.close()


def test_geojson_is_what_the_standard_says(empty: Archive, tmp_path: Path) -> None:
    """RFC 7946, 3.1.1: longitude first; 3.2: a feature has geometry (or null) and properties; 4: no “crs”; 11.1 UTF-8."""
    read(empty, tmp_path, HEAD + FULL)
    made = json.loads(empty.places.file(EDITOR, "geojson")[1].decode("utf-8"))
    assert made["type"] == "FeatureCollection" and "crs" not in made
    features = {f["properties"]["name"]: f for f in made["features"]}
    assert all(set(f) == {"type", "geometry", "properties"} and f["type"] == "Feature" for f in made["features"])
    assert features["Abbotsford"]["geometry"] == {"type": "Point", "coordinates": [-1.2879, 51.6708]}
    assert features["Northshire"]["geometry"] is None


def test_linked_places_says_when(empty: Archive, tmp_path: Path) -> None:
    """Linked Places 1.3: a relation with its own time span, as in the Abingdon example; names with theirs; “in” for a plain year."""
    read(empty, tmp_path, HEAD + FULL)
    made = json.loads(empty.places.file(EDITOR, "linked")[1])
    features = {f["properties"]["title"]: f for f in made["features"]}
    ids = {name: f["@id"] for name, f in features.items()}
    assert "@context" in made and len(set(ids.values())) == 5
    north, south = features["Abbotsford"]["relations"]
    assert (north["relationTo"], north["when"]["timespans"][0]["end"]) == (ids["Northshire"], {"in": "1974"})
    assert (south["relationTo"], south["when"]["timespans"][0]["start"]) == (ids["Southshire"], {"in": "1974"})
    names = {n["toponym"]: n for n in features["Abbotsford"]["names"]}
    assert names["Abtsfurt"]["lang"] == "de" and names["Abbotstown"]["when"]["timespans"][0]["end"] == {"in": "1920"}
    about = features["Herring Gate"]["names"][0]["when"]["timespans"][0]
    assert about["start"] == {"earliest": "1830-01-01", "latest": "1830-12-31"} and about["edtf"] == "1830~/1930"


def test_linked_places_of_others_are_read_and_what_is_not_kept_is_told(empty: Archive, tmp_path: Path) -> None:
    """The members that the format has; the example is of our own making after the format's (names invented)."""
    feature = {
        "@id": "http://gazetteer.example/7", "type": "Feature", "properties": {"title": "Abbotsford", "ccodes": ["GB"]},
        "when": {"timespans": [{"start": {"in": "1086"}}]},
        "names": [{"toponym": "Abbotsford", "lang": "en", "citations": [{"label": "A book"}]}, {"toponym": "Abbendune", "when": {"timespans": [{"start": {"in": "0900"}, "end": {"in": "1100"}}]}}],
        "types": [{"identifier": "aat:300008375", "label": "town"}],
        "geometry": {"type": "GeometryCollection", "geometries": [{"type": "Point", "coordinates": [-1.28, 51.67]}]},
        "relations": [{"relationType": "gvp:broaderPartitive", "relationTo": "http://gazetteer.example/1", "label": "part of Northshire", "when": {"timespans": [{"end": {"in": "1974"}}]}}],
        "links": [{"type": "closeMatch", "identifier": "gn:1"}], "descriptions": [{"value": "A town."}],
    }  # fmt: skip
    north = {"@id": "http://gazetteer.example/1", "type": "Feature", "properties": {"title": "Northshire"}, "names": [{"toponym": "Northshire"}], "geometry": None}
    done = read(empty, tmp_path, json.dumps({"type": "FeatureCollection", "@context": "x", "features": [feature, north]}), "theirs.json")
    row = next(r for r in on_record(empty) if r["name"] == "Abbotsford")
    wanted = {"kind": "town", "within": "Northshire [../1974]", "also": "Abbendune [0900/1100]", "from": "1086", "latitude": "51.67", "longitude": "-1.28", "language": "en"}
    assert {k: row[k] for k in wanted} == wanted
    told = " ".join(done.notes)
    assert "links to other gazetteers" in told and "descriptions" in told and "sources of names" in told


TEXT = st.text(st.characters(whitelist_categories=("L", "Nd"), max_codepoint=0x24F), min_size=1, max_size=8)
SPAN = st.sampled_from(["", "1974", "../1974", "1974/..", "1960~/1970", "1968-01-14/1968-01-16", "197X", "1962-12/1963-02", "2001-21"])


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(st.tuples(TEXT, SPAN, st.sampled_from(["", "de", "pt-BR"])), max_size=3, unique_by=lambda t: t[0]), SPAN,
    st.one_of(st.none(), st.tuples(st.floats(-90, 90), st.floats(-180, 180))), st.sampled_from(["", "=cmd()", "@x", "-7 up", "'tis"]),
)  # fmt: skip
def test_every_form_carries_every_field(others: list[tuple[str, str, str]], span: str, at: Any, kind: str) -> None:
    """Rows of a file are the rows that were written, whatever stands in them: formulas of a spreadsheet too (PITFALLS)."""
    also = tuple(Named(f"x{text}", edtf, language) for text, edtf, language in others)
    place = PlaceEntry(1, "+Place", kind, "nl", also, ("Heard",), (Named("Town", span),), "1900", "", "", 3, -4, *(at or (None, None)))
    town = PlaceEntry(2, "Town")
    gazetteer = ClearedGazetteer(token=GATE_TOKEN, places=(place, town), left_out=0)
    sheet = list(csv.DictReader(io.StringIO(FORMS["csv"][2](gazetteer).decode("utf-8-sig"))))
    assert all(not v.startswith(("=", "+", "@")) for row in sheet for v in row.values()) and sheet[0]["y_m"] == "-4"
    for form in ("geojson", "linked"):
        features = read_features(FORMS[form][2](gazetteer).decode("utf-8"))
        assert not features.faults and not features.notes
        filled = {k: v for k, v in features.rows[0].items() if v}
        assert filled == {k: v for k, v in cells(place).items() if v}, form


@pytest.mark.parametrize("cell", ["Netgate", "Netgate [nl]", "Netgate [1850/1910]", "Netgate [nl] [../1910]"])
def test_a_name_with_its_time_and_language(cell: str) -> None:
    assert written(read_named(cell)) == cell


# --- bad input --------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("rows", "row", "said"),
    [
        ("Mill,mill,Mill,,,,,,,,,,\n", "row 2", "its own “within”"),
        ("A,x,B,,,,,,,,,,\nB,x,C,,,,,,,,,,\nC,x,A,,,,,,,,,,\n", "row 3", "“B” lies within itself: B in C in A in B"),
        ("A,x,,,,,,,,,120.5,12,\n", "row 2", "latitude and longitude had changed sides"),
        ("A,x,,,,,,,,,12,200,\n", "row 2", "“200” in “longitude” is more than 180"),
        ("A,x,,,,,,,,,12,,\n", "row 2", "“latitude” stands without “longitude”"),
        ("A,x,,,,,,,5,,,,\n", "row 2", "“x_m” stands without “y_m”"),
        ("A,x,,,,last summer,,,,,,,\n", "row 2", "“from”"),
        ("A,x,,Old A [some time],,,,,,,,,\n", "row 2", "“also”"),
        ("A,x,,Old A [1974/1960],,,,,,,,,\n", "row 2", "ends before it starts"),
        ("A,x,,,,1990,1980,,,,,,\n", "row 2", "“from” is later than “until”"),
        ("A,x,,,,,,,,,,,\nB,x,,,,,,,,,,,\nA,y,,,,,,,,,,,\n", "row 4", "stands in row 2 already"),
        ("A,x,Atlantis,,,,,,,,,,\n", "row 2", "“Atlantis” is no place on record. Add a row for it"),
        ("A,x,,,,,,Atlantis,,,,,\n", "row 2", "“Atlantis” is no place on record"),
        (",x,,,,,,,,,,,\n", "row 2", "“name” is empty"),
        ("A [x],x,,,,,,,,,,,\n", "row 2", "no square bracket"),
        ("A,x,,,Ay [nl],,,,,,,,\n", "row 2", "neither time nor language"),
        ("A,x,,B;B,,,,,,,,,\n", "row 2", "stands twice"),
        ("A,x,,,,,,,,,north,1,\n", "row 2", "no number"),
    ],
)
def test_what_is_bad_in_a_sheet_is_told_with_its_row(empty: Archive, tmp_path: Path, rows: str, row: str, said: str) -> None:
    read(empty, tmp_path, HEAD + FULL)
    told = faults(empty, tmp_path, HEAD + rows)
    assert f"places.csv, {row}" in told and said in told


def test_a_circle_with_what_is_on_record_already(empty: Archive, tmp_path: Path) -> None:
    read(empty, tmp_path, HEAD + FULL)
    assert "lies within itself" in faults(empty, tmp_path, HEAD + "Northshire,county,Herring Gate,,,,,,,,,,\n")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("{", "line 1"), ("[]", "no collection of places"), ('{"type": "Point"}', "no collection"), ("[" * 100_000, "nested too deeply"),
        ('{"type": "FeatureCollection", "features": [{"type": "Feature", "geometry": {"type": "Point", "coordinates": [NaN, 1]}, "properties": {"name": "A"}}]}', "a number that is none"),
        ('{"type": "FeatureCollection", "crs": {"name": "EPSG:27700"}, "features": []}', "a system of their own"),
        ('{"type": "FeatureCollection", "features": [{"type": "Feature", "properties": {}}]}', "places.geojson, place 1: “name” is empty"),
        ('{"type": "FeatureCollection", "features": [{"type": "Feature", "properties": {"name": "A"}}, {"type": "Feature", "properties": {"name": "A"}}]}', "in place 1 already"),
        ('{"type": "FeatureCollection", "features": [{"type": "Feature", "geometry": {"type": "Point", "coordinates": [1, 99]}, "properties": {"name": "A"}}]}', "changed sides"),
        ('{"type": "FeatureCollection", "features": [7]}', "It is no feature"),
        ('{"type": "FeatureCollection", "features": [{"type": "Feature", "properties": {"name": "A; B"}}]}', "has a semicolon"),
        ('{"type": "FeatureCollection", "features": [{"type": "Feature", "properties": {"name": "A", "within": ["Nowhere"]}}]}', "“Nowhere” is no place on record"),
    ],
)  # fmt: skip
def test_what_is_bad_in_a_file_of_features_is_told(empty: Archive, tmp_path: Path, text: str, said: str) -> None:
    assert said in faults(empty, tmp_path, text, "places.geojson")


def test_points_far_from_all_others_are_told_and_taken(empty: Archive, tmp_path: Path) -> None:
    """Where two numbers changed sides the place lies far off, and near the others the other way round."""
    rows = "".join(f"P{n},x,,,,,,,{10 * n},{5 * n},51.{n},-1.{n},\n" for n in range(6))
    done = read(empty, tmp_path, HEAD + rows + "Far,x,,,,,,,90000,4,,,\nTurned,x,,,,,,,,,-1.3,51.2,\n")
    assert done.rows == 8 and len(done.notes) == 2
    assert "Far lies far from all others on the plan" in done.notes[0] and "Turned" in done.notes[1] and "changed sides" in done.notes[1]
    assert any("Turned" in note for note in empty.places.page(EDITOR).notes) and empty.places.page(READER).notes == ()


def test_distances_on_the_ground() -> None:
    """One minute of latitude is a nautical mile of 1852 m (the International Hydrographic Organization), within half a per cent; a degree of
    longitude at 60° is half as long (cos 60°)."""
    plane = on_a_plane({"a": (60.0, 10.0), "b": (60.0 + 1 / 60, 10.0), "c": (60.0, 11.0)})
    assert plane["b"][1] - plane["a"][1] == pytest.approx(1852, rel=0.005)
    assert plane["c"][0] - plane["a"][0] == pytest.approx(60 * 1852 / 2, rel=0.01)
    assert on_a_plane({}) == {} and far_off({"a": (0, 0), "b": (9e9, 0)}) == {} and swapped({}) == ()


def test_columns_that_a_sheet_lacks_are_left_as_they_are(empty: Archive, tmp_path: Path) -> None:
    read(empty, tmp_path, HEAD + FULL)
    before = {r["name"]: r for r in on_record(empty)}
    read(empty, tmp_path, "name,kind,within\nAbbotsford,city,Northshire\n")
    after = next(r for r in on_record(empty) if r["name"] == "Abbotsford")
    assert after == {**before["Abbotsford"], "kind": "city", "within": "Northshire"}


def test_an_empty_archive_has_words(empty: Archive) -> None:
    assert empty.places.page(READER).rows == () and empty.places.misheard(EDITOR) == ()
    for form in FORMS:
        assert empty.places.file(EDITOR, form)[1]
    with pytest.raises(BadInput):
        empty.places.file(EDITOR, "shapefile")
    with pytest.raises(NotFound):
        empty.places.called(READER, "Atlantis")


# --- by hand ----------------------------------------------------------------------------------------------------------
def test_a_place_is_added_corrected_renamed_and_taken_out_by_hand(cast_archive: Archive, tmp_path: Path) -> None:
    archive = cast_archive
    cast.give_words(archive, cast.recording_of("N-21"), [("N-21", cast.words_of("we met on Gull Steps by the Quay"))])
    steps = archive.places.called(EDITOR, "the Steps")
    assert steps.found.total == 1 and steps.place.within == (Named("Tarnwick"),)
    archive.places.write(EDITOR, {**cells(steps.place), "name": "Herring Steps", "also": "Gull Steps [../1990]"}, steps.place.number)
    renamed = archive.places.called(EDITOR, "Gull Steps")
    assert (renamed.place.name, renamed.place.number, renamed.found.total) == ("Herring Steps", steps.place.number, 1)
    assert archive.finding.ask(EDITOR, Asked(place="Herring Steps")).facets["place"][0][1] == 1
    with pytest.raises(SheetError) as told:
        archive.places.write(EDITOR, {"name": "Lower Quay"}, steps.place.number)
    assert "another place on record" in told.value.findings[0]
    tag = next(t for t in archive.finding.ask(EDITOR, Asked(place="Herring Steps")).hits[0].tags if t.value == "Herring Steps")
    archive.describing.decide(EDITOR, tag.tag_id, "confirmed")
    with pytest.raises(Clash):
        archive.places.drop(EDITOR, steps.place.number)
    archive.describing.decide(EDITOR, tag.tag_id, "rejected")
    archive.places.drop(EDITOR, steps.place.number)
    assert ("Lower Quay", 1) in archive.finding.ask(EDITOR, Asked(place="Lower Quay")).facets["place"], "the other tag of the passage is left"
    with pytest.raises(NotFound):
        archive.places.called(EDITOR, "Herring Steps")
    for act in (lambda: archive.places.write(READER, {"name": "X"}), lambda: archive.places.drop(READER, 1), lambda: archive.places.file(READER, "csv"), lambda: archive.places.misheard(READER)):
        with pytest.raises(NotAllowed):
            act()


def test_what_was_typed_by_hand_stays_when_a_sheet_is_read_again(empty: Archive, tmp_path: Path) -> None:
    read(empty, tmp_path, HEAD + FULL)
    page = empty.places.called(EDITOR, "Abbotsford")
    empty.places.write(EDITOR, {**cells(page.place), "also": "the Ford; Monks' Ford"}, page.place.number)
    assert [n.text for n in empty.places.called(EDITOR, "Abbotsford").place.also] == ["the Ford", "Monks' Ford"]
    read(empty, tmp_path, HEAD + FULL)
    assert {n.text for n in empty.places.called(EDITOR, "Abbotsford").place.also} == {"Monks' Ford", "the Ford", "Abbotstown", "Abtsfurt"}


# --- in their time ----------------------------------------------------------------------------------------------------
def test_find_within_a_place_at_the_time_that_is_told(cast_archive: Archive, tmp_path: Path) -> None:
    """CHECKS section 11: a memory of 1960 gets the one county, of 1980 the other; one without a date is found in both. Counts are Find's own."""
    archive = cast_archive
    read(archive, tmp_path, HEAD + FULL)
    lines = {"N-21": "in 1960 we lived in Abbotsford", "N-25": "in 1980 we lived in Abbotsford", "N-26": "we had an aunt in Abbotsford"}
    for code, line in lines.items():
        cast.give_words(archive, cast.recording_of(code), [(code, cast.words_of(line))])
    found = {county: {h.recording for h in archive.finding.ask(EDITOR, Asked(place=county)).hits} for county in ("Northshire", "Southshire", "Abbotsford")}
    assert found == {"Northshire": {"IV-21.1", "IV-26.1"}, "Southshire": {"IV-25.1", "IV-26.1"}, "Abbotsford": {"IV-21.1", "IV-25.1", "IV-26.1"}}
    for viewer in (EDITOR, READER):
        for name, number in archive.finding.per_place(viewer).items():
            assert number == archive.finding.ask(viewer, Asked(place=name)).total, name
        everything = {r.place.name: r.passages for r in archive.places.page(viewer).rows}
        assert {n: c for n, c in everything.items() if c} == archive.finding.per_place(viewer)
    tag = next(t for h in archive.finding.ask(EDITOR, Asked(place="Northshire")).hits for t in h.tags if t.detail.startswith("lay"))
    assert tag.detail == "lay in Northshire to 1974"


# --- who is withheld --------------------------------------------------------------------------------------------------
def test_a_place_that_bears_a_hidden_name_is_for_the_team_alone(cast_archive: Archive, tmp_path: Path) -> None:
    """Walter Brine wants no name: “Brine's yard” is in no file, on no reader's page, nor among the choices of Find; and reading our own
    file back takes it off nobody's record."""
    archive = cast_archive
    read(archive, tmp_path, HEAD + "Tan House,works,Tarnwick,Brine's yard; the tannery,Brines yard,,,,,,,,\nBrine's Field,field,Tarnwick,,,,,,,,,,\nThe Gate,gate,Brine's Field,,,,,,,,,,\n")
    before = on_record(archive)
    for form in FORMS:
        name, data, left_out = archive.places.file(KEEPER, form)
        assert b"rine" not in data.replace(b"Marine", b"") and b"the tannery" in data and left_out >= 3
        (tmp_path / name).write_bytes(data)
        archive.places.read(EDITOR, tmp_path / name)
        left = {r["name"]: r for r in on_record(archive)}
        assert left["Tan House"] == next(r for r in before if r["name"] == "Tan House")
    pages = {v.role: json.dumps([cells(r.place) for r in archive.places.page(v).rows]) for v in (EDITOR, READER)}
    assert "Brine's yard" in pages[EDITOR.role] and "Brine" not in pages[READER.role] and "The Gate" in pages[READER.role]
    assert not any("Brine" in v for v, _ in archive.finding.choices(READER)["places"])
    with pytest.raises(NotFound):
        archive.places.one(READER, archive.places.called(EDITOR, "Brine's Field").place.number)


def test_a_place_said_by_another_name_tells_readers_nobody_s(cast_archive: Archive, tmp_path: Path) -> None:
    archive = cast_archive
    read(archive, tmp_path, HEAD + "Brine's Field,field,Tarnwick,the long meadow,,,,,,,,,\n")
    cast.give_words(archive, cast.recording_of("N-28"), [("N-28", cast.words_of("we cut hay in the long meadow"))])
    seen = {v.role: archive.finding.ask(v, Asked("hay")) for v in (EDITOR, READER)}
    assert "Brine's Field" in str(seen[EDITOR.role].facets) and [t.value for t in seen[EDITOR.role].hits[0].tags] == ["Brine's Field"]
    assert seen[READER.role].total == 1 and "Brine" not in str(seen[READER.role])


def test_a_place_that_somebody_decided_to_hide_is_in_no_file(cast_archive: Archive, tmp_path: Path) -> None:
    archive = cast_archive
    cast.give_words(archive, cast.recording_of("N-28"), [("N-28", cast.words_of("he hid on Beacon Hill for a year"))])
    assert b"Beacon Hill" in archive.places.file(EDITOR, "csv")[1]
    with archive.rooms.db.write() as connection:
        row = by_code(connection, cast.recording_of("N-28"))
        assert row is not None
        words = cast.words_of("he hid on Beacon Hill for a year")
        stretch = Stretch(row.id, words[3].start_ms, words[4].end_ms)
        mentions.decide(connection, stretch, None, Decision.HIDE, "asked for", "E-01", archive.rooms.now(), Naming.PLACE, "a place")
    for form in FORMS:
        assert b"Beacon Hill" not in archive.places.file(EDITOR, form)[1]
    assert "Beacon Hill" not in [r.place.name for r in archive.places.page(READER).rows]
    assert "Beacon Hill" in [r.place.name for r in archive.places.page(EDITOR).rows]


# --- mis-hearings -----------------------------------------------------------------------------------------------------
def test_what_sounds_like_a_place_waits_and_is_decided_once_for_all(cast_archive: Archive) -> None:
    """Suggested only: under no place in Find before somebody said yes, and never suggested again after a no."""
    archive = cast_archive

    def places_found(name: str) -> set[str]:
        return {h.recording for h in archive.finding.ask(EDITOR, Asked(place=name)).hits}

    already = places_found("Beacon Hill")
    line = "we met at the Beecon Hill and at Farry Slip"
    for code in ("N-21", "N-25", "N-22"):  # the last one's speech is closed
        cast.give_words(archive, cast.recording_of(code), [(code, cast.words_of(line))])
    groups = {g.said: g for g in archive.places.misheard(EDITOR)}
    assert {(s, g.place) for s, g in groups.items()} == {("Beecon Hill", "Beacon Hill"), ("Farry Slip", "Ferry Slip")}
    beacon, slip = groups["Beecon Hill"], groups["Farry Slip"]
    assert {m.recording for m in beacon.at} == {"IV-21.1", "IV-25.1"}
    assert places_found("Beacon Hill") == already and places_found("Ferry Slip") == set()
    archive.places.decide_misheard(EDITOR, beacon.number, beacon.said, [m.tag_id for m in beacon.at][:1], True)
    assert places_found("Beacon Hill") == {*already, beacon.at[0].recording}, "exactly what was shown"
    archive.places.decide_misheard(EDITOR, slip.number, slip.said, [m.tag_id for m in slip.at], False)
    assert archive.places.one(EDITOR, slip.number).place.not_heard == ("Farry Slip",)
    archive.describing.describe(EDITOR)
    assert archive.places.misheard(EDITOR) == ()
    assert places_found("Beacon Hill") == {*already, "IV-21.1", "IV-25.1"}, "the other is heard as it now"
    assert places_found("Ferry Slip") == set()
    with pytest.raises(NotFound):
        archive.places.decide_misheard(EDITOR, slip.number, slip.said, [m.tag_id for m in slip.at], True)
    archive.places.take_back(EDITOR, slip.number, "Farry Slip")
    assert archive.places.one(EDITOR, slip.number).place.not_heard == ()
    with pytest.raises(NotFound):
        archive.places.take_back(EDITOR, slip.number, "Fairy Slip")
