"""Who speaks, by requests: digits, suggestions that are shown apart, accepting, deleting, and what a stale page is told."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from archive.app import Archive
from archive.domain.values import Role
from tests import cast
from tests.cast import EDITOR, KEEPER, READER
from tests.conftest import copy_of
from tests.services.spoken import CODE
from tests.webui import town
from tests.webui.conftest import token_of
from webui.app import create_app

PAGE = f"/recordings/{CODE}"


@pytest.fixture(scope="module")
def heard(made_spoken: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Archive]:
    """One archive for all of this file, in order: compared, then decided."""
    archive = Archive.open(copy_of(made_spoken, tmp_path_factory.mktemp("pages") / "archive"), {}, cast.clock)
    for who in (EDITOR, READER):
        archive.accounts.add(KEEPER, who.name, Role(who.role), town.PASSWORD)
    yield archive
    archive.close()


def client_of(archive: Archive, name: str) -> FlaskClient:
    client = create_app(archive).test_client()
    token = token_of(client.get("/sign-in").text)
    client.post("/sign-in", data={"csrf_token": token, "name": name, "password": town.PASSWORD})
    return client


def test_suggestions_are_shown_apart_and_cautioned(heard: Archive) -> None:
    text = client_of(heard, EDITOR.name).get(PAGE).text
    page = heard.speaking.page(EDITOR, CODE)
    assert page.suggestions and text.count('class="sounds-like"') == len(page.suggestions)
    assert "biometric data" in text and "counts as everybody" in text and ">1</kbd>" in text


def test_a_reader_sees_nothing_of_it_and_may_not_ask(heard: Archive) -> None:
    client = client_of(heard, READER.name)
    text = client.get(PAGE).text
    assert "sounds like" not in text and "speakers-h" not in text
    assert client.get(f"{PAGE}/voices/alike/1.json").status_code == 403


def test_a_digit_assigns_and_says_how_much_is_left(heard: Archive) -> None:
    client = client_of(heard, EDITOR.name)
    token, before = token_of(client.get(PAGE).text), heard.speaking.page(EDITOR, CODE)
    first = before.suggestions[0]
    answer = client.post(f"{PAGE}/voices/assign.json", data={"csrf_token": token, "u": str(first.utterance_id), "person": first.code})
    assert answer.json["changed"] == 1 and answer.json["unassigned"] == before.unassigned - 1 and " of " in answer.json["share"]
    for fields in ({"u": "", "person": "N-08"}, {"u": "1,x", "person": "N-08"}, {"u": str(first.utterance_id), "person": "N-01"}, {"u": "99999", "person": "N-08"}):
        refused = client.post(f"{PAGE}/voices/assign.json", data={"csrf_token": token, **fields})
        assert 400 <= refused.status_code < 500 and "<" not in refused.text, fields


def test_alike_is_asked_before_anything_is_assigned(heard: Archive) -> None:
    shown = heard.recordings.page(EDITOR, CODE).shown
    mine = next(u for u in shown.utterances if u.speaker_code == "N-08")
    client = client_of(heard, EDITOR.name)
    before = heard.speaking.page(EDITOR, CODE).unassigned
    assert client.get(f"{PAGE}/voices/alike/{mine.utterance_id}.json").json["alike"]
    assert heard.speaking.page(EDITOR, CODE).unassigned == before
    assert client.get(f"{PAGE}/voices/alike/99999.json").status_code == 404


def test_accepting_one_then_all_that_is_ticked_then_a_stale_page(heard: Archive) -> None:
    client = client_of(heard, EDITOR.name)
    token, page = token_of(client.get(PAGE).text), heard.speaking.page(EDITOR, CODE)
    seen = [f"{s.utterance_id}:{s.code}" for s in page.suggestions]
    one = client.post(f"{PAGE}/voices/accept", data={"csrf_token": token, "s": seen, "one": seen[0]}, follow_redirects=True)
    assert "1 utterance has its speaker now." in one.text
    stale = client.post(f"{PAGE}/voices/accept", data={"csrf_token": token, "s": seen})
    assert stale.status_code == 409 and "Nothing was taken" in stale.text
    assert client.post(f"{PAGE}/voices/accept", data={"csrf_token": token}).status_code == 400
    assert client.post(f"{PAGE}/voices/accept", data={"csrf_token": token, "s": "x:y:z"}).status_code == 400
    client.post(f"{PAGE}/voices/accept", data={"csrf_token": token, "s": seen[1:]})
    assert heard.speaking.page(EDITOR, CODE).unassigned == page.unassigned - len(seen)


def test_deleting_and_comparing_again(heard: Archive) -> None:
    client = client_of(heard, EDITOR.name)
    token = token_of(client.get(PAGE).text)
    client.post(f"{PAGE}/voices/listen", data={"csrf_token": token})
    assert heard.speaking.page(EDITOR, CODE).listening
    client.post(f"{PAGE}/voices/forget", data={"csrf_token": token})
    assert not heard.speaking.page(EDITOR, CODE).kept_until
