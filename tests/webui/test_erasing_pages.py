"""The pages of an erasure: asked for, agreed to by another keeper, carried out, and its tasks; and what others see meanwhile."""

from __future__ import annotations

from pathlib import Path

from flask import Flask

from archive.app import Archive
from tests.webui import town
from tests.webui.conftest import Enter, post

ALL = "/upkeep/erasure"
ONE = f"{ALL}/ER-1"


def test_a_keeper_asks_another_agrees_and_it_is_carried_out(archive: Archive, app: Flask, enter: Enter) -> None:
    archive.accounts.add(town.KEEPER, "K-02", "keeper", town.PASSWORD)
    code = "N-05"  # one stretch of theirs is closed
    keeper, second, editor = enter("K-01"), enter("K-02"), enter("E-01")
    assert editor.get(ALL).status_code == 403 and "Erasure" not in editor.get("/upkeep").text
    asking = keeper.get(f"{ALL}?of={code}").text
    assert f'value="{code}"' in asking and "cannot be undone" in asking and "Not legal advice" in asking
    assert post(keeper, ALL, ALL, target=code, reason="", paper="keep")[0] == 400
    status, page = post(keeper, ALL, ALL, target=code, reason="a letter", paper="keep")
    assert status == 200 and "It waits for a second keeper" in page and "Erase now" not in page
    assert post(keeper, ONE, f"{ONE}/now")[0] == 403
    assert post(keeper, ONE, f"{ONE}/agree", password=town.PASSWORD)[0] == 403, "not the keeper who asked"
    assert post(second, ONE, f"{ONE}/agree", password="a wrong one, certainly")[0] == 403
    status, page = post(second, ONE, f"{ONE}/agree", password=town.PASSWORD)
    assert status == 200 and "K-02 agreed" in page and "Erase now" in page
    status, page = post(second, ONE, f"{ONE}/now")
    assert status == 200 and "It is erased" in page and "What only people can do" in page and "Memory cards" in page
    task = archive.tasks.list(town.KEEPER)[0]
    assert task.what in second.get("/upkeep/tasks").text
    archive.tasks.tick(town.KEEPER, task.number)
    assert "<strong>Done</strong> (K-01" in second.get(ONE).text
    assert "Nothing of what was ever erased was found" in post(second, ONE, f"{ONE}/search", names="Nobody Atall")[1]
    for rule in app.url_map.iter_rules():
        if "GET" in (rule.methods or ()) and not rule.arguments and rule.endpoint != "sign_in.link":
            assert keeper.get(rule.rule).status_code in (200, 302, 303), rule.rule
    assert keeper.get(f"/people/{code}").status_code == 200


def test_while_it_is_closed_everybody_is_told_so(archive: Archive, enter: Enter) -> None:
    """Not even who is signed in can be read then."""
    keeper = enter("K-01")
    closed = Path(archive.folder) / ".erasing"
    closed.write_text("Something is being erased from this archive: step 3 of 8, words.", encoding="utf-8")
    for address in ("/find", "/recordings", "/upkeep/jobs.json"):
        answer = keeper.get(address)
        assert answer.status_code == 503 and "step 3 of 8" in answer.text and answer.headers["Retry-After"] == "10"
    closed.unlink()
    assert keeper.get("/find").status_code == 200
