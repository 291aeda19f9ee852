"""The pages that say who may use what, who speaks for whom, and which works of others are cleared."""

from __future__ import annotations

from html import unescape

from tests.webui.conftest import Enter, post


def test_a_person_on_another_day(enter: Enter) -> None:
    """Asked by POST, so that what is typed by mistake stands in no address; every yes names its paper, every no what would change it."""
    keeper = enter("K-01")
    status, page = post(keeper, "/may", "/may", of="N-05", on="2024-09-30")
    assert status == 200 and "On 30 September 2024" in page and "the first is dated 1 October 2024" in page
    page = unescape(keeper.get("/may/N-05").text)
    assert "Rests on" in page and "A-N-05 (version 1), 1 October 2024" in page
    assert "N-05 allowed the use “exhibition”, but not with the voice heard." in page and "To change it: A new version of the agreement" in page
    assert "Not legal advice" in page
    for typed in ("Lena Marsh", "EX-99"):
        status, page = post(keeper, "/may", "/may", of=typed)
        assert status == 404 and typed not in page
    assert post(keeper, "/may", "/may", of="N-05", on="tomorrow")[0] == 400
    assert enter("R-01").get("/may/N-05").status_code in (403, 404)


def test_a_stretch_tells_each_who_is_heard(enter: Enter) -> None:
    page = unescape(enter("E-01").get("/may/TW-05.1@0-9000").text)
    assert "All who are heard, together" in page and "Only N-05" in page


def test_who_speaks_for_somebody(enter: Enter) -> None:
    keeper = enter("K-01")
    assert "N-05’s own answers are used" in keeper.get("/people/N-05").text
    fields = {"other": "N-06", "relation": "deputy", "from": "2024-11-01", "papers": "the court's order of 1 November, seen by K-01"}
    status, page = post(keeper, "/people/N-05", "/people/N-05/speaks-for", **fields)
    assert status == 200 and "N-06</a>, deputy, from 1 November 2024" in page and "Counts." in page and "Whoever can still decide" in page
    assert post(keeper, "/people/N-05", "/people/N-05/speaks-for", **(fields | {"other": "N-05"}))[0] == 400
    assert post(keeper, "/people/N-05", "/people/N-05/speaks-for", **(fields | {"from": ""}))[0] == 400
    assert post(enter("E-01"), "/people/N-05", "/people/N-05/speaks-for", **fields)[0] == 403


def test_a_work_is_marked_and_cleared(enter: Enter) -> None:
    keeper = enter("K-01")
    assert "listen for them" in keeper.get("/works").text
    status, page = post(keeper, "/works", "/works", stretch="TW-01.1@0:00-0:02", kind="song", about="a hauling song")
    assert status == 200 and "Not cleared for anything" in page
    assert "W-1 is in this stretch" not in page and "(W-1), and it is not cleared" in unescape(keeper.get("/may/TW-01.1@0-1500").text)
    status, page = post(keeper, "/works", "/works/1", answer="yes", basis="the owner's letter", use="exhibition")
    assert status == 200 and "the owner&#39;s letter" in page
    assert post(keeper, "/works", "/works/9", answer="yes", basis="x")[0] == 404
    assert post(enter("E-01"), "/works", "/works/1", answer="yes", basis="x")[0] == 403
