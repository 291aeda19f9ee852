"""The composition root: makes or opens an archive folder and wires its services. Nothing is built at import."""

from __future__ import annotations

import os
import secrets
import shutil
from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from platformdirs import user_data_path

from archive import settings as settings_module
from archive.db import audit, facts, schema, uses
from archive.db.session import FILE_NAME, Database
from archive.domain import phrases
from archive.domain.agreements import ObjectionDecision
from archive.domain.cleared import ShownMention, ShownSoundCheck
from archive.domain.contact import RULE_WORDS
from archive.domain.languages import name as language_name
from archive.domain.pieces import PIECE_BYTES
from archive.domain.placenames import COLUMNS as PLACE_COLUMNS
from archive.domain.placenames import cells as place_cells
from archive.domain.placenames import written as place_named
from archive.domain.printed import FormKind, Size, Written
from archive.domain.values import Use, Viewer
from archive.domain.whereabouts import on_a_plane
from archive.errors import Broken, Clash, NotFound
from archive.files.masters import Masters
from archive.gate.typing import LineAct
from archive.render.gazetteer import FORMS as PLACE_FORMS
from archive.render.jsonout import as_json
from archive.render.skos import FORMS as SKOS_FORMS
from archive.services.access import Access
from archive.services.accounts import Accounts
from archive.services.clearing import Clearing
from archive.services.confirming import KINDS as TAG_KINDS
from archive.services.confirming import ORDERS as TAG_ORDERS
from archive.services.confirming import Confirming
from archive.services.confirming import Picked as PickedTag
from archive.services.consent import Consent
from archive.services.copies import Copies
from archive.services.correcting import Correcting
from archive.services.cutting import Cutting
from archive.services.deciding import Cell, Deciding, Table
from archive.services.demo import Demo
from archive.services.describing import DESCRIBED_SINCE, Describing, queue_anew
from archive.services.due import Due
from archive.services.ending_letters import EndingLetters
from archive.services.ending_rows import WithdrawalReport
from archive.services.erasing import Erasures
from archive.services.excerpts import Excerpts
from archive.services.exports import Exports
from archive.services.finding import Finding
from archive.services.fitting import Fitting
from archive.services.glossary import Glossary
from archive.services.ingest import Ingest
from archive.services.jobs import Jobs
from archive.services.languages import Languages
from archive.services.learning import Learned
from archive.services.letters import Letters
from archive.services.listening import Listening
from archive.services.lists import Lists
from archive.services.meaning import Meaning
from archive.services.naming import Naming, Pointed
from archive.services.notes import Notes
from archive.services.overview import Overview
from archive.services.own_copies import OwnCopies
from archive.services.papers import Papers
from archive.services.people import People
from archive.services.places import PlaceRow, Places
from archive.services.questions import Questions
from archive.services.recordings import Recordings
from archive.services.records import Records
from archive.services.reviews import Reviews
from archive.services.rooms import Rooms
from archive.services.rows import Asked, JobRow
from archive.services.secondplace import SecondPlace
from archive.services.sound_checking import SoundChecking
from archive.services.speaking import Speaking, SpeakingPage
from archive.services.spellings import Picked, Spellings
from archive.services.spokespeople import Spokespeople
from archive.services.tasks import Tasks
from archive.services.themes import Themes
from archive.services.transcribing import Transcribing
from archive.services.transcripts import FORMS as TRANSCRIPT_FORMS
from archive.services.transcripts import BroughtIn, Transcripts
from archive.services.translating import Translating
from archive.services.uploads import Uploads
from archive.services.voices import Voices
from archive.services.work import Work
from archive.services.works import CAUTION as WORK_CAUTION
from archive.services.works import KINDS as WORK_KINDS
from archive.services.works import Works
from archive.settings import Settings
from archive.speech import models
from archive.speech.engine import Engine
from archive.speech.models import ModelFolder, ModelLine

if TYPE_CHECKING:
    from archive.meaning.encoder import Encoder

WEB_KEY = ".web-key"
KEY_BYTES = 48
MAKING = ".making-"
MADE_HERE = {"README.txt": "This folder is an archive of Told Here. Do not edit or move single files; back it up whole."}

Clock = Callable[[], datetime]


def _now() -> datetime:
    return datetime.now(UTC)


