"""A small real archive in SCENARIO's town for the pages: real files, sheets and services; only the engine is a stand-in.

TW-01.1: N-01 with the interviewer, open; it names somebody (undecided). TW-05.1: N-05, unnamed, one stretch closed.
TW-06.1: N-06. TW-07.1: nobody agreed to anything. Titles and names hold markup, which no page may take for its own.
"""

from __future__ import annotations

import csv
import shutil
import wave
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from archive.app import Archive
from archive.domain.values import Role, Viewer, Word
from archive.services.transcribing import Transcribing
from archive.speech.engine import Heard, Samples
from tests.cast import in_a_hurry

KEEPER = Viewer("K-01", Role.KEEPER)
EDITOR = Viewer("E-01", Role.EDITOR)
READER = Viewer("R-01", Role.READER)
PASSWORD = "rope and chain and tide"
CLOSED_WORDS = "informer Calloway"  # said in the closed stretch of TW-05.1
HIDDEN = "Lund"  # named in TW-01.1, undecided
SCRIPTS: dict[str, list[tuple[int, str]]] = {
    "TW-01": [
        (800, "Where were you on the night of the flood?"),
        (6000, "I was on Net Row in my mother's kitchen and the clock stopped at ten to three."),
        (16000, "It was Peter Lund who had the key to the boat, nobody else."),
        (24000, "The Sallow came up through the drain first and not over the wall."),
    ],
    "TW-05": [
        (800, "What did you see on the Ferry Slip in seventy-four?"),
        (6000, "I saw the constables come down the steps in the strike."),
        (14000, f"The {CLOSED_WORDS} lived on our street."),
        (22000, "After that nobody on the Quay spoke to us."),
    ],
    "TW-06": [(800, "What did the strike cost you?"), (5000, "It cost me the ferry and every friend I had there.")],
    "TW-07": [(800, "Nobody ever asked me whether I minded.")],
}
SECONDS = {"TW-01": 32, "TW-05": 30, "TW-06": 12, "TW-07": 8}
PEOPLE = [
    ("N-01", "Maud Ellery", "Maud", "Ellery", "M.E.", "1938", "full", "as_recorded", "not_wanted", "always"),
    ("N-05", "Lena Marsh", "Lena", "Marsh", "L.M.", "1957", "unnamed", "not_heard", "not_wanted", "as_name"),
    ("N-02", "Joseph Tandy", "Joseph", "Tandy", "J.T.", "1946", "full", "as_recorded", "not_wanted", "always"),
    ("N-06", "Samuel Reeve", "Samuel", "Reeve", "S.R.", "1943", "full", "as_recorded", "not_wanted", "always"),
    ("N-08", "Peter Lund", "Peter", "Lund", "P.L.", "1949", "full", "as_recorded", "not_wanted", "as_name"),
    ("I-01", "Ruth Calder", "Ruth", "Calder", "R.C.", "1980", "full", "as_recorded", "not_wanted", "always"),
]
TITLES = {"TW-01": "Maud Ellery <b>& the flood</b>", "TW-05": "A resident of the Quay", "TW-06": "Samuel Reeve: the strike", "TW-07": "Found on the card"}
NARRATOR = {"TW-01": "N-01", "TW-05": "N-05", "TW-06": "N-06", "TW-07": "N-02"}


@dataclass(frozen=True)
class ScriptedEngine:
    """Hears what the script says, whatever the samples are."""

    script: Sequence[tuple[int, str]]
    name: str = "scripted"
    model_sha256: str = "0" * 64

    @property
    def options(self) -> dict[str, Any]:
        return {}

    def hear(
        self, pcm: Samples, language: str, vocabulary: Sequence[str] = (), speech_ms: Sequence[tuple[int, int]] | None = None
    ) -> Heard:
        words = []
        for start_ms, line in self.script:
            at = start_ms
            for text in line.split():
                words.append(Word(text, at, at + 220, 0.3 if text == "kitchen" else 0.95))
                at += 260
        return Heard(tuple(words))

    def transcribe(self, pcm: Samples, language: str, vocabulary: Sequence[str] = ()) -> list[Word]:
        return list(self.hear(pcm, language, vocabulary).words)


