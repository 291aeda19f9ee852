"""What decisions about themes teach, read anew from what is open today whenever something it rests on changed; and what no theme describes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from archive.db import audit, consent_rows, facts, reach, themes, uses
from archive.db.session import Connection
from archive.domain.agreements import TEAM
from archive.domain.cleared import ShownGroup, ShownTaught
from archive.domain.phrases import many
from archive.domain.values import Viewer
from archive.errors import NotFound
from archive.gate.reading import Context, Readings
from archive.gate.taught import decided_passages, show_taught, show_undescribed
from archive.rules.analysis import analyse
from archive.rules.learned import DECIDED, INTERVIEWS, OTHERS, PASSAGES, TaughtTheme, learn
from archive.rules.themes import ENOUGH, Lessons, Thesaurus
from archive.services.rooms import EDITORS, Rooms, need
from archive.services.themes import ThemeRow, Themes

MOST_READ = 4_000  # passages that are looked through for groups
SHOWN = 10  # of each group


def what_is_learned(readings: Readings) -> dict[str, TaughtTheme]:
    """By theme what decisions teach today, with the words that somebody took off."""
    connection = readings.connection
    decided = decided_passages(readings)
    return learn(decided, Thesaurus.of(themes.everything(connection).values()), themes.words_off(connection)) if decided else {}


class Teaching:
    """For one run over many recordings: what is learned, read again only where decisions, names, words or consent are others by then."""

    def __init__(self) -> None:
        self._at: tuple[object, ...] = ()
        self._lessons: Mapping[str, Lessons] = {}

    def lessons(self, connection: Connection, context: Context) -> Mapping[str, Lessons]:
        """By theme what the rule needs of it."""
        on: date = context.on
        at = (on, facts.consent_revision(connection), *themes.stamp(connection))
        if at != self._at:
            self._lessons = {name: one.lessons() for name, one in what_is_learned(Readings(connection, context)).items()}
            self._at = at
        return self._lessons


@dataclass(frozen=True, slots=True)
class LearnedPage:
    """A theme, what decisions taught about it, and in sentences how that came."""

    row: ThemeRow
    notes: tuple[str, ...]
    words: tuple[ShownTaught, ...]


@dataclass(frozen=True, slots=True)
class MissingPage:
    """What passages share that no theme describes."""

    says: str
    groups: tuple[ShownGroup, ...]


class Learned:
    """What was learned in one archive. For keepers and editors, who decide."""

    def __init__(self, rooms: Rooms, listed: Themes) -> None:
        self._rooms, self._themes = rooms, listed

    def page(self, viewer: Viewer, theme: str) -> LearnedPage:
        """One theme by its name or number, with the words that decisions taught. Raises NotFound."""
        row = self._themes.one(viewer, theme)
        with self._rooms.db.read() as connection:
            readings = Readings(connection, self._rooms.context())
            taught = what_is_learned(readings).get(row.name, TaughtTheme())
            return LearnedPage(row, _notes(taught), show_taught(readings, taught))

    def take_off(self, viewer: Viewer, theme: str, word: str, back: bool = False) -> None:
        """Do not learn a word for a theme; `back`: let it be learned again. What it taught is forgotten until it is described anew. Raises
        NotFound where it is not among what is learned."""
        row = self._themes.one(viewer, theme)
        with self._rooms.db.write() as connection:
            taught = what_is_learned(Readings(connection, self._rooms.context())).get(row.name, TaughtTheme())
            stems = set(analyse(word).stem)
            found = next((w for w in taught.words if w.stem in stems and w.off is back), None)
            if found is None:
                raise NotFound("This word is not among those that are learned for the theme.", "See what was learned about it.")
            now = self._rooms.now()
            if back:
                themes.put_word_back(connection, row.name, found.stem)
            else:
                themes.take_word_off(connection, row.name, found.stem, viewer.name, now)
            themes.forget_taught_theme(connection, row.name)
            audit.record(connection, viewer.name, "word learned again" if back else "word not learned", f"theme {row.id}", now)

    def missing(self, viewer: Viewer) -> MissingPage:
        """What passages share that no theme describes, as far as this viewer may read them today."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            team = uses.every_use(connection)[TEAM]
            visible = themes.readable(team, self._rooms.today(), self._rooms.options.exhibition, consent_rows.load_policy(connection, self._rooms.options.cooling_off_days), reach.of(connection, viewer))
            found, number = show_undescribed(Readings(connection, self._rooms.context()), viewer, visible, MOST_READ, SHOWN)
        says = f"{many(number, 'passage')} that no theme describes, or only one word suggests one." if number else "Some theme describes every passage."
        if number > MOST_READ:
            says += f" The newest {MOST_READ:,} were looked through."
        if number and not found:
            says += " They share no words that others do not have as well."
        return MissingPage(says[:1].upper() + says[1:], found)


def _notes(taught: TaughtTheme) -> tuple[str, ...]:
    decided = taught.confirmed + taught.rejected
    notes = [f"{many(taught.confirmed, 'passage')} confirmed and {taught.rejected or 'none'} rejected in speech that all of the team may read."]
    notes[0] = notes[0][:1].upper() + notes[0][1:]
    if decided < DECIDED:
        notes.append(f"What is enough for a suggestion moves from {DECIDED} decisions on.")
    elif taught.enough != ENOUGH:
        notes.append(f"So {'less' if taught.enough < ENOUGH else 'more'} is enough for a suggestion: {taught.enough} instead of {ENOUGH}.")
    if not taught.words:
        notes.append(
            f"A word is learned when it was said in {PASSAGES} confirmed passages of {INTERVIEWS} interviews, and clearly more often there than in "
            f"at least {OTHERS} passages that were decided otherwise."
        )
    return tuple(notes)
