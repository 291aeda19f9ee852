"""The standing cast through every output. The list comes from the exports themselves: a new output without a reader here fails."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import docx
import numpy as np
import pytest
import soundfile

from archive.app import Archive, Asked, as_json
from archive.domain.values import Attribution, Role, VoiceWish
from tests import cast
from tests.cast import CAST, EDITOR, THIRD, VIEWERS, Member
from tests.conftest import copy_of

HELD = [m for m in CAST if m.held]
NO_WORDS = [m for m in CAST if m.held or not m.words_allowed]
FREE = [m for m in CAST if m not in NO_WORDS]


def _docx(path: Path) -> str:
    found = docx.Document(str(path))
    texts = [p.text for p in found.paragraphs]
    texts += [c.text for t in found.tables for r in t.rows for c in r.cells]
    for section in found.sections:
        texts += [p.text for p in (*section.header.paragraphs, *section.footer.paragraphs)]
    core = found.core_properties
    return "\n".join([*texts, core.author or "", core.title or "", core.comments or "", core.keywords or ""])


def _plain(path: Path) -> str:
    return path.read_text(encoding="utf-8")


def _wav(path: Path) -> str:
    assert soundfile.info(path).frames > 0
    return path.read_bytes().decode("latin-1")


READERS: dict[str, Callable[[Path], str]] = {
    "wall-text.docx": _docx,
    "quotes.json": _plain,
    "for-the-team/internal-sheet.docx": _docx,
    "clip.wav": _wav,
    "clip.vtt": _plain,
    "clip.srt": _plain,
}


def kind_of(name: str) -> str:
    """The output a file belongs to, without draft mark and number."""
    return re.sub(r"clip-\d+", "clip", name.replace("DRAFT-", ""))


def quoted(archive: Archive, member: Member) -> str:
    """Choose a member's words as if nothing were held yet (the quote was chosen before), by a keeper who opened them."""
    opened = cast.Viewer("K-01", Role.KEEPER, opened=True)
    return archive.excerpts.choose(opened, cast.recording_of(member.code), member.text, "exhibition")


@dataclass(frozen=True)
class Given:
    """Everything the cast may give, exported in one go. `texts`: file → text; `reading`: what was read aloud by somebody else."""

    folder: Path
    texts: dict[str, str]
    reading: Path

    def clip_of(self, member: Member) -> Path:
        """The clip of a member who is named in full."""
        quotes = json.loads(self.texts["DRAFT-quotes.json"])["quotes"]
        (n,) = [n for n, q in enumerate(quotes, 1) if q["attribution"] == member.name]
        return self.folder / f"DRAFT-clip-{n:02d}.wav"


@pytest.fixture(scope="module")
def given(made_cast: Path, tmp_path_factory: pytest.TempPathFactory) -> Given:
    """Made once for all that only look at it."""
    base = tmp_path_factory.mktemp("given")
    archive = cast.in_a_hurry(Archive.open(copy_of(made_cast, base / "archive"), {}, cast.clock))
    codes = [quoted(archive, m) for m in CAST]
    reading = cast.reading_file(base / "reading.wav")
    cast.read_aloud(archive, reading)
    report = archive.exports.make(EDITOR, codes, "exhibition", base / "out")
    texts = {}
    for path in map(Path, report.files):
        name = path.relative_to(report.folder).as_posix()
        assert kind_of(name) in READERS, f"{name}: a new output needs a reader in this test"
        texts[name] = READERS[kind_of(name)](path)
    assert {kind_of(n) for n in texts} == set(READERS), "some output was not made at all"
    archive.close()
    return Given(base / "out", texts, reading)


def test_what_is_held_back_is_in_no_output(given: Given) -> None:
    for member in NO_WORDS:
        for name, text in given.texts.items():
            assert member.secret not in text.casefold(), f"{member.code} in {name}"


def test_what_is_free_is_in_the_outputs_for_eyes(given: Given) -> None:
    for member in FREE:
        for name in ("DRAFT-wall-text.docx", "DRAFT-quotes.json", "for-the-team/DRAFT-internal-sheet.docx"):
            assert member.secret in given.texts[name].casefold(), f"{member.code} not in {name}"


