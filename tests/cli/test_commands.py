"""The command line on the cast: what every command prints, for whom, and with which exit code."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import click
import pytest
from click.testing import CliRunner, Result

from archive import errors
from archive.app import Archive
from archive.cli import desk
from archive.cli.main import cli
from archive.db import consent_rows, recordings
from archive.domain.phrases import from_to
from archive.domain.values import Attribution, RestraintKind, Stretch
from tests import cast
from tests.conftest import copy_of

MEDIA = Path(__file__).resolve().parents[2] / "sample_media"
Run = Callable[..., Result]
# Every command that reads, with what it is asked on the cast (keep in step: a test walks the commands for --json).
READING = {
    "find": ["find", "lantern"],
    "lists list": ["lists", "list"],
    "lists show": ["lists", "show", "Wall"],
    "questions list": ["questions", "list"],
    "questions look": ["questions", "look", "Light"],
    "grid": ["grid"],
    "beside": ["beside", "--event", "the Sallow flood"],
    "recordings": ["recordings"],
    "when": ["when"],
    "show": ["show", "IV-25.1"],
    "language": ["language", "IV-25.1"],
    "sound": ["sound", "IV-25.1"],
    "people list": ["people", "list"],
    "people show": ["people", "show", "N-21"],
    "agreements list": ["agreements", "list"],
    "agreements show": ["agreements", "show", "A-N-21"],
    "agreements printed": ["agreements", "printed"],
    "agreements uses": ["agreements", "uses"],
    "agreements again": ["agreements", "again", "web"],
    "people contact": ["people", "contact", "N-21"],
    "review list": ["review", "list"],
    "may": ["may", "IV-21.1@500-4000", "--use", "exhibition"],
    "works list": ["works", "list"],
    "excerpts": ["excerpts"],
    "register": ["register"],
    "jobs list": ["jobs", "list"],
    "log": ["log"],
    "erase list": ["erase", "list"],
    "erase show": ["erase", "show", "ER-1"],
    "check": ["check"],
    "accounts list": ["accounts", "list"],
    "models list": ["models", "list"],
    "names waiting": ["names", "waiting", "IV-21.1"],
    "names heard": ["names", "heard"],
    "agreements closed": ["agreements", "closed"],
    "agreements objections": ["agreements", "objections"],
    "people risk": ["people", "risk", "N-21"],
    "tasks list": ["tasks", "list"],
    "due": ["due"],
    "copies list": ["copies", "list"],
    "copies cards": ["copies", "cards"],
    "notes list": ["notes", "list"],
    "notes show": ["notes", "show", "IV-21"],
    "translations list": ["translations", "list"],
    "glossary list": ["glossary", "list"],
    "glossary show": ["glossary", "show", "windlass"],
    "spellings list": ["spellings", "list"],
    "suggestions waiting": ["suggestions", "waiting"],
    "spellings same": ["spellings", "same", "cannery", "Cannery"],
    "themes list": ["themes", "list"],
    "themes show": ["themes", "show", "work"],
    "themes missing": ["themes", "missing"],
    "speakers list": ["speakers", "list", "IV-25.1"],
    "places list": ["places", "list"],
    "places show": ["places", "show", "Cannery Wharf"],
    "places misheard": ["places", "misheard"],
}
# Commands that do something and can also answer in JSON.
DOING = {"ingest", "export", "agreements withdraw", "agreements pause", "agreements object", "transcript read", "meaning"}
FOR_READERS = {
    "find", "lists list", "lists show", "questions list", "questions look", "grid", "beside",
    "recordings", "show", "sound", "language", "agreements uses", "translations list", "glossary list", "glossary show", "models list", "places list", "places show",
}  # fmt: skip


@pytest.fixture
def run(made_cast: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """Runs a command on a copy of the cast, at the tests' day, in a folder of its own."""
    return runner_on(copy_of(made_cast, tmp_path / "archive"), tmp_path, monkeypatch)


