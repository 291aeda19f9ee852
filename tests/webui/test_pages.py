"""What the pages show, and to whom, on a real archive: the same questions through the web that people come with."""

from __future__ import annotations

import io
import json
import re
import wave
from html import unescape

import numpy as np
import pytest
from flask.testing import FlaskClient

from archive.app import Archive
from archive.db import people, recordings
from archive.domain.phrases import day
from tests.lease import exported
from tests.webui.conftest import Enter, post, token_of
from tests.webui.town import CLOSED_WORDS, EDITOR, HIDDEN, KEEPER, READER

EVERY_PAGE = ["/find", "/recordings", "/recordings/TW-01.1", "/recordings/TW-05.1", "/recordings/TW-06.1", "/recordings/TW-07.1"]


def _said(page: str) -> str:
    """The text of a page, without its markup."""
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", "", page)))


def test_find_posts_its_question_and_keeps_it_out_of_the_address(enter: Enter) -> None:
    client = enter(READER.name)
    token = re.search(r'name="csrf_token" value="([^"]+)"', client.get("/find").text)
    assert token is not None
    answer = client.post("/find", data={"csrf_token": token[1], "words": "kitchen clock", "place": "Net Row"})
    assert answer.status_code == 303
    address = answer.headers["Location"]
    assert re.fullmatch(r"/find/[\w-]{16,}", address)
    page = client.get(address)
    assert "1 passage" in page.text
    assert "clock" in page.text
    assert "Place: Net Row" in page.text


def test_a_question_is_only_for_who_asked_it(enter: Enter) -> None:
    client, other = enter(READER.name), enter(EDITOR.name)
    token = re.search(r'name="csrf_token" value="([^"]+)"', client.get("/find").text)
    assert token is not None
    address = client.post("/find", data={"csrf_token": token[1], "words": "flood"}).headers["Location"]
    assert other.get(address).status_code == 404


def test_a_facet_narrows_and_lets_go(enter: Enter) -> None:
    client = enter(EDITOR.name)
    _, text = post(client, "/find", "/find", words="flood", set="decade=1960")
    assert "Decade: 1960s" in text
    _, text = post(client, "/find", "/find", words="flood", decade="1960", set="decade=")
    assert "Decade: 1960s" not in text
    _, text = post(client, "/find", "/find", words="flood", set="words=")
    assert "1 passage" in text or "passages" in text


def test_a_tag_stands_once_beside_a_passage(enter: Enter, archive: Archive) -> None:
    tags = [t for t in archive.recordings.page(EDITOR, "TW-01.1").tags if t.value == "River Sallow"]
    archive.describing.decide(EDITOR, tags[0].tag_id, "confirmed")
    _, text = post(enter(EDITOR.name), "/find", "/find", words="flood")
    beside = text.split('<p class="tags">')[1].split("</p>")[0]
    assert beside.count("River Sallow") == 1
    assert 'class="tag confirmed">River Sallow' in beside


def test_a_speaker_facet_asks_by_code(enter: Enter) -> None:
    _, text = post(enter(EDITOR.name), "/find", "/find", words="flood")
    assert 'value="speaker=N-01"' in text


@pytest.mark.parametrize("words", ["", "(", '"', "AND OR NOT", "*", "flood^9", "a:b", "\x00", "’", "%27", "<script>", "x" * 5000])
def test_odd_questions_are_answered(enter: Enter, words: str) -> None:
    status, text = post(enter(READER.name), "/find", "/find", words=words)
    assert status == 200
    assert "<script>" not in text.split("</head>")[1].replace("<script type", "")


def test_nothing_found_has_words(enter: Enter) -> None:
    _, text = post(enter(READER.name), "/find", "/find", words="zeppelin")
    assert "Nothing that you may read answers this." in text


def test_why_nothing_of_somebody_is_found(enter: Enter, archive: Archive) -> None:
    """Who asks for one speaker and finds nothing is led to what that person allowed; a reader, who may not see it, is not."""
    archive.consent.withdraw(KEEPER, "N-06", how="letter")
    _, text = post(enter(EDITOR.name), "/find", "/find", words="strike", speaker="N-06")
    assert "Nothing that you may read answers this." in text and 'href="/people/N-06"' in text
    _, text = post(enter(READER.name), "/find", "/find", words="strike", speaker="N-06")
    assert "Nothing that you may read answers this." in text and "/people/" not in text


def test_words_of_the_pages_are_one_for_one_thing(enter: Enter) -> None:
    """What was replaced is on no page (project choice of words)."""
    _choose(enter)
    gone = (
        "let go", "the machine", "What the machine", "New question", "A new question", "whatever it allows", "To be called", "not yours to read",
        "Come in", "What left", "Not a person", "already out", "> of machines<",
    )  # fmt: skip
    keeper = enter(KEEPER.name)
    pages = [*EVERY_PAGE, "/people", "/people/N-01", "/people/N-06/withdraw", "/names", "/names/N-08", "/off-the-record", "/exhibition", "/upkeep", "/upkeep/came-in", "/upkeep/left", "/upkeep/cards", "/upkeep/copies", "/upkeep/notes", "/upkeep/record", "/upkeep/accounts"]
    for path in pages:
        said = _said(keeper.get(path).text)
        assert not [word for word in gone if word.casefold() in said.casefold()], path


