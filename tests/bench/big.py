"""An invented archive of any size for Find: passages with words by Zipf's law, people, permissions, places, decades, themes; the same each time.

400 speakers, 2,000 permissions, 14 places, 8 decades, 25 themes (SEARCH.md). Rows are written straight into the tables, since a million
passages would else be made for hours; the words of 500 recordings are used again and again, under other speakers, places and years.
"""

from __future__ import annotations

import json
import random
import sqlite3
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from archive.app import Archive
from archive.rules.analysis import BOUNDARY, stem
from tests.cast import KEEPER

SPEAKERS, PLACES, THEMES, DECADES = 400, 14, 25, range(1930, 2010, 10)
USES = (("team", "words"), ("team", "voice"), ("exhibition", "words"), ("web", "words"), ("print", "words"))
WORDS, PER_RECORDING, TEMPLATES, PASSAGE_MS = 60_000, 80, 500, 36_000
BY = ("bench", "2026-01-01T00:00:00Z")


@dataclass(frozen=True)
class Big:
    """The archive, its words from the commonest on, and what writing its index took beside a bare FTS5 insert (s)."""

    archive: Archive
    words: list[str]
    built_s: float
    bare_s: float


def vocabulary(rng: random.Random) -> list[str]:
    """Invented words, as long as English ones, from the commonest on."""
    parts = [a + b for a in ("b", "d", "f", "g", "k", "l", "m", "n", "p", "r", "s", "t", "v", "st", "tr") for b in ("a", "e", "i", "o", "u", "er", "an", "il")]
    found: dict[str, None] = {}
    while len(found) < WORDS:
        many = 1 if len(found) < 100 else 2 if len(found) < 5000 else rng.choice((3, 3, 4))
        found["".join(rng.choice(parts) for _ in range(many))] = None
    return list(found)


def made(folder: Path, passages: int) -> Big:
    """An archive with so many passages."""
    rng = random.Random(17)
    archive = Archive.create(folder, KEEPER, "Bench", "Marigold", True)
    archive.close()
    words = vocabulary(rng)
    stems = [stem(w) for w in words]
    base = sqlite3.connect(folder / "archive.sqlite", isolation_level=None)
    base.execute("PRAGMA journal_mode = OFF")
    base.execute("PRAGMA synchronous = OFF")
    base.execute("PRAGMA foreign_keys = OFF")
    base.execute("BEGIN")
    _people(base, rng)
    texts = _texts(base, np.random.default_rng(17), words, stems)
    recordings = passages // PER_RECORDING
    _recordings(base, recordings)
    base.execute("COMMIT")
    built_s, bare_s = _units(base, rng, texts, recordings)
    base.execute("PRAGMA journal_mode = WAL")
    base.execute("ANALYZE")
    base.close()
    return Big(Archive.open(folder), words, built_s, bare_s)


def _people(base: sqlite3.Connection, rng: random.Random) -> None:
    base.executemany("INSERT INTO place (name, kind) VALUES (?, 'street')", [(f"Place {n:02d}",) for n in range(1, PLACES + 1)])
    base.executemany("INSERT INTO theme (name, scope_note, words, uri) VALUES (?, '', '[]', ?)", [(f"theme {n:02d}", f"urn:x:{n}") for n in range(1, THEMES + 1)])
    for n in range(1, SPEAKERS + 1):
        base.execute("INSERT INTO person (id, code, born, sex) VALUES (?, ?, ?, ?)", (n, f"N-{n:03d}", str(rng.randint(1920, 1975)), rng.choice(("woman", "man"))))
        base.execute("INSERT INTO person_name (person_id, text, kind, scan) VALUES (?, ?, 'full', 'always')", (n, f"Person {n:03d}"))
        base.execute("INSERT INTO wish (person_id, attribution, voice, review, from_on, by, at) VALUES (?, ?, 'as_recorded', 'not_wanted', '2020-01-01', ?, ?)", (n, rng.choice(("full", "full", "first", "unnamed")), *BY))
        base.execute(
            "INSERT INTO agreement (id, code, person_id, kind, form, signed_on, taken_by, language, by, at) VALUES (?, ?, ?, 'recording', 'signed', '2020-01-01', 'I-01', 'en', ?, ?)",
            (n, f"A-{n}", n, *BY),
        )
        for use, way in USES:
            answer = "yes" if use == "team" and rng.random() < 0.97 else rng.choice(("yes", "yes", "no", "ask"))
            base.execute("INSERT INTO permission (agreement_id, use, way, answer, by, at) VALUES (?, ?, ?, ?, ?, ?)", (n, use, way, answer, *BY))


