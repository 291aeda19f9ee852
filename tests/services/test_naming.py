"""Decisions about names: many at once, each as it was shown and heard; own words of masks; words hidden like names; the scan honours them."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from archive.app import Archive, Asked, Pointed
from archive.db import consent_rows, people, recordings
from archive.domain.agreements import AgreementForm, AgreementKind
from archive.domain.phrases import DECISIONS, NAMINGS
from archive.domain.values import Answer, Decision, Naming, RestraintKind, Role, Stretch, Viewer, Way
from archive.errors import BadInput, Clash, NotAllowed, NotFaithful, NotFound, Refused, SheetError
from archive.gate.indexing import index_recording
from tests import cast
from tests.cast import EDITOR, KEEPER, READER
from tests.gate.conftest import AddInterview, add_interview, read_by  # noqa: F401  a fixture

OTHER = Viewer("E-02", Role.EDITOR)
LINES = (
    "It was Walter Brine who mended the capstan on the slip",
    "and old Brine's boat lay by the wall",
    "Nobody saw Brine that night by the wall",
)


@pytest.fixture
def told(cast_archive: Archive, add_interview: AddInterview) -> str:  # noqa: F811
    """A recording that names P-41 three times."""
    lines, at = [], 500
    for text in LINES:
        spoken = cast.words_of(text, at)
        lines.append(("N-21", spoken))
        at = spoken[-1].end_ms + 1500
    return add_interview(cast_archive, 91, ["N-21:narrator"], lines)


def heard(archive: Archive, key: str, recording: str = "") -> list[Pointed]:
    """Every stretch of a name as it is shown, and heard."""
    return [Pointed.of(m, heard=True) for m in archive.naming.name(EDITOR, key).stretches if recording in ("", m.recording)]


def test_one_name_stands_with_all_its_stretches(cast_archive: Archive, told: str) -> None:
    groups = {g.key: g for g in cast_archive.naming.heard(EDITOR)}
    brine = groups["P-41"]
    assert (brine.number, brine.undecided, brine.recordings) == (4, 4, ("IV-21.1", told))
    assert groups["P-41"].label.startswith("P-41")
    page = cast_archive.naming.name(EDITOR, "P-41")
    mine = [m for m in page.stretches if m.recording == told]
    assert [m.said for m in mine] == ["Walter Brine", "Brine's", "Brine"]
    assert mine[1].before == "and old" and mine[1].after.startswith("boat lay")
    for m in page.stretches:
        assert m.play is not None and 0 <= m.start_ms - m.play.start_ms <= 1000 and 0 < m.play.end_ms - m.end_ms <= 1000
        assert cast_archive.recordings.sound(EDITOR, m.recording, m.play.start_ms, m.play.end_ms)[:4] == b"RIFF"
    assert any("health, crime, migration" in c for c in page.cautions)
    with pytest.raises(NotAllowed):
        cast_archive.naming.heard(READER)


def test_one_decision_serves_all_stretches(cast_archive: Archive, told: str) -> None:
    assert "Brine" not in read_by(cast_archive, READER, told)
    done = cast_archive.naming.decide_many(EDITOR, heard(cast_archive, "P-41"), "cleared", "asked him on 2 May")
    assert done == 4
    assert read_by(cast_archive, READER, told).count("Brine") == 3
    entries = [e for e in cast_archive.records.list(KEEPER, 5) if e.action == "names cleared"]
    assert len(entries) == 2
    assert "Brine" not in repr(entries)
    (group,) = [g for g in cast_archive.naming.heard(EDITOR) if g.key == "P-41"]
    assert group.undecided == 0


def test_what_was_not_heard_is_not_decided(cast_archive: Archive, told: str) -> None:
    pointed = heard(cast_archive, "P-41")
    pointed[2] = replace(pointed[2], heard=False)
    with pytest.raises(BadInput, match="heard"):
        cast_archive.naming.decide_many(EDITOR, pointed, "keep")
    assert all(m.decision == "undecided" for m in cast_archive.naming.name(EDITOR, "P-41").stretches), "all or none"
    with pytest.raises(BadInput):
        cast_archive.naming.decide_many(EDITOR, [], "hide")


def test_what_somebody_decided_meanwhile_is_not_overwritten(cast_archive: Archive, told: str) -> None:
    pointed = heard(cast_archive, "P-41")
    cast_archive.naming.decide(OTHER, told, pointed[1].start_ms, pointed[1].end_ms, "P-41", "hide")
    with pytest.raises(Clash):
        cast_archive.naming.decide_many(EDITOR, pointed, "keep")
    assert sum(m.decision == "undecided" for m in cast_archive.naming.name(EDITOR, "P-41").stretches) == 3
    with pytest.raises(Clash):
        cast_archive.naming.decide_many(EDITOR, [replace(pointed[0], end_ms=pointed[0].end_ms + 1)], "hide")
    with pytest.raises(Clash):
        cast_archive.naming.decide_many(EDITOR, [replace(pointed[0], person="N-22")], "hide")


def test_reasons_are_needed_where_a_name_goes_out(cast_archive: Archive, told: str) -> None:
    for decision in ("cleared", "public"):
        with pytest.raises(BadInput, match="Say"):
            cast_archive.naming.decide_many(EDITOR, heard(cast_archive, "P-41"), decision, "  ")
        with pytest.raises(BadInput, match="Say"):
            cast_archive.naming.decide(EDITOR, told, 500, 900, "P-41", decision)
    with pytest.raises(BadInput, match="hide"):
        cast_archive.naming.decide_many(EDITOR, heard(cast_archive, "P-41"), "keep", "", "[a neighbour]")


def test_closed_speech_is_in_nobodys_list_and_cannot_be_decided(cast_archive: Archive, told: str) -> None:
    pointed = heard(cast_archive, "P-41", told)
    cast_archive.consent.seal(EDITOR, told, pointed[0].start_ms, pointed[0].end_ms, "asked")
    assert len(heard(cast_archive, "P-41", told)) == 2
    with pytest.raises(Clash):
        cast_archive.naming.decide_many(EDITOR, pointed, "hide")


def test_what_may_not_be_heard_can_only_be_hidden(cast_archive: Archive, told: str) -> None:
    """The team may read N-21 but, from now on, not listen."""
    with cast_archive.rooms.db.write() as connection:
        person = people.by_code(connection, "N-21")
        assert person is not None
        agreement = consent_rows.add_agreement(
            connection, code="A-N-21b", person_id=person.id, kind=AgreementKind.RECORDING, form=AgreementForm.SIGNED,
            signed_on=cast.SIGNED, taken_by="K-01", language="en", by="K-01", at=cast_archive.rooms.now(),
        )  # fmt: skip
        consent_rows.add_permission(
            connection, agreement_id=agreement, use="team", way=Way.VOICE, answer=Answer.NO, by="K-01", at=cast_archive.rooms.now()
        )
    page = cast_archive.naming.name(EDITOR, "P-41")
    assert all(m.play is None for m in page.stretches)
    pointed = [Pointed.of(m, heard=False) for m in page.stretches]
    with pytest.raises(Refused, match="only be hidden"):
        cast_archive.naming.decide_many(EDITOR, pointed, "keep")
    assert cast_archive.naming.decide_many(EDITOR, pointed, "hide") == 4


# -- own words of masks ----------------------------------------------------------------------------------------------
def test_own_words_stand_wherever_the_name_was(cast_archive: Archive, told: str) -> None:
    archive = cast_archive
    archive.naming.decide_many(EDITOR, heard(archive, "P-41", told), "hide", "", "a neighbour")
    assert "It was [a neighbour] who" in read_by(archive, READER, told)
    assert "and old [neighbour]’s boat" in read_by(archive, READER, told)
    assert "Walter Brine" in read_by(archive, EDITOR, told)
    code = archive.excerpts.choose(EDITOR, told, "It was [a neighbour] who mended the capstan", "exhibition")
    assert archive.excerpts.choose(EDITOR, told, "It was [name withheld] who mended the capstan", "exhibition") == code
    assert archive.excerpts.choose(EDITOR, told, "It was Walter Brine who mended the capstan", "exhibition") == code
    with pytest.raises(NotFaithful):
        archive.excerpts.choose(EDITOR, told, "It was [a stranger] who mended the capstan", "exhibition")
    report = archive.exports.make(EDITOR, [code], "exhibition")
    assert report.files
    given = next(Path(f) for f in report.files if f.endswith("quotes.json")).read_text(encoding="utf-8")
    assert "It was [a neighbour] who mended the capstan" in given
    captions = [Path(f).read_text(encoding="utf-8") for f in report.files if f.endswith(".vtt")]
    assert all("Brine" not in c for c in captions)


def test_own_words_are_neither_found_nor_marked(cast_archive: Archive, told: str) -> None:
    archive = cast_archive
    archive.naming.decide_many(EDITOR, heard(archive, "P-41", told), "hide", "", "[a neighbour]")
    assert archive.finding.ask(READER, Asked("neighbour")).total == 0
    assert archive.finding.ask(READER, Asked('"was neighbour who"')).total == 0
    found = archive.finding.ask(READER, Asked("capstan or neighbour"))
    (hit,) = [h for h in found.hits if h.recording == told]
    assert ("capstan", True) in hit.snippet.parts
    assert not any(marked and "neighbour" in text for text, marked in hit.snippet.parts)
    assert "[a neighbour]" in " ".join(text for text, _ in hit.snippet.parts)
    assert archive.finding.ask(READER, Asked('"was who"')).total == 0, "no phrase reaches across a mask"


@pytest.mark.parametrize("words", ["Walter's friend", "a brine man", "Edith", "[N. Pell]", "Mr B-r-i-n-e", "somebody from house 7"])
def test_own_words_that_tell_a_name_are_refused(cast_archive: Archive, told: str, words: str) -> None:
    with pytest.raises(BadInput):
        cast_archive.naming.decide_many(EDITOR, heard(cast_archive, "P-41", told), "hide", "", words)
    with pytest.raises(BadInput):
        cast_archive.naming.decide(EDITOR, told, 500, 900, "", "hide", "", words)


def test_who_decides_sees_what_is_hidden_from_others(cast_archive: Archive, told: str) -> None:
    page = cast_archive.recordings.page(EDITOR, told)
    marks = {w.text: w.hidden for u in page.shown.utterances for w in u.words if w.hidden}
    assert marks == {"Walter": "undecided", "Brine": "undecided", "Brine's": "undecided"}
    cast_archive.naming.decide_many(EDITOR, heard(cast_archive, "P-41", told), "hide")
    page = cast_archive.recordings.page(KEEPER, told)
    assert {w.hidden for u in page.shown.utterances for w in u.words} == {"", "decided"}
    assert not any(w.hidden for u in cast_archive.recordings.page(READER, told).shown.utterances for w in u.words)


# -- places and descriptions -------------------------------------------------------------------------------------------
def test_words_are_hidden_like_a_name_wherever_they_are_said(cast_archive: Archive, told: str) -> None:
    archive = cast_archive
    found = archive.naming.occurrences(EDITOR, told, "by the wall")
    assert [m.said for m in found] == ["by the wall", "by the wall"] and all(m.seen == "new" and m.play for m in found)
    pointed = [Pointed.of(m, heard=False) for m in found]
    with pytest.raises(Clash):
        archive.naming.decide_many(EDITOR, pointed, "keep")  # only hiding makes something new
    assert archive.naming.decide_many(EDITOR, pointed, "hide", "", "[by the water]", "place") == 2
    assert read_by(archive, READER, told).count("[by the water]") == 2
    assert archive.finding.ask(READER, Asked('"lay by the wall"')).total == 0
    (group,) = [g for g in archive.naming.heard(EDITOR) if not g.person and g.first.kind == "place"]
    assert group.number == 2 and "wall" not in group.key
    assert len(archive.naming.name(EDITOR, group.key).stretches) == 2
    again = archive.naming.occurrences(EDITOR, told, "BY the wall’s", where="archive")
    assert [m.decision for m in again] == ["hide", "hide"]
    with pytest.raises(Clash):
        archive.naming.decide_many(EDITOR, pointed, "hide")  # they were new when they were shown


def test_only_the_chosen_words_are_hidden(cast_archive: Archive, told: str) -> None:
    archive = cast_archive
    (_, _, last) = archive.recordings.page(EDITOR, told).shown.utterances
    words = [w for w in last.words if w.text in ("by", "wall")]
    chosen = ((last.utterance_id, words[0].index), (last.utterance_id, words[1].index))
    (found,) = archive.naming.occurrences(EDITOR, told, chosen=chosen, where="here")
    assert found.start_ms == words[0].start_ms and found.end_ms == words[1].end_ms
    assert len(archive.naming.occurrences(EDITOR, told, chosen=chosen, where="recording")) == 2
    for words_asked in ("", " – ", "zeppelin"):
        with pytest.raises((BadInput, NotFound)):
            archive.naming.occurrences(EDITOR, told, words_asked)


# -- the sheet ---------------------------------------------------------------------------------------------------------
def test_the_sheet_takes_own_words_and_kinds(cast_archive: Archive, told: str, tmp_path: Path) -> None:
    archive, sheet = cast_archive, tmp_path / "mentions.csv"
    head = "file,words,person,decision,by,on,note,instead,kind\n"
    sheet.write_text(head + f"{told},Walter Brine,P-41,hide,E-01,2026-05-01,,a neighbour,\n{told},on the slip,,hide,E-01,2026-05-01,,[by the river],place\n", encoding="utf-8")
    assert archive.naming.read(EDITOR, sheet) == (2, 0)
    assert "It was [a neighbour] who mended the capstan [by the river]" in read_by(archive, READER, told)
    assert archive.naming.read(EDITOR, sheet) == (0, 0), "read twice, nothing is decided twice"
    for bad in ("Walter Brine,P-41,keep,,,,a neighbour,", "Walter Brine,P-41,hide,,,,house 7,", "Walter Brine,P-41,hide,,,,,ghost"):
        sheet.write_text(head + f"{told},{bad}\n", encoding="utf-8")
        with pytest.raises(SheetError):
            archive.naming.read(EDITOR, sheet)


# -- the scan honours decisions ----------------------------------------------------------------------------------------
def test_what_is_kept_in_one_place_passes_the_scan_there_alone(cast_archive: Archive, told: str) -> None:
    archive = cast_archive
    first = heard(archive, "P-41", told)[:1]
    archive.naming.decide_many(EDITOR, first, "keep", "his family knows")
    kept = archive.excerpts.choose(EDITOR, told, "It was Walter Brine who mended the capstan", "exhibition")
    masked = archive.excerpts.choose(EDITOR, told, "Nobody saw Brine that night", "exhibition")
    report = archive.exports.make(EDITOR, [kept, masked], "exhibition")
    given = next(Path(f) for f in report.files if f.endswith("quotes.json")).read_text(encoding="utf-8")
    assert [q["words"] for q in json.loads(given)["quotes"]] == ["It was Walter Brine who mended the capstan", "Nobody saw [name withheld] that night"]
    elsewhere = archive.excerpts.choose(EDITOR, told, "It was Walter Brine who mended", "exhibition", panel="Walter Brine")
    (refused,) = archive.exports.make(EDITOR, [elsewhere], "exhibition").refused  # kept where it is said, not in a panel's name
    assert "panel" in refused.reasons[0] and "Brine" not in refused.reasons[0]


# -- said off the record? ----------------------------------------------------------------------------------------------
@pytest.fixture
def guessed(cast_archive: Archive, told: str) -> int:
    """A stretch that our own computer closed: all of the second utterance."""
    (_, second, _) = cast_archive.recordings.page(EDITOR, told).shown.utterances
    with cast_archive.rooms.db.write() as connection:
        row = recordings.by_code(connection, told)
        assert row is not None
        hold = consent_rows.add_restraint(
            connection, kind=RestraintKind.SEALED, stretch=Stretch(row.id, second.start_ms, second.end_ms),
            from_on=cast_archive.today(), by="machine", at=cast_archive.rooms.now(), rule="“between us”",
        )  # fmt: skip
        index_recording(connection, row.id, cast_archive.rooms.context())
    return hold


def test_what_may_be_off_the_record_is_listed_without_its_words(cast_archive: Archive, told: str, guessed: int) -> None:
    (row,) = cast_archive.consent.closed(EDITOR, waiting=True)
    assert (row.hold, row.recording, row.rule, row.holds) == (guessed, told, "“between us”", True)
    assert "boat" not in read_by(cast_archive, KEEPER, told)
    assert cast_archive.finding.ask(EDITOR, Asked("boat")).total == 0
    with pytest.raises(NotAllowed):
        cast_archive.consent.closed(READER)


def test_a_keeper_opens_it_again_with_a_reason(cast_archive: Archive, told: str, guessed: int) -> None:
    with pytest.raises(NotAllowed):
        cast_archive.consent.open_again(EDITOR, guessed, "asked her")
    with pytest.raises(BadInput):
        cast_archive.consent.open_again(KEEPER, guessed, " ")
    cast_archive.consent.open_again(KEEPER, guessed, "asked her: she meant something else")
    assert "boat" in read_by(cast_archive, EDITOR, told) and cast_archive.finding.ask(EDITOR, Asked("boat")).total == 1
    assert cast_archive.consent.closed(EDITOR, waiting=True) == ()
    with pytest.raises(Clash):
        cast_archive.consent.open_again(KEEPER, guessed, "twice")


def test_a_keeper_closes_exactly_what_was_meant(cast_archive: Archive, told: str, guessed: int) -> None:
    archive = cast_archive
    opened = Viewer("K-01", Role.KEEPER, opened=True)
    (_, second, _) = archive.recordings.page(opened, told).shown.utterances
    boat, lay = (next(w for w in second.words if w.text == t) for t in ("boat", "lay"))
    with pytest.raises(BadInput):
        archive.consent.close_exactly(KEEPER, guessed, [(0, 100)], "asked her")  # somewhere else
    with pytest.raises(NotAllowed):
        archive.consent.close_exactly(EDITOR, guessed, [(boat.start_ms, lay.end_ms)], "asked her")
    archive.consent.close_exactly(KEEPER, guessed, [(boat.start_ms + 10, lay.end_ms - 10)], "asked her")
    assert "[closed] by the wall" in read_by(archive, EDITOR, told)
    assert archive.consent.closed(EDITOR, waiting=True) == ()
    (mine,) = [r for r in archive.consent.closed(EDITOR) if r.recording == told and r.holds]
    assert (mine.start_ms, mine.end_ms, mine.rule) == (boat.start_ms, lay.end_ms, "")


def test_closing_all_of_it_keeps_it_closed(cast_archive: Archive, told: str, guessed: int) -> None:
    (row,) = cast_archive.consent.closed(KEEPER, waiting=True)
    cast_archive.consent.close_exactly(KEEPER, guessed, [(row.start_ms, row.end_ms)], "asked her")
    assert "boat" not in read_by(cast_archive, KEEPER, told)


def test_a_stretch_that_was_opened_can_be_closed_again(cast_archive: Archive, told: str, guessed: int) -> None:
    (row,) = cast_archive.consent.closed(KEEPER, waiting=True)
    cast_archive.consent.open_again(KEEPER, guessed, "asked her")
    cast_archive.consent.seal(EDITOR, told, row.start_ms, row.end_ms, "she called: closed after all")
    assert "boat" not in read_by(cast_archive, EDITOR, told)


def test_every_decision_has_words() -> None:
    assert set(DECISIONS) == set(Decision) and set(NAMINGS) == set(Naming)


def test_a_name_alone_in_a_caption_passes_where_it_was_kept(cast_archive: Archive, add_interview: AddInterview) -> None:  # noqa: F811
    """Captions part sentences: then nothing stands beside the name, and the decision holds all the same."""
    said = cast.words_of("And the foreman was hard on us. Walter Brine. He lived four doors from us on the quay.")
    recording = add_interview(cast_archive, 92, ["N-21:narrator"], [("N-21", said)])
    cast_archive.naming.decide_many(EDITOR, heard(cast_archive, "P-41", recording), "public", "the town's paper of 1974")
    first = heard(cast_archive, "P-41", recording)
    cast_archive.naming.decide_many(EDITOR, first, "keep")
    code = cast_archive.excerpts.choose(EDITOR, recording, " ".join(w.text for w in said), "exhibition")
    assert cast_archive.exports.make(EDITOR, [code], "exhibition").files