def test_a_page_too_far_is_empty_not_broken(enter: Enter) -> None:
    client = enter(READER.name)
    token = re.search(r'name="csrf_token" value="([^"]+)"', client.get("/find").text)
    assert token is not None
    address = client.post("/find", data={"csrf_token": token[1], "words": "flood"}).headers["Location"]
    for page in ("2", "-1", "0", "x", "99999999999"):
        assert client.get(f"{address}?page={page}").status_code == 200, page


@pytest.mark.parametrize("name", [KEEPER.name, EDITOR.name, READER.name])
def test_closed_words_are_on_no_page(enter: Enter, name: str) -> None:
    client = enter(name)
    for path in [*EVERY_PAGE, "/recordings/TW-05.1?from=14000", "/recordings/TW-05.1?speakers=all"]:
        assert CLOSED_WORDS.split()[1] not in client.get(path).text, path
    _, text = post(client, "/find", "/find", words=CLOSED_WORDS)
    assert "Nothing that you may read answers this." in text


def test_a_keeper_opens_closed_words_by_a_post_that_is_on_record(enter: Enter, archive: Archive) -> None:
    client = enter(KEEPER.name)
    status, text = post(client, "/recordings/TW-05.1", "/recordings/TW-05.1/open", reason="the embargo ends, to be reviewed")
    assert status == 200
    assert CLOSED_WORDS in _said(text)
    newest = archive.records.list(KEEPER, 1)[0]
    assert newest.action == "closed speech opened"
    assert newest.actor == KEEPER.name
    assert CLOSED_WORDS.split()[1] not in client.get("/recordings/TW-05.1").text
    status, _ = post(client, "/recordings/TW-05.1", "/recordings/TW-05.1/open", reason=" ")
    assert status == 400


def test_hidden_names_are_on_no_page_of_a_reader(enter: Enter) -> None:
    client = enter(READER.name)
    for path in EVERY_PAGE:
        assert HIDDEN not in client.get(path).text, path
    _, text = post(client, "/find", "/find", words="key boat")
    assert "1 passage" in text
    assert HIDDEN not in text


def test_an_editor_decides_a_name_and_a_reader_then_reads_it(enter: Enter) -> None:
    editor, reader = enter(EDITOR.name), enter(READER.name)
    page = editor.get("/recordings/TW-01.1").text
    start, end = re.findall(r'name="(?:start_ms|end_ms)" value="(\d+)"', page)[:2]
    status, _ = post(
        editor, "/recordings/TW-01.1", "/recordings/TW-01.1/names", start_ms=start, end_ms=end, person="N-08",
        decision="public", how="named in the town's paper at the time",
    )  # fmt: skip
    assert status == 200
    assert "Peter Lund" in _said(reader.get("/recordings/TW-01.1").text)


def test_a_transcript_is_told_by_its_day_and_figures_stand_apart(enter: Enter, archive: Archive) -> None:
    page = enter(EDITOR.name).get("/recordings/TW-01.1").text
    said = _said(page)
    assert f"transcript of {day(archive.today())}" in said and not re.search(r"version \d", said)
    about = page.split('id="notes-h"')[1].split("</section>")[0]
    human, technical = about.split("<h3>Technical</h3>")
    for figure in ("LUFS", "kHz", "checksum"):
        assert figure in technical and figure not in human, figure
    assert "Transcribed by our own computer" in human and "1 channel," in technical


def test_markup_in_what_people_typed_stays_text(enter: Enter) -> None:
    for path in ("/recordings", "/recordings/TW-01.1"):
        page = enter(KEEPER.name).get(path).text
        assert "<b>&" not in page
        assert "&lt;b&gt;&amp; the flood&lt;/b&gt;" in page


def test_the_page_starts_where_a_hit_points(enter: Enter) -> None:
    page = enter(READER.name).get("/recordings/TW-01.1?from=7000").text
    assert page.count('id="here"') == 1
    assert 'data-from="7000"' in page
    for odd in ("x", "-5", "999999999", "1e9"):
        assert enter(READER.name).get(f"/recordings/TW-01.1?from={odd}").status_code == 200


def test_sound_is_a_wav_of_the_stretch_in_ranges(enter: Enter) -> None:
    client = enter(READER.name)
    whole = client.get("/recordings/TW-01.1/sound/1000-3000.wav")
    assert whole.status_code == 200
    with wave.open(io.BytesIO(whole.data)) as sound:
        assert (sound.getnchannels(), sound.getsampwidth(), sound.getframerate()) == (1, 2, 24000)
        assert sound.getnframes() == 48000
    part = client.get("/recordings/TW-01.1/sound/1000-3000.wav", headers={"Range": "bytes=100-199"})
    assert part.status_code == 206
    assert part.data == whole.data[100:200]


@pytest.mark.parametrize("name", [KEEPER.name, EDITOR.name, READER.name])
def test_closed_sound_is_not_given_to_anybody(enter: Enter, name: str) -> None:
    client = enter(name)
    for stretch in ("13000-14500", "14000-15000", "0-30000", "20000-22000", "13500-13501", "0-999999", "5000-5000", "9-3"):
        answer = client.get(f"/recordings/TW-05.1/sound/{stretch}.wav")
        assert answer.status_code in (403, 404), stretch
        assert not answer.data.startswith(b"RIFF")
    assert client.get("/recordings/TW-05.1/sound/6000-9000.wav").status_code == 200


