"""Erasure: nothing of it is left in any byte of the folder, whatever is killed when; what others said stays; what lies outside is told.

Sources: the order of steps and what lies where is SEARCH.md's list of traps (measured there); that a withdrawal of consent must be as easy
as giving it and that erasure is an act of its own: GDPR art. 7(3) and 17 [2nd hand, CHECKS §8]. SHA-256 and SQLite do the checking.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import sqlite3
import sys
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
import soundfile
from PIL import Image

from archive.app import Archive, Asked
from archive.db import recordings
from archive.db.session import FILE_NAME, Database
from archive.domain.values import Role, Viewer, Way
from archive.errors import BadInput, Clash, Erasing, NotAllowed, NotFound, Refused, SheetError
from archive.services import erasing_steps
from tests import cast
from tests.cast import EDITOR, KEEPER, PASSWORD, READER
from tests.conftest import copy_of

SECOND = Viewer("K-02", Role.KEEPER)
GONE, NAME = "N-25", "Lena Fosse"  # whose speech is erased: alone in IV-25.1, with N-21 in IV-30.1
THEIRS = "I never told a soul that it was my own brother who opened the sluice gate on that night"
OTHERS = "We all knew the marigold would stop and nobody said so until the bridge stood there finished"
BOTH_MS = 20_000
LATER = cast.words_of(THEIRS, 9_000)


@pytest.fixture(scope="module")
def full_once(made_cast: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The cast, with one narrator in every corner in which a person leaves something."""
    base = tmp_path_factory.mktemp("erasing")
    archive = cast.in_a_hurry(Archive.open(copy_of(made_cast, base / "archive"), {}, cast.clock))
    archive.accounts.add(KEEPER, SECOND.name, "keeper", PASSWORD)
    card = base / "card"
    card.mkdir()
    rng = np.random.default_rng(7)
    noise = (0.2 * rng.standard_normal((cast.RATE_HZ * BOTH_MS // 1000, 2))).clip(-1, 1)
    soundfile.write(card / "both.wav", (noise * 32767).astype(np.int16), cast.RATE_HZ, subtype="PCM_16")
    (card / "both.xml").write_text(f"<note>{NAME} and a neighbour</note>", encoding="utf-8")
    rows = ["file,interview,part,recorded_on,title,participants", f"both.wav,IV-30,1,2025-02-01,{NAME} and Edith Quill,N-21:narrator;{GONE}:narrator"]
    (card / "recordings.csv").write_text("\n".join(rows), encoding="utf-8")
    archive.ingest.take(EDITOR, [card])
    cast.give_words(archive, "IV-30.1", [("N-21", cast.words_of(OTHERS)), (GONE, LATER)])
    mine = archive.excerpts.choose(EDITOR, "IV-25.1", cast.QUOTES[GONE], "exhibition")
    too = archive.excerpts.choose(EDITOR, "IV-30.1", THEIRS, "exhibition", panel="The flood")
    other = archive.excerpts.choose(EDITOR, "IV-30.1", OTHERS, "exhibition")
    for code in (mine, too, other):
        archive.excerpts.tick_heard(EDITOR, code)
    archive.exports.make(EDITOR, [mine], "exhibition", base / "outside")
    archive.tasks.place(EDITOR, "OUT-0001", next(p.name for p in (base / "outside").glob("*.docx")), "gallery 2, panel 3")
    archive.exports.make(EDITOR, [mine, other], "exhibition")
    cast.translate(archive, "IV-25.1", f"Przekład: {cast.QUOTES[GONE]}")
    wall = archive.lists.make(EDITOR, "Wall")
    archive.lists.keep(EDITOR, wall, "IV-25.1", 0, 4_000, f"ask {NAME} about the kettle")
    archive.lists.keep(EDITOR, wall, "IV-21.1", 0, 4_000, f"as {NAME} says")
    archive.questions.save(EDITOR, archive.finding.keep(EDITOR, Asked(NAME)), "Lena", team=True)
    archive.notes.write(EDITOR, {"about": "IV-21", "remarks": f"{NAME} looked in"})
    archive.glossary.write(EDITOR, {"word": "winch", "language": "en", "meanings": "a crank", "source": f"{GONE}, IV-25.1"})
    archive.spellings.add(KEEPER, {"spelling": f"{NAME}'s boat", "kind": "ship", "heard_as": "Lena Foss boat"})
    Image.fromarray(rng.integers(0, 255, (900, 700), dtype=np.uint8)).save(base / f"{NAME}.png")
    archive.papers.attach(KEEPER, base / f"{NAME}.png", f"A-{GONE}")
    Image.fromarray(rng.integers(0, 255, (900, 700), dtype=np.uint8)).save(base / "undertaking.png")
    archive.papers.attach(KEEPER, base / "undertaking.png", archive.papers.form(EDITOR, GONE, "interpreter").reference)  # an agreement never comes of it
    archive.letters.say(KEEPER, GONE, {"called": f"Ms {NAME}", "address": "3 Kettle Lane\nTarnwick"}, [], False)
    archive.letters.say(KEEPER, "N-21", {"address": f"c/o {NAME}\n9 Gull Steps", "how": f"call when {NAME} is out"}, [], False)
    archive.second_place.choose(KEEPER, base / "second")
    archive.copies.make(KEEPER)
    archive.rooms.derived.root.mkdir()
    for code in ("IV-25.1", "IV-30.1"):  # where a copy for listening lies: any bytes will do
        sound = master_of(archive, code)
        shutil.copy2(sound, archive.rooms.derived.root / f"{sound.stem}.opus")
    archive.close()
    return base


@pytest.fixture(scope="module")
def erased_once(full_once: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same after the erasure, and `backup`, the folder as it was before."""
    base = tmp_path_factory.mktemp("erased")
    opened(full_once, base).close()
    copy_of(base / "archive", base / "backup")
    archive = Archive.open(base / "archive", {}, cast.clock)
    archive.erasures.carry_out(KEEPER, agreed(archive))
    archive.close()
    return base


@pytest.fixture
def full(full_once: Path, tmp_path: Path) -> Iterator[Archive]:
    """A copy of it, with a second place of its own."""
    archive = opened(full_once, tmp_path)
    yield archive
    archive.close()


def opened(base: Path, to: Path) -> Archive:
    copy_of(base / "archive", to / "archive")
    shutil.copytree(base / "second", to / "second")
    moved(to / "archive", to / "second")
    return cast.in_a_hurry(Archive.open(to / "archive", {}, cast.clock))


def moved(folder: Path, second: Path) -> None:
    """The second place's own path is on record."""
    with sqlite3.connect(folder / FILE_NAME) as raw:
        (text,) = raw.execute("SELECT value FROM fact WHERE key = 'second_place'").fetchone()
        raw.execute("UPDATE fact SET value = ? WHERE key = 'second_place'", (json.dumps(json.loads(text) | {"path": str(second)}),))
    raw.close()


def agreed(archive: Archive, target: str = GONE, paper: str = "destroy", whole: bool = False) -> str:
    code = archive.erasures.ask(KEEPER, target, "a letter of 1 May", paper, whole)
    archive.erasures.second(SECOND, code, PASSWORD)
    return code


def raw_bytes(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def letters(data: bytes) -> str:
    """Bytes read as words alone, by rules of this test's own."""
    return " ".join(re.findall(r"[a-z]+", data.decode("latin-1").lower()))


def left_of(folders: list[Path], sound: bytes) -> list[str]:
    """Where anything of the erased person is found: their name, ten words in a row, 4 KiB of their sound at any place in a file."""
    wanted = [letters(t.encode()) for t in (cast.QUOTES[GONE], THEIRS)]
    runs = {" ".join(t.split()[n : n + 10]) for t in wanted for n in range(len(t.split()) - 9)}
    blocks = [sound[n : n + 4096] for n in range(4096, len(sound) - 4096, 4096)]
    found = []
    for folder in folders:
        for name, data in raw_bytes(folder).items():
            said = letters(data)
            if "lena fosse" in said or "fosse" in data.decode("latin-1").lower():
                found.append(f"name in {name}")
            if any(run in said for run in runs) or b"kettle" in data.lower() or b"sluic" in data.lower():
                found.append(f"words in {name}")
            if any(block in data for block in blocks):
                found.append(f"sound in {name}")
    return found


def master_of(archive: Archive, code: str) -> Path:
    with archive.rooms.db.read() as connection:
        master = recordings.master_of(connection, recordings.named(connection, code).id)
    return archive.rooms.masters.path(master.sha256, master.extension)


def master_bytes(archive: Archive, code: str) -> bytes:
    return master_of(archive, code).read_bytes()


def test_nothing_of_a_person_is_left_in_any_byte_and_others_stay(full_once: Path, erased_once: Path, tmp_path: Path) -> None:
    """The whole folder and the second place, before and after. Of a talk with another narrator the other's words, sound and quote stay."""
    (tmp_path / "was").mkdir()
    as_it_was = opened(full_once, tmp_path / "was")
    alone, both = master_bytes(as_it_was, "IV-25.1"), master_bytes(as_it_was, "IV-30.1")
    as_it_was.close()
    before = left_of([full_once / "archive", full_once / "second"], alone)
    for what in ("name in archive.sqlite", "words in archive.sqlite", "sound in masters", "sound in access", "name in companions", "words in given/OUT-0002"):
        assert any(f.startswith(what) for f in before), (what, before)
    assert left_of([erased_once / "archive", erased_once / "second"], alone) == []
    assert list((full_once / "archive" / "papers").rglob("*.png")) and not list((erased_once / "archive" / "papers").rglob("*.png")), "destroyed, as was asked"
    assert not (erased_once / "archive" / "given" / "OUT-0002").exists(), "a file with their words in the archive's own folder goes whole"
    full = Archive.open(copy_of(erased_once / "archive", tmp_path / "archive"), {}, cast.clock)
    page = full.erasures.page(KEEPER, "ER-1")
    assert full.erasures.search(KEEPER, [NAME]) == ()
    assert full.records.check(KEEPER) == () and full.copies.check(KEEPER).faults == ()
    assert page.row.state == "done" and [g.recording for g in page.going] == ["IV-25.1", "IV-30.1"] and page.going[1].stretches

    # -- the other narrator
    said = full.recordings.page(KEEPER, "IV-30.1")
    assert OTHERS.split()[0] in str(said) and "sluice" not in str(said)
    assert [e.code for e in full.excerpts.list(KEEPER)] == ["EX-3"]
    assert full.finding.ask(EDITOR, Asked("marigold")).total == 1 and full.finding.ask(KEEPER, Asked("brother")).total == 0
    new, _ = soundfile.read(silenced(full, "IV-30.1"), dtype="int16")
    old = np.frombuffer(both[-new.nbytes :], dtype="<i2").reshape(new.shape)
    first, last = (cast.words_of(OTHERS)[n] for n in (0, -1))
    fade = 20 * cast.RATE_HZ // 1000
    at, to = first.start_ms * cast.RATE_HZ // 1000, last.end_ms * cast.RATE_HZ // 1000
    assert np.array_equal(new[at + fade : to - fade], old[at + fade : to - fade]), "every other sample is as it was"
    assert not new[:at].any() and not new[to:].any(), "exact zeros elsewhere: where nobody speaks counts as everybody's"

    # -- what is told of it afterwards
    told = " ".join(t.words for t in page.tasks)
    for outside in ("OUT-0001", "outside", "gallery 2, panel 3", "Memory cards", "Field notebooks", "mail", "designed", "Players", "Deposits", "backups", "SSD", "Signed papers"):
        assert outside in told, outside
    assert {r.export for r in full.exports.register(KEEPER)} == {"OUT-0001", "OUT-0002"}
    assert full.people.page(KEEPER, GONE).row.state == "erased on 1 June 2026"
    with pytest.raises(NotFound, match="erased on"):
        full.recordings.page(KEEPER, "IV-25.1")
    with pytest.raises(NotFound):
        full.excerpts.tick_heard(EDITOR, "EX-1")
    full.close()


def silenced(archive: Archive, code: str) -> Path:
    with archive.rooms.db.read() as connection:
        master = recordings.master_of(connection, recordings.named(connection, code).id)
        assert master.made_from and master.sha256 != master.made_from, "its lineage is on record"
    return master_of(archive, code)


# -- kill -9 ------------------------------------------------------------------------------------------------------------
def killed_at(folder: Path, arm: Callable[[pytest.MonkeyPatch, Callable[[], None]], None], begin: str = "") -> None:
    """A process of its own opens the archive (or begins the erasure `begin`) and is killed where `arm` puts it."""
    child = os.fork()
    if child == 0:
        try:
            patch = pytest.MonkeyPatch()
            arm(patch, lambda: os.kill(os.getpid(), signal.SIGKILL))
            archive = Archive.open(folder, {}, cast.clock)
            if begin:
                archive.erasures.carry_out(KEEPER, begin)
        finally:
            os._exit(3)
    _, status = os.waitpid(child, 0)
    assert os.WIFSIGNALED(status) and os.WTERMSIG(status) == signal.SIGKILL, f"it was not killed there: {status}"


def after_step(n: int) -> Callable[[pytest.MonkeyPatch, Callable[[], None]], None]:
    def arm(patch: pytest.MonkeyPatch, kill: Callable[[], None]) -> None:
        real = erasing_steps.Steps.__init__

        def made(self: erasing_steps.Steps, *given: object) -> None:
            real(self, *given[:3], lambda step: kill() if step == n else None)  # type: ignore[arg-type]

        patch.setattr(erasing_steps.Steps, "__init__", made)

    return arm


def before(target: object, name: str, after: bool = False) -> Callable[[pytest.MonkeyPatch, Callable[[], None]], None]:
    """Killed just before something is done, or (`after`) just after."""

    def arm(patch: pytest.MonkeyPatch, kill: Callable[[], None]) -> None:
        real = getattr(target, name)

        def act(*given: object, **named: object) -> object:
            if after:
                real(*given, **named)
            kill()
            raise AssertionError

        patch.setattr(target, name, act)

    return arm


@pytest.mark.skipif(sys.platform == "win32", reason="no fork")
def test_killed_anywhere_it_goes_on_and_leaves_nothing(full: Archive, tmp_path: Path) -> None:
    """One erasure, killed after each step that was committed and in the middle of each: whatever opens the archive next goes on."""
    alone = master_bytes(full, "IV-25.1")
    code = agreed(full)
    full.close()
    folder = full.folder
    kills = [
        after_step(1), before(erasing_steps, "make_silenced", after=True), after_step(2), before(erasing_steps.erasing, "scrub", after=True), after_step(3),
        before(erasing_steps, "describe_recording", after=True), after_step(4), before(erasing_steps.Masters, "erase", after=True), after_step(5),
        before(Database, "write_anew", after=True), after_step(6), before(erasing_steps.erasedlist, "write", after=True), after_step(7),
        before(erasing_steps.remains, "search"), after_step(8),
    ]  # fmt: skip
    for n, arm in enumerate(kills):
        killed_at(folder, arm, code if n == 0 else "")
        assert (folder / ".erasing").exists(), "it is closed until it is done"
        assert re.search(r"step \d of 8", (folder / ".erasing").read_text(encoding="utf-8"))
    archive = Archive.open(folder, {}, cast.clock)
    page = archive.erasures.page(KEEPER, code)
    assert page.row.state == "done" and not list(folder.glob(".erasing*"))
    assert left_of([folder, tmp_path / "second"], alone) == []
    assert archive.records.check(KEEPER) == () and archive.copies.check(KEEPER).faults == ()
    assert archive.finding.ask(EDITOR, Asked("marigold")).total == 1
    archive.close()


# -- backups ------------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("where", ["folder", "second place", "by hand"])
def test_a_backup_of_before_is_erased_again_before_it_opens(erased_once: Path, tmp_path: Path, where: str) -> None:
    """The list that travels with backups holds ids and checksums; it is found beside the database, in the second place, or given by hand."""
    kept = erased_once / "archive" / "erased.json"
    told = kept.read_text(encoding="utf-8")
    assert GONE in told and NAME not in told and "brother" not in told
    assert told == (erased_once / "second" / "erased.json").read_text(encoding="utf-8")
    backup = copy_of(erased_once / "backup", tmp_path / "backup")
    alone = next(data for name, data in raw_bytes(backup).items() if name.startswith("masters/") and name.split("/")[-1].split(".")[0] == json.loads(told)["erased"][0]["parts"][0]["sha256"])
    if where == "folder":
        shutil.copy2(kept, backup)
    if where != "second place":
        moved(backup, tmp_path / "unplugged")
    restored = Archive.open(backup, {}, cast.clock)
    if where == "by hand":
        assert restored.people.page(KEEPER, GONE).row.name == NAME, "nobody could know: its list and its second place are elsewhere"
        assert restored.erasures.apply(KEEPER, kept) == 1
        assert restored.erasures.apply(KEEPER, kept) == 0
    assert left_of([backup], alone) == [] and restored.erasures.search(KEEPER, [NAME]) == ()
    assert [(r.target, r.state) for r in restored.erasures.list(KEEPER)] == [(GONE, "done")]
    assert restored.finding.ask(EDITOR, Asked("marigold")).total == 1 and restored.records.check(KEEPER) == ()
    restored.close()


def test_a_list_of_another_archive_is_refused(full: Archive, tmp_path: Path) -> None:
    (tmp_path / "erased.json").write_text(json.dumps({"archive": "f" * 64, "erased": [{"mark": "1"}]}), encoding="utf-8")
    with pytest.raises(Clash, match="not|no list"):
        full.erasures.apply(KEEPER, tmp_path / "erased.json")
    (tmp_path / "second" / "erased.json").write_text((tmp_path / "erased.json").read_text(encoding="utf-8"), encoding="utf-8")
    full.close()
    again = Archive.open(full.folder, {}, cast.clock)
    assert again.erasures.list(KEEPER) == ()
    again.close()


# -- who, and when ------------------------------------------------------------------------------------------------------
def test_it_waits_for_a_second_keeper_or_for_some_days_and_holds_meanwhile(full_once: Path, tmp_path: Path) -> None:
    """14 days (a setting of this project); the keeper who asked cannot be the second one, nor can an editor."""
    archive = opened(full_once, tmp_path)
    code = archive.erasures.ask(KEEPER, GONE, "a letter", "keep")
    assert archive.erasures.page(KEEPER, code).due_on == cast.TODAY.date() + timedelta(days=14)
    assert not archive.deciding.may(KEEPER, GONE, "exhibition", Way.WORDS).allowed
    assert [r.person for r in archive.due.list(KEEPER, 14) if r.kind == "erasure"] == [GONE] and not [r for r in archive.due.list(KEEPER, 13) if r.kind == "erasure"]
    for attempt in (lambda: archive.erasures.carry_out(KEEPER, code), lambda: archive.erasures.carry_out(SECOND, code)):
        with pytest.raises(Refused) as refused:
            attempt()
        assert "15 June 2026" in refused.value.reasons[0]
    for who, password in ((KEEPER, PASSWORD), (Viewer("somebody", Role.KEEPER), PASSWORD), (SECOND, "not the password")):
        with pytest.raises(NotAllowed):
            archive.erasures.second(who, code, password)
    for who in (EDITOR, READER):
        with pytest.raises(NotAllowed):
            archive.erasures.carry_out(who, code)
    with pytest.raises(Clash, match="asked for already"):
        archive.erasures.ask(KEEPER, GONE, "again", "keep")
    archive.erasures.take_back(KEEPER, code, "she called")
    with pytest.raises(Clash, match="taken back"):
        archive.erasures.carry_out(KEEPER, code)
    later = archive.erasures.ask(KEEPER, GONE, "a second letter", "keep", whole=True)
    archive.close()
    archive = Archive.open(archive.folder, {}, lambda: cast.TODAY + timedelta(days=14))
    assert archive.erasures.carry_out(KEEPER, later).row.state == "done", "on the day itself"
    assert list((archive.folder / "papers").rglob("*.png")), "the paper is kept, as was asked"
    archive.close()


def test_nobody_reads_or_writes_meanwhile_and_a_reader_holds_it_up(full: Archive, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two keepers at once; another process that opens it; a transaction that stays open."""
    code = agreed(full, whole=True)
    told = []

    def others(step: int) -> None:
        with pytest.raises(Erasing) as busy:
            Archive.open(full.folder, {}, cast.clock)
        told.append(busy.value.message)

    full.erasures.after = others
    other = Database(full.folder / FILE_NAME)
    with sqlite3.connect(full.folder / FILE_NAME) as reader:
        reader.execute("BEGIN")
        reader.execute("SELECT count(*) FROM person").fetchone()
        monkeypatch.setattr(erasing_steps, "TRIES", 1)
        with pytest.raises(Erasing, match="still reads"):
            full.erasures.carry_out(KEEPER, code)
        with pytest.raises(Erasing, match="step 6 of 8"), other.read():
            pass
        reader.rollback()
    reader.close()
    assert len(told) == 5 and "step 1 of 8" in told[0]
    full.close()
    archive = Archive.open(full.folder, {}, cast.clock)
    assert archive.erasures.page(KEEPER, code).row.state == "done"
    with other.read():
        pass
    other.close()
    archive.close()


# -- what else it must be ------------------------------------------------------------------------------------------------
def test_a_stretch_goes_alone_and_the_other_quote_of_the_same_utterance_stays(full: Archive) -> None:
    """Words and sound of exactly that; numbers of the words behind it move, and so do the excerpts that pin them."""
    words = cast.words_of(cast.QUOTES["N-28"])
    end = full.excerpts.choose(EDITOR, "IV-28.1", "it sang all the same", "exhibition")
    start = full.excerpts.choose(EDITOR, "IV-28.1", "We greased the windlass", "exhibition")
    page = full.erasures.carry_out(KEEPER, agreed(full, f"IV-28.1@{words[1].start_ms}-{words[3].end_ms}", "keep"))
    assert page.going[0].recording == "IV-28.1" and "Signed papers" not in " ".join(t.words for t in page.tasks)
    rows = {e.code: e for e in full.excerpts.list(KEEPER)}
    assert start not in rows and "it sang all the same" in str(rows[end])
    sound, _ = soundfile.read(silenced(full, "IV-28.1"), dtype="int16")
    per_ms = cast.RATE_HZ // 1000
    assert not sound[words[1].start_ms * per_ms : words[3].end_ms * per_ms].any() and sound[words[6].start_ms * per_ms :].any()
    assert full.people.page(KEEPER, "N-28").row.name == "Ottilie Crane"


def test_a_master_that_cannot_be_read_does_not_keep_the_archive_closed(full: Archive) -> None:
    """What was begun ends: nothing of its sound is left, and that is told."""
    damaged = master_of(full, "IV-30.1")
    damaged.unlink()
    damaged.write_bytes(b"RIFF")
    page = full.erasures.carry_out(KEEPER, agreed(full, "IV-30.1@9000-12000", "keep"))
    assert page.row.state == "done" and any("could not be read" in t.words for t in page.tasks)
    sound, rate = soundfile.read(silenced(full, "IV-30.1"), dtype="int16")
    assert len(sound) == rate * BOTH_MS // 1000 and not sound.any()


def test_what_cannot_be_told_apart_is_not_erased_in_part(full: Archive) -> None:
    cast.give_words(full, "IV-30.1", [("N-21", cast.words_of(OTHERS)), (None, LATER)])
    with pytest.raises(Clash, match="not on record who speaks"):
        full.erasures.ask(KEEPER, GONE, "a letter", "keep")
    assert not full.erasures.list(KEEPER)
    page = full.erasures.carry_out(KEEPER, agreed(full, whole=True))
    assert all(not g.stretches for g in page.going) and "IV-30.1" not in [r.code for r in full.recordings.list(KEEPER)]


def test_who_is_only_spoken_about_stays_hidden_for_good(full: Archive) -> None:
    """Walter Brine is named by somebody else: his names go from the record, and what is said of him stays behind its mask."""
    page = full.erasures.carry_out(KEEPER, agreed(full, "P-41"))
    assert not page.going and any("named in what others said" in t.words for t in page.tasks)
    for viewer in (EDITOR, READER):
        assert full.finding.ask(READER, Asked("Brine")).total == 0
        assert "name withheld" in str(full.recordings.page(READER, "IV-21.1")) and "Walter Brine" not in str(full.recordings.page(READER, "IV-21.1")), viewer
    code = full.excerpts.choose(EDITOR, "IV-21.1", cast.QUOTES["N-21"], "exhibition")
    row = next(e for e in full.excerpts.list(EDITOR) if e.code == code)
    assert "Brine" not in str(row.leaving)


def test_what_was_erased_does_not_come_in_again(full: Archive, full_once: Path, tmp_path: Path) -> None:
    """The same file from its card; the person in an old copy of the sheet."""
    card = tmp_path / "card"
    card.mkdir()
    (card / "again.wav").write_bytes(master_bytes(full, "IV-25.1"))
    shutil.copy2(full_once / "card" / "both.wav", card)
    full.erasures.carry_out(KEEPER, agreed(full, whole=True))
    for finding in full.ingest.take(EDITOR, [card]):
        assert finding.outcome == "refused" and "was erased" in finding.words
    assert {r.code for r in full.recordings.list(KEEPER)} == {cast.recording_of(m.code) for m in cast.CAST if m.code != GONE}
    sheet = tmp_path / "people.csv"
    sheet.write_text(f"code,full,attribution,voice,review\n{GONE},{NAME},full,as_recorded,not_wanted\n", encoding="utf-8")
    with pytest.raises(SheetError) as refused:
        full.people.read(KEEPER, sheet)
    assert "was erased on" in refused.value.findings[0] and full.erasures.search(KEEPER, [NAME]) == ()


def test_the_search_finds_what_somebody_left_in_the_folder(full: Archive) -> None:
    """A copy of the recording under another name, a transcript as text, a name in a note; and says where, not what."""
    alone = master_bytes(full, "IV-25.1")
    full.erasures.carry_out(KEEPER, agreed(full, whole=True))
    (full.folder / "masters" / ".incoming" / "copy.part").write_bytes(alone)
    (full.folder / "old.txt").write_text(f"She said: {THEIRS.upper()}.", encoding="utf-8")
    (full.folder / "note.txt").write_text("ask Lena  Fosse", encoding="utf-8")
    found = full.erasures.search(KEEPER, [NAME])
    assert found == ("note.txt: an erased name.", "old.txt: ten erased words in a row.", "masters/.incoming/….part: 4 KiB of erased sound.")
    assert len(full.erasures.search(KEEPER)) == 2, "names are kept nowhere: who wants them looked for says them"


@pytest.mark.parametrize("target", ["N-99", "IV-99.1", "IV-21.1@1:00-9:00", "", "IV-21.1@x"])
def test_what_is_not_on_record_is_not_erased(full: Archive, target: str) -> None:
    with pytest.raises((NotFound, BadInput)):
        full.erasures.ask(KEEPER, target, "a letter", "keep")
    for reason, paper in (("", "keep"), ("a letter", "burn")):
        with pytest.raises(BadInput):
            full.erasures.ask(KEEPER, GONE, reason, paper)
    assert full.erasures.list(KEEPER) == ()


def test_the_second_place_is_seen_to_when_its_disk_is_back(full: Archive, tmp_path: Path) -> None:
    alone = master_bytes(full, "IV-25.1")
    (tmp_path / "second").rename(tmp_path / "away")
    code = agreed(full, whole=True)
    assert any("disk of the second copy" in t.words for t in full.erasures.carry_out(KEEPER, code).tasks)
    (tmp_path / "away").rename(tmp_path / "second")
    assert any(data == alone for data in raw_bytes(tmp_path / "second").values())
    full.close()
    archive = Archive.open(full.folder, {}, cast.clock)
    assert left_of([tmp_path / "second"], alone) == []
    (task,) = (t for t in archive.erasures.page(KEEPER, code).tasks if "disk of the second copy" in t.words)
    assert task.done_at and (tmp_path / "second" / "erased.json").exists()
    archive.tasks.tick(KEEPER, archive.erasures.page(KEEPER, code).tasks[0].id)
    assert archive.erasures.list(KEEPER)[0].open_tasks == len(archive.erasures.page(KEEPER, code).tasks) - 2
    archive.close()
