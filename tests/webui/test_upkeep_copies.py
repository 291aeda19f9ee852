"""Upkeep's pages of second copies, cards and field notes: what they say, and who may do what on them."""

from __future__ import annotations

import io
from pathlib import Path

import pypdf

from archive.app import Archive
from tests.webui import town
from tests.webui.conftest import Enter, post, token_of

CARDS, COPIES, NOTES = "/upkeep/cards", "/upkeep/copies", "/upkeep/notes"


def test_a_second_place_is_chosen_by_a_keeper(archive: Archive, enter: Enter, tmp_path: Path) -> None:
    keeper, editor = enter("K-01"), enter("E-01")
    assert "There is no second copy yet" in keeper.get(COPIES).text
    assert "Choose" not in editor.get(COPIES).text
    assert post(keeper, COPIES, COPIES, folder="two")[0] == 400
    status, text = post(keeper, COPIES, COPIES, folder=str(tmp_path / "two"))
    assert status == 200 and "0 of 4 recordings" in text and "Write what waits" in text
    assert editor.post(COPIES, data={"csrf_token": token_of(editor.get(CARDS).text), "folder": "/x"}).status_code == 403
    assert post(editor, COPIES, f"{COPIES}/make")[0] == 200
    while archive.work.once():
        pass
    assert post(editor, COPIES, f"{COPIES}/check", mend="yes")[0] == 200
    while archive.work.once():
        pass
    words = {job.kind: job.words for job in archive.jobs.list(town.KEEPER)}
    assert "written to the second place and read back" in words["copy"] and words["check"] == "8 files read again, all whole."
    assert "4 of 4 recordings written to the second place and read back" in editor.get(COPIES).text
    (tmp_path / "two").rename(tmp_path / "gone")
    assert "another disk is connected" in editor.get(COPIES).text


def test_listening_goes_on_record_and_closed_parts_are_the_keeper_s(archive: Archive, enter: Enter) -> None:
    keeper, editor = enter("K-01"), enter("E-01")
    page = editor.get(CARDS).text
    assert "Deleting a card is not wiping it" in page and "this card may be cleared" not in page
    assert "closed to you. A keeper can listen to it." in page
    status, text = post(editor, CARDS, f"{CARDS}/TW-01.1/start/listened")
    assert status == 200 and "Start: E-01 listened on" in text
    assert post(editor, CARDS, f"{CARDS}/TW-07.1/start/listened")[0] == 403
    assert post(editor, CARDS, f"{CARDS}/TW-07.1/start/open", reason="x")[0] == 403
    assert post(keeper, CARDS, f"{CARDS}/TW-07.1/start/listened")[0] == 403
    assert keeper.get(f"{CARDS}/TW-07.1/start/opened.wav").status_code == 403
    assert post(keeper, CARDS, f"{CARDS}/TW-07.1/start/open", reason=" ")[0] == 400
    assert "Opened by you, on record" in post(keeper, CARDS, f"{CARDS}/TW-07.1/start/open", reason="is it whole?")[1]
    sound = keeper.get(f"{CARDS}/TW-07.1/start/opened.wav")
    assert sound.status_code == 200 and sound.data[:4] == b"RIFF" and any(sound.data[44:])
    assert keeper.get(f"{CARDS}/TW-07.1/end/opened.wav").status_code == 403
    assert "Start: K-01 listened on" in post(keeper, CARDS, f"{CARDS}/TW-07.1/start/listened")[1]
    assert post(keeper, CARDS, f"{CARDS}/TW-07.1/left/listened")[0] == 400


def test_field_notes_on_the_page(enter: Enter) -> None:
    editor = enter("E-01")
    assert "4 interviews have no field notes" in editor.get(NOTES).text
    assert 'value="TW-01"' in editor.get(f"{NOTES}?about=TW-01").text
    status, text = post(editor, NOTES, NOTES, about="TW-01", who="N-01, I-01", in_the_room="her <b>sister</b>")
    assert status == 200 and "about TW-01" in text and "her &lt;b&gt;sister&lt;/b&gt;" in text and "Listen for them, and ask them" in text
    assert "3 interviews have no field notes" in editor.get(NOTES).text
    _, text = post(editor, NOTES, NOTES, about="TW-05", who="N-05, I-01", in_the_room="her brother")
    assert "Not available" in text and "brother" not in text, "something of it is closed: its notes are for a keeper"
    assert post(editor, NOTES, NOTES, about="TW-99", who="x")[0] == 400
    answer = editor.post(f"{NOTES}/sheets.pdf", data={"csrf_token": token_of(editor.get(NOTES).text), "number": "2"})
    assert answer.mimetype == "application/pdf" and len(pypdf.PdfReader(io.BytesIO(answer.data)).pages) == 2
    code = pypdf.PdfReader(io.BytesIO(answer.data)).pages[0].extract_text().split("FN-")[1][:5]
    assert f"FN-{code}" in post(editor, NOTES, f"{NOTES}/find", code=code.lower())[1]
    for wrong in ("FN-2222", "Lund"):
        status, text = post(editor, NOTES, f"{NOTES}/find", code=wrong)
        assert status == 400 and wrong not in text


def test_readers_see_none_of_it(enter: Enter) -> None:
    reader = enter("R-01")
    for address in (CARDS, COPIES, NOTES, f"{NOTES}/TW-01"):
        assert reader.get(address).status_code == 403