def test_nobody_is_named_who_asked_not_to_be(given: Given) -> None:
    hidden = [m.name for m in CAST if m.attribution != Attribution.FULL] + [THIRD[1]]
    hidden += [m.name for m in NO_WORDS]
    for full in hidden:
        for part in (full, *full.split()):
            for name, text in given.texts.items():
                assert part.casefold() not in name.casefold()
                assert not re.search(rf"(?i)\b{part}\b", text), f"{part} in {name}"


def test_outside_eyes_see_no_codes(given: Given) -> None:
    for name, text in given.texts.items():
        if not name.startswith("for-the-team/"):
            assert not re.search(r"\b[NPIK]-\d\d\b|\bEX-\d|\bOUT-\d|\bA-N\d|IV-\d", text), name


def test_the_unnamed_have_no_code_in_anything_that_leaves(given: Given) -> None:
    """Not on the team's own sheet either, nor what leads to them: recording, agreement. Labels are fresh for each item."""
    unnamed = [m for m in CAST if m.attribution == Attribution.UNNAMED]
    assert unnamed
    for member in unnamed:
        for name, text in given.texts.items():
            for lead in (member.code, f"A-{member.code}", cast.recording_of(member.code), THIRD[0]):
                assert lead not in text and lead not in name, f"{lead} in {name}"
    assert "unnamed speaker, item" in given.texts["for-the-team/DRAFT-internal-sheet.docx"]


def test_a_voice_that_is_not_permitted_is_no_clip(given: Given) -> None:
    allowed = [m for m in FREE if m.read or (m.voice_allowed and m.voice != VoiceWish.NOT_HEARD)]
    assert sum(n.endswith(".wav") for n in given.texts) == len(allowed)
    assert all("tarpaulin" not in t.casefold() for n, t in given.texts.items() if n.endswith((".vtt", ".srt")))


def strongest_hz(path: Path) -> float:
    """The strongest frequency of a sound, by numpy's Fourier transform, without the draft's beep (it comes in the first second)."""
    sound, rate = soundfile.read(str(path))
    spectrum = np.abs(np.fft.rfft(sound[rate:]))
    return float(np.fft.rfftfreq(len(sound) - rate, 1 / rate)[int(spectrum.argmax())])


