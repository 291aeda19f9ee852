"""The schema: the migrations and the models say the same; what is only ever added to cannot be changed; versions are told."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path
from typing import Any

import pytest
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from sqlalchemy import Connection, func, insert, inspect, select, text
from sqlalchemy.exc import IntegrityError

from archive.app import Archive
from archive.db import schema
from archive.db.columns import Columns
from archive.db.migrations.versions import __file__ as versions
from archive.db.session import FILE_NAME, Database
from archive.db.tables import APPEND_ONLY, CONSENT, metadata, person
from archive.errors import Broken, NotFound
from tests import cast

SHADOWS = {"find_fts", "find_fts_data", "find_fts_idx", "find_fts_docsize", "find_fts_config"}
# Tables of APPEND_ONLY that the cast has no rows of: one row each, written by hand.
BY_HAND = {
    "release": {"restraint_id": 1, "kind": "lifted", "from_on": "2026-01-01", "reason": "told", "by": "K-01", "at": "2026-01-01"},
    "approval": {
        "person_id": 1, "wording_sha256": "0" * 64, "use": "web", "way": "words", "answer": "no", "from_on": "2026-01-01",
        "by": "K-01", "at": "2026-01-01",
    },
    "speaks_for": {"person_id": 1, "other_id": 2, "relation": "heir", "from_on": "2026-01-01", "by": "K-01", "at": "2026-01-01"},
    "work": {"id": 1, "recording_id": 1, "start_ms": 0, "end_ms": 900, "kind": "song", "by": "E-01", "at": "2026-01-01"},
    "work_clearance": {"work_id": 1, "answer": "yes", "from_on": "2026-01-01", "basis": "told", "by": "K-01", "at": "2026-01-01"},
    "account_reach": {"account": "E-01", "person_id": 1, "in_force": True, "by": "K-01", "at": "2026-01-01"},
    "interpreted_check": {"wording_sha256": "0" * 64, "by": "E-01", "at": "2026-01-01"},
    "spoken_language": {"recording_id": 1, "language": "cy", "by": "E-01", "at": "2026-01-01"},
    "translation": {
        "code": "TR-1", "number": 1, "recording_id": 1, "start_ms": 0, "end_ms": 900, "original_sha256": "0", "language": "cy", "text": "Hwyl",
        "translator": "E-01", "state": "draft", "by": "E-01", "at": "2026-01-01",
    },
    "edit": {"sitting_id": 1, "recording_id": 1, "mark": "12345678", "old": "[]", "new": "[]", "after": 0, "by": "E-01", "at": "2026-01-01"},
    "spelling": {"key": "cannery", "text": "Cannery", "kind": "place", "heard_as": "[]", "by": "E-01", "at": "2026-01-01"},
    "form": {"code": "FM-22222", "kind": "recording", "language": "en", "uses": "[]", "exhibition": "Marigold", "by": "K-01", "at": "2026-01-01"},
    "signed_paper": {"sha256": "0" * 64, "extension": "pdf", "by": "K-01", "at": "2026-01-01"},
    "review_sheet": {"code": "RV-22222", "person_id": 1, "language": "en", "answer_by": "2026-02-01", "by": "E-01", "at": "2026-01-01"},
    "review_item": {"sheet_id": 1, "number": 1, "excerpt_id": 1, "use": "web", "way": "words", "wording_sha256": "0" * 64, "stands": "[]"},
    "review_answer": {"item_id": 1, "answer": "no", "by": "E-01", "at": "2026-01-01"},
    "heard": {"wording_sha256": "0" * 64, "excerpt_id": 1, "by": "E-01", "at": "2026-01-01"},
}  # fmt: skip
SITTING = {"id": 1, "recording_id": 1, "by": "E-01", "at": "2026-01-01"}


def migrated(path: Path, to: str = "head") -> Database:
    database = Database(path)
    with database.write() as connection:
        schema.upgrade(connection, to)
    return database


def test_migrations_make_exactly_the_models(tmp_path: Path) -> None:
    """Alembic's own comparison, and the defaults (which it cannot compare where they are an empty text); FTS5's own tables left out."""
    database = migrated(tmp_path / "new.sqlite")
    with database.read() as connection:
        options = {
            "compare_type": True,
            "include_object": lambda _o, name, kind, _r, _c: not (kind == "table" and name in SHADOWS),
        }  # fmt: skip
        context = MigrationContext.configure(connection, opts=options)
        assert compare_metadata(context, metadata) == []
        for name, table in metadata.tables.items():
            made = {c["name"]: str(c["default"]).strip("'") for c in inspect(connection).get_columns(name) if c["default"] is not None}
            wanted = {c.name: str(c.server_default.arg) for c in table.columns if c.server_default is not None}
            assert made == wanted, name
    database.close()


def test_the_comparison_would_see_a_difference(tmp_path: Path) -> None:
    """The test above can fail: a column too many is seen."""
    database = migrated(tmp_path / "new.sqlite")
    with database.write() as connection:
        connection.execute(text("ALTER TABLE person ADD COLUMN shoe_size INTEGER"))
        found = compare_metadata(MigrationContext.configure(connection), metadata)
    assert any("shoe_size" in str(difference) for difference in found)
    database.close()


def test_every_table_of_the_models_is_there_with_its_keys(tmp_path: Path) -> None:
    """Alembic does not compare check constraints and foreign keys' targets on SQLite in full: read them from the file."""
    database = migrated(tmp_path / "new.sqlite")
    with database.read() as connection:
        found = inspect(connection)
        assert set(metadata.tables) <= set(found.get_table_names())
        for name, table in metadata.tables.items():
            keys = {(tuple(k["constrained_columns"]), k["referred_table"]) for k in found.get_foreign_keys(name)}
            assert keys == {((k.parent.name,), k.column.table.name) for k in table.foreign_keys}, name
            checks = {c["name"] for c in found.get_check_constraints(name)}
            assert checks == {str(c.name) for c in table.constraints if type(c).__name__ == "CheckConstraint"}, name
    database.close()


