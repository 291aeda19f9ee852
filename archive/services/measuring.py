"""Measuring in a child process that may die: `python -m archive.services.measuring` reads JSON, prints JSON."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path
from typing import Any

from archive.audio.measure import Measured, measure
from archive.audio.probe import Caps
from archive.errors import BadMedia
from archive.speech.vad import VoiceActivity

DEFAULT_SECONDS = 3600.0
ALIVE_S = 1.0
Alive = Callable[[], None]
DEFAULT_MEMORY_BYTES = 4 << 30  # address space, not memory: onnxruntime maps far more than it uses
_ROOT = Path(__file__).resolve().parents[2]
_KILLED = "Measuring this file used more time or memory than it may; the file is probably damaged or made to harm."
_REMEDY = "Copy it again from the card. If it plays elsewhere, convert it to WAV or FLAC and take that."


def measure_in_child(
    path: Path,
    caps: Caps | None = None,
    seconds: float = DEFAULT_SECONDS,
    memory_bytes: int = DEFAULT_MEMORY_BYTES,
    track: int | None = None,
    alive: Alive | None = None,
) -> Measured:
    """Measure one file in a child with limits of time and memory. Raises BadMedia, also when the child dies.

    `track`: of a file with several sound tracks, from 0. `alive` is called every second; what it raises ends the child.
    """
    task = {"path": str(path.resolve()), "caps": asdict(caps or Caps()), "seconds": seconds, "memory": memory_bytes, "track": track}
    environ = os.environ | {
        "PYTHONPATH": os.pathsep.join([str(_ROOT), os.environ.get("PYTHONPATH", "")]).rstrip(os.pathsep)
    }
    environ |= {"PYTHONUTF8": "1", "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    child = subprocess.Popen(
        [sys.executable, "-m", "archive.services.measuring"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env=environ,
    )
    try:
        out = answer_of(child, json.dumps(task).encode("utf-8"), seconds, alive or (lambda: None))
    except subprocess.TimeoutExpired:
        raise BadMedia("damaged", _KILLED, _REMEDY) from None
    finally:
        if child.poll() is None:
            child.kill()
            child.communicate()
    return _answer(out)


def answer_of(child: subprocess.Popen[bytes], task: bytes, seconds: float, alive: Alive) -> bytes:
    """What a child answers to one task. `alive` is called every second; raises TimeoutExpired, and what that raises."""
    until = time.monotonic() + seconds
    given: bytes | None = task  # handed over once: asked again, the same call only waits
    while True:
        try:
            return child.communicate(given, timeout=min(ALIVE_S, max(0.0, until - time.monotonic())))[0]
        except subprocess.TimeoutExpired:
            if time.monotonic() >= until:
                raise
            given = None
        alive()


def _answer(out: bytes) -> Measured:
    try:
        said = json.loads(out.decode("utf-8"))
    except (ValueError, UnicodeDecodeError):
        raise BadMedia("damaged", _KILLED, _REMEDY) from None
    if "measured" in said:
        return Measured.from_json(said["measured"])
    raise BadMedia(str(said["code"]), str(said["message"]), str(said["remedy"]))


def _limit(seconds: float, memory_bytes: int) -> None:
    if sys.platform == "win32":
        return
    import resource

    for kind, amount in ((resource.RLIMIT_AS, memory_bytes), (resource.RLIMIT_CPU, int(seconds) + 1)):
        _, hard = resource.getrlimit(kind)
        wanted = amount if hard == resource.RLIM_INFINITY else min(amount, hard)
        resource.setrlimit(kind, (wanted, hard))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def _work(task: dict[str, Any]) -> dict[str, Any]:
    try:
        found = measure(Path(task["path"]), Caps(**task["caps"]), VoiceActivity, task["track"])
    except BadMedia as bad:
        return {"code": bad.code, "message": bad.message, "remedy": bad.remedy}
    except MemoryError:
        return {"code": "damaged", "message": _KILLED, "remedy": _REMEDY}
    return {"measured": found.to_json()}


def main() -> None:
    """The child: one task from standard input, one answer to standard output."""
    task = json.loads(sys.stdin.buffer.read().decode("utf-8"))
    _limit(float(task["seconds"]), int(task["memory"]))
    sys.stdout.buffer.write(json.dumps(_work(task)).encode("utf-8"))
    sys.stdout.buffer.flush()


if __name__ == "__main__":
    main()
