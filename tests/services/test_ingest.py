"""Taking in: every bad file is a finding in words, every good one is kept, a kill or a full disk leaves nothing half."""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import random
import signal
import subprocess
import sys
import time
import unicodedata
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import text

from archive.app import Archive
from archive.errors import BadInput, LeaseLost, NoSpace, Refused, SheetError
from archive.services.rows import Finding, JobRow
from tests import cast
from tests.audio.sounds import encoded, liar_wav, silent_flac
from tests.lease import worked

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def archive(tmp_path: Path) -> Iterator[Archive]:
    made = Archive.create(tmp_path / "archive", cast.KEEPER, "Tarnwick Voices", "Marigold", True, {}, cast.clock)
    yield made
    made.close()


@pytest.fixture
def card(tmp_path: Path) -> Path:
    folder = tmp_path / "card"
    folder.mkdir()
    return folder


def cli(archive: Path, *arguments: str | Path) -> list[str]:
    return [sys.executable, "-m", "archive.cli.main", "--archive", str(archive), "--as", "E-01", "--role", "editor", *map(str, arguments)]


def by_name(findings: tuple[Finding, ...]) -> dict[str, Finding]:
    return {f.source_name: f for f in findings}


def bytes_of(folder: Path) -> dict[str, tuple[bytes, int]]:
    return {p.name: (p.read_bytes(), p.stat().st_mtime_ns) for p in folder.rglob("*") if p.is_file() and not p.is_symlink()}


def whole(archive: Archive) -> None:
    """No half file, every master the bytes of its name and read-only, every row with its master, measured, once."""
    assert not list((archive.folder / "masters" / ".incoming").glob("*"))
    masters = [p for p in (archive.folder / "masters").rglob("*") if p.is_file()]
    sums = {hashlib.sha256(p.read_bytes()).hexdigest() for p in masters}
    assert {p.stem for p in masters} == sums and len(masters) == len(sums)
    assert not any(p.stat().st_mode & 0o222 for p in masters)
    with archive.rooms.db.read() as connection:
        rows = connection.execute(text("SELECT sha256 FROM master JOIN recording ON master_id = master.id JOIN measurement ON recording_id = recording.id")).scalars()
        assert sorted(rows) == sorted(sums)
        assert connection.execute(text("SELECT count(*) FROM recording")).scalar() == len(sums)
    assert archive.records.check(cast.KEEPER, fixity=True) == ()