class Archive:
    """One opened archive. Command line, web and worker reach everything through it."""

    def __init__(self, folder: Path, settings: Settings, clock: Clock = _now) -> None:
        self.folder, self.settings = folder, settings
        self._db = Database(folder / FILE_NAME)
        masters = Masters(folder / "masters")
        models_dir = Path(settings.models_dir) if settings.models_dir else user_data_path("toldhere") / "models"
        self.rooms = Rooms(folder, self._db, masters, settings, models_dir, clock)
        self.ingest = Ingest(self.rooms)
        self.uploads = Uploads(self.rooms, self.ingest)
        self.transcribing = Transcribing(self.rooms, self.hire)
        self.describing = Describing(self.rooms)
        self.themes = Themes(self.rooms)
        self.learned = Learned(self.rooms, self.themes)
        self.naming = Naming(self.rooms)
        self.people = People(self.rooms)
        self.consent = Consent(self.rooms)
        self.letters = Letters(self.rooms)
        self.ending_letters = EndingLetters(self.rooms)
        self.tasks = Tasks(self.rooms)
        self.due = Due(self.rooms)
        self.papers = Papers(self.rooms, self.people)
        self.own_copies = OwnCopies(self.rooms)
        self.reviews = Reviews(self.rooms)
        self.deciding = Deciding(self.rooms)
        self.spokespeople = Spokespeople(self.rooms)
        self.works = Works(self.rooms)
        self.finding = Finding(self.rooms)
        self.confirming = Confirming(self.rooms)
        self.cutting = Cutting(self.rooms)
        self.questions = Questions(self.rooms, self.finding)
        self.overview = Overview(self.rooms, self.finding)
        self.lists = Lists(self.rooms)
        self.glossary = Glossary(self.rooms, self.finding)
        self.places = Places(self.rooms, self.finding)
        self.meaning = Meaning(self.rooms, self.finding, self.hire_encoder)
        self.recordings = Recordings(self.rooms)
        self.languages = Languages(self.rooms)
        self.translating = Translating(self.rooms)
        self.sound_check = SoundChecking(self.rooms)
        self.transcripts = Transcripts(self.rooms)
        self.correcting = Correcting(self.rooms)
        self.spellings = Spellings(self.rooms, self.correcting)
        self.fitting = Fitting(self.rooms, self.hire)
        self.excerpts = Excerpts(self.rooms)
        self.exports = Exports(self.rooms, Listening(self.rooms))
        self.voices = Voices(self.rooms)
        self.speaking = Speaking(self.rooms)
        self.access = Access(self.rooms)
        self.second_place = SecondPlace(self.rooms)
        self.copies = Copies(self.rooms, self.second_place)
        kinds = {
            "transcribe": self.transcribing.run, "access": self.access.run, "take in": self.uploads.run, "copy": self.copies.run,
            "check": self.copies.check_job, "voices": self.speaking.run, "export": self.exports.run,
            "sound": self.sound_check.run, "fit": self.fitting.run, "describe": self.describing.run,
            "meaning": self.meaning.run,
        }  # fmt: skip
        self.work = Work(self.rooms, kinds)
        self.jobs = Jobs(self.rooms)
        self.clearing = Clearing(self.rooms, self.second_place)
        self.notes = Notes(self.rooms)
        self.records = Records(self.rooms, self.copies, self.papers)
        self.accounts = Accounts(self.rooms)
        self.erasures = Erasures(self.rooms, self.consent, self.accounts, self.second_place)
        self.demo = Demo(
            self.rooms, self.accounts, self.ingest, self.transcribing, self.places, self.describing, self.themes, self.naming, self.people, self.consent,
            self.finding, self.recordings, self.excerpts, self.exports,
        )  # fmt: skip

    @classmethod
    def create(
        cls, folder: Path, viewer: Viewer, name: str, exhibition: str, participation_covers_machine: bool,
        environ: Mapping[str, str] = os.environ, clock: Clock = _now,
    ) -> Archive:  # fmt: skip
        """Make an archive in an empty or new folder. Raises Clash where one is there already.

        A kill leaves a whole archive or none: the database is moved into place last, and closed.
        """
        folder = Path(os.path.abspath(folder))
        if (folder / FILE_NAME).exists():
            raise Clash("There is an archive in this folder already.", "Open it, or name another folder.")
        is_new = not folder.exists()
        if not is_new and not _may_be_filled(folder):
            raise Clash("This folder is not empty.", "Name a new folder for the archive.")
        folder.mkdir(parents=True, exist_ok=True)
        os.chmod(folder, 0o700)  # testimony: nobody else on this machine reads it
        for left in folder.glob(f"{MAKING}*"):  # of one that was killed
            shutil.rmtree(left)
        making = folder / f"{MAKING}{secrets.token_hex(6)}"
        making.mkdir(mode=0o700)
        try:
            settings_module.write(making, name=name, exhibition=exhibition)
            for file_name, words in MADE_HERE.items():
                (making / file_name).write_text(words + "\n", encoding="utf-8")
            _write_key(making / WEB_KEY)
            archive = cls(making, settings_module.load(making, environ), clock)
            try:
                archive._begin(viewer, participation_covers_machine)
            finally:
                archive.close()
            for file_name in (settings_module.FILE_NAME, *MADE_HERE, WEB_KEY, FILE_NAME):
                os.replace(making / file_name, folder / file_name)
        finally:
            shutil.rmtree(making, ignore_errors=True)
            if is_new and not any(folder.iterdir()):
                folder.rmdir()
        return cls(folder, settings_module.load(folder, environ), clock)

    def _begin(self, viewer: Viewer, participation_covers_machine: bool) -> None:
        """Everything that a database needs before anything is written to it, in one transaction."""
        with self._db.write() as connection:
            schema.upgrade(connection)
            uses.start(connection)
            decided = "yes" if participation_covers_machine else "no"
            facts.set_fact(connection, facts.PARTICIPATION_COVERS_MACHINE, decided)
            audit.record(
                connection, viewer.name, "archive made", "archive", self.rooms.now(), participation_covers_machine=decided
            )

    @classmethod
    def open(cls, folder: Path, environ: Mapping[str, str] = os.environ, clock: Clock = _now) -> Archive:
        """Open an archive folder, bringing its schema up to date, and end what was being erased. Raises NotFound where there is none,
        Erasing while another process erases."""
        folder = Path(os.path.abspath(folder))
        if not (folder / FILE_NAME).is_file():
            raise NotFound(
                "There is no archive in this folder.", "Make one with `toldhere init FOLDER`, or name another with --archive."
            )
        archive = cls(folder, settings_module.load(folder, environ), clock)
        try:
            with archive.erasures.opening():
                archive._up_to_date()
            archive.erasures.catch_up()
        except BaseException:
            archive.close()
            raise
        return archive

    def _up_to_date(self) -> None:
        with self._db.read() as connection:
            have = schema.current(connection)
        if have is None:  # without what was decided at its making, and without its first entry on record
            raise Broken("This archive was never finished: its database is empty.", "Move the folder away and make the archive again.")
        if have != schema.newest():
            with self._db.write() as connection:
                schema.upgrade(connection)
                uses.start(connection)
                if have < DESCRIBED_SINCE:
                    queue_anew(connection, self.rooms.now())

    def close(self) -> None:
        """Give the database back."""
        self._db.close()

    def today(self) -> date:
        """The day in the archive's time zone."""
        return self.rooms.today()

    def uses(self) -> tuple[Use, ...]:
        """The archive's own list of uses."""
        with self._db.read() as connection:
            return tuple(uses.every_use(connection).values())

    def web_key(self) -> bytes:
        """The secret that signs web sessions, kept in the archive folder for this user alone."""
        path = self.folder / WEB_KEY
        if not path.is_file() or path.stat().st_size < KEY_BYTES:  # lost, or of a version that could be killed at writing it
            _write_key(path)
        return path.read_bytes()

    # -- speech ------------------------------------------------------------------------------------------------
    def hire(self, model: str = "") -> Engine:
        """Load the speech engine with a model, the archive's own where none is named. Heavy: only in a worker's child. Raises ModelMissing."""
        from archive.speech.whisper import WhisperEngine  # loading it costs seconds, and only this process needs it

        found = models.find(model or self.settings.model, self.rooms.models_dir)
        return WhisperEngine(found, self.settings.cpu_threads or None, compute_type=self.settings.compute_type)

    def hire_encoder(self, threads: int) -> Encoder:
        """Load the model for nearness in meaning, for questions on one thread. Raises ModelMissing."""
        from archive.meaning.encoder import Encoder  # takes a second, and only where it is used

        found = models.find(models.NEAREST, self.rooms.models_dir, models.MEANING)
        return Encoder(found.path, found.model_sha256, threads)

    def models(self) -> list[ModelLine]:
        """Models for speech and for nearness in meaning: which are here, and which could be."""
        return models.listed(self.rooms.models_dir)

    def speech_models(self) -> list[str]:
        """Names of the models for speech that are on our own computer."""
        return [m.name for m in self.models() if m.does == models.SPEECH and m.state != "not here"]

    def add_model(self, name: str, folder: Path) -> ModelFolder:
        """Copy and check a model folder."""
        return models.add(name, folder, self.rooms.models_dir)

    def fetch_model(self, name: str, ask: Callable[[str], bool]) -> ModelFolder:
        """Fetch a model; the only thing that ever uses the network, and it asks first."""
        return models.fetch(name, self.rooms.models_dir, ask)


