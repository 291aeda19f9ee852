"""Thirty minutes of play beside the words of a three-hour interview, in Chromium; and six listeners and twelve stalled clients beside an editor."""

from __future__ import annotations

import http.client
import json
import re
import secrets
import socket
import statistics
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing, contextmanager
from pathlib import Path
from urllib.parse import urlencode

from playwright.sync_api import Browser, Page, sync_playwright

from archive.app import Archive
from tests import cast
from tests.bench.desk import PASSWORD, TYPIST, enter
from tests.bench.masks import UTTERANCES, WORDS, long_interview
from tests.needs import chromium

CODE = "IV-99.1"
PLAYED_MIN, TIMES = 30, 10  # so many minutes of the recording, so many times as fast as spoken
LISTENERS, STALLED, BESIDE_S = 6, 12, 60
SOUND_BYTES_A_S = 48_000  # what a page plays: mono, 24 kHz, 16 bit
PIECE_MS = 60_000
KEPT_EVERY_S = 1.0  # what is typed is sent so often (js/correct.js: 0.7 s after the last key, 1.5 s at most)


@contextmanager
def served(home: Path) -> Iterator[tuple[Archive, int]]:
    """The archive with the long interview, served by `serve` in a process of its own, as people run it."""
    archive = long_interview(home)
    archive.accounts.add(cast.KEEPER, TYPIST, cast.EDITOR.role, PASSWORD)
    with closing(socket.socket()) as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [sys.executable, "-m", "archive.cli.main", "--archive", str(archive.folder), "serve", "--port", str(port), "--no-browser"]
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as server:
        try:
            while not _open(port):
                time.sleep(0.2)
            yield archive, port
        finally:
            server.terminate()
            archive.close()


def _open(port: int) -> bool:
    with closing(socket.socket()) as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0


# --- a page that plays ----------------------------------------------------------------------------------------------
def playing(home: Path, say: Callable[[str], None]) -> None:
    """Budgets: recording page at the server ≤ 150 ms, first words ≤ 1 s, memory ≤ 300 MB after thirty minutes of play, on the recording's
    page and at the desk. Played ten times as fast as spoken: as many words and pieces of sound go by, in a tenth of the frames."""
    with served(home) as (_, port), sync_playwright() as play:
        visitor = Visitor(port)
        for path in (f"/recordings/{CODE}", f"/recordings/{CODE}?from=5400000", f"/recordings/{CODE}/correct"):
            took = sorted(visitor.timed(path)[0] for _ in range(15))
            say(f"{path}: {statistics.median(took):.0f} ms at the server, {took[0]:.0f} at best (budget 150 for the recording's page)")
        for what, path in (("recording", f"/recordings/{CODE}"), ("desk", f"/recordings/{CODE}/correct")):
            browser = play.chromium.launch(executable_path=chromium(), args=["--no-sandbox", "--autoplay-policy=no-user-gesture-required"])
            _played(browser, f"http://127.0.0.1:{port}", path, what, say)
            browser.close()


def _played(browser: Browser, base: str, path: str, what: str, say: Callable[[str], None]) -> None:
    page = browser.new_page(viewport={"width": 1280, "height": 800})
    page.add_init_script("window.Audio = class extends Audio { constructor(...all) { super(...all); window.played = this; } };")
    enter(page, base)
    begun = time.perf_counter()
    page.goto(f"{base}{path}", wait_until="commit")
    page.wait_for_selector(".said >> nth=3")
    say(f"{what}: first words on screen after {time.perf_counter() - begun:.2f} s (budget 1)")
    page.wait_for_load_state("load")
    page.wait_for_timeout(3000)
    _weigh(browser, page, f"{what}, before it plays", say)
    page.evaluate(f"played.defaultPlaybackRate = played.playbackRate = {TIMES}")
    page.click("#toggle")
    begun = time.perf_counter()
    while not (page.text_content("#now") or "").startswith(f"{PLAYED_MIN}:"):
        page.wait_for_timeout(1000)
    in_view = page.evaluate("[document.querySelectorAll('.utterance, .turn').length, document.querySelectorAll('[data-s]').length]")
    _weigh(browser, page, f"{what}, after {PLAYED_MIN} minutes in {time.perf_counter() - begun:.0f} s", say)
    say(f"{what}: {in_view[0]} of {UTTERANCES} utterances and {in_view[1]} marked words of {UTTERANCES * WORDS} are in the page")
    took = _scrolled(page)
    say(f"{what}: scrolling by 1500 pixels takes {took:.0f} ms to the next frame at the 90th percentile")


def _weigh(browser: Browser, page: Page, when: str, say: Callable[[str], None]) -> None:
    """Script memory after a collection, nodes, and what the page's process holds: for itself alone, which is what the browser's own task
    manager tells, and resident with the program's pages that all its processes share."""
    tools = page.context.new_cdp_session(page)
    tools.send("HeapProfiler.collectGarbage")
    tools.send("Performance.enable")
    told = {m["name"]: m["value"] for m in tools.send("Performance.getMetrics")["metrics"]}
    running = browser.new_browser_cdp_session().send("SystemInfo.getProcessInfo")["processInfo"]
    pages = [int(p["id"]) for p in running if p["type"] == "renderer"]
    own, resident = max(_memory_mb(pid) for pid in pages)
    say(f"{when}: {own:.0f} MB of memory (budget 300; {resident:.0f} with what is shared), {told['JSHeapUsedSize'] / 1e6:.0f} MB of it script, {told['Nodes']:.0f} nodes")