def _wav(path: Path, seconds: int, pitch_hz: float) -> None:
    at = np.arange(seconds * 16000) / 16000
    loud = 0.25 * np.sin(2 * np.pi * pitch_hz * at) * (0.6 + 0.4 * np.sin(2 * np.pi * 1.7 * at))
    with wave.open(str(path), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(16000)
        out.writeframes((loud * 32767).astype("<i2").tobytes())


def _sheet(path: Path, header: str, rows: Sequence[Sequence[str]]) -> Path:
    with open(path, "w", encoding="utf-8", newline="") as out:
        csv.writer(out).writerows([header.split(","), *rows])
    return path


def _agreements(card: Path) -> tuple[Path, Path]:
    papers = [("A-I01", "I-01", "", "recording", "signed", "2024-09-02")]
    papers += [(f"A-{c}", c, "", "recording", "signed", "2024-10-01") for c in ("N-01", "N-05", "N-06")]
    answers = []
    for code, *_ in papers:
        for use in ("machine", "team", "exhibition", "listening_post"):
            answers += [(code, use, way, "yes") for way in ("words", "voice") if (code, use, way) != ("A-N-05", "exhibition", "voice")]
    return (
        _sheet(card / "agreements.csv", "code,person,interview,kind,form,signed_on", papers),
        _sheet(card / "permissions.csv", "agreement,use,way,answer", answers),
    )


def build(folder: Path) -> Archive:
    """Make the archive in `folder`."""
    card = folder.parent / f"{folder.name}-card"
    card.mkdir(parents=True)
    archive = Archive.create(folder, KEEPER, "Tarnwick Memory", "Marigold: the last chain ferry", False)
    columns = "code,full,first,family,initials,born,attribution,voice,review,scan"
    archive.people.read(KEEPER, _sheet(card / "people.csv", columns, PEOPLE))
    archive.consent.read(KEEPER, *_agreements(card))
    archive.places.read(
        EDITOR,
        _sheet(
            card / "places.csv", "name,kind,within,also",
            [("Tarnwick", "town", "", "the town"), ("Net Row", "street", "Tarnwick", ""), ("River Sallow", "river", "", "the Sallow"),
             ("Ferry Slip", "slipway", "Tarnwick", "the slip")],
        ),
    )  # fmt: skip
    archive.describing.read_events(EDITOR, _sheet(card / "events.csv", "name,edtf,also", [("the Sallow flood", "1968-01-14/1968-01-16", "the flood")]))
    archive.themes.read(EDITOR, _sheet(card / "themes.csv", "theme,broader,scope_note,words", [("water", "", "flood and river", "flood;drain;wall")]))
    for number, (name, seconds) in enumerate(SECONDS.items()):
        _wav(card / f"{name}.wav", seconds, 180 + 40 * number)
    (card / "notes.wav").write_text("this is not sound", encoding="utf-8")
    rows = [(f"{n}.wav", n, "1", "2024-10-02", TITLES[n], "one", f"{NARRATOR[n]}:narrator;I-01:interviewer") for n in SECONDS]
    _sheet(card / "recordings.csv", "file,interview,part,recorded_on,title,microphones,participants", rows)
    archive.ingest.take(EDITOR, [card])
    for name in ("TW-01", "TW-05", "TW-06"):
        _transcribe(archive, name)
        _name_speakers(archive, name)
    closed = [("TW-05.wav", "13.5", "21", "sealed", "2039-12-31", "asked for in the interview")]
    archive.consent.read_closed(KEEPER, _sheet(card / "closed.csv", "file,start_s,end_s,kind,until_on,reason", closed))
    for viewer in (KEEPER, EDITOR, READER):
        archive.accounts.add(KEEPER, viewer.name, viewer.role, PASSWORD)
    return archive


def _transcribe(archive: Archive, name: str) -> None:
    """Queue, claim and run one job in this process, with the scripted engine."""
    from archive.db import jobs, recordings

    code = f"{name}.1"
    with archive.rooms.db.write() as connection:
        row = recordings.by_code(connection, code)
        assert row is not None
        made = jobs.add_job(connection, "transcribe", code, {"recording": row.id}, EDITOR.name, archive.rooms.now())
        claimed = jobs.claim(connection, "a-token", archive.rooms.seconds(), 60, archive.rooms.now())
        assert claimed is not None and claimed.id == made
    archive.work.kinds["transcribe"] = Transcribing(archive.rooms, lambda model, name=name: ScriptedEngine(SCRIPTS[name])).run
    archive.work.run(made, "a-token")


def _name_speakers(archive: Archive, name: str) -> None:
    """The first utterance is the interviewer's, the rest the narrator's; the last of TW-01 stays unassigned."""
    spoken = archive.recordings.page(KEEPER, f"{name}.1").shown.utterances
    said = {u.utterance_id: "I-01" if n == 0 else NARRATOR[name] for n, u in enumerate(spoken)}
    if name == "TW-01":
        said.pop(spoken[-1].utterance_id)
    archive.recordings.assign(EDITOR, f"{name}.1", said)


def copy_of(made: Path, folder: Path) -> Archive:
    """The archive of `made` in another folder, for a test that changes it."""
    shutil.copytree(made, folder)
    return in_a_hurry(Archive.open(folder))
