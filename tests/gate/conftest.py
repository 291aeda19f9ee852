"""What the tests of the gate share: interviews added to the cast, a clock that moves."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from archive.app import Archive
from archive.audio.measure import Measured
from archive.audio.probe import Caps
from archive.domain.values import Viewer, Word
from archive.services import ingest
from archive.services.measuring import measure_in_child
from tests import cast

AddInterview = Callable[..., str]


class Later:
    """The cast's clock, some days on."""

    def __init__(self, days: int) -> None:
        self.now = cast.TODAY + timedelta(days=days)

    def __call__(self) -> datetime:
        return self.now


MEASURED: dict[tuple[str, Caps, int | None], Measured] = {}


@pytest.fixture(autouse=True)
def measured_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Sound is only on the way here: the same bytes are measured by a child once, and what it found is remembered."""

    def remembered(path: Path, caps: Caps, track: int | None, alive: Callable[[], None]) -> Measured:
        key = hashlib.sha256(path.read_bytes()).hexdigest(), caps, track
        if key not in MEASURED:
            MEASURED[key] = measure_in_child(path, caps, track=track, alive=alive)
        return MEASURED[key]

    monkeypatch.setattr(ingest, "measure_in_child", remembered)


@pytest.fixture
def add_interview(tmp_path: Path) -> AddInterview:
    """Add IV-nn with participants ("N-21:narrator") and lines (code or None, words); returns the recording's code."""

    def add(archive: Archive, number: int, parts: list[str], lines: list[tuple[str | None, list[Word]]], title: str = "") -> str:
        media = tmp_path / f"added-{number}"
        media.mkdir()
        end_ms = max((w.end_ms for _, words in lines for w in words), default=4000)
        cast.sound(media / f"IV-{number}.wav", end_ms / 1000 + 1, number)
        head = "file,interview,part,recorded_on,title,language,microphones,left,right,participants"
        row = f"IV-{number}.wav,IV-{number},1,2025-02-01,{title},en,one,,,{';'.join(parts)}"
        (media / "recordings.csv").write_text(f"{head}\n{row}\n", encoding="utf-8")
        (found,) = archive.ingest.take(cast.EDITOR, [media])
        cast.give_words(archive, found.recording, lines)
        return found.recording

    return add


def read_by(archive: Archive, viewer: Viewer, recording: str) -> str:
    """All the words of a recording as this viewer reads them."""
    page = archive.recordings.page(viewer, recording)
    return " | ".join(" ".join(w.text for w in u.words) for u in page.shown.utterances)
