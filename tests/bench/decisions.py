"""Decisions: 10,000 random histories told three times, Find with live consent beside Find without, and a person's table."""

from __future__ import annotations

import random
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from sqlalchemy import create_engine, insert, literal, select, text
from sqlalchemy.pool import StaticPool

from archive.app import Archive, Asked
from archive.db import facts, search, tables
from archive.domain.values import USES
from tests.bench.big import made
from tests.bench.finding import mix
from tests.cast import EDITOR
from tests.db.test_permitted import BATCH, WEEK, Third, World, batches, compare, settle


def decisions(home: Path, say: Callable[[str], None], histories: int = 10_000) -> None:
    """Prints what the histories held, and ratios."""
    _histories(say, histories)
    big = made(home / "decisions100000", 100_000)
    _beside_none(big.archive, mix(big.words), say)
    _table(big.archive, say)
    big.archive.close()


def _histories(say: Callable[[str], None], histories: int) -> None:
    """All six days of each; raises where the three tellings differ."""
    seen: Counter[str] = Counter()
    engine = create_engine("sqlite://", poolclass=StaticPool)
    tables.metadata.create_all(engine)

    @settings(max_examples=histories // BATCH, deadline=None, database=None, suppress_health_check=list(HealthCheck), phases=[Phase.generate])
    @given(batches(), st.sampled_from(["Marigold", ""]), st.integers(0, 2**20))
    def check(world: World, exhibition: str, seed: int) -> None:
        with engine.connect() as connection:
            connection.execute(insert(tables.use), [{"code": u.code, "label": u.label, "inward": u.inward} for u in USES])
            units = settle(connection, world)
            compare(connection, units, exhibition, seen, Third(world.rows), random.Random(seed), len(WEEK))
            connection.rollback()
        seen["histories"] += BATCH

    begun = time.perf_counter()
    check()
    say(
        f"decisions: {seen['histories']:,} histories, {seen['asked']:,} answers explained and filtered alike ({seen['allowed'] / seen['asked']:.0%} yes), "
        f"{seen['told again']:,} of them told a third time ({seen['told yes'] / seen['told again']:.0%} yes), {time.perf_counter() - begun:.0f} s"
    )


@contextmanager
def _without_consent() -> Iterator[None]:
    """Find as if everything were allowed to everybody: every voicing, and nothing closed."""
    kept = search._allowed_ids, search._closed_ids
    every = select(text("group_concat(id)")).select_from(tables.voicing)
    search._allowed_ids, search._closed_ids = lambda *_: every, lambda *_: select(literal(None))  # type: ignore[assignment]
    try:
        yield
    finally:
        search._allowed_ids, search._closed_ids = kept


def _beside_none(archive: Archive, questions: list[Asked], say: Callable[[str], None]) -> None:
    def asked() -> float:
        times = []
        for question in questions:
            archive.finding.ask(EDITOR, question)
            begun = time.perf_counter()
            archive.finding.ask(EDITOR, question)
            times.append(time.perf_counter() - begun)
        return sum(times) * 1000

    with_it = min(asked() for _ in range(3))
    anew = min(_first(archive, question) for question in questions[:3] for _ in range(3))
    with _without_consent():
        _moved(archive)
        without = min(asked() for _ in range(3))
    _moved(archive)
    each = len(questions)
    say(
        f"decisions: Find with consent ÷ without on 100,000 passages, {each} questions: {with_it / without:.2f} (budget 1.3; "
        f"{with_it / each:.1f} and {without / each:.1f} ms a question; the first one after consent moved {anew:.0f} ms)"
    )


def _moved(archive: Archive) -> None:
    """As if somebody had changed an answer: nothing that Find kept counts any more."""
    with archive.rooms.db.write() as connection:
        facts.bump_consent(connection)


def _first(archive: Archive, question: Asked) -> float:
    _moved(archive)
    begun = time.perf_counter()
    archive.finding.ask(EDITOR, question)
    return (time.perf_counter() - begun) * 1000


def _table(archive: Archive, say: Callable[[str], None]) -> None:
    times = []
    for n in (7, 19, 101, 250, 399):
        archive.deciding.table(EDITOR, f"N-{n:03d}")
        begun = time.perf_counter()
        table = archive.deciding.table(EDITOR, f"N-{n:03d}")
        times.append((time.perf_counter() - begun) * 1000)
    cells = sum(len(line.cells) for g in table.groups for line in g.lines)
    say(f"decisions: a person's table ({len(USES)} uses × 3 ways, {cells} answers in the last one): {', '.join(f'{t:.0f}' for t in times)} ms (budget 50)")
