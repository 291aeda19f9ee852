"""The thesaurus over the real database: kept, renamed, merged, removed, in and out as SKOS; and what decisions teach, live."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from sqlalchemy import select, update

from archive.app import Archive, Asked, Pointed
from archive.db import describing, recordings, vectors
from archive.db.tables import metadata, tag, tag_taught_by, theme_vector, theme_word_off
from archive.domain.values import Part
from archive.errors import BadInput, Clash, NotAllowed, NotFound, Refused, SheetError
from archive.rules.themes import LEARNED
from archive.services.themes import ThemeRow
from tests import cast
from tests.cast import EDITOR, KEEPER, READER
from tests.conftest import copy_of

# Each recording is one passage. "hemp" is said in three of which the theme rope is confirmed, in four that all may read; the embargoed, the withdrawn and the
# masked ones say it as well, and "gunpowder" besides.
SAID = {
    "IV-21": "The rope was hemp and the hill was steep", "IV-28": "We laid rope from hemp all winter", "IV-29": "My rope had hemp and it held",
    "IV-25": "When it is wet and the wind blows the hemp of a rope is heavy",
    "IV-22": "That rope was hemp and gunpowder", "IV-24": "Their rope was hemp and gunpowder",
    "IV-26": "Bread and soup on the stove", "IV-27": "Herring soup and bread again", "IV-31": "Bread was dear and soup was thin",
    "IV-32": "Potatoes and bread for supper", "IV-33": "Cocoa and bread at night", "IV-34": "Some hemp and oakum lay there",
}  # fmt: skip

ROPE = {"IV-21.1", "IV-25.1", "IV-28.1", "IV-29.1"}


def tags(archive: Archive, code: str, value: str = "") -> list[tuple[int, str, str, str]]:
    with archive.rooms.db.read() as connection:
        row = recordings.by_code(connection, f"{code}.1")
        assert row is not None
        return [(t.id, t.value, t.state, t.rule) for t in describing.tags_of(connection, row.id) if t.kind == "theme" and value in ("", t.value)]


def decide(archive: Archive, code: str, theme: str, state: str) -> None:
    for number, *_ in tags(archive, code, theme):
        archive.describing.decide(EDITOR, number, state)


def row(archive: Archive, name: str) -> ThemeRow:
    return archive.themes.one(EDITOR, name)


def found(archive: Archive, theme: str, viewer: cast.Viewer = EDITOR) -> set[str]:
    return {h.recording for h in archive.finding.ask(viewer, Asked(theme=theme), limit=100).hits}


@pytest.fixture(scope="module")
def made(made_cast: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The cast, who speak of rope and of food; what was suggested is confirmed."""
    base = tmp_path_factory.mktemp("themes")
    archive = Archive.open(copy_of(made_cast, base / "archive"), {}, cast.clock)
    archive.themes.write(EDITOR, {"theme": "rope", "broader": "work", "words": "rope", "scope_note": "Making it"})
    rows = ["file,interview,part,recorded_on,title,language,microphones,left,right,participants,place"]
    more = base / "more"
    more.mkdir()
    for n, code in enumerate(c for c in SAID if c > "IV-30"):
        cast.sound(more / f"{code}.wav", 6, 40 + n)
        rows.append(f"{code}.wav,{code},1,2025-02-01,,en,one,,,N-28:{Part.NARRATOR},")
    (more / "recordings.csv").write_text("\n".join(rows), encoding="utf-8")
    archive.ingest.take(EDITOR, [more])
    for code, text in SAID.items():
        speaker = f"N-{code[3:]}" if code < "IV-30" else "N-28"
        if code != "IV-24":  # nobody may listen to what was withdrawn
            cast.give_words(archive, f"{code}.1", [(speaker, cast.words_of(text))])
    for code in ("IV-21", "IV-25", "IV-28", "IV-29", "IV-22"):
        decide(archive, code, "rope", "confirmed")
    for code in ("IV-26", "IV-27", "IV-31", "IV-32", "IV-33"):
        decide(archive, code, "food and market", "confirmed")
    archive.close()
    return base / "archive"


