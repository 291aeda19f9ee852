"""Accounts on the pages: how far they reach, helpers, undertakings, sessions that end, the sheet for the next keeper."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient
from pypdf import PdfReader

from archive.app import Archive
from archive.domain.values import Role, Viewer
from archive.errors import NotAllowed
from tests.webui.conftest import Enter, post, token_of
from tests.webui.town import EDITOR, KEEPER, PASSWORD, READER, SCRIPTS, copy_of
from webui.allowed import ALLOWED
from webui.app import create_app

HELPER = "H-01"
OFFERED_BY_SCRIPT = {"spellings.same"}  # hidden until “the same elsewhere” is found, which nobody looks for here


class Clock:
    """A clock that a test moves."""

    def __init__(self) -> None:
        self.now = datetime(2027, 3, 1, 9, 0, tzinfo=UTC)

    def __call__(self) -> datetime:
        return self.now

    def later(self, **by: float) -> None:
        self.now += timedelta(**by)


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def archive(made: Path, tmp_path: Path, clock: Clock) -> Iterator[Archive]:
    """The town's archive, under a clock that a test moves."""
    copy_of(made, tmp_path / "archive").close()
    opened = Archive.open(tmp_path / "archive", {}, clock)
    yield opened
    opened.close()


def test_a_person_is_closed_to_an_account_by_the_page(archive: Archive, enter: Enter) -> None:
    keeper, reader = enter(KEEPER.name), enter(READER.name)
    assert "Net Row" in reader.get("/recordings/TW-01.1").text
    status, text = post(keeper, "/upkeep/accounts", "/upkeep/accounts/reach", act="close", account=READER.name, code="N-01")
    assert (status, "On record" in text) == (200, True)
    assert "Net Row" not in reader.get("/recordings/TW-01.1").text
    assert reader.get("/recordings/TW-01.1/sound/0-500.wav").status_code in (403, 404, 409)
    status, _ = post(keeper, "/upkeep/accounts", "/upkeep/accounts/reach", act="open", account=READER.name, code="N-01")
    assert "Net Row" in reader.get("/recordings/TW-01.1").text
    status, text = post(keeper, "/upkeep/accounts", "/upkeep/accounts/reach", act="close", account=READER.name, code="N-77")
    assert status == 404
    assert "Nothing was changed" in text


def test_a_helper_comes_to_what_was_assigned(app: Flask, archive: Archive, enter: Enter) -> None:
    archive.accounts.add(KEEPER, HELPER, Role.HELPER, PASSWORD)
    archive.accounts.assign(KEEPER, HELPER, "TW-01.1")
    archive.glossary.write(KEEPER, {"word": "kitchen", "language": "en", "meanings": "where one cooks"})
    client = app.test_client()
    token = token_of(client.get("/sign-in").text)
    answer = client.post("/sign-in", data={"csrf_token": token, "name": HELPER, "password": PASSWORD})
    assert answer.headers["Location"] == "/recordings"
    listed = client.get("/recordings").text
    assert "TW-01.1" in listed
    assert "TW-05.1" not in listed
    assert "TW-06.1" not in listed
    page = client.get("/recordings/TW-01.1")
    assert page.status_code == 200
    assert "kitchen" in page.text
    desk = client.get("/recordings/TW-01.1/correct")
    assert desk.status_code == 200
    assert client.get("/recordings/TW-01.1/correct/lines.json?first=0").status_code == 200
    assert client.get("/glossary").status_code == 200
    said = [line for code in ("TW-05", "TW-06", "TW-07") for _, line in SCRIPTS[code]]
    for endpoint, path in _of_recordings(app, "TW-06.1"):
        for method in ("GET", "POST"):
            answer = client.open(path, method=method, data={"csrf_token": token_of(client.get("/recordings").text)})
            assert answer.status_code in (400, 403, 404, 405), (endpoint, method, answer.status_code)
            assert not any(line in answer.text for line in said), endpoint
    table = app.url_map.bind("localhost")
    for text in (listed, page.text, desk.text, client.get("/glossary").text):  # no link or button of theirs leads to a closed door
        links = {(link, "GET") for link in re.findall(r'href="(/[^"?#]*)', text)} | {(link, "POST") for link in re.findall(r'(?:form)?action="(/[^"?#]*)', text)}
        for link, method in links:
            endpoint, _ = table.match(link, method=method)
            assert not ALLOWED[endpoint] or Role.HELPER in ALLOWED[endpoint] or endpoint in OFFERED_BY_SCRIPT, link


