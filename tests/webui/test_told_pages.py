"""What a told date does not agree with, on the recording's page, beside a hit and as a note that is offered after an excerpt."""

from __future__ import annotations

from archive.app import Archive
from archive.services.demo import SAMPLES
from tests import cast
from tests.webui.conftest import Enter, post
from tests.webui.town import EDITOR, READER

TOLD = "The strike was in seventy-three and my mother had the key."


def test_the_calendar_is_said_beside_and_offered_after_an_excerpt(enter: Enter, archive: Archive) -> None:
    archive.describing.read_events(EDITOR, SAMPLES / "events.csv")
    cast.give_words(archive, "TW-06.1", [("N-06", cast.words_of(TOLD))])
    for who in (EDITOR, READER):
        page = enter(who.name).get("/recordings/TW-06.1").text
        assert "Not as on record: the calendar has March 1974 to June 1974 for the ferry strike" in page
    client = enter(EDITOR.name)
    _, text = post(client, "/find", "/find", words="key")
    assert "“seventy-three”: the calendar has March 1974 to June 1974 for the ferry strike" in text
    code = archive.excerpts.choose(EDITOR, "TW-06.1", TOLD, "exhibition")
    assert "Note [1974]" in client.get("/exhibition").text
    _, text = post(client, "/exhibition", f"/exhibition/{code}/dated", dated="1974")
    assert f"[1974] stands after {code}." in text and "Take the note off" in text
    status, text = post(client, "/exhibition", f"/exhibition/{code}/dated", dated="<b>1999")
    assert status == 400 and "1999" not in text and "is not offered" in text
    _, text = post(client, "/exhibition", f"/exhibition/{code}/dated", dated="")
    assert f"No date stands after {code} any more." in text
    assert post(enter(READER.name), "/find", f"/exhibition/{code}/dated", dated="1974")[0] == 403
