"""Listening back: finished clips, heard again by the real engine, against the captions that leave with them.

Outside check: the scripts of sample_media, written before they were spoken, are the captions; what is planted is cut from other
places of the same recordings. Sound made on the spot has known words or none.
"""

from __future__ import annotations

import csv
import os
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import pytest

from archive.app import Archive
from archive.audio.cut import make_clip
from archive.db import audit
from archive.domain.cleared import GATE_TOKEN, ClearedCaption, ClearedClip, ClearedExport, ForbiddenName, PlayStretch
from archive.domain.values import Word
from archive.errors import ModelMissing, ScanRefused
from archive.gate.scan import matcher_for
from archive.rules.listened import A_NAME, EXTRA, IN_A_MUTE
from archive.services import listening
from archive.services.listening import DID_NOT, HEARD_NOTHING, UNFINISHED, Listening, Task
from tests import cast
from tests.audio import sounds
from tests.conftest import ONE_THREAD

SAMPLES = Path(__file__).resolve().parents[2] / "sample_media"
ROOT = SAMPLES.parent
WITHHELD = "[name withheld]"
NAMES = tuple(
    ForbiddenName(text, as_name=single)
    for full in ("Walter Hobbs", "Tom Fletcher", "Lena Marsh", "Jack Mallory")
    for text, single in ((full, False), *((part, True) for part in full.split()))
)
KINDS = {"TW-01": "flac", "TW-05": "mp3", "TW-06": "flac", "TW-08": "flac"}
# (recording, from s, to s) of whole utterances of the scripts: two narrators and the interviewer, FLAC and MP3.
FAITHFUL = (
    ("TW-01", 14.479, 18.476), ("TW-01", 38.779, 44.033), ("TW-01", 51.351, 58.696), ("TW-01", 69.483, 73.150),
    ("TW-01", 114.370, 117.571), ("TW-01", 126.026, 131.578), ("TW-01", 131.885, 138.686), ("TW-01", 170.852, 176.541),
    ("TW-06", 47.282, 54.203), ("TW-06", 54.749, 57.798), ("TW-06", 71.496, 80.083), ("TW-06", 80.457, 86.486),
    ("TW-06", 99.392, 105.865), ("TW-06", 106.206, 112.717), ("TW-08", 15.528, 24.512), ("TW-08", 54.954, 59.146),
    ("TW-08", 89.294, 96.236), ("TW-08", 110.164, 115.949), ("TW-05", 16.428, 21.674), ("TW-05", 45.201, 49.298),
    ("TW-05", 49.763, 57.486), ("TW-05", 57.923, 66.324),
)  # fmt: skip
NAMED = ("TW-08", 28.005, 36.873)  # "I remember Constable Hobbs. Walter Hobbs. He lived four doors from us, …"


@dataclass(frozen=True)
class Made:
    clip: ClearedClip
    path: Path


def script(name: str, start_s: float) -> list[str]:
    with open(SAMPLES / "scripts" / f"{name}.csv", encoding="utf-8", newline="") as stream:
        return next(line["words"] for line in csv.DictReader(stream) if float(line["start_s"]) == start_s).split()


