"""Ways round the gate that were tried and are closed: by use, by time, by spelling, by place, by what is left out."""

from __future__ import annotations

import json
import unicodedata
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from archive.app import Archive, Asked
from archive.db import people, recordings, runs
from archive.domain.cleared import ForbiddenName
from archive.domain.values import Decision, Role, Viewer, Way
from archive.errors import BadInput, Clash, NotFaithful, NotFound, Refused, SheetError
from archive.gate import custody
from archive.gate.forbidden import forbidden_names
from archive.gate.scan_match import Matcher
from archive.services.naming import Pointed
from tests import cast
from tests.cast import EDITOR, KEEPER, READER
from tests.gate.conftest import AddInterview, Later, read_by

OPENED = Viewer("K-01", Role.KEEPER, opened=True)
PEOPLE = "code,full,first,family,initials,attribution,voice,review,pseudonym\n"


def people_sheet(archive: Archive, folder: Path, *rows: str) -> None:
    path = folder / "people.csv"
    path.write_text(PEOPLE + "\n".join(rows) + "\n", encoding="utf-8")
    archive.people.read(KEEPER, path)


def name_at(archive: Archive, recording: str, said: str) -> tuple[int, int]:
    """Where these words stand in a recording."""
    page = archive.recordings.page(OPENED, recording)
    words = [w for u in page.shown.utterances for w in u.words]
    first = next(n for n in range(len(words)) if " ".join(w.text for w in words[n : n + len(said.split())]) == said)
    return words[first].start_ms, words[first + len(said.split()) - 1].end_ms


def quotes_of(files: tuple[str, ...]) -> str:
    (path,) = [Path(f) for f in files if f.endswith("quotes.json")]
    return path.read_text(encoding="utf-8")


# -- uses ----------------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("use", ["team", "machine", "reading_room", "transfer"])
def test_what_stays_inside_leaves_for_nobody(cast_archive: Archive, use: str) -> None:
    """No record means no: a use of the house itself spares review and the voice's wish, so nothing leaves for it."""
    code = cast_archive.excerpts.choose(EDITOR, "IV-26.1", "Under the tarpaulin we slept", "exhibition")
    report = cast_archive.exports.make(EDITOR, [code], use)
    assert report.files == () and not report.code
    assert "stays inside" in report.refused[0].reasons[0]
    assert cast_archive.exports.register(EDITOR) == ()


# -- names and time ------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("decision", [Decision.CLEARED, Decision.PUBLIC])
def test_a_cleared_name_goes_when_its_person_goes(cast_archive: Archive, decision: Decision) -> None:
    archive = cast_archive
    archive.naming.decide(EDITOR, "IV-21.1", *name_at(archive, "IV-21.1", "Walter Brine"), "P-41", decision, "letter of 2 May")
    code = archive.excerpts.choose(EDITOR, "IV-21.1", "We carried the lantern down Net Row in 1968 and Walter Brine held", "exhibition")
    assert "Walter Brine" in read_by(archive, READER, "IV-21.1")
    assert "Walter Brine" in quotes_of(archive.exports.make(EDITOR, [code], "exhibition").files)
    archive.consent.withdraw(KEEPER, "P-41", how="call")
    assert "Brine" not in read_by(archive, READER, "IV-21.1")
    assert archive.finding.ask(READER, Asked("Brine")).total == 0, "the index follows in the same transaction"
    assert "Brine" not in quotes_of(archive.exports.make(EDITOR, [code], "exhibition").files)


def test_a_running_server_hears_of_a_wish_that_somebody_else_wrote(cast_archive: Archive, tmp_path: Path) -> None:
    """Find keeps consent records between questions: what the command line writes beside it counts at the next one."""
    running, beside = (Archive.open(cast_archive.folder, {}, Later(1)) for _ in range(2))
    asked = Asked("lantern")
    assert [h.speakers for h in running.finding.ask(READER, asked).hits] == [("Edith Quill",)]
    people_sheet(beside, tmp_path, "N-21,Edith Quill,Edith,Quill,,unnamed,as_recorded,not_wanted,")
    found = running.finding.ask(READER, asked)
    assert found.total == 1 and "Quill" not in str(found)
    beside.consent.withdraw(KEEPER, "N-21", how="call")
    assert running.finding.ask(READER, asked).total == 0
    running.close(), beside.close()


