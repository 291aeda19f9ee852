"""Translations by hand: written beside the words they are of, changed, checked by somebody else, set aside."""

from __future__ import annotations

import unicodedata
from typing import Any

from archive.db import audit, reach, recordings, translations
from archive.db.session import Connection, Row
from archive.domain import languages
from archive.domain.cleared import ShownTranslation
from archive.domain.phrases import CHANGED_SINCE, TRANSLATION_STATES, begin, day
from archive.domain.translating import MOST_LETTERS, State
from archive.domain.values import Viewer
from archive.errors import BadInput, Clash, NotFound, Refused
from archive.gate import custody
from archive.gate.indexing import index_recording
from archive.gate.reading import Readings
from archive.gate.translated import is_known, show_one, show_translations, stretch_to_translate
from archive.services.language_rows import ToTranslate, TranslationPage, TranslationRow
from archive.services.reaching import recording_named
from archive.services.rooms import ANYBODY, HELPERS, Rooms, need

SECOND = "Somebody else who speaks the language has to read it against the original and say so."


class Translating:
    """The translations of one archive."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms

    def list(self, viewer: Viewer, recording: str = "") -> tuple[TranslationRow, ...]:
        """Every translation (of one recording) that this viewer may read, in the order of recordings and time."""
        need(viewer, *ANYBODY)
        with self._rooms.db.read() as connection:
            rows = [recording_named(connection, viewer, recording)] if recording else recordings.everything(connection)
            readings = Readings(connection, self._rooms.context())
            having = set(translations.recordings_with(connection))
            return tuple(TranslationRow(r.code, one) for r in rows if r.id in having for one in show_translations(readings, viewer, r.id, outline=True))

    def one(self, viewer: Viewer, code: str) -> TranslationPage:
        """A translation with its original and who did what with it."""
        need(viewer, *HELPERS)
        with self._rooms.db.read() as connection:
            row, one, readings = self._shown(connection, viewer, code)
            stretch, original, *_ = stretch_to_translate(readings, viewer, row.recording_id, row.start_ms, row.end_ms)
            code_of = recordings.by_id(connection, row.recording_id).code
            before, told = None, []
            for r in translations.history(connection, code):
                if (r.number, r.state) != before:
                    told.append(f"{begin(TRANSLATION_STATES[r.state])}: {r.by}, {day(r.at)}")
                before = (r.number, r.state)
            return TranslationPage(ToTranslate(code_of, stretch.start_ms, stretch.end_ms, original), one, tuple(told))

    def _shown(self, connection: Connection, viewer: Viewer, code: str) -> tuple[Row[Any], ShownTranslation, Readings]:
        row = translations.by_code(connection, code)
        readings = Readings(connection, self._rooms.context())
        if row is None or not reach.of(connection, viewer).has(row.recording_id):
            raise NotFound("There is no such translation.", "See the recording's page.")
        one = show_one(readings, viewer, row)
        if one is None:
            raise Refused("Something is closed here.", (), "It can be read when its original is open again.")
        return row, one, readings

    # -- writing -----------------------------------------------------------------------------------------------
    def look(self, viewer: Viewer, recording: str, first: tuple[int, int], last: tuple[int, int]) -> ToTranslate:
        """The words that somebody is about to translate: from one to another (utterance, number of the word). Raises BadInput, Refused."""
        need(viewer, *HELPERS)
        with self._rooms.db.read() as connection:
            row = recording_named(connection, viewer, recording)
            start_ms, end_ms = custody.range_in_time(connection, viewer, row.id, first, last, self._rooms.context())
            readings = Readings(connection, self._rooms.context())
            stretch, original, *_ = stretch_to_translate(readings, viewer, row.id, start_ms, end_ms)
            return ToTranslate(recording, stretch.start_ms, stretch.end_ms, original)

    def write(
        self, viewer: Viewer, recording: str, start_ms: int, end_ms: int, language: str, text: str, translator: str = ""
    ) -> str:  # fmt: skip
        """Put a translation of what is said from–to (ms) beside it, as a draft; returns its code. `translator`: an account, or the code
        of somebody on record; "" whoever writes. Raises BadInput, Refused, NotFound."""
        need(viewer, *HELPERS)
        language, text = languages.tag(language), _text(text)
        with self._rooms.db.write() as connection:
            row = recording_named(connection, viewer, recording)
            readings = Readings(connection, self._rooms.context())
            who = self._translator(readings, viewer, translator)
            stretch, _, sha256, hidden = stretch_to_translate(readings, viewer, row.id, start_ms, end_ms)
            code, now = translations.new_code(connection), self._rooms.now()
            translations.add(
                connection, code=code, number=1, recording_id=row.id, start_ms=stretch.start_ms, end_ms=stretch.end_ms, original_sha256=sha256,
                language=language, text=text, translator=who, state=State.DRAFT.value, by=viewer.name, at=now, hidden=hidden,
            )  # fmt: skip
            self._after(connection, viewer, row.id, code, "translation written", now)
            return code

    def change(self, viewer: Viewer, code: str, text: str, language: str = "", translator: str = "") -> None:
        """Give it other words, or the same for the original as it is today; it is a draft again, and its languages and translator are
        as they were where they are not given."""
        need(viewer, *HELPERS)
        text = _text(text)
        with self._rooms.db.write() as connection:
            row, _, readings = self._shown(connection, viewer, code)
            stretch, _, sha256, hidden = stretch_to_translate(readings, viewer, row.recording_id, row.start_ms, row.end_ms)
            who = self._translator(readings, viewer, translator) if translator.strip() else row.translator
            self._add(
                connection, viewer, row, "translation changed", number=row.number + 1, start_ms=stretch.start_ms, end_ms=stretch.end_ms,
                original_sha256=sha256, text=text, translator=who, state=State.DRAFT.value, hidden=hidden,
                language=languages.tag(language) if language.strip() else row.language,
            )  # fmt: skip

    def say_state(self, viewer: Viewer, code: str, state: str) -> None:
        """Say how far it has come. Who wrote it is not the second speaker who checks it: Clash. What was written of other words
        than stand there today has to be read again first: Clash."""
        need(viewer, *HELPERS)
        if state not in set(State):
            raise BadInput("There is no such state of a translation.", f"Use one of: {', '.join(State)}.")
        with self._rooms.db.write() as connection:
            row, one, _ = self._shown(connection, viewer, code)
            if state == State.CHECKED:
                if viewer.name in (row.translator, self._written_by(connection, row)):
                    raise Clash("You wrote this translation yourself.", SECOND)
                if one.changed:
                    raise Clash(CHANGED_SINCE, "Read the translation against it, and save its words again first.")
            if state != row.state:
                self._add(connection, viewer, row, "translation state", state=state)

    def _written_by(self, connection: Connection, row: Row[Any]) -> str:
        """The account that typed the words as they stand."""
        return next(str(r.by) for r in translations.history(connection, row.code) if r.number == row.number)

    def _add(self, connection: Connection, viewer: Viewer, row: Row[Any], what: str, **changed: Any) -> None:
        now = self._rooms.now()
        kept = {k: v for k, v in row._mapping.items() if k != "id"}
        translations.add(connection, **{**kept, **changed, "by": viewer.name, "at": now})
        self._after(connection, viewer, row.recording_id, row.code, what, now)

    def _after(self, connection: Connection, viewer: Viewer, recording_id: int, code: str, what: str, now: str) -> None:
        index_recording(connection, recording_id, self._rooms.context())
        audit.record(connection, viewer.name, what, f"recording {recording_id}", now, translation=code)

    def _translator(self, readings: Readings, viewer: Viewer, who: str) -> str:
        who = who.strip() or viewer.name
        if who != viewer.name and not is_known(readings, who):
            raise BadInput("Who was named as the translator is neither an account nor on record.", "Name an account, or add the person first (toldhere people add).")
        return who


def _text(text: str) -> str:
    """A translation as it is kept: one paragraph. Raises BadInput."""
    kept = " ".join("".join(c if unicodedata.category(c) != "Cc" else " " for c in unicodedata.normalize("NFC", text)).split())
    if not kept:
        raise BadInput("There are no words in the translation.", "Write them, then save again.")
    if len(kept) > MOST_LETTERS:
        raise BadInput("That is too much for one translation.", "Translate fewer words at a time; what was there before is kept.")
    return kept
