"""A client that sends a file as the page does, over a real connection: for tests that kill the server, and for the bench."""

from __future__ import annotations

import hashlib
import http.client
import json
import re
import time
from collections.abc import Callable
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from pathlib import Path
from typing import BinaryIO
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

    def _ask(self, method: str, path: str, body: bytes, headers: dict[str, str], over: http.client.HTTPConnection | None = None) -> tuple[int, bytes]:
        connection = over or self.connection
        connection.request(method, path, body, {"Cookie": self._cookie, **headers})
        answer = connection.getresponse()
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

    def send(
        self, path: Path, stop_after: int | None = None, watch: Callable[[], None] = lambda: None, bytes_s: float = 0.0
    ) -> tuple[str, int]:  # fmt: skip
        """Send what is not there yet, and the sum of the whole; returns (key, pieces sent). `stop_after`: only so many pieces;
        `bytes_s`: how fast the card can be read, 0: at once."""
        key, here = self.begin(path)
        size, sent, whole = path.stat().st_size, 0, hashlib.sha256()

        def read(n: int) -> tuple[bytes, str]:
            data = read_at(stream, extent(size, n)[1], bytes_s)
            whole.update(data)
            return data, hashlib.sha256(data).hexdigest()

        lanes = [http.client.HTTPConnection(self.connection.host, self.connection.port, timeout=60) for _ in range(2)]

        def put(lane: http.client.HTTPConnection, n: int, data: bytes, said: str) -> http.client.HTTPConnection:
            headers = {"X-CSRFToken": self._token, "Content-Type": "application/octet-stream", "X-Piece-Sum": said}
            status, body = self._ask("POST", f"/take-in/uploads/{key}/{n}.json", data, headers, lane)
            assert status == 200, body
            watch()
            return lane

        # as on the page: two are on their way while the next is summed
        with open(path, "rb") as stream, ThreadPoolExecutor(1) as ahead, ThreadPoolExecutor(2) as pool:
            coming, flying = ahead.submit(read, 0), [_there(lane) for lane in lanes]
            for n in range(count(size)):
                data, said = coming.result()
                if n + 1 < count(size):
                    coming = ahead.submit(read, n + 1)
                if n in here:
                    continue
                if sent == stop_after:
                    break
                done, _ = wait(flying, return_when=FIRST_COMPLETED)
                free = done.pop()
                flying.remove(free)
                flying.append(pool.submit(put, free.result(), n, data, said))
                sent += 1
        for flown in flying:
            flown.result().close()
        if sent == stop_after:
            return key, sent
        status, body = self.post(f"/take-in/uploads/{key}/whole.json", urlencode({"sum": whole.hexdigest()}).encode(), FORM)
        assert (status, json.loads(body)) == (200, {"missing": []})
        return key, sent


def read_at(stream: BinaryIO, length: int, bytes_s: float) -> bytes:
    """So many bytes, in the time that a card takes which gives `bytes_s` a second; 0: at once."""
    begun = time.perf_counter()
    data = stream.read(length)
    if bytes_s:
        time.sleep(max(0.0, len(data) / bytes_s - (time.perf_counter() - begun)))
    return data


def _there(lane: http.client.HTTPConnection) -> Future[http.client.HTTPConnection]:
    done: Future[http.client.HTTPConnection] = Future()
    done.set_result(lane)
    return done
