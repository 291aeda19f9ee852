"""How many passages a second one core suggests themes for, with the samples' thesaurus, without and with much that was learned."""

from __future__ import annotations

import csv
import random
import time
from collections.abc import Callable

from archive.domain.values import Word
from archive.rules.analysis import analyse
from archive.rules.themes import LearnedWord, Lessons, Theme, Thesaurus, suggest_themes
from archive.services.demo import SAMPLES
from tests.rules.test_told_times import rows

WORDS = 100  # a passage
ROUNDS = 5


def themes(say: Callable[[str], None]) -> None:
    """Prints passages a second; the budget is 2,000 for all rules together."""
    with open(SAMPLES / "themes.csv", encoding="utf-8") as sheet:
        listed = [Theme(r["theme"], r["broader"], r["scope_note"], tuple(w for w in r["words"].split(";") if w)) for r in csv.DictReader(sheet)]
    spoken = " ".join(r["sentence"] for r in rows()).split()
    passages = [[Word(w, n * 300, n * 300 + 250) for n, w in enumerate(spoken[at : at + WORDS])] for at in range(0, len(spoken) - WORDS, 25)]
    draw = random.Random(1)
    stems = sorted({s for w in spoken for s in analyse(w).stem})
    learned = {t.name: Lessons(tuple(LearnedWord(s, 0.3, (1, 2)) for s in draw.sample(stems, 12))) for t in listed}
    for what, known in (("thesaurus alone", Thesaurus.of(listed)), ("with 12 learned words a theme", Thesaurus.of(listed, learned))):
        took = []
        for _ in range(ROUNDS):
            begun = time.process_time()
            for passage in passages:
                suggest_themes(passage, known)
            took.append(time.process_time() - begun)
        say(f"themes, {what}: {len(passages) / min(took):,.0f} passages of {WORDS} words a second on one core")
