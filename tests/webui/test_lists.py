"""Pages of lists, saved questions, the grid and tellings side by side: what is done with them, without JavaScript."""

from __future__ import annotations

import re

import pytest
from flask.testing import FlaskClient

from archive.app import Archive
from tests.webui.conftest import Enter, post, token_of
from tests.webui.town import EDITOR, KEEPER, READER


def ask(client: FlaskClient, **question: str) -> str:
    """Ask in Find; the address of the answer."""
    answer = client.post("/find", data={"csrf_token": token_of(client.get("/find").text), **question})
    return answer.headers["Location"]


def hits(page: str) -> list[str]:
    return re.findall(r'name="hit" value="([^"]+)"', page)


def test_from_an_answer_into_a_list_and_on_to_the_exhibition(enter: Enter, archive: Archive) -> None:
    client = enter(EDITOR.name)
    answer = ask(client, words="flood OR clock OR Quay")
    key = answer.rsplit("/", 1)[1]
    found = hits(client.get(answer).text)
    assert 'value="Kept passages"' in client.get(answer).text, "the first press of Keep needs no name"
    status, page = post(client, answer, "/find/keep", hit=found[0], name="Flood <b>wall</b>", question=key)
    assert status == 200 and "It is in the list." in page and "in Flood &lt;b&gt;wall&lt;/b&gt;" in page
    _, page = post(client, answer, "/find/keep", hit=found[0], list="1", question=key)
    assert "in the list already" in page
    for hit in found[1:]:
        post(client, answer, "/find/keep", hit=hit, list="1", question=key)
    page = client.get("/find/lists/1").text
    assert page.count('<li class="hit"') == len(found) >= 2 and "Choose a quote" in page and f"Kept by {EDITOR.name}" in page
    assert "Flood &lt;b&gt;wall&lt;/b&gt; (2)" in client.get("/exhibition").text
    first, second = [i.id for i in archive.lists.page(EDITOR, 1).items][:2]
    for item, what, told in ((second, "up", ""), (first, "note", "The note is written"), (first, "off", "taken off"), (first, "back", "in the list again")):
        status, page = post(client, "/find/lists/1", f"/find/items/{item}", do=what, note="as <i>told</i>")
        assert status == 200 and told in page
    assert [i.id for i in archive.lists.page(EDITOR, 1).items][:2] == [second, first] and "as &lt;i&gt;told&lt;/i&gt;" in page
    assert "its new name" in post(client, "/find/lists/1", "/find/lists/1/rename", name="Gallery")[1]
    assert "is deleted" in post(client, "/find/lists/1", "/find/lists/1/delete")[1]
    assert "there again" in post(client, "/find/lists", "/find/lists/1/put-back")[1]


def test_what_is_not_available_says_nothing_but_that(enter: Enter, archive: Archive) -> None:
    number = archive.lists.make(EDITOR, "Strike")
    archive.lists.keep(EDITOR, number, "TW-06.1", 4000, 11_000, "how the friends were lost")
    client = enter(EDITOR.name)
    assert ">friend</span>" in client.get(f"/find/lists/{number}").text
    archive.consent.withdraw(KEEPER, "N-06", how="letter")
    page = client.get(f"/find/lists/{number}").text
    assert "Not available today." in page
    for gone in ("friend", "TW-06", "Reeve", "N-06", "withdr", "Write a note", "Choose a quote"):
        assert gone not in page, gone


def test_a_reader_has_lists_and_questions_of_their_own(enter: Enter, archive: Archive) -> None:
    team = archive.lists.make(EDITOR, "The team's")
    client = enter(READER.name)
    assert "The team" not in client.get("/find/lists").text and client.get(f"/find/lists/{team}").status_code == 404
    answer = ask(client, words="clock")
    key = answer.rsplit("/", 1)[1]
    status, page = post(client, answer, f"/find/questions/{key}/save", name="The clock", team="yes")
    assert status == 200 and "The question is saved" in page
    assert "only yours" in client.get("/find/questions").text and archive.questions.list(KEEPER) == ()
    _, page = post(client, "/find/questions", f"/find/questions/{key}/look")
    assert "no passages that were not there" in page.casefold()
    assert "is forgotten" in post(client, "/find/questions", f"/find/questions/{key}/drop")[1]


def test_a_cell_leads_into_find_with_its_place_and_decade(enter: Enter, archive: Archive) -> None:
    client = enter(EDITOR.name)
    page = client.get("/find/grid?use=listening_post").text
    cell = re.findall(r'name="cell" value="([^"]+)"', page)[0]
    assert "nothing yet" in page and "allowed" in page
    status, answer = post(client, "/find/grid", "/find/grid/into", cell=cell)
    count = re.search(rf'value="{cell}">.*?<strong>(\d+) passage', page, re.S)
    assert status == 200 and count is not None and re.search(rf"<h2>{count[1]} passages?", answer) and "Put tellings side by side" in answer
    for bad in ("", "x-1968", "9999-1960", "1-x"):
        assert post(client, "/find/grid", "/find/grid/into", cell=bad)[0] in (400, 404), bad
    assert client.get("/find/grid?use=nonsense").status_code == 400


@pytest.mark.parametrize("viewer", [EDITOR, READER], ids=lambda v: v.role.value)
def test_tellings_side_by_side(enter: Enter, archive: Archive, viewer: object) -> None:
    client = enter(viewer.name)  # type: ignore[attr-defined]
    event = archive.overview.choices(EDITOR)["events"][0][0]
    page = client.get(f"/find/beside?event={event}").text
    assert "the Sallow flood" in page
    assert "Choose an event, or a place and a decade" in client.get("/find/beside?place=2").text
    for bad in ("event=999999", "event=x", "place=1&decade=x"):
        assert client.get(f"/find/beside?{bad}").status_code in (400, 404), bad


def test_what_was_typed_stands_in_no_answer_about_it(enter: Enter) -> None:
    client = enter(EDITOR.name)
    for to, form in (("/find/keep", {"hit": "Walter Brine", "list": "1"}), ("/find/keep", {"hit": "1 TW-01.1@0-900", "list": "Brine"}), ("/find/items/1", {"do": "Brine"}), ("/find/lists", {"name": "Brine" * 30})):
        status, page = post(client, "/find/lists", to, **form)
        assert status in (400, 404) and "Brine" not in page, to