def _texts(base: sqlite3.Connection, rng: np.random.Generator, words: list[str], stems: list[str]) -> list[list[tuple[int, str, str, str, str]]]:
    """Of each of the recordings whose words are used again: (block id, the four lines of tokens) a passage."""
    weights = 1 / np.arange(1, WORDS + 1)
    bounds = np.cumsum(weights / weights.sum())
    found, block = [], 0
    for _ in range(TEMPLATES):
        said = []
        for n in range(PER_RECORDING):
            drawn = np.searchsorted(bounds, rng.random(int(rng.integers(30, 121)))).clip(0, WORDS - 1).tolist()
            exact, stemmed = [words[i] for i in drawn], [stems[i] for i in drawn]
            hidden = int(rng.integers(0, len(drawn))) if rng.random() < 0.03 else None
            shown = [[BOUNDARY if k == hidden else t for k, t in enumerate(line)] for line in (exact, stemmed)] if hidden is not None else [exact, stemmed]
            start_ms = n * PASSAGE_MS
            step = (PASSAGE_MS - 2000) // len(drawn)
            timed = [[t, start_ms + k * step, start_ms + k * step + step - 20, 0.9] for k, t in enumerate(exact)]
            block += 1
            base.execute(
                "INSERT INTO block (id, sha256, words, start_ms, end_ms) VALUES (?, ?, ?, ?, ?)",
                (block, f"{block:064d}", json.dumps(timed), start_ms, timed[-1][2]),
            )
            lines = [" ".join(line) for line in (exact, stemmed, *shown)]
            said.append((block, lines[0], lines[1], lines[2], lines[3]))
        found.append(said)
    return found


def _recordings(base: sqlite3.Connection, recordings: int) -> None:
    for n in range(1, recordings + 1):
        base.execute("INSERT INTO interview (id, code) VALUES (?, ?)", (n, f"IV-{n:05d}"))
        base.execute("INSERT INTO master (id, sha256, bytes, extension, by, at) VALUES (?, ?, 1, 'wav', ?, ?)", (n, f"{n:064d}", *BY))
        base.execute(
            "INSERT INTO recording (id, code, interview_id, master_id, original_name, duration_ms, recorded_on) VALUES (?, ?, ?, ?, 'x.wav', ?, ?)",
            (n, f"IV-{n:05d}.1", n, n, PER_RECORDING * PASSAGE_MS, f"20{n % 25:02d}-05-01"),
        )
        base.execute("INSERT INTO version (id, recording_id, kind, by, at) VALUES (?, ?, 'machine', ?, ?)", (n, n, *BY))
        who = n % SPEAKERS + 1
        base.execute("INSERT INTO participation (interview_id, person_id, role) VALUES (?, ?, 'narrator')", (n, who))
        # A few thousand voicings (DESIGN §6): of a speaker's recordings the first eight have one of their own.
        if n <= 8 * SPEAKERS:
            base.execute("INSERT INTO voicing (id, key, interview_id) VALUES (?, ?, ?)", (n, f"{n}|whole|{who}", n))
            base.execute("INSERT INTO voicing_person (voicing_id, person_id) VALUES (?, ?)", (n, who))


