"""A recording of two sample voices on one microphone, with its script's words, for tests of who speaks."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import soundfile

from archive.app import Archive
from archive.audio.decode import pcm
from archive.db import jobs
from archive.db.session import Connection
from archive.domain.values import Word
from archive.services.demo import SAMPLES
from archive.services.work import Lease
from tests import cast
from tests.cast import EDITOR, KEEPER, give_words

LENGTH_MS = 97_000
CODE = "TW-08.1"
T = TypeVar("T")


class Watched(Lease):
    """A worker's own claim; `between` happens before each commit, and what was told is kept."""

    def __init__(self, archive: Archive, between: Callable[[], object]) -> None:
        with archive.rooms.db.write() as connection:
            row = jobs.claim(connection, "mine", archive.rooms.seconds(), 60, archive.rooms.now(), idle=False)
        assert row is not None and row.kind == "voices"
        super().__init__(archive.rooms, row, "mine")
        self.told: list[tuple[int, int]] = []
        self._between = between

    def keep(self, act: Callable[[Connection], T]) -> T:
        self._between()
        return super().keep(act)

    def got(self, connection: Connection, done: int, total: int, *, kept: bool = True) -> None:
        self.told.append((done, total))
        super().got(connection, done, total, kept=kept)


def claimed(archive: Archive, between: Callable[[], object] = lambda: None) -> Watched:
    """The next waiting job, claimed."""
    return Watched(archive, between)


def script() -> list[dict[str, Any]]:
    with (SAMPLES / "scripts" / "TW-08.csv").open(encoding="utf-8") as sheet:
        rows = [r for r in csv.DictReader(sheet) if float(r["end_s"]) * 1000 < LENGTH_MS]
    return [r | {"start_ms": round(float(r["start_s"]) * 1000), "end_ms": round(float(r["end_s"]) * 1000)} for r in rows]


def words_of(row: dict[str, Any]) -> list[Word]:
    texts = row["words"].split()
    step = (row["end_ms"] - row["start_ms"]) / len(texts)
    return [Word(t, round(row["start_ms"] + n * step), round(row["start_ms"] + (n + 1) * step)) for n, t in enumerate(texts)]


def build(folder: Path) -> Archive:
    """TW-08's first minute and a half with nobody assigned; people and papers of the samples."""
    archive = Archive.create(folder, KEEPER, "Tarnwick Voices", "Marigold", True, {}, cast.clock)
    archive.people.read(KEEPER, SAMPLES / "people.csv")
    archive.consent.read(KEEPER, SAMPLES / "agreements.csv", SAMPLES / "permissions.csv")
    media = folder.parent / f"{folder.name}-media"
    media.mkdir()
    soundfile.write(media / "TW-08.wav", pcm(SAMPLES / "TW-08.flac", 0, LENGTH_MS), 16_000, subtype="PCM_16")
    head = "file,interview,part,recorded_on,language,microphones,left,right,participants\n"
    (media / "recordings.csv").write_text(f"{head}TW-08.wav,TW-08,1,2025-02-01,en,one,,,N-08:narrator;I-01:interviewer\n", encoding="utf-8")
    archive.ingest.take(EDITOR, [media])
    give_words(archive, CODE, [(None, words_of(r)) for r in script()])
    return archive


def name_ten_seconds(archive: Archive) -> None:
    """What a person does first: about ten seconds of each, by hearing."""
    had = {"I-01": 0, "N-08": 0}
    for row in script():
        if had[row["speaker"]] < 10_000:
            had[row["speaker"]] += row["end_ms"] - row["start_ms"]
            archive.speaking.name(EDITOR, CODE, row["speaker"], row["start_ms"], row["end_ms"])


def listened(archive: Archive) -> None:
    """Both voices named, and the job done."""
    name_ten_seconds(archive)
    archive.speaking.listen(EDITOR, CODE)
    lease = claimed(archive)
    words = archive.speaking.run(lease)
    lease.keep(lambda connection: lease.end(connection, words))


def make(folder: Path) -> None:
    """The whole of it, closed again: both voices named, the rest compared and suggested."""
    archive = build(folder)
    listened(archive)
    archive.close()
