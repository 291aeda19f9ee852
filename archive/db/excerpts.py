"""Chosen excerpts, who heard them against the sound, and the register of what left."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any

from sqlalchemy import Connection, Row, func, select, update

from archive.db.rows import add, one
from archive.db.tables import excerpt, export, export_file, export_item, heard, own_copy, person, recording
from archive.domain.hearing import Tick
from archive.errors import NotFound


def choose(connection: Connection, **values: Any) -> tuple[int, str]:
    """Keep an excerpt; returns its id and code (EX-1, EX-2, …)."""
    number = (connection.execute(select(func.max(excerpt.c.id))).scalar() or 0) + 1
    code = f"EX-{number}"
    return add(connection, excerpt, code=code, **values), code


def by_code(connection: Connection, code: str) -> Row[Any] | None:
    """The excerpt's row, or None; an erased one is none."""
    row = one(connection, excerpt, code=code)
    return row if row is not None and row.spans else None


def named(connection: Connection, code: str) -> Row[Any]:
    """The excerpt that somebody named by its code. Raises NotFound."""
    row = by_code(connection, code)
    if row is None:
        raise NotFound("There is no such excerpt.", "See the list of excerpts.")
    return row


def same(connection: Connection, wording_sha256: str, use: str) -> Row[Any] | None:
    """The excerpt of exactly this wording for this use that is not set aside, or None."""
    query = select(excerpt).where(
        excerpt.c.wording_sha256 == wording_sha256, excerpt.c.use == use, excerpt.c.set_aside_at.is_(None)
    )
    return connection.execute(query).first()


def chosen(connection: Connection, aside: bool = False) -> list[Row[Any]]:
    """Every excerpt that is not set aside, or every one that is (`aside`), with its recording's code (`recording_code`)."""
    query = (
        select(excerpt, recording.c.code.label("recording_code"))
        .join(recording, recording.c.id == excerpt.c.recording_id)
        .where(excerpt.c.set_aside_at.is_not(None) if aside else excerpt.c.set_aside_at.is_(None))
        .order_by(excerpt.c.id)
    )
    return [row for row in connection.execute(query) if row.spans]  # an erased one only keeps its code


def codes_in(connection: Connection, recording_ids: Collection[int]) -> frozenset[str]:
    """Codes of the excerpts that were ever chosen from these recordings."""
    return frozenset(connection.execute(select(excerpt.c.code).where(excerpt.c.recording_id.in_(recording_ids))).scalars())


def set_aside(connection: Connection, excerpt_id: int, at: str | None) -> None:
    """Take an excerpt off the list, or put it there again (None); it stays on record."""
    connection.execute(update(excerpt).where(excerpt.c.id == excerpt_id).values(set_aside_at=at))


def note_date(connection: Connection, excerpt_id: int, edtf: str) -> None:
    """Note a date after the words of an excerpt (EDTF), or none (""). Its words stay as they are."""
    connection.execute(update(excerpt).where(excerpt.c.id == excerpt_id).values(dated=edtf))


def show_as(connection: Connection, excerpt_id: int, shows: str, codes: Sequence[str]) -> None:
    """Say in what an excerpt is shown: its original, translations (by their codes, one for each piece), or both. Its words stay as they are."""
    chosen = {"translation": codes[0] if codes else "", "translations_after": list(codes[1:])}
    connection.execute(update(excerpt).where(excerpt.c.id == excerpt_id).values(shows=shows, **chosen))


def tick(connection: Connection, wording_sha256: str, tick: Tick) -> None:
    """Note that somebody heard exactly this wording against the sound, shown and heard exactly so."""
    add(
        connection, heard, excerpt_id=tick.excerpt_id, wording_sha256=wording_sha256, shown_sha256=tick.shown_sha256, by=tick.by,
        at=tick.at, second=tick.second, typed_by=tick.typed_by, from_sheet=tick.from_sheet, around=sorted(tick.around),
    )  # fmt: skip


def ticks(connection: Connection, wording_sha256: str) -> list[Tick]:
    """Every tick of this wording, in order, however it was shown."""
    query = select(heard).where(heard.c.wording_sha256 == wording_sha256).order_by(heard.c.id)
    return [
        Tick(r.excerpt_id, r.shown_sha256, r.by, r.at, r.second, r.typed_by, r.from_sheet, frozenset(r.around))
        for r in connection.execute(query)
    ]