@pytest.fixture
def archive(made: Path, tmp_path: Path) -> Iterator[Archive]:
    one = Archive.open(copy_of(made, tmp_path / "archive"), {}, cast.clock)
    yield one
    one.close()


# --- the thesaurus ------------------------------------------------------------------------------------------------------
def test_themes_stand_under_their_broader_ones_with_live_counts(archive: Archive) -> None:
    names = [(r.broader, r.name) for r in archive.themes.list(EDITOR)]
    assert names.index(("", "work")) < names.index(("work", "rope")) < names.index(("work", "wages"))
    assert row(archive, "rope").confirmed == 4, "what is embargoed is not counted"
    assert row(archive, "food and market").confirmed == 5
    archive.consent.withdraw(KEEPER, "N-21", how="letter")
    assert row(archive, "rope").confirmed == 3
    with pytest.raises(NotAllowed):
        archive.themes.list(READER)


def test_a_sheet_without_the_new_columns_leaves_what_they_hold(archive: Archive, tmp_path: Path) -> None:
    archive.themes.write(EDITOR, {"theme": "flood", "use_for": "inundation; pl: powódź", "related": "fear", "labels": "de: Hochwasser"})
    before = row(archive, "flood")
    assert (before.use_for, before.labels, before.related) == ((("", "inundation"), ("pl", "powódź")), (("de", "Hochwasser"),), ("fear",))
    assert before.words and before.broader == "water", "what was not named stays"
    media = Path(__file__).resolve().parents[2] / "sample_media"
    assert archive.themes.read(EDITOR, media / "themes.csv") == 32
    assert row(archive, "flood") == before and row(archive, "fear").related == ("flood",)


FAULTS = (
    ("theme,broader,scope_note,words\nflood,water,,\nroofs,flood,,roof\n", "row 3: “roofs”: It would stand on a third level: water → flood → roofs"),
    ("theme,broader,scope_note,words\nwater,river,,\n", "row 2: “water”: It is broader than itself: water → river → water"),
    ("theme,broader,scope_note,words\nmud,nowhere,,\n", "row 2: “mud”: “nowhere” is no theme on record"),
    ("theme,broader,scope_note,words,labels\nmud,,,,pl: a; pl: b\n", "row 2: “mud”: It has two preferred labels in the language “pl”"),
    ("theme,broader,scope_note,words,labels\nmud,,,,błoto\n", "row 2: “błoto” in “labels” has no language"),
    ("theme,broader,scope_note,words,use_for\nmud,,,,zz-zz-zz: x\n", "row 2: “use_for”"),
    ("theme,broader,scope_note,words,use_for\nmud,,,,river\n", "“river” stands for"),
    ("theme,broader,scope_note,words,related\nmud,water,,,water\n", "one of them is the broader one of the other"),
)


def test_a_sheet_with_faults_changes_nothing(archive: Archive, tmp_path: Path) -> None:
    before = archive.themes.list(EDITOR)
    path = tmp_path / "themes.csv"
    for text, says in FAULTS:
        path.write_text(text, encoding="utf-8")
        with pytest.raises(SheetError) as error:
            archive.themes.read(EDITOR, path)
        assert any(says in f for f in error.value.findings), error.value.findings
    assert archive.themes.list(EDITOR) == before


def test_another_word_for_it_finds_the_theme_and_is_suggested_by_but_never_its_name(archive: Archive) -> None:
    assert found(archive, "rope") == ROPE and found(archive, "work") > found(archive, "rope")
    archive.themes.write(EDITOR, {"theme": "rope", "use_for": "oakum; pl: lina"})
    assert found(archive, "Oakum") == found(archive, "lina") == found(archive, "rope")
    archive.describing.describe(EDITOR, "IV-34.1")
    assert [v for _, v, *_ in tags(archive, "IV-34")] == ["rope"], "oakum speaks for it now"
    key = archive.finding.keep(EDITOR, Asked(theme="oakum"))
    assert archive.finding.question(EDITOR, key).theme == "rope"
    assert ("oakum", "oakum") not in archive.finding.choices(READER)["themes"]


