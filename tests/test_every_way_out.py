"""The cast × every page, command and error × every role. The lists come from the program: a new way out without a row here fails.

DESIGN §4, 5 (names asked to be hidden appear nowhere) and §9 (roles).
"""

from __future__ import annotations

import io
import logging
import re
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from flask import Flask
from flask.testing import FlaskClient

from archive.app import TRANSCRIPT_FORMS, Archive, Asked
from archive.cli import desk
from archive.cli.main import cli
from archive.domain.values import Attribution, Role
from tests import cast
from tests.cast import CAST, EDITOR, KEEPER, PASSWORD, READER, THIRD
from tests.cli.test_commands import COMMANDS, FOR_READERS, READING
from tests.conftest import copy_of
from tests.lease import exported
from tests.webui.conftest import token_of
from webui.allowed import ALLOWED
from webui.app import create_app

HELD = [m for m in CAST if m.held]
SECRETS = [m.secret for m in HELD]  # words of closed speech: for nobody, whatever the role
# Who closed only a stretch may be named; who is held back altogether, or wishes another name, may not.
FOR_NO_READER = [m.name for m in CAST if m.attribution != Attribution.FULL or m.held in ("embargo", "withdrawn")] + [THIRD[1]]
ROLES = (KEEPER, EDITOR, READER)
Rows = list[dict[str, Any]]


def parts(names: list[str]) -> list[str]:
    """Full names and each part of them."""
    return [p for name in names for p in (name, *name.split())]


def found_in(text: str, wanted: list[str]) -> list[str]:
    """Which of these stand in a text as words of their own."""
    return [w for w in wanted if re.search(rf"(?i)\b{re.escape(w)}\b", text)]


def text_of(data: bytes) -> str:
    """What can be read in an answer: a DOCX's parts are packed."""
    if not data.startswith(b"PK\x03\x04"):
        return data.decode("utf-8", "replace")
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        return "\n".join(package.read(name).decode("utf-8", "replace") for name in package.namelist() if not name.endswith(".odttf"))


def leaks(text: str, role: Role) -> list[str]:
    """What this role must not read in it."""
    return found_in(text, SECRETS + (parts(FOR_NO_READER) if role == Role.READER else []))


