"""The list of spellings and the same change elsewhere, over the real database, for the whole cast."""

from __future__ import annotations

import secrets
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from archive.app import Archive, LineAct, Picked
from archive.db import people, recordings
from archive.domain.cleared import ShownOccurrence
from archive.errors import BadInput, NotAllowed, NotFound, Refused, SheetError
from archive.gate import custody
from archive.services.spellings import Offer, SpellingRow, listed_spellings
from tests import cast
from tests.cast import EDITOR, KEEPER, READER


@pytest.fixture
def archive(cast_archive: Archive) -> Archive:
    return cast_archive


def mark() -> str:
    return secrets.token_hex(8)


def texts(archive: Archive, code: str) -> list[str]:
    return [" ".join(w[0] for w in line.words) for line in archive.correcting.lines(EDITOR, code)[0]]


def picked(*found: ShownOccurrence) -> list[Picked]:
    return [Picked(f.recording, f.key, f.first, f.last) for f in found]


def row(archive: Archive, text: str, viewer: cast.Viewer = KEEPER) -> SpellingRow:
    return next(r for r in archive.spellings.page(viewer).rows if r.text == text)


# --- the list -----------------------------------------------------------------------------------------------------------
def test_a_spelling_is_added_to_taken_off_and_put_back_and_says_who(archive: Archive) -> None:
    assert archive.spellings.add(EDITOR, {"spelling": "Marigold", "kind": "ship", "heard_as": "Mary Gold; Marry Gold", "note": "the ferry"}) == "list"
    archive.spellings.add(EDITOR, {"spelling": "Marigold", "heard_as": "Merry Gold"})
    found = row(archive, "Marigold")
    assert (found.kind, found.note, found.by, found.source) == ("ship", "the ferry", "E-01", "list")
    assert [h.text for h in found.heard_as] == ["Mary Gold", "Marry Gold", "Merry Gold"]
    archive.spellings.add(EDITOR, {"spelling": "Marigold", "kind": "ship", "heard_as": "Merry Gold"}, whole=True)
    assert [h.text for h in row(archive, "Marigold").heard_as] == ["Merry Gold"] and row(archive, "Marigold").note == ""
    archive.spellings.drop(EDITOR, "Marigold")
    assert [r.text for r in archive.spellings.page(EDITOR).off] == ["Marigold"]
    with pytest.raises(NotFound):
        archive.spellings.drop(EDITOR, "Marigold")
    archive.spellings.drop(EDITOR, "Marigold", back=True)
    assert [h.text for h in row(archive, "Marigold").heard_as] == ["Merry Gold"] and not archive.spellings.page(EDITOR).off


def test_mishearings_of_places_and_people_are_kept_where_these_are_and_outlast_their_sheets(archive: Archive, tmp_path: Path) -> None:
    assert archive.spellings.add(EDITOR, {"spelling": "Net Row", "heard_as": "Nettle Row"}) == "gazetteer"
    assert archive.spellings.add(EDITOR, {"spelling": "the cannery", "heard_as": "the scannery"}) == "gazetteer"
    assert archive.spellings.add(EDITOR, {"spelling": "Edith Quill", "heard_as": "Eadie Twill"}) == "people"
    assert not listed_of(archive)
    archive.places.read(EDITOR, Path(__file__).resolve().parents[2] / "sample_media" / "places.csv")
    sheet = tmp_path / "people.csv"
    sheet.write_text("code,full,attribution,voice,review,heard_as\nN-21,Edith Quill,full,as_recorded,not_wanted,Edith Quell\n", encoding="utf-8")
    archive.people.read(KEEPER, sheet)
    heard = {h.text: (h.by, h.at[:10]) for name in ("Net Row", "Edith Quill") for h in row(archive, name).heard_as}
    assert heard["Nettle Row"] == ("E-01", "2026-06-01") and heard["Netrow"] == ("", "") and heard["Edith Quell"] == ("", "")
    assert heard["Eadie Twill"] == ("E-01", "2026-06-01")
    assert "the scannery" in [h.text for h in row(archive, "Cannery Wharf").heard_as]
    with pytest.raises(Refused, match="a sheet has it"):
        archive.spellings.drop(EDITOR, "Net Row", "Netrow")
    with pytest.raises(NotAllowed):  # it hides somebody
        archive.spellings.drop(EDITOR, "Edith Quill", "Eadie Twill")
    archive.spellings.drop(KEEPER, "Edith Quill", "Eadie Twill")
    assert [h.text for h in row(archive, "Edith Quill").heard_as] == ["Edith Quell"]


