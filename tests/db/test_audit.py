"""The record: a chain of commitments that shows every change, and never holds a name or a quoted word."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import Connection, create_engine, delete, insert, select, text, update

from archive.app import Archive, Asked
from archive.db import audit, people
from archive.db.session import Database
from archive.db.tables import audit as audit_table
from archive.db.tables import audit_detail, metadata
from archive.domain.letters import folded
from archive.domain.values import Answer, Way
from archive.errors import Clash, NotFaithful, NotFound, ToldHereError
from tests import cast

NOW = "2026-06-01T12:00:00+00:00"
DETAILS = st.dictionaries(
    st.text(st.characters(codec="utf-8", exclude_characters="\x00"), min_size=1, max_size=8),
    st.none() | st.booleans() | st.integers(-(2**53), 2**53) | st.text(st.characters(codec="utf-8"), max_size=12) | st.lists(st.integers(0, 99), max_size=3),
    max_size=4,
).filter(lambda d: not {"connection", "actor", "action", "subject", "at"} & d.keys())  # fmt: skip


@contextmanager
def bare() -> Iterator[Connection]:
    """The record's two tables without guards, in memory: what somebody with the file in hand could do."""
    engine = create_engine("sqlite://")
    try:
        with engine.begin() as connection:
            metadata.create_all(connection, tables=[audit_table, audit_detail])
            yield connection
    finally:
        engine.dispose()


def filled(connection: Connection, count: int = 5) -> None:
    for n in range(1, count + 1):
        audit.record(connection, "K-01", "thing done", f"thing {n}", NOW, number=n, names=[])


@given(st.lists(DETAILS, max_size=6))
def test_a_chain_that_nobody_touched_is_whole(details: list[dict[str, object]]) -> None:
    """Whatever the detail holds: it comes back from JSON as it was summed."""
    with bare() as connection:
        for detail in details:
            audit.record(connection, "K-01", "thing done", "thing 1", NOW, **detail)
        assert audit.verify(connection) == []
        assert [e.detail for e in reversed(audit.entries(connection))] == details


@pytest.mark.parametrize("column", ["actor", "action", "subject", "at", "commitment", "previous", "digest"])
@pytest.mark.parametrize("entry", [1, 3, 5])
def test_a_changed_entry_is_found(column: str, entry: int) -> None:
    with bare() as connection:
        filled(connection)
        connection.execute(update(audit_table).where(audit_table.c.id == entry).values(**{column: "f" * 64}))
        faults = audit.verify(connection)
    assert any(f"ntry {entry} " in f or f"entry {entry}" in f for f in faults), faults


def test_an_entry_changed_with_its_own_digest_made_to_fit_is_found() -> None:
    """Whoever knows how it is reckoned still breaks the link to the next entry."""
    with bare() as connection:
        filled(connection)
        row = connection.execute(select(audit_table).where(audit_table.c.id == 2)).one()
        digest = audit._digest(row.previous, "E-01", row.action, row.subject, row.at, row.commitment)
        connection.execute(update(audit_table).where(audit_table.c.id == 2).values(actor="E-01", digest=digest))
        assert audit.verify(connection) == ["Entry 3 does not follow the entry before it."]


@pytest.mark.parametrize("entry", [1, 2, 4])
def test_a_missing_entry_is_found(entry: int) -> None:
    with bare() as connection:
        filled(connection)
        connection.execute(delete(audit_detail).where(audit_detail.c.audit_id == entry))
        connection.execute(delete(audit_table).where(audit_table.c.id == entry))
        assert f"Entry {entry} is missing." in audit.verify(connection)


def test_a_cut_end_is_told_by_a_checksum_that_was_noted_down() -> None:
    """The chain alone cannot know that it once was longer."""
    with bare() as connection:
        filled(connection)
        number, checksum = audit.newest(connection)
        assert number == 5 and audit.holds(connection, checksum[:16])
        connection.execute(delete(audit_table).where(audit_table.c.id == 5))
        assert audit.verify(connection) == [] and not audit.holds(connection, checksum[:16])
        assert not audit.holds(connection, ""), "nothing noted proves nothing"


def test_several_missing_in_a_row_are_all_told() -> None:
    with bare() as connection:
        filled(connection, 6)
        connection.execute(delete(audit_table).where(audit_table.c.id.in_([2, 3, 4])))
        assert [f for f in audit.verify(connection) if "missing" in f] == [f"Entry {n} is missing." for n in (2, 3, 4)]


