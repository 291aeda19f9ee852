"""What people decide later, on the cast: withdrawal of one way, pause, objection, seal; what left becomes tasks; others read “not available”.

The rules are those of DESIGN §5 and of CHECKS §8 (GDPR art. 7(3): withdrawal is as easy as giving and does not undo what was lawful before).
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime
from pathlib import Path

import pypdf
import pytest
from sqlalchemy import update

from archive.app import Archive, Asked, ObjectionDecision, Size, WithdrawalReport, as_json
from archive.db import recordings
from archive.db.tables import recording
from archive.domain.values import Way
from archive.errors import BadInput, Clash, ConsentMoved, NotAllowed, NotFound, SheetError
from archive.services.notes import CLOSED
from tests import cast
from tests.cast import CAST, EDITOR, KEEPER, READER
from tests.conftest import copy_of
from tests.services.test_exports import choose, meanwhile


def text_of(pdf: bytes) -> str:
    """The words of a PDF as another library reads them, on one line."""
    return " ".join(" ".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages).split())


def titled(archive: Archive, title: str) -> None:
    with archive.rooms.db.write() as connection:
        connection.execute(update(recording).where(recording.c.code == "IV-21.1").values(title=title))


def may(archive: Archive, code: str, use: str, way: Way) -> bool:
    return archive.deciding.may(KEEPER, code, use, way).allowed


@pytest.fixture(scope="module")
def out_once(made_cast: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The cast with two quotes that went out together, one of them standing in a gallery."""
    base = tmp_path_factory.mktemp("out")
    archive = cast.in_a_hurry(Archive.open(copy_of(made_cast, base / "archive"), {}, cast.clock))
    mine, other = choose(archive, "N-21"), choose(archive, "N-26")
    made = archive.exports.make(EDITOR, [mine, other], "exhibition", base / "given")
    archive.tasks.place(EDITOR, made.code, Path(made.files[0]).name, "gallery 2, panel 3", date(2026, 5, 1))
    archive.close()
    return base / "archive"


@pytest.fixture
def out(out_once: Path, tmp_path: Path) -> Iterator[Archive]:
    archive = cast.in_a_hurry(Archive.open(copy_of(out_once, tmp_path / "archive"), {}, cast.clock))
    yield archive
    archive.close()


# --- one way ------------------------------------------------------------------------------------------------------------


def test_one_way_is_withdrawn_and_the_others_stay(out: Archive) -> None:
    assert may(out, "N-21", "exhibition", Way.VOICE)
    report = out.consent.withdraw(KEEPER, "N-21", way=Way.VOICE, how="rang on Monday")
    assert "as voice" in report.scope and report.excerpts_flagged == ("EX-1",)
    assert not may(out, "N-21", "exhibition", Way.VOICE) and may(out, "N-21", "exhibition", Way.WORDS)
    words = " ".join(out.deciding.may(KEEPER, "EX-1", "exhibition", Way.VOICE).sentences)
    assert "N-21 withdrew everything, with the voice heard" in words
    after = out.exports.make(EDITOR, ["EX-1"], "exhibition")
    assert after.taken == ("EX-1",) and not [f for f in after.files if f.endswith(".wav")] and after.withheld
    assert [o.recall for o in report.already_out] == [(("EX-1", "The voice may not be heard any more as it went out."),)]
    assert out.finding.ask(READER, Asked("lantern")).total == 1, "its words are still found"
    line = next(h.words for h in out.people.page(KEEPER, "N-21").restraints)
    assert line == "withdrawn: everything as voice, from 1 June 2026"
    assert out.people.page(KEEPER, "N-21").row.state == "agreement in force; in part withdrawn"


def test_a_picture_that_is_withdrawn_stops_no_work(out: Archive) -> None:
    out.transcribing.queue(EDITOR, "IV-21.1")
    report = out.consent.withdraw(KEEPER, "N-21", way=Way.PICTURE)
    assert report.jobs_stopped == 0 and report.excerpts_flagged == ()
    assert out.consent.withdraw(KEEPER, "N-21", way=Way.WORDS).jobs_stopped == 1, "our own computer makes words of a voice"


