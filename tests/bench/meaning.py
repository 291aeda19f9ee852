"""Near in meaning: what leads find on the demo, and what they cost with 100,000 passages.

The questions and what answers them were written down, by one author, before any ranking of these passages was seen. Tidy invented
testimony and few passages: take differences, not levels.
"""

from __future__ import annotations

import resource
import shutil
import statistics
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from sqlalchemy import text

from archive.app import Archive, Asked
from archive.db import facts, leads
from archive.domain.values import Role, Viewer
from archive.rules import nearness
from archive.rules.questions import parse_query
from archive.services.vector_cache import VectorCache
from archive.speech import models

Say = Callable[[str], None]
KEEPER, EDITOR = Viewer("K-01", Role.KEEPER), Viewer("E-01", Role.EDITOR)
MANY = 100_000

# A curator's question → moments (recording, ms) of the demo that answer it.
JUDGED: dict[str, list[tuple[str, int]]] = {
    "police violence against strikers": [("TW-01.1", 130_000), ("TW-08.1", 40_000), ("TW-05.1", 50_000)],
    "going hungry without wages": [("TW-02.1", 70_000), ("TW-07.1", 95_000)],
    "houses under water": [("TW-01.1", 60_000), ("TW-04.2", 10_000), ("TW-09.1", 20_000), ("TW-09.1", 60_000), ("TW-08.1", 90_000), ("TW-03.1", 20_000)],
    "distrust between neighbours, who told on whom": [("TW-05.1", 120_000), ("TW-08.1", 40_000), ("TW-05.1", 68_000), ("TW-02.1", 100_000)],
    "arriving as a stranger from abroad": [("TW-03.1", 20_000), ("TW-03.1", 60_000), ("TW-03.1", 100_000)],
    "deafening machines at work": [("TW-07.1", 30_000), ("TW-04.1", 20_000)],
    "losing a job when the plant shut": [("TW-02.1", 100_000), ("TW-03.1", 120_000), ("TW-07.1", 95_000), ("TW-04.1", 20_000)],
    "walking on the frozen river": [("TW-04.1", 60_000), ("TW-02.1", 10_000)],
    "children brought to safety at night": [("TW-09.1", 60_000), ("TW-09.1", 20_000)],
    "guilt about having stood by": [("TW-01.1", 130_000), ("TW-04.2", 50_000)],
    "a family split by the dispute": [("TW-04.2", 50_000), ("TW-02.1", 100_000)],
    "a thing kept as a souvenir": [("TW-03.1", 120_000), ("TW-11.1", 10_000), ("TW-11.1", 30_000), ("TW-04.2", 75_000)],
    "rehoused on a new estate": [("TW-01.1", 60_000), ("TW-09.1", 100_000)],
    "the boat's final trip": [("TW-01.1", 130_000), ("TW-08.1", 90_000)],
    "sharing beds, crowded rooms": [("TW-03.1", 60_000), ("TW-04.2", 10_000), ("TW-09.1", 60_000)],
    "singing and worship": [("TW-04.2", 10_000)],
    "what the young know about the past": [("TW-11.1", 10_000), ("TW-11.1", 30_000), ("TW-11.1", 60_000)],
    "starting work as a child": [("TW-01.1", 10_000), ("TW-07.1", 10_000), ("TW-04.1", 20_000), ("TW-02.1", 10_000)],
}
OFF = ("quantum computing", "recipes with chocolate", "football results on television", "a space rocket launch", "opera in Italy")


def meaning(home: Path, demo: Path, say: Say) -> None:
    """Recall on a demo archive, then speed, memory and disk with 100,000 passages."""
    if demo.is_dir():
        _read_demo(shutil.copytree(demo, home / "near"), say)
    else:
        say("meaning on the demo: run `wer meaning` together, or set TOLDHERE_BENCH_DEMO to a copy of a demo archive")
    _cost(home / "near-big", say)


def _read_demo(folder: Path, say: Say) -> None:
    archive = Archive.open(folder)
    archive.meaning.ask(KEEPER)
    begun = time.perf_counter()
    while archive.work.once():
        pass
    say(f"meaning, demo read: {archive.meaning.state(EDITOR).read} passages in {time.perf_counter() - begun:.1f} s with its child's start")
    _recall(archive, say)
    archive.close()