def listed_of(archive: Archive) -> list[str]:
    with archive.rooms.db.read() as connection:
        return [s.text for s in listed_spellings(connection)]


def test_what_is_heard_as_a_hidden_name_is_hidden_like_it(archive: Archive) -> None:
    code = cast.recording_of("N-21")
    cast.give_words(archive, code, [("N-21", cast.words_of("it was lean a force who came"))])
    assert "lean a force" in said_to(archive, READER, code)
    archive.spellings.add(EDITOR, {"spelling": "Lena Fosse", "heard_as": "lean a force"})
    assert "lean" not in said_to(archive, READER, code) and "lean a force" in said_to(archive, EDITOR, code)


def said_to(archive: Archive, viewer: cast.Viewer, code: str) -> str:
    return " ".join(w.text for u in archive.recordings.page(viewer, code).shown.utterances for w in u.words)


def test_a_sheet_is_taken_whole_or_not_and_its_faults_are_named(archive: Archive, tmp_path: Path) -> None:
    sheet = tmp_path / "spellings.csv"
    sheet.write_text(
        "spelling,kind,heard_as,note\nMarigold,boat,Mary Gold,\n,ship,x,\ncwtch,dialect word,cwtch,\nNet Row,,,\n[closed],,,\n"
        "one two three four five six seven,,,\n", encoding="utf-8",
    )  # fmt: skip
    with pytest.raises(SheetError) as told:
        archive.spellings.read(EDITOR, sheet)
    rows = [f.split(":")[0].split(", ")[1] for f in told.value.findings]
    assert rows == ["row 2", "row 3", "row 4", "row 5", "row 6", "row 7"]
    assert not listed_of(archive)
    sheet.write_text("spelling;kind;heard_as\nMarigold;ship;Mary Gold\ncwtch;dialect word;cutch\nNet Row;;Nettle Row\n", encoding="utf-8")
    assert archive.spellings.read(EDITOR, sheet) == 3
    assert listed_of(archive) == ["Marigold", "cwtch"]
    assert archive.spellings.read(EDITOR, sheet) == 3 and listed_of(archive) == ["Marigold", "cwtch"]


def test_nothing_of_it_is_for_readers_and_an_editor_reads_no_name_that_is_not_open(archive: Archive) -> None:
    archive.spellings.add(KEEPER, {"spelling": "Lena Fosse", "heard_as": "Leaner Force"})
    archive.spellings.add(KEEPER, {"spelling": "Edith Quill", "heard_as": "Eadie Twill"})
    for act in (
        lambda: archive.spellings.page(READER), lambda: archive.spellings.add(READER, {"spelling": "x"}), lambda: archive.spellings.drop(READER, "x"),
        lambda: archive.spellings.same(READER, "a", "b"), lambda: archive.spellings.offer(READER, "a", "B"), lambda: archive.spellings.change(READER, "b", [], mark()),
    ):  # fmt: skip
        with pytest.raises(NotAllowed):
            act()
    told = repr(archive.spellings.page(EDITOR))
    assert "Lena" not in told and "Leaner" not in told and "Eadie Twill" in told
    assert "Leaner Force" in repr(archive.spellings.page(KEEPER))
    assert next(r for r in archive.spellings.page(EDITOR).rows if r.code == "N-25").more == 1