def test_a_hidden_name_is_silent_for_a_reader_and_not_for_an_editor(enter: Enter) -> None:
    loud = {}
    for name in (READER.name, EDITOR.name):
        answer = enter(name).get("/recordings/TW-01.1/sound/16500-17000.wav")
        with wave.open(io.BytesIO(answer.data)) as sound:
            samples = np.frombuffer(sound.readframes(sound.getnframes()), "<i2")
        loud[name] = int(np.abs(samples[2000:-2000]).max())
    assert loud[READER.name] == 0
    assert loud[EDITOR.name] > 1000


def test_speakers_are_set_from_the_form(enter: Enter, archive: Archive) -> None:
    client = enter(EDITOR.name)
    page = client.get("/recordings/TW-01.1").text
    (name,) = re.findall(r'<select id="u\d+" name="(u\d+)"', page)
    status, text = post(client, "/recordings/TW-01.1", "/recordings/TW-01.1/speakers", **{name: "N-01", "u999999": "leave"})
    assert status == 200
    assert "Speakers set for 1" in text
    assert archive.recordings.list(EDITOR)[0].unassigned == 0
    status, text = post(client, "/recordings/TW-01.1", "/recordings/TW-01.1/speakers", **{name: "N-06"})
    assert status == 400
    assert "did not take part" in text


def test_a_suggestion_is_confirmed_rejected_and_taken_back(enter: Enter, archive: Archive) -> None:
    client = enter(EDITOR.name)
    tag = archive.recordings.page(EDITOR, "TW-01.1").tags[0]
    for decision in ("confirmed", "rejected", "suggested"):
        status, _ = post(client, "/recordings/TW-01.1", f"/recordings/TW-01.1/suggestions/{tag.tag_id}", decision=decision)
        assert status == 200
        now = {t.tag_id: t.state for t in archive.recordings.page(EDITOR, "TW-01.1").tags}
        assert now[tag.tag_id] == decision
    assert post(client, "/recordings/TW-01.1", f"/recordings/TW-01.1/suggestions/{tag.tag_id}", decision="maybe")[0] == 400


def _choose(enter: Enter) -> str:
    """EX-code of an excerpt chosen by its words."""
    _, text = post(
        enter(EDITOR.name), "/recordings/TW-01.1", "/recordings/TW-01.1/excerpt", use="exhibition", panel="Gallery 2",
        quote="I was on Net Row in my mother's kitchen […] the clock stopped at ten to three.",
    )  # fmt: skip
    found = re.search(r'<article class="excerpt" id="([\w-]+)"', text)
    assert found is not None, _said(text)
    return found[1]


def test_an_excerpt_by_its_words(enter: Enter) -> None:
    code = _choose(enter)
    page = _said(enter(EDITOR.name).get("/exhibition").text)
    assert code in page
    assert "mother's kitchen […] the clock stopped" in page
    assert "Gallery 2" in page
    assert "Words: may leave" in page


def test_an_excerpt_by_first_and_last_word(enter: Enter) -> None:
    client = enter(EDITOR.name)
    utterance = re.findall(r'data-u="(\d+)"', client.get("/recordings/TW-01.1").text)[1]
    _, text = post(
        client, "/recordings/TW-01.1", "/recordings/TW-01.1/excerpt", use="exhibition", quote="",
        first=f"{utterance}:3", last=f"{utterance}:8",
    )  # fmt: skip
    assert "Net Row in my mother's kitchen" in _said(text)


def test_a_quote_that_differs_is_refused_with_the_words(enter: Enter) -> None:
    status, text = post(
        enter(EDITOR.name), "/recordings/TW-01.1", "/recordings/TW-01.1/excerpt", use="exhibition",
        quote="I was on Net Row in my grandmother's kitchen",
    )  # fmt: skip
    assert status == 409
    assert "grandmother" in text
    assert 'role="alert"' in text
    assert "I was on Net Row in my grandmother&#39;s kitchen</textarea>" in text  # what was typed is not lost


@pytest.mark.parametrize("word", ["1", "x:y", "1:-1", ":", "1:2:3"])
def test_odd_words_are_refused(enter: Enter, word: str) -> None:
    status, _ = post(
        enter(EDITOR.name), "/recordings/TW-01.1", "/recordings/TW-01.1/excerpt", use="exhibition", first=word, last=word
    )
    assert status == 400


def export(client: FlaskClient, archive: Archive, **fields: str) -> tuple[int, str]:
    """Ask for an export, let it be made, and load its page. Returns (status, text)."""
    token = token_of(client.get("/exhibition").text)
    answer = client.post("/exhibition/export", data={"csrf_token": token, **fields})
    assert answer.status_code == 303
    page = answer.headers["Location"]
    assert "waiting" in client.get(page).text
    exported(archive)
    told = client.get(page)
    return told.status_code, told.text


