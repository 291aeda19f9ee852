"""`toldhere serve` as people start it: the link it prints, the worker beside it, and how it ends."""

from __future__ import annotations

import http.client
import os
import re
import signal
import socket
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path
from urllib.parse import urlsplit

import psutil
import pytest

from tests.webui import town

ROOT = Path(__file__).resolve().parents[2]


def _start(folder: Path, *options: str) -> subprocess.Popen[str]:
    command = [sys.executable, "-m", "archive.cli.main", "--archive", str(folder), "serve", "--no-browser", *options]
    return subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, encoding="utf-8")


@pytest.fixture
def folder(made: Path, tmp_path: Path) -> Path:
    town.copy_of(made, tmp_path / "archive").close()
    return tmp_path / "archive"


@pytest.mark.skipif(os.name == "nt", reason="signals as here are not sent on Windows")
@pytest.mark.parametrize("ending", [signal.SIGTERM, signal.SIGINT])
def test_it_prints_a_link_works_and_ends_its_worker(folder: Path, ending: signal.Signals) -> None:
    process = _start(folder, "--port", "0")
    with process:
        assert process.stdout is not None
        link = re.search(r"http://\S+/enter/\S+", process.stdout.readline() + process.stdout.readline())
        assert link is not None
        parts = urlsplit(link[0])
        assert parts.hostname == "127.0.0.1"
        with closing(http.client.HTTPConnection("127.0.0.1", parts.port, timeout=10)) as connection:
            connection.request("GET", parts.path)
            answer = connection.getresponse()
            assert answer.status == 200
            assert b"Sign in as keeper" in answer.read()
            assert answer.headers["Server"] is None  # no name and version for a stranger
        workers = psutil.Process(process.pid).children()
        assert any("archive.worker" in w.cmdline() for w in workers)
        process.send_signal(ending)
        try:
            assert process.wait(20) == 0
        finally:
            process.kill()  # or leaving `with` would wait for good
        deadline = time.monotonic() + 10
        while any(w.is_running() and w.status() != psutil.STATUS_ZOMBIE for w in workers):
            assert time.monotonic() < deadline, "the worker outlived the pages"
            time.sleep(0.1)


@pytest.mark.parametrize(("host", "warned"), [("127.0.0.2", True), ("127.0.0.1", False)])
def test_another_address_is_served_with_a_caution(folder: Path, host: str, warned: bool) -> None:
    """README: `host` in archive.toml is this computer's own address; the pages answer under it, and plain http is warned of.

    127.0.0.2 is this machine under a name that is not trusted by itself (all of 127/8 is loopback: RFC 1122 §3.2.1.3).
    """
    with open(folder / "archive.toml", "a", encoding="utf-8") as settings:
        settings.write(f'\nhost = "{host}"\n')
    process = _start(folder, "--port", "0")
    with process:
        assert process.stdout is not None
        said = "".join(process.stdout.readline() for _ in range(3))
        link = re.search(r"http://\S+/enter/\S+", said)
        assert link is not None
        parts = urlsplit(link[0])
        assert parts.hostname == host
        with closing(http.client.HTTPConnection(host, parts.port, timeout=10)) as connection:
            connection.request("GET", "/sign-in")
            assert connection.getresponse().status == 200
        process.send_signal(signal.SIGTERM)
        rest = process.stdout.read()
    assert ("plain http" in said + rest) is warned
    assert (f"reach it as http://{host}:" in said + rest) is warned


def test_a_taken_port_is_told(folder: Path) -> None:
    with closing(socket.socket()) as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        process = _start(folder, "--port", str(other.getsockname()[1]))
        out, err = process.communicate(timeout=60)
    assert process.returncode == 2
    assert "cannot be served on port" in err and "--port" in err
    assert "Traceback" not in err
    assert "/enter/" not in out


def test_no_archive_is_told(tmp_path: Path) -> None:
    process = _start(tmp_path)
    _, err = process.communicate(timeout=60)
    assert process.returncode == 3
    assert "There is no archive in this folder." in err