@pytest.fixture(scope="module")
def filled_once(made_cast: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The cast with something to list: excerpts, an export, an account, a hold."""
    base = tmp_path_factory.mktemp("filled")
    with pytest.MonkeyPatch.context() as patch:
        fill(runner_on(copy_of(made_cast, base / "archive"), base, patch))
    return base / "archive"


@pytest.fixture
def filled(filled_once: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """As `run`, on a copy of the filled archive."""
    return runner_on(copy_of(filled_once, tmp_path / "archive"), tmp_path, monkeypatch)


def runner_on(folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """What runs commands on an archive."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "240")
    monkeypatch.setattr(desk.out, "_width", 240)
    real = Archive.open

    def at_the_tests_day(path: Path, environ: Any = None, clock: Any = None) -> Archive:
        return real(path, {"TOLDHERE_MODELS_DIR": str(tmp_path / "models")}, cast.clock)

    monkeypatch.setattr(Archive, "open", at_the_tests_day)

    def runner(*arguments: str | Path, role: str = "keeper", archive: Path | None = folder) -> Result:
        given = ["--as", f"{role[0].upper()}-01", "--role", role]
        if archive is not None:
            given += ["--archive", str(archive)]
        return CliRunner().invoke(cli, [*given, *map(str, arguments)], prog_name="toldhere")

    return runner


def walk(group: click.Group = cli, path: str = "") -> Iterator[tuple[str, click.Command]]:
    """Every command with its whole name."""
    context = click.Context(group)
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        assert command is not None, name
        whole = f"{path} {name}".strip()
        if isinstance(command, click.Group):
            yield from walk(command, whole)
        else:
            yield whole, command


COMMANDS = dict(walk())


def fill(run: Run) -> None:
    assert run("excerpt", "IV-21.1", cast.QUOTES["N-21"]).output.strip() == "EX-1"
    assert run("excerpt", "IV-25.1", cast.QUOTES["N-25"]).output.strip() == "EX-2"
    assert run("excerpt", "IV-26.1", cast.QUOTES["N-26"]).output.strip() == "EX-3"
    assert run("tick", "EX-1").exit_code == 0
    assert run("export", "EX-1", "EX-2", "EX-3", "--use", "exhibition", "--to", "out").exit_code == 0
    assert run("accounts", "add", "nell", "editor", "--password", "rope lantern quay tide").exit_code == 0
    assert run("agreements", "pause", "N-26").exit_code == 0
    assert run("erase", "ask", "N-24", "--reason", "a letter", "--paper", "keep").exit_code == 0
    assert run("glossary", "write", "windlass", "en", "a winch").exit_code == 0
    for role in ("editor", "reader"):  # the team's, and a reader's own
        assert run("lists", "make", "Wall", role=role).exit_code == 0
        for member in cast.CAST:
            assert run("lists", "keep", "Wall", f"{cast.recording_of(member.code)}@0-4500", "--note", "for the wall", role=role).exit_code == 0
        assert run("find", "lantern", "--save", "Light", *(["--team"] if role == "editor" else []), role=role).exit_code == 0
    assert run("agreements", "form", "N-21").exit_code == 0
    sheet = re.search(r"RV-\w+", run("review", "sheet", "N-25", "EX-2").stdout)
    assert sheet is not None and run("review", "answer", sheet[0], "1", "yes").exit_code == 0
    assert run("people", "contact", "N-21", "--address", "4 Gull Steps;Tarnwick").exit_code == 0
    assert run("notes", "write", "IV-21", "--who", "N-21", "--in-the-room", "Walter Brine").exit_code == 0


# --- every command ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_every_command_has_help_and_needs_no_archive_for_it(run: Run, name: str) -> None:
    done = run(*name.split(), "--help", archive=None)
    assert done.exit_code == 0 and done.output.startswith(f"Usage: toldhere {name}")
    command = COMMANDS[name]
    assert command.help and len(command.help.split()) >= 3, "a command says what it does"
    for parameter in command.params:
        if isinstance(parameter, click.Option) and parameter.name not in ("help", "note", "password", "limit"):
            assert parameter.help or parameter.prompt, f"{name}: --{parameter.name} says nothing"


def test_the_list_of_reading_commands_is_whole() -> None:
    with_json = {n for n, c in COMMANDS.items() if any(p.name == "as_data" for p in c.params)}
    assert with_json == set(READING) | DOING
    doers = {"serve", "demo", "init", "tick", "heard", "excerpt", "transcribe", "access", "describe", "events", "reading", "listened", "transcript write", "works mark", "works say"}
    rest = {n for n in COMMANDS if n not in with_json and n not in doers and n.split()[0] not in ("agreements", "names", "models", "accounts", "people", "jobs", "copies", "notes", "speakers", "spellings", "suggestions", "translations", "glossary", "themes", "places", "lists", "questions", "tasks", "erase", "review")}
    assert rest == set(), "a new command reads (then it takes --json) or does something (then name it here)"


@pytest.mark.parametrize("role", ["keeper", "editor", "reader"])
@pytest.mark.parametrize("name", sorted(READING))
def test_json_parses_and_words_are_the_same_refusals(filled: Run, name: str, role: str) -> None:
    """Standard output is one JSON value, or nothing at all where the role may not."""
    run = filled
    said, data = run(*READING[name], role=role), run(*READING[name], "--json", role=role)
    assert said.exit_code == data.exit_code, (said.output, data.output)
    allowed = role == "keeper" or name in FOR_READERS or (role == "editor" and name not in ("log", "accounts list", "people risk", "erase list", "erase show"))
    if allowed:
        assert data.exit_code == 0, data.output
        json.loads(data.stdout)
        assert said.stdout.strip(), "something is said"
    else:
        assert data.exit_code == errors.NotAllowed.exit_code and data.stdout == "" and "Only a" in data.stderr


@pytest.mark.parametrize("name", sorted(FOR_READERS))
@pytest.mark.parametrize("as_data", [True, False], ids=["json", "words"])
def test_a_reader_meets_no_hidden_name_and_no_hidden_code(filled: Run, name: str, as_data: bool) -> None:
    asks = [READING[name]] if name != "show" else [["show", cast.recording_of(m.code)] for m in cast.CAST]
    if name == "find":
        asks = [["find", m.secret] for m in cast.CAST] + [["find"], ["find", "Brine"], ["find", "Fosse or Dane"]]
    for ask in asks:
        done = filled(*ask, *(["--json"] if as_data else []), role="reader")
        assert done.exit_code == 0, done.output
        hidden = [m.name for m in cast.CAST if m.attribution != Attribution.FULL] + [cast.THIRD[1]]
        for part in {p for n in hidden for p in n.split()}:
            assert not re.search(rf"(?i)\b{part}\b", done.output), (ask, part)
        assert not re.search(r"\b[NP]-\d\d\b", done.output), (ask, "codes of people are the team's")


@pytest.mark.parametrize("role", ["keeper", "editor", "reader"])
def test_held_words_are_in_no_answer(filled: Run, role: str) -> None:
    held = [m for m in cast.CAST if m.held]
    for name, ask in READING.items():
        asks = [ask] if name != "show" else [["show", cast.recording_of(m.code)] for m in held]
        for one in asks:
            for extra in ([], ["--json"]):
                text = filled(*one, *extra, role=role).output.casefold()
                assert not [m.secret for m in held if m.secret in text], one


# --- words --------------------------------------------------------------------------------------------------------------


def test_find_prints_its_hits_with_matches_marked(run: Run) -> None:
    done = run("find", "lantern", "rope")
    assert "We carried the [lantern] down Net Row" in done.stdout and "held the [rope] for us" in done.stdout
    assert "N-21 · Edith Quill" in done.stdout and "1 passage." in done.stdout and "place: " in done.stdout
    shown = run("find", "lantern", role="reader").stdout
    assert "Edith Quill" in shown and "N-21" not in shown
    assert "Nothing was found that you may read today." in run("find", "rudder").stdout


def test_answers_are_in_the_words_of_the_pages(filled: Run) -> None:
    """What is on record as a code (as_recorded, given, 1968-01-14/1968-01-16, 1960) is printed as people say it."""
    listed = filled("people", "list").stdout
    assert "by their full name" in listed and "how to name them" in listed and "as recorded" in listed
    everything = [filled(*ask).stdout for ask in READING.values()]
    for raw in ("as_recorded", "not_wanted", "not_heard", "1968-01-14"):
        assert not [text for text in everything if raw in text], raw
    register = filled("register").stdout
    assert "went out" in register and "given" not in register and "1 June 2026" in register
    assert "14 January 1968 to 16 January 1968" in filled("show", "IV-25.1").stdout and "1960s" in filled("find", "lantern").stdout


def test_a_person_is_shown_in_sentences(run: Run) -> None:
    shown = run("people", "show", "N-26").stdout
    assert re.search(r"In IV-26, allowed as words: .*; exhibition; ", shown) and "allowed as picture: nothing." in shown
    assert re.search(r"In IV-26, allowed as voice: listening by our own computer; reading and hearing by the team.$", shown, re.M)
    assert "but not" not in shown and "but not" in run("people", "show", "N-26", "--reasons").stdout
    held = run("people", "show", "N-24").stdout
    assert "In IV-24, allowed as words: nothing." in held and re.search(r"Hold \d+: withdrawn: everything, from 1 June 2026$", held, re.M)


def test_why_nothing_of_somebody_is_found(run: Run) -> None:
    done = run("find", "rudder", "--speaker", "N-24")
    assert "Nothing was found" in done.stdout and "toldhere people show N-24" in done.stdout


def test_one_is_one(filled: Run) -> None:
    """No "1 passages" anywhere."""
    said = [filled(*ask).stdout for ask in READING.values()] + [
        filled("agreements", "withdraw", "N-21", "--how", "letter").stdout, filled("find", "tarpaulin").stdout,
    ]  # fmt: skip
    for text in said:
        assert not re.search(r"\b1 (passages|quotes|recordings|jobs|people|agreements|answers|stretches|suggestions|names)\b", text), text


def test_may_explains_in_sentences(filled: Run) -> None:
    run = filled
    yes = run("may", "EX-1", "--use", "exhibition")
    assert yes.exit_code == 0 and yes.stdout.splitlines()[0].startswith("Allowed") and "Not legal advice" in yes.stdout
    for target, way, part in (
        ("EX-3", "voice", "time to think"), ("IV-24.1@500-4000", "words", "withdrew"), ("IV-22.1@500-4000", "words", "embargo"),
        ("IV-27.1@500-4000", "words", "exhibition"), ("IV-26.1@500-4000", "voice", "N-26"),
    ):  # fmt: skip
        no = run("may", target, "--use", "exhibition", "--way", way)
        assert no.exit_code == errors.Refused.exit_code, no.output
        assert no.stdout.startswith("Not allowed.") and part in no.stdout, no.stdout
        for sentence in no.stdout.splitlines():
            assert sentence[0].isupper() and sentence.rstrip().endswith(".") and "_" not in sentence, sentence
        told = json.loads(run("may", target, "--use", "exhibition", "--way", way, "--json").stdout)
        assert told["allowed"] is False and [s for s in no.stdout.splitlines() if s in told["sentences"]] == told["sentences"]


def test_an_export_says_what_was_given_and_what_not(filled: Run, tmp_path: Path) -> None:
    run = filled
    done = run("export", "EX-2", "EX-3", "--use", "exhibition", "--to", "second")
    assert done.exit_code == errors.Refused.exit_code
    assert "EX-3: Not allowed." in done.stdout and "not available at present" in done.stdout and "time to think" not in done.stdout
    assert "DRAFT: not everything in it was heard" in done.stdout and "EX-2: Nobody has heard it against the sound." in done.stdout and "OUT-0002: 1 quote went out." in done.stdout
    for line in done.stdout.splitlines():
        if line.startswith("/"):
            assert Path(line).is_file()
    nothing = run("export", "EX-3", "--use", "exhibition", "--to", "third")
    assert nothing.exit_code == errors.Refused.exit_code and "Nothing went out." in nothing.stdout
    assert not (tmp_path / "third").exists()


def test_a_withdrawal_prints_what_it_recalls(filled: Run) -> None:
    run = filled
    done = run("agreements", "withdraw", "N-21", "--how", "letter")
    assert done.exit_code == 0 and "EX-1" in done.stdout and "Already went out: OUT-0001 on 1 June 2026" in done.stdout
    assert "cannot recall what was printed" in done.stdout
    assert "Nothing was found" in run("find", "lantern").stdout


# --- errors -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (["show", "IV-99.1"], 3, "no such recording"),
        (["people", "show", "N-99"], 3, "no such person"),
        (["may", "EX-99", "--use", "web"], 3, "no such excerpt"),
        (["may", "IV-21.1@900-100", "--use", "web"], 2, "end after it starts"),
        (["may", "IV-21.1@0-100", "--use", "skywriting"], 2, "no such use"),
        (["find", "--place", "Atlantis"], 3, "no such place"),
        (["find", "--decade", "long ago"], 2, "as a decade is none"),
        (["excerpt", "IV-21.1", "We dropped the lantern"], 5, "dropped"),
        (["excerpt", "IV-21.1", "We carried", "--use", "skywriting"], 2, "no such use"),
        (["tick", "EX-99"], 3, "no such excerpt"),
        (["jobs", "pause", "99"], 3, "no such job"),
        (["jobs", "cancel", "9" * 20], 2, "not in the range"),
        (["describe", "--confirm", "9" * 20], 2, "not in the range"),
        (["may", "IV-21.1@0:01-59:00", "--use", "web"], 3, "ends before that"),
        (["may", "IV-21.1@0:01-0:99", "--use", "web"], 2, "no time in a recording"),
        (["agreements", "seal", "IV-21.1@500000-600000"], 3, "ends before that"),
        (["agreements", "seal", "IV-21.1"], 2, "no stretch of a recording"),
        (["agreements", "withdraw", "N-21", "--stretch", "IV-22.1@0:01-0:02"], 2, "takes no part in that interview"),
        (["agreements", "lift", "N-21", "99", "--reason", "so"], 3, "no such hold"),
        (["agreements", "lift", "N-21", "9" * 30, "--reason", "so"], 2, "not in the range"),
        (["agreements", "show", "A-99"], 3, "no such agreement"),
        (["agreements", "list", "N-99"], 3, "no such person"),
        (["agreements", "withdraw", "N-99"], 3, "no such person"),
        (["agreements", "approve", "EX-9", "N-21", "yes"], 3, "no such excerpt"),
        (["people", "read", "none.csv"], 2, "cannot be opened"),
        (["places", "read", "none.csv"], 2, "cannot be opened"),
        (["ingest", "none.wav"], 7, "no such file"),
        (["names", "decide", "IV-21.1@500-900", "cleared"], 2, "how it was cleared"),
        (["describe", "IV-99.1"], 3, "no such recording"),
        (["models", "add", "mine", "none"], 2, "no such folder"),
        (["find", "--no-such-option"], 2, "No such option"),
        (["no-such-command"], 2, "No such command"),
        (["export", "--use", "web"], 2, "EXCERPT"),
    ],
    ids=lambda v: " ".join(v[:2]) if isinstance(v, list) else None,
)  # fmt: skip
def test_errors_are_words_with_an_exit_code(run: Run, arguments: list[str], code: int, said: str) -> None:
    done = run(*arguments)
    assert done.exit_code == code, done.output
    assert said.casefold() in done.output.casefold(), done.output
    assert "Traceback" not in done.output and not isinstance(done.exception, Exception) or isinstance(done.exception, SystemExit)