def test_from_excerpt_to_downloaded_file_and_withdrawal(enter: Enter, archive: Archive) -> None:
    code = _choose(enter)
    client = enter(EDITOR.name)
    _, text = post(client, "/exhibition", f"/exhibition/{code}/heard", sure="yes", shown=_shown(client, code))
    assert f"Heard by {EDITOR.name}" in text
    status, text = export(client, archive, excerpt=code, use="exhibition")
    assert status == 200, _said(text)
    assert "It is a draft" not in text
    links = re.findall(r'href="(/exhibition/given/[^"]+)"', text)
    assert any(link.endswith("wall-text.docx") for link in links)
    assert str(archive.folder) not in text
    for link in links:
        with client.get(link) as answer:
            assert answer.status_code == 200, link
            assert answer.headers["Content-Disposition"].startswith("attachment")
    (quotes,) = [link for link in links if link.endswith("quotes.json")]
    with client.get(quotes) as answer:
        assert "kitchen" in json.dumps(json.loads(answer.data), ensure_ascii=False)
    for odd in ("../../archive.db", "%2e%2e/%2e%2e/archive.toml", "archive.toml", "/etc/hostname"):
        assert client.get(links[0].rpartition("/")[0] + "/" + odd).status_code in (404, 308), odd
    keeper = enter(KEEPER.name)
    status, text = post(keeper, "/people/N-01/withdraw", "/people/N-01/withdraw", how="by letter to K-01", use="", interview="")
    assert status == 200
    assert code in text
    assert links[0].rpartition("/")[2] in text
    _, text = post(client, "/find", "/find", words="kitchen")
    assert "Nothing that you may read answers this." in text
    assert "may not leave" in client.get("/exhibition").text
    status, text = export(client, archive, excerpt=code, use="exhibition")
    assert "Nothing went out" in text
    assert enter(READER.name).get("/recordings/TW-01.1/sound/6000-8000.wav").status_code == 403


def _shown(client: FlaskClient, code: str, what: str = "shown") -> str:
    """What the page shows of an excerpt (or "around" it), as its tick posts it."""
    part = client.get("/exhibition").text.split(f'id="{code}"')[1].split("</article>")[0]
    found, *_ = re.findall(rf'name="{what}" value="([0-9a-f]{{64}})"', part)
    return str(found)


def test_a_tick_is_for_the_words_that_were_shown(enter: Enter, archive: Archive) -> None:
    code = _choose(enter)
    client = enter(EDITOR.name)
    tick = f"/exhibition/{code}/heard"
    for shown, status in (("", 400), ("0" * 64, 409), (_shown(client, code)[:-1], 409)):
        answered, text = post(client, "/exhibition", tick, sure="yes", shown=shown)
        assert answered == status, text
        assert archive.excerpts.list(EDITOR)[0].heard == ""
    assert "not what was shown" in post(client, "/exhibition", tick, sure="yes", shown="f" * 64)[1]
    assert post(client, "/exhibition", tick, sure="yes", shown=_shown(client, code))[0] == 200
    assert archive.excerpts.list(EDITOR)[0].heard.startswith(f"heard by {EDITOR.name} on ")


def test_what_is_set_aside_is_seen_apart_and_taken_back(enter: Enter, archive: Archive) -> None:
    code = _choose(enter)
    client = enter(EDITOR.name)
    assert post(client, "/exhibition", f"/exhibition/{code}/set-aside")[0] == 200
    page = client.get("/exhibition").text
    assert f'<article class="excerpt" id="{code}"' not in page and "1 excerpt set aside" in page and "kitchen" in _said(page)
    assert archive.excerpts.list(EDITOR) == ()
    assert export(client, archive, excerpt=code, use="exhibition")[1].count("EX-1") >= 1
    status, _ = post(client, "/exhibition", f"/exhibition/{code}/take-back")
    assert status == 200 and archive.excerpts.list(EDITOR)[0].code == code
    assert "set aside" not in _said(client.get("/exhibition").text).replace("Set aside", "")
    post(client, "/exhibition", f"/exhibition/{code}/set-aside")
    twin = _choose(enter)  # the same words, chosen anew
    status, text = post(client, "/exhibition", f"/exhibition/{code}/take-back")
    assert status == 409 and twin != code and f"on the list as {twin}" in text
    assert post(client, "/exhibition", "/exhibition/EX-99/take-back")[0] == 404


HUGE = ("9" * 12, "9" * 25, "9" * 6000, "²", "-1", "1.5")


@pytest.mark.parametrize("number", HUGE)
def test_numbers_that_nothing_has_are_not_there(enter: Enter, number: str) -> None:
    """A number larger than anything on record is answered like one that is not there, in words."""
    client = enter(KEEPER.name)
    for page, to, fields in (
        ("/people/N-06", "/people/N-06/lift", {"hold": number, "reason": "so"}),
        ("/recordings/TW-01.1", f"/recordings/TW-01.1/suggestions/{number}", {"decision": "confirmed"}),
        ("/upkeep/accounts", f"/upkeep/jobs/{number}", {"do": "pause"}),
        ("/upkeep/accounts", "/upkeep/jobs/1", {"do": "before", "other": number}),
        ("/recordings/TW-01.1", "/recordings/TW-01.1/names", {"start_ms": number, "end_ms": "9" * 9, "decision": "hide"}),
        ("/recordings/TW-01.1", "/recordings/TW-01.1/excerpt", {"use": "exhibition", "first": f"{number}:1", "last": "1:1"}),
    ):
        status, text = post(client, page, to, **fields)
        assert status in (400, 404), (to, status)
        assert "not your doing" not in text
    assert post(client, "/recordings/TW-01.1", "/recordings/TW-01.1/speakers", **{f"u{number}": "N-01"})[0] in (200, 400, 404)
    for path in (f"/recordings/TW-01.1?from={number}", f"/recordings/TW-01.1/sound/0-{number}.wav", f"/recordings/TW-01.1/sound/{number}-5.wav"):
        assert client.get(path).status_code in (200, 403, 404), path
    token = re.search(r'name="csrf_token" value="([^"]+)"', client.get("/find").text)
    assert token is not None
    address = client.post("/find", data={"csrf_token": token[1], "words": "flood"}).headers["Location"]
    assert client.get(f"{address}?page={number}").status_code == 200