def test_what_is_tagged_follows_a_new_name(archive: Archive) -> None:
    key = archive.finding.keep(EDITOR, Asked(theme="rope"))
    archive.themes.rename(EDITOR, "rope", "cordage")
    assert found(archive, "cordage") == found(archive, "rope") == ROPE
    assert archive.finding.question(EDITOR, key).theme == "cordage" and row(archive, "cordage").use_for == (("", "rope"),)
    archive.themes.write(EDITOR, {"theme": "lines", "use_for": "rope", "broader": "work"}, was="cordage")
    assert row(archive, "lines").use_for == (("", "rope"), ("", "cordage")) and row(archive, "lines").confirmed == 4
    with pytest.raises(Clash):
        archive.themes.rename(EDITOR, "lines", "wages")
    archive.themes.rename(EDITOR, "work", "labour")
    assert row(archive, "lines").broader == "labour", "and narrower ones follow"


def test_a_theme_in_use_is_merged_not_removed(archive: Archive) -> None:
    before = archive.themes.list(EDITOR)
    with pytest.raises(Refused) as error:
        archive.themes.remove(EDITOR, "rope")
    assert error.value.reasons == ("5 confirmed passages are about it.",) and archive.themes.list(EDITOR) == before
    with pytest.raises(Refused) as error:
        archive.themes.remove(EDITOR, "water")
    assert error.value.reasons == ("Narrower than it: flood, river, weather.",)
    assert archive.themes.merge(EDITOR, "rope", "net making") == 5
    net = row(archive, "net making")
    assert net.confirmed == 4 and ("", "rope") in net.use_for and "rope" in net.words and found(archive, "rope") == ROPE
    archive.themes.remove(EDITOR, "dances")
    with pytest.raises(NotFound):
        row(archive, "dances")
    with pytest.raises(Refused) as error:
        archive.themes.merge(EDITOR, "water", "wages")
    assert "third level" in " ".join(error.value.reasons)
    archive.themes.merge(EDITOR, "water", "flood")
    assert row(archive, "flood").broader == "" and row(archive, "river").broader == "flood"


def test_a_theme_whose_note_was_read_for_its_meaning_goes_like_any_other(archive: Archive) -> None:
    with archive.rooms.db.write() as connection:
        vectors.keep_notes(connection, "a model", {row(archive, name).id: (name, b"\0\0") for name in ("dances", "wages", "rope")})
    archive.themes.remove(EDITOR, "dances")
    archive.themes.merge(EDITOR, "wages", "rope")
    with archive.rooms.db.read() as connection:
        assert list(connection.execute(select(theme_vector.c.theme_id)).scalars()) == [row(archive, "rope").id]


def test_merging_keeps_one_tag_of_two_and_the_confirmed_one(archive: Archive) -> None:
    archive.themes.write(EDITOR, {"theme": "cordage", "broader": "work", "words": "hill"})
    archive.describing.describe(EDITOR, "IV-21.1")
    assert sorted(v for _, v, *_ in tags(archive, "IV-21")) == ["cordage", "rope"]
    with archive.rooms.db.write() as connection:  # as if both were suggested by the very same words
        rows = [t for t in connection.execute(select(tag).where(tag.c.value.in_(("rope", "cordage")))) if t.recording_id == 1]
        connection.execute(update(tag).where(tag.c.value == "cordage").values(start_ms=rows[0].start_ms, end_ms=rows[0].end_ms))
    archive.themes.merge(EDITOR, "rope", "cordage")
    assert [(v, s) for _, v, s, _ in tags(archive, "IV-21")] == [("cordage", "confirmed")]