# --- the same elsewhere -------------------------------------------------------------------------------------------------
ONE, OTHER = cast.recording_of("N-21"), cast.recording_of("N-28")


@pytest.fixture
def canery(archive: Archive) -> None:
    """Two recordings in which the engine mis-heard the cannery."""
    cast.give_words(archive, ONE, [
        ("N-21", cast.words_of("Past the Canery, and the “Canery's” gate. Then the Kanery again and the Cannery too", 500)),
        ("N-21", cast.words_of("No canery here", 6900)),
    ])  # fmt: skip
    cast.give_words(archive, OTHER, [("N-28", cast.words_of("It was the Canery that shut"))])


def test_each_place_is_shown_with_its_words_and_what_it_becomes(archive: Archive, canery: None) -> None:
    page = archive.spellings.same(EDITOR, "Canery", "Cannery")
    assert [(f.recording, f.said, f.becomes, f.alike) for f in page.found] == [
        (ONE, "Canery,", "Cannery,", False), (ONE, "“Canery's”", "“Cannery's”", False), (ONE, "canery", "Cannery", False),
        (OTHER, "Canery", "Cannery", False), (ONE, "Kanery", "Cannery", True),
    ]  # fmt: skip
    assert page.found[0].before == "Past the" and page.found[0].after == "and the “Canery's” gate. Then the Kanery"
    assert page.found[2].before.endswith("the Cannery too No") and all(f.play is not None for f in page.found)
    assert page.number == 5 and not page.remembered
    assert len(archive.spellings.same(EDITOR, "Canery", "Cannery", OTHER).found) == 1


def test_only_what_was_picked_is_changed_as_an_edit_that_can_be_undone_at_its_desk(archive: Archive, canery: None) -> None:
    before = archive.correcting.lines(EDITOR, ONE)[0]
    versions = len(archive.correcting.versions(EDITOR, ONE))
    found = archive.spellings.same(EDITOR, "Canery", "Cannery").found
    done = archive.spellings.change(EDITOR, "Cannery", picked(found[0], found[1]), "page")
    assert (done.changed, done.refused) == ({ONE: 2}, ())
    assert archive.spellings.change(EDITOR, "Cannery", picked(found[0], found[1]), "page") == done, "what comes twice counts once"
    assert texts(archive, ONE)[0] == "Past the Cannery, and the “Cannery's” gate. Then the Kanery again and the Cannery too"
    assert texts(archive, ONE)[1] == "No canery here" and texts(archive, OTHER) == ["It was the Canery that shut"]
    line = archive.correcting.lines(EDITOR, ONE)[0][0]
    assert line.state == "in work" and line.state_by == "E-01" and archive.correcting.desk(EDITOR, ONE).unsaved == 1
    assert archive.spellings.finish(EDITOR, [ONE]) == 1 and len(archive.correcting.versions(EDITOR, ONE)) == versions + 1
    archive.correcting.back_to(EDITOR, ONE, versions)
    assert [[w[:3] for w in n.words] for n in archive.correcting.lines(EDITOR, ONE)[0]] == [[w[:3] for w in n.words] for n in before]


def test_a_place_whose_words_changed_since_is_left_and_shown_again(archive: Archive, canery: None) -> None:
    found = archive.spellings.same(EDITOR, "Canery", "Cannery").found
    archive.correcting.change(replace(EDITOR, name="E-02"), OTHER, LineAct("type", (found[3].key,), "Was it the Canery that shut"), mark())
    done = archive.spellings.change(EDITOR, "Cannery", picked(found[2], found[3]), "page")
    assert done.changed == {ONE: 1} and done.refused == tuple(picked(found[3]))
    assert texts(archive, OTHER) == ["Was it the Canery that shut"]
    again = archive.spellings.same(EDITOR, "Canery", "Cannery", OTHER).found
    assert [f.before for f in again] == ["Was it the"] and again[0].key != found[3].key