def _recall(archive: Archive, say: Say) -> None:
    """Share of the answers among the first 5 and 10, of all passages that a keeper may read, by four ways of ranking them."""
    every = archive.finding.ask(KEEPER, Asked(), 200).hits
    where = {h.unit_id: (h.recording, h.start_ms, h.end_ms) for h in every}
    encoder = archive.hire_encoder(1)
    found: dict[str, list[tuple[float, float]]] = {}
    shown, on_it, off_it = [], [], []
    with archive.rooms.db.read() as connection:
        matrix = VectorCache().of(connection, encoder.model_sha256)
        for question, moments in JUDGED.items():
            wanted = {u for u, (r, s, e) in where.items() for code, ms in moments if r == code and s <= ms < e}
            assert len(wanted) == len(set(moments)), question
            query = parse_query(question)
            (asked,) = encoder.vectors([nearness.text_of(query)])
            near = matrix.among(matrix.scores(asked[0], "full"), where)
            words = [u for u in leads.by_words(connection, nearness.telling(query), "full", 100) if u in where]
            ways = {
                "all words": [h.unit_id for h in archive.finding.ask(KEEPER, Asked(question)).hits], "any word, BM25": words,
                "meaning": sorted(near, key=lambda u: -near[u]), "meaning + 0.10 ÷ BM25 rank": nearness.order(near, words, 200),
            }  # fmt: skip
            for way, ranked in ways.items():
                found.setdefault(way, []).append((len(wanted & {*ranked[:5]}) / len(wanted), len(wanted & {*ranked[:10]}) / len(wanted)))
            offered = archive.meaning.leads(KEEPER, Asked(question))
            shown.append(len(offered.hits) if offered is not None else 0)
            on_it += [near[u] for u in wanted]
        for question in OFF:
            (asked,) = encoder.vectors([question])
            off_it.append(max(matrix.among(matrix.scores(asked[0], "full"), where).values()))
    for way, pairs in found.items():
        say(f"meaning, {len(JUDGED)} judged questions, {len(every)} passages, {way}: recall@5 {statistics.mean(a for a, _ in pairs):.2f}, @10 {statistics.mean(b for _, b in pairs):.2f}")
    say(f"meaning: nearness of what answers {min(on_it):.2f}–{max(on_it):.2f} (median {statistics.median(on_it):.2f}); best of questions off the subject {min(off_it):.2f}–{max(off_it):.2f}; leads shown {statistics.mean(shown):.1f}")


def _cost(folder: Path, say: Say) -> None:
    from tests.bench.big import made

    big = made(folder, MANY)
    archive = big.archive
    size = (folder / "archive.sqlite").stat().st_size
    model = models.CATALOGUE[models.NEAREST].model_sha256
    rng = np.random.default_rng(3)
    with archive.rooms.db.write() as connection:
        ids = [r.id for r in connection.execute(text("SELECT id FROM find_unit ORDER BY id"))]
        raw = connection.connection.driver_connection
        assert raw is not None
        for at in range(0, len(ids), 5000):
            vectors = rng.standard_normal((len(ids[at : at + 5000]), 384), dtype=np.float32)
            vectors /= np.linalg.norm(vectors, axis=1, keepdims=True)
            rows = [(u, "both", model, v.astype("<f2").tobytes()) for u, v in zip(ids[at : at + 5000], vectors, strict=True)]
            raw.executemany("INSERT INTO unit_vector (unit_id, wording, model, vectors) VALUES (?, ?, ?, ?)", rows)
        facts.set_fact(connection, facts.NEAR_IN_MEANING, "on")
    archive.rooms.db.close()
    say(f"meaning, {len(ids):,} passages: {((folder / 'archive.sqlite').stat().st_size - size) / 1e6:.0f} MB of vectors on the disk beside {size / 1e6:.0f} MB")
    archive = Archive.open(folder)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    begun = time.perf_counter()
    archive.meaning.leads(EDITOR, Asked(f"{big.words[300]} {big.words[900]}"))
    say(f"meaning: first question (model and vectors read) {time.perf_counter() - begun:.2f} s, {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024 - before:.0f} MB at most")
    narrow = ({}, {"usable_for": "exhibition"}, {"decade": "1960"}, {"place": archive.finding.choices(EDITOR)["places"][0][0], "usable_for": "web"})
    times: list[float] = []
    for n in range(60):
        asked = Asked(f"{big.words[100 + 37 * n]} {big.words[2000 + 91 * n]} {big.words[40_000 + n]}", **narrow[n % 4])
        begun = time.perf_counter()
        archive.meaning.leads(EDITOR, asked)
        times.append((time.perf_counter() - begun) * 1000)
    times.sort()
    say(f"meaning: leads of 60 questions, four kinds of filters: median {statistics.median(times):.0f} ms, p95 {times[56]:.0f} ms")
    with archive.rooms.db.write() as connection:
        connection.execute(text("DELETE FROM unit_vector WHERE id = 77"))
        facts.bump_find(connection)
    begun = time.perf_counter()
    archive.meaning.leads(EDITOR, Asked(big.words[500]))
    say(f"meaning: the question after a change of one passage {(time.perf_counter() - begun) * 1000:.0f} ms")
    archive.close()