# --- SKOS ---------------------------------------------------------------------------------------------------------------
def test_the_thesaurus_goes_out_and_comes_in_again_unchanged(archive: Archive, tmp_path: Path) -> None:
    archive.themes.write(EDITOR, {"theme": "flood", "use_for": "inundation; pl: zalanie", "labels": "pl: powódź", "related": "fear"})
    written = archive.themes.write_skos_file(EDITOR, tmp_path / "t.ttl")
    before = archive.themes.list(EDITOR)
    assert archive.themes.read_skos_file(EDITOR, tmp_path / "t.ttl").themes == 33 and archive.themes.list(EDITOR) == before
    other = Archive.create(tmp_path / "other", KEEPER, "Other", "Other", True, {}, cast.clock)
    other.themes.read_skos(EDITOR, written.data, "t.ttl")
    without_words = [replace(r, id=0, confirmed=0, suggested=0, words=()) for r in before]
    assert [replace(r, id=0, words=()) for r in other.themes.list(EDITOR)] == without_words
    other.themes.rename(EDITOR, "flood", "the flood")
    other.themes.read_skos(EDITOR, written.data, "t.ttl")
    assert {"flood", "fear"} <= {r.name for r in other.themes.list(EDITOR)} and row(other, "the flood").name == "flood", "it is known by its URI"
    other.close()
    with pytest.raises(Clash):
        archive.themes.write_skos_file(EDITOR, tmp_path / "t.ttl")
    with pytest.raises(BadInput):
        archive.themes.write_skos_file(EDITOR, tmp_path / "t.doc")


def test_a_skos_file_with_faults_changes_nothing(archive: Archive) -> None:
    text = """@prefix skos: <http://www.w3.org/2004/02/skos/core#> . @prefix e: <http://example.org/> .
e:1 skos:prefLabel "mud" . e:2 skos:prefLabel "silt"; skos:broader e:1 . e:3 skos:prefLabel "clay"; skos:broader e:2 .
e:4 skos:prefLabel "a"; skos:broader e:5 . e:5 skos:prefLabel "b"; skos:broader e:4 ."""
    before = archive.themes.list(EDITOR)
    with pytest.raises(SheetError) as error:
        archive.themes.read_skos(EDITOR, text.encode(), "t.ttl")
    told = " ".join(error.value.findings)
    assert "mud → silt → clay" in told and "a → b → a" in told and error.value.message == "t.ttl has 3 faults."
    assert archive.themes.list(EDITOR) == before


def test_no_name_on_record_goes_out(archive: Archive) -> None:
    archive.themes.write(EDITOR, {"theme": "flood", "words": "flood; Walter Brine; boats"})
    written = archive.themes.write_skos(EDITOR, "turtle")
    assert b"boats" in written.data and b"Brine" not in written.data and written.words_left_out == 1
    archive.themes.write(EDITOR, {"theme": "flood", "scope_note": "What Walter Brine did"})
    with pytest.raises(Refused) as error:
        archive.themes.write_skos(EDITOR, "turtle")
    assert "Brine" not in error.value.message + " ".join(error.value.reasons)


def test_no_place_that_is_hidden_goes_out(archive: Archive) -> None:
    """A place that somebody hid like a name, because it would tell whose house it is."""
    archive.themes.write(EDITOR, {"theme": "flood", "words": "flood; hemp; boats"})
    said = archive.naming.occurrences(EDITOR, "IV-28.1", "hemp")
    archive.naming.decide_many(EDITOR, [Pointed.of(m, True) for m in said], "hide", kind="place")
    written = archive.themes.write_skos(EDITOR, "turtle")
    assert b"boats" in written.data and b"hemp" not in written.data and written.words_left_out == 1
    archive.themes.write(EDITOR, {"theme": "flood", "scope_note": "High water at Hemp"})
    with pytest.raises(Refused):
        archive.themes.write_skos(EDITOR, "turtle")


# --- what is learned ------------------------------------------------------------------------------------------------------
def learned(archive: Archive, theme: str = "rope") -> dict[str, tuple[str, ...]]:
    """word → the recordings that taught it, as far as it is learned."""
    return {w.spoken: tuple(code for code, _ in w.passages) for w in archive.learned.page(EDITOR, theme).words if not w.off}


