"""Listening and choosing in a real browser: the player, words that follow, the keyboard, and the same without JavaScript."""

from __future__ import annotations

from playwright.sync_api import Page, expect

from archive.app import Archive
from tests.browser.conftest import Visitor
from tests.webui.town import EDITOR, KEEPER, READER


def _now(page: Page) -> int:
    minutes, seconds = page.locator("#now").inner_text().split(":")
    return int(minutes) * 60 + int(seconds)


def _wait(page: Page, script: str) -> None:
    """Until the script is true in the page. (The page's policy forbids playwright's own way, which evaluates inside it.)"""
    for _ in range(300):
        if page.evaluate(script):
            return
        page.wait_for_timeout(50)
    raise AssertionError(f"never came true: {script}")


def test_a_clicked_word_is_heard_and_followed(look: Visitor) -> None:
    visit = look(READER.name)
    page = visit.go("/recordings/TW-01.1")
    page.click("#words [data-s] >> text=kitchen")
    _wait(page, "document.querySelector('#toggle').getAttribute('aria-pressed') === 'true'")
    _wait(page, "document.querySelector('.now[data-s]') && document.querySelector('.now[data-s]').textContent.includes('clock')")
    page.focus("#words")
    page.keyboard.press(" ")
    expect(page.locator("#toggle .say")).to_have_text("Play")
    assert _now(page) >= 6
    assert visit.complaints == []


def test_keys_of_the_player(look: Visitor) -> None:
    page = look(READER.name).go("/recordings/TW-01.1?from=10000")
    assert _now(page) == 10
    page.locator("h1").click()
    page.keyboard.press("ArrowRight")
    assert _now(page) == 15
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("ArrowLeft")
    assert _now(page) == 5
    page.keyboard.press(" ")
    expect(page.locator("#toggle .say")).to_have_text("Pause")
    page.keyboard.press(" ")
    expect(page.locator("#toggle .say")).to_have_text("Play")


def test_typing_is_not_taken_for_the_player(look: Visitor) -> None:
    page = look(EDITOR.name).go("/recordings/TW-01.1")
    page.focus("#panel")
    page.keyboard.type("Gallery 2 left")
    assert page.input_value("#panel") == "Gallery 2 left"
    expect(page.locator("#toggle .say")).to_have_text("Play")


def test_a_closed_stretch_is_passed_over(look: Visitor) -> None:
    page = look(KEEPER.name).go("/recordings/TW-05.1?from=12800")
    asked: list[str] = []
    page.on("request", lambda r: asked.append(r.url) if ".wav" in r.url else None)
    page.click("#toggle")
    _wait(page, "Number(document.querySelector('#now').textContent.split(':')[1]) >= 21")
    assert [u.rpartition("/")[2] for u in dict.fromkeys(asked)] == ["0-13500.wav", "21000-30000.wav"]


def test_the_waveform_and_the_slider_lead_to_a_time(look: Visitor) -> None:
    page = look(READER.name).go("/recordings/TW-01.1")
    box = page.locator(".wave").bounding_box()
    assert box is not None
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    _wait(page, "document.querySelector('#now').textContent.startsWith('0:1')")
    page.locator("#position").fill("25")
    _wait(page, "document.querySelector('#now').textContent >= '0:25'")


def test_words_follow_without_being_shouted(look: Visitor) -> None:
    page = look(READER.name).go("/recordings/TW-01.1")
    assert page.locator("#words [aria-live], #words[aria-live], #words [role=status]").count() == 0


def test_sound_that_was_closed_meanwhile_is_told(visit: Visitor, archive: Archive) -> None:
    page = visit(READER.name).go("/recordings/TW-06.1")
    archive.consent.withdraw(KEEPER, "N-06", how="by letter")
    page.click("#toggle")
    expect(page.locator("#trouble")).to_contain_text("cannot be played now")


def test_a_hit_plays_its_passage(look: Visitor) -> None:
    visit = look(READER.name)
    page = visit.go("/find")
    page.fill("#words", "flood")
    page.keyboard.press("Enter")
    page.wait_for_url("**/find/*")
    page.locator(".hit .play").first.click()
    expect(page.locator(".hit .say").first).to_have_text("Pause")
    before = page.locator(".hit .clock").first.inner_text()
    _wait(page, f"document.querySelector('.hit .clock').textContent !== {before!r}")
    page.locator(".hit .play").first.click()
    expect(page.locator(".hit .say").first).to_have_text("Play")
    page.locator(".hit .from a").first.click()
    page.wait_for_url("**/recordings/TW-01.1?from=*")
    assert visit.complaints == []


def test_words_are_chosen_by_keyboard(visit: Visitor, archive: Archive) -> None:
    page = visit(EDITOR.name).go("/recordings/TW-01.1")
    page.focus("#words")
    for key in ("ArrowRight", "ArrowDown", "ArrowRight", "ArrowRight", "ArrowRight"):
        page.keyboard.press(key)
    for _ in range(5):
        page.keyboard.press("Shift+ArrowRight")
    assert page.locator("#chosen-text").inner_text() == "Net Row in my mother's kitchen"
    page.focus("#panel")
    page.keyboard.type("Gallery 2")
    page.keyboard.press("Enter")
    page.wait_for_url("**/exhibition*")
    (row,) = archive.excerpts.list(EDITOR)
    assert row.shown is not None
    assert row.shown.words == "Net Row in my mother's kitchen"
    assert row.panel == "Gallery 2"


