"""The words themselves: immutable blocks (one utterance each) and versions that list them.

Only gate/ may import this module: whoever reads words reads them through one of the gate's doors.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import starmap
from typing import Any

from sqlalchemy import ColumnElement, Connection, Row, Text, cast, delete, func, insert, or_, select, true, update

from archive.db import sittings
from archive.db.facts import bump_consent
from archive.db.rows import add
from archive.db.tables import block, edit, version, version_block
from archive.domain import editing
from archive.domain.erasing import Times, touches, without
from archive.domain.passages import Utterance
from archive.domain.values import LineState, Word

SPEAKERS = "speakers"  # the kind of a version that has the words of the one before, and other speakers
ALL_OF_IT = 2**53  # ms: later than any recording ends


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a version to be written: a block that exists, or new words; and who speaks (None: unassigned)."""

    speaker_id: int | None
    block_id: int | None = None
    words: tuple[Word, ...] = ()
    state: LineState = LineState.MACHINE
    state_by: str = ""
    verbatim: bool = False
    overlap: bool = False


def newest_version(connection: Connection, recording_id: int) -> int | None:
    """The version that counts today, or None where nothing was transcribed."""
    query = select(func.max(version.c.id)).where(version.c.recording_id == recording_id)
    found = connection.execute(query).scalar()
    return None if found is None else int(found)


def newest_of_kind(connection: Connection, recording_id: int, kind: str) -> int | None:
    """The newest version of this kind, or None where there is none."""
    query = select(func.max(version.c.id)).where(version.c.recording_id == recording_id, version.c.kind == kind)
    found = connection.execute(query).scalar()
    return None if found is None else int(found)


def origin(connection: Connection, recording_id: int) -> Row[Any] | None:
    """The version that brought the words of today, the machine's or somebody's file: the newest one of which a block still
    stands, where any does. None where there are no words."""
    brought = (version.c.recording_id == recording_id, version.c.kind.in_(("machine", "imported")))
    today = select(version_block.c.block_id).where(version_block.c.version_id == newest_version(connection, recording_id))
    still = select(version_block.c.version_id).where(version_block.c.block_id.in_(today))
    query = select(version).where(*brought).order_by(version.c.id.in_(still).desc(), version.c.id.desc()).limit(1)
    return connection.execute(query).first()


def lines_of(connection: Connection, version_id: int) -> list[editing.Line]:
    """The lines of a version, in order, without their words."""
    query = (
        select(version_block, block.c.start_ms, block.c.end_ms)
        .join(block, block.c.id == version_block.c.block_id)
        .where(version_block.c.version_id == version_id)
        .order_by(version_block.c.position)
    )
    return [
        editing.Line(r.block_id, r.speaker_id, r.start_ms, r.end_ms, LineState(r.state), r.state_by, r.verbatim, r.overlap)
        for r in connection.execute(query)
    ]


def lines_now(connection: Connection, recording_id: int) -> list[editing.Line]:
    """The lines of a recording as they stand now: the newest version, and every edit that is in no version yet."""
    newest = newest_version(connection, recording_id)
    lines = lines_of(connection, newest) if newest is not None else []
    for row in sittings.waiting(connection, recording_id):
        editing.apply(lines, sittings.change_of(row))
    return lines


def may_say(letters: str) -> ColumnElement[bool]:
    """True of a block that may have these letters (ASCII, lower case) in a row: one without them that has no other letters either
    has not. Blocks are kept with all but ASCII escaped."""
    written = cast(block.c.words, Text)
    return or_(func.lower(written).contains(letters), written.contains("\\u", autoescape=True)) if letters.isascii() else true()


def recordings_saying(connection: Connection, letters: str) -> list[int]:
    """Ids of the recordings whose words of today, or whose edits that wait, may have these letters in a row."""
    newest = select(func.max(version.c.id)).group_by(version.c.recording_id)
    query = (
        select(version.c.recording_id).distinct()
        .join(version_block, version_block.c.version_id == version.c.id).join(block, block.c.id == version_block.c.block_id)
        .where(version.c.id.in_(newest), may_say(letters))
    )  # fmt: skip
    return sorted({int(r) for r in connection.execute(query).scalars()} | sittings.recordings_waiting(connection))


def saying(connection: Connection, block_ids: Iterable[int], letters: str) -> dict[int, tuple[Word, ...]]:
    """block id → words, of those of these blocks that may have these letters in a row."""
    wanted = func.json_each(json.dumps(list(block_ids))).table_valued("value")
    query = select(block.c.id, block.c.words).join(wanted, wanted.c.value == block.c.id).where(may_say(letters))
    return {r.id: _words(r.words) for r in connection.execute(query)}