def test_suggestions_improve_with_confirmations_and_what_was_learned_can_be_looked_at_and_undone(archive: Archive) -> None:
    assert learned(archive) == {"hemp": ("IV-21.1", "IV-25.1", "IV-28.1", "IV-29.1")}, "nothing of what is embargoed or withdrawn"
    assert tags(archive, "IV-34") == []
    archive.themes.write(EDITOR, {"theme": "rope", "scope_note": "Making it of oakum"})  # a note's word is not enough, and with hemp it is
    archive.describing.describe(EDITOR, "IV-34.1")
    ((_, value, state, rule),) = tags(archive, "IV-34")
    assert (value, state, rule) == ("rope", "suggested", LEARNED)
    (shown,) = [t for t in archive.recordings.page(EDITOR, "IV-34.1").tags if t.kind == "theme"]
    assert shown.evidence == "hemp, oakum" and shown.detail == "1 word that speaks for it is spoken, 1 word was learned from decisions"
    archive.learned.take_off(EDITOR, "rope", "Hemp")
    assert tags(archive, "IV-34") == [] and learned(archive) == {}, "what it suggested is gone"
    archive.describing.describe(EDITOR, "IV-34.1")
    assert tags(archive, "IV-34") == [] and [(w.spoken, w.off) for w in archive.learned.page(EDITOR, "rope").words] == [("hemp", True)]
    with pytest.raises(NotFound):
        archive.learned.take_off(EDITOR, "rope", "hemp")
    archive.learned.take_off(EDITOR, "rope", "hemp", back=True)
    assert "hemp" in learned(archive)


def test_what_somebody_rejected_is_not_suggested_again_with_more_words(archive: Archive) -> None:
    archive.themes.write(EDITOR, {"theme": "rope", "words": "rope; oakum"})
    archive.describing.describe(EDITOR, "IV-34.1")
    decide(archive, "IV-34", "rope", "rejected")
    archive.themes.write(EDITOR, {"theme": "rope", "words": "rope; oakum; lay"})
    archive.describing.describe(EDITOR, "IV-34.1")
    assert [s for *_, s, _ in tags(archive, "IV-34")] == ["rejected"]


@pytest.mark.parametrize("how", ["withdrawn", "paused", "sealed", "masked", "taken back"])
def test_what_was_learned_goes_with_what_taught_it(archive: Archive, how: str) -> None:
    archive.themes.write(EDITOR, {"theme": "rope", "scope_note": "Making it of oakum"})
    archive.describing.describe(EDITOR, "IV-34.1")
    assert [r for *_, r in tags(archive, "IV-34")] == [LEARNED] and "hemp" in learned(archive)
    if how == "withdrawn":
        archive.consent.withdraw(KEEPER, "N-29", how="letter")
    elif how == "paused":
        archive.consent.pause(EDITOR, "N-29")
    elif how == "sealed":
        archive.consent.seal(EDITOR, "IV-29.1", 1500, 2500, "asked for")
    elif how == "masked":
        archive.naming.decide(EDITOR, "IV-29.1", 1700, 2000, "", "hide")
    else:
        decide(archive, "IV-29", "rope", "suggested")
        archive.describing.describe(EDITOR, "IV-34.1")
    assert learned(archive) == {}
    assert tags(archive, "IV-34") == []


def test_nothing_of_closed_speech_is_learned_or_kept(archive: Archive) -> None:
    """Neither the page, nor the tables of what is learned hold a word of it; what is taken off is kept without the word."""
    archive.learned.take_off(EDITOR, "rope", "hemp")
    with archive.rooms.db.read() as connection:
        kept = [tuple(r) for name in ("theme_word_off", "tag_taught_by") for r in connection.execute(select(metadata.tables[name]))]
        assert len(connection.execute(select(theme_word_off)).all()) == 1
    assert "hemp" not in str(kept) and "gunpowder" not in str(kept)
    for theme in ("rope", "food and market"):
        page = archive.learned.page(KEEPER, theme)
        assert "gunpowder" not in str(page) and "IV-22" not in str(page) and "IV-24" not in str(page)


