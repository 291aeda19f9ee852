"""Words, captions, sound and drawn sound of one mask agree: what the wording hides is silent, to the sample, wherever it plays."""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
import soundfile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import text

from archive.app import Archive
from archive.audio.cut import clip_samples
from archive.db import excerpts, recordings
from archive.db.session import Connection
from archive.domain.quoting import Span
from archive.gate import clear
from archive.gate.pinned import CAPTION_ALONE, Pinned
from archive.gate.reading import Readings
from archive.gate.voices import AS_RECORDED, Voice
from tests import cast
from tests.cast import EDITOR, READER

Stretches = list[tuple[int, int]]


def mutes_of(archive: Archive, code: str, margin_ms: int | None = None) -> Stretches:
    with archive.rooms.db.read() as connection:
        row = recordings.by_code(connection, code)
        assert row is not None
        return Readings(connection, archive.rooms.context()).of(row.id).mutes(margin_ms)


def quiet_at(archive: Archive, code: str, quiet: Stretches) -> None:
    """Put levels on record that are loud but for these stretches."""
    with archive.rooms.db.write() as connection:
        row = recordings.by_code(connection, code)
        assert row is not None
        levels = bytearray([50] * -(-row.duration_ms // 10))
        for start_ms, end_ms in quiet:
            levels[start_ms // 10 : end_ms // 10] = bytes([150] * ((end_ms - start_ms) // 10))
        connection.execute(text("UPDATE measurement SET levels = :l WHERE recording_id = :r"), {"l": bytes(levels), "r": row.id})


def name_at(archive: Archive) -> tuple[int, int]:
    """Where "Walter Brine", undecided, stands in N-21's recording: words of 320 ms, 80 ms apart."""
    words = cast.QUOTES["N-21"].split()
    first = words.index("Walter")
    return 500 + first * cast.WORD_MS, 500 + (first + 2) * cast.WORD_MS - 80


def test_a_mute_reaches_to_the_quiet_that_was_measured(cast_archive: Archive) -> None:
    start, end = name_at(cast_archive)
    quiet_at(cast_archive, "IV-21.1", [(0, start - 250), (end + 200, end + 2_000)])
    assert mutes_of(cast_archive, "IV-21.1") == [(start - 260, end + 210)]


def test_an_old_archive_without_levels_has_the_wide_margin(cast_archive: Archive) -> None:
    start, end = name_at(cast_archive)
    with cast_archive.rooms.db.write() as connection:
        connection.execute(text("UPDATE measurement SET levels = NULL"))
    assert mutes_of(cast_archive, "IV-21.1") == [(start - 120, end + 120)]
    assert mutes_of(cast_archive, "IV-21.1", 200) == [(start - 200, end + 200)]


def test_pages_follow_the_archives_own_margin(cast_archive: Archive) -> None:
    from dataclasses import replace

    with cast_archive.rooms.db.write() as connection:
        connection.execute(text("UPDATE measurement SET levels = NULL"))
    start, end = name_at(cast_archive)
    wider = replace(cast_archive.rooms, options=replace(cast_archive.rooms.options, mute_margin_ms=300))
    assert wider.context().margin_ms == 300
    with cast_archive.rooms.db.read() as connection:
        row = recordings.by_code(connection, "IV-21.1")
        assert row is not None and Readings(connection, wider.context()).of(row.id).mutes() == [(start - 300, end + 300)]


def test_what_is_drawn_and_what_is_played_follow(cast_archive: Archive) -> None:
    start, end = name_at(cast_archive)
    quiet_at(cast_archive, "IV-21.1", [(0, start - 250), (end + 200, end + 2_000)])
    ((low, high),) = mutes_of(cast_archive, "IV-21.1")
    page = cast_archive.recordings.page(READER, "IV-21.1").shown
    pairs = np.frombuffer(page.peaks, dtype=np.int8).reshape(-1, 2)
    assert not pairs[low // page.peak_ms : -(-high // page.peak_ms)].any() and pairs.any()
    sound, rate = soundfile.read(io.BytesIO(cast_archive.recordings.sound(READER, "IV-21.1", low - 500, high + 500)), dtype="int16")
    assert not sound[rate // 2 : -(rate // 2)].any() and sound[: rate // 4].any()
    whole, _ = soundfile.read(io.BytesIO(cast_archive.recordings.sound(EDITOR, "IV-21.1", low - 500, high + 500)), dtype="int16")
    assert whole[rate // 2 : -(rate // 2)].any(), "who decides about the name hears it"


def test_levels_are_kept_when_a_recording_is_taken_in(cast_archive: Archive) -> None:
    """Ingest keeps a byte for each 10 ms (the last one may be shorter)."""
    with cast_archive.rooms.db.read() as connection:
        for row in recordings.everything(connection):
            assert len(recordings.levels_of(connection, row.id)) == -(-row.duration_ms // 10)


@pytest.mark.parametrize(("quiet_after_ms", "lost"), [(200, ""), (290, "“{}”")])
def test_a_word_that_is_read_and_not_heard_is_told_to_whoever_listens(cast_archive: Archive, quiet_after_ms: int, lost: str) -> None:
    """Words of 320 ms, 80 ms apart: 290 ms after the name most of the next word is silent with it, 200 ms after it is not."""
    start, end = name_at(cast_archive)
    quiet_at(cast_archive, "IV-21.1", [(0, start - 20), (end + quiet_after_ms, end + 2_000)])
    words = cast.QUOTES["N-21"].split()
    code = cast_archive.excerpts.choose(EDITOR, "IV-21.1", cast.QUOTES["N-21"], "exhibition")
    (row,) = (r for r in cast_archive.excerpts.list(EDITOR) if r.code == code)
    assert row.leaving is not None
    told = [line for line in row.leaving.hidden if "may be read" in line]
    assert told == ([f"The silence covers words that may be read: {lost.format(words[words.index('Walter') + 2])}. {CAPTION_ALONE}"] if lost else [])


# --- any masks ----------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def reading_room(made_cast: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Archive, Connection]]:
    from tests.conftest import copy_of

    archive = Archive.open(copy_of(made_cast, tmp_path_factory.mktemp("mutes") / "archive"), {}, cast.clock)
    with archive.rooms.db.read() as connection:
        yield archive, connection
    archive.close()


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    masks=st.lists(st.tuples(st.integers(0, 8_000), st.integers(1, 900)).map(lambda p: (p[0], p[0] + p[1])), max_size=4),
    chosen=st.lists(st.booleans(), min_size=16, max_size=16).filter(any),
    margin_ms=st.integers(120, 400),
)
def test_any_masks_and_omissions_give_captions_and_sound_that_agree(
    reading_room: tuple[Archive, Connection], masks: Stretches, chosen: list[bool], margin_ms: int
) -> None:
    """Every masked caption lies in exact zeros of the clip's own samples, on the clip's own clock."""
    archive, connection = reading_room
    row = recordings.by_code(connection, "IV-21.1")
    assert row is not None
    readings = Readings(connection, archive.rooms.context())
    reading = readings.of(row.id)
    reading._masks = masks
    block = reading.utterances[0].block_id
    spans: list[list[int]] = []
    for n in (n for n, yes in enumerate(chosen) if yes):
        if spans and spans[-1][2] == n - 1:
            spans[-1][2] = n
        else:
            spans.append([block, n, n])
    pinned = Pinned(readings, SimpleNamespace(recording_id=row.id, version_id=reading.version_id, spans=spans, wording_sha256="x" * 64, shows="original", translation="", dated="", later_id=None))  # type: ignore[arg-type]
    assert pinned.spans == [Span(*s) for s in spans]
    quote = SimpleNamespace(attribution="", draft=True, draft_reason="", translation=None)
    ask = SimpleNamespace(margin_ms=margin_ms, use="exhibition")
    clip = clear._clip(connection, pinned, 1, quote, ask, Voice(AS_RECORDED))  # type: ignore[arg-type]
    master = archive.rooms.masters.path(clip.master_sha256, clip.extension)
    sound = clip_samples(clip, master)
    hidden = [(s, e) for text_, s, e in clip.caption.words if "[" in text_]
    for start_ms, end_ms in hidden:
        assert not sound[start_ms * 48 : end_ms * 48].any()
    assert len(sound) == sum(p.end_ms - p.start_ms for p in clip.pieces) * 48
    if not masks:
        assert not clip.mutes and not hidden


def test_beside_closed_speech_its_guessed_edge_is_silent(cast_archive: Archive) -> None:
    """The first sound of a closed word may lie before its time: what plays beside it is silent there, on pages and in clips."""
    words = cast.QUOTES["N-21"].split()
    first = words.index("Net")
    start, end = 500 + first * cast.WORD_MS, 500 + (first + 2) * cast.WORD_MS - 80
    with cast_archive.rooms.db.write() as connection:
        connection.execute(text("UPDATE measurement SET levels = NULL"))  # the margin alone
    cast_archive.consent.seal(cast.KEEPER, "IV-21.1", start, end, "asked for")
    page = cast_archive.recordings.page(EDITOR, "IV-21.1").shown
    before, after = ((p.start_ms, p.end_ms) for p in page.playable)
    assert before[1] == start and after[0] == end
    for (low, high), silent in ((before, slice(-24 * 120, None)), (after, slice(0, 24 * 120))):
        sound, rate = soundfile.read(io.BytesIO(cast_archive.recordings.sound(EDITOR, "IV-21.1", low, high)), dtype="int16")
        assert rate == 24_000 and not sound[silent].any() and sound.any()
    code = cast_archive.excerpts.choose(EDITOR, "IV-21.1", "We carried the lantern down", "exhibition")
    with cast_archive.rooms.db.read() as connection:
        pinned = Pinned(Readings(connection, cast_archive.rooms.context()), excerpts.by_code(connection, code))
        assert pinned.pieces()[-1][1] <= start
        assert pinned.muted(120) == [(start - 120, pinned.pieces()[-1][1])]
