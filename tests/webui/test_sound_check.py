"""The sound check through services, commands and pages: what a viewer may not hear is in no stretch, figure, picture or table of it."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
import soundfile

from archive.app import Archive
from archive.db import recordings
from archive.domain.values import Viewer
from archive.errors import NotAllowed, NotFound
from tests.webui.conftest import Enter, post
from tests.webui.town import EDITOR, KEEPER, READER

RATE_HZ = 16_000
LOUD_S = (5, 15, 24)  # here it is clipped for a second, louder than anything else
SEALED_MS = (14_000, 17_000)


@pytest.fixture
def code(archive: Archive, tmp_path: Path) -> str:
    """A recording of half a minute in N-05's interview, clipped three times; around the second time it is sealed."""
    t = np.arange(30 * RATE_HZ) / RATE_HZ
    sound = 0.1 * np.sin(2 * np.pi * 300 * t) * (0.6 + 0.4 * np.sin(2 * np.pi * 3 * t))
    sound += 0.001 * np.random.default_rng(4).standard_normal(len(t))
    for second in LOUD_S:
        sound[second * RATE_HZ : (second + 1) * RATE_HZ] = np.clip(sound[second * RATE_HZ : (second + 1) * RATE_HZ] * 50, -1, 1)
    card = tmp_path / "card"
    card.mkdir()
    soundfile.write(str(card / "loud.wav"), sound, RATE_HZ, subtype="PCM_24")
    (taken,) = archive.ingest.take(EDITOR, [card / "loud.wav"], "TW-05")
    archive.consent.seal(KEEPER, taken.recording, *SEALED_MS, "asked for in the interview")
    return taken.recording


def places(archive: Archive, viewer: Viewer, code: str) -> list[tuple[int, int]]:
    return [p for g in archive.sound_check.one(viewer, code).groups if g.kind == "clipped" for p in g.places]


@pytest.mark.parametrize("viewer", [KEEPER, EDITOR, READER], ids=lambda v: v.role.value)
def test_closed_sound_is_in_nobody_s_sound_check(archive: Archive, code: str, viewer: Viewer) -> None:
    found = places(archive, viewer, code)
    assert len(found) == 2
    assert all(abs(s - at * 1000) <= 100 and abs(e - at * 1000 - 1000) <= 100 for (s, e), at in zip(found, (5, 24), strict=True))
    figures = archive.sound_check.one(viewer, code).figures
    assert figures is not None and figures.heard_ms == 30_000 - (SEALED_MS[1] - SEALED_MS[0])