def test_no_archive_here(run: Run, tmp_path: Path) -> None:
    (tmp_path / "bare").mkdir()
    for name, ask in READING.items():
        done = run(*ask, archive=tmp_path / "bare")
        assert done.exit_code == 3 and "toldhere init" in done.stderr, name
    assert list((tmp_path / "bare").iterdir()) == []


def test_a_faulty_sheet_names_every_row(run: Run, tmp_path: Path) -> None:
    (tmp_path / "people.csv").write_text("code,full,attribution,voice,review\nN-31,Ada Marl,fully,,\n,Ida,,,\n", encoding="utf-8")
    done = run("people", "read", "people.csv")
    assert done.exit_code == 2 and done.stdout == ""
    lines = done.stderr.splitlines()
    assert lines[0] == "people.csv has 2 faults." and "Nothing of this sheet was taken" in lines[-1]
    assert any("people.csv, row 2" in line for line in lines) and any("people.csv, row 3" in line for line in lines)


def test_beginning_an_archive(run: Run, tmp_path: Path) -> None:
    """`init` asks for what it is not told, says where to go on, and makes nothing over what is there."""
    answers = CliRunner().invoke(cli, ["init", "new"], input="Tarnwick Voices\nMarigold\ny\n", prog_name="toldhere")
    assert answers.exit_code == 0 and "Next: toldhere" in answers.output
    assert (tmp_path / "new").stat().st_mode & 0o077 == 0
    again = run("init", "new", "--name", "x", "--exhibition", "y", "--recording-form-first", archive=None)
    assert again.exit_code == errors.Clash.exit_code and "already" in again.stderr
    assert run("recordings", "--json", archive=tmp_path / "new").stdout.strip() == "[]"
    for sheet in ("people", "places", "events", "themes"):
        command = [sheet, "read"] if sheet in ("people", "themes", "places") else [sheet]
        assert run(*command, MEDIA / f"{sheet}.csv", archive=tmp_path / "new").exit_code == 0
    assert run("find", archive=tmp_path / "new").stdout.startswith("There is nothing to find yet")


