"""The grid of places and decades over 100,000 and 1,000,000 units, with consent asked live: budget 500 ms at a million (issue 6).

Rows of a small generator of its own: 400 speakers, 2,000 permissions, 14 places, 8 decades, one to three tags of each kind a unit.
"""

from __future__ import annotations

import shutil
import statistics
import time
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path

import numpy as np
from sqlalchemy import Connection, insert, text

from archive.app import Archive
from archive.db import cells
from archive.db import tables as t
from archive.domain.values import Role, Viewer

KEEPER, EDITOR, READER = Viewer("K-01", Role.KEEPER), Viewer("E-01", Role.EDITOR), Viewer("R-01", Role.READER)
SPEAKERS, PLACES, DECADES, A_RECORDING, UNIT_MS = 400, 14, range(1930, 2010, 10), 40, 60_000
BY = {"by": "bench", "at": "2026-01-01T00:00:00+00:00"}
ROUNDS, SIGNED = 9, date(2020, 1, 1)


def grid(say: Callable[[str], None], folder: Path) -> None:
    """Median and worst of some rounds, a role each; a withdrawal in the next request; one recording's bytes written anew."""
    for units in (100_000, 1_000_000):  # the second takes about two minutes to make
        home = folder / f"grid-{units}"
        archive = Archive.create(home, KEEPER, "Bench", "Bench", True)
        with archive.rooms.db.write() as connection:
            _people(connection)
            _units(connection, units)
        with archive.rooms.db.write() as connection:
            begun = time.perf_counter()
            for recording in range(1, units // A_RECORDING + 1):
                cells.write(connection, recording)
            each = (time.perf_counter() - begun) / (units // A_RECORDING)
        for viewer in (EDITOR, READER):
            took = []
            for _ in range(ROUNDS):
                begun = time.perf_counter()
                found = archive.overview.grid(viewer, "exhibition")
                took.append(time.perf_counter() - begun)
            say(
                f"grid {units:,} units, {viewer.role.value}: median {statistics.median(took) * 1000:.0f} ms, worst {max(took) * 1000:.0f} ms; "
                f"{found.passages:,} passages in {len(found.rows)} × {len(found.decades)} cells"
            )
        begun = time.perf_counter()
        archive.consent.pause(KEEPER, "S-007", "bench")
        fewer = archive.overview.grid(EDITOR, "exhibition").passages
        say(f"grid {units:,}: a pause and the grid after it {(time.perf_counter() - begun) * 1000:.0f} ms, {fewer:,} passages; one recording's bytes {each * 1000:.2f} ms")
        archive.close()
        shutil.rmtree(home)


def _people(connection: Connection) -> None:
    """Speakers with a team yes each, and as many other answers as make 2,000."""
    uses = ("team", "exhibition", "web", "film", "print")
    connection.execute(insert(t.person), [{"id": p, "code": f"S-{p:03d}"} for p in range(1, SPEAKERS + 1)])
    connection.execute(insert(t.wish), [
        {"person_id": p, "attribution": "unnamed" if p % 10 == 0 else "full", "voice": "as_recorded", "review": "not_wanted", "from_on": SIGNED, **BY}
        for p in range(1, SPEAKERS + 1)
    ])  # fmt: skip
    connection.execute(insert(t.person_name), [{"person_id": p, "text": f"Speaker Number{p}", "kind": "full"} for p in range(1, SPEAKERS + 1)])
    connection.execute(insert(t.agreement), [
        {"id": p, "code": f"A-{p}", "person_id": p, "kind": "recording", "form": "signed", "signed_on": SIGNED, "taken_by": "bench", "language": "en", **BY}
        for p in range(1, SPEAKERS + 1)
    ])  # fmt: skip
    connection.execute(insert(t.permission), [
        {"agreement_id": p, "use": use, "way": "words", "answer": "yes" if use == "team" or (p + n) % 3 else "no", **BY}
        for p in range(1, SPEAKERS + 1) for n, use in enumerate(uses)
    ])  # fmt: skip
    rows = [{"id": n, "name": f"Place {n}", "kind": "street", "within_id": 1 if 1 < n <= 9 else None} for n in range(1, PLACES + 1)]
    connection.execute(insert(t.place), rows)


def _units(connection: Connection, units: int) -> None:
    """Interviews of six recordings; a voicing of the narrator and the interviewer, one of the narrator alone."""
    rng = np.random.default_rng(11)
    recordings = units // A_RECORDING
    connection.execute(text("PRAGMA defer_foreign_keys = ON"))
    interviews = recordings // 6 + 1
    connection.execute(insert(t.interview), [{"id": n, "code": f"IV-{n}"} for n in range(1, interviews + 1)])
    who = rng.integers(1, SPEAKERS + 1, interviews + 1).tolist()
    connection.execute(insert(t.participation), [{"interview_id": n, "person_id": who[n], "role": "narrator"} for n in range(1, interviews + 1)])
    connection.execute(insert(t.voicing), [{"id": n, "key": f"{n}|whole|{who[n]}", "interview_id": n} for n in range(1, interviews + 1)])
    connection.execute(insert(t.voicing_person), [{"voicing_id": n, "person_id": who[n]} for n in range(1, interviews + 1)])
    connection.execute(insert(t.master), [{"id": n, "sha256": f"{n:064d}", "bytes": 1, "extension": "wav", **BY} for n in range(1, recordings + 1)])
    connection.execute(insert(t.recording), [
        {"id": n, "code": f"R-{n}", "interview_id": n // 6 + 1, "master_id": n, "original_name": "x", "duration_ms": A_RECORDING * UNIT_MS}
        for n in range(1, recordings + 1)
    ])  # fmt: skip
    connection.execute(insert(t.version), [{"id": n, "recording_id": n, "kind": "machine", **BY} for n in range(1, recordings + 1)])
    raw = connection.connection.driver_connection
    assert raw is not None
    at = [(n, (n - 1) // A_RECORDING + 1, (n - 1) % A_RECORDING * UNIT_MS) for n in range(1, units + 1)]
    raw.executemany("INSERT INTO passage (id, recording_id, start_ms, end_ms, version_id, position, lineage) VALUES (?, ?, ?, ?, ?, 0, '[]')", ((n, r, s, s + UNIT_MS, r) for n, r, s in at))
    raw.executemany("INSERT INTO find_unit (id, passage_id, recording_id, start_ms, end_ms, voicing_id) VALUES (?, ?, ?, ?, ?, ?)", ((n, n, r, s, s + UNIT_MS, r // 6 + 1) for n, r, s in at))
    raw.execute(
        "INSERT INTO tag (id, recording_id, start_ms, end_ms, kind, value, evidence, rule, reckoning, sure, decades, by, at) "
        "VALUES (1, 1, 0, 900, 'place', 'Place 1', 'x', 'x', 'x', 1, '[]', 'bench', 'x')"
    )
    place, more, decade, shown = (rng.integers(low, high, units).tolist() for low, high in ((1, PLACES + 1), (1, PLACES * 3), (0, len(DECADES)), (0, 50)))

    def tagged() -> Iterator[tuple[object, ...]]:
        for n in range(units):
            yield n + 1, 1, "place", f"Place {place[n]}", shown[n] > 0
            yield n + 1, 1, "decade", str(DECADES[decade[n]]), True
            if more[n] <= PLACES and more[n] != place[n]:  # every third tells of two places
                yield n + 1, 1, "place", f"Place {more[n]}", True

    raw.executemany("INSERT INTO unit_tag (unit_id, tag_id, kind, value, shown) VALUES (?, ?, ?, ?, ?)", tagged())
