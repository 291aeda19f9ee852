"""The demo, killed at every step and run again: the same table as without. A small archive, and an engine that is given."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import asdict
from pathlib import Path
from typing import Any

import pytest

from archive.app import Archive
from archive.db import jobs
from archive.services import demo
from archive.services.demo import KEEPER, Result
from archive.services.transcribing import Transcribing
from tests import cast
from tests.webui import town

CLOSED_QUOTE = f"The {town.CLOSED_WORDS} lived on our street."


class Killed(BaseException):
    """Stands for kill −9 inside one process."""


@pytest.fixture(scope="module")
def samples(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three recordings, one copy, one that is no sound, and every sheet the demo reads."""
    folder = tmp_path_factory.mktemp("samples")
    (folder / "scripts").mkdir()
    town._sheet(folder / "people.csv", "code,full,first,family,initials,born,attribution,voice,review,scan", town.PEOPLE)
    town._agreements(folder)
    town._sheet(folder / "places.csv", "name,kind,within,also", [("Net Row", "street", "", ""), ("River Sallow", "river", "", "the Sallow")])
    town._sheet(folder / "events.csv", "name,edtf,also", [("the Sallow flood", "1968-01-14/1968-01-16", "the flood")])
    town._sheet(folder / "themes.csv", "theme,broader,scope_note,words", [("water", "", "flood and river", "flood;drain;wall")])
    speakers, recordings = [], []
    for number, name in enumerate(("TW-01", "TW-05", "TW-06")):
        town._wav(folder / f"{name}.wav", town.SECONDS[name], 180 + 40 * number)
        recordings.append((f"{name}.wav", name, "1", "2024-10-02", town.TITLES[name], "one", f"{town.NARRATOR[name]}:narrator;I-01:interviewer"))
        lines = town.SCRIPTS[name]
        for n, (start_ms, words) in enumerate(lines):
            speakers.append((f"{name}.wav", start_ms / 1000, start_ms / 1000 + 0.26 * len(words.split()), town.NARRATOR[name] if n else "I-01"))
        town._sheet(folder / "scripts" / f"{name}.csv", "speaker,words", [("", words) for _, words in lines])
    town._sheet(folder / "recordings.csv", "file,interview,part,recorded_on,title,microphones,participants", recordings)
    town._sheet(folder / "speakers.csv", "file,start_s,end_s,person", speakers)
    town._sheet(folder / "mentions.csv", "file,words,person,decision", [("TW-01.wav", "Peter Lund", "N-08", "hide")])
    town._sheet(folder / "closed.csv", "file,start_s,end_s,kind,until_on,reason", [("TW-05.wav", "13.5", "21", "sealed", "2039-12-31", "asked")])
    quotes = [
        ("TW-01.wav", "The Sallow came up through the drain first and not over the wall.", "exhibition", "I-01"),
        ("TW-06.wav", "It cost me the ferry and every friend I had there.", "exhibition", "I-01"),
        ("TW-05.wav", "I saw the constables come down the steps in the strike.", "exhibition", ""),
        ("TW-05.wav", CLOSED_QUOTE, "exhibition", "I-01"),
    ]
    town._sheet(folder / "heard.csv", "file,quote,use,heard_by", quotes)
    (folder / "copy of TW-06.wav").write_bytes((folder / "TW-06.wav").read_bytes())
    (folder / "notes.wav").write_text("this is not sound", encoding="utf-8")
    return folder


Go = Callable[..., Archive]


@pytest.fixture(scope="module")
def start(samples: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Go]:
    tmp_path = tmp_path_factory.mktemp("runs")
    weights = tmp_path / "weights"
    weights.mkdir()
    for name in ("model.bin", "config.json", "tokenizer.json", "vocabulary.json"):
        (weights / name).write_text("{}", encoding="utf-8")
    environ = {"TOLDHERE_MODEL": "given", "TOLDHERE_MODELS_DIR": str(tmp_path / "models")}

    def make(name: str) -> Archive:
        folder = tmp_path / name
        if not folder.exists():
            Archive.create(folder, KEEPER, "Tarnwick Memory", "Marigold", False, environ, cast.clock).close()
        archive = cast.in_a_hurry(Archive.open(folder, environ, cast.clock))  # the weights are none
        if not (tmp_path / "models").exists():
            archive.add_model("given", weights)
        return archive

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(demo, "SAMPLES", samples)
        yield make