def test_a_name_with_quotes_and_signs_opens_again(run: Run, tmp_path: Path) -> None:
    name = 'The "old" ferry \\ quay — Tarnwick'
    done = run("init", "new", "--name", name, "--exhibition", "M", "--recording-form-first", archive=None)
    assert done.exit_code == 0
    archive = Archive.open(tmp_path / "new")
    assert archive.settings.name == name
    archive.close()


def test_a_person_is_added_by_the_rules_of_the_sheet(run: Run) -> None:
    wrong = run("people", "add", "N-31", "--full", "Ada Marl", "--attribution", "fully", "--born", "long ago")
    assert wrong.exit_code == 2 and wrong.stdout == ""
    assert "“fully” in “attribution” is not known" in wrong.stderr and "“born”" in wrong.stderr and "row" not in wrong.stderr
    somebody_else = run("people", "add", "N-31", "--full", "Ada Marl", "--pseudonym", "Edith")
    assert somebody_else.exit_code == 2 and "name of somebody else" in somebody_else.stderr
    done = run("people", "add", "N-31", "--full", "Ada Marl", "--attribution", "full", "--voice", "as_recorded", "--review", "not_wanted")
    assert done.exit_code == 0, done.output
    shown = run("people", "show", "N-31").stdout
    assert "N-31 Ada Marl: no agreement. How to name them: by their full name. Voice: as recorded. Sees quotes first: no." in shown
    assert "as_recorded" not in shown and "not_wanted" not in shown
    twice = run("people", "add", "N-31", "--full", "Ada Marl")
    assert twice.exit_code == errors.Clash.exit_code and "on record already" in twice.stderr
    careful = json.loads(run("people", "show", "N-31", "--json").stdout)["row"]
    assert (careful["attribution"], careful["voice"]) == ("full", "as_recorded"), "the second one changed nothing"
    assert run("people", "add", "N-32", "--full", "Ida Marl").exit_code == 0
    row = json.loads(run("people", "show", "N-32", "--json").stdout)["row"]
    assert (row["attribution"], row["voice"], row["review"]) == ("unnamed", "not_heard", "wanted")
    assert run("people", "add", "N-33", "--full", "X Y", role="editor").exit_code == errors.NotAllowed.exit_code