def test_consent_tables_are_append_only_but_for_what_a_recording_brings() -> None:
    """Invariant 12: what consent is decided from is never changed. Participation may be added to, and holds no answer."""
    assert set(CONSENT) - set(APPEND_ONLY) == {"participation"}


@pytest.mark.parametrize("name", APPEND_ONLY)
def test_append_only(cast_archive: Archive, name: str) -> None:
    """UPDATE, DELETE, INSERT OR REPLACE by every key, UPDATE OR REPLACE and an upsert are all stopped; a new row is not."""
    table = metadata.tables[name]
    database = cast_archive.rooms.db
    key = [c.name for c in table.primary_key.columns]
    if name in BY_HAND:
        with database.write() as connection:
            if name == "heard":
                _an_excerpt(connection)
            if name in ("review_item", "review_answer"):
                _an_excerpt(connection)
                connection.execute(text(_insert("INSERT", "review_sheet", BY_HAND["review_sheet"])), BY_HAND["review_sheet"])
            if name == "review_answer":
                connection.execute(text(_insert("INSERT", "review_item", BY_HAND["review_item"])), BY_HAND["review_item"])
            if name == "work_clearance":
                connection.execute(text(_insert("INSERT", "work", BY_HAND["work"])), BY_HAND["work"])
            if name == "edit":
                connection.execute(text(_insert("INSERT", "sitting", SITTING)), SITTING)
            connection.execute(text(_insert("INSERT", name, BY_HAND[name])), BY_HAND[name])
    before = _rows(database, name)
    assert before
    row = dict(before[-1])
    other = {c: (v if c in key else _changed(v)) for c, v in row.items()}
    where = " AND ".join(f'"{k}" = :{k}' for k in key)
    loose = next(c for c in row if c not in key)
    attacks = [
        (f'UPDATE "{name}" SET "{loose}" = "{loose}" WHERE {where}', row),
        (f'UPDATE OR REPLACE "{name}" SET "{loose}" = NULL WHERE {where}', row),
        (f'DELETE FROM "{name}" WHERE {where}', row),
        (f'DELETE FROM "{name}"', {}),
        (_insert("INSERT OR REPLACE", name, other), other),
        (_insert("REPLACE", name, row), row),
        (_insert("INSERT", name, row) + f' ON CONFLICT DO UPDATE SET "{loose}" = excluded."{loose}"', row),
    ]
    for unique in _other_keys(name):
        fresh = {c: v for c, v in other.items() if c not in key} | {c: row[c] for c in unique}
        attacks.append((_insert("INSERT OR REPLACE", name, fresh), fresh))
    for statement, values in attacks:
        with pytest.raises(IntegrityError, match="only ever added to"), database.write() as connection:
            connection.execute(text(statement), values)
        assert _rows(database, name) == before, statement


@pytest.mark.parametrize("name", APPEND_ONLY)
def test_an_erasure_opens_the_guards_and_a_rollback_closes_them(cast_archive: Archive, name: str) -> None:
    """The fact 'erasing' lives only inside the erasure's own transaction."""
    database = cast_archive.rooms.db
    with pytest.raises(RuntimeError, match="half way"), database.write() as connection:
        connection.execute(text("INSERT INTO fact (key, value) VALUES ('erasing', '1')"))
        connection.execute(text("PRAGMA defer_foreign_keys = ON"))
        connection.execute(text(f'DELETE FROM "{name}"'))
        assert connection.execute(text(f'SELECT count(*) FROM "{name}"')).scalar() == 0
        raise RuntimeError("half way")
    with database.read() as connection:
        assert connection.execute(text("SELECT count(*) FROM fact WHERE key = 'erasing'")).scalar() == 0


