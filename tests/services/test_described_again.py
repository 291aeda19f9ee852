"""Describing and indexing write only what comes out otherwise: the archive is the same as if all were made anew."""

from __future__ import annotations

import secrets

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import delete, select

from archive.app import Archive, LineAct
from archive.db import describing, recordings, units
from archive.db.session import Connection
from archive.db.tables import find_text, find_unit, passage, tag, unit_tag, voicing
from archive.domain.values import Decision
from archive.errors import ToldHereError
from archive.services.describing import describe_recording
from tests import cast

CODES = [cast.recording_of(code) for code in ("N-21", "N-25")]
SAID = st.lists(
    st.sampled_from(["Walter", "Brine", "Lena", "Fosse", "Net", "Row", "in", "1968", "the", "flood", "strike", "off", "the", "record", "we", "went", "Gull", "Steps.", "I", "was", "ten"]),
    min_size=1, max_size=14,
)  # fmt: skip
ACTS = st.lists(st.tuples(st.sampled_from(["type", "part", "join", "speaker", "decide", "finish", "tag"]), st.integers(0, 5), SAID), min_size=1, max_size=6)


def _made(connection: Connection, recording_id: int) -> list[list[tuple[object, ...]]]:
    """Everything that describing and indexing made of a recording, without the numbers of its rows."""
    cuts = connection.execute(select(passage).where(passage.c.recording_id == recording_id).order_by(passage.c.position))
    found = connection.execute(
        select(find_unit.c.start_ms, find_unit.c.end_ms, passage.c.position, voicing.c.key, *(find_text.c[name] for name in units.COLUMNS))
        .select_from(find_unit).join(find_text, find_text.c.unit_id == find_unit.c.id)
        .join(passage, passage.c.id == find_unit.c.passage_id).join(voicing, voicing.c.id == find_unit.c.voicing_id)
        .where(find_unit.c.recording_id == recording_id).order_by(find_unit.c.start_ms)
    )  # fmt: skip
    facets = connection.execute(
        select(find_unit.c.start_ms, tag.c.start_ms, unit_tag.c.kind, unit_tag.c.value, unit_tag.c.shown)
        .select_from(unit_tag).join(find_unit, find_unit.c.id == unit_tag.c.unit_id).join(tag, tag.c.id == unit_tag.c.tag_id)
        .where(find_unit.c.recording_id == recording_id)
    )  # fmt: skip
    tags = [
        (t.start_ms, t.end_ms, t.kind, t.value, t.state, t.evidence, t.rule, t.reckoning, t.sure, t.about, tuple(t.decades))
        for t in describing.tags_of(connection, recording_id)
    ]
    return [[(c.start_ms, c.end_ms, c.position, c.version_id) for c in cuts], [tuple(r) for r in found], sorted(tuple(r) for r in facets), sorted(tags)]


def _anew(archive: Archive, recording_id: int) -> tuple[list[list[tuple[object, ...]]], list[list[tuple[object, ...]]]]:
    """As it is, and as it is where nothing was there before; nothing is kept of the second."""
    with archive.rooms.db.read() as connection:
        before = _made(connection, recording_id)
        assert units.index_faults(connection) == []
    engine = archive.rooms.db._writer
    with engine.connect() as connection, connection.begin() as nothing_is_kept:
        mine = [u.id for u in units.units_of(connection, recording_id)]
        units.forget_units(connection, mine)
        connection.execute(delete(passage).where(passage.c.recording_id == recording_id))
        connection.execute(delete(tag).where(tag.c.recording_id == recording_id, tag.c.state == "suggested"))
        describe_recording(connection, recording_id, archive.rooms.context(), "E-01", archive.rooms.now())
        after = _made(connection, recording_id)
        nothing_is_kept.rollback()
    return before, after


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(acts=ACTS, which=st.sampled_from(CODES))
def test_what_is_described_again_is_what_all_anew_would_be(cast_archive: Archive, acts: list[tuple[str, int, list[str]]], which: str) -> None:
    for act, n, said in [*acts, ("finish", 0, [])]:
        _do(cast_archive, which, act, n, said)
    with cast_archive.rooms.db.read() as connection:
        row = recordings.by_code(connection, which)
    assert row is not None
    before, after = _anew(cast_archive, row.id)
    assert before == after


def _do(archive: Archive, code: str, act: str, n: int, said: list[str]) -> None:
    lines = archive.correcting.lines(cast.EDITOR, code)[0]
    line = lines[n % len(lines)]
    other = lines[(n + 1) % len(lines)]
    page = archive.recordings.page(cast.EDITOR, code)
    try:
        if act == "finish":
            archive.correcting.finish(cast.EDITOR, code)
        elif act == "tag" and page.tags:
            archive.describing.decide(cast.EDITOR, page.tags[n % len(page.tags)].tag_id, ("confirmed", "rejected", "suggested")[n % 3])
        elif act == "decide" and page.names:
            name = page.names[n % len(page.names)]
            archive.naming.decide(cast.EDITOR, code, name.start_ms, name.end_ms, name.person_code, (Decision.HIDE, Decision.KEEP)[n % 2].value, "heard")
        elif act in ("type", "part", "join", "speaker"):
            keys = (line.key, other.key) if act == "join" else (line.key,)
            speaker = ("", "N-21", "N-25")[n % 3] if act == "speaker" else None
            archive.correcting.change(cast.EDITOR, code, LineAct(act, keys, " ".join(said), n), secrets.token_hex(8), speaker)
    except ToldHereError:
        pass  # this cannot be done here
