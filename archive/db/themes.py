"""The thesaurus: themes, how they hang together, their tags, and words that are not to be learned."""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Collection, Iterable, Mapping
from datetime import date
from typing import Any, TypeAlias
from uuid import uuid4

from sqlalchemy import ColumnElement, Connection, Row, and_, delete, exists, func, insert, or_, select, update

from archive.db import describing, permitted
from archive.db.rows import add, one
from archive.db.tables import (
    find_text,
    find_unit,
    mention,
    passage,
    tag,
    tag_taught_by,
    theme,
    theme_related,
    theme_vector,
    theme_word_off,
    unit_tag,
    version,
)
from archive.domain.agreements import Policy
from archive.domain.reach import EVERYTHING, Reach
from archive.domain.values import Use, Way
from archive.rules.themes import BARELY, Theme

Condition: TypeAlias = ColumnElement[bool]
_RANK = {"confirmed": 2, "rejected": 1, "suggested": 0}


def everything(connection: Connection) -> dict[str, Theme]:
    """Every theme by its name."""
    listed = describing.themes(connection)
    name_of = {r.id: r.name for r in listed}
    related: dict[int, list[str]] = {}
    for pair in connection.execute(select(theme_related)):
        related.setdefault(pair.theme_id, []).append(name_of[pair.other_id])
        related.setdefault(pair.other_id, []).append(name_of[pair.theme_id])
    return {
        r.name: Theme(
            r.name, name_of.get(r.broader_id, ""), r.scope_note, tuple(r.words), tuple((a, b) for a, b in r.use_for),
            tuple((a, b) for a, b in r.labels), tuple(sorted(related.get(r.id, ()))),
        )
        for r in listed
    }  # fmt: skip


def uris(connection: Connection) -> dict[str, str]:
    """Name → what the theme is called in SKOS, whatever its name."""
    return {r.name: r.uri for r in connection.execute(select(theme.c.name, theme.c.uri))}


def new_uri() -> str:
    """A name for SKOS that nobody else gives (RFC 9562)."""
    return f"urn:uuid:{uuid4()}"


def write(connection: Connection, themes: Iterable[Theme], given: Mapping[str, str] | None = None) -> None:
    """Add or correct themes by their names; every broader or related one must be on record or among them. `given`: name → URI of
    those that bring one."""
    listed, known = list(themes), given or {}
    for t in listed:
        values: dict[str, Any] = {"scope_note": t.scope_note, "words": list(t.words), "use_for": [*map(list, t.use_for)], "labels": [*map(list, t.labels)]}
        if not connection.execute(update(theme).where(theme.c.name == t.name).values(**values)).rowcount:
            add(connection, theme, name=t.name, uri=known.get(t.name) or new_uri(), **values)
    ids = {r.name: r.id for r in connection.execute(select(theme.c.name, theme.c.id))}
    for t in listed:
        connection.execute(update(theme).where(theme.c.id == ids[t.name]).values(broader_id=ids[t.broader] if t.broader else None))
    mine = [ids[t.name] for t in listed]
    connection.execute(delete(theme_related).where(theme_related.c.theme_id.in_(mine) | theme_related.c.other_id.in_(mine)))
    pairs = {tuple(sorted((ids[t.name], ids[other]))) for t in listed for other in t.related}
    if pairs:
        connection.execute(insert(theme_related), [{"theme_id": a, "other_id": b} for a, b in sorted(pairs)])


def rename(connection: Connection, name: str, new: str) -> None:
    """Give a theme another name; `move_tags` takes its tags along."""
    connection.execute(update(theme).where(theme.c.name == name).values(name=new))


def remove(connection: Connection, name: str) -> None:
    """Take a theme without narrower ones out, with what is not to be learned for it and what was made of its note."""
    row = one(connection, theme, name=name)
    if row is not None:
        connection.execute(delete(theme_related).where((theme_related.c.theme_id == row.id) | (theme_related.c.other_id == row.id)))
        for mine in (theme_word_off, theme_vector):
            connection.execute(delete(mine).where(mine.c.theme_id == row.id))
        connection.execute(delete(theme).where(theme.c.id == row.id))