def recordings_with_words(connection: Connection, recording_ids: Collection[int] | None = None) -> dict[int, int]:
    """recording id → newest version id, for all (of these) that have words."""
    query = select(version.c.recording_id, func.max(version.c.id)).group_by(version.c.recording_id)
    if recording_ids is not None:
        query = query.where(version.c.recording_id.in_(recording_ids))
    return {int(r[0]): int(r[1]) for r in connection.execute(query)}


def with_other_words(connection: Connection, recording_ids: Collection[int]) -> set[int]:
    """Those of these recordings whose words were written more than once."""
    query = (
        select(version.c.recording_id)
        .where(version.c.recording_id.in_(recording_ids), version.c.kind != SPEAKERS)
        .group_by(version.c.recording_id)
        .having(func.count() > 1)
    )
    return {int(r) for r in connection.execute(query).scalars()}


def versions_with_words(connection: Connection, recording_id: int) -> list[int]:
    """Ids of the versions in which a recording's words were written, oldest first."""
    query = select(version.c.id).where(version.c.recording_id == recording_id, version.c.kind != SPEAKERS).order_by(version.c.id)
    return [int(r) for r in connection.execute(query).scalars()]


def utterances(connection: Connection, version_id: int) -> list[Utterance]:
    """The utterances of a version, in order."""
    return utterances_near(connection, {version_id: [(0, ALL_OF_IT)]})[version_id]


def utterances_near(
    connection: Connection, asked: Mapping[int, Iterable[tuple[int, int]]]
) -> dict[int, list[Utterance]]:
    """version id → the utterances, in order, that share time with any of the stretches (ms). One statement for all."""
    pieces = [(version_id, *stretch) for version_id, stretches in asked.items() for stretch in stretches]
    item = func.json_each(json.dumps(pieces)).table_valued("value")
    version_id, start_ms, end_ms = (func.json_extract(item.c.value, f"$[{n}]") for n in range(3))
    query = (
        select(*(version_block.c[c] for c in ("version_id", "block_id", "speaker_id", "state", "verbatim")), cast(block.c.words, Text).label("written"))
        .distinct()
        .select_from(item)
        .join(version_block, version_block.c.version_id == version_id)
        .join(block, block.c.id == version_block.c.block_id)
        .where(block.c.start_ms < end_ms, block.c.end_ms > start_ms)
        .order_by(version_block.c.version_id, version_block.c.position)
    )
    rows = connection.execute(query).all()
    spoken = _read([r.written for r in rows])
    found: dict[int, list[Utterance]] = {key: [] for key in asked}
    for row, data in zip(rows, spoken, strict=True):
        found[row.version_id].append(_utterance(row, data))
    return found


def counted(connection: Connection, version_id: int) -> int:
    """How many words a version has."""
    query = (
        select(func.coalesce(func.sum(func.json_array_length(block.c.words)), 0))
        .select_from(version_block.join(block, block.c.id == version_block.c.block_id))
        .where(version_block.c.version_id == version_id)
    )
    return int(connection.execute(query).scalar_one())


def progress(connection: Connection, version_id: int) -> editing.Progress:
    """How far the lines of a version have come."""
    columns = (version_block.c.state, version_block.c.verbatim, version_block.c.speaker_id.is_(None).label("nobody"), func.count())
    query = select(*columns).where(version_block.c.version_id == version_id).group_by(*columns[:3])
    return editing.progress((LineState(r.state), r.nobody, r.verbatim, r[3]) for r in connection.execute(query))


def blocks(connection: Connection, block_ids: Iterable[int]) -> dict[int, tuple[str, tuple[Word, ...]]]:
    """block id → (sha256, words)."""
    query = select(block.c.id, block.c.sha256, cast(block.c.words, Text).label("written")).where(block.c.id.in_(list(block_ids)))
    rows = connection.execute(query).all()
    return {r.id: (r.sha256, _words(data)) for r, data in zip(rows, _read([r.written for r in rows]), strict=True)}


def write_version(
    connection: Connection, recording_id: int, kind: str, lines: Sequence[Line], run_id: int | None, by: str, at: str
) -> int:
    """Write a new version; blocks that exist are shared. Consent moves: other people may be heard now.

    Every edit counts as being in it: whoever writes one looks first whether any waits (`custody.settle`).
    """
    parent = newest_version(connection, recording_id)
    made = add(
        connection, version, recording_id=recording_id, parent_id=parent, kind=kind, run_id=run_id, by=by, at=at,
        edits_to=sittings.newest_edit(connection, recording_id),
    )  # fmt: skip
    rows = []
    for position, line in enumerate(lines):
        block_id = line.block_id if line.block_id is not None else add_block(connection, line.words)
        rows.append({
            "version_id": made, "position": position, "block_id": block_id, "speaker_id": line.speaker_id, "state": line.state.value,
            "state_by": line.state_by, "verbatim": line.verbatim, "overlap": line.overlap,
        })  # fmt: skip
    if rows:
        connection.execute(insert(version_block), rows)
    bump_consent(connection)
    return made


