"""How many passages a second all rules of describing read together: dates, places (5,000 of them) and what sounds like one, themes.

The samples' own words with a name of the gazetteer put in here and there; without sound and nearness in meaning (DESIGN §11: 2,000).
"""

from __future__ import annotations

import csv
import random
import time
from collections.abc import Callable
from datetime import date

from archive.domain.passages import Utterance
from archive.domain.values import Word
from archive.gate.scan_match import Matcher
from archive.rules.place_sounds import PlaceSounds
from archive.rules.places import Gazetteer
from archive.rules.pointing import Pointers
from archive.rules.themes import Theme, Thesaurus
from archive.services.demo import SAMPLES
from archive.services.describing import Knowledge, suggestions_for
from tests.bench.places import made_up
from tests.rules.named import events_of_samples, scripts

WORDS, TURN, TIMES, ROUNDS = 90, 30, 12, 3  # a passage (36 s of speech) and a turn in words


def describing(say: Callable[[str], None]) -> None:
    """Prints passages a second on one core."""
    rng = random.Random(11)
    listed = made_up(5000)
    gazetteer = Gazetteer.of(listed)
    with open(SAMPLES / "themes.csv", encoding="utf-8") as sheet:
        themes = [Theme(r["theme"], r["broader"], r["scope_note"], tuple(w for w in r["words"].split(";") if w)) for r in csv.DictReader(sheet)]
    known = Knowledge(gazetteer, PlaceSounds(gazetteer), events_of_samples(), Thesaurus.of(themes), Pointers([], gazetteer), Matcher([]))
    said = [w for talk in scripts().values() for row in talk for w in row] * TIMES
    spoken = [part for w in said for part in ((*rng.choice(listed).name.split(), w) if rng.random() < 1 / 60 else (w,))]
    words = [Word(w, n * 300, n * 300 + 250) for n, w in enumerate(spoken)]
    passages = [
        [Utterance(n, m // TURN % 2, words[n + m].start_ms, words[n + m + TURN - 1].end_ms, tuple(words[n + m : n + m + TURN])) for m in range(0, WORDS, TURN)]
        for n in range(0, len(words) - WORDS, WORDS)
    ]
    taken = []
    for _ in range(ROUNDS):
        begun = time.process_time()
        for inside in passages:
            suggestions_for(inside, known, {0: "1942", 1: None}, date(2024, 5, 1), {})
        taken.append(time.process_time() - begun)
    say(f"describing: {len(passages) / min(taken):,.0f} passages of {WORDS} words a second on one core, all rules, 5,000 places (budget 2,000)")
