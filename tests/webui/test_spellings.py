"""The pages of spellings: what an editor adds, is shown and ticks; nothing changed unseen; nothing for readers."""

from __future__ import annotations

import re
from html import unescape

import pytest
from flask.testing import FlaskClient

from archive.app import Archive, LineAct
from tests.webui.conftest import Enter, post, token_of
from tests.webui.town import CLOSED_WORDS, EDITOR, KEEPER, READER


def said(page: str) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", "", page)))


def places(page: str) -> list[str]:
    return re.findall(r'name="place" value="([^"]+)"', page)


def send(client: FlaskClient, to: str, **fields: str | list[str]) -> tuple[int, str]:
    answer = client.post(to, data={"csrf_token": token_of(client.get("/spellings").text), **fields}, follow_redirects=True)
    return answer.status_code, answer.text


def texts(archive: Archive, code: str) -> list[str]:
    return [" ".join(w[0] for w in line.words) for line in archive.correcting.lines(EDITOR, code)[0]]


def test_the_list_is_kept_changed_and_its_faults_are_told(enter: Enter) -> None:
    editor = enter(EDITOR.name)
    assert "/spellings" in editor.get("/recordings").text
    status, text = send(editor, "/spellings", spelling="Marigold", kind="ship", heard_as="Mary Gold; Marry Gold", note="<b>the ferry")
    assert status == 200 and "Kept on the list." in text and "&lt;b&gt;the ferry" in text
    status, text = send(editor, "/spellings", spelling="Net Row", heard_as="Nettle Row")
    assert status == 200 and "Kept with the place in the gazetteer." in text and "(E-01," in said(text)
    status, text = send(editor, "/spellings", spelling="cwtch", kind="boat", heard_as="cwtch")
    assert status == 400 and "2 faults" in text and "is the spelling itself" in text and 'value="cwtch"' in text
    status, text = send(editor, "/spellings", spelling="Marigold", kind="ship", heard_as="", whole="1")
    assert "Mary Gold" not in text
    status, text = send(editor, "/spellings/drop", spelling="Marigold")
    assert "1 spelling taken off" in said(text)
    assert "On the list again." in send(editor, "/spellings/drop", spelling="Marigold", back="1")[1]
    status, text = send(editor, "/spellings/drop", spelling="nowhere")
    assert status == 404 and "nowhere" not in text


def test_each_place_is_shown_with_its_sound_and_only_what_is_ticked_is_changed(enter: Enter, archive: Archive) -> None:
    editor = enter(EDITOR.name)
    status, text = send(editor, "/spellings/same", wrong="Quay", right="Key", desk="TW-01.1")
    assert status == 200 and "1 place." in said(text) and "nobody on the <strong>Quay</strong> spoke to us." in text
    assert 'data-sound="/recordings/TW-05.1/sound/"' in text and "would read Key" in said(text) and "Back to the desk of TW-01.1" in text
    (place,) = places(text)
    before = texts(archive, "TW-05.1")
    mark = re.search(r'name="mark" value="(\w+)"', text)
    assert mark is not None
    fields = {"wrong": "Quay", "right": "Key", "mark": mark[1]}
    status, text = send(editor, "/spellings/change", **fields)
    assert status == 200 and texts(archive, "TW-05.1") == before and places(text) == [place]
    status, text = send(editor, "/spellings/change", place=[place], remember="1", kind="other", **fields)
    assert "Changed: TW-05.1 (1 place)" in said(text) and not places(text) and "on record as a mis-hearing" in text
    assert texts(archive, "TW-05.1") == [*before[:-1], "After that nobody on the Key spoke to us."]
    status, text = send(editor, "/spellings/finish", code=["TW-05.1"])
    assert "1 sitting finished" in text and "Key" in said(text) and "Key spoke" in said(editor.get("/recordings/TW-05.1").text)


def test_a_place_that_changed_since_it_was_shown_is_told_and_shown_again(enter: Enter, archive: Archive) -> None:
    editor = enter(EDITOR.name)
    (place,) = places(send(editor, "/spellings/same", wrong="Quay", right="Key")[1])
    key = int(place.split()[1])
    archive.correcting.change(KEEPER, "TW-05.1", LineAct("type", (key,), "After that nobody at all on the Quay spoke to us."), "12345678")
    status, text = send(editor, "/spellings/change", wrong="Quay", right="Key", mark="12345678", place=[place])
    assert status == 200 and "1 place was left as it is" in said(text) and "nobody at all on the" in text
    assert places(text) and places(text) != [place] and texts(archive, "TW-05.1")[-1].endswith("on the Quay spoke to us.")


def test_what_cannot_be_remembered_changes_nothing_and_keeps_what_was_ticked(enter: Enter, archive: Archive) -> None:
    editor = enter(EDITOR.name)
    (place,) = places(send(editor, "/spellings/same", wrong="Quay", right="Key")[1])
    before = texts(archive, "TW-05.1")
    status, text = send(editor, "/spellings/change", wrong="Quay", right="Key", mark="12345678", place=[place], remember="1", kind="boat")
    assert status == 400 and "Nothing was changed." in text and re.search(rf'value="{place}"[^>]*checked', text)
    assert texts(archive, "TW-05.1") == before


def test_the_desk_is_offered_what_stands_elsewhere(enter: Enter) -> None:
    editor = enter(EDITOR.name)
    token = token_of(editor.get("/spellings").text)
    for before, after, wanted in (("Quay", "Key", 1), ("Quay", "key", 0), (CLOSED_WORDS.split()[1], "Galloway", 0), ("Nowhere", "Somewhere", 0)):
        answer = editor.post("/spellings/offer.json", json={"before": before, "after": after}, headers={"X-CSRFToken": token})
        assert answer.status_code == 200 and answer.get_json().get("places", 0) == wanted, before
    assert editor.post("/spellings/offer.json", json=[1], headers={"X-CSRFToken": token}).status_code == 400


@pytest.mark.parametrize("bad", ["", "TW-05.1", "TW-05.1 x 1-2", "TW-05.1 1 1-99999999999", "<b> 1 1-2"])
def test_what_a_form_makes_up_is_refused(enter: Enter, bad: str) -> None:
    status, text = send(enter(EDITOR.name), "/spellings/change", wrong="Quay", right="Key", mark="12345678", place=[bad])
    assert status == 400 and "could not be read" in text


def test_nothing_of_it_is_for_readers(enter: Enter) -> None:
    reader = enter(READER.name)
    assert reader.get("/spellings").status_code == 403 and "/spellings" not in reader.get("/recordings").text
    for path in ("/spellings", "/spellings/drop", "/spellings/same", "/spellings/change", "/spellings/finish", "/spellings/offer.json"):
        status, text = post(reader, "/find", path, wrong="Quay", right="Key")
        assert status == 403 and "Quay" not in text, path


def test_no_address_holds_what_was_looked_for(enter: Enter) -> None:
    """Words may be names: they are posted, and stand in no link of the page but its hidden fields."""
    text = send(enter(EDITOR.name), "/spellings/same", wrong="Peter Lund", right="Peter Lunt")[1]
    assert places(text) and not any("Lun" in address for address in re.findall(r'(?:href|action|data-sound)="([^"]*)"', text))