def add_block(connection: Connection, words: Sequence[Word]) -> int:
    """Keep the words of one utterance; returns the block."""
    data = [[w.text, w.start_ms, w.end_ms, round(w.probability, 4)] for w in words]
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
    times = {"start_ms": words[0].start_ms, "end_ms": max(w.end_ms for w in words)}
    return add(connection, block, sha256=hashlib.sha256(text.encode("utf-8")).hexdigest(), words=data, **times)


def _read(written: Iterable[str]) -> list[Any]:
    return list(json.loads(f"[{','.join(written)}]"))  # in one go: a long interview has a thousand blocks


def _words(data: Iterable[Sequence[Any]]) -> tuple[Word, ...]:
    return tuple(starmap(Word, data))


def _utterance(row: Any, data: Sequence[Sequence[Any]]) -> Utterance:
    words = _words(data)
    return Utterance(
        row.block_id, row.speaker_id, words[0].start_ms, max(w.end_ms for w in words), words, LineState(row.state), row.verbatim
    )


def times_of_blocks(connection: Connection, block_ids: Collection[int]) -> dict[int, tuple[int, int]]:
    """block id → when it begins and ends (ms); no words."""
    return {r.id: (r.start_ms, r.end_ms) for r in connection.execute(select(block.c.id, block.c.start_ms, block.c.end_ms).where(block.c.id.in_(block_ids)))}


# --- erasing: only with the guards open (db/erasing.py) --------------------------------------------------------------


def spoken(connection: Connection, recording_id: int | None = None) -> Iterator[list[list[Any]]]:
    """The words [text, start_ms, end_ms, probability] of each block, of one recording in all its versions and edits, or of all there are."""
    query = select(cast(block.c.words, Text))
    if recording_id is not None:
        query = query.where(block.c.id.in_(_blocks_of(connection, recording_id)))
    for written in connection.execute(query).scalars():
        yield json.loads(written)


def _blocks_of(connection: Connection, recording_id: int) -> set[int]:
    listed = select(version_block.c.block_id).join(version, version.c.id == version_block.c.version_id)
    found = set(connection.execute(listed.where(version.c.recording_id == recording_id)).scalars())
    for old, new in connection.execute(select(edit.c.old, edit.c.new).where(edit.c.recording_id == recording_id)):
        found |= {int(line[0]) for line in (*old, *new)}
    return found


def erase_words(connection: Connection, recording_id: int) -> None:
    """Delete all words of a recording, in every version and edit; versions stay as numbers."""
    mine = _blocks_of(connection, recording_id)
    versions = select(version.c.id).where(version.c.recording_id == recording_id)
    connection.execute(delete(version_block).where(version_block.c.version_id.in_(versions)))
    connection.execute(delete(block).where(block.c.id.in_(mine)))
    bump_consent(connection)


def erase_stretches(connection: Connection, recording_id: int, gone: Times, speaker_id: int | None) -> dict[int, dict[int, int]]:
    """Delete the words of a recording in these stretches (ms), and all that any version gives to this speaker. Blocks that only edits
    know go whole. Returns, for each block that changed, old number of a word → new number."""
    mine = _blocks_of(connection, recording_id)
    listed = select(version_block.c.block_id, version_block.c.speaker_id).join(version, version.c.id == version_block.c.version_id)
    rows = list(connection.execute(listed.where(version.c.recording_id == recording_id)))
    theirs = {r.block_id for r in rows if speaker_id is not None and r.speaker_id == speaker_id} | (mine - {r.block_id for r in rows})
    changed: dict[int, dict[int, int]] = {}
    for row in list(connection.execute(select(block).where(block.c.id.in_(mine)))):
        if row.id not in theirs and not touches(row.start_ms, row.end_ms, gone):
            continue
        kept, numbers = ([], {}) if row.id in theirs else without(row.words, gone)
        if len(kept) == len(row.words):
            continue
        changed[row.id] = numbers
        if kept:
            data = [list(word) for word in kept]
            written = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
            times = {"start_ms": kept[0][1], "end_ms": max(word[2] for word in kept)}
            sha256 = hashlib.sha256(written.encode("utf-8")).hexdigest()
            connection.execute(update(block).where(block.c.id == row.id).values(words=data, sha256=sha256, **times))
        else:
            connection.execute(delete(version_block).where(version_block.c.block_id == row.id))
            connection.execute(delete(block).where(block.c.id == row.id))
    bump_consent(connection)
    return changed
