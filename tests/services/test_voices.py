"""Readings by somebody else: whose words may be read aloud, what a reading is tied to, which voice leaves, who is credited."""

from __future__ import annotations

import json
from pathlib import Path

import docx
import pytest
import soundfile

from archive.app import Archive
from archive.audio import disguise
from archive.db import consent_rows, people
from archive.domain import reasons as say
from archive.domain.attribution import PersonName
from archive.domain.values import Answer, Attribution, Review, VoiceWish, Way
from archive.errors import BadInput, BadMedia, NotAllowed, NotFound, Refused
from archive.gate.voices import spread
from archive.services.listening import Listening
from tests import cast

ROOT = Path(__file__).resolve().parents[2]
SAMPLE = ROOT / "sample_media" / "TW-06.flac"


@pytest.fixture(scope="session")
def read_aloud(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Ten seconds of somebody speaking: no recording of the cast's archive."""
    return cast.reading_file(tmp_path_factory.mktemp("aloud") / "read.wav")


def silent_one(archive: Archive) -> str:
    """An excerpt of N-26, whose voice is not heard; what is read of it is heard by a stand-in as it is written."""
    heard = cast.words_of(cast.QUOTES["N-26"])
    archive.exports.listening = Listening(archive.rooms, hear=lambda tasks: [heard for _ in tasks])
    return archive.excerpts.choose(cast.EDITOR, cast.recording_of("N-26"), cast.QUOTES["N-26"], "exhibition")


def wishes(archive: Archive, code: str, voice: VoiceWish, attribution: Attribution = Attribution.FULL) -> None:
    with archive.rooms.db.write() as connection:
        row = people.by_code(connection, code)
        assert row is not None
        consent_rows.add_wish(
            connection, person_id=row.id, attribution=attribution, voice=voice, review=Review.NOT_WANTED,
            from_on=cast.SIGNED, by="K-01", at="2026-06-01",
        )  # fmt: skip


def how_heard(archive: Archive) -> list[tuple[bool, str]]:
    from sqlalchemy import text

    with archive.rooms.db.read() as connection:
        return [(bool(r.voice), r.how_heard) for r in connection.execute(text("SELECT voice, how_heard FROM export_item ORDER BY id DESC LIMIT 1"))]


# --- what may be read -----------------------------------------------------------------------------------------------------


def test_a_reading_leaves_where_the_voice_may_not_and_says_who_reads(cast_archive: Archive, tmp_path: Path, read_aloud: Path) -> None:
    code = silent_one(cast_archive)
    made = cast_archive.voices.add_reading(cast.EDITOR, code, read_aloud, "an actor  of the town")
    assert (made.credit, made.counts) == ("an actor of the town", True) and 10_500 <= made.duration_ms <= 11_500
    report = cast_archive.exports.make(cast.EDITOR, [code], "exhibition", tmp_path / "out")
    assert report.withheld == () and report.voices == (f"{code}: Read by an actor of the town; the speaker’s own voice does not leave.",)
    assert how_heard(cast_archive) == [(False, "read")]
    clip = soundfile.info(str(next((tmp_path / "out").glob("*.wav"))))
    assert abs(clip.duration * 1000 - made.duration_ms) < 25, "the whole reading, not the recording"
    (quote,) = json.loads((tmp_path / "out" / "DRAFT-quotes.json").read_text(encoding="utf-8"))["quotes"]
    assert quote["read_by"] == "an actor of the town" and quote["attribution"] == "I. D."
    vtt = (tmp_path / "out" / "DRAFT-clip-01.vtt").read_text(encoding="utf-8")
    assert "NOTE Read by an actor of the town." in vtt and "<v I. D., read by an actor of the town>" in vtt
    sheet = docx.Document(str(tmp_path / "out" / "for-the-team" / "DRAFT-internal-sheet.docx"))
    assert "read by an actor of the town" in " ".join(c.text for t in sheet.tables for r in t.rows for c in r.cells)
    assert cast_archive.records.check(cast.KEEPER, fixity=True) == (), "its bytes are summed again with all others"


def test_the_first_caption_of_a_final_reading_says_who_reads(cast_archive: Archive, tmp_path: Path, read_aloud: Path) -> None:
    code = silent_one(cast_archive)
    cast_archive.voices.add_reading(cast.EDITOR, code, read_aloud, "an actor")
    cast_archive.excerpts.tick_heard(cast.EDITOR, code)
    cast_archive.excerpts.tick_second(cast.KEEPER, code, "nobody")
    report = cast_archive.exports.make(cast.EDITOR, [code], "exhibition", tmp_path / "out")
    assert not report.draft, report.drafts
    srt = (tmp_path / "out" / "clip-01.srt").read_text(encoding="utf-8")
    assert srt.splitlines()[2] == "Read by an actor" and srt.count("Read by") == 1


def test_a_tick_does_not_outlive_another_voice(cast_archive: Archive, tmp_path: Path, read_aloud: Path) -> None:
    """Ticked as words only; then somebody else reads them: another sound, to be heard anew."""
    code = silent_one(cast_archive)
    cast_archive.excerpts.tick_heard(cast.EDITOR, code)
    cast_archive.voices.add_reading(cast.EDITOR, code, read_aloud, "an actor")
    assert cast_archive.exports.make(cast.EDITOR, [code], "exhibition", tmp_path / "out").draft


def test_without_re_voicing_nobody_else_may_read_it(cast_archive: Archive, tmp_path: Path, read_aloud: Path) -> None:
    code = silent_one(cast_archive)
    cast_archive.consent.withdraw(cast.KEEPER, "N-26", use="re_voicing")
    with pytest.raises(Refused) as told:
        cast_archive.voices.add_reading(cast.EDITOR, code, read_aloud, "an actor")
    assert told.value.reasons and told.value.exit_code == 5
    assert cast_archive.voices.of_excerpts(cast.EDITOR) == {}


def test_a_reading_ends_with_the_permission_to_re_voice(cast_archive: Archive, tmp_path: Path, read_aloud: Path) -> None:
    code = silent_one(cast_archive)
    cast_archive.voices.add_reading(cast.EDITOR, code, read_aloud, "an actor")
    cast_archive.consent.withdraw(cast.KEEPER, "N-26", use="re_voicing")
    report = cast_archive.exports.make(cast.EDITOR, [code], "exhibition", tmp_path / "out")
    assert say.READING_NOT_ALLOWED in report.withheld[0] and not list((tmp_path / "out").glob("*.wav"))
    assert cast_archive.voices.of_excerpts(cast.EDITOR)[code].why_not == say.READING_NOT_ALLOWED
    with pytest.raises(NotFound):
        cast_archive.voices.sound(cast.EDITOR, code)


def test_a_reading_counts_for_exactly_its_words_and_use(cast_archive: Archive, tmp_path: Path, read_aloud: Path) -> None:
    code = silent_one(cast_archive)
    cast_archive.voices.add_reading(cast.EDITOR, code, read_aloud, "an actor")
    assert cast_archive.voices.of_excerpts(cast.EDITOR)[code].counts
    other = cast_archive.exports.make(cast.EDITOR, [code], "film", tmp_path / "film")
    assert say.READING_LAPSED in other.withheld[0], "it was read for the exhibition"
    with cast_archive.rooms.db.write() as connection:  # a name in these words, put on record afterwards, is hidden from now on
        row = people.by_code(connection, "P-41")
        assert row is not None
        people.write_names(connection, row.id, [PersonName("Walter Brine", "full"), PersonName("Beacon Hill", "nick")])
    mask(cast_archive, "N-26", "Beacon")
    report = cast_archive.exports.make(cast.EDITOR, [code], "exhibition", tmp_path / "out")
    assert say.READING_LAPSED in report.withheld[0] and how_heard(cast_archive) == [(False, "")]
    assert not cast_archive.voices.of_excerpts(cast.EDITOR)[code].counts


def mask(archive: Archive, code: str, word: str) -> None:
    from archive.db import mentions, recordings
    from archive.domain.values import Decision, Stretch

    at = cast.words_of(cast.QUOTES[code])
    first = next(w for w in at if w.text == word)
    with archive.rooms.db.write() as connection:
        row = recordings.by_code(connection, cast.recording_of(code))
        person = people.by_code(connection, "P-41")
        assert row is not None and person is not None
        stretch = Stretch(row.id, first.start_ms, first.end_ms + 400)
        mentions.decide(connection, stretch, person.id, Decision.HIDE, "", "K-01", archive.rooms.now())


def test_the_speakers_own_voice_comes_first_and_a_reading_before_a_disguise(cast_archive: Archive, tmp_path: Path, read_aloud: Path) -> None:
    code = cast_archive.excerpts.choose(cast.EDITOR, cast.recording_of("N-21"), cast.QUOTES["N-21"], "exhibition")
    heard = cast.words_of(cast.QUOTES["N-21"].partition(" and Walter")[0])
    cast_archive.exports.listening = Listening(cast_archive.rooms, hear=lambda tasks: [heard for _ in tasks])
    cast_archive.voices.add_reading(cast.EDITOR, code, read_aloud, "an actor")
    cast_archive.exports.make(cast.EDITOR, [code], "exhibition", tmp_path / "own")
    assert how_heard(cast_archive) == [(True, "as_recorded")]
    wishes(cast_archive, "N-21", VoiceWish.DISGUISED)
    cast_archive.exports.make(cast.EDITOR, [code], "exhibition", tmp_path / "read")
    assert how_heard(cast_archive) == [(False, "read")]
    assert cast_archive.voices.drop_readings(cast.EDITOR, code) == 1
    report = cast_archive.exports.make(cast.EDITOR, [code], "exhibition", tmp_path / "disguised")
    assert how_heard(cast_archive) == [(True, "disguised")]
    assert say.DISGUISE_CAUTION in report.voices[0] and "anonym" not in " ".join(report.voices).lower()


# --- disguised ------------------------------------------------------------------------------------------------------------


def test_a_disguised_voice_leaves_disguised_and_differently_each_time(cast_archive: Archive, tmp_path: Path) -> None:
    code = cast_archive.excerpts.choose(cast.EDITOR, cast.recording_of("N-21"), cast.QUOTES["N-21"], "exhibition")
    own = cast_archive.exports.make(cast.EDITOR, [code], "exhibition", tmp_path / "own")
    wishes(cast_archive, "N-21", VoiceWish.DISGUISED)
    sounds = []
    for name in ("one", "two"):
        cast_archive.exports.make(cast.EDITOR, [code], "exhibition", tmp_path / name)
        sounds.append(next((tmp_path / name).glob("*.wav")).read_bytes())
    plain = next((tmp_path / "own").glob("*.wav")).read_bytes()
    assert own.voices == () and len(plain) == len(sounds[0]) == len(sounds[1])
    assert len({plain, *sounds}) == 3, "what undoes one export does not undo the next"


def test_two_clips_of_one_person_sound_alike(cast_archive: Archive, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    wishes(cast_archive, "N-21", VoiceWish.DISGUISED)
    wishes(cast_archive, "N-25", VoiceWish.DISGUISED)
    seeds = []
    real = disguise.disguised
    monkeypatch.setattr(disguise, "disguised", lambda pcm, rate_hz, seed: seeds.append(seed) or real(pcm, rate_hz, seed))
    words = ("We carried the lantern", "Net Row in 1968", "kettle on when the flood came up Ropewalk")
    codes = [cast_archive.excerpts.choose(cast.EDITOR, cast.recording_of("N-25" if "kettle" in w else "N-21"), w, "exhibition") for w in words]
    cast_archive.exports.make(cast.EDITOR, codes, "exhibition", tmp_path / "out")
    assert len(seeds) == 3 and seeds[0] == seeds[1] != seeds[2]


def test_where_it_cannot_be_disguised_the_voice_stays_here(cast_archive: Archive, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    wishes(cast_archive, "N-21", VoiceWish.DISGUISED)
    monkeypatch.setattr(disguise, "has_filter", lambda name: False)
    code = cast_archive.excerpts.choose(cast.EDITOR, cast.recording_of("N-21"), cast.QUOTES["N-21"], "exhibition")
    report = cast_archive.exports.make(cast.EDITOR, [code], "exhibition", tmp_path / "out")
    assert report.withheld == (f"{code}: words only. {say.CANNOT_DISGUISE}",) and not list((tmp_path / "out").glob("*.wav"))


def test_the_caution_stands_where_it_is_decided(cast_archive: Archive) -> None:
    """CHECKS §10: "voice disguise", never "anonymised"; what it does not protect against, and what is safer."""
    wishes(cast_archive, "N-21", VoiceWish.DISGUISED)
    code = cast_archive.excerpts.choose(cast.EDITOR, cast.recording_of("N-21"), cast.QUOTES["N-21"], "exhibition")
    may = cast_archive.deciding.may(cast.EDITOR, code, "exhibition", Way.VOICE)
    (row,) = cast_archive.excerpts.list(cast.EDITOR)
    for lines in (may.sentences, row.voice_may.duties):
        assert say.DISGUISE_CAUTION in lines
    assert say.DISGUISE_CAUTION not in row.words_may.duties
    for part in ("Voice disguise", "knows this voice", "reading by somebody else", "harder to understand"):
        assert part in say.DISGUISE_CAUTION


# --- what is refused ------------------------------------------------------------------------------------------------------


def test_what_cannot_be_a_reading(cast_archive: Archive, tmp_path: Path, read_aloud: Path) -> None:
    code = silent_one(cast_archive)
    add = cast_archive.voices.add_reading
    before = masters(cast_archive)
    (tmp_path / "words.txt").write_text("no sound at all", encoding="utf-8")
    cast.sound(tmp_path / "tones.wav", 3, 4)
    for file, wrong in ((tmp_path / "words.txt", BadMedia), (tmp_path / "tones.wav", BadInput), (tmp_path / "none.wav", BadInput)):
        with pytest.raises(wrong):
            add(cast.EDITOR, code, file, "an actor")
    with cast_archive.rooms.db.read() as connection:
        from archive.db import recordings

        row = recordings.by_code(connection, cast.recording_of("N-26"))
        assert row is not None
        master = recordings.master_of(connection, row.id)
    own = cast_archive.rooms.masters.path(master.sha256, master.extension)
    with pytest.raises(BadInput, match="no reading"):
        add(cast.EDITOR, code, own, "an actor")
    for credit in ("", "x" * 81, "Walter Brine", "walter brine", "Edith Quill"):
        with pytest.raises(BadInput, match="credit"):
            add(cast.EDITOR, code, read_aloud, credit)
    with pytest.raises(NotFound):
        add(cast.EDITOR, "EX-99", read_aloud, "an actor")
    with pytest.raises(NotAllowed):
        add(cast.READER, code, read_aloud, "an actor")
    assert masters(cast_archive) == before, "no bytes stay of what was refused"
    assert cast_archive.voices.of_excerpts(cast.EDITOR) == {}


def masters(archive: Archive) -> set[str]:
    return {p.name for p in (archive.folder / "masters").rglob("*") if p.is_file()}


def test_a_no_from_the_speaker_is_a_no_for_reading(cast_archive: Archive, read_aloud: Path) -> None:
    code = silent_one(cast_archive)
    with cast_archive.rooms.db.write() as connection:
        agreement = next(a for a in consent_rows.load_standings(connection, {_id(connection, "N-26")})[_id(connection, "N-26")].agreements)
        consent_rows.add_permission(connection, agreement_id=agreement.id, use="re_voicing", way=Way.WORDS, answer=Answer.NO, by="K-01", at="2026-06-01")
    with pytest.raises(Refused):
        cast_archive.voices.add_reading(cast.EDITOR, code, read_aloud, "an actor")


def _id(connection: object, code: str) -> int:
    row = people.by_code(connection, code)  # type: ignore[arg-type]
    assert row is not None
    return int(row.id)


# --- captions of a reading --------------------------------------------------------------------------------------------------


def test_words_are_spread_over_the_speech_alone() -> None:
    tokens = [("one", 0, 0), ("three", 0, 0), ("[name withheld]", 0, 0), ("five", 0, 0)]
    speech = [(1000, 3000), (5000, 6000)]
    found = spread(tokens, speech)
    assert [t for t, _, _ in found] == [t for t, _, _ in tokens]
    assert found[0][1] == 1000 and found[-1][2] == 6000
    assert all(a[2] <= b[1] + 20 for a, b in zip(found, found[1:], strict=False))
    assert all(any(s <= start <= e for s, e in speech) for _, start, _ in found)
    assert spread(tokens, []) == () and spread([], speech) == ()
