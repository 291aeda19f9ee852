"""The pages on which quotes are put to their speaker, answered, and an own copy is made."""

from __future__ import annotations

from html import unescape
from pathlib import Path

from archive.app import Archive
from tests import cast
from tests.cast import EDITOR, KEEPER
from tests.conftest import copy_of
from tests.test_every_way_out import enter
from tests.webui.conftest import token_of
from webui.app import create_app


def test_put_answered_and_shown(made_cast: Path, tmp_path: Path) -> None:
    archive = Archive.open(copy_of(made_cast, tmp_path / "archive"), {}, cast.clock)
    app = create_app(archive)
    archive.excerpts.choose(EDITOR, "IV-21.1", cast.QUOTES["N-21"], "exhibition", "Harbour")
    client = enter(app, EDITOR)
    token = {"csrf_token": token_of(client.get("/people/N-21").text)}
    assert "No sheet was printed yet" in client.get("/reviews").text
    made = client.post("/people/N-21/review", data={**token, "excerpts": "EX-1", "print": "large"})
    assert made.status_code == 200 and made.data.startswith(b"%PDF") and "Quill" not in str(made.headers)
    (row,) = archive.reviews.list(KEEPER)
    assert f"review-{row.code}.pdf" in made.headers["Content-Disposition"]
    found = client.post("/papers/find", data={**token, "code": row.code.lower()}, follow_redirects=True)
    assert "2 questions without an answer" in found.text and f"Sheet {row.code}" in found.text
    answer = {**token, "question": "1", "answer": "change", "words": "We carried that lantern together."}
    told = unescape(client.post(f"/reviews/{row.code}/answer", data=answer, follow_redirects=True).text)
    assert "kept apart" in told and "We carried that lantern together." in told and "`" not in told
    told = unescape(client.post(f"/reviews/{row.code}/stand", data={**token, "excerpt": "EX-1", "later": "yes"}, follow_redirects=True).text)
    assert "No sound goes with it" in told
    page = unescape(client.get("/exhibition").text)
    assert "We carried that lantern together." in page and "in later wording" in page
    assert client.post(f"/reviews/{row.code}/answer", data={**token, "question": "9", "answer": "yes"}).status_code == 404
    told = unescape(client.post("/people/N-21/copy", data={**token, "recording": "IV-21.1"}, follow_redirects=True).text)
    assert "OUT-0001 lies in" in told and "Hand it over in person" in told
    assert "OUT-0001" in client.post("/papers/find", data={**token, "code": "out-0001"}, follow_redirects=True).text
    reader = enter(app, cast.READER)
    assert reader.get("/reviews").status_code == 403 and reader.get(f"/reviews/{row.code}").status_code == 403
    archive.close()