def test_words_are_chosen_by_mouse_over_two_utterances(visit: Visitor, archive: Archive) -> None:
    page = visit(EDITOR.name).go("/recordings/TW-01.1")
    page.click("#words [data-s] >> text=ten")
    page.click("#words [data-s] >> text=Peter", modifiers=["Shift"])
    page.get_by_role("button", name="Keep this excerpt").click()
    page.wait_for_url("**/exhibition*")
    (row,) = archive.excerpts.list(EDITOR)
    assert row.shown is not None
    assert row.shown.words.startswith("ten to three. It was")


def test_without_javascript_one_reads_chooses_and_ticks(visit: Visitor, archive: Archive) -> None:
    page = visit(EDITOR.name, java_script_enabled=False).go("/recordings/TW-01.1")
    page.fill("#quote", "the clock stopped at ten to three.")
    page.get_by_role("button", name="Keep this excerpt").click()
    page.wait_for_url("**/exhibition*")
    page.check("input[name=sure]")
    page.click("text=Tick as heard")
    expect(page.locator(".heard")).to_contain_text("Heard by E-01")
    assert archive.excerpts.list(EDITOR)[0].heard


def test_the_tick_wants_listening_to_the_end(visit: Visitor, archive: Archive) -> None:
    code = archive.excerpts.choose(EDITOR, "TW-01.1", "the clock stopped", "exhibition")
    page = visit(EDITOR.name).go("/exhibition")
    tick = page.locator(f"#tick-{code}")
    expect(tick).to_be_disabled()
    page.locator(f"#{code} .play").click()
    expect(tick).to_be_enabled(timeout=15_000)
    button = page.locator(f"#{code}").get_by_role("button", name="Tick as heard")
    button.click()
    expect(page.locator(f"#{code} [role=alert]")).to_contain_text("Put a mark in the box first")
    expect(tick).to_be_focused()
    assert not archive.excerpts.list(EDITOR)[0].heard
    tick.check()
    expect(page.locator(f"#{code} [role=alert]")).to_be_empty()
    button.click()
    expect(page.locator(".heard")).to_contain_text("Heard by E-01")


def test_the_second_tick_wants_listening_and_an_answer(visit: Visitor, archive: Archive) -> None:
    """The box opens when it was heard to its end; a doubt may be said at once."""
    code = archive.excerpts.choose(EDITOR, "TW-05.1", "After that nobody on the Quay", "exhibition")
    archive.excerpts.tick_heard(EDITOR, code)
    page = visit(KEEPER.name).go("/exhibition")
    form = page.locator(f"#{code} form.tick")
    button = form.get_by_role("button", name="Answer and tick")
    expect(button).to_be_disabled()
    form.get_by_label("somebody might be").check()
    expect(button).to_be_enabled()
    expect(page.locator(f"#again-{code}")).to_be_disabled()
    button.click()
    expect(page.locator(".note")).to_contain_text("Choose fewer words")
    form.locator(".play").click()
    expect(page.locator(f"#again-{code}")).to_be_enabled(timeout=15_000)
    page.locator(f"#again-{code}").check()
    button.click()
    expect(form.locator("[role=alert]")).to_contain_text("Answer first")
    assert archive.excerpts.list(EDITOR)[0].draft_reason
    form.get_by_label("no one is named").check()
    button.click()
    expect(page.locator(".twice")).to_contain_text("Heard a second time by K-01")
    assert not next(r for r in archive.excerpts.list(EDITOR) if r.code == code).draft_reason


def test_the_link_of_serve_lets_in_by_itself(visit: Visitor, archive: Archive) -> None:
    page = visit().go(f"/enter/{archive.accounts.once_link()}")
    page.wait_for_url("**/find")
    assert "keeper" in page.locator(".who").inner_text()


def test_progress_moves_while_one_looks(visit: Visitor, archive: Archive) -> None:
    from sqlalchemy import text

    with archive.rooms.db.write() as connection:
        connection.execute(text("UPDATE job SET state = 'working', done = 1000, total = 4000 WHERE subject = 'TW-06.1' AND kind = 'transcribe'"))
    page = visit(EDITOR.name).go("/upkeep")
    assert page.locator("progress").get_attribute("value") == "25"
    with archive.rooms.db.write() as connection:
        connection.execute(text("UPDATE job SET done = 3000 WHERE subject = 'TW-06.1' AND kind = 'transcribe'"))
    _wait(page, "document.querySelector('progress').value === 75")
    with archive.rooms.db.write() as connection:
        connection.execute(text("UPDATE job SET state = 'done', done = 4000 WHERE subject = 'TW-06.1' AND kind = 'transcribe'"))
    page.get_by_role("link", name="Show the list as it is now").click(timeout=15_000)
    expect(page.locator("progress")).to_have_count(0)