def caption(words: Sequence[str], whole_ms: int) -> tuple[tuple[str, int, int], ...]:
    """Words over the clip, each as long as its letters are."""
    sizes = [len(w) + 2 for w in words]
    edges = [whole_ms * sum(sizes[:n]) // sum(sizes) for n in range(len(words) + 1)]
    return tuple((w, edges[n], edges[n + 1]) for n, w in enumerate(words))


def cut(
    folder: Path, name: str, start_s: float, end_s: float, words: Sequence[str] | None = None, mutes: Sequence[tuple[int, int]] = (),
    disguised: bool = False, said_from: float | None = None,
) -> Made:  # fmt: skip
    """A clip of a sample with these caption words (the script's own where none are given)."""
    start_ms, end_ms = round(start_s * 1000), round(end_s * 1000)
    captions = caption(words if words is not None else script(name, start_s if said_from is None else said_from), end_ms - start_ms)
    item = len(list(folder.glob("*.wav"))) + 1
    clip = ClearedClip(
        token=GATE_TOKEN, item=item, master_sha256="0" * 64, extension=KINDS[name], channels=(), draft=False, disguised=disguised,
        pieces=(PlayStretch(start_ms, end_ms),), mutes=tuple(PlayStretch(*m) for m in mutes),
        caption=ClearedCaption(token=GATE_TOKEN, item=item, speaker="", words=captions, draft=False),
    )  # fmt: skip
    path = folder / f"clip-{item:02d}.wav"
    make_clip(clip, SAMPLES / f"{name}.{KINDS[name]}", path, disguise_seed=2)
    return Made(clip, path)


def export_of(made: Sequence[Made]) -> ClearedExport:
    return ClearedExport(
        token=GATE_TOKEN, code="OUT-0001", exhibition="Marigold", use="exhibition", made_on=cast.TODAY.date(), quotes=(), insides=(),
        clips=tuple(m.clip for m in made), forbidden=NAMES,
    )  # fmt: skip


@pytest.fixture(scope="module")
def heard(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Made | list[Word]]:
    """Every clip of this module cut, and heard once by one child: name → the clip, and "name heard" → its words."""
    folder = tmp_path_factory.mktemp("clips")
    masked = ["I", "remember", "Constable", f"{WITHHELD}.", *["He", "lived", "four", "doors", "from", "us,", "on", "Ropewalk,", "and", "his", "wife", "taught", "my", "sister", "the", "piano."]]
    made = {f"faithful {n}": cut(folder, *where) for n, where in enumerate(FAITHFUL)}
    made["a name that was not muted"] = cut(folder, *NAMED, masked)
    made["a name that was muted"] = cut(folder, *NAMED, masked, [(28_900, 31_500)])
    made["a sentence more"] = cut(folder, "TW-01", 126.026, 138.686)  # the captions have only the first of two
    made["the end of a sentence more"] = cut(folder, "TW-01", 131.885, 138.686, script("TW-01", 131.885)[:-4])
    made["disguised"] = cut(folder, "TW-06", 106.206, 112.717, disguised=True)
    made["disguised, a name not muted"] = cut(folder, *NAMED, masked, disguised=True)
    sounds.write(folder / "noise.wav", sounds.noise(3, -40))
    made["nobody speaks"] = Made(made["disguised"].clip, folder / "noise.wav")
    rooms = Archive.create(tmp_path_factory.mktemp("empty") / "a", cast.KEEPER, "n", "e", True, ONE_THREAD, cast.clock).rooms
    words = Listening(rooms)._heard([(m.path, "en") for m in made.values()])
    return {**made, **{f"{name} heard": found for name, found in zip(made, words, strict=True)}}


def back(heard: dict[str, Made | list[Word]], *names: str) -> str:
    made = [m for m in (heard[n] for n in names) if isinstance(m, Made)]
    answer = Listening(None, hear=lambda tasks: [heard[f"{n} heard"] for n in names])  # type: ignore[arg-type, misc, return-value]
    return answer.back(export_of(made), [(m.clip, m.path) for m in made], matcher_for(NAMES))


def test_faithful_captions_are_not_refused(heard: dict[str, Made | list[Word]]) -> None:
    """22 clips, none of them refused: 20 were asked for."""
    assert back(heard, *(f"faithful {n}" for n in range(len(FAITHFUL)))) == HEARD_NOTHING


@pytest.mark.parametrize(
    ("planted", "what"),
    [
        ("a name that was not muted", A_NAME), ("a sentence more", EXTRA), ("the end of a sentence more", EXTRA),
        ("disguised, a name not muted", A_NAME),
    ],
)  # fmt: skip
def test_what_is_planted_is_refused_with_its_time_and_without_its_words(heard: dict[str, Made | list[Word]], planted: str, what: str) -> None:
    with pytest.raises(ScanRefused) as told:
        back(heard, "faithful 0", planted)
    assert any(what in reason for reason in told.value.reasons)
    made = heard[planted]
    assert isinstance(made, Made) and all(made.path.name in reason and ", at 0:0" in reason for reason in told.value.reasons)
    words = " ".join([told.value.message, *told.value.reasons, told.value.remedy])
    assert not any(name in words for name in ("Walter", "Hobbs", "stones"))


def test_what_was_muted_is_not_heard(heard: dict[str, Made | list[Word]]) -> None:
    assert back(heard, "a name that was muted") == HEARD_NOTHING


def test_a_disguised_voice_is_listened_to_as_well(heard: dict[str, Made | list[Word]]) -> None:
    assert back(heard, "disguised") == HEARD_NOTHING
    words = heard["disguised heard"]
    assert isinstance(words, list) and len(words) > 10, "it was understood"


def test_noise_has_no_words(heard: dict[str, Made | list[Word]]) -> None:
    assert heard["nobody speaks heard"] == []


# --- around the engine --------------------------------------------------------------------------------------------------


@pytest.fixture
def archive(tmp_path: Path) -> Archive:
    return Archive.create(tmp_path / "archive", cast.KEEPER, "n", "e", True, {}, cast.clock)


def one_clip(folder: Path) -> tuple[ClearedExport, list[tuple[ClearedClip, Path]]]:
    made = cut(folder, *FAITHFUL[0])
    return export_of([made]), [(made.clip, made.path)]


def test_without_a_model_it_says_so_and_goes_on(archive: Archive, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    export, clips = one_clip(tmp_path)

    def missing(name: str, models_dir: Path) -> None:
        raise ModelMissing(f"The speech model “{name}” is not here.")

    monkeypatch.setattr(listening.models, "find", missing)
    assert archive.exports.listening.back(export, clips, matcher_for(NAMES)) == DID_NOT


def test_a_language_that_the_model_does_not_know_is_said_too(archive: Archive, tmp_path: Path) -> None:
    """By the real child."""
    export, clips = one_clip(tmp_path)
    told = Listening(archive.rooms, hear=lambda tasks: archive.exports.listening._heard([(path, "xx") for path, _ in tasks]))
    assert "did not listen again" in told.back(export, clips, matcher_for(NAMES))


def test_what_was_not_heard_to_the_end_is_refused(archive: Archive, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    export, clips = one_clip(tmp_path)
    monkeypatch.setattr(listening, "START_S", 0.05)
    monkeypatch.setattr(listening, "SECONDS_A_SECOND", 0.0)
    with pytest.raises(ScanRefused, match=UNFINISHED[:20]):
        archive.exports.listening.back(export, clips, matcher_for(NAMES))


def test_a_child_that_dies_is_refused(archive: Archive, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    export, clips = one_clip(tmp_path)
    clips[0][1].write_bytes(b"RIFF no sound")
    with pytest.raises(ScanRefused, match=UNFINISHED[:20]):
        archive.exports.listening.back(export, clips, matcher_for(NAMES))


def test_no_clip_no_sentence(archive: Archive) -> None:
    assert archive.exports.listening.back(export_of([]), [], matcher_for(NAMES)) == ""


def test_the_asking_process_never_loads_the_engine() -> None:
    """The web's process asks; only the child imports the engine."""
    told = "import sys, archive.app, archive.services.listening; print('faster_whisper' in sys.modules)"
    done = subprocess.run(
        [sys.executable, "-c", told], cwd=ROOT, env=os.environ | {"PYTHONPATH": str(ROOT)}, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "False"


# --- in an export -------------------------------------------------------------------------------------------------------


def hears(words: str, asked: list[Task] | None = None) -> listening.Hear:
    def hear(tasks: Sequence[Task]) -> list[list[Word]]:
        if asked is not None:
            asked.extend(tasks)
        return [[Word(t, 500 + n * 400, 820 + n * 400, 0.9) for n, t in enumerate(words.split())] for _ in tasks]

    return hear


def quoted(archive: Archive) -> str:
    return archive.excerpts.choose(cast.EDITOR, cast.recording_of("N-21"), cast.QUOTES["N-21"], "exhibition")


def test_an_export_is_listened_to_and_says_so(cast_archive: Archive, tmp_path: Path) -> None:
    import docx

    asked: list[Task] = []
    said = cast.QUOTES["N-21"].replace("Walter Brine", "")
    cast_archive.exports.listening = Listening(cast_archive.rooms, hear=hears(said, asked))
    report = cast_archive.exports.make(cast.EDITOR, [quoted(cast_archive)], "exhibition", tmp_path / "out")
    assert report.listened == HEARD_NOTHING and [(p.name, lang) for p, lang in asked] == [("DRAFT-clip-01.wav", "en")]
    sheet = docx.Document(str(tmp_path / "out" / "for-the-team" / "DRAFT-internal-sheet.docx"))
    assert HEARD_NOTHING in [p.text for p in sheet.paragraphs]
    outside = docx.Document(str(tmp_path / "out" / "DRAFT-wall-text.docx"))
    assert not any("our own computer" in p.text.lower() for p in outside.paragraphs)


@pytest.mark.parametrize(("heard_words", "what"), [("We carried Walter Brine down", A_NAME), ("We carried the lantern down and she never paid him", EXTRA), ("We carried the lantern down Net Row in 1968 and waiter", IN_A_MUTE)])
def test_what_is_heard_refuses_the_whole_export(cast_archive: Archive, tmp_path: Path, heard_words: str, what: str) -> None:
    code = quoted(cast_archive)
    cast_archive.exports.listening = Listening(cast_archive.rooms, hear=hears(heard_words))
    with pytest.raises(ScanRefused) as told:
        cast_archive.exports.make(cast.EDITOR, [code], "exhibition", tmp_path / "out")
    assert any(what in reason and "clip-01.wav" in reason for reason in told.value.reasons)
    assert "Brine" not in " ".join(told.value.reasons) and told.value.exit_code == 5
    assert not (tmp_path / "out").exists() and cast_archive.exports.register(cast.EDITOR) == ()
    with cast_archive.rooms.db.read() as connection:
        (entry,) = [e for e in audit.entries(connection) if e.action == "export held back"]
    assert entry.detail["excerpts"] == [code] and "Brine" not in str(entry.detail)
    assert told.value.excerpts == (code,)


def test_silence_where_words_only_leave(cast_archive: Archive, tmp_path: Path) -> None:
    code = cast_archive.excerpts.choose(cast.EDITOR, cast.recording_of("N-26"), cast.QUOTES["N-26"], "exhibition")
    report = cast_archive.exports.make(cast.EDITOR, [code], "exhibition", tmp_path / "out")
    assert report.listened == "" and not list((tmp_path / "out").glob("*.wav"))