def test_a_pause_can_be_for_one_use_or_stretch_and_ends_by_a_keeper(out: Archive) -> None:
    report = out.consent.pause(EDITOR, "N-21", "asked for a week", use="exhibition")
    letter = text_of(out.ending_letters.of_hold(KEEPER, "N-21", report.hold).data)
    assert "what else you allowed stays as it was" in letter and "Our own computer" not in letter and "deleted" not in letter, "nothing that was not done"
    assert report.excerpts_flagged == ("EX-1",) and not may(out, "N-21", "exhibition", Way.WORDS) and may(out, "N-21", "web", Way.WORDS)
    with pytest.raises(NotAllowed):
        out.consent.lift(EDITOR, report.hold, "they said so", person="N-21")
    out.consent.lift(KEEPER, report.hold, "they said so on 3 June", person="N-21")
    assert may(out, "N-21", "exhibition", Way.WORDS)


# --- what left becomes tasks --------------------------------------------------------------------------------------------


def test_what_left_becomes_tasks_with_where_it_stands(out: Archive) -> None:
    report = out.consent.withdraw(KEEPER, "N-21", how="letter")
    assert report.tasks == 2 and report.panels == ()
    hanging, files = sorted(out.tasks.list(KEEPER), key=lambda t: not t.where)
    assert hanging.where == "gallery 2, panel 3" and "Take it down" in hanging.what and hanging.person == "N-21"
    assert "Call back" in files.what and files.export == "OUT-0001" and any(f.endswith(".wav") for f in files.files)
    assert [p.where for p in report.already_out[0].places] == ["gallery 2, panel 3"]
    letter = text_of(out.ending_letters.of_hold(KEEPER, "N-21", report.hold).data)
    assert "Our own computer has stopped" in letter and "Copies that we had made for listening are deleted" in letter
    (for_editors,) = [t for t in out.tasks.list(EDITOR) if t.number == hanging.number]
    assert (for_editors.person, for_editors.hold) == ("", 0), "whose hold it was is a keeper's"
    out.tasks.tick(EDITOR, hanging.number, "taken down by the caretaker")
    (row,) = out.exports.register(EDITOR)
    assert row.places[0].down_on == date(2026, 6, 1)
    assert [t.note for t in out.tasks.list(KEEPER, done=True)] == ["taken down by the caretaker"]
    with pytest.raises(Clash):
        out.tasks.tick(EDITOR, hanging.number)
    assert out.consent.withdraw(KEEPER, "N-21", use="web").tasks == 0, "what waits already is not asked for twice"
    with pytest.raises(NotFound):
        out.tasks.place(EDITOR, "OUT-0001", "another.docx", "gallery 1")
    with pytest.raises(BadInput):
        out.tasks.place(EDITOR, "OUT-0001", hanging.what.split(": ")[1].split(". Take")[0], " ")


def test_a_withdrawal_from_elsewhere_makes_no_task(out: Archive) -> None:
    assert out.consent.withdraw(KEEPER, "N-28", how="letter").tasks == 0
    assert out.consent.withdraw(KEEPER, "N-21", use="web").tasks == 0, "it left for the exhibition"


@pytest.mark.parametrize("what", ["one way", "objection"])
def test_an_export_that_runs_meanwhile_is_refused_at_its_end(out: Archive, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, what: str) -> None:
    """In words, sound, files: nothing is given, and no half of it is left where it was put together."""
    changes: dict[str, Callable[[], object]] = {
        "one way": lambda: out.consent.withdraw(KEEPER, "N-21", way=Way.VOICE),
        "objection": lambda: out.consent.object(EDITOR, "P-41", "rang", "IV-21.1@0:01-0:03"),
    }
    meanwhile(out, monkeypatch, changes[what])
    with pytest.raises(ConsentMoved):
        out.exports.make(EDITOR, ["EX-1"], "exhibition", tmp_path / "never")
    assert not (tmp_path / "never").exists() and len(out.exports.register(EDITOR)) == 1
    assert not list((out.folder / ".staging").glob("*/*"))