def test_they_agreed_needs_how(enter: Enter) -> None:
    editor = enter(EDITOR.name)
    page = editor.get("/recordings/TW-01.1").text
    form = next(f for f in re.findall(r"<form.*?</form>", page, re.S) if 'value="cleared"' in f)
    assert re.search(r'name="how" required', form) and 'value="hide"' not in form
    assert "The name may stand" in page and "not this person, a place or a word, or where you decided to keep it" in page
    start, end = re.findall(r'name="(?:start_ms|end_ms)" value="(\d+)"', page)[:2]
    status, text = post(editor, "/recordings/TW-01.1", "/recordings/TW-01.1/names", start_ms=start, end_ms=end, person="N-08", decision="cleared", how=" ")
    assert status == 400 and "how it was cleared" in text


def test_a_stretch_is_withdrawn_from_the_page_as_people_write_it(enter: Enter, archive: Archive) -> None:
    keeper = enter(KEEPER.name)
    to = "/people/N-06/withdraw"
    status, text = post(keeper, to, to, how="letter", stretch="TW-06.1@0:05-0:07")
    assert status == 200 and "TW-06.1@0:05-0:07" in text
    assert "withdrawn: TW-06.1, 0:05 to 0:07" in archive.people.page(KEEPER, "N-06").restraints[0].words
    for stretch, refused in (("TW-01.1@0:05-0:07", 400), ("TW-06.1@0:05-9:00", 404), ("TW-06.1 five to seven", 404)):
        assert post(keeper, to, to, how="letter", stretch=stretch)[0] == refused, stretch
    assert len(archive.people.page(KEEPER, "N-06").restraints) == 1


def test_an_export_of_nothing_is_told(enter: Enter) -> None:
    _choose(enter)
    status, text = post(enter(EDITOR.name), "/exhibition", "/exhibition/export", use="exhibition")
    assert status == 400
    assert "Nothing was chosen" in text


def test_an_export_is_watched_paused_and_ended_on_its_page(enter: Enter, archive: Archive) -> None:
    code = _choose(enter)
    client = enter(EDITOR.name)
    status, text = post(client, "/exhibition", "/exhibition/export", excerpt=code, use="exhibition")
    assert status == 200 and "Export 1 excerpt for exhibition" in text and "waiting" in text
    (number,) = [j.id for j in archive.jobs.list(EDITOR) if j.kind == "export"]
    page = f"/exhibition/export/{number}"
    assert f'href="{page}"' in client.get("/upkeep").text
    assert post(client, "/exhibition", "/exhibition/export", excerpt=code, use="exhibition")[0] == 200
    assert len([j for j in archive.jobs.list(EDITOR) if j.kind == "export"]) == 1, "pressed twice it is one export"
    post(client, page, f"/upkeep/jobs/{number}", do="pause")
    assert "Paused by E-01" in client.get(page).text and "Go on" in client.get(page).text
    post(client, page, f"/upkeep/jobs/{number}", do="cancel")
    text = client.get(page).text
    assert "The export ended early" in text and "Cancelled by E-01" in text and archive.exports.register(EDITOR) == ()
    assert client.get(f"{page}.json").get_json()[0]["over"] is True
    post(client, page, f"/upkeep/jobs/{number}", do="resume")
    exported(archive)
    assert "OUT-0001 is ready" in client.get(page).text
    for other in (1, 999, 10**30):
        assert client.get(f"/exhibition/export/{other}").status_code == 404


def test_one_excerpt_is_exported_alone(enter: Enter, archive: Archive) -> None:
    code = _choose(enter)
    client = enter(EDITOR.name)
    post(client, "/recordings/TW-01.1", "/recordings/TW-01.1/excerpt", use="exhibition", quote="The Sallow came up through the drain first")
    forms = [f for f in re.findall(r"<form.*?</form>", client.get("/exhibition").text, re.S) if "Export only this" in f]
    fields = dict(re.findall(r'name="(excerpt|use)" value="([^"]+)"', next(f for f in forms if code in f)))
    assert fields == {"excerpt": code, "use": "exhibition"}
    _, text = export(client, archive, **fields)
    assert f"1 excerpt in it: {code}" in _said(text)


def test_selected_is_for_the_export_and_ticked_for_what_was_heard(enter: Enter) -> None:
    code = _choose(enter)
    text = enter(EDITOR.name).get("/exhibition").text
    assert "Export the selected excerpts for" in text
    assert "the ticked excerpts" not in text
    (label,) = re.findall(rf'<label for="pick-{code}">(.*?)</label>', text)
    assert _said(label).split() == ["select", code]
    assert "Tick as heard" in text


def test_a_tick_without_its_box_says_what_to_do(enter: Enter, archive: Archive) -> None:
    """Without JavaScript, from a browser that does not enforce `required`."""
    code = _choose(enter)
    client = enter(EDITOR.name)
    status, text = post(client, "/exhibition", f"/exhibition/{code}/heard", shown=_shown(client, code))
    assert status == 400
    assert "Listen to the end" in text and "put a mark in the box" in text
    assert not archive.excerpts.list(EDITOR)[0].heard


