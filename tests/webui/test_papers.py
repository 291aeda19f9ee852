"""Forms, scans, contact rules and asking again on the pages: what is posted, what comes back, what is closed to whom."""

from __future__ import annotations

import io
import zipfile
from functools import cache

import pypdf
from fpdf import FPDF

from archive.app import Archive
from tests.webui.conftest import Enter, post, token_of
from tests.webui.town import EDITOR, KEEPER, READER


@cache
def scan() -> bytes:
    pdf = FPDF()
    pdf.add_page()
    return bytes(pdf.output())


def test_a_form_is_printed_signed_attached_and_read_again(enter: Enter, archive: Archive) -> None:
    client = enter(KEEPER.name)
    page = client.get("/people/N-01").text
    given = client.post("/people/N-01/form", data={"csrf_token": token_of(page), "size": "letter", "print": "large"})
    name = given.headers["Content-Disposition"]
    code = name.split("form-")[1][:8]
    assert given.status_code == 200 and "N-01" not in name and code in pypdf.PdfReader(io.BytesIO(given.data)).pages[0].extract_text()
    status, text = post(client, "/people", "/papers/find", code=f" {code.lower()}")
    assert status == 200 and f"Form {code}" in text and "N-01" in text and "Nothing yet." in text
    address = "/papers/attach"
    token = token_of(text)
    back = client.post(address, data={"csrf_token": token, "to": code, "file": (io.BytesIO(scan()), "Maud.pdf")}, follow_redirects=True).text
    assert "A scan of 1 page" in back and "Until then it allows nothing." in back and "Maud" not in back
    agreement = archive.people.agreements(KEEPER, "N-01")[0].code
    back = client.post(address, data={"csrf_token": token, "to": agreement, "code": code, "file": (io.BytesIO(scan()), "x.png")}, follow_redirects=True)
    assert f"Agreement {agreement}" in back.text and back.text.count("A scan of 1 page") == 1
    kept = archive.papers.agreement(KEEPER, agreement).papers[0]
    read = client.post("/papers/scan", data={"csrf_token": token, "sum": kept.sha256})
    assert read.data == scan() and "attachment" in read.headers["Content-Disposition"] and read.headers["X-Content-Type-Options"] == "nosniff"
    assert code in client.get("/people/N-01").text and "signed" in client.get("/people/N-01").text
    for sent, words in ((b"PK\x03\x04", "a PDF, a JPEG or a PNG"), (b"", "No scan was chosen")):
        answer = client.post(address, data={"csrf_token": token, "to": agreement, "file": (io.BytesIO(sent), "a.docx" if sent else "")})
        assert answer.status_code == 400 and words in answer.text
    answer = client.post(address, data={"csrf_token": token, "to": "Maud Ellery", "file": (io.BytesIO(scan()), "a.pdf")})
    assert answer.status_code == 404 and "Ellery" not in answer.text


def test_how_somebody_is_reached_is_kept_and_obeyed(enter: Enter) -> None:
    client = enter(KEEPER.name)
    assert "is not on record" in client.get("/people/N-01").text, "the most careful answer until somebody says"
    _, text = post(client, "/people/N-01", "/people/N-01/contact", called="Maud Ellery", address="4 Gull Steps\r\nTarnwick", language="pl", how="", large="yes")
    assert "Print an envelope" in text and "Gull Steps" in text and "large, as they read" in text and "(empty: Polish)" in text
    _, text = post(client, "/people/N-01", "/people/N-01/contact", called="", address="4 Gull Steps", language="en", how="", rule="not_at_home")
    assert "Print an envelope" not in text and "Somebody at home is not to know" in text
    status, text = post(client, "/people/N-01", "/people/N-01/envelope")
    assert status == 403 and "hand it over in person" in text


def test_who_is_asked_again_and_the_letters(enter: Enter) -> None:
    client = enter(EDITOR.name)
    text = client.get("/people/again?use=press&through=2027-12-31").text
    assert "31 December 2027" in text and "never asked about press" in text
    given = client.post("/people/again", data={"csrf_token": token_of(text), "use": "press", "through": "2027-12-31", "size": "a4"})
    with zipfile.ZipFile(io.BytesIO(given.data)) as packed:
        names = packed.namelist()
    assert names[-1] == "list.txt" and all(name.startswith(("form-FM-", "letter-LT-")) for name in names[:-1]) and len(names) >= 3
    for address in ("/people/again?use=press&through=soon", "/people/again?use=Ellery"):
        answer = client.get(address)
        assert answer.status_code == 400 and "Ellery" not in answer.text


def test_what_is_the_keeper_s_is_closed_to_others(enter: Enter) -> None:
    editor, reader = enter(EDITOR.name), enter(READER.name)
    page = editor.get("/people/N-01").text
    assert "Print a form" in page and "Change …" not in page
    token = token_of(page)
    for address in ("/people/N-01/contact", "/papers/attach", "/agreements/A-N-01/spoken"):
        assert editor.post(address, data={"csrf_token": token}).status_code == 403, address
    token = token_of(reader.get("/find").text)
    for address in ("/people/N-01/form", "/people/N-01/envelope", "/papers/find", "/papers/scan", "/people/again"):
        assert reader.post(address, data={"csrf_token": token}).status_code == 403, address
    assert reader.get("/people/again").status_code == reader.get("/agreements/A-N-01").status_code == 403
