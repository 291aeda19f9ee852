"""The pages of the thesaurus: what may be done there, by whom, and what stands there escaped."""

from __future__ import annotations

import html
import io
import re

from flask.testing import FlaskClient
from rdflib import Graph
from rdflib.namespace import SKOS

from archive.app import Archive
from archive.db import describing, recordings
from tests.webui.conftest import Enter, token_of
from tests.webui.town import EDITOR, READER

SKOS_FILE = b"""@prefix skos: <http://www.w3.org/2004/02/skos/core#> . @prefix e: <http://example.org/> .
e:1 skos:prefLabel "mud"@en ; skos:note "x" . e:2 skos:prefLabel "silt"@en ; skos:broader e:1 . e:3 skos:prefLabel "clay"@en ; skos:broader e:2 ."""


def send(client: FlaskClient, to: str, **fields: object) -> tuple[int, str]:
    answer = client.post(to, data={"csrf_token": token_of(client.get("/find").text), **fields}, follow_redirects=True)
    return answer.status_code, html.unescape(re.sub(r"\s+", " ", answer.text))


def number(archive: Archive, name: str) -> int:
    return archive.themes.one(EDITOR, name).id


def test_a_theme_is_added_corrected_renamed_merged_and_taken_out(enter: Enter, archive: Archive) -> None:
    editor = enter(EDITOR.name)
    assert "/themes" in editor.get("/recordings").text
    status, text = send(editor, "/themes", theme="flood <b>night", broader="water", scope_note="When it came", words="kitchen; clock", use_for="deluge; pl: powódź", labels="", related="")
    assert status == 200 and "Kept in the thesaurus." in text and "deluge; pl: powódź" in text
    assert "<b>night" not in editor.get("/themes").text and "&lt;b&gt;night" in editor.get("/themes").text
    theme = number(archive, "flood <b>night")
    status, text = send(editor, "/themes", was="flood <b>night", theme="flood night", broader="water", scope_note="When it came", words="kitchen; clock", use_for="deluge", related="", labels="")
    assert status == 200 and archive.themes.one(EDITOR, "deluge").name == "flood night" and f"/themes/{theme}" in editor.get("/themes").text
    status, text = send(editor, "/themes", theme="roofs", broader="flood night", words="roof; tiles")
    assert status == 400 and "third level: water → flood night → roofs" in text and 'value="roofs"' in text, "what was typed is still there"
    status, text = send(editor, f"/themes/{theme}/merge", into=str(number(archive, "water")))
    assert status == 200 and "Merged" in text and "flood night" in text
    assert send(editor, f"/themes/{theme}/drop")[0] == 404
    status, text = send(editor, f"/themes/{number(archive, 'water')}/passages")
    assert status == 200 and "Theme: water" in text


def test_a_theme_that_somebody_confirmed_is_not_taken_out(enter: Enter, archive: Archive) -> None:
    editor = enter(EDITOR.name)
    with archive.rooms.db.read() as connection:
        row = recordings.by_code(connection, "TW-01.1")
        assert row is not None
        (tag,) = [t for t in describing.tags_of(connection, row.id) if t.kind == "theme"]
    archive.describing.decide(EDITOR, tag.id, "confirmed")
    theme = number(archive, "water")
    status, text = send(editor, f"/themes/{theme}/drop")
    assert status == 403 and "1 confirmed passage" in text and "Merge it into another theme" in text
    page = html.unescape(editor.get(f"/themes/{theme}").text)
    assert "1 passage confirmed, " in page and "1 passage confirmed and none rejected" in page
    status, text = send(editor, f"/themes/{theme}/word", word="kitchen")
    assert status == 404 and "kitchen" not in text
    assert "every recording" in send(editor, "/themes/again")[1] or archive.jobs.list(EDITOR)


def test_skos_comes_in_and_goes_out(enter: Enter, archive: Archive) -> None:
    editor = enter(EDITOR.name)
    status, text = send(editor, "/themes/read", file=(io.BytesIO(SKOS_FILE), "mud.ttl"))
    assert status == 400 and "third level: mud → silt → clay" in text and "Nothing of this file was taken" in text
    status, text = send(editor, "/themes/read", file=(io.BytesIO(SKOS_FILE), "mud.ttl"), only="silt")
    assert status == 400 and "neither in this file nor here" not in text.split("mud.ttl")[0]
    whole = SKOS_FILE.replace(b"e:3 skos:prefLabel \"clay\"@en ; skos:broader e:2 .", b"")
    status, text = send(editor, "/themes/read", file=(io.BytesIO(whole), "mud.ttl"))
    assert status == 200 and "2 themes read." in text and "Not kept here: note (1)." in text
    status, text = send(editor, "/themes/read", file=(io.BytesIO(b"{"), "x.jsonld"))
    assert status == 400 and "is no JSON" in text
    assert send(editor, "/themes/read")[0] == 400
    answer = editor.post("/themes/written", data={"csrf_token": token_of(editor.get("/themes").text), "form": "turtle"})
    labels = {str(o) for o in Graph().parse(data=answer.get_data(), format="turtle").objects(predicate=SKOS.prefLabel)}
    assert labels == {"water", "mud", "silt"} and 'filename="themes.ttl"' in answer.headers["Content-Disposition"]
    assert send(editor, "/themes/written", form="word")[0] == 400


def test_what_nothing_describes_has_its_page(enter: Enter) -> None:
    page = enter(EDITOR.name).get("/themes/missing").text
    assert "What no theme describes" in page and re.search(r"\d+ passages that no theme describes", page)


def test_nothing_of_it_is_for_readers(enter: Enter) -> None:
    reader = enter(READER.name)
    assert "/themes" not in reader.get("/recordings").text
    for path in ("/themes", "/themes/1", "/themes/missing"):
        assert reader.get(path).status_code == 403
    for path in ("/themes", "/themes/read", "/themes/written", "/themes/again", "/themes/1/passages", "/themes/1/merge", "/themes/1/drop", "/themes/1/word"):
        assert send(reader, path, theme="x", word="x")[0] == 403, path