def test_the_wall_text_comes_first_and_the_team_sheet_last(enter: Enter, archive: Archive) -> None:
    code = _choose(enter)
    _, text = export(enter(EDITOR.name), archive, excerpt=code, use="exhibition")
    outside, inside = text.split("For the team only</h2>")
    links = [re.findall(r'href="/exhibition/given/[^/]+/([^"]+)"', part) for part in (outside, inside)]
    assert links[0][:2] == ["DRAFT-wall-text.docx", "DRAFT-quotes.json"]
    assert len(links[0]) > 2 and all("clip-" in name for name in links[0][2:])
    assert links[1] == ["for-the-team/DRAFT-internal-sheet.docx"]


def _unnamed(archive: Archive) -> str:
    """An excerpt of the unnamed narrator's, heard by the editor."""
    code = archive.excerpts.choose(EDITOR, "TW-05.1", "After that nobody on the Quay spoke to us.", "exhibition", "After the strike")
    archive.excerpts.choose(EDITOR, "TW-05.1", "the constables come down the steps", "exhibition", "After the strike")
    archive.excerpts.tick_heard(EDITOR, code)
    return code


def test_the_second_tick_stands_beside_what_it_is_about(enter: Enter, archive: Archive) -> None:
    """What leaves, what is hidden, what stands around it, the question, the cautions: all in the form that is pressed."""
    code = _unnamed(archive)
    part = enter(KEEPER.name).get("/exhibition").text.split(f'id="{code}"')[1].split("</article>")[0]
    (form,) = [f for f in re.findall(r"<form.*?</form>", part, re.S) if "heard-again" in f]
    said = _said(form)
    for words in (
        "Together, do these name her or him?", "no one is named", "somebody might be", "Panel: After the strike", "Under it: Name withheld.",
        "“the constables come down the steps” (Name withheld)", "on the same panel, by the same speaker", "The recording's title, as it would be shown",
        "A voice identifies even without a name.", "A living third party, health, crime, migration status or a child needs a person’s eye.",
        "Permission for the archive is not permission for the wall.", "Not legal advice",
    ):  # fmt: skip
        assert words in said, words
    assert len(re.findall(r'type="radio" required', form)) == 2 and "checked" not in form
    assert f"/exhibition/{code}/sound/" in form and re.search(r'data-parts="\d+-\d+"', form)
    assert "It leaves so:" in part and "The speaker is not named." in part
    assert "Marsh" not in said and "N-05" not in said


def test_the_second_tick_is_for_somebody_else_and_needs_an_answer(enter: Enter, archive: Archive) -> None:
    code = _unnamed(archive)
    to = f"/exhibition/{code}/heard-again"
    editor, keeper = enter(EDITOR.name), enter(KEEPER.name)
    page = editor.get("/exhibition").text.split(f'id="{code}"')[1].split("</article>")[0]
    assert "heard-again" not in page and f"{EDITOR.name} has heard it already. Somebody else has to listen now." in page
    shown, around = _shown(keeper, code), _shown(keeper, code, "around")
    for fields, status in (
        ({"together": "nobody"}, 400), ({"sure": "yes", "together": "nobody"}, 400), ({"sure": "yes", "shown": shown, "around": around}, 400),
        ({"shown": shown, "around": around, "together": "nobody"}, 400), ({"sure": "yes", "shown": shown, "together": "nobody"}, 400),
        ({"sure": "yes", "shown": "f" * 64, "around": around, "together": "nobody"}, 409),
        ({"sure": "yes", "shown": shown, "around": "f" * 64, "together": "nobody"}, 409),
    ):  # fmt: skip
        assert post(keeper, "/exhibition", to, **fields)[0] == status, fields
    assert post(editor, "/exhibition", to, sure="yes", shown=shown, around=around, together="nobody")[0] == 409
    assert not archive.excerpts.list(EDITOR)[0].heard_second
    status, text = post(keeper, "/exhibition", to, shown=shown, together="somebody")
    assert status == 200 and "stays a draft" in text and "Choose fewer words" in text
    assert f"{KEEPER.name} thought on" in text, "the next one is told"
    _, text = export(editor, archive, excerpt=code, use="exhibition")
    assert "It is a draft" in text and f"{code}: A second person has not yet heard" in text
    status, text = post(keeper, "/exhibition", to, sure="yes", shown=shown, around=around, together="nobody")
    assert status == 200 and f"Heard a second time by {KEEPER.name}" in text
    _, text = export(editor, archive, excerpt=code, use="exhibition")
    assert "It is a draft" not in text


def test_the_second_tick_is_for_another_account_and_for_what_stood_around_it(enter: Enter, archive: Archive) -> None:
    """Typed in by the keeper for the editor: the page tells each of the two what to do, then what changed around it."""
    code = archive.excerpts.choose(EDITOR, "TW-05.1", "After that nobody on the Quay spoke to us.", "exhibition", "After the strike")
    archive.excerpts.tick_heard(KEEPER, code, EDITOR.name)
    editor, keeper = enter(EDITOR.name), enter(KEEPER.name)
    told = _said(keeper.get("/exhibition").text)
    assert f"Heard by {EDITOR.name}, typed in by {KEEPER.name} on" in told and f"under the same account ({KEEPER.name})" in told and "toldhere accounts add NAME editor" in told
    assert "not under your own account" in _said(editor.get("/exhibition").text)
    assert post(editor, "/exhibition", f"/exhibition/{code}/heard", sure="yes", shown=_shown(editor, code))[0] == 200
    fields = {"sure": "yes", "together": "nobody", "shown": _shown(keeper, code), "around": _shown(keeper, code, "around")}
    archive.excerpts.choose(EDITOR, "TW-05.1", "the constables come down the steps", "exhibition", "After the strike")
    to = f"/exhibition/{code}/heard-again"
    status, text = post(keeper, "/exhibition", to, **fields)
    assert status == 409 and "What stands around it is not what was shown" in text, "a quote joined while the page was open"
    assert post(keeper, "/exhibition", to, **fields | {"around": _shown(keeper, code, "around")})[0] == 200
    archive.excerpts.choose(EDITOR, "TW-01.1", "the clock stopped at ten to three.", "exhibition", "after the strike")
    text = _said(keeper.get("/exhibition").text)
    assert "but what stands around it changed since the second person listened." in text and f"Heard a second time by {KEEPER.name}" in text
    assert "heard-again" in keeper.get("/exhibition").text


