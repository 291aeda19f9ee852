"""The page Take in on a real server: pieces over HTTP, a server that is killed, who may see folders of the machine."""

from __future__ import annotations

import hashlib
import os
import re
import signal
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from flask import Flask

from archive.app import Archive
from archive.domain.pieces import PIECE_BYTES
from tests.audio import sounds
from tests.lease import worked
from tests.webui import town
from tests.webui.conftest import Enter, post, token_of
from tests.webui.sending import Sender

ROOT = Path(__file__).resolve().parents[2]


def sha(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def large(path: Path, pieces: float) -> Path:
    """A WAV of that many pieces."""
    return sounds.write(path, sounds.noise(pieces * PIECE_BYTES / 2 / 48_000, -40), 48_000)


def test_readers_see_nothing_of_it(app: Flask, enter: Enter) -> None:
    client = enter("R-01")
    token = token_of(client.get("/recordings").text)
    assert client.get("/take-in").status_code == 403 and client.get("/take-in/uploads.json").status_code == 403
    assert "Take recordings in" not in client.get("/recordings").text
    answer = client.post("/take-in/uploads/begin.json", data={"csrf_token": token, "name": "a.wav", "bytes": "5", "first": "0" * 64})
    assert answer.status_code == 403


def test_a_piece_needs_its_token_and_has_its_limit(app: Flask, enter: Enter) -> None:
    client = enter("E-01")
    token = token_of(client.get("/take-in").text)
    data = os.urandom(1000)
    begun = client.post("/take-in/uploads/begin.json", data={"name": "a.wav", "bytes": "1000", "first": sha(data)}, headers={"X-CSRFToken": token}).get_json()
    to = f"/take-in/uploads/{begun['key']}/0.json"
    headers = {"X-Piece-Sum": sha(data), "Content-Type": "application/octet-stream"}
    assert client.post(to, data=data, headers=headers).status_code == 400, "without the token"
    headers["X-CSRFToken"] = token
    assert client.post(to, data=data, headers={**headers, "Sec-Fetch-Site": "cross-site"}).status_code == 403
    assert client.post(to, data=bytes(PIECE_BYTES + 1), headers=headers).status_code == 413
    wrong = client.post(to, data=data[:-1] + b"x", headers=headers)
    assert wrong.status_code == 400 and wrong.text.startswith("This piece did not arrive")
    assert client.post(to, data=data, headers=headers).get_json() == {"here": True}
    for path in ("/take-in/uploads/none/0.json", f"/take-in/uploads/{begun['key']}/7.json", "/take-in/uploads/../0.json"):
        assert client.post(path, data=data, headers=headers).status_code in (400, 404, 405), path


def test_folders_are_for_the_keeper_at_the_machine(app: Flask, archive: Archive, enter: Enter, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A keeper with a password may come through a tunnel, which also ends at 127.0.0.1: only the printed link says who sits here."""
    monkeypatch.setenv("HOME", str(tmp_path))
    (tmp_path / "card" / "below").mkdir(parents=True)
    sounds.write(tmp_path / "card" / "a.wav", sounds.voicelike(1, 16_000), 16_000)
    tunnel = enter("K-01")
    page = tunnel.get("/take-in").text
    assert "A card or folder of this machine" not in page
    assert post(tunnel, "/take-in", "/take-in/folder/look", path=str(tmp_path))[0] == 403
    assert post(tunnel, "/take-in", "/take-in/folder", path=str(tmp_path))[0] == 403
    here = app.test_client()
    link = archive.accounts.once_link()
    here.post("/enter", data={"csrf_token": token_of(here.get(f"/enter/{link}").text), "token": link})
    assert str(tmp_path) in here.get("/take-in").text
    status, text = post(here, "/take-in", "/take-in/folder/look", path=str(tmp_path / "card"))
    assert status == 200 and "1 file here may be a recording" in text and "below" in text
    assert post(here, "/take-in", "/take-in/folder/look", path="/etc")[0] == 400
    away = app.test_client()
    away.environ_base["REMOTE_ADDR"] = "192.168.1.9"
    link = archive.accounts.once_link()
    away.post("/enter", data={"csrf_token": token_of(away.get(f"/enter/{link}").text), "token": link})
    assert "Send files" in away.get("/take-in").text and str(tmp_path) not in away.get("/take-in").text
    assert post(away, "/take-in", "/take-in/folder/look", path=str(tmp_path))[0] == 403
    status, text = post(here, "/take-in", "/take-in/folder", path=str(tmp_path / "card"))
    assert status == 200 and "waits to be taken in" in text
    assert "1 file taken" in worked(archive)


def test_what_came_in_is_transcribed_from_the_page_where_that_is_allowed(archive: Archive, enter: Enter, tmp_path: Path) -> None:
    sounds.write(tmp_path / "more.wav", sounds.voicelike(1, 16_000), 16_000)
    sounds.write(tmp_path / "whose.wav", sounds.voicelike(2, 16_000), 16_000)
    archive.ingest.take(town.EDITOR, [tmp_path / "more.wav"], interview="TW-01")
    archive.ingest.take(town.EDITOR, [tmp_path / "whose.wav"])
    client = enter("E-01")
    assert "Transcribe it" in client.get("/recordings/TW-01.2").text and "Transcribe all 1" not in client.get("/recordings").text
    reader = enter("R-01").get("/recordings").text
    assert "Not transcribed yet" in reader and "Transcribe" not in reader
    status, text = post(client, "/recordings", "/recordings/transcribe")
    assert status == 200 and "1 recording waits to be transcribed" in text and "is not transcribed: " in text
    assert [j.subject for j in archive.jobs.list(town.EDITOR) if j.kind == "transcribe" and j.state == "waiting"] == ["TW-01.2"]
    assert "Waiting to be transcribed" in client.get("/recordings/TW-01.2").text


def test_a_film_with_two_tracks_is_asked_about_on_the_page(app: Flask, archive: Archive, enter: Enter, tmp_path: Path) -> None:
    low, high = sounds.write(tmp_path / "l.wav", sounds.sine(300, 2, -12)), sounds.write(tmp_path / "h.wav", sounds.sine(900, 2, -12))
    film = tmp_path / "film.m4a"
    sounds.ffmpeg("-i", low, "-i", high, "-map", "0", "-map", "1", film)
    data = film.read_bytes()
    key, _ = archive.uploads.begin(town.EDITOR, film.name, len(data), sha(data))
    archive.uploads.put(town.EDITOR, key, 0, sha(data), data)
    archive.uploads.finish(town.EDITOR, key, sha(data))
    assert "2 sound tracks" in worked(archive)
    client = enter("E-01")
    page = client.get("/take-in").text
    assert "Sound track with the interview" in page and "Which sound track?" in page and page.count("1 channel") == 2
    for path in ("/take-in", "/upkeep", "/upkeep/came-in", "/enter/no-such-link"):
        text = client.get(path).text
        assert "`" not in text, f"{path}: words for the command line, as the command line has them"
    assert "“toldhere ingest FILE --track 1”" in client.get("/upkeep/came-in").text
    status, text = post(client, "/take-in", f"/take-in/uploads/{key}/again", track="2")
    assert status == 200 and "It waits to be taken in." in text
    assert "Taken as" in worked(archive)
    assert "Taken in" in client.get("/take-in").text
    assert "Removed from the list" in post(client, "/take-in", f"/take-in/uploads/{key}/remove")[1]


def test_days_are_said_on_upkeep(app: Flask, archive: Archive, enter: Enter, tmp_path: Path) -> None:
    sounds.write(tmp_path / "x.wav", sounds.voicelike(1, 16_000), 16_000)
    (found,) = archive.ingest.take(town.EDITOR, [tmp_path / "x.wav"])
    client = enter("E-01")
    assert found.recording in client.get("/upkeep/when").text
    status, text = post(client, "/upkeep/when", f"/upkeep/when/{found.recording}", on="2024-05-12")
    assert status == 200 and f"{found.recording} was recorded on 12 May 2024." in text
    assert post(client, "/take-in", f"/upkeep/when/{found.recording}", on="tomorrow")[0] == 400


def _serve(folder: Path) -> tuple[subprocess.Popen[str], str]:
    command = [sys.executable, "-m", "archive.cli.main", "--archive", str(folder), "serve", "--no-browser", "--port", "0"]
    process = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, encoding="utf-8", start_new_session=True)
    assert process.stdout is not None
    link = re.search(r"http://\S+/enter/\S+", process.stdout.readline() + process.stdout.readline())
    assert link is not None
    return process, link[0]


@pytest.mark.skipif(os.name == "nt", reason="signals as here are not sent on Windows")
def test_a_server_killed_in_the_middle_loses_no_piece(made: Path, tmp_path: Path) -> None:
    """kill −9 of `toldhere serve` and its worker after two pieces; the next server asks for the rest alone."""
    town.copy_of(made, tmp_path / "archive").close()
    path = large(tmp_path / "REC1.wav", 3.5)
    process, link = _serve(tmp_path / "archive")
    try:
        sender = Sender(link)
        key, sent = sender.send(path, stop_after=2)
        assert sent == 2
    finally:
        sender.connection.close()
        os.killpg(process.pid, signal.SIGKILL)
        process.communicate()
    assert not list((tmp_path / "archive" / "masters").glob(f"??/{sha(path.read_bytes())}*"))
    process, link = _serve(tmp_path / "archive")
    try:
        sender.moved(link)
        again, here = sender.begin(path)
        assert again == key and sorted(here) == [0, 1]
        assert sender.send(path) == (key, 2)
    finally:
        sender.connection.close()
        os.killpg(process.pid, signal.SIGKILL)
        process.communicate()
    assert (tmp_path / "archive" / "uploads" / f"{key}.part").read_bytes() == path.read_bytes()


def test_the_sound_of_a_piece_is_in_no_temporary_file() -> None:
    """webui/serve.py: waitress would put a body over 512 KiB into the system's folder for temporary files."""
    from webui import serve

    assert serve.TAKEN_BYTES > PIECE_BYTES and np.isfinite(serve.TAKEN_BYTES)
