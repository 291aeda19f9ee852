"""The standing cast: one narrator for each way in which speech may be held back, made without a speech engine.

Words are given, sound is real (tones and noise, taken in and measured like any recording). All of it invented, in Tarnwick.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import soundfile

from archive.app import Archive
from archive.db import audit, consent_rows, people, recordings, runs, translations
from archive.domain.agreements import AgreementForm, AgreementKind
from archive.domain.aligning import compared
from archive.domain.attribution import PersonName
from archive.domain.dates import adult_days
from archive.domain.translating import original_sha256
from archive.domain.values import (
    USES,
    Answer,
    Attribution,
    Part,
    RestraintKind,
    Review,
    Role,
    Scan,
    Stretch,
    Viewer,
    VoiceWish,
    Way,
    Word,
)
from archive.gate import custody
from archive.gate.indexing import index_recording
from archive.services.describing import describe_recording
from archive.services.listening import Listening

KEEPER = Viewer("K-01", Role.KEEPER)
EDITOR = Viewer("E-01", Role.EDITOR)
READER = Viewer("R-01", Role.READER)
VIEWERS = (KEEPER, EDITOR, READER)
PASSWORD = "rope lantern quay tide"
TODAY = datetime(2026, 6, 1, 12, 0, tzinfo=UTC)
SIGNED = date(2025, 1, 10)
RATE_HZ = 16_000
WORD_MS = 400


@dataclass(frozen=True)
class Member:
    """One of the cast. `secret`: a word that only this recording holds; `name`: the full name."""

    code: str
    name: str
    attribution: Attribution
    secret: str
    text: str
    voice: VoiceWish = VoiceWish.AS_RECORDED
    voice_allowed: bool = True
    words_allowed: bool = True
    held: str = ""  # embargo | sealed | withdrawn | paused
    read: bool = False  # their words are read aloud by somebody else (`read_aloud`)


CAST = (
    Member("N-21", "Edith Quill", Attribution.FULL, "lantern", "We carried the lantern down Net Row in 1968 and Walter Brine held the rope for us"),
    Member("N-22", "Hugh Tarrow", Attribution.FULL, "capstan", "The capstan broke on Lower Quay in 1974 during the strike and nobody mended it", held="embargo"),
    Member("N-23", "Nora Pell", Attribution.FULL, "ledger", "She wrote it in the ledger at the cannery and that is all I say about it", held="sealed"),
    Member("N-24", "Silas Wren", Attribution.FULL, "rudder", "The rudder jammed by Gull Steps in 1962 and we drifted on the River Sallow", held="withdrawn"),
    Member("N-25", "Lena Fosse", Attribution.UNNAMED, "kettle", "They said Lena Fosse put the kettle on when the flood came up Ropewalk"),
    Member("N-26", "Ivor Dane", Attribution.INITIALS, "tarpaulin", "Under the tarpaulin we slept on Beacon Hill the winter of sixty-two", voice=VoiceWish.NOT_HEARD, voice_allowed=False),
    Member("N-27", "Greta Holm", Attribution.FULL, "herring", "Herring was all there was at the cannery in the early seventies", words_allowed=False),
    Member("N-28", "Ottilie Crane", Attribution.FULL, "windlass", "We greased the windlass twice a week and it sang all the same", voice=VoiceWish.DISGUISED),
    Member("N-29", "Jonas Thorn", Attribution.FULL, "oilskin", "My oilskin hung behind the door until the ferry stopped", voice=VoiceWish.NOT_HEARD, voice_allowed=False, read=True),
)  # fmt: skip
READER_CREDIT = "an actor of the town"
SPOKEN = Path(__file__).resolve().parents[1] / "sample_media" / "TW-06.flac"
THIRD = ("P-41", "Walter Brine")
QUOTES = {m.code: m.text for m in CAST}


def clock() -> datetime:
    """The day of the tests."""
    return TODAY


def recording_of(code: str) -> str:
    """The recording of a member: its interview bears the number, not the name."""
    return f"IV-{code[2:]}.1"


def words_of(text: str, start_ms: int = 500) -> list[Word]:
    """Words of a text, one after another, 400 ms each with 80 ms between."""
    return [
        Word(t, start_ms + n * WORD_MS, start_ms + n * WORD_MS + WORD_MS - 80, 0.9) for n, t in enumerate(text.split())
    ]


def sound(path: Path, seconds: float, seed: int, hz: float | None = None) -> None:
    """A tone and a little noise, different for each seed. `hz`: the tone, where it is somebody's own."""
    rng = np.random.default_rng(seed)
    t = np.arange(int(seconds * RATE_HZ)) / RATE_HZ
    tone = 0.2 * np.sin(2 * np.pi * (hz or 180 + 20 * seed) * t) * (0.6 + 0.4 * np.sin(2 * np.pi * 3 * t))
    soundfile.write(path, (tone + 0.002 * rng.standard_normal(t.size)).astype(np.float32), RATE_HZ, subtype="PCM_16")