def test_what_is_closed_is_not_counted_not_shown_and_not_changed(archive: Archive) -> None:
    """The cast's held recordings: embargo, seal, withdrawal; and what a keeper may open is closed here too."""
    for member in (m for m in cast.CAST if m.held):
        for viewer in (EDITOR, KEEPER):
            assert archive.spellings.offer(viewer, member.secret, member.secret.title() + "s") is None, member.code
            assert archive.spellings.same(viewer, member.secret, "Whatever").found == (), member.code
    with archive.rooms.db.read() as connection:
        sealed = recordings.by_code(connection, cast.recording_of("N-23"))
        assert sealed is not None
        keys = [k for k, *_ in custody.times_of_utterances(connection, sealed.id)]
    done = archive.spellings.change(EDITOR, "Whatever", [Picked(cast.recording_of("N-23"), keys[0], 0, 0)], "page")
    assert done.changed == {} and len(done.refused) == 1


def test_what_is_offered_after_typing(archive: Archive, canery: None) -> None:
    assert archive.spellings.offer(EDITOR, "Canery's", "Cannery's") == Offer("Canery", "Cannery", 4)
    for before, after in (("Canery", "canary"), ("Canery,", "Canery."), ("Nowhere", "Cannery"), ("the", "The"), ("Canery", ""), ("Canery", "[closed]")):
        assert archive.spellings.offer(EDITOR, before, after) is None, (before, after)
    archive.spellings.add(EDITOR, {"spelling": "canary", "kind": "other"})
    assert archive.spellings.offer(EDITOR, "Canery", "canary") == Offer("Canery", "canary", 4)


@pytest.mark.parametrize(("wrong", "right"), [("", "x"), ("x", ""), ("x", "x"), ("x", "[closed]"), ("x", "a b c d e f g"), ("…", "x")])
def test_no_change_without_two_spellings(archive: Archive, wrong: str, right: str) -> None:
    with pytest.raises(BadInput):
        archive.spellings.same(EDITOR, wrong, right)


SAID = ["canery", "the", "Canery,", "gate", "Canery's", "and", "Row.", "[canery?]", "[laughter]"]


@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_any_chosen_places_change_and_nothing_else_and_undoing_gives_back_exactly(cast_archive: Archive, data: st.DataObject) -> None:
    """Words one by one: those that were picked are the spelling now, every other one has its text, times and probability as before."""
    archive = cast_archive
    code = cast.recording_of("N-21")
    said = data.draw(st.lists(st.lists(st.sampled_from(SAID), min_size=1, max_size=9), min_size=1, max_size=3))
    right = data.draw(st.sampled_from(["Cannery", "Cannery Wharf", "old Cannery Wharf"]))
    cast.give_words(archive, code, [("N-21", cast.words_of(" ".join(line), 500 + 5000 * i)) for i, line in enumerate(said)])
    before = archive.correcting.lines(EDITOR, code)[0]
    found = [f for f in archive.spellings.same(EDITOR, "canery", right, code).found if not f.alike]
    chosen = data.draw(st.lists(st.sampled_from(found), unique=True)) if found else []
    done = archive.spellings.change(EDITOR, right, picked(*chosen), mark())
    assert sum(done.changed.values()) == len(chosen) and not done.refused
    after = archive.correcting.lines(EDITOR, code)[0]
    assert len(after) == len(before)
    for old, new in zip(before, after, strict=True):
        mine = {f.first: f for f in chosen if f.key == old.key}
        wanted: list[tuple[str, int, int] | str] = []
        for n, (text, start_ms, end_ms, _) in enumerate(old.words):
            wanted += mine[n].becomes.split() if n in mine else [(text, start_ms, end_ms)]
        assert [w if isinstance(w, str) else w[0] for w in wanted] == [w[0] for w in new.words]
        for want, got in zip(wanted, new.words, strict=True):
            assert isinstance(want, str) or want == got[:3]
        starts = [w[1] for w in new.words]
        assert starts == sorted(starts) and all(w[2] - w[1] >= 20 for w in new.words)
        assert mine or new == old
    for _ in {f.key for f in chosen}:
        archive.correcting.undo(EDITOR, code, mark())
    assert archive.correcting.lines(EDITOR, code)[0] == before


