"""What a person decides about suggestions: which of them wait, in which order, what was decided and what stood before."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import date
from typing import Any

from sqlalchemy import ColumnElement, Connection, Row, Select, and_, delete, func, insert, select, update

from archive.db import describing, permitted
from archive.db.rows import add
from archive.db.tables import find_unit, recording, tag, tag_decision, voicing_person
from archive.domain.agreements import Policy
from archive.domain.reach import EVERYTHING, Reach
from archive.domain.values import Use, Way
from archive.rules.told import FROM_BIRTH

ORDERS = ("needed", "doubt", "speaker")


def open_to(team: Use, on: date, exhibition: str, policy: Policy, reach: Reach = EVERYTHING) -> ColumnElement[bool]:
    """True of a tag whose whole stretch lies in a find unit that the team may read on this day, as far as who asks reaches."""
    here = select(find_unit.c.id).where(
        find_unit.c.recording_id == tag.c.recording_id, find_unit.c.start_ms <= tag.c.start_ms, tag.c.end_ms <= find_unit.c.end_ms,
        permitted.visible(find_unit, team, Way.WORDS, on, exhibition, policy), permitted.within(find_unit, reach),
    )  # fmt: skip
    return here.exists()


def count_waiting(connection: Connection, may_read: ColumnElement[bool], kind: str = "", recording_id: int | None = None) -> int:
    """How many suggestions wait for a person."""
    return int(connection.execute(_waiting(select(func.count()), may_read, kind, recording_id)).scalar_one())


def waiting(
    connection: Connection, may_read: ColumnElement[bool], order: str, most: int, kind: str = "", recording_id: int | None = None,
    needed: Sequence[tuple[int, int, int]] = (),
) -> list[int]:  # fmt: skip
    """Ids of suggestions that wait, the first `most` of them. needed: those in these stretches (recording id,
    start_ms, end_ms) first, then the most doubtful; doubt: the least sure first; speaker: by who is heard, interview and time."""
    rows = _waiting(select(tag.c.id).join(recording, recording.c.id == tag.c.recording_id), may_read, kind, recording_id)
    place = (recording.c.code, tag.c.start_ms, tag.c.id)
    first: list[int] = []
    if order == "needed":
        chosen = func.json_each(json.dumps(needed)).table_valued("value").alias("chosen")
        where, start_ms, end_ms = (func.json_extract(chosen.c.value, f"$[{n}]") for n in range(3))
        beside = select(tag.c.id).select_from(chosen).join(tag, and_(tag.c.recording_id == where, tag.c.start_ms < end_ms, start_ms < tag.c.end_ms))
        first = list(connection.execute(rows.where(tag.c.id.in_(beside)).order_by(tag.c.sure, *place).limit(most)).scalars())
    if order == "speaker":
        heard = (
            select(func.min(voicing_person.c.person_id)).join(find_unit, find_unit.c.voicing_id == voicing_person.c.voicing_id)
            .where(find_unit.c.recording_id == tag.c.recording_id, find_unit.c.start_ms <= tag.c.start_ms, tag.c.start_ms < find_unit.c.end_ms)
            .scalar_subquery()
        )  # fmt: skip
        rows = rows.order_by(heard, *place)
    else:
        rows = rows.order_by(tag.c.sure, *place)
    rest = connection.execute(rows.limit(most)).scalars()
    return list(dict.fromkeys([*first, *rest]))[:most]


def _waiting(query: Select[Any], may_read: ColumnElement[bool], kind: str, recording_id: int | None) -> Select[Any]:
    query = query.where(tag.c.state == "suggested", may_read)
    if kind:
        query = query.where(tag.c.kind == kind)
    return query if recording_id is None else query.where(tag.c.recording_id == recording_id)


def named(connection: Connection, ids: Sequence[int]) -> dict[int, Row[Any]]:
    """Tags by their ids, as far as they are there."""
    return {r.id: r for r in connection.execute(select(tag).where(tag.c.id.in_(ids)))}


def alike(connection: Connection, one: Row[Any], may_read: ColumnElement[bool], most: int) -> list[Row[Any]]:
    """Suggestions that wait and say the same of the same words: kind, value and evidence, whatever its case; `one` first."""
    query = select(tag).join(recording, recording.c.id == tag.c.recording_id).where(
        tag.c.state == "suggested", may_read, tag.c.kind == one.kind, tag.c.value == one.value,
        func.lower(func.rtrim(tag.c.evidence, ".,;:!?")) == func.lower(func.rtrim(one.evidence, ".,;:!?")),
    )  # fmt: skip
    return list(connection.execute(query.order_by(tag.c.id != one.id, recording.c.code, tag.c.start_ms).limit(most)))


def decide(connection: Connection, tags: Sequence[Row[Any]], state: str, press: str, by: str, at: str) -> None:
    """Confirm or reject these in one go; what stood before is kept, to be taken back."""
    if tags:
        common = {"press": press, "now": state, "by": by, "at": at}
        connection.execute(insert(tag_decision), [{"tag_id": t.id, "was": t.state, "was_by": t.decided_by, "was_at": t.decided_at, **common} for t in tags])
    connection.execute(update(tag).where(tag.c.id.in_([t.id for t in tags])).values(state=state, decided_by=by, decided_at=at))


def say(connection: Connection, one: Row[Any], value: str, press: str, by: str, at: str) -> None:
    """Put on record what a person says instead of a suggestion, of the same words, as confirmed. Words that tell somebody's age tell a birth
    year with whatever date they get: it stays said, so that the gate keeps it from readers."""
    reckoning = one.reckoning if one.reckoning.startswith(FROM_BIRTH) else ""
    made = add(
        connection, tag, recording_id=one.recording_id, start_ms=one.start_ms, end_ms=one.end_ms, kind=one.kind, value=value, state="confirmed",
        evidence=one.evidence, rule="said by a person", reckoning=reckoning, sure=1.0, decades=[], by=by, at=at, decided_by=by, decided_at=at,
    )  # fmt: skip
    add(connection, tag_decision, tag_id=made, press=press, was="suggested", now="confirmed", made=True, by=by, at=at)


def same_stretch(connection: Connection, one: Row[Any], value: str) -> Row[Any] | None:
    """A tag of another value at the very stretch of this one, where it is there already."""
    here = (tag.c.recording_id == one.recording_id, tag.c.start_ms == one.start_ms, tag.c.end_ms == one.end_ms, tag.c.kind == one.kind)
    return connection.execute(select(tag).where(*here, tag.c.value == value, tag.c.id != one.id).limit(1)).first()


def since(connection: Connection, at: str, most: int) -> list[Row[Any]]:
    """What was decided since (ISO 8601), newest first, with its tag: a row a tag."""
    columns = (tag_decision.c.press, tag_decision.c.now, tag_decision.c.made, tag_decision.c.by.label("decided_by_whom"), tag_decision.c.at.label("decided_when"))
    query = select(tag, *columns).join(tag_decision, tag_decision.c.tag_id == tag.c.id).where(tag_decision.c.at >= at)
    return list(connection.execute(query.order_by(tag_decision.c.id.desc()).limit(most)))


def undo(connection: Connection, press: str) -> list[int] | None:
    """Take back what was decided in one go: each tag is as it was before. Ids of the recordings; None where one of them was decided again
    since, and nothing is changed; empty where there is no such press."""
    rows = list(connection.execute(select(tag_decision, tag.c.recording_id).join(tag, tag.c.id == tag_decision.c.tag_id).where(tag_decision.c.press == press)))
    newest = max((r.id for r in rows), default=0)
    newer = select(tag_decision.c.id).where(tag_decision.c.tag_id.in_([r.tag_id for r in rows]), tag_decision.c.id > newest)
    if not rows:
        return []
    if connection.execute(newer.limit(1)).first() is not None:
        return None
    connection.execute(delete(tag_decision).where(tag_decision.c.press == press))
    describing.forget_tags(connection, [r.tag_id for r in rows if r.made])
    for row in rows:
        if not row.made:
            connection.execute(update(tag).where(tag.c.id == row.tag_id).values(state=row.was, decided_by=row.was_by, decided_at=row.was_at))
    return sorted({int(r.recording_id) for r in rows})


def forget(connection: Connection, tag_id: int) -> None:
    """Whatever was decided about a tag is taken back elsewhere: nothing of it is left to be taken back here."""
    connection.execute(delete(tag_decision).where(tag_decision.c.tag_id == tag_id))