def test_a_later_wish_counts_more_than_what_was_cleared_before(cast_archive: Archive, tmp_path: Path, add_interview: AddInterview) -> None:
    archive = cast_archive
    code = add_interview(archive, 80, ["N-21:narrator"], [("N-21", cast.words_of("then Greta Holm came in"))])
    archive.naming.decide(EDITOR, code, *name_at(archive, code, "Greta Holm"), "N-27", "cleared", "asked her")
    assert "Greta Holm" in read_by(archive, READER, code)
    archive.close()
    archive = Archive.open(archive.folder, {}, Later(1))
    people_sheet(archive, tmp_path, "N-27,Greta Holm,Greta,Holm,,unnamed,as_recorded,not_wanted,")
    assert "Holm" not in read_by(archive, READER, code)
    archive.close()
    archive = Archive.open(archive.folder, {}, Later(2))
    archive.naming.decide(EDITOR, code, *name_at(archive, code, "Greta Holm"), "N-27", "cleared", "asked her again")
    assert "Greta Holm" in read_by(archive, READER, code), "decided anew, after the wish"
    archive.close()


def test_who_withdraws_is_not_named_by_those_who_talk_on(cast_archive: Archive, add_interview: AddInterview) -> None:
    archive = cast_archive
    lines = [("N-21", cast.words_of("and Greta Holm sat beside me")), ("N-27", cast.words_of("so I did", 9000))]
    code = add_interview(archive, 81, ["N-21:narrator", "N-27:narrator"], lines)
    assert "Greta Holm" in read_by(archive, READER, code), "who takes part is named as they wish"
    archive.consent.withdraw(KEEPER, "N-27", how="letter")
    assert "Holm" not in read_by(archive, READER, code)
    hold = archive.people.page(KEEPER, "N-27")
    assert "withdrawn" in hold.row.state


def test_an_objection_holds_what_names_the_person(cast_archive: Archive) -> None:
    """DESIGN §5: objection by someone spoken about, held at once until decided."""
    archive = cast_archive
    code = archive.excerpts.choose(EDITOR, "IV-21.1", "We carried the lantern", "exhibition")
    report = archive.consent.object(EDITOR, "P-41", "call")
    assert code in report.excerpts_flagged
    assert archive.finding.ask(EDITOR, Asked("lantern")).total == 0
    assert "lantern" not in read_by(archive, EDITOR, "IV-21.1")
    refused = archive.exports.make(EDITOR, [code], "exhibition").refused
    assert any("not available" in line for line in refused[0].reasons)
    for page in (archive.people.page(KEEPER, "P-41"), archive.people.page(KEEPER, "N-21")):  # who objected, and whose words they are
        assert any(h.kind == "objected" and h.holds for h in page.restraints)
    (hold,) = [h for h in archive.people.page(KEEPER, "P-41").restraints if h.kind == "objected"]
    archive.consent.lift(KEEPER, hold.id, "we spoke; she agrees", person="P-41")
    assert archive.finding.ask(EDITOR, Asked("lantern")).total == 1


def test_a_file_in_the_house_is_no_way_round_a_withdrawal(cast_archive: Archive) -> None:
    """What was given stays on record and is marked to be taken down; it is not handed out again."""
    archive = cast_archive
    code = archive.excerpts.choose(EDITOR, "IV-21.1", "We carried the lantern", "exhibition")
    out = archive.exports.make(EDITOR, [code], "exhibition")
    assert archive.exports.file(EDITOR, out.code, "DRAFT-wall-text.docx").is_file()
    assert archive.exports.register(EDITOR)[0].recall == ()
    report = archive.consent.withdraw(KEEPER, "N-21", how="letter")
    (row,) = archive.exports.register(EDITOR)
    assert [c for c, _ in row.recall] == [code] and "not available" in row.recall[0][1] and report.already_out[0].recall == row.recall
    with pytest.raises(Refused) as refusal:
        archive.exports.file(EDITOR, out.code, "DRAFT-wall-text.docx")
    assert code in refusal.value.reasons[0]


def test_a_person_may_be_asked_about_by_the_names_that_are_printed(cast_archive: Archive) -> None:
    """All their interviews together; a use by its code, its label, or with hyphens."""
    may = cast_archive.deciding.may
    assert may(EDITOR, "N-21", "exhibition", Way.WORDS).allowed
    for use in ("listening post", "listening-post", "Listening_Post"):
        assert may(EDITOR, "N-26", use, Way.VOICE).sentences == may(EDITOR, "N-26", "listening_post", Way.VOICE).sentences
    refused = may(EDITOR, "N-24", "exhibition", Way.WORDS)
    assert not refused.allowed and not any("withdrew" in s for s in refused.sentences)
    assert any("withdrew" in s for s in may(KEEPER, "N-24", "exhibition", Way.WORDS).sentences)