def test_a_problem_that_reaches_into_closed_sound_ends_at_its_edge(archive: Archive, code: str) -> None:
    archive.consent.seal(KEEPER, code, 24_400, 24_700, "a name")
    found = places(archive, EDITOR, code)
    assert [(s // 100, e // 100) for s, e in found[1:]] == [(240, 244), (247, 250)]


def test_what_is_muted_for_a_reader_is_in_no_reader_s_check(archive: Archive) -> None:
    """TW-01.1: somebody is named whom nobody decided about; a makers' finding in the mute is not a reader's."""
    with archive.rooms.db.write() as connection:
        row = recordings.by_code(connection, "TW-01.1")
        assert row is not None
        (start_ms, end_ms, _), *_ = archive.naming.waiting(EDITOR, "TW-01.1")
        recordings.measured_again(connection, row.id, flags=[["wind", start_ms, end_ms, "Wind."], ["wind", 7_000, 8_000, "Wind."]])
    assert len(archive.sound_check.one(EDITOR, "TW-01.1").problems) == 2
    assert [(p.start_ms, p.end_ms) for p in archive.sound_check.one(READER, "TW-01.1").problems] == [(7_000, 8_000)]


def test_nothing_to_hear_is_no_check(archive: Archive) -> None:
    """TW-07.1: nobody agreed to anything. Whether the recording is there is not told either."""
    for code in ("TW-07.1", "XX-99.1"):
        with pytest.raises(NotFound):
            archive.sound_check.one(READER, code)
    assert "TW-07.1" not in {c.code for c in archive.sound_check.list(READER)}


def test_a_list_tells_readers_no_places(archive: Archive, code: str) -> None:
    flags = {viewer: next(r.flags for r in archive.recordings.list(viewer) if r.code == code) for viewer in (EDITOR, READER)}
    assert "clipped in places" in flags[EDITOR] and "clipped in places" not in flags[READER]


def test_what_was_taken_in_before_is_measured_when_asked(archive: Archive, code: str) -> None:
    """An archive of before has no levels for the ear: problems are told, figures are not; then they are as if measured today."""
    today = archive.sound_check.one(KEEPER, code)
    with archive.rooms.db.write() as connection:
        row = recordings.by_code(connection, code)
        assert row is not None
        recordings.measured_again(connection, row.id, ears=None, flags=[])
        levels = recordings.levels_of(connection, row.id)
    before = archive.sound_check.one(KEEPER, code)
    assert before.figures is None and before.verdict is None and before.problems == ()
    assert archive.sound_check.not_checked(EDITOR) == (code,)
    with pytest.raises(NotAllowed):
        archive.sound_check.again(READER, code)
    archive.sound_check.again(EDITOR, code)
    assert archive.sound_check.one(KEEPER, code) == today
    assert archive.sound_check.not_checked(EDITOR) == () and archive.records.list(KEEPER, 1)[0].action == "sound checked"
    with archive.rooms.db.read() as connection:
        assert recordings.levels_of(connection, row.id) == levels


# -- the page -----------------------------------------------------------------------------------------------------------------
def section(page: str) -> str:
    return page.split('id="sound-check"')[1].split("</section>")[0]


@pytest.mark.parametrize("viewer", [KEEPER, READER], ids=lambda v: v.role.value)
def test_the_picture_and_the_table_say_the_same(enter: Enter, code: str, viewer: Viewer) -> None:
    shown = section(enter(viewer.name).get(f"/recordings/{code}").text)
    assert "The sound</h2>" in shown and "clipped, 2 stretches" in shown
    bars = [(float(x), float(w)) for x, w in re.findall(r'<rect x="([\d.]+)%" y="0" width="([\d.]+)%" height="12" fill="url\(#mark-clipped\)"', shown)]
    assert [round(x * 0.3) for x, _ in bars] == [5, 24] and all(abs(w * 0.3 - 1) < 0.2 for _, w in bars)
    assert [int(ms) // 1000 for ms in re.findall(r'data-at="(\d+)"', shown)] in ([5, 24], [4, 24], [5, 23], [4, 23])
    assert re.findall(r"<text[^>]*>([\d:]+)</text>", shown) == ["0:00", "0:10", "0:20"] and 'role="img"' in shown
    assert "Use the words only here" in shown, "what a person can do"


def test_it_is_measured_again_from_the_page(enter: Enter, archive: Archive, code: str) -> None:
    today = archive.sound_check.one(KEEPER, code)
    client = enter(EDITOR.name)
    page = f"/recordings/{code}"
    for _ in range(2):  # pressed twice, it is one job
        status, text = post(client, page, f"{page}/sound-check")
        assert status == 200 and "waits to be measured again" in text
    (job,) = [j for j in archive.jobs.list(EDITOR) if j.kind == "sound"]
    assert "Measure again the sound of" in client.get("/upkeep").text and (job.subject, job.total) == (code, 30_000)
    archive.sound_check.again(EDITOR, code)  # the command meanwhile: the same job
    assert [(j.id, j.state, j.percent) for j in archive.jobs.list(EDITOR) if j.kind == "sound"] == [(job.id, "done", 100)]
    assert archive.sound_check.one(KEEPER, code) == today
    reader = enter(READER.name)
    assert "Measure the sound again" not in reader.get(page).text and post(reader, page, f"{page}/sound-check")[0] == 403


def test_the_wave_is_flat_where_it_is_closed(enter: Enter, code: str) -> None:
    page = enter(EDITOR.name).get(f"/recordings/{code}").text
    path = re.search(r'class="sound" d="([^"]+)"', section(page))
    assert path is not None
    points = [tuple(map(float, p)) for p in re.findall(r"([\d.]+) (-?[\d.]+)", path[1])]
    closed = [y for x, y in points if SEALED_MS[0] * 1200 / 30_000 + 2 < x < SEALED_MS[1] * 1200 / 30_000 - 2]
    assert closed and max(closed) - min(closed) < 1.0
    assert min(y for x, y in points if 15 * 40 < x < 16 * 40) > 58, "the second loud stretch is closed"
    assert min(y for x, y in points if 5 * 40 < x < 6 * 40) < 1


def test_a_recording_without_problems_says_so(enter: Enter) -> None:
    shown = section(enter(READER.name).get("/recordings/TW-06.1").text)
    assert "No problem was found in what you may hear." in shown and "<table" not in shown