# --- tags of themes ---------------------------------------------------------------------------------------------------
def decided_number(connection: Connection, name: str) -> dict[str, int]:
    """state → number of a theme's tags."""
    query = select(tag.c.state, func.count()).where(tag.c.kind == "theme", tag.c.value == name).group_by(tag.c.state)
    return {state: int(n) for state, n in connection.execute(query)}


def move_tags(connection: Connection, name: str, new: str, states: Collection[str]) -> set[int]:
    """Let a theme's tags in these states be another's. Where both have one for the same stretch one stays, a confirmed one before any
    other. Returns the recordings whose facet values must be made anew."""
    mine = and_(tag.c.kind == "theme", tag.c.value == name, tag.c.state.in_(states))
    there = {(r.recording_id, r.start_ms, r.end_ms): r for r in connection.execute(select(tag).where(tag.c.kind == "theme", tag.c.value == new))}
    touched, gone = set(), []
    for row in connection.execute(select(tag).where(mine)):
        touched.add(row.recording_id)
        other = there.get((row.recording_id, row.start_ms, row.end_ms))
        if other is not None:
            gone.append(row.id if _RANK[other.state] >= _RANK[row.state] else other.id)
    describing.forget_tags(connection, gone)
    connection.execute(update(tag).where(mine).values(value=new))
    return touched


def forget_suggestions(connection: Connection, name: str) -> None:
    """Forget what was suggested for a theme and decided by nobody."""
    mine = select(tag.c.id).where(tag.c.kind == "theme", tag.c.value == name, tag.c.state == "suggested")
    describing.forget_tags(connection, list(connection.execute(mine).scalars()))


def forget_taught(connection: Connection, recording_ids: Collection[int]) -> None:
    """Forget suggestions that decided passages of these recordings taught, in whatever recording, because something in them was closed or
    hidden. Describing anew suggests again what the others still teach."""
    taught = select(tag_taught_by.c.tag_id).where(tag_taught_by.c.recording_id.in_(recording_ids))
    query = select(tag.c.id).where(tag.c.id.in_(taught), tag.c.state == "suggested")
    describing.forget_tags(connection, list(connection.execute(query).scalars()))


def forget_taught_theme(connection: Connection, name: str) -> None:
    """Forget suggestions of a theme that decisions taught, because a word is not to be learned any more."""
    taught = select(tag_taught_by.c.tag_id)
    query = select(tag.c.id).where(tag.c.kind == "theme", tag.c.value == name, tag.c.id.in_(taught), tag.c.state == "suggested")
    describing.forget_tags(connection, list(connection.execute(query).scalars()))


def decided(connection: Connection, most: int) -> list[Row[Any]]:
    """The newest themes that a person decided about, `most` of them, with the passage in which the evidence begins, in order."""
    inside = and_(passage.c.recording_id == tag.c.recording_id, passage.c.start_ms <= tag.c.start_ms, tag.c.start_ms < passage.c.end_ms)
    query = (
        select(tag.c.recording_id, tag.c.start_ms, tag.c.end_ms, tag.c.value, tag.c.state, passage.c.start_ms.label("from_ms"), passage.c.end_ms.label("until_ms"))
        .join(passage, inside)
        .where(tag.c.kind == "theme", tag.c.state != "suggested")
        .order_by(tag.c.decided_at.desc(), tag.c.id.desc())
        .limit(most)
    )
    return sorted(connection.execute(query), key=lambda r: (r.recording_id, r.start_ms, r.value))


def readable(team: Use, on: date, exhibition: str, policy: Policy, reach: Reach = EVERYTHING) -> Condition:
    """Units whose words the team may read on a day, as far as who asks reaches: what `counts`, `undescribed` and `described` are asked with."""
    return and_(permitted.visible(find_unit, team, Way.WORDS, on, exhibition, policy), permitted.within(find_unit, reach))


def counts(connection: Connection, visible: Condition) -> dict[tuple[str, str], int]:
    """(theme, state) → in how many passages that are `visible` it is confirmed or suggested."""
    number = func.count(func.distinct(find_unit.c.passage_id))
    query = (
        select(unit_tag.c.value, tag.c.state, number)
        .join(tag, tag.c.id == unit_tag.c.tag_id)
        .join(find_unit, find_unit.c.id == unit_tag.c.unit_id)
        .where(unit_tag.c.kind == "theme", visible)
        .group_by(unit_tag.c.value, tag.c.state)
    )
    return {(value, state): int(n) for value, state, n in connection.execute(query)}


