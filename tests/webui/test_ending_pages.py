"""Objections, letters, tasks, what is due and notes of risk as pages: for whom, and what they say."""

from __future__ import annotations

import io
import re
from datetime import date
from html import unescape

import pypdf

from archive.app import Archive
from tests.webui.conftest import Enter, post, token_of
from tests.webui.town import EDITOR, KEEPER


def said(page: str) -> str:
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page)).split())


def letter(client: object, page: str, to: str, **fields: str) -> tuple[str, str]:
    """(name, words) of a letter that a button writes."""
    token = token_of(client.get(page).text)  # type: ignore[attr-defined]
    answer = client.post(to, data={"csrf_token": token, **fields})  # type: ignore[attr-defined]
    assert answer.mimetype == "application/pdf", answer.text
    words = " ".join(" ".join(p.extract_text() for p in pypdf.PdfReader(io.BytesIO(answer.data)).pages).split())
    return answer.headers["Content-Disposition"], words


def test_a_withdrawal_of_one_way_its_letter_its_tasks(enter: Enter, archive: Archive) -> None:
    keeper = enter(KEEPER.name)
    code = archive.excerpts.choose(EDITOR, "TW-01.1", _words(archive), "exhibition")
    made = archive.exports.make(EDITOR, [code], "exhibition")
    status, text = post(keeper, "/upkeep/left", f"/upkeep/left/{made.code}", file="DRAFT-wall-text.docx", where="gallery 1, by the door", on="2026-05-01")
    assert status == 200 and "gallery 1, by the door" in text
    status, text = post(keeper, "/people/N-01/withdraw", "/people/N-01/withdraw", use="", interview="", stretch="", way="words", how="by letter")
    assert status == 200 and "as words" in said(text) and "2 tasks to tick" in said(text) and code in text
    (hold,) = set(re.findall(r'name="hold" value="(\d+)"', text))
    name, words = letter(keeper, "/people/N-01", "/people/N-01/letter", hold=hold, size="letter", print="large")
    assert "in one way: words" in words and "gallery 1, by the door" in words and "Ellery" not in name
    status, _ = post(keeper, "/people/N-01/withdraw", "/people/N-01/withdraw", use="", interview="", stretch="", way="smell", how="by letter")
    assert status == 400
    editor = enter(EDITOR.name)
    page = editor.get("/upkeep/tasks").text
    assert "gallery 1, by the door" in page and "withdr" not in page.casefold() and "N-01" not in page
    number = re.findall(r'action="/upkeep/tasks/(\d+)"', page)[-1]
    status, text = post(editor, "/upkeep/tasks", f"/upkeep/tasks/{number}", note="the caretaker took it down")
    assert status == 200 and "the caretaker took it down" in text
    for page in ("/people", "/people/N-01", "/exhibition", "/upkeep/left", "/upkeep"):
        assert not re.search(r"withdrew|withdrawn", editor.get(page).text), page


def _words(archive: Archive) -> str:
    utterance = next(u for u in archive.recordings.page(EDITOR, "TW-01.1").shown.utterances if u.speaker_code == "N-01" and len(u.words) > 4)
    return " ".join(w.text for w in utterance.words[:6])


def test_an_objection_from_the_page_to_its_answer(enter: Enter, archive: Archive) -> None:
    editor, keeper = enter(EDITOR.name), enter(KEEPER.name)
    status, text = post(editor, "/people/N-02", "/people/N-02/object", stretch="TW-01.1@0:02-0:04", how="she rang: that is not true")
    assert status == 200 and "Held after an objection" in text and "TW-01.1@" in text
    page = said(editor.get("/people/objections").text)
    assert "1 objection waits for a keeper’s decision" in page and "she rang" not in page and "Decide" not in page
    for words in ("membership of a union", "politics, religion and ethnic origin", "Not legal advice"):
        assert words in page, words
    assert editor.post("/people/objections/1", data={"csrf_token": token_of(editor.get("/people").text), "decision": "ended", "reason": "x"}).status_code == 403
    assert "she rang" in keeper.get("/people/objections").text
    assert post(keeper, "/people/objections", "/people/objections/1", decision="perhaps", reason="so")[0] == 400
    assert post(keeper, "/people/objections", "/people/objections/1", decision="held", reason=" ")[0] == 400
    status, text = post(keeper, "/people/objections", "/people/objections/1", decision="held", reason="It can hurt her.")
    assert status == 200 and "it stays held" in said(text)
    _, words = letter(keeper, "/people/objections", "/people/objections/1/letter", size="a4", print="")
    assert "it stays held. The reason: It can hurt her." in words


def test_a_stretch_is_closed_from_its_page_and_risk_is_for_keepers(enter: Enter, archive: Archive) -> None:
    editor, keeper = enter(EDITOR.name), enter(KEEPER.name)
    status, text = post(editor, "/recordings/TW-01.1", "/recordings/TW-01.1/seal", starts="0:01", ends="0:03", until="2039-12-31", event="", how="she asked")
    assert status == 200 and "Closed through 31 December 2039." in said(text) and ": closed through 31 December 2039" in said(text)
    assert post(editor, "/recordings/TW-01.1", "/recordings/TW-01.1/seal", starts="0:03", ends="0:01", until="", event="", how="x")[0] == 400
    status, text = post(keeper, "/people/N-01", "/people/N-01/risk", words="Her cousin might be angry.", review_on=date.today().isoformat().replace(str(date.today().year), "2099"))
    assert status == 200 and "Her cousin might be angry." in text
    assert "cousin" in keeper.get("/upkeep/due?days=36600").text
    for page in ("/people/N-01", "/upkeep/due?days=36600"):
        assert "cousin" not in editor.get(page).text
    assert "Notes of risk" not in editor.get("/people/N-01").text
    assert editor.get("/upkeep/due?days=x").status_code == 404