# --- others read "not available" ----------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def gone(out_once: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Archive, WithdrawalReport]]:
    """N-21 withdrew everything after a quote went out; N-26 thinks it over; somebody objected to what N-28 says."""
    folder = copy_of(out_once, tmp_path_factory.mktemp("gone") / "archive")
    archive = cast.in_a_hurry(Archive.open(folder, {}, cast.clock))
    archive.notes.write(KEEPER, {"about": "IV-21", "remarks": "she spoke of the lantern, and withdrew"})
    report = archive.consent.withdraw(KEEPER, "N-21", how="letter of 30 May")
    archive.consent.pause(EDITOR, "N-26", "wants a week")
    archive.consent.object(EDITOR, "P-41", "it is about me", "IV-28.1@0:01-0:03")
    yield archive, report
    archive.close()


def _told_to(archive: Archive, viewer: cast.Viewer) -> str:
    """All that lists and pages tell somebody of the team, as JSON."""
    pages = [archive.people.page(viewer, m.code) for m in CAST]
    return as_json(
        [
            archive.people.list(viewer), pages, archive.consent.closed(viewer), archive.excerpts.list(viewer), archive.exports.register(viewer),
            archive.tasks.list(viewer), archive.due.list(viewer, 36_000), archive.jobs.list(viewer), archive.notes.page(viewer),
            archive.consent.objections(viewer), archive.recordings.list(viewer),
            [archive.deciding.may(viewer, m.code, "exhibition", way) for m in CAST for way in Way],
        ]
    )  # fmt: skip


def test_editors_are_not_told_who_withdrew_who_thinks_it_over_who_objected(gone: tuple[Archive, WithdrawalReport]) -> None:
    archive, _ = gone
    archive.transcribing.queue(EDITOR, "IV-21.1")
    told = _told_to(archive, EDITOR)
    assert "not available" in told
    for word in ("withdr", "paused", "to think", "wants a week", "letter of 30 May", "it is about me", '"objected"', "held by an objection"):
        assert word not in told, word
    assert "withdr" in _told_to(archive, KEEPER)


def test_found_by_nobody_and_heard_by_nobody(gone: tuple[Archive, WithdrawalReport]) -> None:
    archive, report = gone
    assert report.excerpts_flagged == ("EX-1",)
    for viewer in cast.VIEWERS:
        assert archive.finding.ask(viewer, Asked("lantern")).total == 0
        page = archive.recordings.page(viewer, "IV-21.1")
        assert all(u.closed for u in page.shown.utterances) and not page.shown.playable
        assert {why for *_, why in page.closed} == {"not available"}


def test_the_letter_confirms_what_was_done_and_says_what_cannot_be_undone(gone: tuple[Archive, WithdrawalReport]) -> None:
    archive, report = gone
    archive.letters.say(KEEPER, "N-21", {"called": "Mrs Quill", "address": "3 Ropewalk\nTarnwick", "language": "en"}, ["plain_envelope"], True)
    made = archive.ending_letters.of_hold(KEEPER, "N-21", report.hold, Size.LETTER)
    told = text_of(made.data)
    for words in (
        "Dear Mrs Quill", "1 June 2026 you withdrew everything", "cannot leave any more: 1", "OUT-0001", "gallery 2, panel 3", "We go after it.",
        "cannot be called back", "not legal advice",
    ):  # fmt: skip
        assert words in told, (words, told)
    assert "Quill" not in made.name and "lantern" not in told and made.notes, "plain outside, and no word of what was said"
    width, height = (round(float(x)) for x in pypdf.PdfReader(io.BytesIO(made.data)).pages[0].mediabox[2:])
    assert (width, height) == (612, 792), "US Letter: 8.5 × 11 in (ANSI/ASME Y14.1)"
    with pytest.raises(NotAllowed):
        archive.ending_letters.of_hold(EDITOR, "N-21", report.hold)
    with pytest.raises(NotFound):
        archive.ending_letters.of_hold(KEEPER, "N-26", report.hold)


