"""A client that sends a file as the page does, over a real connection: for tests that kill the server, and for the bench."""

from __future__ import annotations

import hashlib
import http.client
import json
import re
from collections.abc import Callable
from pathlib import Path
from urllib.parse import urlencode, urlsplit

from archive.domain.pieces import count, extent

FORM = {"Content-Type": "application/x-www-form-urlencoded"}


class Sender:
    """Signed in by the link that `serve` prints."""

    def __init__(self, link: str) -> None:
        parts = urlsplit(link)
        assert parts.hostname and parts.port
        self.connection = http.client.HTTPConnection(parts.hostname, parts.port, timeout=60)
        self._cookie = ""
        self._token = self._of(self.get(parts.path))
        self.post("/enter", urlencode({"csrf_token": self._token, "token": parts.path.rsplit("/", 1)[1]}).encode(), FORM)
        self._token = self._of(self.get("/take-in"))

    def moved(self, link: str) -> None:
        """The server was started again, elsewhere; the session lasts."""
        parts = urlsplit(link)
        assert parts.hostname and parts.port
        self.connection = http.client.HTTPConnection(parts.hostname, parts.port, timeout=60)

    @staticmethod
    def _of(page: str) -> str:
        found = re.search(r'name="csrf_token" value="([^"]+)"', page)
        assert found is not None
        return found[1]

    def get(self, path: str) -> str:
        """A page's text."""
        return self._ask("GET", path, b"", {})[1].decode("utf-8")

    def post(self, path: str, body: bytes, headers: dict[str, str]) -> tuple[int, bytes]:
        """(status, body) of an answer."""
        return self._ask("POST", path, body, {"X-CSRFToken": self._token, **headers})

    def _ask(self, method: str, path: str, body: bytes, headers: dict[str, str]) -> tuple[int, bytes]:
        self.connection.request(method, path, body, {"Cookie": self._cookie, **headers})
        answer = self.connection.getresponse()
        if cookie := answer.headers.get("Set-Cookie"):
            self._cookie = cookie.split(";")[0]
        return answer.status, answer.read()

    def begin(self, path: Path) -> tuple[str, dict[int, str]]:
        """(key, pieces that are here)."""
        size = path.stat().st_size
        with open(path, "rb") as stream:
            first = hashlib.sha256(stream.read(extent(size, 0)[1])).hexdigest()
        status, body = self.post("/take-in/uploads/begin.json", urlencode({"name": path.name, "bytes": size, "first": first}).encode(), FORM)
        assert status == 200, body
        said = json.loads(body)
        return said["key"], {int(n): total for n, total in said["here"].items()}

    def send(self, path: Path, stop_after: int | None = None, watch: Callable[[], None] = lambda: None) -> tuple[str, int]:
        """Send what is not there yet, and the sum of the whole; returns (key, pieces sent). `stop_after`: only so many pieces."""
        key, here = self.begin(path)
        size, sent, whole = path.stat().st_size, 0, hashlib.sha256()
        with open(path, "rb") as stream:
            for n in range(count(size)):
                data = stream.read(extent(size, n)[1])
                whole.update(data)
                if n in here:
                    continue
                if sent == stop_after:
                    return key, sent
                headers = {"Content-Type": "application/octet-stream", "X-Piece-Sum": hashlib.sha256(data).hexdigest()}
                status, body = self.post(f"/take-in/uploads/{key}/{n}.json", data, headers)
                assert status == 200, body
                sent += 1
                watch()
        status, body = self.post(f"/take-in/uploads/{key}/whole.json", urlencode({"sum": whole.hexdigest()}).encode(), FORM)
        assert (status, json.loads(body)) == (200, {"missing": []})
        return key, sent
