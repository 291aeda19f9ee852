"""Letters to people on record, under their contact rules, and how somebody may be reached at all."""

from __future__ import annotations

import secrets
from collections.abc import Collection, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from archive.db import audit, contacts, people
from archive.db.session import Connection
from archive.domain import languages
from archive.domain.contact import Contact, Rule
from archive.domain.printed import Letter, Paragraph, Size, Written
from archive.domain.sheetcode import LENGTH, SIGNS, Coded, code_of
from archive.domain.values import Viewer
from archive.errors import BadInput, Refused
from archive.gate.reading import Readings
from archive.gate.titles import names_another
from archive.services.reaching import person_named
from archive.services.rooms import EDITORS, KEEPER, Rooms, need

if TYPE_CHECKING:
    from archive.render.wordings import Wording

MOST_LINES, MOST_LETTERS = 8, 80  # of an address
FIELDS = ("called", "address", "language", "how")
ANOTHER = (
    "The letter names somebody who is not the one it is written to. Nothing was made.", (),
    "Take the name out: what it says of others may be told to them alone.",
)


def new_code(kind: Coded) -> str:
    """A code by chance: it says nothing of whom it is about."""
    return code_of([secrets.randbelow(len(SIGNS)) for _ in range(LENGTH)], kind)


def words_of(rooms: Rooms, language: str) -> Wording:
    """The words of forms and letters in a language; the archive's own files lie in its folder, and are put there when they are first needed."""
    from archive.render import wordings  # reads files that most commands need not

    folder = rooms.folder / wordings.FOLDER
    if not folder.is_dir():
        folder.mkdir(mode=0o700)
        for name, text in (*wordings.shipped().items(), ("README.txt", wordings.README)):
            (folder / name).write_text(text, encoding="utf-8")
    return wordings.wording(language, folder)


def full_name(connection: Connection, person_id: int) -> str:
    """Somebody's full name on record, else their code."""
    named = people.names(connection).get(person_id, [])
    return next((n.text for n in named if n.kind == "full"), "") or people.codes_by_id(connection)[person_id]


def letter_to(
    connection: Connection, rooms: Rooms, by: str, person_id: int, heading: str, paragraphs: Sequence[Paragraph], *,
    about: Collection[int] = (), fixed: Collection[str] = (), language: str = "en", size: Size = Size.A4, large: bool | None = None,
) -> Written:  # fmt: skip
    """A letter to somebody on record: addressed, printed and named as their contact rules have it; a tuple among `paragraphs` is a list of points.

    `connection`: of a write, since the letter goes on record. `about`: ids of others who may be named in it (a guardian's letter is about the
    minor). `fixed`: wordings of ours that name nobody ("May we ask you again?", where somebody is called May). `language`: of the paragraphs. `large` None: as they read. `Written.notes` is for whoever sends it. Raises Refused where it names somebody else on record, or whom
    somebody decided to hide; BadInput where it cannot be printed.
    """
    from archive.render.letter import letter_pdf  # a fifth of a second, which every worker's start would wait for

    contact, name = contacts.of(connection, person_id), full_name(connection, person_id)
    texts = [heading, *(point for p in paragraphs for point in ((p,) if isinstance(p, str) else p))]
    ours = (rooms.options.name, rooms.options.exhibition, contact.called or name, *fixed)
    if names_another(Readings(connection, rooms.context()), texts, (person_id, *about), ours):
        raise Refused(*ANOTHER)
    reference = new_code(Coded.LETTER)
    called = contact.called or name
    letter = Letter(rooms.options.name, contact.outside(name), called, not contact.plain, contact.by_hand, rooms.today(), reference, heading, tuple(paragraphs))
    wording = words_of(rooms, language)
    data = letter_pdf(letter, wording, size, contact.large if large is None else large)
    audit.record(connection, by, "letter written", f"person {person_id}", rooms.now(), reference=reference)
    other = () if contact.language == wording.language else (f"They read {languages.name(contact.language)}, and this letter is in {languages.name(wording.language)}: have it translated, or read it to them.",)
    return Written(f"letter-{reference}.pdf", data, (*contact.notes(), *other), reference)


class Letters:
    """How people may be reached, and the face of an envelope."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms

    def contact(self, viewer: Viewer, code: str) -> Contact:
        """How somebody may be reached; the most careful answer where nobody said. Raises NotFound."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            return contacts.of(connection, person_named(connection, viewer, code).id)

    def say(self, viewer: Viewer, code: str, cells: Mapping[str, str], rules: Collection[str], large: bool) -> Contact:
        """Keep how somebody may be reached, in place of what was on record. `cells`: called, address (its lines), language, how."""
        need(viewer, *KEEPER)
        lines = tuple(line.strip() for line in cells.get("address", "").splitlines() if line.strip())
        if len(lines) > MOST_LINES or any(len(line) > MOST_LETTERS for line in (*lines, cells.get("called", ""))):
            raise BadInput(f"An address has at most {MOST_LINES} lines of {MOST_LETTERS} letters.", "Make it shorter. Nothing was changed.")
        try:
            kept = frozenset(Rule(rule) for rule in rules)
        except ValueError:
            raise BadInput("That is no rule that we know.", f"Choose among: {', '.join(Rule)}. Nothing was changed.") from None
        language = languages.tag(cells.get("language", "") or "en")
        words_of(self._rooms, language)  # says what is missing before anything is kept
        said = Contact(cells.get("called", "").strip(), lines, kept, language, large, cells.get("how", "").strip()[:400])
        with self._rooms.db.write() as connection:
            person_id = person_named(connection, viewer, code).id
            contacts.write(connection, person_id, said, viewer.name, self._rooms.now())
            audit.record(connection, viewer.name, "contact rules written", f"person {person_id}", self._rooms.now(), rules=sorted(kept))
        return said

    def envelope(self, viewer: Viewer, code: str) -> Written:
        """The face of an envelope to somebody. Raises Refused where nothing may be posted to them."""
        need(viewer, *EDITORS)
        from archive.render.letter import envelope_pdf

        with self._rooms.db.write() as connection:
            person_id = person_named(connection, viewer, code).id
            contact = contacts.of(connection, person_id)
            if contact.by_hand:
                raise Refused("Nothing may be posted to them: hand it over in person.", (), "How to reach them stands on their page.")
            wording = words_of(self._rooms, contact.language)
            sender = "" if contact.plain else self._rooms.options.name
            lines = contact.outside(full_name(connection, person_id))
            data = envelope_pdf(lines, sender, self._rooms.today(), wording("letter", "title"), wording.language)
            reference = new_code(Coded.LETTER)
            audit.record(connection, viewer.name, "envelope printed", f"person {person_id}", self._rooms.now(), reference=reference)
        return Written(f"envelope-{reference}.pdf", data, contact.notes(), reference)


def save(written: Written, folder: Path) -> Path:
    """Write a paper into a folder under its own name, readable by this user alone."""
    path = folder / written.name
    path.write_bytes(written.data)
    path.chmod(0o600)
    return path