def test_names_on_record_are_not_learned(archive: Archive) -> None:
    for code, text in (("IV-21", "The rope for Otilie Crane and Ottilie was long"), ("IV-28", "A rope that Ottilie Crane had"), ("IV-29", "That rope of Ottilie Crane was ours")):
        cast.give_words(archive, f"{code}.1", [(f"N-{code[3:]}", cast.words_of(text))])
        decide(archive, code, "rope", "confirmed")
    assert not {"ottilie", "crane"} & set(learned(archive))


def test_a_run_over_all_sees_decisions_that_come_while_it_works(archive: Archive) -> None:
    archive.themes.write(EDITOR, {"theme": "rope", "scope_note": "Making it of oakum"})
    archive.describing.queue(EDITOR)
    with archive.rooms.db.read() as connection:
        assert connection.execute(select(tag_taught_by)).all() == []
    while (job := next((j for j in archive.jobs.list(EDITOR) if j.kind == "describe" and j.state == "waiting"), None)) is not None:
        archive.work.run(job.id, claimed(archive))
    (done,) = [j for j in archive.jobs.list(EDITOR) if j.kind == "describe"]
    assert done.state == "done" and "Suggested anew." in done.words
    assert [r for *_, r in tags(archive, "IV-34")] == [LEARNED]
    with archive.rooms.db.read() as connection:
        assert len(connection.execute(select(tag_taught_by)).all()) == 4


def claimed(archive: Archive) -> str:
    from archive.db import jobs

    with archive.rooms.db.write() as connection:
        assert jobs.claim(connection, "a-token", archive.rooms.seconds(), 60, archive.rooms.now()) is not None
    return "a-token"


# --- what no theme describes ----------------------------------------------------------------------------------------------
def test_passages_that_nothing_describes_are_grouped_by_their_words(archive: Archive) -> None:
    for code, speaker, text in (
        ("IV-31", "N-28", "Pigeons in a loft and Walter Brine fed them"), ("IV-33", "N-28", "His pigeons came back to the loft"), ("IV-34", "N-28", "The loft where pigeons slept"),
        ("IV-22", "N-22", "Pigeons and gunpowder in a loft"),
    ):  # fmt: skip
        decide(archive, code, "food and market", "rejected")
        cast.give_words(archive, f"{code}.1", [(speaker, cast.words_of(text))])
    page = archive.learned.missing(EDITOR)
    (group,) = [g for g in page.groups if "pigeons" in g.words]
    assert group.words[:2] in (("pigeons", "loft"), ("loft", "pigeons")) and group.number == 3
    assert {h.recording for h in group.hits} == {"IV-31.1", "IV-33.1", "IV-34.1"}
    assert "gunpowder" not in str(page) and not {"walter", "brine"} & {w for g in page.groups for w in g.words}
    archive.themes.write(EDITOR, {"theme": "pigeons", "words": "; ".join(group.words)})
    for code in ("IV-31.1", "IV-33.1", "IV-34.1"):
        archive.describing.describe(EDITOR, code)
    assert not [g for g in archive.learned.missing(EDITOR).groups if "pigeons" in g.words]


def test_an_empty_archive_and_readers(tmp_path: Path) -> None:
    empty = Archive.create(tmp_path / "empty", KEEPER, "Empty", "Empty", True, {}, cast.clock)
    assert empty.themes.list(EDITOR) == () and empty.learned.missing(EDITOR).groups == ()
    assert empty.themes.write_skos(EDITOR, "json-ld").data
    for call in (lambda: empty.learned.missing(READER), lambda: empty.learned.page(READER, "x"), lambda: empty.themes.write(READER, {"theme": "x"}), lambda: empty.themes.write_skos(READER, "turtle"), lambda: empty.themes.remove(READER, "x"), lambda: empty.themes.merge(READER, "x", "y"), lambda: empty.themes.rename(READER, "x", "y"), lambda: empty.learned.take_off(READER, "x", "y"), lambda: empty.themes.read_skos(READER, b"", "t.ttl"), lambda: empty.describing.queue(READER)):
        with pytest.raises(NotAllowed):
            call()
    empty.close()


