"""How long the last scan takes for each kind of file, of the size in which it leaves, with 200 names to hide. Budget ≤ 0.3 s a file."""

from __future__ import annotations

import json
import resource
import struct
import zipfile
import zlib
from collections.abc import Callable, Iterator
from datetime import date
from importlib import resources
from pathlib import Path

import av
import numpy as np
import soundfile
from fpdf import FPDF

from archive.domain.cleared import GATE_TOKEN, ClearedCaption, ClearedExport, ClearedQuote, ForbiddenName
from archive.gate.scan import KINDS, matcher_for, scan_with
from archive.render.captions import srt, webvtt
from archive.render.docx import wall_text_sheet
from tests.gate.planting_pictures import chunk

SENTENCE = "We stood on the Ferry Slip in the fog and the chain sang before anybody saw the boat come over to Lower Quay again."
WORDS = SENTENCE.split()
CLIP_S = 60
RATE_HZ = 48_000


def _export() -> ClearedExport:
    quotes = tuple(
        ClearedQuote(
            token=GATE_TOKEN, item=n, words=" ".join(WORDS * 4), attribution="Maud Ellery", source_line="Recorded in Tarnwick, 2025", draft=True,
            use="exhibition",
        )  # fmt: skip
        for n in range(1, 41)
    )
    return ClearedExport(
        token=GATE_TOKEN, exhibition="Marigold: the last chain ferry", code="X-0001", use="exhibition", quotes=quotes, insides=(), clips=(),
        made_on=date(2025, 6, 12),
    )  # fmt: skip


def _caption(words: int) -> ClearedCaption:
    said = tuple((WORDS[n % len(WORDS)], n * 400, n * 400 + 380) for n in range(words))
    return ClearedCaption(token=GATE_TOKEN, item=1, speaker="Maud Ellery", words=said, draft=False)


def _tone(seconds: int) -> np.ndarray:
    t = np.arange(seconds * RATE_HZ) / RATE_HZ
    noise = np.random.default_rng(1).standard_normal(t.size)
    return (0.2 * np.sin(2 * np.pi * 220 * t) + 0.02 * noise).astype(np.float32)


def _sound(path: Path, codec: str, form: str) -> None:
    """By FFmpeg, as clips are."""
    tone = _tone(CLIP_S)
    with av.open(str(path), "w", format=form) as out:
        out.metadata["title"] = "Marigold"
        stream = out.add_stream(codec, rate=RATE_HZ, layout="mono")
        resampler = av.AudioResampler(format=stream.format, layout="mono", rate=RATE_HZ, frame_size=stream.frame_size or 960)
        frame = av.AudioFrame.from_ndarray(tone[None, :], format="fltp", layout="mono")
        frame.sample_rate = RATE_HZ
        for piece in [*resampler.resample(frame), *resampler.resample(None)]:
            out.mux(stream.encode(piece))
        out.mux(stream.encode(None))


def _vorbis(path: Path) -> None:
    with soundfile.SoundFile(path, "w", RATE_HZ, 1, "VORBIS", format="OGG") as out:
        tone = _tone(CLIP_S)
        for at in range(0, len(tone), RATE_HZ):  # libsndfile overruns its stack where it gets a minute at once
            out.write(tone[at : at + RATE_HZ])


def _pdf(path: Path) -> None:
    made = FPDF()
    made.add_font("Literata", "", str(resources.files("archive.render") / "fonts" / "literata-regular.ttf"))
    made.set_font("Literata", size=24)
    for _ in range(40):
        made.add_page()
        made.multi_cell(0, text=" ".join(WORDS * 4))
    made.output(str(path))


def _png(path: Path) -> None:
    rows = b"".join(b"\0" + bytes(n % 251 for n in range(y, y + 2400)) for y in range(400))
    head = chunk(b"IHDR", struct.pack(">IIBBBBB", 2400, 400, 8, 0, 0, 0, 0))
    path.write_bytes(b"\x89PNG\r\n\x1a\n" + head + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b""))


def _files(home: Path) -> Iterator[Path]:
    page = "<!doctype html><title>Marigold</title>" + "".join(f"<p>{' '.join(WORDS)}</p>" for _ in range(1200))
    path = " ".join(f"L{n} {n % 97}" for n in range(4000))
    makers: dict[str, Callable[[Path], object]] = {
        ".docx": lambda p: p.write_bytes(wall_text_sheet(_export())),
        ".json": lambda p: p.write_text(json.dumps([{"words": " ".join(WORDS), "n": n} for n in range(1200)]), encoding="utf-8"),
        ".vtt": lambda p: p.write_bytes(webvtt(_caption(2250))),
        ".srt": lambda p: p.write_bytes(srt(_caption(2250))),
        ".txt": lambda p: p.write_text("\n".join(" ".join(WORDS) for _ in range(1200)), encoding="utf-8"),
        ".csv": lambda p: p.write_text("\n".join(f"{n},{' '.join(WORDS)}" for n in range(1200)), encoding="utf-8"),
        ".html": lambda p: p.write_text(page, encoding="utf-8"),
        ".svg": lambda p: p.write_text(f"<svg xmlns='http://www.w3.org/2000/svg'><path d='M0 0{path}'/></svg>", encoding="utf-8"),
        ".png": _png,
        ".pdf": _pdf,
        ".wav": lambda p: soundfile.write(p, _tone(CLIP_S), RATE_HZ, subtype="PCM_16"),
        ".mp3": lambda p: _sound(p, "libmp3lame", "mp3"),
        ".m4a": lambda p: _sound(p, "aac", "ipod"),
        ".flac": lambda p: _sound(p, "flac", "flac"),
        ".opus": lambda p: _sound(p, "libopus", "ogg"),
        ".ogg": _vorbis,
    }
    made = []
    for kind, make in makers.items():
        made.append(home / f"scan{kind}")
        make(made[-1])
        yield made[-1]
    with zipfile.ZipFile(home / "scan.zip", "w", zipfile.ZIP_DEFLATED) as package:
        for file in made:
            package.write(file, file.name)
    yield home / "scan.zip"


def _spent() -> float:
    """Processor time of this process and its children: the wall says as much about whoever else works here."""
    own, children = resource.getrusage(resource.RUSAGE_SELF), resource.getrusage(resource.RUSAGE_CHILDREN)
    return own.ru_utime + own.ru_stime + children.ru_utime + children.ru_stime


def scan(home: Path, say: Callable[[str], None]) -> None:
    """Says one line a kind: seconds of the processor (the best of three), size, findings (0, or the figure means nothing)."""
    names = [ForbiddenName(f"{first} {last}") for first in ("Lena", "Edith", "Hugh", "Nora", "Silas") for last in (f"Quill{n}by" for n in range(20))]
    names += [ForbiddenName(f"Quill{n}by", as_name=n % 2 == 0) for n in range(100)]
    matcher = matcher_for(names)
    slowest, seen = 0.0, set()
    for path in _files(home):
        seconds = []
        for _ in range(3):
            begun = _spent()
            found = scan_with(matcher, path)
            seconds.append(_spent() - begun)
        seen.add(path.suffix)
        if path.suffix != ".zip":
            slowest = max(slowest, min(seconds))
        say(f"scan {path.suffix[1:]}: {min(seconds):.3f} s, {path.stat().st_size / 1000:.0f} kB, findings {len(found)} {found[:1] or ''}")
    missing = set(KINDS) - seen
    say(f"scan: slowest single file {slowest:.3f} s (budget 0.3), {len(names)} names, kinds without a figure: {sorted(missing)}")