# -- whose words ---------------------------------------------------------------------------------------------------------
def test_a_corrected_speaker_is_the_one_who_is_named(cast_archive: Archive, add_interview: AddInterview) -> None:
    archive = cast_archive
    said = cast.words_of("the foreman stole the coal money")
    recording = add_interview(archive, 82, ["N-21:narrator", "N-25:narrator"], [("N-21", said)])
    code = archive.excerpts.choose(EDITOR, recording, "the foreman stole the coal money", "exhibition")
    (utterance,) = archive.recordings.page(EDITOR, recording).shown.utterances
    archive.recordings.assign(EDITOR, recording, {utterance.utterance_id: "N-25"})
    given = json.loads(quotes_of(archive.exports.make(EDITOR, [code], "exhibition").files))
    assert "Edith Quill" not in json.dumps(given) and "Name withheld" in json.dumps(given)
    (row,) = [r for r in archive.excerpts.list(EDITOR) if r.code == code]
    assert row.shown is not None and "N-21" not in " ".join(row.shown.speakers)


def test_words_of_nobody_in_particular_bear_no_name(cast_archive: Archive, add_interview: AddInterview) -> None:
    recording = add_interview(cast_archive, 83, ["N-21:narrator", "N-25:narrator"], [(None, cast.words_of("somebody put the lamp out"))])
    code = cast_archive.excerpts.choose(EDITOR, recording, "somebody put the lamp out", "exhibition")
    given = quotes_of(cast_archive.exports.make(EDITOR, [code], "exhibition").files)
    assert "Name withheld" in given and "Quill" not in given


# -- what is told beside the words ---------------------------------------------------------------------------------------
def test_a_reckoning_is_not_for_readers(cast_archive: Archive, add_interview: AddInterview) -> None:
    """ "born 1940, aged 10" is for the team alone; beside an unnamed narrator not even the date is told (test_pointing_held_back)."""
    recording = add_interview(cast_archive, 84, ["N-21:narrator"], [("N-21", cast.words_of("When I was ten we moved to the hill."))])
    told = {role: [t.detail for t in cast_archive.recordings.page(role, recording).tags if t.kind == "date"] for role in (EDITOR, READER)}
    assert any("1940" in d for d in told[EDITOR]) and told[READER] == [""] * len(told[EDITOR])


def test_who_is_named_in_closed_speech_is_closed_too(cast_archive: Archive) -> None:
    archive = cast_archive
    start_ms, end_ms = name_at(archive, "IV-21.1", "Walter Brine")
    assert [w[2] for w in archive.naming.waiting(EDITOR, "IV-21.1")] == ["P-41"]
    archive.consent.seal(EDITOR, "IV-21.1", start_ms, end_ms, "asked")
    assert archive.naming.waiting(EDITOR, "IV-21.1") == ()
    assert [w[2] for w in archive.naming.waiting(OPENED, "IV-21.1")] == ["P-41"]


def test_evidence_that_reaches_into_closed_speech_counts_on_neither_side(cast_archive: Archive, add_interview: AddInterview) -> None:
    archive = cast_archive
    said = cast.words_of("we stood and sang by Lower Quay all night")
    recording = add_interview(archive, 85, ["N-21:narrator"], [("N-21", said)])
    asked = Asked("stood", speaker="N-21")
    assert ("Lower Quay", 1) in archive.finding.ask(EDITOR, asked).facets["place"]
    quay = said[6]
    archive.consent.seal(EDITOR, recording, quay.start_ms, quay.end_ms, "asked")
    left = archive.finding.ask(EDITOR, asked)
    assert left.total == 1 and left.facets.get("place", ()) == ()


def test_a_closed_turn_does_not_tell_who_spoke(cast_archive: Archive) -> None:
    (closed,) = cast_archive.recordings.page(READER, "IV-24.1").shown.utterances
    assert closed.closed and closed.speaker == "" and closed.speaker_code == ""


def test_readers_cannot_narrow_to_somebody_unnamed(cast_archive: Archive) -> None:
    assert cast_archive.finding.ask(EDITOR, Asked(speaker="N-25")).total == 1
    assert cast_archive.finding.ask(READER, Asked(speaker="N-25")).total == 0


