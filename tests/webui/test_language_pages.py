"""Language, translations and the glossary on the pages: what is posted, what comes back, and what stays unsaid."""

from __future__ import annotations

from archive.app import Archive
from tests.webui.conftest import Enter, post
from tests.webui.town import EDITOR, READER


def test_a_language_is_said_on_the_page_and_each_line_is_marked_with_its_own(enter: Enter) -> None:
    client = enter(EDITOR.name)
    page = "/recordings/TW-01.1"
    _, text = post(client, page, f"{page}/language", language="Welsh", starts="0:06", ends="0:15")
    assert 'lang="cy"' in text and 'lang="en"' in text and "was heard as English, and is Welsh" in text and "Hear it again" in text
    reader = enter(READER.name).get(page).text
    assert 'lang="cy"' in reader and "Hear it again" not in reader and "said by" not in reader
    _, text = post(client, page, f"{page}/language", starts="0:06", ends="0:15", none="yes")
    assert 'lang="cy"' not in text and "as the rest, said by E-01" in text
    status, text = post(client, page, f"{page}/language", language="Elbonian", starts="", ends="")
    assert status == 400 and "Elbonian" not in text and "English name" in text


def test_a_language_of_closed_speech_is_closed_with_it(enter: Enter) -> None:
    page = "/recordings/TW-05.1"
    post(enter(EDITOR.name), page, f"{page}/language", language="Romany", starts="0:15", ends="0:16")
    assert "Romany" in enter(EDITOR.name).get(page).text
    assert "Romany" not in enter(READER.name).get(page).text


def test_a_quote_is_shown_in_translation_by_a_choice_on_the_exhibition_page(enter: Enter, archive: Archive) -> None:
    code = archive.excerpts.choose(EDITOR, "TW-01.1", "The Sallow came up through the drain first and not over the wall.", "exhibition")
    client = enter(EDITOR.name)
    assert "Shown in" not in client.get("/exhibition").text, "there is no translation of it"
    _, text = post(client, "/recordings/TW-01.1", "/recordings/TW-01.1/translations", start_ms="24000", end_ms="29000", language="pl", text="Sallow weszła odpływem")
    assert "TR-1 stands beside the original, as a draft." in text
    _, text = post(client, "/exhibition", f"/exhibition/{code}/shown-in", shown_in="both TR-1")
    assert 'lang="pl"' in text and "Translated from English by E-01. Shown beside the original." in text and "Its translation is a draft" in text
    status, text = post(client, "/exhibition", f"/exhibition/{code}/shown-in", shown_in="sideways")
    assert status == 400 and "sideways" not in text


def test_a_word_of_the_glossary_is_typed_and_a_name_in_it_is_not_repeated(enter: Enter) -> None:
    client = enter(EDITOR.name)
    _, text = post(client, "/glossary", "/glossary", word="drain", language="English", meanings="a pipe; a ditch", sensitive="yes")
    assert "Sensitive: it may hurt" in text and "1 passage that you may read" in text
    assert "a pipe; a ditch" in enter(READER.name).get("/recordings/TW-01.1").text
    status, text = post(client, "/glossary", "/glossary", word="key", language="en", meanings="what Peter Lund had")
    assert status == 400 and "Lund" not in text and "name stands in it" in text
    assert enter(READER.name).post("/glossary", data={}).status_code in (400, 403)