def test_reordered_entries_are_found() -> None:
    with bare() as connection:
        filled(connection)
        for old, new in ((2, 99), (3, 2), (99, 3)):
            connection.execute(update(audit_table).where(audit_table.c.id == old).values(id=new))
        faults = audit.verify(connection)
        assert [f for f in faults if "follow" in f][:2] == [
            "Entry 2 does not follow the entry before it. It was written after what is now entry 3.",
            "Entry 3 does not follow the entry before it. It was written after what is now entry 1.",
        ]


def test_the_log_written_out_is_verified_elsewhere(cast_archive: Archive, tmp_path: Path) -> None:
    """By hashlib and json alone, as the docstring of `write_log` says: nothing of ours is needed to see that it is whole."""
    with cast_archive.rooms.db.write() as connection:
        connection.execute(text("INSERT INTO fact (key, value) VALUES ('erasing', '1')"))
        connection.execute(delete(audit_detail).where(audit_detail.c.audit_id == 2))
        connection.execute(text("DELETE FROM fact WHERE key = 'erasing'"))
    count = cast_archive.records.write_log(cast.KEEPER, tmp_path / "log.jsonl")
    entries = [json.loads(line) for line in (tmp_path / "log.jsonl").read_text(encoding="utf-8").splitlines()]
    previous = "0" * 64
    for n, e in enumerate(entries, 1):
        parts = [previous, e["actor"], e["action"], e["subject"], e["at"], e["commitment"]]
        assert e["id"] == n and e["digest"] == hashlib.sha256(json.dumps(parts, ensure_ascii=False).encode()).hexdigest()
        if e["salt"] is not None:
            detail = json.dumps(e["detail"], sort_keys=True, ensure_ascii=False, separators=(",", ":"))
            assert e["commitment"] == hashlib.sha256((e["salt"] + detail).encode()).hexdigest()
        previous = e["digest"]
    assert len(entries) == count and [e["id"] for e in entries if e["salt"] is None] == [2]
    faults, verified = cast_archive.records.check_log(cast.KEEPER)
    assert faults == () and f"{count} entries verified" in verified and "of 1 entry the details were erased" in verified
    with pytest.raises(Clash):
        cast_archive.records.write_log(cast.KEEPER, tmp_path / "log.jsonl")


def test_a_changed_detail_and_a_changed_salt_are_found() -> None:
    with bare() as connection:
        filled(connection)
        connection.execute(
            update(audit_detail).where(audit_detail.c.audit_id == 2).values(detail={"number": 3, "names": []})
        )
        connection.execute(update(audit_detail).where(audit_detail.c.audit_id == 4).values(salt="0" * 64))
        assert audit.verify(connection) == [f"The detail of entry {n} was changed." for n in (2, 4)]


def test_details_swapped_between_entries_are_found() -> None:
    with bare() as connection:
        filled(connection)
        for old, new in ((2, 99), (3, 2), (99, 3)):
            connection.execute(update(audit_detail).where(audit_detail.c.audit_id == old).values(audit_id=new))
        assert audit.verify(connection) == [f"The detail of entry {n} was changed." for n in (2, 3)]


def test_erasing_a_detail_leaves_the_chain_whole() -> None:
    """Detail and salt lie beside the chain, and without the salt nobody can guess the detail from its commitment."""
    with bare() as connection:
        filled(connection)
        connection.execute(delete(audit_detail).where(audit_detail.c.audit_id.in_([1, 3])))
        assert audit.verify(connection) == []
        assert [e.detail is None for e in reversed(audit.entries(connection))] == [True, False, True, False, False]
        salts = list(connection.execute(select(audit_detail.c.salt)).scalars())
        assert len(set(salts)) == 3 and all(len(s) == 64 for s in salts)


def test_an_entry_smuggled_in_is_found() -> None:
    with bare() as connection:
        filled(connection)
        last = connection.execute(select(audit_table).order_by(audit_table.c.id.desc())).first()
        assert last is not None
        connection.execute(
            insert(audit_table).values(
                id=6,
                actor="K-01",
                action="x",
                subject="x",
                at=NOW,
                commitment="0" * 64,
                previous=last.digest,
                digest="1" * 64,
            )
        )
        assert audit.verify(connection) == ["Entry 6 was changed."]


def test_the_record_rolls_back_with_what_it_records(cast_archive: Archive) -> None:
    """Same transaction: an act that failed leaves no entry, and an entry no act."""
    database: Database = cast_archive.rooms.db
    with database.read() as connection:
        before = len(audit.entries(connection, 10_000))
    with pytest.raises(NotFound):
        cast_archive.consent.lift(cast.KEEPER, 9999, "told so")
    with pytest.raises(ZeroDivisionError), database.write() as connection:
        audit.record(connection, "K-01", "thing done", "thing 1", NOW)
        _ = 1 / 0
    with database.read() as connection:
        assert len(audit.entries(connection, 10_000)) == before
        assert audit.verify(connection) == []


