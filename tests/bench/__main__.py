"""`python -m tests.bench [NAME…]`: the budgets of DESIGN §11 as ratios in one run. Prints; asserts nothing: machines are noisy.

Names: transcribe ingest wer names real memory find finding finding100000 equal decisions killed masks listening scan carrying meaning desk held access upload sound voices script told cuts
themes places playing together grid forms ending erasing. Without names: all of them (about half an hour on two cores).
"""

from __future__ import annotations

import hashlib
import os
import platform
import random
import resource
import shutil
import signal
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import soundfile

from archive.app import Archive, Asked
from archive.audio import decode
from archive.db import people, recordings
from archive.db.session import Row
from archive.domain.values import Role, Viewer, Word
from archive.files.masters import Masters
from archive.gate import custody
from archive.gate.custody import Errand
from archive.services.demo import SAMPLES
from archive.services.describing import knowledge
from archive.services.scripts import against, summed
from archive.speech import models
from tests.bench.carrying import carrying
from tests.bench.cuts import cuts
from tests.bench.decisions import decisions
from tests.bench.describing import describing
from tests.bench.desk import desk
from tests.bench.ending import ending
from tests.bench.erasing import erasing
from tests.bench.finding import equal, finding
from tests.bench.forms import forms
from tests.bench.grid import grid
from tests.bench.listening import listening
from tests.bench.masks import masks
from tests.bench.meaning import meaning
from tests.bench.places import places
from tests.bench.playing import playing, together
from tests.bench.scanning import scan
from tests.bench.scripts import script
from tests.bench.sending import upload
from tests.bench.sound_check import sound_check
from tests.bench.themes import themes
from tests.bench.told import told
from tests.bench.voices import voices
from tests.rules import named

ROOT = Path(__file__).resolve().parents[2]
REAL = ROOT.parent / "shared" / "real-speech"
EDITOR = Viewer("E-01", Role.EDITOR)
KEEPER = Viewer("K-01", Role.KEEPER)


def say(line: str) -> None:
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def talk(path: Path, minutes: float) -> Path:
    """The samples, one after another and again, as one mono 16 kHz WAV of that length, written piece by piece."""
    sounds = sorted(p for p in SAMPLES.iterdir() if p.suffix in (".flac", ".m4a", ".mp3", ".opus", ".wav"))
    left = int(minutes * 60 * 16_000)
    with soundfile.SoundFile(path, "w", 16_000, 1, "PCM_16") as out:
        while left > 0:
            for sound in sounds:
                try:
                    pcm = decode.pcm(sound, 0, 600_000, None, 16_000)
                except Exception:  # the damaged one
                    continue
                piece = pcm[:left]
                out.write(piece)
                left -= len(piece)
                if left <= 0:
                    break
    return path


def archive_with(folder: Path, sounds: Sequence[Path], interview: str = "TW-01") -> Archive:
    """A new archive with the samples' people and papers, and these sounds as one interview."""
    archive = Archive.create(folder, KEEPER, "Bench", "Marigold", True)
    archive.people.read(KEEPER, SAMPLES / "people.csv")
    archive.consent.read(KEEPER, SAMPLES / "agreements.csv", SAMPLES / "permissions.csv")
    source = folder.parent / f"{folder.name}-source"
    source.mkdir()
    rows = ["file,interview,part,recorded_on,participants"]
    for n, sound in enumerate(sounds, 1):
        shutil.copy(sound, source / f"bench-{n}{sound.suffix}")
        rows.append(f"bench-{n}{sound.suffix},{interview},{n},2025-02-01,N-01:narrator;I-01:interviewer")
    (source / "recordings.csv").write_text("\n".join(rows), encoding="utf-8")
    archive.ingest.take(EDITOR, [source])
    return archive


def worked(archive: Archive) -> tuple[float, float]:
    """Seconds and peak MB of transcribing all that waits, in its children."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    archive.transcribing.queue(EDITOR)
    begun = time.perf_counter()
    while archive.work.once():
        pass
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return time.perf_counter() - begun, max(before.ru_maxrss, after.ru_maxrss) / 1024


BARE = """
import sys, time, resource
import faster_whisper
begun = time.perf_counter()
model = faster_whisper.WhisperModel(sys.argv[1], device="cpu", compute_type="int8", cpu_threads=int(sys.argv[3]), local_files_only=True)
found, _ = model.transcribe(sys.argv[2], language="en", beam_size=5, vad_filter=True, condition_on_previous_text=False,
    word_timestamps=True, hotwords=sys.argv[4] or None, vad_parameters=dict(threshold=0.5, min_silence_duration_ms=2000, speech_pad_ms=400))
