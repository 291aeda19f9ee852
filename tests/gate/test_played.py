"""What is listened to before a tick is what the clip has, to the sample: also where the words were transcribed anew since."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
import soundfile

from archive.app import Archive
from archive.audio.cut import CLIP_RATE_HZ, clip_samples
from archive.db import consent_rows, people
from archive.domain.values import Attribution, Review, VoiceWish
from archive.errors import NotFound, Refused
from archive.gate.clear import clear
from tests import cast
from tests.cast import EDITOR, KEEPER
from tests.gate.test_what_may_not_pass import name_at

TOLD = "and Walter Brine held the rope"


def heard(archive: Archive, code: str, start_ms: int, end_ms: int) -> np.ndarray:
    pcm, rate = soundfile.read(io.BytesIO(archive.exports.listen(EDITOR, code, start_ms, end_ms)), dtype="int16")
    assert rate == CLIP_RATE_HZ
    return np.asarray(pcm)


def of_the_clip(archive: Archive, code: str) -> np.ndarray:
    """The samples of the cleared clip, as 16 bits, before bed and loudness."""
    with archive.rooms.db.read() as connection:
        options = archive.rooms.options
        (clip,) = clear(connection, [code], "exhibition", archive.rooms.context(), options.name, options.mute_margin_ms, "X-1").export.clips
    samples = clip_samples(clip, archive.rooms.masters.path(clip.master_sha256, clip.extension))
    return np.rint(samples.astype(np.float64) * 32767).astype(np.int16)


def pieces(archive: Archive, code: str) -> list[tuple[int, int]]:
    (row,) = [r for r in archive.excerpts.list(EDITOR) if r.code == code]
    assert row.leaving is not None
    return [(p.start_ms, p.end_ms) for p in row.leaving.pieces]


def change(archive: Archive, what: str) -> None:
    if what == "another transcript":
        cast.give_words(archive, "IV-21.1", [("N-21", cast.words_of(cast.QUOTES["N-21"], 583))])
    if what == "closed beside":
        start, _ = name_at(archive, "IV-21.1", "for us")
        archive.consent.seal(KEEPER, "IV-21.1", start, start + 700, "asked for")
    if what == "kept":
        archive.naming.decide(KEEPER, "IV-21.1", *name_at(archive, "IV-21.1", "Walter Brine"), "P-41", "keep")


@pytest.mark.parametrize("quote", [TOLD, "We carried the lantern […] and Walter Brine held"])
@pytest.mark.parametrize("what", ["", "another transcript", "closed beside", "kept"])
def test_what_is_heard_is_the_clip_to_the_sample(cast_archive: Archive, what: str, quote: str) -> None:
    archive = cast_archive
    code = archive.excerpts.choose(EDITOR, "IV-21.1", quote, "exhibition")
    change(archive, what)
    clip = of_the_clip(archive, code)
    played = np.concatenate([heard(archive, code, *piece) for piece in pieces(archive, code)])
    assert np.array_equal(played, clip) and np.abs(clip).max() > 1000
    assert bool((clip == 0).sum() > 4800) is (what != "kept"), "a mute is there"


def test_played_in_parts_it_is_the_same(cast_archive: Archive) -> None:
    code = cast_archive.excerpts.choose(EDITOR, "IV-21.1", TOLD, "exhibition")
    ((start_ms, end_ms),) = pieces(cast_archive, code)
    middle = (start_ms + end_ms) // 2
    parts = np.concatenate([heard(cast_archive, code, start_ms, middle), heard(cast_archive, code, middle, end_ms)])
    assert np.array_equal(parts, heard(cast_archive, code, start_ms, end_ms))


def test_the_given_file_is_silent_exactly_where_what_was_heard_is(cast_archive: Archive) -> None:
    """Against the exported WAV, which has its loudness set and, here, no bed."""
    archive = cast_archive
    settings = archive.folder / "archive.toml"
    settings.write_text(settings.read_text(encoding="utf-8") + '\nmute_bed = "silence"\ndraft_mark = "none"\n', encoding="utf-8")
    archive = cast.in_a_hurry(Archive.open(archive.folder, {}, cast.clock))
    code = archive.excerpts.choose(EDITOR, "IV-21.1", TOLD, "exhibition")
    (path,) = [Path(f) for f in archive.exports.make(EDITOR, [code], "exhibition").files if f.endswith(".wav")]
    given, _ = soundfile.read(path, dtype="int16")
    played = heard(archive, code, *pieces(archive, code)[0])
    silent = [np.convolve(np.abs(one.astype(int)), np.ones(48), "same") == 0 for one in (given, played)]
    assert len(given) == len(played) and silent[0].sum() > 4800
    assert np.count_nonzero(silent[0] != silent[1]) < 96, "the faintest ends of the fades are rounded with another gain: 2 ms"


def test_who_is_disguised_is_heard_disguised(cast_archive: Archive) -> None:
    archive = cast_archive
    code = archive.excerpts.choose(EDITOR, "IV-21.1", "We carried the lantern down", "exhibition")
    (piece,) = pieces(archive, code)
    plain = heard(archive, code, *piece)
    with archive.rooms.db.write() as connection:
        person = people.by_code(connection, "N-21")
        assert person is not None
        consent_rows.add_wish(
            connection, person_id=person.id, attribution=Attribution.FULL, voice=VoiceWish.DISGUISED, review=Review.NOT_WANTED,
            from_on=cast.SIGNED, by="K-01", at=archive.rooms.now(),
        )  # fmt: skip
    again = heard(archive, code, *piece)
    assert len(again) == len(plain) and not np.array_equal(again, plain)
    assert np.array_equal(again, heard(archive, code, *piece)), "one voice for who listens in parts"


def test_nothing_else_is_played_so(cast_archive: Archive) -> None:
    archive = cast_archive
    code = archive.excerpts.choose(EDITOR, "IV-21.1", TOLD, "exhibition")
    ((start_ms, end_ms),) = pieces(archive, code)
    for wrong in ((start_ms - 1, end_ms), (start_ms, end_ms + 1), (end_ms, start_ms), (0, 90_000)):
        with pytest.raises(NotFound):
            archive.exports.listen(EDITOR, code, *wrong)
    archive.consent.seal(KEEPER, "IV-21.1", start_ms + 300, end_ms - 300, "asked for")
    with pytest.raises((Refused, NotFound)):
        archive.exports.listen(EDITOR, code, start_ms, end_ms)