def test_entries_hold_no_name_and_no_quoted_word(cast_archive: Archive) -> None:
    """Invariant 12, over everything that people do: choose, hear, decide, approve, export, hold, withdraw, and fail at it."""
    everything_done(cast_archive)
    with cast_archive.rooms.db.read() as connection:
        found = audit.entries(connection, 10_000)
        assert audit.verify(connection) == []
        names = {n.text for known in people.names(connection).values() for n in known}
    acts = {e.action for e in found}
    wanted = {
        "excerpt chosen", "heard against the sound", "export approved", "export given", "export refused", "withdrawn",
        "paused", "hold lifted", "name keep", "tag confirmed", "speakers assigned", "wording decided", "stretch closed",
        "recording taken", "closed speech opened", "excerpt set aside",
    }  # fmt: skip
    assert wanted <= acts
    # The words of the cast, but for those that are also words of the house.
    spoken = {w for m in cast.CAST for w in folded(m.text).replace(",", " ").split() if len(w) > 4}
    banned = {folded(p) for n in names for p in (n, *n.split()) if len(p) > 2} | spoken
    for entry in found:
        told = folded(json.dumps([entry.actor, entry.action, entry.subject, entry.detail], ensure_ascii=False))
        words = set(re.findall(r"[\w'-]+", told))
        assert not words & banned, (entry.id, entry.action, words & banned)


def everything_done(archive: Archive) -> None:
    """One of each consequential act on the cast's archive, good and refused ones."""
    lantern, kettle = cast.recording_of("N-21"), cast.recording_of("N-25")
    first = archive.excerpts.choose(cast.EDITOR, lantern, "carried the lantern down Net Row in 1968", "exhibition")
    second = archive.excerpts.choose(cast.EDITOR, kettle, "They said […] put the kettle on", "exhibition")
    third = archive.excerpts.choose(cast.KEEPER, cast.recording_of("N-27"), "Herring was all there was", "exhibition")
    with pytest.raises(NotFaithful):
        archive.excerpts.choose(cast.EDITOR, lantern, "We dropped the lantern", "exhibition")
    archive.excerpts.tick_heard(cast.EDITOR, first)
    archive.consent.approve(cast.EDITOR, first, "N-21", Answer.YES, Way.WORDS)
    start_ms, end_ms, _ = archive.naming.waiting(cast.EDITOR, lantern)[0]
    archive.naming.decide(cast.EDITOR, lantern, start_ms, end_ms, "P-41", "keep", "Walter Brine said so")
    tag = archive.recordings.page(cast.EDITOR, lantern).tags[0]
    archive.describing.decide(cast.EDITOR, tag.tag_id, "confirmed")
    block = archive.recordings.page(cast.EDITOR, lantern).shown.utterances[0].utterance_id
    archive.recordings.assign(cast.EDITOR, lantern, {block: ""})
    archive.recordings.assign(cast.EDITOR, lantern, {block: "N-21"})
    archive.exports.make(cast.EDITOR, [first, second, third], "exhibition")
    archive.exports.make(cast.EDITOR, [third], "exhibition")
    archive.exports.make(cast.EDITOR, ["Edith Quill", "the lantern down Net Row"], "exhibition")
    archive.excerpts.set_aside(cast.EDITOR, third)
    archive.consent.seal(cast.EDITOR, lantern, 500, 1000, "Edith Quill asked for it by letter")
    archive.consent.pause(cast.EDITOR, "N-25", "Lena Fosse rang")
    archive.consent.withdraw(cast.KEEPER, "N-21", use="web", how="Edith Quill wrote")
    archive.recordings.open_closed(cast.KEEPER, lantern, "asked for by the family, in writing")
    with archive.rooms.db.read() as connection:
        hold = connection.execute(text("SELECT max(id) FROM restraint WHERE kind = 'paused'")).scalar()
    archive.consent.lift(cast.KEEPER, int(hold), "Lena Fosse rang again")
    archive.finding.ask(cast.KEEPER, Asked(words="lantern Edith Quill"))
    for act in (
        lambda: archive.consent.withdraw(cast.KEEPER, "Edith Quill"),
        lambda: archive.people.page(cast.KEEPER, "Lena Fosse"),
    ):
        with pytest.raises(ToldHereError):
            act()