def _of_recordings(app: Flask, code: str) -> Iterator[tuple[str, str]]:
    """Every address about a recording that helpers may call, for this one."""
    fill = {"code": code, "start_ms": "0", "end_ms": "500", "shape": "000000000000", "part": "0"}
    for rule in app.url_map.iter_rules():
        if Role.HELPER in ALLOWED[rule.endpoint] and rule.rule.startswith("/recordings/"):
            path = rule.rule
            for name in rule.arguments:
                path = path.replace(f"<int:{name}>", fill[name]).replace(f"<{name}>", fill[name])
            yield rule.endpoint, path


def test_sessions_end(archive: Archive, app: Flask, enter: Enter, clock: Clock) -> None:
    """By idleness (an hour), whatever a page asks by itself; and after twelve hours of work in any case."""
    idle, busy, open_page = enter(EDITOR.name), enter(EDITOR.name), enter(EDITOR.name)
    for _ in range(12):
        clock.later(minutes=50)
        assert busy.get("/find").status_code == 200
    assert idle.get("/find").status_code == 303
    said = idle.get("/sign-in").text
    assert "signed out after a while" in said
    clock.later(hours=2.5)
    assert busy.get("/find").status_code == 303
    other = enter(KEEPER.name)
    for _ in range(3):
        clock.later(minutes=25)
        open_page.get("/upkeep/jobs.json")
        answer = other.get("/upkeep/jobs.json")
    assert answer.status_code == 401


def test_a_copied_cookie_ends_as_well(archive: Archive, app: Flask, enter: Enter, clock: Clock) -> None:
    client = enter(EDITOR.name)
    cookie = client.get_cookie("told_here")
    assert cookie is not None
    thief = app.test_client()
    thief.set_cookie("told_here", cookie.value)
    assert thief.get("/find").status_code == 200
    clock.later(minutes=61)
    again = app.test_client()
    again.set_cookie("told_here", cookie.value)
    assert again.get("/find").status_code == 303


def test_without_an_undertaking_one_is_told_or_refused(archive: Archive, made: Path, tmp_path: Path, clock: Clock) -> None:
    client = create_app(archive).test_client()
    status, text = post(client, "/sign-in", "/sign-in", name=READER.name, password=PASSWORD)
    assert status == 200
    assert "No signed undertaking of confidentiality" in text
    strict = Archive.open(archive.folder, {"TOLDHERE_WITHOUT_UNDERTAKING": "refused"}, clock)
    status, text = post(create_app(strict).test_client(), "/sign-in", "/sign-in", name=READER.name, password=PASSWORD)
    assert status == 403
    assert "undertaking" in text
    assert strict.accounts.sign_in(KEEPER.name, PASSWORD, "here").role == Role.KEEPER  # somebody must be able to attach it
    form = strict.papers.form(KEEPER, READER.name)
    with pytest.raises(NotAllowed):  # printed is not signed
        strict.accounts.sign_in(READER.name, PASSWORD, "here")
    scan = tmp_path / "signed.pdf"
    scan.write_bytes(form.data)
    strict.papers.attach(KEEPER, scan, form.reference)
    assert strict.accounts.sign_in(READER.name, PASSWORD, "here").name == READER.name
    assert {r.name: r.undertaken for r in strict.accounts.list(KEEPER)}[READER.name]
    strict.close()


