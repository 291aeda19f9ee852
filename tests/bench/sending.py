"""`upload`: 1.5 GB through the real server in pieces, beside copying the same file; memory of the server."""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import psutil

from archive.app import Archive
from archive.domain.pieces import PIECE_BYTES
from archive.domain.values import Role, Viewer
from tests.webui.sending import Sender, read_at

BYTES = 1_500_000_000
SMALL_BYTES = 100_000_000
CARD_BYTES_S = 104e6  # the fastest bus of a UHS-I card (SD Association, SDR104; from memory): no recorder's card is read faster through it
ROOT = Path(__file__).resolve().parents[2]


def upload(home: Path, say: Callable[[str], None]) -> None:
    """Once from a file that lies in memory already, where the processor alone is measured: beside `cp`, and beside `cp` with the two sums that
    sending needs (the pieces', the whole's). And once as a card gives it."""
    base = home / "upload"
    base.mkdir()
    source = base / "long.wav"
    block = os.urandom(10_000_000)
    with open(source, "wb") as out:
        for _ in range(BYTES // len(block)):
            out.write(block)
    copied = _copied(source, base / "copy.wav")
    begun = time.perf_counter()
    with open(base / "copy.wav", "rb") as stream:
        hashlib.file_digest(stream, "sha256")
    summed = time.perf_counter() - begun
    took = _sent(base / "at once", source, say)
    say(f"upload: {took:.1f} s; cp and sync {copied:.1f} s, one sum of it {summed:.1f} s")
    say(f"upload: {took / copied:.2f} × copying and syncing alone; {took / (copied + 2 * summed):.2f} × the same and the two sums that are asked for, of each piece and the whole")
    from_card = _copied(source, base / "copy.wav", CARD_BYTES_S)
    took = _sent(base / "from a card", source, say, CARD_BYTES_S)
    say(f"upload: {took:.1f} s from a card that gives {CARD_BYTES_S / 1e6:.0f} MB/s; copying it from there {from_card:.1f} s: {took / from_card:.2f} × (budget 1.3)")


def _sent(folder: Path, source: Path, say: Callable[[str], None], bytes_s: float = 0.0) -> float:
    """Seconds of sending it to a server and an archive of their own; says what it cost."""
    Archive.create(folder, Viewer("K-01", Role.KEEPER), "Bench", "Marigold", True).close()
    command = [sys.executable, "-m", "archive.cli.main", "--archive", str(folder), "serve", "--no-browser", "--port", "0"]
    server = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True, encoding="utf-8")
    try:
        assert server.stdout is not None
        link = re.search(r"http://\S+/enter/\S+", server.stdout.readline() + server.stdout.readline())
        assert link is not None
        sender, process = Sender(link[0]), psutil.Process(server.pid)
        before, at_100_mb, most = process.memory_info().rss, [0], [0]

        def watch() -> None:
            most.append(process.memory_info().rss)
            if len(most) <= SMALL_BYTES // PIECE_BYTES:
                at_100_mb.append(most[-1])

        worked = [t.user + t.system for t in (process.cpu_times(), psutil.Process().cpu_times())]
        begun = time.perf_counter()
        key, sent = sender.send(source, watch=watch, bytes_s=bytes_s)
        took = time.perf_counter() - begun
        spent = [p.cpu_times() for p in (process, psutil.Process())]
        cpu = [s.user + s.system - w for s, w in zip(spent, worked, strict=True)]
        sender.connection.close()
    finally:
        server.terminate()
        server.wait()
    whole = folder / "uploads" / f"{key}.part"
    same = whole.is_file() and whole.stat().st_size == source.stat().st_size
    shutil.rmtree(folder)
    say(f"upload: 1.5 GB in {sent} pieces, whole: {same}; at work {cpu[0]:.1f} s of processor in the server, {cpu[1]:.1f} s in who sends")
    say(f"upload: memory of the server {before / 1e6:.0f} MB before, {max(at_100_mb) / 1e6:.0f} MB at most until 100 MB, {max(most) / 1e6:.0f} MB at most in all")
    return took


def _copied(source: Path, target: Path, bytes_s: float = 0.0) -> float:
    begun = time.perf_counter()
    if bytes_s:
        with open(source, "rb") as card, open(target, "wb") as out:
            while block := read_at(card, PIECE_BYTES, bytes_s):
                out.write(block)
    else:
        shutil.copyfile(source, target)
    with open(target, "rb") as stream:
        os.fsync(stream.fileno())
    return time.perf_counter() - begun