def test_an_agreement_is_added_by_the_rules_of_the_sheets(run: Run) -> None:
    common = ["--person", "N-27", "--signed-on", "2026-05-30"]
    for extra, said in (
        (["--allow", "skywriting:words"], "“skywriting” in “use” is not on record"),
        (["--allow", "exhibition"], "“way” is empty"),
        (["--kind", "handshake"], "“handshake” in “kind” is not known"),
        (["--signed-on", "last week"], "is no date"),
        (["--allow", "film:words", "--allow", "film:words"], "stands twice"),
        (["--person", "N-99"], "“N-99” in “person” is not on record"),
    ):
        wrong = run("agreements", "add", "A-new", *common, *extra)
        assert wrong.exit_code == 2 and said in wrong.stderr, wrong.output
        assert "Nothing was taken" in wrong.stderr
    assert "A-new" not in run("agreements", "list").stdout
    answers = ["--allow", "exhibition:words", "--ask", "film:words", "--refuse", "web:voice", "--until-on", "2026-12-31"]
    done = run("agreements", "add", "A-new", *common, *answers)
    assert done.exit_code == 0 and "with 3 answers" in done.stdout, done.output
    assert run("may", "IV-27.1@0:00-0:02", "--use", "exhibition").exit_code == 0
    told = json.loads(run("agreements", "show", "A-new", "--json").stdout)
    assert {(a["use"], a["way"], a["answer"], a["until_on"]) for a in told["answers"]} == {
        ("exhibition", "words", "yes", "2026-12-31"), ("film", "words", "ask", "2026-12-31"), ("web", "voice", "no", "2026-12-31"),
    }  # fmt: skip
    assert "through 31 December 2026" in run("agreements", "show", "A-new").stdout
    mine = json.loads(run("agreements", "list", "N-27", "--json").stdout)
    assert [(r["code"], r["state"]) for r in mine] == [("A-N-27", "in force"), ("A-new", "in force")]
    twice = run("agreements", "add", "A-new", *common)
    assert twice.exit_code == errors.Clash.exit_code and "--supersedes" in twice.stderr
    later = run("agreements", "add", "A-later", *common, "--supersedes", "A-new", "--interview", "IV-27")
    assert later.exit_code == 0 and "with no answers" in later.stdout
    assert "a later version took its place" in run("agreements", "show", "A-new").stdout
    assert run("may", "IV-27.1@0:00-0:02", "--use", "exhibition").exit_code == errors.Refused.exit_code