def test_the_guards_are_those_of_the_list(cast_archive: Archive) -> None:
    with cast_archive.rooms.db.read() as connection:
        names = set(connection.execute(text("SELECT name FROM sqlite_master WHERE type = 'trigger'")).scalars())
    assert names == {f"guard_{t}_{act}" for t in APPEND_ONLY for act in ("update", "delete", "replace")}


def test_an_archive_of_the_first_schema_with_data_opens(made_cast: Path, tmp_path: Path) -> None:
    """Revision 0001 filled with the cast's rows, opened by this program: brought up to date, nothing lost."""
    folder = tmp_path / "old"
    folder.mkdir()
    (folder / "archive.toml").write_text((made_cast / "archive.toml").read_text(encoding="utf-8"), encoding="utf-8")
    old = migrated(folder / FILE_NAME, "0001")
    with sqlite3.connect(made_cast / FILE_NAME) as raw:
        raw.row_factory = sqlite3.Row
        everything = {
            t.name: [dict(r) for r in raw.execute(f'SELECT * FROM "{t.name}"')] for t in metadata.sorted_tables
        }
    raw.close()
    with old.write() as connection:
        connection.execute(text("PRAGMA defer_foreign_keys = ON"))
        connection.execute(text("DELETE FROM fact"))
        for name, rows in everything.items():
            there = {c.name for c in connection.execute(text(f'PRAGMA table_info("{name}")'))}
            for row in rows if there else []:
                known = {c: v for c, v in row.items() if c in there}
                connection.execute(text(_insert("INSERT", name, known)), known)
        connection.execute(text("INSERT INTO find_fts (find_fts) VALUES ('rebuild')"))
    old.close()
    archive = Archive.open(folder, {}, cast.clock)
    assert archive.records.check(cast.KEEPER) == ()
    assert len(archive.recordings.list(cast.KEEPER)) == len(cast.CAST)
    with archive.rooms.db.read() as connection:
        assert schema.current(connection) == schema.newest()
        assert connection.execute(select(func.count()).select_from(person)).scalar() == len(cast.CAST) + 1
        columns = Columns().at(connection)
        assert not columns.facts["language"].any(), "an older version did not reckon it"
    assert _describing(archive) == ["waiting"], "so the worker suggests anew by itself"
    assert archive.work.once(kind="describe")
    with archive.rooms.db.read() as connection:
        columns = Columns().at(connection)
        assert sum(columns.facts["language"][columns.every()] == 0) == 1, "all but what our own computer may not read"
    archive.close()
    again = Archive.open(folder, {}, cast.clock)
    assert _describing(again) == ["done"]
    again.close()


def _describing(archive: Archive) -> list[str]:
    return [job.state for job in archive.jobs.list(cast.KEEPER) if job.kind == "describe"]


def test_what_older_papers_say_of_who_signed_is_put_on_record(tmp_path: Path) -> None:
    """Revision 0025: deaths get their latest day, signers stand as speaking for whom they signed (heirs and deputies without papers, so
    their yes waits), and an interpreter's words are the narrators' in the index as well."""
    old = migrated(tmp_path / "old.sqlite", "0024")
    by = "'K-01', '2026-01-01'"
    with old.write() as connection:
        for n, died in enumerate(("2025", "2025-03-02", "202X", None), 1):
            connection.execute(text("INSERT INTO person (id, code, died) VALUES (:n, :code, :died)"), {"n": n, "code": f"N-{n}", "died": died})
        for n, signed_on in enumerate(("2025-02-01", "2025-01-01"), 1):
            connection.execute(text(
                'INSERT INTO agreement (id, code, person_id, kind, form, signed_on, taken_by, language, spoken_for_by_id, relation, "by", at) '
                f"VALUES ({n}, 'A-{n}', 1, 'recording', 'signed', '{signed_on}', 'K-01', 'en', 4, 'heir', {by})"
            ))  # fmt: skip
        connection.execute(text("INSERT INTO interview (id, code) VALUES (1, 'IV-1'), (2, 'IV-2')"))
        connection.execute(text("INSERT INTO participation (interview_id, person_id, role) VALUES (1, 2, 'interpreter'), (1, 3, 'narrator'), (2, 2, 'narrator'), (2, 1, 'narrator')"))
        connection.execute(text("INSERT INTO voicing (id, key, interview_id) VALUES (1, 'a', 1), (2, 'b', 2)"))
        connection.execute(text("INSERT INTO voicing_person (voicing_id, person_id) VALUES (1, 2), (2, 2)"))
        schema.upgrade(connection, "head")
        assert list(connection.execute(text("SELECT dead_by FROM person ORDER BY id")).scalars()) == ["2025-12-31", "2025-03-02", None, None]
        rows = connection.execute(text("SELECT person_id, other_id, relation, from_on, papers FROM speaks_for")).all()
        assert [tuple(r) for r in rows] == [(1, 4, "heir", "2025-01-01", "")]
        assert [tuple(r) for r in connection.execute(text("SELECT voicing_id, person_id FROM voicing_person ORDER BY 1, 2"))] == [(1, 2), (1, 3), (2, 2)]
    old.close()


