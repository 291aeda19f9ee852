"""Passages against unrelated texts in a row (tests/rules/unrelated.py), beside nltk's TextTiling on the same; and how fast they are cut."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from itertools import accumulate

from archive.domain.passages import Utterance
from archive.rules.segment import AIM_MS, segment
from tests.rules import unrelated
from tests.rules.unrelated import Text

ROWS = 100


def ours(_: Sequence[Text], utterances: list[Utterance]) -> str:
    """Where our rules cut, as `unrelated.spoken` writes it."""
    last = {cut.last_utterance for cut in segment(utterances)}
    return "".join("1" if n in last else "0" for n in range(len(utterances)))


def by_length(_: Sequence[Text], utterances: list[Utterance]) -> str:
    """A cut every minute: what no word tells."""
    return "".join("1" if u.end_ms // AIM_MS != u.start_ms // AIM_MS else "0" for u in utterances[:-1]) + "1"


def cuts(say: Callable[[str], None]) -> None:
    """Pk and WindowDiff, 0 best. Budget of all describing: 2,000 passages/s."""
    for name, texts in (("language", unrelated.language()), ("library", unrelated.library())):
        rows = list(unrelated.joined(texts, ROWS, seed=6))
        tilings = [unrelated.score(rows, lambda row, _, w=w, k=k: unrelated.tiled(row, w, k)) for w, k in unrelated.TILINGS]
        best = min(tilings, key=lambda s: s.pk)
        for label, score in (("ours", unrelated.score(rows, ours)), ("TextTiling at its best", best), ("TextTiling as it comes", tilings[-1]), ("every minute", unrelated.score(rows, by_length))):
            say(f"cuts {name}, {label}: Pk {score.pk:.3f}, WindowDiff {score.window:.3f}, {score.pieces:.1f} pieces (10)")
    _speed(say)


def _speed(say: Callable[[str], None]) -> None:
    """An interview of about three hours: the texts in a row as question and answer."""
    row = [text[:40] for text in unrelated.library().values()]
    utterances, _ = unrelated.spoken(row)
    utterances = utterances[: next(n for n, words in enumerate(accumulate(len(u.words) for u in utterances)) if words >= 27_000)]
    talk = [Utterance(u.block_id, 1 if n % 7 == 0 else 2, u.start_ms, u.end_ms, u.words) for n, u in enumerate(utterances)]
    segment(talk, {1})
    took = []
    for _ in range(3):
        begun = time.process_time()
        made = segment(talk, {1})
        took.append(time.process_time() - begun)
    say(f"cuts: {len(talk)} utterances of {talk[-1].end_ms / 3_600_000:.1f} h into {len(made)} passages in {min(took) * 1000:.0f} ms of the processor, {len(made) / min(took):.0f} passages/s")