# --- objections ---------------------------------------------------------------------------------------------------------


def test_an_objection_holds_lists_and_is_decided_once(out: Archive) -> None:
    report = out.consent.object(EDITOR, "P-41", "rang: that was not me", "")
    assert report.passages and all(p.startswith("IV-21.1@") for p in report.passages), "the utterance that names him"
    assert report.excerpts_flagged == ("EX-1",) and report.tasks == 2 and not may(out, "EX-1", "exhibition", Way.WORDS)
    (row,) = out.consent.objections(KEEPER)
    assert (row.person, row.how, row.decision, row.holding) == ("P-41", "rang: that was not me", "", 1)
    assert "not decided" not in text_of(out.ending_letters.of_objection(KEEPER, row.number).data)
    for viewer in (EDITOR, READER):
        with pytest.raises(NotAllowed):
            out.consent.decide_objection(viewer, row.number, ObjectionDecision.ENDED, "so")
    with pytest.raises(BadInput):
        out.consent.decide_objection(KEEPER, row.number, ObjectionDecision.ENDED, "  ")
    second = out.consent.object(EDITOR, "N-27", "me too", report.passages[0])
    out.consent.decide_objection(KEEPER, row.number, ObjectionDecision.ENDED, "He is named in the town's own history.")
    assert not may(out, "EX-1", "exhibition", Way.WORDS), "another objection still holds the same words"
    with pytest.raises(Clash):
        out.consent.decide_objection(KEEPER, row.number, ObjectionDecision.HELD, "no, it stays")
    out.consent.decide_objection(KEEPER, second.objection, ObjectionDecision.HELD, "It can hurt her.")
    assert not may(out, "EX-1", "exhibition", Way.WORDS)
    told = text_of(out.ending_letters.of_objection(KEEPER, row.number).data)
    assert "1 June 2026" in told and "not held any longer" in told and "town's own history" in told
    assert "Quill" not in told and "IV-21" not in told, "who said it is not told"


def test_an_objection_stops_our_own_computer_and_deletes_copies(out: Archive) -> None:
    out.transcribing.queue(EDITOR, "IV-21.1")
    with out.rooms.db.read() as connection:
        sha256 = recordings.master_of(connection, recordings.named(connection, "IV-21.1").id).sha256
    half = out.rooms.derived.begin(sha256)
    half.write_bytes(b"sound")
    out.rooms.derived.settle(half, sha256)
    assert out.rooms.derived.find(sha256) is not None
    assert out.consent.object(EDITOR, "P-41", "rang").jobs_stopped >= 1
    assert out.rooms.derived.find(sha256) is None


def test_who_is_on_no_record_is_put_there_first(out: Archive) -> None:
    with pytest.raises(NotFound) as told:
        out.consent.object(EDITOR, "P-99", "rang")
    assert "people add" in told.value.remedy
    with pytest.raises(NotFound, match="Nothing on record names"):
        out.consent.object(EDITOR, "N-27", "rang")
    assert out.consent.objections(KEEPER) == ()


# --- seals --------------------------------------------------------------------------------------------------------------


