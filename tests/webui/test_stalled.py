"""Paused players stop reading. PITFALLS: six of them hang a server whose answers outgrow its buffer."""

from __future__ import annotations

import http.client
import socket
from contextlib import ExitStack, closing

import pytest
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.wrappers import Response

from tests.webui.conftest import Enter
from tests.webui.serving import serving
from tests.webui.town import READER
from webui.sound import MOST_BYTES, in_ranges

STALLED = 12
BODY = b"\0" * (40 * 1024 * 1024)


def _stall(stack: ExitStack, port: int, path: str, cookie: str = "") -> None:
    """A client that asks for a sound, reads the first bytes and then nothing more."""
    made = socket.socket()
    made.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
    made.settimeout(10)
    made.connect(("127.0.0.1", port))
    stack.enter_context(closing(made))
    made.sendall(f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1\r\nRange: bytes=0-\r\nCookie: {cookie}\r\n\r\n".encode())
    assert made.recv(12) == b"HTTP/1.1 206"


def _answers(port: int, path: str, cookie: str = "", timeout: float = 5.0) -> bool:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=timeout)
    try:
        connection.request("GET", path, headers={"Cookie": cookie})
        return connection.getresponse().status == 200
    except TimeoutError:
        return False
    finally:
        connection.close()


def _app(clamped: bool) -> Flask:
    app = Flask(__name__)

    @app.get("/sound")
    def sound() -> Response:
        if clamped:
            return in_ranges(BODY)
        pieces = (BODY[at : at + 65536] for at in range(0, len(BODY), 65536))  # as a file is sent
        return Response(pieces, status=206, headers={"Content-Range": f"bytes 0-{len(BODY) - 1}/{len(BODY)}"})

    @app.get("/page")
    def page() -> str:
        return "words"

    return app


@pytest.mark.parametrize("clamped", [True, False])
def test_other_pages_answer_while_twelve_players_are_paused(clamped: bool) -> None:
    """And the same with answers that are not clamped, to know that this test can fail."""
    with serving(_app(clamped)) as port, ExitStack() as stack:
        for _ in range(STALLED if clamped else 8):  # eight threads: eight such answers hold them all
            _stall(stack, port, "/sound")
        assert _answers(port, "/page", timeout=5.0 if clamped else 1.5) is clamped


def test_a_clamped_part_says_how_long_it_is() -> None:
    with serving(_app(True)) as port:
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
        with closing(connection):
            connection.request("GET", "/sound", headers={"Range": "bytes=1000-"})
            answer = connection.getresponse()
            assert answer.status == 206
            assert answer.headers["Content-Length"] == str(MOST_BYTES)
            assert answer.headers["Content-Range"] == f"bytes 1000-{1000 + MOST_BYTES - 1}/{len(BODY)}"
            assert len(answer.read()) == MOST_BYTES


def _cookie(client: FlaskClient) -> str:
    found = client.get_cookie("told_here")
    assert found is not None
    return f"told_here={found.value}"


def test_the_archive_itself_with_twelve_paused_players(app: Flask, enter: Enter) -> None:
    app.config["SESSION_PROTECTION"] = None  # the paused players are not the browser that signed in
    cookie = _cookie(enter(READER.name))
    with serving(app) as port, ExitStack() as stack:
        for _ in range(STALLED):
            _stall(stack, port, "/recordings/TW-01.1/sound/0-30000.wav", cookie)
        for path in ("/recordings", "/recordings/TW-01.1", "/find", "/recordings/TW-01.1/sound/0-1000.wav"):
            assert _answers(port, path, cookie), path