def _memory_mb(pid: int) -> tuple[float, float]:
    """(private, swapped or not; resident in all)."""
    try:
        status = Path(f"/proc/{pid}/status").read_text(encoding="ascii")
    except FileNotFoundError:
        return 0.0, 0.0
    kb = {name: int(size) for name, size in re.findall(r"^(RssAnon|VmSwap|VmRSS):\s+(\d+) kB", status, re.MULTILINE)}
    return (kb.get("RssAnon", 0) + kb.get("VmSwap", 0)) / 1024, kb.get("VmRSS", 0) / 1024


def _scrolled(page: Page) -> float:
    took: list[float] = page.evaluate(
        "(async () => { const took = []; for (let n = 0; n < 60; n += 1) { const from = performance.now(); scrollBy(0, 1500);"
        " await new Promise((done) => requestAnimationFrame(() => setTimeout(done))); took.push(performance.now() - from);"
        " await new Promise((done) => setTimeout(done, 100)); } return took; })()"
    )
    return sorted(took)[int(len(took) * 0.9)]


# --- many at once -----------------------------------------------------------------------------------------------------
class Visitor:
    """Somebody who is signed in, over plain sockets."""

    def __init__(self, port: int) -> None:
        self.port = port
        self.cookie = ""
        _, page = self.timed("/sign-in")
        form = {"name": TYPIST, "password": PASSWORD, "csrf_token": self._token(page)}
        self.timed("/sign-in", urlencode(form), "application/x-www-form-urlencoded")

    def _token(self, page: bytes) -> str:
        found = re.search(rb'name="csrf_token"[^>]*value="([^"]+)"', page)
        assert found is not None
        return found[1].decode("ascii")

    def timed(self, path: str, body: str | None = None, kind: str = "", **headers: str) -> tuple[float, bytes]:
        """Milliseconds until the whole answer is here, and its body."""
        begun = time.perf_counter()
        with closing(http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)) as connection:
            sent = {"Cookie": self.cookie, **({"Content-Type": kind} if kind else {}), **headers}
            connection.request("POST" if body is not None else "GET", path, body, sent)
            answer = connection.getresponse()
            data = answer.read()
            assert answer.status < 400, f"{path}: {answer.status}"
        for name, value in answer.getheaders():
            if name.lower() == "set-cookie":
                self.cookie = value.partition(";")[0]
        return (time.perf_counter() - begun) * 1000, data

    def sound(self, n: int) -> socket.socket:
        """A request for a minute of sound, as a browser sends it; nothing of the answer is read yet."""
        made = socket.create_connection(("127.0.0.1", self.port), timeout=60)
        path = f"/recordings/{CODE}/sound/{n * PIECE_MS}-{(n + 1) * PIECE_MS}.wav"
        made.sendall(f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1\r\nRange: bytes=0-\r\nCookie: {self.cookie}\r\nConnection: close\r\n\r\n".encode())
        return made


def together(home: Path, say: Callable[[str], None]) -> None:
    """Six people listen in real time, twelve clients ask for sound and read nothing, an editor types; other pages meanwhile. Budget:
    they still answer; typed words are kept within two seconds."""
    with served(home) as (archive, port):
        visitor = Visitor(port)
        alone = _beside(visitor, archive, BESIDE_S // 3)
        over = threading.Event()
        with ExitStack() as stack:
            for n in range(STALLED):
                stack.enter_context(closing(visitor.sound(100 + n)))
            listeners = [threading.Thread(target=_listen, args=(visitor, 10 * n, over)) for n in range(LISTENERS)]
            for listener in listeners:
                listener.start()
            crowded = _beside(visitor, archive, BESIDE_S)
            over.set()
            for listener in listeners:
                listener.join()
    for what in alone:
        one, many = sorted(alone[what]), sorted(crowded[what])
        say(f"{what}: alone {_p95(one):.0f} ms at the 95th percentile; beside {LISTENERS} listeners and {STALLED} stalled clients "
            f"{_p95(many):.0f}, at most {many[-1]:.0f} ({len(many)} asked)")  # fmt: skip


def _p95(took: list[float]) -> float:
    return took[min(len(took) - 1, int(len(took) * 0.95))]


def _listen(visitor: Visitor, n: int, over: threading.Event) -> None:
    """Reads as fast as it is heard: two seconds are read ahead, then one a second."""
    while not over.is_set():
        with closing(visitor.sound(n)) as sound:
            sound.recv(2 * SOUND_BYTES_A_S, socket.MSG_WAITALL)
            while not over.wait(1.0):
                if len(sound.recv(SOUND_BYTES_A_S, socket.MSG_WAITALL)) < SOUND_BYTES_A_S:
                    break
        n += 1


def _beside(visitor: Visitor, archive: Archive, seconds: int) -> dict[str, list[float]]:
    _, desk = visitor.timed(f"/recordings/{CODE}/correct")
    token = re.search(rb'data-token="([^"]+)"', desk)
    assert token is not None
    took: dict[str, list[float]] = {}

    def note(what: str, path: str, *body: str, **headers: str) -> None:
        took.setdefault(what, []).append(visitor.timed(path, *body, **headers)[0])

    until = time.monotonic() + seconds
    n = 0
    while time.monotonic() < until:
        begun = time.monotonic()
        (line,), _ = archive.correcting.lines(cast.EDITOR, CODE, n % UTTERANCES, 1)
        text = " ".join(w[0] for w in line.words) + f" word{n}"
        change = {"act": "type", "keys": [line.key], "text": text, "mark": secrets.token_hex(12)}
        note("a change is kept", f"/recordings/{CODE}/correct/change.json", json.dumps(change), "application/json", **{"X-CSRFToken": token[1].decode("ascii")})
        note("Find", "/find")
        note("the list of recordings", "/recordings")
        if n % 5 == 0:
            note("the recording's page", f"/recordings/{CODE}")
        n += 1
        time.sleep(max(0.0, KEPT_EVERY_S - (time.monotonic() - begun)))
    return took