def loudness_over_time(path: Path) -> np.ndarray:
    """Mean level of each 50 ms."""
    sound, rate = soundfile.read(str(path))
    step = rate // 20
    return np.sqrt((sound[: len(sound) // step * step].reshape(-1, step) ** 2).mean(axis=1))


@pytest.mark.parametrize("member", [m for m in FREE if m.voice_allowed and m.attribution == Attribution.FULL], ids=lambda m: m.code)
def test_a_disguised_voice_leaves_as_no_recorded_sound(given: Given, member: Member) -> None:
    """Who is heard as recorded gives the recorded tone; who is heard disguised gives another, at least a tenth away."""
    away = abs(strongest_hz(given.clip_of(member)) / cast.tone_hz(member) - 1)
    assert away > 0.1 if member.voice == VoiceWish.DISGUISED else away < 0.01, away
    assert not list(given.folder.glob(f"*{member.code}*"))


def test_a_disguise_is_told_to_the_team_with_what_it_does_not_do(given: Given) -> None:
    assert any(m.voice == VoiceWish.DISGUISED for m in FREE)
    assert "disguised" in given.texts["for-the-team/DRAFT-internal-sheet.docx"]


def test_a_reading_leaves_as_a_reading_and_the_speaker_s_own_voice_does_not(given: Given) -> None:
    (member,) = [m for m in CAST if m.read]
    clip = given.clip_of(member)
    assert abs(soundfile.info(str(clip)).duration - soundfile.info(str(given.reading)).duration) < 0.025, "the whole reading"
    heard, read = loudness_over_time(clip), loudness_over_time(given.reading)
    after = slice(40, min(len(heard), len(read)))  # after the draft's beep
    assert np.corrcoef(heard[after], read[after])[0, 1] > 0.9, "it is the reading"
    sound, rate = soundfile.read(str(clip))
    spectrum, hz = np.abs(np.fft.rfft(sound)) ** 2, np.fft.rfftfreq(len(sound), 1 / rate)
    near = np.abs(hz - cast.tone_hz(member)) < 2
    assert spectrum[near].sum() < 0.05 * spectrum.sum(), "nothing of the recorded tone, which is nearly all of the recording"
    # The one marked line of a draft's .srt says that it is a draft; a final one says who reads (tests/services/test_voices.py).
    assert f"<v {member.name}, read by {cast.READER_CREDIT}>" in given.texts[clip.with_suffix(".vtt").name]
    (quote,) = [q for q in json.loads(given.texts["DRAFT-quotes.json"])["quotes"] if q["attribution"] == member.name]
    assert quote["read_by"] == cast.READER_CREDIT
    assert all(not q["read_by"] for q in json.loads(given.texts["DRAFT-quotes.json"])["quotes"] if q is not quote and q["attribution"] != member.name)
    assert f"read by {cast.READER_CREDIT}" in given.texts["for-the-team/DRAFT-internal-sheet.docx"]


def test_all_is_draft_until_somebody_heard_it(given: Given, cast_archive: Archive, tmp_path: Path) -> None:
    assert all("DRAFT-" in name for name in given.texts)
    archive, code = cast_archive, quoted(cast_archive, CAST[0])
    archive.excerpts.tick_heard(EDITOR, code)
    assert archive.exports.make(EDITOR, [code], "exhibition", tmp_path / "once").draft, "a name is masked: one person is not enough"
    assert archive.excerpts.tick_second(cast.KEEPER, code, "nobody")
    report = archive.exports.make(EDITOR, [code], "exhibition", tmp_path / "final")
    assert not report.draft and not any("DRAFT" in f for f in report.files)
    assert "DRAFT" not in _docx(Path(next(f for f in report.files if f.endswith("wall-text.docx"))))


@pytest.mark.parametrize("viewer", VIEWERS, ids=lambda v: v.role.value)
@pytest.mark.parametrize("member", HELD, ids=lambda m: m.held)
def test_held_speech_is_shown_to_nobody(cast_archive: Archive, viewer: cast.Viewer, member: Member) -> None:
    code = cast.recording_of(member.code)
    page = cast_archive.recordings.page(viewer, code)
    everything = as_json(page) + as_json(cast_archive.finding.ask(viewer, Asked(member.secret)))
    assert member.secret not in everything.casefold()
    assert not page.shown.playable and set(page.shown.peaks) <= {0}
    assert not page.tags


@pytest.mark.parametrize("member", HELD, ids=lambda m: m.held)
def test_a_keeper_opens_held_speech_on_record(cast_archive: Archive, member: Member) -> None:
    code = cast.recording_of(member.code)
    cast_archive.recordings.open_closed(cast.KEEPER, code, "to decide about a request")
    opened = cast.Viewer("K-01", Role.KEEPER, opened=True)
    page = cast_archive.recordings.page(opened, code)
    assert member.secret in " ".join(w.text for u in page.shown.utterances for w in u.words).casefold()
    assert cast_archive.records.list(cast.KEEPER, 1)[0].action == "closed speech opened"


@pytest.mark.parametrize("member", FREE, ids=lambda m: m.code)
def test_readers_see_no_name_that_is_hidden(cast_archive: Archive, member: Member) -> None:
    asked = cast_archive.finding.ask(cast.READER, Asked(member.secret))
    page = cast_archive.recordings.page(cast.READER, cast.recording_of(member.code))
    choices = cast_archive.finding.choices(cast.READER)
    text = as_json(asked) + as_json(page) + json.dumps(choices)
    hidden = [m.name for m in CAST if m.attribution != Attribution.FULL] + [THIRD[1]]
    for name in hidden:
        for part in name.split():
            assert not re.search(rf"(?i)\b{part}\b", text), part
    assert "N-25" not in text, "an unnamed narrator has no code for readers"


def test_a_name_cannot_be_found_by_who_may_not_read_it(cast_archive: Archive) -> None:
    assert cast_archive.finding.ask(EDITOR, Asked("Brine")).total == 1
    assert cast_archive.finding.ask(cast.READER, Asked("Brine")).total == 0
    assert cast_archive.finding.ask(cast.READER, Asked('"and held"')).total == 0, "no phrase reaches across a mask"