words = sum(len(s.words) for s in found)
print(time.perf_counter() - begun, words, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
"""


def transcribe(home: Path) -> None:
    """Against bare faster-whisper on the same 10 minutes and options, process start and loading on both sides. Budget ≤ 1.05."""
    sound = talk(home / "ten.wav", 10)
    model = models.find("base", Archive.create(home / "m", KEEPER, "m", "m", True).rooms.models_dir)
    threads = str(min(4, os.cpu_count() or 1))
    ours, theirs = [], []
    for n in range(2):  # interleaved, so that a busy machine is busy for both
        archive = archive_with(home / f"t{n}", [sound])
        with archive._db.read() as connection:
            row = recordings.everything(connection)[0]
            primed = ", ".join(custody.vocabulary(connection, row.id, [], 3, archive.rooms.context()))
            primed = f"{primed}." if primed else ""
        ours.append(worked(archive)[0])
        done = subprocess.run(
            [sys.executable, "-c", BARE, str(model.path), str(sound), threads, primed], capture_output=True, text=True,
            check=True, encoding="utf-8", env=os.environ | {"HF_HUB_OFFLINE": "1"},
        )  # fmt: skip
        theirs.append(float(done.stdout.split()[0]))
    say(f"transcribe 10 min: ours {min(ours):.1f} s, bare {min(theirs):.1f} s, ratio {min(ours) / min(theirs):.3f} (budget 1.05)")


def ingest(home: Path) -> None:
    """Copy, sum, fsync, rename against cp + sha256sum of the same files; the measuring pass apart. Budget ≤ 1.3."""
    files = [home / f"big-{n}.wav" for n in range(3)]
    for file in files:
        file.write_bytes(os.urandom(200_000_000))
    ours, theirs = [], []
    for n in range(3):
        masters = Masters(home / f"masters-{n}")
        begun = time.perf_counter()
        for file in files:
            masters.take(file, "wav", 10**10)
        ours.append(time.perf_counter() - begun)
        begun = time.perf_counter()
        (home / f"cp-{n}").mkdir()
        for file in files:
            subprocess.run(["cp", str(file), str(home / f"cp-{n}")], check=True)
        copies = [str(p) for p in (home / f"cp-{n}").iterdir()]
        subprocess.run(["sha256sum", *copies], check=True, stdout=subprocess.DEVNULL)
        subprocess.run(["sync", *copies], check=True)
        theirs.append(time.perf_counter() - begun)
        for made in (home / f"masters-{n}", home / f"cp-{n}"):
            shutil.rmtree(made)
    say(f"ingest 3 × 200 MB: ours {min(ours):.2f} s, cp + sha256sum + sync {min(theirs):.2f} s, ratio {min(ours) / min(theirs):.2f} (budget 1.3)")


def wer(home: Path) -> None:
    """The demo against its scripts, in the time it takes. Budgets ≤ 5 %, names ≥ 95 %, ≤ 5 minutes."""
    begun = time.perf_counter()
    command = [sys.executable, "-m", "archive.cli.main", "demo", str(home / "demo")]
    done = subprocess.run(command, capture_output=True, text=True, encoding="utf-8", cwd=ROOT, check=True)
    lines = [x.strip() for x in done.stdout.splitlines() if "word error rate" in x or "names right" in x]
    say(f"demo: {time.perf_counter() - begun:.0f} s (budget 300); {'; '.join(lines)}")


def names(home: Path) -> None:
    """Who is named or pointed to in the samples, against tests/rules/names_said.csv: on the scripts' own words, and on the engine's
    where a demo archive is there (`wer` makes one). Budgets: recall ≥ 0.98, ≤ 3 false suggestions a minute."""
    made = named.pointers_of_samples()
    _tell_named("names on the scripts", named.against_truth(made))
    words = [Word(w, n * 300, n * 300 + 250) for n, w in enumerate(w for rows in named.scripts().values() for row in rows for w in row)] * 7
    begun = time.perf_counter()
    made[0].suggest(words)
    say(f"names: {len(words)} words looked through in {time.perf_counter() - begun:.2f} s")
    folder = Path(os.environ.get("TOLDHERE_BENCH_DEMO", home / "demo"))
    if not folder.is_dir():
        say("names on the engine's words: run `wer names` together, or set TOLDHERE_BENCH_DEMO to a copy of a demo archive")
        return
    archive = Archive.open(folder)
    with archive._db.read() as connection:
        known, codes, measured = knowledge(connection, archive.rooms.context()), people.codes_by_id(connection), named.Measured()
        for row in recordings.everything(connection):
            spoken = custody.take(connection, row.id, Errand.MEASURE, archive.rooms.context())
            heard = [w for u in spoken.utterances for w in u.words]
            if heard and Path(row.original_name).stem in named.scripts():
                named.against_script(measured, Path(row.original_name).stem, heard, known.pointers, codes)
    _tell_named("names on the engine's words", measured)


def _tell_named(what: str, measured: named.Measured) -> None:
    say(f"{what}: {measured.said} to be found, recall {measured.recall:.3f} (budget 0.98), "
        f"{len(measured.false) / named.MINUTES:.2f} false a minute (budget 3)")  # fmt: skip
    for line in (*(f"missed {m}" for m in measured.missed), *(f"false {f}" for f in measured.false)):
        say(f"  {line}")


def real(home: Path) -> None:
    """jfk and the LibriVox readings of ../shared/real-speech. Budget ≤ 3 %."""
    if not REAL.is_dir():
        say("real: ../shared/real-speech is not here")
        return
    engine = Archive.create(home / "r", KEEPER, "r", "r", True).hire()
    parts = []
    for line in (REAL / "transcripts.txt").read_text(encoding="utf-8").splitlines():
        name, _, said = line.replace("\t", " ").partition(" ")
        path = next((p for p in REAL.iterdir() if p.stem == Path(name.rstrip(":")).stem), None)
        if path is not None and said:
            heard = engine.transcribe(decode.pcm(path, 0, 600_000, None, 16_000), "en")
            parts.append(against(said, " ".join(w.text for w in heard), []))
    whole = summed(parts)
    say(f"real speech: {len(parts)} recordings, {whole.words} words, WER {whole.rate:.1%} (budget 3 %)")


def memory(home: Path) -> None:
    """Peak memory of transcribing 10 and 60 minutes. Budget: within 10 %."""
    peaks = []
    for minutes in (10, 60):
        sound = talk(home / f"m{minutes}.wav", minutes)
        archive = archive_with(home / f"mem{minutes}", [sound])
        script = f"from pathlib import Path; from tests.bench.__main__ import worked; from archive.app import Archive; print(worked(Archive.open(Path({str(archive.folder)!r})))[1])"
        done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True, encoding="utf-8", cwd=ROOT)
        peaks.append(float(done.stdout.split()[-1]))
    say(f"memory: 10 min {peaks[0]:.0f} MB, 60 min {peaks[1]:.0f} MB, ratio {peaks[1] / peaks[0]:.2f} (budget 1.10)")


def find(home: Path) -> None:
    """Find on the demo, a mix of questions with filters and facet counts. Budget ≤ 20 ms."""
    folder = home / "demo"
    if not folder.exists():
        wer(home)
    archive = Archive.open(folder)
    mix = [
        Asked("strike"), Asked('"the flood"'), Asked("ferr*"), Asked("flood not council"), Asked("chain or river"),
        Asked("flood", place="Net Row", decade="1960", usable_for="exhibition"), Asked(place="Lower Quay"),
        Asked(decade="1970", usable_for="web"), Asked("the"), Asked(theme="strike", usable_for="listening_post", way="voice"),
    ]  # fmt: skip
    times = []
    for _ in range(10):
        for asked in mix:
            begun = time.perf_counter()
            archive.finding.ask(EDITOR, asked)
            times.append((time.perf_counter() - begun) * 1000)
    times.sort()
    say(f"find on the demo: median {statistics.median(times):.1f} ms, p95 {times[int(len(times) * 0.95)]:.1f} ms (budget 20)")


def killed(home: Path) -> None:
    """kill −9 of the worker and its child thirty times during one transcription: no word lost, none twice, the same text as without.

    Every second time it is let to keep one more chunk before: who is killed nine times without getting on is given up, as planned.
    """
    sound = talk(home / "six.wav", 6)
    moments = random.Random(7)
    texts = []
    for times in (0, 30):
        archive = archive_with(home / f"k{times}", [sound])
        (archive.folder / "archive.toml").write_text('name = "Bench"\nexhibition = "Marigold"\nchunk_ms = 8000\nlease_s = 2\n', encoding="utf-8")
        archive.close()
        archive = Archive.open(archive.folder)
        archive.transcribing.queue(EDITOR)
        killed_at_work = 0
        for n in range(times):
            done = sum(j.done for j in archive.work.open())
            worker = subprocess.Popen([sys.executable, "-m", "archive.worker", str(archive.folder), "--until-done"], start_new_session=True)
            while not any(j.state == "working" for j in archive.work.open()) or (n % 2 and sum(j.done for j in archive.work.open()) == done):
                time.sleep(0.1)
            time.sleep(moments.uniform(0, 2 if n % 2 else 5))
            killed_at_work += any(j.state == "working" for j in archive.work.open())
            os.killpg(worker.pid, signal.SIGKILL)
            worker.wait()
            time.sleep(2.2)
        while archive.work.once():
            pass
        page = archive.recordings.page(KEEPER, archive.recordings.list(KEEPER)[0].code)
        words = [(w.text, w.start_ms, w.end_ms) for u in page.shown.utterances for w in u.words]
        texts.append(words)
        told = hashlib.sha256(repr(words).encode()).hexdigest()[:12]
        say(f"killed {killed_at_work} of {times} times at work: {len(words)} words, {len(words) - len(set(words))} twice, sha256 {told}")
    say(f"killed: the same words: {texts[0] == texts[1]}")


def held(home: Path) -> None:
    """From pausing and cancelling a transcription and an access copy until their child has ended. Budget ≤ 5 s."""
    archive = archive_with(home / "held", [talk(home / "hour.wav", 60)])
    archive.transcribing.queue(EDITOR)
    for kind in ("transcribe", "access"):
        for how in ("pause", "cancel"):
            took: list[float] = []
            begun = time.monotonic()

            def hold(row: Row[Any], how: str = how, took: list[float] = took, begun: float = begun) -> None:
                if not took and time.monotonic() - begun > 6:
                    getattr(archive.jobs, how)(EDITOR, row.id)
                    took.append(time.monotonic())

            (job_id,) = [j.id for j in archive.jobs.list(EDITOR) if j.kind == kind]
            archive.jobs.move(EDITOR, job_id)
            archive.jobs.by_hand(EDITOR, job_id)
            archive.work.once(hold)
            say(f"{how} {kind}: its child ended after {time.monotonic() - took[0]:.1f} s (budget 5)")
            if how == "pause":
                archive.jobs.resume(EDITOR, job_id)


def access(home: Path) -> None:
    """Access copies of 4 and 240 minutes: speed, and the most memory that the child needed. Budget: within 10 %."""
    script = "import resource, sys; from pathlib import Path; from archive.audio.accesscopy import make_access_copy; from archive.audio.probe import Caps; make_access_copy(Path(sys.argv[1]), Path(sys.argv[2]), (0,), False, -18.0, Caps()); print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)"
    peaks = []
    for minutes in (4, 240):
        sound = talk(home / f"a{minutes}.wav", minutes)
        begun = time.perf_counter()
        done = subprocess.run([sys.executable, "-c", script, str(sound), str(home / "a.opus")], capture_output=True, text=True, check=True, encoding="utf-8", cwd=ROOT)
        took = time.perf_counter() - begun
        peaks.append(float(done.stdout))
        say(f"access copy of {minutes} min: {took:.0f} s, {minutes * 60 / took:.0f} × real time, {peaks[-1]:.0f} MB, {(home / 'a.opus').stat().st_size / 1e6:.0f} MB on disk")
    say(f"access copy: memory ratio {peaks[1] / peaks[0]:.2f} (budget 1.10)")


ALL: dict[str, Callable[[Path], None]] = {
    "ingest": ingest, "wer": wer, "names": names, "find": find, "real": real, "transcribe": transcribe, "killed": killed, "held": held,
    "access": access, "memory": memory, "carrying": lambda _: carrying(say),
    "masks": lambda home: masks(home, say), "listening": lambda home: listening(home, say), "desk": lambda home: desk(home, say),
    "scan": lambda home: scan(home, say), "upload": lambda home: upload(home, say), "sound": lambda home: sound_check(home, say),
    "playing": lambda home: playing(home, say), "together": lambda home: together(home, say), "voices": lambda home: voices(home, say), "script": lambda home: script(say),
    "meaning": lambda home: meaning(home, Path(os.environ.get("TOLDHERE_BENCH_DEMO", home / "demo")), say),
    "told": lambda _: told(say), "cuts": lambda _: cuts(say), "themes": lambda _: themes(say), "places": lambda _: places(say),
    "finding": lambda home: finding(home, say), "finding100000": lambda home: finding(home, say, (100_000,)), "equal": lambda _: equal(say), "decisions": lambda home: decisions(home, say),
    "grid": lambda home: grid(say, home), "describing": lambda _: describing(say),
    "forms": lambda home: forms(say, home),
    "ending": lambda home: ending(say, home),
    "erasing": lambda home: erasing(say, home),
}  # fmt: skip


def main() -> None:
    say(f"{platform.platform()}, {os.cpu_count()} cores, Python {platform.python_version()}, numpy {np.__version__}")
    with tempfile.TemporaryDirectory(prefix="toldhere-bench-") as folder:
        for name in sys.argv[1:] or ALL:
            ALL[name](Path(folder))


if __name__ == "__main__":
    main()