def _may_be_filled(folder: Path) -> bool:
    """An empty folder, or one in which making an archive was killed: whatever lies there beside that is ours."""
    names = {path.name for path in folder.iterdir()}
    begun = {name for name in names if name.startswith(MAKING)}
    return not names or bool(begun) and names - begun <= {settings_module.FILE_NAME, *MADE_HERE, WEB_KEY}


def _write_key(path: Path) -> None:
    """A new secret, whole or not at all, readable by this user alone."""
    half = path.with_name(f"{path.name}-{secrets.token_hex(6)}")
    try:
        with os.fdopen(os.open(half, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as stream:
            stream.write(secrets.token_bytes(KEY_BYTES))
            stream.flush()
            os.fsync(stream.fileno())
        os.replace(half, path)
    finally:
        half.unlink(missing_ok=True)


__all__ = [
    "PIECE_BYTES", "TAG_KINDS", "TAG_ORDERS", "SKOS_FORMS", "PLACE_COLUMNS", "PLACE_FORMS", "TRANSCRIPT_FORMS", "WORK_CAUTION", "WORK_KINDS", "Archive", "Asked", "Cell", "Table", "ObjectionDecision", "WithdrawalReport", "BroughtIn", "JobRow", "LineAct", "Picked", "PickedTag", "PlaceRow", "Pointed", "RULE_WORDS", "FormKind", "Size", "Written", "ShownMention", "ShownSoundCheck", "SpeakingPage",
    "as_json", "language_name", "on_a_plane", "phrases", "place_cells", "place_named",
]  # fmt: skip
