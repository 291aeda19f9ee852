"""Listening back: finished clips are heard once more by our own computer before they are given.

In a child process that may die, for all clips of an export at once, so that the model is loaded once:
`python -m archive.services.listening` reads JSON, prints JSON. The web's process never loads a model. What is heard here is
compared and forgotten; nothing of it is kept, and no finding repeats a word.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from archive.audio import decode
from archive.domain.cleared import ClearedClip, ClearedExport
from archive.domain.phrases import clock
from archive.domain.values import Word
from archive.errors import ModelMissing, ScanRefused
from archive.gate.scan_match import Matcher
from archive.rules import listened
from archive.services.measuring import Alive, answer_of
from archive.services.rooms import Rooms
from archive.speech import models
from archive.speech.engine import RATE_HZ
from archive.speech.languages import heard_as

DID_NOT = "Our own computer did not listen again: no speech model is installed."
NOT_THIS = "Our own computer did not listen again: the speech model cannot be used for it ({why})"
HEARD_NOTHING = "Our own computer listened again and heard nothing else. That is no proof: a person has to hear it."
REFUSED = "Our own computer listened to the finished clips and heard something that must not leave."
REMEDY = (
    "Nothing was given. Listen there yourself. Hide what is heard, choose other words for the excerpt, or correct the "
    "transcript where the machine mis-heard it; then export again."
)
OTHER_LANGUAGE = "It did not listen to {clips}: it does not know the language there, or there are several. A person has to."
UNFINISHED = "Our own computer could not finish listening to the finished clips, so nothing was given."
TRY_AGAIN = "Export again, fewer excerpts at a time if it happens once more."
START_S = 120.0  # a slow machine still has to load the model
SECONDS_A_SECOND = 8.0  # far more than any clip needs: 0.2 measured
_ROOT = Path(__file__).resolve().parents[2]
Task = tuple[Path, str]  # a finished clip, and the language spoken in it
Hear = Callable[[Sequence[Task]], list[list[Word]]]


@dataclass(frozen=True, slots=True)
class Listening:
    """Listening back for one archive. `hear`: words of each clip; the real one unless a test is in a hurry."""

    rooms: Rooms
    hear: Hear | None = None

    def back(self, export: ClearedExport, clips: Sequence[tuple[ClearedClip, Path]], matcher: Matcher, alive: Alive = lambda: None) -> str:
        """What to say of it, in a sentence; "" where no sound leaves. Raises ScanRefused with file and time, never the words.

        `alive` is called every second; what it raises ends the listening.
        """
        clips, others = [c for c in clips if heard_as(c[0].language)], [path.name for clip, path in clips if not heard_as(clip.language)]
        unheard = OTHER_LANGUAGE.format(clips=", ".join(others)) if others else ""
        if not clips:
            return unheard
        tasks = [(path, heard_as(clip.language) or "") for clip, path in clips]
        try:
            heard = self.hear(tasks) if self.hear else self._heard(tasks, alive)
        except ModelMissing as missing:
            return DID_NOT if missing.message.endswith("is not here.") else NOT_THIS.format(why=missing.message)
        names = [name.text for name in export.forbidden]
        codes = {inside.item: inside.excerpt_code for inside in export.insides}
        found: list[str] = []
        whose: list[str] = []
        for (clip, path), words in zip(clips, heard, strict=True):
            for one in listened.overheard(_wanted(clip), words, names, matcher.places):
                code = codes.get(clip.item, "")
                found.append(f"{path.name}{f' ({code})' if code else ''}, at {clock(one.at_ms)}: {one.what}.")
                whose += [code] if code else []
        if found:
            raise ScanRefused(REFUSED, tuple(found), REMEDY, tuple(dict.fromkeys(whose)))
        return f"{HEARD_NOTHING} {unheard}".strip()

    def _heard(self, tasks: Sequence[Task], alive: Alive = lambda: None) -> list[list[Word]]:
        options = self.rooms.options
        model = models.find(options.model, self.rooms.models_dir)
        asked = {
            "clips": [[str(path), language] for path, language in tasks], "model": model.name, "models_dir": str(self.rooms.models_dir),
            "cpu_threads": options.cpu_threads, "compute_type": options.compute_type,
        }  # fmt: skip
        seconds = START_S + SECONDS_A_SECOND * sum(path.stat().st_size for path, _ in tasks) / 96_000  # 48 kHz, 16 bit
        return _in_child(asked, seconds, alive)


def _wanted(clip: ClearedClip) -> listened.Clip:
    pieces = [(p.start_ms, p.end_ms) for p in clip.pieces]
    mutes = listened.on_clip_clock(pieces, [(m.start_ms, m.end_ms) for m in clip.mutes])
    return listened.Clip(clip.caption.words, tuple(mutes), clip.disguised, bool(clip.read_by))


def _in_child(asked: dict[str, Any], seconds: float, alive: Alive) -> list[list[Word]]:
    """The words of each clip. Raises ModelMissing, and ScanRefused where the child died or took too long: unheard is refused."""
    environ = os.environ | {
        "PYTHONPATH": os.pathsep.join([str(_ROOT), os.environ.get("PYTHONPATH", "")]).rstrip(os.pathsep),
        "PYTHONUTF8": "1", "HF_HUB_OFFLINE": "1",
    }  # fmt: skip
    child = subprocess.Popen(
        [sys.executable, "-m", "archive.services.listening"], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL, env=environ,
    )  # fmt: skip
    try:
        said = json.loads(answer_of(child, json.dumps(asked).encode("utf-8"), seconds, alive).decode("utf-8"))
    except (subprocess.TimeoutExpired, ValueError):
        raise ScanRefused(UNFINISHED, (), TRY_AGAIN) from None
    finally:
        if child.poll() is None:
            child.kill()
            child.communicate()
    if "missing" in said:
        raise ModelMissing(said["missing"])
    return [[Word(str(t), int(s), int(e), float(p)) for t, s, e, p in words] for words in said["heard"]]


def _work(asked: dict[str, Any]) -> dict[str, Any]:
    """The child's part: every clip heard by one engine, unprimed, so that no name is put into its mouth."""
    from archive.errors import BadInput
    from archive.speech.whisper import WhisperEngine  # loading it costs a second, and only the child needs it

    try:
        model = models.find(asked["model"], Path(asked["models_dir"]))
        engine = WhisperEngine(model, asked["cpu_threads"] or None, compute_type=asked["compute_type"])
        heard = []
        for path, language in asked["clips"]:
            words = engine.transcribe(_sound(Path(path)), language)
            heard.append([[w.text, w.start_ms, w.end_ms, w.probability] for w in words])
    except (ModelMissing, BadInput) as error:
        return {"missing": error.message}
    return {"heard": heard}


def _sound(path: Path) -> Any:
    length_ms = max(1, (path.stat().st_size - 44) * 1000 // 96_000)
    return decode.pcm(path, 0, min(length_ms, decode.LONGEST_MS), None, RATE_HZ)


def main() -> None:
    """The child: one task from standard input, one answer to standard output."""
    asked = json.loads(sys.stdin.buffer.read().decode("utf-8"))
    answer = json.dumps(_work(asked))
    sys.stdout.buffer.write(answer.encode("utf-8"))
    sys.stdout.buffer.flush()


if __name__ == "__main__":
    main()
