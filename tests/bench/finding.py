"""Find at 100,000 and 1,000,000 passages: a fixed mix of questions, each with live consent and every facet's counts."""

from __future__ import annotations

import random
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from sqlalchemy import create_engine, text
from sqlalchemy.pool import StaticPool

from archive.app import Archive, Asked
from archive.db import tables, units
from archive.db.columns import Columns
from tests.bench.big import Big, made
from tests.cast import EDITOR, KEEPER, READER
from tests.db.found_and_scanned import compare
from tests.db.test_permitted import BATCH, World, batches

SIZES = {100_000: 50, 1_000_000: 300}  # passages: budget of the 95th percentile, ms


def mix(words: list[str]) -> list[Asked]:
    """Sixty questions: words from common to rare, in every form, with places, eras, themes, people and a use."""
    rng = random.Random(3)
    common, usual, rare = words[5:40], words[40:1500], words[1500:20_000]
    asked = []
    for _ in range(6):
        c, u, v, r = rng.choice(common), rng.choice(usual), rng.choice(usual), rng.choice(rare)
        place, theme, decade = f"Place {rng.randint(1, 14):02d}", f"theme {rng.randint(1, 25):02d}", str(rng.randrange(1930, 2010, 10))
        asked += [
            Asked(f"{c} {u}", place=place, decade=decade, theme=theme, usable_for="exhibition", state="corrected"),
            Asked(u, place=place, decade=decade, born="1940s", usable_for="web", sound="post"),
            Asked(r, usable_for="exhibition"),
            Asked(f"{u} or {v}", era="1955–1969", language="en", usable_for="print", role="narrator"),
            Asked(f"{u} not {c}", decade=decade, confirmed=True, usable_for="exhibition", sex="woman"),
            Asked(f'"{c} {u}"', usable_for="exhibition", state="machine"),
            Asked(f"{r[:4]}*", era="1960s", usable_for="web"),
            Asked(f"{u} within 5 of {c}", usable_for="exhibition"),
            Asked(f"not {c}", decade=decade, theme=theme, usable_for="exhibition"),
            Asked(f"{c} year:1968 or {u} year:1974", usable_for="exhibition", order="oldest"),
        ]
    return asked


def finding(home: Path, say: Callable[[str], None], sizes: tuple[int, ...] = tuple(SIZES)) -> None:
    """Prints medians, percentiles and ratios for each size."""
    for size in sizes:
        begun = time.perf_counter()
        big = made(home / f"find{size}", size)
        say(f"find {size:,}: made in {time.perf_counter() - begun:.0f} s; index {big.built_s:.1f} s, bare FTS5 {big.bare_s:.1f} s, ratio {big.built_s / big.bare_s:.2f} (budget 2)")
        _ask(big, size, say)
        _changes(big, size, say)
        big.archive.close()


def _timed(archive: Archive, asked: Asked, viewer: object = EDITOR) -> tuple[float, int]:
    begun = time.perf_counter()
    total = archive.finding.ask(viewer, asked).total  # type: ignore[arg-type]
    return (time.perf_counter() - begun) * 1000, total


def _ask(big: Big, size: int, say: Callable[[str], None]) -> None:
    first, _ = _timed(big.archive, Asked("zz"))
    say(f"find {size:,}: the first question after opening, which reads the columns: {first / 1000:.1f} s")
    questions = mix(big.words)
    for viewer in (EDITOR, READER):
        times = []
        for asked in questions:
            _timed(big.archive, asked, viewer)
            times.append((min(_timed(big.archive, asked, viewer)[0] for _ in range(2)), asked))
        ordered = sorted(t for t, _ in times)
        say(
            f"find {size:,} as {viewer.role.value}: {len(ordered)} questions, median {ordered[len(ordered) // 2]:.0f} ms, p90 {ordered[int(len(ordered) * 0.9)]:.0f}, "
            f"p95 {ordered[int(len(ordered) * 0.95)]:.0f} (budget {SIZES[size]}), worst {ordered[-1]:.0f}"
        )
        slowest = max(times, key=lambda t: t[0])
        say(f"  slowest: {slowest[1]}")
    took, total = _timed(big.archive, Asked(big.words[0]))
    say(f"find {size:,}: the commonest word, {total:,} passages: {took:.0f} ms")
    took, total = _timed(big.archive, Asked(usable_for="exhibition"))
    say(f"find {size:,}: nothing but a use, {total:,} passages: {took:.0f} ms")
    took, _ = _timed(big.archive, Asked(big.words[300][:-1] + "q"))
    say(f"find {size:,}: a word that is not there, with what is spelled nearly so: {took:.0f} ms")