def test_opening_twice_changes_nothing(cast_archive: Archive) -> None:
    before = _dump(cast_archive.folder / FILE_NAME)
    Archive.open(cast_archive.folder, {}, cast.clock).close()
    assert _dump(cast_archive.folder / FILE_NAME) == before


def test_a_newer_archive_is_refused_with_words_and_left_alone(cast_archive: Archive) -> None:
    with cast_archive.rooms.db.write() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    before = _dump(cast_archive.folder / FILE_NAME)
    with pytest.raises(Broken, match="newer version of Told Here") as told:
        Archive.open(cast_archive.folder, {}, cast.clock)
    assert "Install that version" in told.value.remedy and told.value.exit_code == 11
    assert _dump(cast_archive.folder / FILE_NAME) == before


def test_a_folder_without_an_archive_is_told(tmp_path: Path) -> None:
    with pytest.raises(NotFound, match="no archive in this folder"):
        Archive.open(tmp_path, {}, cast.clock)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "damage", [b"this is no database at all, only words" * 200, b"SQLite format 3\x00" + b"\xff" * 8000]
)
def test_a_damaged_database_is_told_in_words(tmp_path: Path, damage: bytes) -> None:
    (tmp_path / FILE_NAME).write_bytes(damage)
    with pytest.raises(Broken, match="damaged") as told:
        Archive.open(tmp_path, {}, cast.clock)
    assert "backup" in told.value.remedy


def test_revisions_are_one_line(tmp_path: Path) -> None:
    """Numbered 0001, 0002, … without forks: somebody's archive follows one path."""
    files = sorted(p.name for p in Path(versions).parent.glob("[0-9]*.py"))
    assert [f[:4] for f in files] == [f"{n:04d}" for n in range(1, len(files) + 1)]
    assert schema.newest() == files[-1][:4]


def test_enforced_on_every_connection(cast_archive: Archive) -> None:
    """PITFALLS, Database: foreign keys are off by default, and so is everything that survives a power cut."""
    wanted = {"foreign_keys": 1, "journal_mode": "wal", "synchronous": 2, "busy_timeout": 10000, "secure_delete": 1}
    for door in (cast_archive.rooms.db.read, cast_archive.rooms.db.write):
        with door() as connection:
            assert {k: connection.execute(text(f"PRAGMA {k}")).scalar() for k in wanted} == wanted
    with pytest.raises(IntegrityError), cast_archive.rooms.db.write() as connection:
        connection.execute(
            insert(metadata.tables["participation"]).values(interview_id=1, person_id=9999, role="narrator")
        )


# --- helpers ----------------------------------------------------------------------------------------------------------


def _an_excerpt(connection: Connection) -> None:
    values = {
        "id": 1, "code": "EX-1", "recording_id": 1, "version_id": 1, "spans": "[[1, 0, 1]]", "wording_sha256": "0" * 64,
        "use": "exhibition", "by": "E-01", "at": "2026-01-01",
    }  # fmt: skip
    connection.execute(text(_insert("INSERT", "excerpt", values)), values)


def _insert(verb: str, table: str, row: dict[str, Any]) -> str:
    columns = ", ".join(f'"{c}"' for c in row)
    return f'{verb} INTO "{table}" ({columns}) VALUES ({", ".join(f":{c}" for c in row)})'


def _changed(value: Any) -> Any:
    if isinstance(value, int):
        return value
    return None if value is None else (json.dumps([[]]) if str(value).startswith("[") else value)


def _other_keys(name: str) -> list[list[str]]:
    """Unique columns beside the primary key: REPLACE goes by any of them."""
    table = metadata.tables[name]
    found = [[c.name for c in k.columns] for k in table.constraints if type(k).__name__ == "UniqueConstraint"]
    return found + [[c.name for c in i.columns] for i in table.indexes if i.unique]


def _rows(database: Database, name: str) -> list[dict[str, Any]]:
    with database.read() as connection:
        return [dict(r._mapping) for r in connection.execute(text(f'SELECT * FROM "{name}" ORDER BY rowid'))]


def _dump(path: Path) -> list[str]:
    raw = sqlite3.connect(path)
    try:
        return list(raw.iterdump())
    finally:
        raw.close()