@pytest.fixture(scope="module")
def filled_once(made_cast: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The cast with excerpts, a reading by somebody else, an export, made once and copied for each test."""
    base = tmp_path_factory.mktemp("filled")
    archive = cast.in_a_hurry(Archive.open(copy_of(made_cast, base / "archive"), {}, cast.clock))
    codes = [archive.excerpts.choose(EDITOR, cast.recording_of(m.code), m.text, "exhibition") for m in CAST if not m.held]
    cast.read_aloud(archive, cast.reading_file(base / "reading.wav"))
    for member in CAST:  # as if from before anything was closed or hidden: with every word and name of the original
        cast.translate(archive, cast.recording_of(member.code), f"Przekład: {member.text}")
    archive.glossary.write(EDITOR, {"word": "windlass", "language": "en", "meanings": "a winch", "sensitive": "yes", "source": "a dictionary"})
    for member in HELD:  # a word of closed speech in the glossary says nothing of where it was said
        archive.glossary.write(EDITOR, {"word": f"{member.secret[:-1]}y", "language": "en", "meanings": "a thing"})
    open_one = next(m for m in CAST if m.code == "N-28")
    archive.excerpts.show_as(EDITOR, archive.excerpts.choose(EDITOR, cast.recording_of(open_one.code), open_one.text, "exhibition"), "both")
    archive.excerpts.tick_heard(EDITOR, codes[0])
    archive.exports.make(EDITOR, codes, "exhibition", base / "out")
    for member, row in zip((m for m in CAST if not m.held), codes, strict=True):  # sheets of quotes, one with a name in what came back
        if member.words_allowed:
            sheet = archive.reviews.sheet(EDITOR, member.code, [row]).reference
            archive.reviews.answer(EDITOR, sheet, 1, *(("change", f"{THIRD[1]} and {member.name}") if member.code == "N-25" else ("yes",)))
    for member in CAST:  # forms and how somebody is reached, with names and addresses in them
        archive.papers.form(EDITOR, member.code)
        archive.letters.say(KEEPER, member.code, {"called": member.name, "address": f"by {member.name}", "how": THIRD[1]}, [], False)
    archive.notes.write(EDITOR, {"about": "IV-21", "in_the_room": THIRD[1], "remarks": "Nora Pell came in"})
    archive.spellings.add(KEEPER, {"spelling": THIRD[1], "heard_as": "Wally Bryne"})
    archive.spellings.add(KEEPER, {"spelling": "Nora Pell's boat", "kind": "ship", "heard_as": "Norah Pill's boat"})
    for viewer in (EDITOR, READER):  # lists with all that is closed, from before it was, and notes that nobody reads then
        wall = archive.lists.make(viewer, "Wall")
        for member in CAST:
            end_ms = 500 + cast.WORD_MS * len(member.text.split())
            archive.lists.keep(viewer, wall, cast.recording_of(member.code), 0, end_ms, f"the {member.secret}" if member.held else "for the wall")
        archive.questions.save(viewer, archive.finding.keep(viewer, Asked("lantern")), "Light", team=True)
    archive.erasures.ask(KEEPER, "N-24", "a letter", "keep")
    archive.second_place.choose(KEEPER, base / "second")
    archive.copies.make(KEEPER)
    archive.close()
    return base / "archive"


@pytest.fixture
def filled(filled_once: Path, tmp_path: Path) -> Iterator[Archive]:
    """A copy of the filled archive."""
    archive = cast.in_a_hurry(Archive.open(copy_of(filled_once, tmp_path / "archive"), {}, cast.clock))
    yield archive
    archive.close()


@pytest.fixture
def app(filled: Archive) -> Flask:
    return create_app(filled)


def rows_for(archive: Archive, viewer: cast.Viewer) -> dict[str, Rows]:
    """endpoint → what its address is asked with. One for every endpoint that takes something."""
    recordings = [m.code for m in archive.recordings.list(KEEPER)]
    export = archive.exports.register(EDITOR)[0]
    folder = Path(export.files[0]).parent
    key = archive.finding.keep(viewer, Asked("lantern"))
    codes = [row.code for row in archive.excerpts.list(KEEPER)][:2]
    everybody = [{"code": m.code} for m in CAST] + [{"code": THIRD[0]}]
    return {
        "static": [{"filename": "css/page.css"}],
        "sign_in.link": [{"token": "not-a-token"}],
        "finding.answer": [{"question": key}],
        "lists.one": [{"number": row.id} for row in archive.lists.list(viewer)],
        "lists.news": [{"key": q.key} for q in archive.questions.list(viewer)],
        "recordings.one": [{"code": code} for code in recordings],
        "recordings.words": [{"code": c, "shape": archive.recordings.page(viewer, c).shape, "part": 0} for c in recordings],
        "recordings.waiting": [{"code": code} for code in recordings],
        "recordings.sound": [{"code": c, "start_ms": 500, "end_ms": 2500} for c in recordings],
        "confirming.same": [{"tag_id": one.tag.tag_id} for one in archive.confirming.waiting(KEEPER)[0]],
        "voices.alike": [{"code": code, "utterance": n} for n, code in enumerate(recordings, 1)],
        "correcting.desk": [{"code": code} for code in recordings],
        "correcting.lines": [{"code": code, "from": 0, "to": 90_000} for code in recordings],
        "correcting.conflicts": [{"code": code} for code in recordings],
        "correcting.fit": [{"code": code} for code in recordings],
        "correcting.versions": [{"code": code} for code in recordings],
        "glossary.one": [{"entry": row.id} for row in archive.glossary.list(KEEPER)],
        "themes.one": [{"theme": row.id} for row in archive.themes.list(KEEPER)],
        "places.one": [{"number": row.place.number} for row in archive.places.page(KEEPER).rows],
        "translations.one": [{"code": row.shown.code} for row in archive.translating.list(KEEPER)],
        "names.one": [{"key": g.key} for g in archive.naming.heard(KEEPER)] + [{"key": m["code"]} for m in everybody],
        "people.one": everybody,
        "deciding.one": [{"target": one} for one in (*(m["code"] for m in everybody), *codes, *(f"{r}@500-2500" for r in recordings))],
        "people.before_withdrawal": everybody,
        "papers.agreement": [{"code": f"A-{m.code}"} for m in CAST],
        "reviews.one": [{"code": row.code} for row in archive.reviews.list(KEEPER)],
        "papers.form": [{"code": form.code} for form in archive.papers.forms(KEEPER)],
        "exhibition.sound": [
            {"code": row.code, "start_ms": p.start_ms, "end_ms": p.end_ms}
            for row in archive.excerpts.list(KEEPER) if row.leaving is not None for p in row.leaving.pieces
        ],
        "copies.opened_sound": [{"code": c, "part": "start"} for c in recordings],
        "erasing.one": [{"code": row.code} for row in archive.erasures.list(KEEPER)],
        "notes.one": [{"code": note.code} for note in archive.notes.page(KEEPER).rows],
        **dict.fromkeys(("exhibition.exported", "exhibition.exported_as_json"), [{"number": j.id} for j in archive.jobs.list(KEEPER) if j.kind == "export"]),
        "exhibition.reading_sound": [{"code": row.code} for row in archive.excerpts.list(KEEPER)],
        "exhibition.download": [{"code": export.export, "name": Path(f).relative_to(folder).as_posix()} for f in export.files],
    }


def addresses(app: Flask, archive: Archive, viewer: cast.Viewer) -> Iterator[str]:
    """Every address that can be fetched, as the program lists them."""
    rows = rows_for(archive, viewer)
    with app.test_request_context():
        for rule in app.url_map.iter_rules():
            if "GET" not in (rule.methods or ()):
                continue
            if rule.arguments:
                wanted = rows.get(rule.endpoint)
                assert wanted is not None, f"{rule.endpoint}: say in rows_for what its address is asked with"
            for row in rows.get(rule.endpoint, [{}]) if rule.arguments else [{}]:
                yield app.url_map.bind("localhost").build(rule.endpoint, row)


def enter(app: Flask, viewer: cast.Viewer) -> FlaskClient:
    client = app.test_client()
    token = token_of(client.get("/sign-in").text)
    answer = client.post("/sign-in", data={"csrf_token": token, "name": viewer.name, "password": PASSWORD})
    assert answer.status_code == 303
    return client


@pytest.mark.parametrize("viewer", ROLES, ids=lambda v: v.role.value)
def test_no_page_no_header_no_address_no_log(app: Flask, filled: Archive, viewer: cast.Viewer, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.DEBUG)
    client = enter(app, viewer)
    seen = 0
    for address in [*addresses(app, filled, viewer)]:
        answer = client.get(address)
        text = answer.get_data().decode("utf-8", "replace") if not address.startswith("/static") else ""
        told = text + str(answer.headers) + address
        assert answer.status_code < 500, address
        assert not leaks(told, viewer.role), f"{address} as {viewer.role.value}"
        seen += answer.status_code == 200
        answer.close()  # a download holds its file open
    assert seen >= 8, "most pages were really there"
    assert not found_in(caplog.text, SECRETS + parts(FOR_NO_READER)), "a log is for nobody in particular"


@pytest.mark.parametrize("viewer", ROLES, ids=lambda v: v.role.value)
@pytest.mark.parametrize("typed", ["Lena Fosse", "Walter Brine", "capstan"])
def test_no_error_page_repeats_what_was_typed(app: Flask, filled: Archive, viewer: cast.Viewer, typed: str) -> None:
    """What somebody typed by mistake is in no error page, so in no screenshot that is sent around."""
    client = enter(app, viewer)
    slug = typed.replace(" ", "%20")
    for address in (f"/{slug}", f"/recordings/{slug}", f"/people/{slug}", f"/names/{slug}", f"/names/{slug}@0:01-0:02", f"/names/{slug}@x", f"/find/{slug}", f"/recordings/{slug}/sound/0-900.wav", f"/exhibition/{slug}/x", f"/exhibition/{slug}/sound/0-900.wav"):
        answer = client.get(address)
        assert answer.status_code >= 400 or address.startswith("/find"), address
        assert not found_in(answer.text, [typed, *typed.split()]), address


@pytest.mark.parametrize("typed", ["Lena Fosse", "Walter Brine", "capstan"])
def test_no_answer_to_what_was_sent_repeats_it(app: Flask, filled: Archive, typed: str, caplog: pytest.LogCaptureFixture) -> None:
    """Typed into a field that takes a code, a use or a stretch: the answer says which field, never what stood in it."""
    caplog.set_level(logging.DEBUG)
    client = enter(app, EDITOR)
    token = token_of(client.get("/exhibition").text)
    for excerpt, use in ((typed, "exhibition"), ("EX-1", typed)):
        answer = client.post("/exhibition/export", data={"csrf_token": token, "excerpt": excerpt, "use": use}, follow_redirects=True)
        if use == "exhibition":
            exported(filled)
            assert not found_in(client.get("/upkeep").text, [typed, *typed.split()])
            answer = client.get(answer.request.path)
        assert "There is no such" in answer.text and not found_in(answer.text, [typed, *typed.split()]), use
    for field in ("usable_for", "decade"):
        answer = client.post("/find", data={"csrf_token": token, "words": "herring", field: typed}, follow_redirects=True)
        assert not found_in(answer.text, [typed, *typed.split()]), field
    assert not found_in(caplog.text, [typed, *typed.split()])


@pytest.mark.parametrize("viewer", ROLES, ids=lambda v: v.role.value)
def test_no_transcript_that_is_written_out(app: Flask, viewer: cast.Viewer) -> None:
    """It goes on record, so it is no GET; every form is in the walk of the command below."""
    client = enter(app, viewer)
    token = token_of(client.get("/find").text)
    written = 0
    for member in CAST:
        for form in ("txt", "docx"):
            address = f"/recordings/{cast.recording_of(member.code)}/transcript/written"
            answer = client.post(address, data={"csrf_token": token, "form": form})
            told = text_of(answer.get_data()) + str(answer.headers)
            assert answer.status_code < 500 and not leaks(told, viewer.role), f"{address} {form} as {viewer.role.value}"
            written += answer.status_code == 200
    assert written >= 6, "most were really there"


@pytest.mark.parametrize("viewer", ROLES, ids=lambda v: v.role.value)
def test_no_place_where_a_mishearing_stands(app: Flask, viewer: cast.Viewer) -> None:
    """Words that are said in open and in closed speech, looked for as mis-hearings: posted, so no address names them."""
    client = enter(app, viewer)
    token = token_of(client.get("/find").text)
    shown = 0
    for said in ("cannery", "strike", "Gull Steps", "nobody", "door", "the"):
        answer = client.post("/spellings/same", data={"csrf_token": token, "wrong": said, "right": "Wherever"})
        assert not leaks(answer.text + str(answer.headers), viewer.role), f"{said} as {viewer.role.value}"
        shown += answer.text.count('name="place"')
    assert bool(shown) is (viewer.role != Role.READER)


def test_a_question_stays_in_nobody_s_history(app: Flask, filled: Archive, caplog: pytest.LogCaptureFixture) -> None:
    """A name that is typed into Find is posted and answered under a random id."""
    caplog.set_level(logging.DEBUG)
    client = enter(app, EDITOR)
    token = token_of(client.get("/find").text)
    answer = client.post("/find", data={"csrf_token": token, "words": "Lena Fosse"})
    assert answer.status_code == 303 and not found_in(answer.headers["Location"], parts(["Lena Fosse"]))
    page = client.get(answer.headers["Location"])
    assert "no-store" in page.headers["Cache-Control"]
    assert not found_in(re.search(r"<title>(.*?)</title>", page.text)[1], parts(["Lena Fosse"]))  # type: ignore[index]
    assert not found_in(caplog.text, parts(["Lena Fosse"]))


def test_every_page_is_for_somebody(app: Flask) -> None:
    """The walk above fetches what the table lists, and the table lists everything."""
    assert {rule.endpoint for rule in app.url_map.iter_rules()} == set(ALLOWED)


# -- the command line ----------------------------------------------------------------------------------------------------
@pytest.fixture
def command(filled: Archive, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., str]:
    folder, real = filled.folder, Archive.open
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(desk.out, "_width", 240)
    environ = {"TOLDHERE_MODELS_DIR": str(tmp_path / "models")}
    monkeypatch.setattr(Archive, "open", lambda path, *_: real(path, environ, cast.clock))

    def run(viewer: cast.Viewer, *arguments: str) -> str:
        given = ["--as", viewer.name, "--role", viewer.role.value, "--archive", str(folder), *arguments]
        return CliRunner().invoke(cli, given, prog_name="toldhere").output

    return run


@pytest.mark.parametrize("viewer", ROLES, ids=lambda v: v.role.value)
@pytest.mark.parametrize("name", sorted(READING))
def test_no_command(command: Callable[..., str], viewer: cast.Viewer, name: str) -> None:
    arguments = READING[name]
    codes = [cast.recording_of(m.code) for m in CAST] if arguments[-1].startswith("IV-") else [""]
    for code in codes:
        asked = [*arguments[:-1], code] if code else arguments
        for form in ([], ["--json"]):
            told = command(viewer, *asked, *form)
            assert told, name
            assert not leaks(told, viewer.role), f"{name} {code} as {viewer.role.value}"
    if name not in FOR_READERS and viewer.role == Role.READER:
        assert "Only a" in told


@pytest.mark.parametrize("typed", ["Lena Fosse", "Walter Brine@1:00-2:00", "IV-21.1@Lena-Fosse"])
def test_no_command_repeats_what_was_typed_in_its_error(command: Callable[..., str], typed: str) -> None:
    for arguments in (("may", typed, "--use", "exhibition"), ("may", "EX-1", "--use", typed), ("names", "heard", typed), ("names", "waiting", typed), ("export", typed, "--use", "exhibition")):
        told = command(EDITOR, *arguments)
        assert told and not found_in(told, ["Lena", "Fosse", "Walter", "Brine"]), arguments


def test_every_reading_command_has_its_row() -> None:
    """A command with --json reads: it is in the table of the commands' own tests, which this walk follows."""
    reading = {n for n, c in COMMANDS.items() if any(p.name == "as_data" for p in c.params)}
    assert set(READING) <= reading


@pytest.mark.parametrize("viewer", ROLES, ids=lambda v: v.role.value)
def test_no_transcript_that_a_command_writes(command: Callable[..., str], tmp_path: Path, viewer: cast.Viewer) -> None:
    written = 0
    for member in CAST:
        for form in TRANSCRIPT_FORMS:
            path = tmp_path / f"{member.code}.{form}"
            told = command(viewer, "transcript", "write", cast.recording_of(member.code), "--as", form, "--to", str(path))
            text = text_of(path.read_bytes()) if path.exists() else ""
            assert not leaks(told + text, viewer.role), f"{member.code} as {form}"
            written += path.exists()
    assert written >= 3 * len(TRANSCRIPT_FORMS), "most were really written"