def tone_hz(member: Member) -> float:
    """The tone of a member's recording: nobody else's."""
    return 180 + 20 * CAST.index(member)


def in_a_hurry(archive: Archive) -> Archive:
    """The same archive, whose exports are not listened to by the real engine: the cast's sound is tones, without words.
    tests/services/test_listening.py hires the real one."""
    archive.exports.listening = Listening(archive.rooms, hear=lambda tasks: [_heard_of(path) for path, _ in tasks])
    return archive


def _heard_of(clip: Path) -> list[Word]:
    """Nothing in a tone; of a reading what was to be read, or it would be refused as the wrong file."""
    is_reading = any(f"Read by {READER_CREDIT}" in captions.read_text(encoding="utf-8") for captions in clip.parent.glob(f"{clip.stem}*.vtt"))
    return words_of(next(m.text for m in CAST if m.read)) if is_reading else []


def reading_file(path: Path) -> Path:
    """A second of silence and ten seconds of somebody speaking: no recording of the cast's archive."""
    rate = soundfile.info(str(SPOKEN)).samplerate
    spoken, _ = soundfile.read(str(SPOKEN), frames=rate * 10)
    soundfile.write(str(path), np.concatenate([np.zeros(rate), spoken]), rate)
    return path


def read_aloud(archive: Archive, file: Path, use: str = "exhibition") -> None:
    """Take in a reading by somebody else of each member whose words are read aloud; their excerpts are chosen where they are not."""
    for member in CAST:
        if member.read:
            code = archive.excerpts.choose(EDITOR, recording_of(member.code), member.text, use)
            archive.voices.add_reading(EDITOR, code, file, READER_CREDIT)


def build(folder: Path) -> Archive:
    """An archive with the whole cast, ready for every output."""
    archive = Archive.create(folder, KEEPER, "Tarnwick Voices", "Marigold", True, {}, clock)
    media = folder.parent / f"{folder.name}-media"
    media.mkdir()
    for viewer in VIEWERS:
        archive.accounts.add(KEEPER, viewer.name, viewer.role, PASSWORD)
    _people(archive)
    rows = ["file,interview,part,recorded_on,title,language,microphones,left,right,participants,place"]
    for n, member in enumerate(CAST):
        sound(media / f"IV-{member.code[2:]}.wav", 1.5 + len(member.text.split()) * WORD_MS / 1000, n, tone_hz(member))
        rows.append(f"IV-{member.code[2:]}.wav,IV-{member.code[2:]},1,2025-02-01,,en,one,,,{member.code}:{Part.NARRATOR},")
    (media / "recordings.csv").write_text("\n".join(rows), encoding="utf-8")
    archive.ingest.take(EDITOR, [media])
    _agreements(archive)
    _described(archive)
    for member in CAST:
        give_words(archive, recording_of(member.code), [(member.code, words_of(member.text))])
    _holds(archive)
    return archive


def _people(archive: Archive) -> None:
    now = archive.rooms.now()
    with archive.rooms.db.write() as connection:
        everybody = [(m.code, m.name, m.attribution, m.voice) for m in CAST]
        everybody.append((*THIRD, Attribution.UNNAMED, VoiceWish.NOT_HEARD))
        for code, name, attribution, voice in everybody:
            first, family = name.split()
            person_id, _ = people.write(connection, code, "1940", None, adult_days("1940"), "")
            initials = f"{first[0]}. {family[0]}."
            people.write_names(
                connection, person_id,
                [PersonName(name, "full"), PersonName(first, "first"), PersonName(family, "family"), PersonName(initials, "initials", Scan.AS_NAME)],
            )  # fmt: skip
            consent_rows.add_wish(
                connection, person_id=person_id, attribution=attribution, voice=voice, review=Review.NOT_WANTED,
                from_on=SIGNED, by="K-01", at=now,
            )  # fmt: skip