def test_what_changed_since_it_was_heard_is_said(enter: Enter, archive: Archive) -> None:
    code = archive.excerpts.choose(EDITOR, "TW-01.1", "Peter Lund who had the key", "exhibition")
    archive.excerpts.tick_heard(EDITOR, code)
    found = [w for u in archive.recordings.page(KEEPER, "TW-01.1").shown.utterances for w in u.words if w.text in ("Peter", "Lund")]
    archive.naming.decide(EDITOR, "TW-01.1", found[0].start_ms, found[-1].end_ms, "N-08", "keep", "he agreed")
    page = _said(enter(KEEPER.name).get("/exhibition").text)
    assert "changed since: it has to be heard again" in page and f"Heard by {EDITOR.name} on" in page


def test_sound_as_it_leaves_is_for_who_may_hear_it(enter: Enter, archive: Archive) -> None:
    """The same door: closed stretches stay closed, and what is hidden is silent for editors too."""
    editor = enter(EDITOR.name)
    code = archive.excerpts.choose(EDITOR, "TW-01.1", "Peter Lund who had the key", "exhibition")
    (row,) = [r for r in archive.excerpts.list(EDITOR) if r.code == code]
    assert row.leaving is not None
    piece = row.leaving.pieces[0]
    address = f"/exhibition/{code}/sound/{piece.start_ms}-{piece.end_ms}.wav"
    with wave.open(io.BytesIO(editor.get(address).data)) as sound:
        assert (sound.getframerate(), sound.getnframes()) == (48000, (piece.end_ms - piece.start_ms) * 48)
    assert editor.get(f"/exhibition/{code}/sound/{piece.start_ms - 900}-{piece.end_ms}.wav").status_code == 404, "the clip alone"
    archive.consent.seal(KEEPER, "TW-01.1", row.start_ms, row.end_ms, "asked for")
    assert editor.get(address).status_code in (403, 404)


def test_unheard_words_come_out_as_a_draft(enter: Enter, archive: Archive) -> None:
    code = _choose(enter)
    _, text = export(enter(EDITOR.name), archive, excerpt=code, use="exhibition")
    assert "It is a draft" in text
    assert "DRAFT-wall-text.docx" in text


def test_what_one_person_allowed(enter: Enter) -> None:
    page = _said(enter(KEEPER.name).get("/people/N-05").text)
    assert "Lena Marsh" in page
    assert re.search(r"As words: [^.]*exhibition", page)
    assert not re.search(r"As voice: [^.]*exhibition", page)
    assert "As picture: nothing" in page


def test_a_pause_holds_and_is_lifted_beside_it(enter: Enter, archive: Archive) -> None:
    keeper = enter(KEEPER.name)
    status, text = post(keeper, "/people/N-06", "/people/N-06/pause", how="telephoned, wants to think")
    assert status == 200
    assert "Paused" in text
    page = keeper.get("/people/N-06").text
    assert "Paused: everything" in _said(page) and "Lift this hold" in _said(page)
    (number,) = set(re.findall(r'name="hold" value="(\d+)"', page))
    status, text = post(keeper, "/people/N-01", "/people/N-01/lift", hold=number, reason="the page of somebody else")
    assert status == 404 and "There is no such hold" in text
    assert archive.people.page(KEEPER, "N-06").row.state == "paused"
    status, text = post(keeper, "/people/N-06", "/people/N-06/lift", hold=number, reason="wrote that all is well")
    assert status == 200
    assert "is lifted" in text and "(no longer holds)" in text and "Lift this hold" not in text
    assert archive.people.page(KEEPER, "N-06").row.state == "agreement in force"


def test_a_withdrawal_says_how_it_ends_and_ends_so(enter: Enter, archive: Archive) -> None:
    keeper = enter(KEEPER.name)
    before = _said(keeper.get("/people/N-06/withdraw").text)
    assert "only when a keeper lifts it on N-06’s own word" in before and "new agreement" not in before
    post(keeper, "/people/N-06/withdraw", "/people/N-06/withdraw", how="letter", use="", interview="", stretch="")
    page = keeper.get("/people/N-06").text
    assert "Only on N-06’s own word" in _said(page)
    assert "Only on" not in _said(enter(EDITOR.name).get("/people/N-06").text), "an editor lifts nothing"
    (number,) = set(re.findall(r'name="hold" value="(\d+)"', page))
    assert post(keeper, "/people/N-06", "/people/N-06/lift", hold=number, reason=" ")[0] == 400
    assert post(keeper, "/people/N-06", "/people/N-06/lift", hold=number, reason="asked in person, 3 June")[0] == 200
    assert archive.people.page(KEEPER, "N-06").row.state == "agreement in force"


