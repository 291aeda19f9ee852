"""Told times against tests/rules/told_times.csv and told_times_2.csv, written by hand before the rules that they measure were deepened
(issue 6). Nothing is tuned on the second: its score says how the rules do on what they were not made for."""

from __future__ import annotations

import time
from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from archive.domain.dates import decades
from archive.domain.values import Word
from archive.rules.dates import Turn, dates_in_passage, suggest_dates
from tests.rules.named import events_of_samples, scripts
from tests.rules.test_told_times import NO_TIMES, TIMES, TOLD, TOLD_2, expected, rows


@dataclass
class Score:
    """How the rules did on some sentences."""

    sentences: int = 0
    right: int = 0  # sentences with exactly what is expected and nothing more
    wanted: int = 0
    found: int = 0
    silent: int = 0  # sentences in which no time is told
    false: int = 0  # suggestions in those
    shared_decades: int = 0
    other_decades: int = 0  # of one side only

    def exact(self) -> str:
        return f"{self.found}/{self.wanted}"

    @property
    def f1(self) -> float:
        return 2 * self.shared_decades / (2 * self.shared_decades + self.other_decades)


def told(say: Callable[[str], None]) -> None:
    """Both sets of sentences, and how fast."""
    _told(say, TOLD)
    _told(say, TOLD_2)
    _speed(say)


def _speed(say: Callable[[str], None]) -> None:
    """Passages a second, of the samples' own words: some 90 words (36 s of speech) in turns of 30. Budget of describing: 2,000 with all rules."""
    said = [w for talk in scripts().values() for row in talk for w in row]
    words = [Word(w, n * 300, n * 300 + 250) for n, w in enumerate(said)]
    passages = [[Turn(words[n + m : n + m + 30], "1942") for m in (0, 30, 60)] for n in range(0, len(words) - 90, 90)]
    calendar, times = events_of_samples(), 40
    taken = []
    for _ in range(3):
        begun = time.process_time()
        for _ in range(times):
            for turns in passages:
                dates_in_passage(turns, date(2024, 5, 1), calendar)
        taken.append(time.process_time() - begun)
    say(f"told times: {len(passages) * times / min(taken):.0f} passages of 90 words a second on one core")


def scored(sheet: Path) -> tuple[dict[str, Score], list[str]]:
    """The scores of a sheet by class ("": all of it), and every miss. Exact EDTF: expected values found, in order. Decade F1: micro,
    over the decades each sentence's values touch."""
    calendar = events_of_samples()
    scores: dict[str, Score] = defaultdict(Score)
    misses = []
    for row in rows(sheet):
        words = [Word(t, n * 300, n * 300 + 250) for n, t in enumerate(row["sentence"].split())]
        recorded_on = date.fromisoformat(row["recorded_on"]) if row["recorded_on"] else date.max
        got = [_spaced(s.value) for s in suggest_dates(words, row["born"] or None, recorded_on, calendar)]
        wanted = [_spaced(v) for v in expected(row)]
        for name in ("", row["what"]):
            _add(scores[name], wanted, got)
        if got != wanted:
            misses.append(f"  {row['what']}: {row['sentence']} → {' ; '.join(got) or '–'} (expected {' ; '.join(wanted) or '–'})")
    return scores, misses


def _told(say: Callable[[str], None], sheet: Path) -> None:
    scores, misses = scored(sheet)
    whole = scores[""]
    say(
        f"told times, {sheet.name}: {whole.sentences} sentences, exact EDTF {whole.found / whole.wanted:.3f} ({whole.exact()}), decade F1 {whole.f1:.3f}, "
        f"{100 * whole.false / whole.silent:.1f} false dates in 100 sentences without one ({whole.false} in {whole.silent}), "
        f"{whole.right} sentences wholly right"
    )
    for name in filter(scores.__contains__, TIMES):
        one = scores[name]
        also = f", false {one.false} in {one.silent}" if one.silent else ""
        say(f"  {name}: exact {one.exact()}, wholly right {one.right} of {one.sentences}{also}")
    for name in filter(scores.__contains__, NO_TIMES):
        say(f"  {name}: false {scores[name].false} in {scores[name].silent}")
    say(f"misses, {len(misses)}:")
    for miss in misses:
        say(miss)


def _spaced(value: str) -> str:
    """One spelling of EDTF's sets, in which a blank after the comma means nothing."""
    return value.replace(" ", "").replace(",", ", ")


def _add(score: Score, wanted: Sequence[str], got: Sequence[str]) -> None:
    score.sentences += 1
    score.right += wanted == got
    score.wanted += len(wanted)
    score.found += _in_order(wanted, got)
    if not wanted:
        score.silent += 1
        score.false += len(got)
    one, other = ({d for v in values for d in decades(v)} for values in (wanted, got))
    score.shared_decades += len(one & other)
    score.other_decades += len(one ^ other)


def _in_order(wanted: Sequence[str], got: Sequence[str]) -> int:
    """The length of the longest common subsequence."""
    if not wanted or not got:
        return 0
    if wanted[0] == got[0]:
        return 1 + _in_order(wanted[1:], got[1:])
    return max(_in_order(wanted[1:], got), _in_order(wanted, got[1:]))
