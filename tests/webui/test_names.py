"""The pages of names: what an editor sees, hears and decides; what a reader then reads; nothing changed unseen."""

from __future__ import annotations

import re
from html import unescape

import pytest
from flask.testing import FlaskClient

from archive.app import Archive
from archive.db import consent_rows, recordings
from archive.domain.values import RestraintKind, Stretch
from archive.gate.indexing import index_recording
from tests.webui.conftest import Enter, post, token_of
from tests.webui.town import EDITOR, KEEPER, READER

CAUTIONS = ("needs a person's eye", "cannot be taken back once it hangs on a wall", "Not legal advice")


def _said(page: str) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", "", page)))


def _boxes(page: str, name: str = "heard") -> list[str]:
    return re.findall(rf'name="{name}" value="([^"]+)"', page)


def _decide(client: FlaskClient, heard: list[str], **fields: str) -> tuple[int, str]:
    token = token_of(client.get("/names/N-08").text)
    answer = client.post("/names/N-08", data={"csrf_token": token, "heard": heard, **fields}, follow_redirects=True)
    return answer.status_code, answer.text


def test_one_name_is_reached_and_decided(enter: Enter) -> None:
    editor, reader = enter(EDITOR.name), enter(READER.name)
    listed = editor.get("/names").text
    assert 'href="/names/N-08"' in listed and re.search(r"names? waits? for a decision", _said(listed))
    for path in ("/people", "/people/N-08", "/recordings/TW-01.1"):
        assert "/names" in editor.get(path).text, path
    page = editor.get("/names/N-08").text
    assert all(c in _said(page) for c in CAUTIONS)
    assert "<strong>Peter Lund</strong>" in page and 'data-sound="/recordings/TW-01.1/sound/"' in page
    (box,) = _boxes(page)
    status, text = _decide(editor, [], decision="hide")
    assert status == 400 and "nothing was changed" in text
    status, text = _decide(editor, [box], decision="public")
    assert status == 400 and "Say where it is publicly known" in text and "checked" in text, "what was heard stays ticked"
    status, text = _decide(editor, [box], decision="hide", instead="a neighbour")
    assert status == 200 and "1 stretch decided: hidden." in _said(text)
    assert "It was [a neighbour] who had the key" in _said(reader.get("/recordings/TW-01.1").text)
    status, text = _decide(editor, [box], decision="keep")
    assert status == 409 and "somebody decided about it meanwhile" in _said(text)


@pytest.mark.parametrize("bad", ["", "TW-01.1", "TW-01.1@1-2 N-08", "TW-01.1@99999999999-2 N-08 x", "<b>@1-2 N-08 x"])
def test_what_a_form_makes_up_is_refused(enter: Enter, bad: str) -> None:
    status, _ = _decide(enter(EDITOR.name), [bad], decision="keep")
    assert status in (400, 404)


def test_no_name_stands_in_an_address(enter: Enter, archive: Archive) -> None:
    found = archive.naming.occurrences(EDITOR, "TW-01.1", "my mother's kitchen")
    post(enter(EDITOR.name), "/recordings/TW-01.1", "/recordings/TW-01.1/hide", stretch=f"TW-01.1@{found[0].start_ms}-{found[0].end_ms} - new", kind="apart")
    page = enter(EDITOR.name).get("/names").text
    addresses = re.findall(r'href="(/names/[^"]+)"', page)
    assert len(addresses) >= 2
    for address in addresses:
        assert not {"lund", "peter", "mother", "kitchen"} & set(re.split(r"\W+", address.lower())), address
        assert enter(EDITOR.name).get(address).status_code == 200


def test_words_are_shown_before_they_are_hidden(enter: Enter) -> None:
    editor, reader = enter(EDITOR.name), enter(READER.name)
    _, page = post(editor, "/recordings/TW-01.1", "/recordings/TW-01.1/words", quote="Net Row")
    assert "on <strong>Net Row</strong> in" in page and "Not legal advice" in page
    (stretch,) = _boxes(page, "stretch")
    assert "Net Row" in _said(reader.get("/recordings/TW-01.1").text), "looking changes nothing"
    status, text = post(editor, "/recordings/TW-01.1", "/recordings/TW-01.1/hide", stretch=stretch, instead="[a street]", kind="place")
    assert status == 200 and "1 stretch hidden in whatever leaves" in _said(text)
    read = _said(reader.get("/recordings/TW-01.1").text)
    assert "I was on [a street] in my" in read and "Net Row" not in read
    _, found = post(reader, "/find", "/find", words="kitchen clock")
    assert "Net Row" not in found.split("<main")[1].split('class="facets"')[0]