def test_a_seal_takes_title_counts_notes_and_tags_along(out: Archive) -> None:
    titled(out, "The lantern of Net Row")
    code = out.notes.write(EDITOR, {"about": "IV-21.1", "remarks": "the lantern!", "in_the_room": "nobody"})
    whole = out.recordings.page(EDITOR, "IV-21.1")
    out.consent.seal(EDITOR, "IV-21.1", 500, 2000, "she asked", date(2039, 12, 31))  # "We carried the lantern"
    page = out.recordings.page(EDITOR, "IV-21.1")
    assert [why for *_, why in page.closed] == ["closed through 31 December 2039"]
    read = " ".join(w.text for u in page.shown.utterances for w in u.words if not w.closed)
    assert "lantern" not in read and "held the rope for us" in read, "a passage half sealed gives only its open words"
    assert page.row.title == "[closed through 31 December 2039]" and page.row.words == whole.row.words - 4
    assert out.recordings.page(READER, "IV-21.1").row.title == page.row.title
    assert out.recordings.page(KEEPER, "IV-21.1").row.title == "The lantern of Net Row"
    note = out.notes.one(EDITOR, code)
    assert note.closed and note.remarks == "" and note.cautions == (CLOSED,) and out.notes.one(KEEPER, code).remarks == "the lantern!"
    with pytest.raises(SheetError):
        out.notes.write(EDITOR, {"code": code, "about": "IV-21.1", "remarks": ""}, whole=True)
    assert out.notes.one(KEEPER, code).remarks == "the lantern!", "nothing is lost"
    assert "closed through 31 December 2039: IV-21.1" in out.people.page(EDITOR, "N-21").restraints[0].words
    (row,) = [r for r in out.excerpts.list(EDITOR) if r.code == "EX-1"]
    assert row.shown is None and row.note == ""


def test_a_title_of_what_is_open_stays(out: Archive) -> None:
    titled(out, "Walking down Net Row")
    out.consent.seal(EDITOR, "IV-21.1", 500, 1800, "she asked")
    assert out.recordings.page(EDITOR, "IV-21.1").row.title == "Walking down Net Row"


def test_a_seal_until_an_event_and_a_longer_one_on_the_same_stretch(out: Archive) -> None:
    out.consent.seal(EDITOR, "IV-21.1", 500, 2000, "asked", date(2030, 12, 31))
    out.consent.seal(EDITOR, "IV-21.1", 500, 2000, "asked again", date(2039, 12, 31))
    out.consent.seal(EDITOR, "IV-21.1", 500, 2000, "asked again", date(2039, 12, 31))
    out.consent.seal(EDITOR, "IV-21.1", 500, 2000, "and so", None, "the life of N-21 and five years")
    mine = [r for r in out.consent.closed(KEEPER) if r.recording == "IV-21.1"]
    assert [(r.until, r.event) for r in mine] == [
        (date(2030, 12, 31), ""), (date(2039, 12, 31), ""), (None, "the life of N-21 and five years"),
    ]  # fmt: skip
    with pytest.raises(BadInput):
        out.consent.seal(EDITOR, "IV-21.1", 500, 2000, "asked", date(2026, 5, 31))
    with pytest.raises(BadInput):
        out.consent.seal(EDITOR, "IV-21.1", 500, 2000, "asked", None, "x" * 201)


def test_a_look_before_the_end_opens_nothing_later(out: Archive) -> None:
    """CHECKS §8: an embargo's end means review, not automatic release. A review of years before its end is none of its end."""
    out.consent.seal(EDITOR, "IV-21.1", 500, 2000, "asked", date(2030, 12, 31))
    (hold,) = [r.hold for r in out.consent.closed(KEEPER) if r.recording == "IV-21.1"]
    with pytest.raises(BadInput, match="not come to its end"):
        out.consent.lift(KEEPER, hold, "looked at it", reviewed=True, person="N-21")
    out.consent.lift(KEEPER, hold, "looked at it", kept=True, person="N-21")
    out.close()
    later = Archive.open(out.folder, {}, lambda: datetime(2031, 1, 1, 12, tzinfo=UTC))
    assert next(r.holds for r in later.consent.closed(KEEPER) if r.hold == hold), "its end passed, and nobody reviewed it"
    later.consent.lift(KEEPER, hold, "it is over", reviewed=True, person="N-21")
    assert not next(r.holds for r in later.consent.closed(KEEPER) if r.hold == hold)
    later.close()