def test_a_card_with_everything_on_it(archive: Archive, card: Path, tmp_path: Path) -> None:
    """The issue's bad input in one folder: each refused one says why and what to do, good ones are kept, nothing is written to."""
    good = card / "good.wav"
    cast.sound(good, 2, 1)
    (card / "again.wav").write_bytes(good.read_bytes())
    (card / "notes.wav").write_text("We met at the quay.\n" * 50, encoding="utf-8")
    (card / "nothing.mp3").write_bytes(b"")
    whole_mp4 = encoded(good, tmp_path / "whole.m4a")
    (card / "cut.m4a").write_bytes(whole_mp4.read_bytes()[: whole_mp4.stat().st_size // 2])
    cast.sound(tmp_path / "long.wav", 12, 2)
    mp3 = bytearray(encoded(tmp_path / "long.wav", tmp_path / "long.mp3", "-b:a", "64k").read_bytes())
    middle = len(mp3) // 2
    mp3[middle : middle + 200] = random.Random(5).randbytes(200)
    (card / "scratched.mp3").write_bytes(mp3)
    liar_wav(card / "liar.wav", 65_535)
    silent_flac(card / "endless.flac", 10)
    outside = tmp_path / "outside.wav"
    cast.sound(outside, 1, 3)
    (card / "elsewhere.wav").symlink_to(outside)
    for number, name in enumerate(["with a space.wav", "-dashes.wav", "--help.wav", unicodedata.normalize("NFD", "Grüße vom Kai.wav")], 4):
        cast.sound(card / name, 1, number)
    before = bytes_of(card)
    findings = by_name(archive.ingest.take(cast.EDITOR, [card]))
    assert bytes_of(card) == before, "sources are never written to"
    taken = {n for n, f in findings.items() if f.outcome == "taken"}
    assert taken == {"again.wav", "scratched.mp3", "with a space.wav", "-dashes.wav", "--help.wav", "Grüße vom Kai.wav"}
    assert findings["good.wav"].outcome == "duplicate" and findings["again.wav"].recording in findings["good.wav"].words
    said = {
        "notes.wav": "not a", "nothing.mp3": "empty", "cut.m4a": "damaged", "liar.wav": "channels", "endless.flac": "10:00:03",
        "elsewhere.wav": "leads out of the folder",
    }  # fmt: skip
    for name, part in said.items():
        finding = findings[name]
        assert finding.outcome == "refused" and not finding.recording
        assert part in finding.words, finding.words
        assert finding.words.count(". ") >= 1, f"what to do is said too: {finding.words}"
    assert set(findings) == taken | set(said) | {"good.wav"}
    damaged = archive.recordings.page(cast.EDITOR, findings["scratched.mp3"].recording)
    assert abs(damaged.row.duration_ms - 12_000) < 150 and len(findings["scratched.mp3"].words.split(". ")) > 1
    whole(archive)
    kept = [(f.source_name, f.outcome) for f in archive.ingest.findings(cast.EDITOR)]
    assert sorted(kept) == sorted((n, f.outcome) for n, f in findings.items()), "findings stay on record"
    again = archive.ingest.take(cast.EDITOR, [card])
    assert {f.source_name for f in again if f.outcome == "duplicate"} == taken | {"good.wav"}
    whole(archive)


def test_an_empty_folder_and_no_file(archive: Archive, card: Path) -> None:
    for path in (card, card / "none.wav"):
        (finding,) = archive.ingest.take(cast.EDITOR, [path])
        assert finding.outcome == "refused" and ". " in finding.words
    whole(archive)


@pytest.mark.parametrize("good", [True, False])
def test_the_exit_code_says_whether_anything_was_refused(archive: Archive, card: Path, good: bool) -> None:
    cast.sound(card / "-good.wav", 1, 1)
    if not good:
        (card / "notes.wav").write_text("words", encoding="utf-8")
    done = subprocess.run(
        cli(archive.folder, "ingest", "--", "-good.wav", *(() if good else ("notes.wav",))), cwd=card, capture_output=True, text=True,
        encoding="utf-8", env=os.environ | {"PYTHONPATH": str(ROOT)}, check=False,
    )  # fmt: skip
    assert done.returncode == (0 if good else 7), done.stderr
    assert "taken     -good.wav: Taken as R-0001" in done.stdout
    assert ("refused   notes.wav" in done.stdout) is not good
    whole(archive)


def test_the_sheet_says_what_a_recording_is(cast_archive: Archive, card: Path) -> None:
    cast.sound(card / "Grüße.wav", 1, 31)
    cast.sound(card / "two.wav", 1, 32)
    rows = "file;interview;part;recorded_on;title;language;microphones;left;right;participants\n"
    rows += unicodedata.normalize("NFD", "Grüße.wav") + ";IV-40;1;2025-05-01;A walk;en;two;N-21;N-22;N-21:narrator\n"
    (card / "recordings.csv").write_text("\ufeff" + rows, encoding="utf-8")
    found = by_name(cast_archive.ingest.take(cast.EDITOR, [card], interview="IV-41"))
    assert found["Grüße.wav"].recording == "IV-40.1" and found["two.wav"].recording == "IV-41.1"
    row = cast_archive.recordings.page(cast.EDITOR, "IV-40.1").row
    assert (row.interview, row.title, row.microphones, row.participants) == ("IV-40", "A walk", "two", ("N-21",))


@pytest.mark.parametrize(
    ("cells", "said"),
    [
        ("x.wav,IV-40,first,,,en,one,,,", "whole number"),
        ("x.wav,IV-40,1,yesterday,,en,one,,,", "no date"),
        ("x.wav,IV-40,1,,,en,three,,,", "microphones"),
        ("x.wav,IV-40,1,,,en,one,N-77,,", "N-77"),
        ("x.wav,IV-40,1,,,en,one,,,N-77:narrator", "N-77"),
        ("x.wav,IV-40,1,,,en,one,,,N-21:singer", "singer"),
        ("x.wav,,1,,,en,one,,,", "“interview” is empty"),
        (",IV-40,1,,,en,one,,,", "“file” is empty"),
    ],
)
def test_a_faulty_sheet_takes_nothing_in(cast_archive: Archive, card: Path, cells: str, said: str) -> None:
    cast.sound(card / "x.wav", 1, 40)
    head = "file,interview,part,recorded_on,title,language,microphones,left,right,participants\n"
    (card / "recordings.csv").write_text(head + cells + "\n", encoding="utf-8")
    before = len(cast_archive.recordings.list(cast.EDITOR))
    with pytest.raises(SheetError) as told:
        cast_archive.ingest.take(cast.EDITOR, [card])
    assert "recordings.csv, row 2" in " ".join(told.value.findings) and said in " ".join(told.value.findings)
    assert len(cast_archive.recordings.list(cast.EDITOR)) == before


HEAD = "file,interview,part,recorded_on,title,language,microphones,left,right,participants\n"


def sheet(folder: Path, *rows: str) -> Path:
    path = folder / "recordings.csv"
    path.write_text(HEAD + "".join(f"{row}\n" for row in rows), encoding="utf-8")
    return path


def repeated(card: Path, *names: str) -> None:
    """The same name in several folders, other sound in each."""
    for number, name in enumerate(names, 50):
        (card / name).parent.mkdir(parents=True, exist_ok=True)
        cast.sound(card / name, 1, number)


def told(archive: Archive, *paths: Path, **how: object) -> dict[str, Finding]:
    return by_name(archive.ingest.take(cast.EDITOR, paths, **how))  # type: ignore[arg-type]


def who(archive: Archive, code: str) -> tuple[str, int, tuple[str, ...]]:
    row = archive.recordings.page(cast.KEEPER, code).row
    return row.interview, row.position, row.participants


def test_a_row_that_fits_two_files_is_nobodys_until_it_names_one(cast_archive: Archive, card: Path) -> None:
    """A/REC1.wav and B/REC1.wav: one row may not give both the consent of one person. Both are kept, in no interview."""
    repeated(card, "A/REC1.wav", "B/REC1.wav")
    sheet(card, "REC1.wav,IV-40,1,,,,,,,N-21")
    found = told(cast_archive, card)
    assert {n: f.outcome for n, f in found.items()} == {"A/REC1.wav": "taken", "B/REC1.wav": "taken"}
    for name, other in (("A/REC1.wav", "B/REC1.wav"), ("B/REC1.wav", "A/REC1.wav")):
        assert "no interview yet" in found[name].words and f"fits {other} as well" in found[name].words
        assert f"Write this one as “{name}”" in found[name].words and "take that sheet in again" in found[name].words
        assert who(cast_archive, found[name].recording) == ("", 1, ())
    sheet(card, "A/REC1.wav,IV-40,1,,,,,,,N-21", "B/REC1.wav,IV-41,1,,,,,,,N-25")
    found = told(cast_archive, card)
    assert {f.recording for f in found.values()} == {"IV-40.1", "IV-41.1"}
    assert who(cast_archive, "IV-40.1") == ("IV-40", 1, ("N-21",)) and who(cast_archive, "IV-41.1") == ("IV-41", 1, ("N-25",))
    whole_but_for_the_cast(cast_archive)


def whole_but_for_the_cast(archive: Archive) -> None:
    assert archive.records.check(cast.KEEPER, fixity=True) == ()


def test_a_row_that_names_a_file_in_full_is_that_files_alone(cast_archive: Archive, card: Path) -> None:
    repeated(card, "REC1.wav", "B/REC1.wav", "C/D/REC2.wav")
    sheet(card, "REC1.wav,IV-40,1,,,,,,,N-21", "D\\REC2.wav,IV-41,1,,,,,,,N-25")
    found = told(cast_archive, card, interview="IV-42")
    assert found["REC1.wav"].recording == "IV-40.1"
    assert found["C/D/REC2.wav"].recording == "IV-41.1", "the path may begin below the sheet's folder"
    assert "no interview yet" in found["B/REC1.wav"].words and "fits REC1.wav as well" in found["B/REC1.wav"].words
    assert who(cast_archive, found["B/REC1.wav"].recording)[2] == ()


def test_the_longest_row_that_fits_counts(cast_archive: Archive, card: Path) -> None:
    repeated(card, "A/REC1.wav", "B/REC1.wav")
    sheet(card, "REC1.wav,IV-40,1,,,,,,,N-21", "B/REC1.wav,IV-41,1,,,,,,,N-25")
    found = told(cast_archive, card)
    assert {n: f.recording for n, f in found.items()} == {"A/REC1.wav": "IV-40.1", "B/REC1.wav": "IV-41.1"}


def test_a_place_that_is_taken_is_not_given_twice(cast_archive: Archive, card: Path, tmp_path: Path) -> None:
    """The other REC1.wav comes with a later run, or its row names a part that another recording is."""
    repeated(card, "A/REC1.wav", "B/REC1.wav")
    named = sheet(tmp_path, "REC1.wav,IV-40,1,,,,,,,N-21")
    assert told(cast_archive, card / "A", sheet=named)["REC1.wav"].recording == "IV-40.1"
    second = told(cast_archive, card / "B", sheet=named)["REC1.wav"]
    assert "no interview yet" in second.words and "part 1 of IV-40 is IV-40.1 already" in second.words
    assert who(cast_archive, second.recording) == ("", 1, ())
    assert "part 1 of IV-40" in told(cast_archive, card / "B", sheet=named)["REC1.wav"].words, "nor by running it again"
    assert who(cast_archive, second.recording) == ("", 1, ())


def test_a_sheet_of_one_folder_says_nothing_about_another(cast_archive: Archive, card: Path, tmp_path: Path) -> None:
    repeated(card, "A/REC1.wav", "B/REC1.wav")
    sheet(card / "A", "REC1.wav,IV-40,1,,,,,,,N-21")
    found = [f.recording for f in cast_archive.ingest.take(cast.EDITOR, [card / "A", card / "B"])]
    assert who(cast_archive, found[0]) == ("IV-40", 1, ("N-21",)) and who(cast_archive, found[1])[0] == ""


def test_what_a_sheet_misses_is_told_even_where_another_has_its_name(cast_archive: Archive, card: Path) -> None:
    repeated(card, "A/REC1.wav")
    sheet(card, "A/REC1.wav,IV-40,1,,,,,,,N-21", "B/REC1.wav,IV-41,1,,,,,,,N-25")
    assert told(cast_archive, card)["B/REC1.wav"].outcome == "missing"
    newest = max((j for j in cast_archive.jobs.list(cast.EDITOR) if j.kind == "take in"), key=lambda j: j.id)
    assert newest.words == "1 file taken, 0 here already, 0 refused, 1 missing: see “What came in”."


def test_other_sheets_name_a_recording_by_file_or_code_and_never_by_chance(cast_archive: Archive, card: Path, tmp_path: Path) -> None:
    repeated(card, "A/REC1.wav", "B/REC1.wav", "C/REC2.wav")
    sheet(card, "A/REC1.wav,IV-40,1,,,,,,,N-21", "B/REC1.wav,IV-41,1,,,,,,,N-25", "REC2.wav,IV-42,1,,,,,,,N-25")
    told(cast_archive, card)
    closed = tmp_path / "closed.csv"

    def close(file: str) -> int:
        closed.write_text(f"file,start_s,end_s,kind\n{file},0,0.5,sealed\n", encoding="utf-8")
        return cast_archive.consent.read_closed(cast.KEEPER, closed)

    with pytest.raises(SheetError) as refusal:
        close("REC1.wav")
    (fault,) = refusal.value.findings
    assert "row 2" in fault and "IV-40.1 and IV-41.1" in fault and "recording's code (IV-40.1)" in fault
    assert close("IV-41.1") == 1 and close("REC2.wav") == 1
    with cast_archive.rooms.db.read() as connection:
        query = "SELECT code FROM restraint JOIN recording ON recording.id = recording_id WHERE kind = 'sealed' AND code LIKE 'IV-4%' ORDER BY code"
        assert list(connection.execute(text(query)).scalars()) == ["IV-41.1", "IV-42.1"]


def test_a_file_without_a_row_is_described_by_the_next_run(cast_archive: Archive, card: Path) -> None:
    """Taken first, written into the sheet afterwards: everything the row says is applied, and the finding says so."""
    cast.sound(card / "x.wav", 1, 61)
    first = told(cast_archive, card / "x.wav")["x.wav"]
    assert "in no interview yet: write it into recordings.csv and take that sheet in again" in first.words
    assert "no interview yet" in told(cast_archive, card / "x.wav")["x.wav"].words, "and again, while nothing was written"
    sheet(card, "x.wav,IV-40,2,2025-05-01,A walk,de,two,N-21,N-25,N-21:narrator;N-25:interviewer")
    again = told(cast_archive, card / "x.wav")["x.wav"]
    assert (again.outcome, again.recording) == ("duplicate", "IV-40.2")
    assert first.recording in again.words and "It is IV-40.2 from now on, part 2 of IV-40." in again.words
    row = cast_archive.recordings.page(cast.KEEPER, "IV-40.2").row
    assert (row.interview, row.position, row.title, str(row.recorded_on), row.microphones) == ("IV-40", 2, "A walk", "2025-05-01", "two")
    assert row.participants == ("N-21", "N-25")
    with cast_archive.rooms.db.read() as connection:
        kept = connection.execute(text("SELECT language, left_person_id, right_person_id FROM recording WHERE code = 'IV-40.2'")).one()
        codes = {r.id: r.code for r in connection.execute(text("SELECT id, code FROM person"))}
    assert (kept.language, codes[kept.left_person_id], codes[kept.right_person_id]) == ("de", "N-21", "N-25")
    assert cast_archive.records.list(cast.KEEPER, 1)[0].action == "recording described"
    assert told(cast_archive, card)["x.wav"].words == "These very bytes are here already, as IV-40.2. Nothing was added."
    with cast_archive.rooms.db.read() as connection:
        acts = connection.execute(text("SELECT count(*) FROM audit WHERE action = 'recording described'")).scalar()
    assert acts == 1 and cast_archive.records.check(cast.KEEPER) == ()


def test_an_interview_named_on_the_command_line_gets_its_people_from_the_sheet(cast_archive: Archive, card: Path) -> None:
    """`--interview` alone is nobody's consent; each part is described when its row comes, the first not alone."""
    repeated(card, "a.wav", "b.wav")
    first = told(cast_archive, card, interview="IV-41")
    assert {f.recording for f in first.values()} == {"IV-41.1", "IV-41.2"}
    assert all("Nobody is said to have taken part" in f.words for f in first.values())
    assert "Nobody is said" in told(cast_archive, card, interview="IV-41")["a.wav"].words
    sheet(card, "a.wav,IV-41,1,2025-05-01,One,en,,,,N-21", "b.wav,IV-41,2,2025-05-01,Two,en,,,,N-21")
    told(cast_archive, card, interview="IV-41")
    assert [cast_archive.recordings.page(cast.KEEPER, f"IV-41.{n}").row.title for n in (1, 2)] == ["One", "Two"]
    assert who(cast_archive, "IV-41.2") == ("IV-41", 2, ("N-21",))


def test_what_is_described_is_not_described_otherwise_by_a_sheet(cast_archive: Archive, card: Path) -> None:
    """A changed sheet moves no recording out of its interview and takes nobody's say away; it is told."""
    cast.sound(card / "x.wav", 1, 62)
    sheet(card, "x.wav,IV-40,1,2025-05-01,A walk,en,,,,N-21")
    told(cast_archive, card)
    sheet(card, "x.wav,IV-43,1,2025-05-01,A walk,en,,,,N-25")
    words = told(cast_archive, card)["x.wav"].words
    assert "Nothing was added. It is part 1 of IV-40" in words
    assert who(cast_archive, "IV-40.1") == ("IV-40", 1, ("N-21",))


def test_an_interview_with_papers_keeps_its_recording(cast_archive: Archive, card: Path, tmp_path: Path) -> None:
    """An agreement names the interview that `--interview` gave: the row of another interview does not pull it away."""
    cast.sound(card / "x.wav", 1, 63)
    told(cast_archive, card, interview="IV-44")
    papers, answers = tmp_path / "agreements.csv", tmp_path / "permissions.csv"
    papers.write_text("code,person,interview,kind,form,signed_on\nA-44,N-21,IV-44,recording,signed,2025-01-01\n", encoding="utf-8")
    answers.write_text("agreement,use,way,answer\nA-44,machine,words,yes\n", encoding="utf-8")
    cast_archive.consent.read(cast.KEEPER, papers, answers)
    sheet(card, "x.wav,IV-45,1,,,,,,,N-25")
    assert "is not moved" in told(cast_archive, card)["x.wav"].words
    assert who(cast_archive, "IV-44.1") == ("IV-44", 1, ())


def test_an_interview_is_not_called_by_a_name(cast_archive: Archive, card: Path) -> None:
    cast.sound(card / "x.wav", 1, 64)
    with pytest.raises(BadInput):
        told(cast_archive, card, interview="Lena Fosse")


def test_a_kill_at_any_moment_loses_nothing(archive: Archive, card: Path) -> None:
    """kill −9 of `toldhere ingest` and of whatever it started, five times at random; then one run that may finish."""
    for number in range(5):
        cast.sound(card / f"part-{number}.wav", 1.5, number)
    archive.close()
    chance = random.Random()
    environ = os.environ | {"PYTHONPATH": str(ROOT)}
    killed = 0
    for round_ in range(5):
        child = subprocess.Popen(cli(archive.folder, "ingest", card), cwd=ROOT, env=environ, start_new_session=True, stdout=subprocess.PIPE)
        assert child.stdout is not None
        # Half the time from the start, half once it has begun to take: so that some kills meet a file on its way.
        if round_ % 2:
            child.stdout.readline()
        time.sleep(chance.uniform(0.05, 1.2))
        with contextlib.suppress(ProcessLookupError):  # it was done already
            os.killpg(child.pid, signal.SIGKILL)
        child.communicate()
        killed += child.returncode == -signal.SIGKILL
        opened = Archive.open(archive.folder, {}, cast.clock)
        rows = opened.recordings.list(cast.EDITOR)
        for path in (p for p in (archive.folder / "masters").glob("??/*")):
            assert hashlib.sha256(path.read_bytes()).hexdigest() == path.stem, "a half file under a master's name"
        assert len({r.code for r in rows}) == len(rows) <= 5
        opened.close()
        if child.returncode == 0:  # it was quicker than the kill, and everything is in
            break
    assert killed
    if child.returncode != 0:
        done = subprocess.run(cli(archive.folder, "ingest", card), cwd=ROOT, env=environ, capture_output=True, text=True, encoding="utf-8", check=False)
        assert done.returncode == 0, done.stdout + done.stderr
        assert done.stdout.count("taken ") == 5, "the last command tells what became of every file"
    opened = Archive.open(archive.folder, {}, cast.clock)
    assert len(opened.recordings.list(cast.EDITOR)) == 5
    whole(opened)
    assert [f.outcome for f in opened.ingest.findings(cast.EDITOR)] == ["taken"] * 5, "one job, taken up from its last commit each time"
    assert [(j.state, j.percent) for j in take_ins(opened)] == [("done", 100)]
    opened.close()


def take_ins(archive: Archive) -> list[JobRow]:
    """Everything that was to be taken in, on the list of work."""
    return [j for j in archive.jobs.list(cast.EDITOR) if j.kind == "take in"]


def test_paused_on_the_page_it_stops_and_goes_on_with_the_next_file(archive: Archive, card: Path) -> None:
    for number in range(3):
        cast.sound(card / f"part-{number}.wav", 1, number)
    seen: list[Finding] = []

    def pause(found: Finding) -> None:
        seen.append(found)
        (job,) = take_ins(archive)
        assert (job.state, job.words, job.subject.partition(" ")[0]) == ("working", f"File {len(seen)} of 3.", "folder")
        archive.jobs.pause(cast.KEEPER, job.id)

    with pytest.raises(LeaseLost) as told:
        archive.ingest.take(cast.EDITOR, [card], progress=pause)
    assert told.value.exit_code == 10 and len(seen) == len(archive.recordings.list(cast.EDITOR)) == 1
    card.rename(card.with_name("pulled out"))
    (job,) = take_ins(archive)
    archive.jobs.resume(cast.EDITOR, job.id)
    with pytest.raises(Refused, match="not there any more"):
        worked(archive)
    archive.jobs.cancel(cast.EDITOR, job.id)
    card.with_name("pulled out").rename(card)
    archive.jobs.resume(cast.EDITOR, job.id)
    assert worked(archive) == "3 files taken, 0 here already, 0 refused: see “What came in”."
    assert [f.outcome for f in archive.ingest.findings(cast.EDITOR)] == ["taken"] * 3
    whole(archive)


def test_a_disk_that_fills_while_the_copy_is_written_leaves_no_half_file(
    archive: Archive, card: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The second file meets ENOSPC at its fsync, where a disk that hands out room late says it."""
    for number in range(3):
        cast.sound(card / f"part-{number}.wav", 1, number)
    real, calls = os.fsync, []

    def full(handle: int) -> None:
        if os.readlink(f"/proc/self/fd/{handle}").endswith(".part") if sys.platform == "linux" else True:
            calls.append(handle)
            if len(calls) == 2:
                raise OSError(errno.ENOSPC, "No space left on device")
        real(handle)

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(NoSpace) as told:
        archive.ingest.take(cast.EDITOR, [card])
    assert told.value.exit_code == 9 and "goes on where it stopped" in told.value.remedy
    monkeypatch.undo()
    assert len(archive.recordings.list(cast.EDITOR)) == 1
    whole(archive)
    assert sorted(f.outcome for f in archive.ingest.take(cast.EDITOR, [card])) == ["duplicate", "taken", "taken"]
    whole(archive)


def test_a_database_that_cannot_grow_leaves_no_half_row(archive: Archive, card: Path) -> None:
    """SQLite's own full disk (a cap on its pages): the row, its measurement and its line on record come together or not at all."""
    cast.sound(card / "long.wav", 120, 1)
    with archive.rooms.db.write() as connection:
        pages = connection.execute(text("PRAGMA page_count")).scalar()
        connection.exec_driver_sql(f"PRAGMA max_page_count = {pages}")
    with pytest.raises(NoSpace):
        archive.ingest.take(cast.EDITOR, [card])
    archive.close()
    assert archive.recordings.list(cast.EDITOR) == ()
    assert [f.outcome for f in archive.ingest.take(cast.EDITOR, [card])] == ["taken"]
    whole(archive)
