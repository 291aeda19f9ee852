"""People, their names and what they did in interviews."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import date
from typing import Any

from sqlalchemy import Connection, Row, delete, or_, select, update

from archive.db.facts import bump_consent
from archive.db.rows import add, one
from archive.db.tables import interview, participation, person, person_name
from archive.domain.attribution import PersonName
from archive.domain.dates import last_day_of
from archive.domain.values import Part, PersonDay, Scan


def by_code(connection: Connection, code: str) -> Row[Any] | None:
    """The person's row, or None."""
    return one(connection, person, code=code)


def ids_by_code(connection: Connection) -> dict[str, int]:
    """Every person: code → id, without those who were erased: nothing new is put on record about them."""
    return {r.code: r.id for r in connection.execute(select(person.c.code, person.c.id).where(person.c.erased_at.is_(None)))}


def codes_by_id(connection: Connection) -> dict[int, str]:
    """Every person: id → code."""
    return {r.id: r.code for r in connection.execute(select(person.c.code, person.c.id))}


def everyone(connection: Connection) -> list[Row[Any]]:
    """All person rows by code."""
    return list(connection.execute(select(person).order_by(person.c.code)))


def write(
    connection: Connection, code: str, born: str | None, died: str | None, days: PersonDay, note: str, sex: str = ""
) -> tuple[int, bool]:
    """Add or correct a person's row; returns (id, was_new). From when somebody is of age, or dead, is consent, and by their birth and sex
    people are found: it moves."""
    values: dict[str, Any] = {
        "born": born, "died": died, "adult_from": days.adult_from, "adult_by": days.adult_by, "dead_by": last_day_of(died),
        "note": note, "sex": sex,
    }  # fmt: skip
    row = by_code(connection, code)
    if row is None or any(getattr(row, name) != value for name, value in values.items() if name != "note"):
        bump_consent(connection)
    if row is None:
        return add(connection, person, code=code, **values), True
    connection.execute(update(person).where(person.c.id == row.id).values(**values))
    return int(row.id), False


def write_names(connection: Connection, person_id: int, names: Iterable[PersonName]) -> None:
    """Replace the names of one person; mis-hearings that somebody added by hand stay. What is hidden as a name is consent: it moves."""
    given = list(dict.fromkeys(names))
    mine = select(person_name).where(person_name.c.person_id == person_id).order_by(person_name.c.id)
    before = [(PersonName(r.text, r.kind, Scan(r.scan)), r.by) for r in connection.execute(mine)]
    if [name for name, by in before if not by] == given and not {n.text for n in given} & {n.text for n, by in before if by}:
        return
    bump_consent(connection)
    again = person_name.c.text.in_([n.text for n in given])
    connection.execute(delete(person_name).where(person_name.c.person_id == person_id, or_(person_name.c.by == "", again)))
    for text, kind, scan in given:
        add(connection, person_name, person_id=person_id, text=text, kind=kind, scan=scan.value)


def add_heard(connection: Connection, person_id: int, text: str, scan: Scan, by: str, at: str) -> bool:
    """Add a mis-hearing of a person's name by hand; False where this is on record as a name of theirs."""
    if one(connection, person_name, person_id=person_id, text=text) is not None:
        return False
    add(connection, person_name, person_id=person_id, text=text, kind="heard_as", scan=scan.value, by=by, at=at)
    bump_consent(connection)
    return True


def drop_heard(connection: Connection, person_id: int, text: str) -> bool:
    """Take a mis-hearing off that was added by hand; False where there is none."""
    mine = (person_name.c.person_id == person_id, person_name.c.text == text, person_name.c.by != "")
    bump_consent(connection)
    return connection.execute(delete(person_name).where(*mine)).rowcount > 0


def heard_by_hand(connection: Connection) -> dict[tuple[int, str], tuple[str, str]]:
    """(person id, mis-hearing) → who added it by hand, and when."""
    return {(r.person_id, r.text): (r.by, r.at) for r in connection.execute(select(person_name).where(person_name.c.by != ""))}


def born(connection: Connection, person_id: int) -> str | None:
    """The person's birth date as told (EDTF), or None."""
    return connection.execute(select(person.c.born).where(person.c.id == person_id)).scalar()


def names(connection: Connection) -> dict[int, list[PersonName]]:
    """The names of everybody: person id → names."""
    found: dict[int, list[PersonName]] = {}
    for row in connection.execute(select(person_name).order_by(person_name.c.id)):
        found.setdefault(row.person_id, []).append(PersonName(row.text, row.kind, Scan(row.scan)))
    return found


def participants(connection: Connection, interview_id: int | None) -> dict[int, str]:
    """Who took part: person id → role. Empty where there is no interview."""
    query = select(participation).where(participation.c.interview_id == interview_id).order_by(participation.c.id)
    return {r.person_id: r.role for r in connection.execute(query)}


def participants_of(connection: Connection, interview_ids: Collection[int]) -> dict[int, dict[int, str]]:
    """interview id → who took part, as `participants`."""
    query = select(participation).where(participation.c.interview_id.in_(interview_ids)).order_by(participation.c.id)
    found: dict[int, dict[int, str]] = {}
    for row in connection.execute(query):
        found.setdefault(row.interview_id, {})[row.person_id] = row.role
    return found


def taking_part(connection: Connection, most: int) -> set[int]:
    """Ids of people who take part in any interview, at most so many."""
    query = select(participation.c.person_id).distinct().order_by(participation.c.person_id).limit(most)
    return {int(p) for p in connection.execute(query).scalars()}


def take_part(connection: Connection, interview_id: int, person_id: int, role: str) -> bool:
    """Put a person into an interview; True where this was new. It changes who counts as heard, so consent moves."""
    if one(connection, participation, interview_id=interview_id, person_id=person_id, role=role) is not None:
        return False
    add(connection, participation, interview_id=interview_id, person_id=person_id, role=role)
    bump_consent(connection)
    return True


def narrators(connection: Connection) -> list[Row[Any]]:
    """Everybody who narrated in an interview, by code."""
    who = select(participation.c.person_id).where(participation.c.role == "narrator")
    return list(connection.execute(select(person).where(person.c.id.in_(who)).order_by(person.c.code)))


def parts_of(connection: Connection) -> dict[str, tuple[set[Part], date | None]]:
    """Everybody who takes part anywhere: code → (as what, their latest possible 18th birthday)."""
    query = select(person.c.code, person.c.adult_by, participation.c.role).join(participation, participation.c.person_id == person.c.id)
    found: dict[str, tuple[set[Part], date | None]] = {}
    for row in connection.execute(query):
        found.setdefault(row.code, (set(), row.adult_by))[0].add(Part(row.role))
    return found


def interviews_of(connection: Connection, person_id: int) -> list[Row[Any]]:
    """Rows (id, code, role) of the interviews this person took part in."""
    query = (
        select(interview.c.id, interview.c.code, participation.c.role)
        .join(participation, participation.c.interview_id == interview.c.id)
        .where(participation.c.person_id == person_id)
        .order_by(interview.c.code)
    )
    return list(connection.execute(query))