def test_one_closed_recording_does_not_hold_up_the_others(cast_archive: Archive) -> None:
    waiting, closed, _ = cast_archive.describing.describe(EDITOR)
    assert waiting > 0 and closed == ("IV-24.1",)
    with pytest.raises(Refused):
        cast_archive.describing.describe(EDITOR, "IV-24.1")


# -- closed stretches inside what somebody says ----------------------------------------------------------------------------
def test_a_closed_stretch_leaves_a_mark_and_no_new_sentence(cast_archive: Archive) -> None:
    archive = cast_archive
    start_ms, end_ms = name_at(archive, "IV-21.1", "Net Row")
    archive.consent.seal(EDITOR, "IV-21.1", start_ms, end_ms, "asked")
    for viewer in (KEEPER, EDITOR, READER):
        assert "down [closed] in" in read_by(archive, viewer, "IV-21.1")
    page = archive.recordings.page(KEEPER, "IV-21.1")
    assert [(s, e) for s, e, _ in page.closed] == [(start_ms, end_ms)] and page.sealed_here
    with pytest.raises(NotFaithful):
        archive.excerpts.choose(EDITOR, "IV-21.1", "We carried the lantern down in 1968", "exhibition")
    code = archive.excerpts.choose(EDITOR, "IV-21.1", "We carried the lantern down […] in 1968", "exhibition")
    given = quotes_of(archive.exports.make(EDITOR, [code], "exhibition").files)
    assert "lantern down […] in 1968" in given and "Net Row" not in given


def test_words_beside_a_closed_stretch_are_chosen_by_their_own_number(cast_archive: Archive) -> None:
    archive = cast_archive
    archive.consent.seal(EDITOR, "IV-21.1", *name_at(archive, "IV-21.1", "Net Row"), "asked")
    (said,) = archive.recordings.page(EDITOR, "IV-21.1").shown.utterances
    last = next(w for w in said.words if w.text == "1968")
    first = next(w for w in said.words if w.text == "in")
    code = archive.excerpts.choose_words(EDITOR, "IV-21.1", said.utterance_id, first.index, said.utterance_id, last.index, "exhibition")
    (row,) = [r for r in archive.excerpts.list(EDITOR) if r.code == code]
    assert row.shown is not None and row.shown.words == "in 1968"
    with pytest.raises(Refused):
        archive.excerpts.choose_words(EDITOR, "IV-21.1", said.utterance_id, 0, said.utterance_id, last.index, "exhibition")


def test_a_withdrawn_stretch_takes_whole_words_in_sound_too(cast_archive: Archive) -> None:
    archive = cast_archive
    start_ms, end_ms = name_at(archive, "IV-21.1", "lantern")
    archive.consent.withdraw(KEEPER, "N-21", stretch=f"IV-21.1@{start_ms + 160}-{end_ms + 700}", how="call")
    playable = archive.recordings.page(READER, "IV-21.1").shown.playable
    assert not any(p.start_ms < end_ms and start_ms < p.end_ms for p in playable)


# -- spellings -----------------------------------------------------------------------------------------------------------
DISGUISED = (
    "Fosse", "Fosse's", "Fosses", "FOSSE", "Fosse-Quill", "LenaFosse", "Fo\u00adsse", "“Fosse”", "Fosse/Quill", "non-Fosse", "F.O.S.S.E.",
    "Fos-se", "Mrs.Fosse", "Fosse:", "Fosse_Lena", "Fosse...Lena", "Fosse&Sons", "Fosse,Lena", "McFosse", "O'Lena", "F O S S E", "L F", "LF",
    "L.F.", "Lena", "Lena's", "fosse-like",
)  # fmt: skip


@pytest.mark.parametrize("said", DISGUISED)
def test_what_the_scan_would_refuse_is_hidden_on_the_page(cast_archive: Archive, add_interview: AddInterview, said: str) -> None:
    """One leak is enough: whatever the last scan takes for a hidden name, readers do not read either."""
    recording = add_interview(cast_archive, 86, ["N-21:narrator"], [("N-21", cast.words_of(f"so {said} went"))])
    shown = read_by(cast_archive, READER, recording)
    assert "[name withheld]" in shown
    with cast_archive.rooms.db.read() as connection:
        assert Matcher(forbidden_names(people.names(connection))).first_hit(shown) is None


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_no_spelling_of_a_hidden_name_passes(cast_archive: Archive, data: st.DataObject) -> None:
    """Every string of these letters and signs: what the scan refuses, the mask covers."""
    with cast_archive.rooms.db.read() as connection:
        names = forbidden_names(people.names(connection))
    matcher = Matcher(names)
    name = data.draw(st.sampled_from([n.text for n in names]))
    made = unicodedata.normalize(data.draw(st.sampled_from(["NFC", "NFD"])), name)
    made = data.draw(st.sampled_from([made, made.upper(), made.replace(" ", "_"), made.replace(" ", ".")]))
    made = data.draw(st.sampled_from(["", "Mrs.", "“", "(", "non-"])) + made + data.draw(st.sampled_from(["", "'s", "s", "&Co", ",and", "…", ")"]))
    words = ["so", *made.split(), "went"]
    covered = {n for first, last in matcher.places(words) for n in range(first, last + 1)}
    left = " ".join("[name withheld]" if n in covered else w for n, w in enumerate(words))
    assert matcher.first_hit(left) is None


