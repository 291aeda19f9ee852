"""What narrows a question: from what somebody chose or typed to what the database is asked for."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

from archive.db import consent_rows, people, reach, recordings, themes, uses
from archive.db.heard import Traits
from archive.db.search import NOBODY, Filters, Narrowing
from archive.db.session import Connection
from archive.domain.languages import tag
from archive.domain.soundcheck import Fit
from archive.domain.spans import asked_span
from archive.domain.values import LineState, Part, Use, Viewer, Way
from archive.errors import BadInput, NotFound, ToldHereError
from archive.gate.listed import open_themes
from archive.gate.places import show_gazetteer
from archive.gate.reading import Readings
from archive.gate.show import full_names, sees_names, speaker_choices
from archive.rules.questions import Field, Query, fields_of
from archive.rules.thesaurus import meant
from archive.services.grounds import Ground
from archive.services.rooms import Rooms
from archive.services.rows import Asked

ORDERS = ("best", "oldest", "newest", "interview")


class Narrow:
    """One viewer's question in one transaction."""

    def __init__(self, rooms: Rooms, readings: Readings, viewer: Viewer) -> None:
        self._rooms, self._readings, self._viewer = rooms, readings, viewer
        self._connection: Connection = readings.connection
        self._reach = reach.of(readings.connection, viewer)
        self.notes: list[str] = []  # fields among the words that came to nothing, in sentences

    def filters(self, asked: Asked, query: Query) -> Filters:
        """Everything that narrows this question. Raises BadInput, NotFound for what was chosen and does not exist."""
        list_of_uses = uses.every_use(self._connection)
        if asked.order and asked.order not in ORDERS:
            raise BadInput("What was asked for as an order is none.", f"Use one of: {', '.join(ORDERS)}.")
        narrow = Narrowing(
            place=self._place(asked.place).place, decade=_decade(asked.decade), theme=self._theme(asked.theme).theme,
            told=asked_span(asked.era) if asked.era else None, speaker_id=self._speaker(asked.speaker).speaker_id,
            traits=self._traits(asked.born, asked.sex, asked.role), recordings=self._interview(asked.interview).recordings,
            language=_language(asked.language).language, state=_state(asked.state).state, sound=_sound(asked.sound).sound,
        )  # fmt: skip
        return Filters(
            wording="full" if sees_names(self._viewer) and not self._reach.people else "shown", on=self._rooms.today(), reach=self._reach,
            exhibition=self._rooms.options.exhibition, policy=consent_rows.load_policy(self._connection, self._rooms.options.cooling_off_days), team=list_of_uses["team"],
            usable=self._usable(asked, list_of_uses), uses=tuple(u for u in list_of_uses.values() if not u.inward), narrow=narrow, fields={f: self._field(f) for f in fields_of(query)},
            confirmed=asked.confirmed, order=asked.order, named=None if sees_names(self._viewer) else full_names(self._readings),
        )  # fmt: skip

    def _usable(self, asked: Asked, list_of_uses: dict[str, Use]) -> tuple[Use, Way, date] | None:
        day = self._rooms.today()
        if asked.usable_on:
            try:
                day = date.fromisoformat(asked.usable_on)
            except ValueError:
                raise BadInput("What was asked for as the day of a use is no day.", "Write it as 2027-05-01.") from None
            if day < self._rooms.today():
                raise BadInput("That day is past.", "Ask for today or a day to come.")
        if not asked.usable_for:
            return None
        if asked.usable_for not in list_of_uses:
            raise BadInput("What was asked for as a use is no use of this archive.", f"Use one of: {', '.join(list_of_uses)}.")
        try:
            return list_of_uses[asked.usable_for], Way(asked.way), day
        except ValueError:
            raise BadInput("What was asked for as a way is no way of use.", f"Use one of: {', '.join(Way)}.") from None

    def _field(self, field: Field) -> Narrowing:
        """What a field among the words comes to. One that names nothing finds nothing, and that is said."""
        read: dict[str, Callable[[str], Narrowing]] = {
            "place": self._place, "theme": self._theme, "speaker": self._speaker, "interview": self._interview,
            "year": lambda v: Narrowing(told=asked_span(v)), "born": lambda v: Narrowing(traits=self._traits(v, "", "")),
            "role": lambda v: Narrowing(traits=self._traits("", "", v.lower())), "language": _language, "state": _state, "sound": _sound,
        }  # fmt: skip
        try:
            return read[field.name](field.value)
        except ToldHereError as wrong:
            self.notes.append(f"{field.name}:“{field.value}” finds nothing. {wrong.message} {wrong.remedy}")
            return Narrowing(recordings=NOBODY)

    def _place(self, name: str) -> Narrowing:
        """The place by any of its names, with the same ground under other names and all that lies within."""
        if not name:
            return Narrowing()
        ground = Ground(self._connection)
        start = ground.called(name)
        if start and not sees_names(self._viewer):  # what is not in their gazetteer is answered like what is in none
            wanted, shown = name.casefold(), show_gazetteer(self._readings, self._viewer).places
            mine = {p.name for p in shown if wanted in {t.casefold() for t in (p.name, *(n.text for n in p.also), *p.heard_as)}}
            start = [s for s in start if s in mine]
        if not start:
            raise NotFound("There is no such place in the gazetteer.", "See the list of places beside the question.")
        return Narrowing(place=ground.inside(start))

    def _theme(self, name: str) -> Narrowing:
        if not name:
            return Narrowing()
        found = meant(name, open_themes(self._readings, self._viewer, themes.everything(self._connection)))
        if not found:
            raise NotFound("There is no such theme in the thesaurus.", "See the list of themes beside the question.")
        return Narrowing(theme=found)

    def _speaker(self, code: str) -> Narrowing:
        if not code:
            return Narrowing()
        row = people.by_code(self._connection, code)
        # An unknown code finds nothing, like one who may not be found: the answer does not tell which.
        offered = (sees_names(self._viewer) and (row is None or row.id not in self._reach.people)) or code in dict(speaker_choices(self._readings, self._viewer))
        return Narrowing(speaker_id=int(row.id) if row is not None and offered else -1)

    def _interview(self, code: str) -> Narrowing:
        """The recordings of an interview, or one of them, by code; an unknown one finds nothing."""
        return Narrowing(recordings=frozenset(recordings.of_code(self._connection, code))) if code else Narrowing()

    def _traits(self, born: str, sex: str, role: str) -> Traits | None:
        if role and role not in tuple(Part):
            raise BadInput("What was asked for as a role in an interview is none.", f"Use one of: {', '.join(Part)}.")
        return Traits(asked_span(born) if born else None, sex, role) if born or sex or role else None


def _decade(typed: str) -> str:
    decade = typed.removesuffix("s")
    if typed and not (len(decade) == 4 and decade.isdigit() and decade.isascii()):
        raise BadInput("What was asked for as a decade is none.", "Write it as 1960.")
    return decade


def _language(typed: str) -> Narrowing:
    return Narrowing(language=tag(typed)) if typed else Narrowing()


def _state(typed: str) -> Narrowing:
    if typed and typed not in tuple(LineState):
        raise BadInput("What was asked for as the state of a transcript is none.", f"Use one of: {', '.join(LineState)}.")
    return Narrowing(state=typed)


def _sound(typed: str) -> Narrowing:
    if typed and typed not in tuple(Fit):
        raise BadInput("What was asked for as the sound is no word for it.", "Use post (fit for a listening post), listen (listen first) or read (for reading only).")
    return Narrowing(sound=typed)