def test_describing_and_deciding(run: Run) -> None:
    tags = json.loads(run("show", "IV-21.1", "--json").stdout)["tags"]
    place = next(t["tag_id"] for t in tags if t["value"] == "Net Row")
    assert "confirmed" in run("describe", "--confirm", str(place)).stdout
    assert "rejected" in run("describe", "--reject", str(place)).stdout
    assert run("find", "--place", "Net Row").stdout.startswith("Nothing was found")
    assert re.search(r"\d+ suggestions? waits? for a person", run("describe", "IV-21.1").stdout)
    start_ms, end_ms, code = json.loads(run("names", "waiting", "IV-21.1", "--json").stdout)[0]
    assert code == "P-41"
    (line,) = [line for line in run("names", "waiting", "IV-21.1").stdout.splitlines() if "P-41" in line]
    stretch = line.split()[0]
    assert stretch == f"IV-21.1@{from_to(start_ms, end_ms)}" and "@0:0" in stretch, "printed as it can be typed"
    assert "Decided: the name may stand." in run("names", "decide", stretch, "keep", "--person", "P-41").stdout
    assert "Walter Brine" in run("find", "rope", role="reader").stdout


def test_the_archive_is_given_back_after_every_command(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """Files are replaced and restored between commands: nothing may stay open, also after an error."""
    closed: list[Path] = []
    real = Archive.close
    monkeypatch.setattr(Archive, "close", lambda self: (closed.append(self.folder), real(self))[1])
    run("recordings")
    run("show", "IV-99.1")
    run("may", "IV-24.1@0-900", "--use", "web")
    assert len(closed) == 3


def test_the_check_tells_a_fault_by_its_exit_code(run: Run, tmp_path: Path) -> None:
    said = run("check", "--fixity").stdout
    assert said.startswith("Whole.\n")
    noted = said.split("--noted ")[1].split()[0]
    assert run("check", "--noted", noted).exit_code == 0 and run("check", "--noted", "0" * 16).exit_code == errors.Broken.exit_code
    master = next((tmp_path / "archive" / "masters").glob("??/*"))
    data = master.read_bytes()
    master.unlink()  # it is a link to the session's own: another file is put in its place
    master.write_bytes(data[:-2] + b"xx")
    done = run("check", "--fixity")
    assert done.exit_code == errors.Broken.exit_code and "has changed since it came" in done.stdout
    assert json.loads(run("check", "--fixity", "--json").stdout)


def test_one_name_is_decided_stretch_by_stretch(run: Run) -> None:
    listed = run("names", "heard").stdout
    (line,) = [line for line in listed.splitlines() if line.startswith("P-41")]
    assert "a name" in line
    said = run("names", "heard", "P-41").stdout
    assert ">>Walter Brine<<" in said and "needs a person's eye" in said and "Not legal advice" in said
    given = ["--as", "E-01", "--role", "editor", "--archive", "archive"]
    no = CliRunner().invoke(cli, [*given, "names", "decide", "P-41", "keep", "--all"], input="n\n", prog_name="toldhere")
    assert "Did you hear it" in no.output and "Nothing was changed." in no.output
    assert run("names", "decide", "P-41", "keep").exit_code == 2, "without --all one stretch is meant"
    yes = CliRunner().invoke(cli, [*given, "names", "decide", "P-41", "hide", "--all", "--instead", "a neighbour"], input="y\n", prog_name="toldhere")
    assert "1 stretch decided: hide it." in yes.output, yes.output
    assert "[a neighbour]" in run("show", "IV-21.1", role="reader").stdout
    assert "No name" not in run("names", "heard").stdout
    assert "P-41" not in run("names", "heard", "--waiting").stdout


def test_words_are_hidden_like_a_name(run: Run) -> None:
    done = run("names", "hide", "IV-21.1", "Net Row", "--instead", "[a street]", "--yes", role="editor")
    assert ">>Net Row<<" in done.stdout and "1 stretch hidden" in done.stdout
    assert "[a street]" in run("show", "IV-21.1", role="reader").stdout and "Net Row" not in run("show", "IV-21.1", role="reader").stdout
    assert "Nothing was changed." in run("names", "hide", "IV-21.1", "Net Row", "--yes").stdout
    assert run("names", "hide", "IV-21.1", "the rope", "--instead", "[Walter]", "--yes").exit_code == 2
    assert run("names", "hide", "IV-21.1", "zeppelin").exit_code == 3


def test_closed_stretches_are_listed_and_closed_exactly(run: Run, tmp_path: Path) -> None:
    assert "IV-23.1@" in run("agreements", "closed").stdout
    archive = Archive.open(tmp_path / "archive")
    with archive.rooms.db.write() as connection:
        row = recordings.by_code(connection, "IV-21.1")
        assert row is not None
        hold = consent_rows.add_restraint(
            connection, kind=RestraintKind.SEALED, stretch=Stretch(row.id, 500, 3000), from_on=archive.today(), by="machine",
            at=archive.rooms.now(), rule="“turn that off”",
        )  # fmt: skip
    archive.close()
    assert "said off the record? “turn that off”" in run("agreements", "closed").stdout
    seal = ["agreements", "seal", "IV-21.1@0:02-0:02.5", "--instead-of", str(hold), "--how", "asked her"]
    assert run(*seal, role="editor").exit_code == 4
    assert run("agreements", "seal", "IV-23.1@0:02-0:02.5", "--instead-of", str(hold), "--how", "asked her").exit_code == 2
    assert "Closed exactly so" in run(*seal, "--until", "2039-12-31").stdout
    listed = run("agreements", "closed").stdout
    assert "through 31 December 2039" in listed and "(no longer holds)" in listed
    assert run(*seal).exit_code == 6


def test_a_second_person_ticks_after_an_answer(run: Run) -> None:
    """First everything to decide by, and the question; then the answer. Nobody ticks twice."""
    assert run("excerpt", "IV-25.1", cast.QUOTES["N-25"], "--panel", "The flood").exit_code == 0
    narrator = run("tick", "EX-1", "--by", "N-22")
    assert narrator.exit_code == errors.BadInput.exit_code and "interviewer or interpreter" in narrator.stderr
    done = run("tick", "EX-1", role="editor")
    assert done.exit_code == 0 and "toldhere --as NAME tick EX-1 --second" in done.stdout and "toldhere accounts add NAME editor" in done.stdout
    asked = run("tick", "EX-1", "--second")
    assert asked.exit_code == errors.BadInput.exit_code and "not answered" in asked.stderr
    for words in ("leaves as: “They said [name withheld] put", "The speaker is not named.", "Panel: The flood.", "Together, do these name her or him?", "A voice identifies even without a name."):
        assert words in asked.stdout, words
    assert "Fosse" not in asked.stdout
    for same in (run("tick", "EX-1", "--second", "--by", "E-01", "--together", "nobody"), run("tick", "EX-1", "--second", "--together", "nobody", role="editor")):
        assert same.exit_code == errors.Clash.exit_code and "Somebody else has to listen" in same.stderr
    typed = run("tick", "EX-1", "--second", "--by", "R-01", "--together", "nobody", role="editor")
    assert typed.exit_code == errors.Clash.exit_code and "same account (E-01)" in typed.stderr
    doubt = run("tick", "EX-1", "--second", "--together", "somebody")
    assert doubt.exit_code == 0 and "Not ticked. It stays a draft" in doubt.stdout and "Choose fewer words" in doubt.stdout
    assert "a draft: A second person" in run("excerpts").stdout
    may = run("may", "EX-1", "--use", "exhibition").stdout
    assert "Together, do these name her or him?" in may and "Panel: The flood." in may and may.count("Not legal advice") == 1
    assert "second person" in run("tick", "EX-1", "--second", "--together", "nobody").stdout
    listed = run("excerpts").stdout
    assert "heard a second time by K-01" in listed and "a draft:" not in listed
    assert run("excerpt", "IV-26.1", "Under the tarpaulin", "--panel", "The flood").exit_code == 0
    assert "a draft: What stands around it changed since the second person listened." in run("excerpts").stdout
    again = run("tick", "EX-1", "--second").stdout
    assert "Heard a second time by K-01 on 1 June 2026; what stands around it changed since" in again and "“Under the tarpaulin”" in again
    assert run("tick", "EX-1", "--second", "--together", "nobody").exit_code == 0 and "a draft: What" not in run("excerpts").stdout
