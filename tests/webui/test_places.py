"""The pages of the gazetteer: plan, list, one place, what may be mis-heard, files in and out; what readers may and may not."""

from __future__ import annotations

import io
import json
import re
from html import unescape

from flask.testing import FlaskClient

from archive.app import Archive
from tests import cast
from tests.webui.conftest import Enter, token_of
from tests.webui.town import EDITOR, READER
from webui.drawing import MARK, PLAN_WIDE, plan


def said(page: str) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", page)))


def send(client: FlaskClient, to: str, **fields: object) -> tuple[int, str]:
    answer = client.post(to, data={"csrf_token": token_of(client.get("/places").text), **fields}, follow_redirects=True)
    return answer.status_code, answer.text


def number_of(archive: Archive, name: str) -> int:
    return archive.places.called(EDITOR, name).place.number


def test_a_place_is_added_put_on_the_plan_and_asked_for(enter: Enter, archive: Archive) -> None:
    editor = enter(EDITOR.name)
    assert "/places" in editor.get("/find").text and "<svg viewBox" not in editor.get("/places").text, "nothing has coordinates yet"
    for name, x_m, y_m in (("Net Row", 10, 20), ("Ferry Slip", 400, -50), ("<b>Mill", 0, 0)):
        status, text = send(editor, "/places", name=name, within="Tarnwick", x_m=x_m, y_m=y_m)
        assert status == 200 and "in the gazetteer" in text
    page = editor.get("/places").text
    assert "&lt;b&gt;Mill" in page and page.count('class="mark') == 3
    passages = next(r.passages for r in archive.places.page(EDITOR).rows if r.place.name == "Net Row")
    assert passages and f'aria-label="Net Row: {passages} passage' in page
    status, text = send(editor, "/find", place="Net Row")
    assert status == 200 and f"{passages} passage" in said(text)
    page = editor.get(f"/places/{number_of(archive, 'Net Row')}").text
    assert "Narrow it down in Find" in page and page.count('class="said"') == passages


def test_faults_are_told_beside_what_was_typed(enter: Enter, archive: Archive) -> None:
    editor = enter(EDITOR.name)
    status, text = send(editor, "/places", name="Mill End", within="Atlantis", latitude="120", longitude="9")
    assert status == 400 and "is no place on record" in text and "changed sides" in said(text) and 'value="Mill End"' in text
    status, text = send(editor, "/places", name="")
    assert status == 400 and "“name” is empty" in text
    number = number_of(archive, "Net Row")
    status, text = send(editor, "/places", name="Net Row", within="Net Row", number=number)
    assert status == 400 and "its own “within”" in text and "<details open>" in text
    assert send(editor, "/places", name="X", number=999)[0] == 404
    assert send(editor, f"/places/{number}/drop")[0] == 200 and editor.get(f"/places/{number}").status_code == 404


def test_files_in_and_out(enter: Enter) -> None:
    editor = enter(EDITOR.name)
    token = token_of(editor.get("/places").text)
    out = editor.post("/places/written", data={"csrf_token": token, "form": "geojson"})
    assert out.mimetype == "application/geo+json" and 'filename="places.geojson"' in out.headers["Content-Disposition"]
    assert {f["properties"]["name"] for f in json.loads(out.data)["features"]} >= {"Tarnwick", "Net Row"}
    status, text = send(editor, "/places/read", file=(io.BytesIO(out.data), "../places.geojson"))
    assert status == 200 and "4 places read" in said(text)
    status, text = send(editor, "/places/read", file=(io.BytesIO(b"name,kind,within\nA,x,Nowhere\n"), "mine.csv"))
    assert status == 400 and "mine.csv, row 2" in text
    assert send(editor, "/places/read")[0] == 400 and send(editor, "/places/written", form="shapefile")[0] == 400


def test_what_sounds_like_a_place_is_decided_on_its_page(enter: Enter, archive: Archive) -> None:
    cast.give_words(archive, "TW-01.1", [("N-01", cast.words_of("we stood on the Farry Slip then"))])
    editor = enter(EDITOR.name)
    assert "1 wording sounds like a place" in said(editor.get("/places").text)
    page = editor.get("/places/misheard").text
    assert "“Farry Slip”" in page and "<strong>Farry</strong> <strong>Slip</strong>" in page
    group = archive.places.misheard(EDITOR)[0]
    fields = {"number": group.number, "said": group.said, "tag": [m.tag_id for m in group.at]}
    assert send(editor, "/places/misheard", **fields, answer="perhaps")[0] == 400
    status, text = send(editor, "/places/misheard", **fields, answer="no")
    assert status == 200 and "1 suggestion rejected" in said(text) and "Nothing waits" in text
    page = editor.get(f"/places/{group.number}").text
    assert "Not taken for it" in said(page)
    assert "Taken back." in send(editor, f"/places/{group.number}/back", said="Farry Slip")[1]


def test_readers_look_and_change_nothing(enter: Enter, archive: Archive) -> None:
    reader = enter(READER.name)
    page = reader.get("/places").text
    assert "Net Row" in page and "A new place" not in page and "To a file" not in page
    number = number_of(archive, "Net Row")
    assert reader.get(f"/places/{number}").status_code == 200 and reader.get("/places/misheard").status_code == 403
    for to in ("/places", f"/places/{number}/drop", "/places/read", "/places/written", "/places/misheard"):
        token = token_of(page)
        assert reader.post(to, data={"csrf_token": token}).status_code == 403, to


# --- the drawing ------------------------------------------------------------------------------------------------------
def test_the_plan_keeps_directions_and_parts_what_lies_together() -> None:
    """WCAG 2.2, 2.5.8: targets of 24 CSS pixels at least, here on a page 340 pixels wide; east is right, north is up."""
    places = [(1, "West", 3, -500.0, 0.0), (2, "East", 2, 500.0, 10.0), (3, "North", 0, 0.0, 400.0), (4, "North too", 5, 2.0, 401.0), (5, "Same", 1, 2.0, 401.0)]
    drawn = plan(places, north=True)
    assert drawn is not None
    at = {m.name: m for m in drawn.marks}
    assert at["West"].x < at["North"].x < at["East"].x and at["North"].y < at["West"].y
    marks = list(drawn.marks)
    for n, one in enumerate(marks):
        assert MARK <= one.x <= PLAN_WIDE - MARK and MARK <= one.y <= drawn.high
        for other in marks[n + 1 :]:
            assert ((one.x - other.x) ** 2 + (one.y - other.y) ** 2) ** 0.5 >= 2 * MARK - 0.2, (one.name, other.name)
    assert at["Same"].moved and drawn.length_m == 200 and plan(places, north=True) == drawn
    assert plan([], north=False) is None
    alone = plan([(1, "Alone", 0, 7.0, 7.0)], north=False)
    assert alone is not None and len(alone.marks) == 1


def test_of_very_many_places_the_ones_spoken_of_have_marks() -> None:
    drawn = plan([(n, f"P{n}", n, float(n % 70), float(n // 70)) for n in range(3000)], north=False)
    assert drawn is not None and len(drawn.marks) == 60 and len(drawn.dots) == 2940 and min(m.passages for m in drawn.marks) == 2940