def heard_spans(connection: Connection, recording_id: int) -> list[tuple[int, int, int]]:
    """(block id, first, last word) of everything of a recording that somebody heard against the sound, in its wording today."""
    query = (
        select(excerpt.c.spans)
        .join(heard, heard.c.wording_sha256 == excerpt.c.wording_sha256)
        .where(excerpt.c.recording_id == recording_id)
    )
    return [(int(b), int(f), int(t)) for (spans,) in connection.execute(query) for b, f, t in spans]


def add_export(connection: Connection, use: str, exhibition: str, revision: int, folder: str, by: str, at: str) -> tuple[int, str]:
    """Open one entry of the register as `approved`; returns id and code."""
    number = (connection.execute(select(func.max(export.c.id))).scalar() or 0) + 1
    code = f"OUT-{number:04d}"
    made = add(
        connection, export, code=code, use=use, exhibition=exhibition, consent_revision=revision, state="approved",
        folder=folder, by=by, at=at,
    )  # fmt: skip
    return made, code


def next_export_code(connection: Connection) -> str:
    """The code the next export will have, if none comes between."""
    return f"OUT-{(connection.execute(select(func.max(export.c.id))).scalar() or 0) + 1:04d}"


def add_item(connection: Connection, **values: Any) -> None:
    """One excerpt and person of an export."""
    add(connection, export_item, **values)


def add_file(connection: Connection, export_id: int, name: str, sha256: str) -> None:
    """One file of an export."""
    add(connection, export_file, export_id=export_id, name=name, sha256=sha256)


def add_own_copy(connection: Connection, export_id: int, person_id: int, recording_id: int) -> None:
    """An export is what somebody said in a recording, handed to themselves."""
    add(connection, own_copy, export_id=export_id, person_id=person_id, recording_id=recording_id)


def own_copy_of(connection: Connection, export_id: int) -> str:
    """The code of whose own copy an export is; "" where it is none."""
    query = select(person.c.code).join(own_copy, own_copy.c.person_id == person.c.id).where(own_copy.c.export_id == export_id)
    return str(connection.execute(query).scalar() or "")


def mark_given(connection: Connection, export_id: int, at: str) -> None:
    """The files lie where they were asked for."""
    connection.execute(update(export).where(export.c.id == export_id).values(state="given", given_at=at))


def export_by_code(connection: Connection, code: str) -> Row[Any] | None:
    """The export's row, or None."""
    return one(connection, export, code=code)


def register(
    connection: Connection, person_id: int | None = None, excerpt_id: int | None = None, recording_ids: Collection[int] | None = None
) -> list[Row[Any]]:
    """Exports, newest first; of one person or excerpt, or of what was chosen from these recordings, where asked."""
    query = select(export).order_by(export.c.id.desc())
    if person_id is not None:
        theirs = select(export_item.c.export_id).where(export_item.c.person_id == person_id)
        query = query.where(export.c.id.in_(theirs.union(select(own_copy.c.export_id).where(own_copy.c.person_id == person_id))))
    if excerpt_id is not None:
        query = query.where(export.c.id.in_(select(export_item.c.export_id).where(export_item.c.excerpt_id == excerpt_id)))
    if recording_ids is not None:
        of_these = select(export_item.c.export_id).join(excerpt, excerpt.c.id == export_item.c.excerpt_id)
        query = query.where(export.c.id.in_(of_these.where(excerpt.c.recording_id.in_(recording_ids))))
    return list(connection.execute(query))


def items(connection: Connection, export_id: int) -> list[Row[Any]]:
    """Items of an export with excerpt code and person code."""
    query = (
        select(export_item, excerpt.c.code.label("excerpt_code"), person.c.code.label("person_code"))
        .join(excerpt, excerpt.c.id == export_item.c.excerpt_id)
        .join(person, person.c.id == export_item.c.person_id)
        .where(export_item.c.export_id == export_id)
        .order_by(export_item.c.item, export_item.c.id)
    )
    return list(connection.execute(query))


def files(connection: Connection, export_id: int) -> list[Row[Any]]:
    """Files of an export."""
    return list(connection.execute(select(export_file).where(export_file.c.export_id == export_id).order_by(export_file.c.id)))