def test_each_interview_that_differs_is_told(enter: Enter, archive: Archive) -> None:
    with archive.rooms.db.write() as connection:
        row = people.by_code(connection, "N-01")
        assert row is not None
        people.take_part(connection, recordings.interview_id(connection, "TW-10", "", None, "en"), row.id, "narrator")
    assert "In interview" not in enter(KEEPER.name).get("/people/N-01").text
    archive.consent.withdraw(KEEPER, "N-01", interview="TW-10", how="letter")
    page = _said(enter(KEEPER.name).get("/people/N-01").text)
    assert re.search(r"In interview TW-01\s*As words: [^.]*exhibition", page)
    assert re.search(r"In interview TW-10\s*As words: nothing", page)


def test_upkeep_tells_what_came_in_and_what_was_refused(enter: Enter) -> None:
    page = _said(enter(EDITOR.name).get("/upkeep/came-in").text)
    assert "5 files looked at" in page
    assert "1 refused" in page
    assert "notes.wav" in page


def test_jobs_as_json_hold_no_words_of_people(enter: Enter) -> None:
    jobs = enter(EDITOR.name).get("/upkeep/jobs.json").get_json()
    transcribed = [j for j in jobs if j["name"].startswith("Transcribe")]
    assert {j["subject"] for j in transcribed} == {"TW-01.1", "TW-05.1", "TW-06.1"}
    assert all(j["over"] and j["percent"] == 100 for j in transcribed)
    assert [j["state"] for j in jobs if j["name"].startswith("Access copy")] == ["waiting"] * 4, "copies wait for an idle machine"


def test_jobs_are_held_moved_and_ended_on_their_page(enter: Enter, archive: Archive) -> None:
    """Each button does what it says, and says so; what does not fit any more is refused in words, and readers may do nothing."""
    client = enter(EDITOR.name)
    first, second, third, fourth = [j.id for j in archive.jobs.list(EDITOR) if j.state == "waiting"]
    order = lambda: [j.id for j in archive.jobs.list(EDITOR) if j.state == "waiting"]  # noqa: E731

    def press(number: int, do: str, **more: str) -> str:
        status, text = post(client, "/upkeep", f"/upkeep/jobs/{number}", do=do, **more)
        assert status == 200
        return text

    assert "moved to the front" in press(fourth, "first") and order() == [fourth, first, second, third]
    assert f"before job {third}" in press(first, "before", other=str(third)) and order() == [fourth, second, first, third]
    assert "paused within a few seconds" in press(second, "pause") and order() == [fourth, first, third]
    assert "Paused by E-01" in client.get("/upkeep").text
    assert "as the last" in press(second, "resume") and order() == [fourth, first, third, second]
    assert "as soon as it is its turn" in press(third, "by-hand") and order() == [third, fourth, first, second]
    assert "our own computer is idle" in press(third, "idle")
    assert "cancelled" in press(fourth, "cancel") and fourth not in order()
    status, text = post(client, "/upkeep", f"/upkeep/jobs/{fourth}", do="pause")
    assert status == 409 and f"Job {fourth} is cancelled" in text
    assert post(client, "/upkeep", f"/upkeep/jobs/{fourth}", do="burn")[0] == 400
    assert "Try again" in client.get("/upkeep").text


def test_the_record_is_checked_and_a_broken_one_is_told(enter: Enter, archive: Archive) -> None:
    client = enter(KEEPER.name)
    _, text = post(client, "/upkeep/record", "/upkeep/record/check", fixity="yes")
    assert "All is whole" in text
    master = next(p for p in (archive.folder / "masters").rglob("*.wav"))
    master.chmod(0o644)
    master.write_bytes(master.read_bytes()[:-4] + b"oops")
    _, text = post(client, "/upkeep/record", "/upkeep/record/check", fixity="yes")
    assert "Something is not whole" in text


def test_an_account_is_added_and_may_sign_in(enter: Enter) -> None:
    client = enter(KEEPER.name)
    status, text = post(client, "/upkeep/accounts", "/upkeep/accounts", name="R-02", role="reader", password="rope and chain and tide")
    assert status == 200
    assert "R-02" in text
    assert enter("R-02").get("/find").status_code == 200
    status, text = post(client, "/upkeep/accounts", "/upkeep/accounts", name="R-03", role="reader", password="short")
    assert status == 400
    assert "12 letters" in text


def test_an_empty_archive_has_words_on_every_page(tmp_path, enter: Enter) -> None:  # type: ignore[no-untyped-def]
    from tests.webui.conftest import token_of
    from webui.app import create_app

    archive = Archive.create(tmp_path / "new", KEEPER, "Tarnwick Memory", "Marigold", False)
    try:
        client = create_app(archive).test_client()
        token = archive.accounts.once_link()
        page = client.get(f"/enter/{token}").text
        client.post("/enter", data={"csrf_token": token_of(page), "token": token})
        said = {
            "/recordings": "no recording yet", "/people": "Nobody is on record yet", "/exhibition": "No excerpt is chosen yet",
            "/upkeep": "Nothing is waiting", "/upkeep/came-in": "Nothing has come in yet", "/upkeep/left": "Nothing went out yet",
        }  # fmt: skip
        for path, words in said.items():
            answer = client.get(path)
            assert answer.status_code == 200, path
            assert words in answer.text, path
        assert client.get("/find").status_code == 200
    finally:
        archive.close()