# --- what primes the engine ---------------------------------------------------------------------------------------------
def primed(archive: Archive, code: str, most: int = 40) -> list[str]:
    with archive.rooms.db.read() as connection:
        found = recordings.by_code(connection, code)
        assert found is not None
        return custody.vocabulary(connection, found.id, ["Net Row"], most, archive.rooms.context(), listed_spellings(connection))


def test_the_list_primes_the_engine_last_and_no_more_than_the_setting_says(archive: Archive) -> None:
    code = cast.recording_of("N-21")
    for spelling in ("Marigold", "cwtch", "Cannery Wheel"):
        archive.spellings.add(EDITOR, {"spelling": spelling, "heard_as": "whatever"})
    assert primed(archive, code) == ["Net Row", "Edith Quill", "Marigold", "cwtch", "Cannery Wheel"]
    assert primed(archive, code, 3) == ["Net Row", "Edith Quill", "Marigold"] and primed(archive, code, 1) == ["Net Row"]
    archive.spellings.drop(EDITOR, "Marigold")
    assert primed(archive, code) == ["Net Row", "Edith Quill", "cwtch", "Cannery Wheel"]


HIDDEN = (
    "Lena Fosse", "Fosse", "Fosse Lane", "the Lena", "Walter Brine", "Brine's yard",  # unnamed, and third parties: undecided
    "Silas Wren", "Wren's boat",  # withdrew
    "Ivor Dane",  # initials only
    "capstan", "ledger", "rudder", "ledger at the cannery",  # said in closed speech alone
)  # fmt: skip


def test_nothing_hidden_and_nothing_closed_primes_the_engine(archive: Archive) -> None:
    for spelled in (*HIDDEN, "Marigold"):
        archive.spellings.add(KEEPER, {"spelling": spelled, "kind": "ship"})
    assert set(HIDDEN) <= set(listed_of(archive))
    for code in (cast.recording_of(m.code) for m in cast.CAST):
        assert set(primed(archive, code)) & {*HIDDEN, "Marigold"} == {"Marigold"}, code


def test_a_mishearing_that_is_only_heard_in_closed_speech_keeps_its_spelling_out(archive: Archive) -> None:
    archive.spellings.add(KEEPER, {"spelling": "Rodder", "kind": "other", "heard_as": "rudder"})
    assert "Rodder" not in primed(archive, cast.recording_of("N-21"))
    archive.spellings.add(KEEPER, {"spelling": "Lanthorn", "kind": "other", "heard_as": "lantern"})
    assert "Lanthorn" in primed(archive, cast.recording_of("N-21"))


def test_what_nobody_decided_about_primes_nothing_until_it_may_stand(archive: Archive) -> None:
    code = cast.recording_of("N-21")
    cast.give_words(archive, code, [("N-21", cast.words_of("we all knew Barnaby Stoke from the yard"))])
    archive.spellings.add(EDITOR, {"spelling": "Barnaby Stoke", "kind": "person"})
    assert "Barnaby Stoke" not in primed(archive, code)
    stretches = {(s, e) for s, e, who in archive.naming.waiting(EDITOR, code) if s < 2600 and not who}
    assert stretches
    for start_ms, end_ms in stretches:
        archive.naming.decide(EDITOR, code, start_ms, end_ms, "", "public", "in the town's own book")
    assert "Barnaby Stoke" in primed(archive, code)


def test_the_names_of_people_on_record_are_never_on_the_list_itself(archive: Archive) -> None:
    archive.spellings.add(KEEPER, {"spelling": "Walter Brine", "heard_as": "Walter Bryne"})
    assert listed_of(archive) == []
    with archive.rooms.db.read() as connection:
        third = people.by_code(connection, cast.THIRD[0])
        assert third is not None
        assert "Walter Bryne" in [n.text for n in people.names(connection)[third.id]]