def run(archive: Archive, die_at: str = "") -> Result:
    """Run it to its end, or until it says something with these words."""

    def work() -> None:
        while True:
            with archive.rooms.db.write() as connection:
                row = jobs.claim(connection, "a-token", archive.rooms.seconds(), 60, archive.rooms.now())
            if row is None:
                return
            script = town.SCRIPTS[row.subject.split(".")[0]]
            archive.work.kinds["transcribe"] = Transcribing(archive.rooms, lambda model, script=script: town.ScriptedEngine(script)).run
            archive.work.run(row.id, "a-token")

    def tell(words: str) -> None:
        if die_at and die_at in words:
            raise Killed

    return archive.demo.run(tell, work)


def table(result: Result, folder: Path) -> dict[str, Any]:
    """The table without what differs from archive to archive."""
    return {key: [str(v).replace(str(folder), "HERE") for v in value] if isinstance(value, list) else value for key, value in asdict(result).items()}


@pytest.fixture(scope="module")
def unbroken(start: Go) -> dict[str, Any]:
    archive = start("unbroken")
    found = table(run(archive), archive.folder)
    assert table(run(archive), archive.folder) == found, "run again, the same"
    archive.close()
    return found


def test_the_table_is_what_was_done(unbroken: dict[str, Any]) -> None:
    assert [line.split(":")[0] for line in unbroken["taken"]] == ["TW-01.wav", "TW-05.wav", "TW-06.wav"]
    assert {line.split(":")[0] for line in unbroken["not_taken"]} == {"copy of TW-06.wav", "notes.wav"}
    assert (unbroken["error_rate"], unbroken["words"]) == (0.0, sum(len(w.split()) for n in ("TW-01", "TW-05", "TW-06") for _, w in town.SCRIPTS[n]))
    assert unbroken["given"] == ["EX-1 for exhibition in OUT-0001", "EX-2 for exhibition in OUT-0001", "EX-3 for exhibition in OUT-0002, as DRAFT"]
    assert len(unbroken["refused"]) == 1 and unbroken["refused"][0].startswith("EX-4 for exhibition: Not allowed. ")
    assert [line[:4] for line in unbroken["withheld"]] == ["EX-3"], "N-05 is not to be heard"
    before, flagged, *out = unbroken["withdrawal"]
    assert "found before: 1; in the next request: 0" in before and flagged.endswith("EX-2.")
    assert len(out) == 1 and "OUT-0001" in out[0] and "2 clips with captions" in out[0]
    names = [line.rsplit("/", 1)[-1] for line in unbroken["files"]]
    assert names == ["wall-text.docx", "quotes.json", "internal-sheet.docx", "clip-01.srt", "clip-01.vtt", "clip-01.wav", "OUT-0001",
                     "DRAFT-wall-text.docx", "DRAFT-quotes.json", "DRAFT-internal-sheet.docx"]  # fmt: skip
    assert "and 3 more in HERE/given/OUT-0001" in unbroken["files"]


def test_killed_at_every_step_it_goes_on_to_the_same_table(start: Go, unbroken: dict[str, Any]) -> None:
    archive = start("killed")
    for die_at in (
        "Taking", "duplicate", "Transcribing", "Speakers", "Measured", "Quotes", "Stretches", "What may leave", "withdraws",
    ):  # fmt: skip
        with pytest.raises(Killed):
            run(archive, die_at)
        archive.close()
        archive = start("killed")
    assert table(run(archive), archive.folder) == unbroken
    assert archive.records.check(KEEPER) == ()
    archive.close()


def test_killed_inside_a_step_it_does_nothing_twice(start: Go, unbroken: dict[str, Any], monkeypatch: pytest.MonkeyPatch) -> None:
    """After a step's act and before it was noted: speakers, quotes, one of two exports, the withdrawal itself."""
    archive = start("inside")
    for service, act in (("naming", "read"), ("excerpts", "read_heard"), ("consent", "read_closed"), ("exports", "make"), ("consent", "withdraw")):
        owner = getattr(archive, service)
        real = getattr(owner, act)

        def dying(*given: Any, real: Any = real, **named: Any) -> None:
            real(*given, **named)
            raise Killed

        with monkeypatch.context() as patch:
            patch.setattr(owner, act, dying)
            with pytest.raises(Killed):
                run(archive)
        archive.close()
        archive = start("inside")
    assert table(run(archive), archive.folder) == unbroken
    assert len(archive.exports.register(KEEPER)) == 2
    assert [e.action for e in archive.records.list(KEEPER, 1000)].count("withdrawn") == 1
    archive.close()