_COLUMNS = (find_unit.c.id, find_unit.c.recording_id, find_unit.c.start_ms, find_unit.c.end_ms, find_text.c.shown_exact, find_text.c.shown_stem)
_HAS_THEME = exists().where(
    unit_tag.c.unit_id == find_unit.c.id, unit_tag.c.kind == "theme", tag.c.id == unit_tag.c.tag_id,
    or_(tag.c.state == "confirmed", tag.c.sure > BARELY),
)  # fmt: skip


def undescribed(connection: Connection, visible: Condition, most: int) -> tuple[list[Row[Any]], int]:
    """The newest units that are `visible` and that no theme describes (nothing confirmed, nothing suggested by more than one word), in the tokens of the shown wording; and how many there are."""
    number = connection.execute(select(func.count()).select_from(find_unit).where(visible, ~_HAS_THEME)).scalar_one()
    return _tokens(connection, and_(visible, ~_HAS_THEME), most), int(number)


def described(connection: Connection, visible: Condition, most: int) -> list[Row[Any]]:
    """The newest units that are `visible` and that a theme describes."""
    return _tokens(connection, and_(visible, _HAS_THEME), most)


def _tokens(connection: Connection, where: Condition, most: int) -> list[Row[Any]]:
    query = select(*_COLUMNS).join(find_text, find_text.c.unit_id == find_unit.c.id).where(where).order_by(find_unit.c.id.desc()).limit(most)
    return list(connection.execute(query))


# --- what is not to be learned ----------------------------------------------------------------------------------------
def take_word_off(connection: Connection, name: str, stem: str, by: str, at: str) -> int:
    """Keep that a word is not to be learned for a theme. Returns the row."""
    row, salt = one(connection, theme, name=name), secrets.token_hex(16)
    return add(connection, theme_word_off, theme_id=row.id if row is not None else 0, salt=salt, digest=_digest(salt, stem), by=by, at=at)


def put_word_back(connection: Connection, name: str, stem: str) -> bool:
    """Let a word be learned again; False where it was not taken off."""
    found = [r.id for r in _off(connection) if r.name == name and _digest(r.salt, stem) == r.digest]
    connection.execute(delete(theme_word_off).where(theme_word_off.c.id.in_(found)))
    return bool(found)


def words_off(connection: Connection) -> WordsOff:
    """Which words are not to be learned."""
    return WordsOff(_off(connection))


class WordsOff:
    """Asked with a theme and a stem: True where somebody said that it is not to be learned."""

    def __init__(self, kept: Iterable[Row[Any]]) -> None:
        self._of: dict[str, list[tuple[str, str]]] = {}
        for row in kept:
            self._of.setdefault(row.name, []).append((row.salt, row.digest))

    def __call__(self, name: str, stem: str) -> bool:
        return any(_digest(salt, stem) == digest for salt, digest in self._of.get(name, ()))


def _off(connection: Connection) -> list[Row[Any]]:
    query = select(theme_word_off.c.id, theme_word_off.c.salt, theme_word_off.c.digest, theme.c.name).join(theme, theme.c.id == theme_word_off.c.theme_id)
    return list(connection.execute(query))


def _digest(salt: str, stem: str) -> str:
    return hashlib.sha256(f"{salt} {stem}".encode()).hexdigest()


def stamp(connection: Connection) -> tuple[object, ...]:
    """Another value whenever what is learned could be: decisions, words off, names that are noted, transcripts, the thesaurus itself."""
    states = select(tag.c.state, func.count(), func.max(tag.c.decided_at)).where(tag.c.kind == "theme", tag.c.state != "suggested")
    decisions = connection.execute(states.group_by(tag.c.state).order_by(tag.c.state)).all()
    newest = [connection.execute(select(func.max(table.c.id), func.count())).one() for table in (mention, version, theme_word_off, theme)]
    return (*map(tuple, decisions), *map(tuple, newest))