def _rows(rng: random.Random, texts: list[list[tuple[int, str, str, str, str]]], recordings: int) -> Iterator[tuple[list[tuple[object, ...]], ...]]:
    """A recording at a time: passages, units, tokens, tags, facet values, lines of the transcript."""
    unit = tag = 0
    for n in range(1, recordings + 1):
        units, tokens, tags, values, lines = [], [], [], [], []
        for k, (block, *four) in enumerate(texts[n % TEMPLATES]):
            unit += 1
            start_ms = k * PASSAGE_MS
            units.append((unit, unit, n, start_ms, start_ms + PASSAGE_MS, (n - 1) % (8 * SPEAKERS) + 1, rng.choice(("machine", "machine", "corrected")), "en", rng.choice(("post", "listen", "read"))))
            tokens.append((unit, *four))
            lines.append((n, k, block, n % SPEAKERS + 1))
            decade = rng.choice(DECADES)
            for kind, value in (("place", f"Place {rng.randint(1, PLACES):02d}"), ("date", str(decade + rng.randint(0, 9))), *(("theme", f"theme {rng.randint(1, THEMES):02d}") for _ in range(rng.randint(0, 2)))):
                tag += 1
                state = "confirmed" if rng.random() < 0.3 else "suggested"
                tags.append((tag, n, start_ms, start_ms + 900, kind, value, state, "x", "x", "x", 0.9, json.dumps([decade] if kind == "date" else []), *BY))
                values.append((unit, tag, "decade" if kind == "date" else kind, str(decade) if kind == "date" else value, int(rng.random() > 0.02)))
        yield units, tokens, tags, values, lines


_UNIT = "INSERT INTO find_unit (id, passage_id, recording_id, start_ms, end_ms, voicing_id, state, language, sound) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)"
_PASSAGE = "INSERT INTO passage (id, recording_id, start_ms, end_ms, version_id, position, lineage) VALUES (?, ?, ?, ?, ?, ?, '[]')"
_TOKENS = "(?, ?, ?, ?, ?)"


def _units(base: sqlite3.Connection, rng: random.Random, texts: list[list[tuple[int, str, str, str, str]]], recordings: int) -> tuple[float, float]:
    """Writes everything; (s for the index with units, texts and facet values, s for the same tokens into a bare FTS5 table)."""
    base.execute("CREATE TABLE bare_text (id INTEGER PRIMARY KEY, a, b, c, d)")
    base.execute("CREATE VIRTUAL TABLE bare USING fts5(a, b, c, d, content='bare_text', content_rowid='id', tokenize='unicode61 remove_diacritics 0')")
    built = bare = 0.0
    base.execute("BEGIN")
    for units, tokens, tags, values, lines in _rows(rng, texts, recordings):
        base.executemany(_PASSAGE, [(u[0], u[2], u[3], u[4], u[2], k) for k, u in enumerate(units)])
        base.executemany("INSERT INTO version_block (version_id, position, block_id, speaker_id) VALUES (?, ?, ?, ?)", lines)
        base.executemany("INSERT INTO tag (id, recording_id, start_ms, end_ms, kind, value, state, evidence, rule, reckoning, sure, decades, by, at) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", tags)
        begun = time.perf_counter()
        base.executemany(_UNIT, units)
        base.executemany(f"INSERT INTO find_text (unit_id, full_exact, full_stem, shown_exact, shown_stem) VALUES {_TOKENS}", tokens)
        base.executemany(f"INSERT INTO find_fts (rowid, full_exact, full_stem, shown_exact, shown_stem) VALUES {_TOKENS}", tokens)
        base.executemany("INSERT INTO unit_tag (unit_id, tag_id, kind, value, shown) VALUES (?, ?, ?, ?, ?)", values)
        between = time.perf_counter()
        base.executemany(f"INSERT INTO bare (rowid, a, b, c, d) VALUES {_TOKENS}", tokens)
        built, bare = built + between - begun, bare + time.perf_counter() - between
    base.executemany("INSERT INTO indexed (recording_id, revision) VALUES (?, ?)", [(n, n) for n in range(1, recordings + 1)])
    base.execute("DROP TABLE bare")
    base.execute("DROP TABLE bare_text")
    base.execute("COMMIT")
    return built, bare