def _agreements(archive: Archive) -> None:
    now = archive.rooms.now()
    with archive.rooms.db.write() as connection:
        for member in CAST:
            person = people.by_code(connection, member.code)
            assert person is not None
            agreement = consent_rows.add_agreement(
                connection, code=f"A-{member.code}", person_id=person.id, kind=AgreementKind.RECORDING,
                form=AgreementForm.SIGNED, signed_on=SIGNED, taken_by="K-01", language="en", by="K-01", at=now,
            )  # fmt: skip
            for use in USES:
                for way in (Way.WORDS, Way.VOICE):
                    inward = use.code in ("machine", "team")
                    allowed = inward or (member.words_allowed if way == Way.WORDS else member.voice_allowed and member.words_allowed)
                    if allowed:
                        consent_rows.add_permission(
                            connection, agreement_id=agreement, use=use.code, way=way, answer=Answer.YES, by="K-01", at=now
                        )


def _described(archive: Archive) -> None:
    media = Path(__file__).resolve().parents[1] / "sample_media"
    archive.places.read(EDITOR, media / "places.csv")
    archive.describing.read_events(EDITOR, media / "events.csv")
    archive.themes.read(EDITOR, media / "themes.csv")


def give_words(archive: Archive, recording: str, lines: list[tuple[str | None, list[Word]]]) -> None:
    """Give a recording its transcript, as the machine would have, and everything that follows from it."""
    now = archive.rooms.now()
    with archive.rooms.db.write() as connection:
        row = recordings.by_code(connection, recording)
        assert row is not None
        codes = people.ids_by_code(connection)
        run = runs.add_run(
            connection, job_id=None, recording_id=row.id, engine="given", model="given", model_sha256="0" * 64,
            language="en", vocabulary=[], options={}, by="machine", at=now,
        )  # fmt: skip
        spoken = [(codes[c] if c else None, words) for c, words in lines]
        custody.keep_machine_text(connection, row.id, run, spoken, "machine", now)
        describe_recording(connection, row.id, archive.rooms.context(), "machine", now)


def translate(archive: Archive, recording: str, text: str) -> None:
    """A translation of all that is said in a recording (`text`: a word, then what is said), as it would stand there from before anything
    was closed or hidden."""
    with archive.rooms.db.write() as connection:
        row = recordings.by_code(connection, recording)
        assert row is not None
        translations.add(
            connection, code=translations.new_code(connection), number=1, recording_id=row.id, start_ms=500, end_ms=row.duration_ms - 800,
            original_sha256=original_sha256(compared(w) for w in text.split()[1:]), language="pl", text=text, translator="E-01", state="checked", by="K-01", at=archive.rooms.now(),
        )  # fmt: skip
        index_recording(connection, row.id, archive.rooms.context())


def _holds(archive: Archive) -> None:
    now = archive.rooms.now()
    with archive.rooms.db.write() as connection:
        for member in CAST:
            person = people.by_code(connection, member.code)
            row = recordings.by_code(connection, recording_of(member.code))
            assert person is not None and row is not None
            common = {"from_on": SIGNED, "by": "K-01", "at": now}
            if member.held == "embargo":
                consent_rows.add_restraint(
                    connection, kind=RestraintKind.EMBARGO, person_id=person.id, until_on=TODAY.date() + timedelta(days=400), **common
                )
            if member.held == "sealed":
                consent_rows.add_restraint(
                    connection, kind=RestraintKind.SEALED, stretch=Stretch(row.id, 0, row.duration_ms), until_on=date(2040, 1, 1), **common
                )
                index_recording(connection, row.id, archive.rooms.context())
        audit.record(connection, "K-01", "cast made", "archive", now)
    for member in CAST:
        if member.held == "withdrawn":
            archive.consent.withdraw(KEEPER, member.code, how="letter")