def test_words_chosen_on_the_page_are_hidden_there_alone(enter: Enter, archive: Archive) -> None:
    said = archive.recordings.page(EDITOR, "TW-01.1").shown.utterances[1]
    first, last = (f"{said.utterance_id}:{w.index}" for w in said.words if w.text in ("Net", "Row"))
    _, page = post(enter(EDITOR.name), "/recordings/TW-01.1", "/recordings/TW-01.1/words", first=first, last=last)
    assert "only here" in page and len(_boxes(page, "stretch")) == 1
    status, _ = post(enter(EDITOR.name), "/recordings/TW-01.1", "/recordings/TW-01.1/words", first="x", last="y")
    assert status == 400


def test_who_decides_sees_by_words_what_is_hidden_from_others(enter: Enter) -> None:
    page = enter(EDITOR.name).get("/recordings/TW-01.1").text
    assert page.count("(hidden from readers and from what leaves: undecided)") == 1, "once for a run of words"
    assert re.search(r'class="hides"[^>]*>Lund<span class="vh nocopy">', page)
    assert "hidden from readers" not in enter(READER.name).get("/recordings/TW-01.1").text


@pytest.fixture
def guessed(archive: Archive) -> int:
    """A stretch of TW-01.1 that our own computer closed."""
    with archive.rooms.db.write() as connection:
        row = recordings.by_code(connection, "TW-01.1")
        assert row is not None
        hold = consent_rows.add_restraint(
            connection, kind=RestraintKind.SEALED, stretch=Stretch(row.id, 23_500, 29_000), from_on=archive.today(), by="machine",
            at=archive.rooms.now(), rule="“between us”",
        )  # fmt: skip
        index_recording(connection, row.id, archive.rooms.context())
    return hold


def test_a_guess_about_off_the_record_is_decided_by_a_keeper(enter: Enter, archive: Archive, guessed: int) -> None:
    editor, keeper = enter(EDITOR.name), enter(KEEPER.name)
    assert "/off-the-record" in editor.get("/names").text and "/off-the-record" in keeper.get("/recordings/TW-01.1").text
    for client in (editor, keeper):
        page = client.get("/off-the-record").text
        assert "between us" in page and "TW-01.1, 0:23 – 0:29" in _said(page) and "drain" not in page
    assert "A keeper listens and decides." in editor.get("/off-the-record").text
    assert post(editor, "/names", f"/off-the-record/{guessed}/open", reason="asked her")[0] == 403
    to = f"/off-the-record/{guessed}/close"
    assert post(keeper, "/off-the-record", to, **{"starts": "soon", "ends": "0:29", "reason": "asked her"})[0] == 400
    assert post(keeper, "/off-the-record", to, **{"starts": "0:24", "ends": "0:25", "until": "x", "reason": "asked her"})[0] == 400
    status, text = post(keeper, "/off-the-record", to, **{"starts": "0:24", "ends": "0:25", "until": "2039-12-31", "reason": "asked her"})
    assert status == 200 and "Exactly this stretch is closed" in text and "Nothing waits here." in text
    read = _said(editor.get("/recordings/TW-01.1").text)
    assert "[closed] through the drain first" in read and "The Sallow came" not in read
    (mine,) = [r for r in archive.consent.closed(EDITOR) if r.recording == "TW-01.1" and r.holds]
    assert str(mine.until) == "2039-12-31" and mine.how == "asked her"


def test_a_guess_that_was_wrong_is_opened_again(enter: Enter, guessed: int) -> None:
    keeper = enter(KEEPER.name)
    assert post(keeper, "/off-the-record", f"/off-the-record/{guessed}/open", reason=" ")[0] == 400
    status, text = post(keeper, "/off-the-record", f"/off-the-record/{guessed}/open", reason="asked her: she meant the weather")
    assert status == 200 and "open again as the agreements say" in text
    assert "drain" in keeper.get("/recordings/TW-01.1").text
    assert post(keeper, "/names", f"/off-the-record/{guessed}/open", reason="twice")[0] in (404, 409)