def test_the_sheet_for_the_next_keeper(archive: Archive, enter: Enter) -> None:
    """It says where and how; it names nobody on record and holds no password (read back by pypdf, which did not write it)."""
    client = enter(KEEPER.name)
    assert "no second keeper" in client.get("/upkeep/accounts").text
    answer = client.post("/upkeep/accounts/keeper-sheet", data={"csrf_token": token_of(client.get("/upkeep/accounts").text)})
    assert answer.mimetype == "application/pdf"
    text = "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(answer.data)).pages)
    flat = " ".join(text.split())
    assert str(archive.folder).replace(" ", "") in flat.replace(" ", "")
    for wanted in ("toldhere --archive", "second copy", "Not legal advice", "second keeper"):
        assert wanted in flat
    with archive.rooms.db.read() as connection:
        from archive.db import people

        names = [n.text for known in people.names(connection).values() for n in known if n.kind in ("full", "family")]
    assert not any(name in flat for name in names)
    assert PASSWORD not in flat
    assert archive.records.list(KEEPER, 1)[0].action == "keeper's sheet printed"
    archive.accounts.add(KEEPER, "K-02", Role.KEEPER, PASSWORD)
    assert "no second keeper" not in client.get("/upkeep/accounts").text


@pytest.mark.parametrize("viewer", [KEEPER, READER], ids=lambda v: v.role.value)
def test_no_page_has_whom_one_must_not_open(app: Flask, archive: Archive, enter: Enter, viewer: Viewer) -> None:
    """Every page of the running app (walked from `url_map`) with everything in its address that is Maud Ellery's: neither her name, nor her
    code beside it, nor what she said; whoever has no such limit reads all three somewhere."""
    archive.accounts.add(KEEPER, "K-02", Role.KEEPER, PASSWORD)
    archive.excerpts.choose(EDITOR, "TW-01.1", "The Sallow came up through the drain first", "exhibition")
    client = enter(viewer.name)
    hers = ("Ellery", "kitchen", "came up through the drain")
    assert "kitchen" in _text(client, "/recordings/TW-01.1")
    assert viewer is READER or "Ellery" in _text(client, "/people/N-01")
    assert viewer is READER or "came up through the drain" in _text(client, "/exhibition")
    archive.accounts.close_to(Viewer("K-02", Role.KEEPER), viewer.name, "N-01")
    leaking = [(path, word) for path in _pages(app, viewer.role) for word in hers if word in _text(client, path)]
    assert not leaking, leaking


def _text(client: FlaskClient, path: str) -> str:
    answer = client.get(path, follow_redirects=False)
    text = answer.get_data(as_text=True) if answer.mimetype in ("text/html", "application/json", "text/plain") else ""
    answer.close()
    return text


def _pages(app: Flask, role: Role) -> list[str]:
    """The address of every page that a role may see, filled with what is Maud Ellery's."""
    fill = {
        "question": "nothing", "start_ms": "0", "end_ms": "500", "tag_id": "1", "number": "1", "token": "nothing", "key": "N-01", "hold": "1",
        "name": "nothing.docx", "filename": "css/house.css", "part": "start", "n": "0", "utterance": "1", "entry": "1", "shape": "000000000000",
        "item": "1", "theme": "1", "target": "N-01",
    }  # fmt: skip
    found = []
    for rule in app.url_map.iter_rules():
        roles = ALLOWED[rule.endpoint]
        if "GET" not in (rule.methods or set()) or rule.endpoint in ("static", "sign_in.link") or (roles and role not in roles):
            continue
        place = rule.rule.split("/")[1]
        given = {**fill, "code": {"recordings": "TW-01.1", "exhibition": "EX-1", "agreements": "A-N-01"}.get(place, "N-01")}
        found.append(re.sub(r"<(?:(\w+):)?(\w+)>", lambda m, given=given: "0" if m[1] == "int" and not given[m[2]].isdigit() else given[m[2]], rule.rule))  # type: ignore[misc]
    return found