def test_of_two_people_of_one_name_the_stricter_scan_counts(cast_archive: Archive, tmp_path: Path) -> None:
    head = "code,full,family,attribution,voice,review,scan\n"
    sheet = tmp_path / "people.csv"
    sheet.write_text(head + "P-60,Ann Marl,Marl,unnamed,not_heard,wanted,always\nP-61,Bo Marl,Marl,unnamed,not_heard,wanted,as_name\n", encoding="utf-8")
    cast_archive.people.read(KEEPER, sheet)
    with cast_archive.rooms.db.read() as connection:
        assert ForbiddenName("Marl", as_name=False) in forbidden_names(people.names(connection))


# -- codes and pseudonyms ------------------------------------------------------------------------------------------------
def test_a_code_that_holds_a_name_is_refused(cast_archive: Archive, tmp_path: Path) -> None:
    """Codes stand in addresses, hits and lists."""
    cast.sound(tmp_path / "a.wav", 1, 3)
    (tmp_path / "recordings.csv").write_text("file,interview,part\na.wav,Lena-Fosse,1\n", encoding="utf-8")
    with pytest.raises(SheetError) as told:
        cast_archive.ingest.take(EDITOR, [tmp_path])
    assert any("name" in line for line in told.value.findings)


def test_a_pseudonym_that_is_somebodys_name_is_refused(cast_archive: Archive, tmp_path: Path) -> None:
    with pytest.raises(SheetError):
        people_sheet(cast_archive, tmp_path, "N-70,Ada Birk,Ada,Birk,,pseudonym,as_recorded,not_wanted,Lena Fosse")
    people_sheet(cast_archive, tmp_path, "N-70,Ada Birk,Ada,Birk,,pseudonym,as_recorded,not_wanted,Ruta")


# -- echoes --------------------------------------------------------------------------------------------------------------
def test_an_echo_of_a_primed_name_is_doubtful_until_somebody_heard_it(cast_archive: Archive, add_interview: AddInterview) -> None:
    """DESIGN §8: a word that matches a primed name stays doubtful until a person heard it."""
    archive = cast_archive
    recording = add_interview(archive, 87, ["N-21:narrator"], [])
    with archive.rooms.db.write() as connection:
        row = recordings.by_code(connection, recording)
        assert row is not None
        run = runs.add_run(
            connection, job_id=None, recording_id=row.id, engine="given", model="given", model_sha256="0" * 64, language="en",
            vocabulary=["Net Row", "Edith Quill"], options={}, by="machine", at=archive.rooms.now(),
        )  # fmt: skip
        said = cast.words_of("Edith went down Net Row in a row boat")
        custody.keep_machine_text(connection, row.id, run, [(None, said)], "machine", archive.rooms.now())

    def doubtful() -> list[str]:
        return [w.text for u in archive.recordings.page(EDITOR, recording).shown.utterances for w in u.words if w.doubtful]

    assert doubtful() == ["Edith", "Net", "Row"]
    code = archive.excerpts.choose(EDITOR, recording, "went down Net Row in a", "exhibition")
    archive.excerpts.tick_heard(EDITOR, code)
    assert doubtful() == ["Edith"]


