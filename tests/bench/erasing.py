"""How long an interview of an hour takes to be erased from an archive of a hundred: whole, and the voice of one of two."""

from __future__ import annotations

import shutil
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import soundfile

from archive.app import Archive
from archive.domain.erasing import STEPS
from archive.domain.values import Role, Viewer, Word
from tests import cast
from tests.bench import big

PASSAGES, HOUR_S, RATE_HZ, WORDS = 10_000, 3600, 48_000, 9_000
KEEPER = Viewer("bench", Role.KEEPER)
TWO = ("N-901", "N-902")


def erasing(say: Callable[[str], None], home: Path) -> None:
    """Seconds of the whole and of each step, and how fast the folder is searched afterwards."""
    made = big.made(home / "archive", PASSAGES)
    _hour(made.archive, home, made.words)
    made.archive.close()
    for called, target in (("one of two voices", TWO[0]), ("whole", "IV-99.1")):
        shutil.copytree(home / "archive", home / called)
        _one(say, home / called, called, target)
        shutil.rmtree(home / called)


def _hour(archive: Archive, base: Path, words: list[str]) -> None:
    for code in TWO:
        archive.people.add(KEEPER, {"code": code, "full": f"Somebody {code}", "attribution": "full", "voice": "as_recorded", "review": "not_wanted"})
        answers = [{"use": use, "way": way, "answer": "yes"} for use in ("machine", "team") for way in ("words", "voice")]
        archive.consent.add(KEEPER, {"code": f"A-{code}", "person": code, "kind": "recording", "form": "signed", "signed_on": "2025-01-01"}, answers)
    card = base / "card"
    card.mkdir()
    rng = np.random.default_rng(3)
    with soundfile.SoundFile(card / "hour.wav", "w", RATE_HZ, 1, "PCM_16") as sound:
        for _ in range(HOUR_S):
            sound.write((0.1 * rng.standard_normal(RATE_HZ)).astype(np.float32))
    rows = ["file,interview,part,recorded_on,participants", f"hour.wav,IV-99,1,2025-01-01,{TWO[0]}:narrator;{TWO[1]}:narrator"]
    (card / "recordings.csv").write_text("\n".join(rows), encoding="utf-8")
    archive.ingest.take(KEEPER, [card])
    step = HOUR_S * 1000 // WORDS
    said = [words[int(n)] for n in rng.zipf(1.3, WORDS).clip(1, len(words)) - 1]
    lines: list[tuple[str | None, list[Word]]] = []
    for n in range(0, WORDS, 30):
        lines.append((TWO[n // 30 % 2], [Word(w, (n + k) * step, (n + k) * step + step - 40, 0.9) for k, w in enumerate(said[n : n + 30])]))
    cast.give_words(archive, "IV-99.1", lines)


def _one(say: Callable[[str], None], folder: Path, called: str, target: str) -> None:
    archive = Archive.open(folder)
    code = archive.erasures.ask(KEEPER, target, "bench", "keep")
    archive.close()
    later = datetime.now(UTC) + timedelta(days=archive.settings.erasure_wait_days)
    archive = Archive.open(folder, clock=lambda: later)
    marks = [time.perf_counter()]
    archive.erasures.after = lambda step: marks.append(time.perf_counter())
    page = archive.erasures.carry_out(KEEPER, code)
    whole = time.perf_counter() - marks[0]
    say(f"erasing an hour of a hundred, {called}: {whole:.1f} s (budget 60); {len(page.going)} recordings, {len(page.tasks)} tasks")
    for n, words in enumerate(STEPS):
        say(f"  {marks[n + 1] - marks[n]:6.2f} s  {words}")
    size = sum(p.stat().st_size for p in folder.rglob("*") if p.is_file()) / 1e6
    began = time.perf_counter()
    found = archive.erasures.search(KEEPER)
    took = time.perf_counter() - began
    say(f"  searching {size:.0f} MB: {took:.1f} s, {size / took:.0f} MB/s, found {len(found)}")
    archive.close()