def _changes(big: Big, size: int, say: Callable[[str], None]) -> None:
    """One corrected passage, and a withdrawal seen in the next request."""
    archive, times, reads = big.archive, [], []
    columns = Columns()
    with archive.rooms.db.read() as connection:
        columns.at(connection)
    for n in range(1, 11):
        with archive.rooms.db.read() as connection:
            first, *others = _kept(connection, n)
            unit_id = connection.execute(text("SELECT min(id) FROM find_unit WHERE recording_id = :r"), {"r": n}).scalar_one()
        tokens = units.Tokens(*(f"{line} zzquay" for line in (first.tokens.full_exact, first.tokens.full_stem, first.tokens.shown_exact, first.tokens.shown_stem)))
        begun = time.perf_counter()
        with archive.rooms.db.write() as connection:
            units.forget_units(connection, [unit_id])
            units.replace_units(connection, n, [*others, first._replace(tokens=tokens)])
        times.append((time.perf_counter() - begun) * 1000)
        begun = time.perf_counter()
        with archive.rooms.db.read() as connection:
            columns.at(connection)
        reads.append((time.perf_counter() - begun) * 1000)
    found = archive.finding.ask(EDITOR, Asked("zzquay")).total
    say(f"find {size:,}: a corrected passage written in {sorted(times)[5]:.1f} ms, its columns read in {sorted(reads)[5]:.1f} ms (budget 5), {found} found")
    asked = Asked(speaker="N-007")
    before = archive.finding.ask(EDITOR, asked).total
    archive.consent.withdraw(KEEPER, "N-007", how="bench")
    took, after = _timed(archive, asked)
    say(f"find {size:,}: withdrawn: {before:,} passages before, {after} in the next request, which took {took:.0f} ms")


def _kept(connection: object, recording_id: int) -> list[units.Unit]:
    rows = connection.execute(text("SELECT u.*, t.* FROM find_unit u JOIN find_text t ON t.unit_id = u.id WHERE u.recording_id = :r ORDER BY u.id"), {"r": recording_id})  # type: ignore[attr-defined]
    return [units.Unit(r.passage_id, r.start_ms, r.end_ms, r.voicing_id, units.Tokens(*(getattr(r, c) for c in units.COLUMNS))) for r in rows]


def equal(say: Callable[[str], None], histories: int = 5_000) -> None:
    """Find beside a slow scan over so many random small histories; raises where they differ (tests/db/test_found_and_scanned.py: a few hundred)."""
    seen: Counter[str] = Counter()
    base = create_engine("sqlite://", poolclass=StaticPool)
    tables.metadata.create_all(base)

    @settings(max_examples=histories // BATCH, deadline=None, database=None, suppress_health_check=list(HealthCheck), phases=[Phase.generate])
    @given(batches(), st.integers(0, 2**20))
    def check(world: World, seed: int) -> None:
        seen.update(compare(base, world, seed, 12))
        seen["histories"] += BATCH

    check()
    say(f"equal: {seen['histories']:,} histories, {seen['questions']:,} questions, {seen['found']:,} of {seen['units']:,} units found, the same by the scan; every count recounted")
