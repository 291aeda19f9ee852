"""What is kept of consent between questions: gone with the next question after a change, and never of another transaction's consent."""

from __future__ import annotations

import pytest
from sqlalchemy import text

from archive.app import Archive, Asked
from archive.db import consent_rows, people
from archive.db.columns import Columns
from archive.db.decided import Kept
from archive.domain.values import Attribution, RestraintKind, Review, VoiceWish
from archive.services.finding import Finding
from tests import cast
from tests.cast import EDITOR, KEEPER, READER

MEMBER = next(m for m in cast.CAST if m.code == "N-28")
ASKED = (Asked("windlass"), Asked(usable_for="exhibition"), Asked(speaker=MEMBER.code), Asked(role="narrator"), Asked("windlass", sound="post"))


def answers(archive: Archive, finding: Finding) -> list[object]:
    return [(f.total, f.facets, f.confirmed, [h.usable for h in f.hits]) for viewer in (KEEPER, EDITOR, READER) for f in (finding.ask(viewer, a) for a in ASKED)]


def withdraw(archive: Archive) -> None:
    archive.consent.withdraw(KEEPER, MEMBER.code, how="letter")


def called_otherwise(archive: Archive) -> None:
    with archive.rooms.db.write() as connection:
        person = people.by_code(connection, MEMBER.code)
        assert person is not None
        consent_rows.add_wish(
            connection, person_id=person.id, attribution=Attribution.UNNAMED, voice=VoiceWish.NOT_HEARD, review=Review.WANTED,
            from_on=cast.SIGNED, by="K-01", at=archive.rooms.now(),
        )  # fmt: skip


def renamed(archive: Archive) -> None:
    with archive.rooms.db.write() as connection:
        person = people.by_code(connection, MEMBER.code)
        assert person is not None
        people.write_names(connection, person.id, [n._replace(text="Somebody Else") for n in people.names(connection)[person.id] if n.kind == "full"])


def said_otherwise(archive: Archive) -> None:
    cast.give_words(archive, cast.recording_of(MEMBER.code), [(MEMBER.code, cast.words_of("Other words altogether"))])


@pytest.mark.parametrize("change", [withdraw, called_otherwise, renamed, said_otherwise], ids=lambda f: f.__name__)
def test_the_next_question_sees_a_change(cast_archive: Archive, change: object) -> None:
    """Asked before and after with what is kept, as with nothing kept."""
    before = answers(cast_archive, cast_archive.finding)
    assert before == answers(cast_archive, Finding(cast_archive.rooms))
    change(cast_archive)  # type: ignore[operator]
    after = answers(cast_archive, cast_archive.finding)
    assert after == answers(cast_archive, Finding(cast_archive.rooms)) != before


def test_what_one_transaction_found_is_not_told_to_another_of_another_consent(cast_archive: Archive) -> None:
    """An older transaction that asks after a newer one keeps what it sees to itself."""
    db, kept = cast_archive.rooms.db, Kept()

    def holds(connection: object) -> int:
        return int(connection.execute(text("SELECT count(*) FROM restraint")).scalar_one())  # type: ignore[attr-defined]

    with db.read() as old:
        seen = holds(old)
        mine = kept.at(old)
        with db.write() as connection:
            consent_rows.add_restraint(connection, kind=RestraintKind.PAUSED, from_on=cast.SIGNED, by="K-01", at=cast_archive.rooms.now(), person_id=1)
        with db.read() as new:
            assert kept.at(new).once("holds", lambda: holds(new)) == seen + 1
            assert mine.once("holds", lambda: holds(old)) == seen
            assert kept.at(old).once("holds", lambda: holds(old)) == seen
            assert kept.at(new).once("holds", lambda: holds(new)) == seen + 1


def test_a_new_unit_is_decided_too(cast_archive: Archive) -> None:
    columns = Columns()
    with cast_archive.rooms.db.read() as connection:
        columns.at(connection)
        first = columns.decided.at(connection)
        assert columns.decided.at(connection) is first
    said_otherwise(cast_archive)
    with cast_archive.rooms.db.read() as connection:
        assert columns.decided.at(connection) is not first