# -- found by a second attack: deciding, panels, what went out ------------------------------------------------------------
def test_a_name_is_not_shown_by_who_may_not_read_it(cast_archive: Archive) -> None:
    """Neither where it stands in a seal, nor on limits that nobody was shown, nor by a form that is out of date."""
    archive = cast_archive
    start, end = name_at(archive, "IV-21.1", "Walter Brine")
    with pytest.raises(NotFound):
        archive.naming.decide(EDITOR, "IV-21.1", 0, 14_000, "P-41", "keep")
    archive.naming.decide(KEEPER, "IV-21.1", start, end, "P-41", "hide")
    with pytest.raises(Clash):
        archive.naming.decide(EDITOR, "IV-21.1", start, end, "P-41", "keep", waiting=True)
    archive.consent.seal(KEEPER, "IV-21.1", start - 900, end + 900, "asked for")
    for instead in ("", "[Walter]", "[a neighbour]"):
        with pytest.raises(NotFound):
            archive.naming.decide(EDITOR, "IV-21.1", start, end, "P-41", "hide", "", instead)
    with pytest.raises(NotFound):
        archive.naming.decide(EDITOR, "IV-21.1", start, end, "P-41", "keep")


def test_a_sheet_shows_only_the_words_that_stand_in_it_and_overrules_nobody(cast_archive: Archive, tmp_path: Path) -> None:
    archive = cast_archive
    sheet = tmp_path / "mentions.csv"
    sheet.write_text("file,words,decision\nIV-21.wav,1968 and Walter,keep\n", encoding="utf-8")
    archive.naming.read(EDITOR, sheet)
    assert "Brine" not in read_by(archive, READER, "IV-21.1")
    archive.naming.decide(KEEPER, "IV-21.1", *name_at(archive, "IV-21.1", "Walter Brine"), "P-41", "hide")
    sheet.write_text("file,words,decision\nIV-21.wav,Walter Brine,keep\n", encoding="utf-8")
    with pytest.raises(SheetError, match="fault"):
        archive.naming.read(EDITOR, sheet)


@pytest.mark.parametrize("panel", ["Walter Brine\u2019s kitchen", "Edith Quill\u2019s neighbour", "The kettle", "N-25, at home"])
def test_a_panel_names_nobody_beside_a_quote(cast_archive: Archive, panel: str) -> None:
    """What another item of the same export may say does not count for this one; what is hidden here does, a code too."""
    archive = cast_archive
    archive.naming.decide_many(EDITOR, [Pointed.of(m, True) for m in archive.naming.occurrences(EDITOR, "IV-25.1", "the kettle")], "hide")
    named = archive.excerpts.choose(EDITOR, "IV-21.1", "We carried the lantern", "exhibition")
    beside = archive.excerpts.choose(EDITOR, "IV-25.1", "when the flood came up Ropewalk", "exhibition", panel=panel)
    report = archive.exports.make(EDITOR, [named, beside], "exhibition")
    assert [r.excerpt for r in report.refused] == [beside] and "panel" in report.refused[0].reasons[0]


def test_what_went_out_is_not_handed_out_once_a_name_in_it_is_hidden(cast_archive: Archive) -> None:
    archive = cast_archive
    place = name_at(archive, "IV-21.1", "Walter Brine")
    archive.naming.decide(EDITOR, "IV-21.1", *place, "P-41", "keep")
    code = archive.excerpts.choose(EDITOR, "IV-21.1", cast.QUOTES["N-21"], "exhibition")
    out = archive.exports.make(EDITOR, [code], "exhibition")
    assert archive.exports.register(EDITOR)[0].recall == ()
    archive.naming.decide(EDITOR, "IV-21.1", *place, "P-41", "hide")
    assert [c for c, _ in archive.exports.register(EDITOR)[0].recall] == [code]
    with pytest.raises(Refused):
        archive.exports.file(EDITOR, out.code, "DRAFT-wall-text.docx")


def test_a_folder_s_name_names_nobody(cast_archive: Archive, tmp_path: Path) -> None:
    code = cast_archive.excerpts.choose(EDITOR, "IV-21.1", "We carried the lantern", "exhibition")
    with pytest.raises(BadInput) as told:
        cast_archive.exports.make(EDITOR, [code], "exhibition", tmp_path / "Lena Fosse texts")
    assert "Fosse" not in told.value.message and not (tmp_path / "Lena Fosse texts").exists()


def test_a_second_tick_is_for_the_use_it_was_asked_for(cast_archive: Archive) -> None:
    archive = cast_archive
    code = archive.excerpts.choose(EDITOR, "IV-25.1", "when the flood came up Ropewalk", "exhibition")
    archive.excerpts.tick_heard(EDITOR, code)
    assert archive.excerpts.tick_second(KEEPER, code, "nobody")
    assert not archive.exports.make(EDITOR, [code], "exhibition").draft
    assert archive.exports.make(EDITOR, [code], "press").draft
