"""Deny unless listed: every route of the running app against everybody who may knock (route × role)."""

from __future__ import annotations

import re

import pytest
from flask import Flask

from archive.app import Archive
from archive.domain.values import Role
from tests.webui.conftest import Enter, token_of
from tests.webui.town import EDITOR, KEEPER, PASSWORD, READER
from webui.allowed import ALLOWED, EVERYBODY, unlisted

NAMES = {Role.KEEPER: KEEPER.name, Role.EDITOR: EDITOR.name, Role.READER: READER.name, Role.HELPER: "H-01"}
# Written out again, by hand, so that a slip in the table is seen (DESIGN §9: what each role is for).
FOR_READERS = {
    "finding.home", "finding.blank", "finding.ask", "finding.answer", "recordings.all_of_them", "recordings.one",
    "recordings.sound", "recordings.words", "transcripts.write", "glossary.all_of_them", "glossary.one", "sign_in.leave",
    *(f"lists.{name}" for name in ("all_of_them", "make", "one", "rename", "delete", "put_back", "keep", "item", "questions", "save", "look", "news", "drop")),
    "overview.grid", "overview.into", "overview.beside", "places.all_of_them", "places.one",
}  # fmt: skip
FOR_HELPERS = {
    "recordings.all_of_them", "recordings.one", "recordings.sound", "recordings.words", "glossary.all_of_them", "sign_in.leave",
    *(f"translations.{name}" for name in ("words", "write", "one", "change", "say_state")),
    *(f"correcting.{name}" for name in ("desk", "lines", "change", "conflicts", "finish")),
}
FOR_KEEPERS_ALONE = {
    "names.open_again", "names.close_exactly", "take_in.look", "take_in.folder",
    "recordings.open_closed", "people.before_withdrawal", "people.withdraw", "people.lift", "upkeep.record",
    "people.letter", "people.decide", "people.answer", "people.note_risk", "people.end_risk", "papers.attach", "papers.contact", "papers.spoken",
    "deciding.speaks_for", "deciding.say",
    "erasing.all_of_them", "erasing.ask", "erasing.one", "erasing.agree", "erasing.back", "erasing.now", "erasing.search",
    "upkeep.check_record", "upkeep.accounts", "upkeep.add_account", "upkeep.reach", "upkeep.keeper_sheet", "copies.choose", "copies.open_part", "copies.opened_sound",
}  # fmt: skip
FOR_EVERYBODY = {"static", "sign_in.ask", "sign_in.check", "sign_in.link", "sign_in.enter"}


def _routes(app: Flask) -> list[tuple[str, str, str]]:
    """(endpoint, method, path) of every route, its parts filled in with something that fits."""
    fill = {
        "code": "TW-01.1", "question": "nothing", "start_ms": "0", "end_ms": "500", "tag_id": "1", "number": "1",
        "token": "nothing", "key": "N-08", "hold": "1", "name": "nothing.docx", "filename": "css/house.css", "part": "start", "n": "0", "utterance": "1", "entry": "1",
        "shape": "000000000000", "item": "1", "theme": "1", "target": "TW-01.1@0:01-0:02",
    }  # fmt: skip
    routes = []
    for rule in app.url_map.iter_rules():
        path = re.sub(r"<(?:(\w+):)?(\w+)>", lambda m: "0" if m[1] == "int" and not fill[m[2]].isdigit() else fill[m[2]], rule.rule)
        routes += [(rule.endpoint, m, path) for m in sorted((rule.methods or set()) & {"GET", "POST"})]
    return routes


def test_every_route_is_listed_and_nothing_else(app: Flask) -> None:
    with app.app_context():
        assert unlisted() == []
    assert set(ALLOWED) == {rule.endpoint for rule in app.url_map.iter_rules()}


def test_the_table_says_what_the_design_says() -> None:
    assert {e for e, roles in ALLOWED.items() if roles is EVERYBODY} == FOR_EVERYBODY
    assert {e for e, roles in ALLOWED.items() if Role.READER in roles} == FOR_READERS
    assert {e for e, roles in ALLOWED.items() if Role.HELPER in roles} == FOR_HELPERS
    assert {e for e, roles in ALLOWED.items() if roles == {Role.KEEPER}} == FOR_KEEPERS_ALONE
    assert all(Role.KEEPER in roles for e, roles in ALLOWED.items() if e not in FOR_EVERYBODY)


def test_closed_to_whoever_is_not_signed_in(app: Flask) -> None:
    client = app.test_client()
    token = token_of(client.get("/sign-in").text)
    for endpoint, method, path in _routes(app):
        if endpoint in FOR_EVERYBODY:
            continue
        answer = client.open(path, method=method, data={"csrf_token": token} if method == "POST" else None)
        assert answer.status_code in (303, 401), (endpoint, method, answer.status_code)
        if answer.status_code == 303:
            assert answer.headers["Location"].startswith("/sign-in"), endpoint
        assert "Ellery" not in answer.text, endpoint


@pytest.mark.parametrize("role", [Role.READER, Role.EDITOR, Role.HELPER])
def test_closed_to_lower_roles(app: Flask, archive: Archive, enter: Enter, role: Role) -> None:
    if role is Role.HELPER:
        archive.accounts.add(KEEPER, NAMES[role], role, PASSWORD)
    client = enter(NAMES[role])
    token = token_of(client.get("/recordings").text)
    refused = 0
    for endpoint, method, path in _routes(app):
        if endpoint in FOR_EVERYBODY or role in ALLOWED[endpoint]:
            continue
        answer = client.open(path, method=method, data={"csrf_token": token} if method == "POST" else None)
        assert answer.status_code == 403, (endpoint, method, answer.status_code)
        refused += 1
    assert refused >= (len(FOR_KEEPERS_ALONE) if role is Role.EDITOR else 15)


def test_a_post_without_its_token_changes_nothing(app: Flask, archive: Archive, enter: Enter) -> None:
    client = enter(KEEPER.name)
    before = archive.records.list(KEEPER, 1)
    for endpoint, method, path in _routes(app):
        if method == "POST":
            answer = client.post(path, data={"use": "", "how": "letter", "reason": "to see", "name": "N", "role": "keeper"})
            assert answer.status_code == 400, (endpoint, answer.status_code)
    assert archive.records.list(KEEPER, 1) == before


def test_a_post_from_another_site_is_refused(enter: Enter) -> None:
    client = enter(KEEPER.name)
    token = token_of(client.get("/find").text)
    for site in ("cross-site", "same-site"):
        answer = client.post("/find", data={"csrf_token": token, "words": "flood"}, headers={"Sec-Fetch-Site": site})
        assert answer.status_code == 403, site
    assert client.post("/find", data={"csrf_token": token}, headers={"Sec-Fetch-Site": "same-origin"}).status_code == 303


def test_no_get_writes_to_the_record(app: Flask, archive: Archive, enter: Enter) -> None:
    client = enter(KEEPER.name)
    before = archive.records.list(KEEPER, 1)
    for _, method, path in _routes(app):
        if method == "GET":
            client.get(path).close()
    assert archive.records.list(KEEPER, 1) == before


def test_an_unlisted_route_is_closed_even_to_a_keeper(archive: Archive) -> None:
    from webui.app import create_app

    app = create_app(archive)
    app.add_url_rule("/forgotten", "forgotten", lambda: "everything")
    client = app.test_client()
    token = token_of(client.get("/sign-in").text)
    client.post("/sign-in", data={"csrf_token": token, "name": KEEPER.name, "password": PASSWORD})
    answer = client.get("/forgotten")
    assert answer.status_code == 404
    assert "everything" not in answer.text
