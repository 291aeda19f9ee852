"""Unrelated texts one after another, the usual synthetic test of topic cuts (Choi, Advances in domain independent linear text
segmentation, NAACL 2000: the first sentences of ten texts, drawn at random, as one).

The texts come with Python (PSF License): what it says of its own language (`pydoc_data.topics`), and the docstrings of its library. Examples,
grammars and headings are left out. Weights of the rules were chosen on every other text by name; what is measured are the rest.
"""

from __future__ import annotations

import ast
import random
import re
import sysconfig
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from pydoc_data.topics import topics

from nltk.metrics.segmentation import pk, windowdiff
from nltk.tokenize.texttiling import TextTilingTokenizer
from whoosh.lang.stopwords import stoplists

from archive.domain.passages import Utterance
from archive.domain.values import Word

Sentence = list[str]
Text = list[Sentence]
WORD_MS = 400  # 150 words a minute
LEAST = 12  # sentences of a text that is used
TILINGS = [(w, k) for w in (10, 20) for k in (6, 10)]  # TextTiling's settings; the second of 20, 10 is its default


def sentences(text: str) -> Text:
    """The sentences of the prose in a text of the documentation."""
    found = []
    for paragraph in re.split(r"\n\s*\n", text):
        lines = [line for line in paragraph.split("\n") if line.strip()]
        if not lines or any(set(line.strip()) <= set("*=-~^") for line in lines):
            continue
        if "::=" in paragraph or ">>>" in paragraph or lines[0].startswith(" " * 6):
            continue
        for sentence in re.split(r"(?<=[.!?])\s+(?=[A-Z\"])", " ".join(line.strip() for line in lines)):
            words = re.findall(r"[A-Za-z][A-Za-z'-]*", sentence)
            if len(words) >= 4:
                found.append(words)
    return found


def _each_once(texts: Mapping[str, Text]) -> dict[str, Text]:
    """Texts without what stands in another one already, those that are long enough."""
    seen: set[str] = set()
    found = {}
    for name, text in sorted(texts.items(), key=lambda item: (len(item[1]), item[0])):
        new = [s for s in text if " ".join(s) not in seen]
        seen.update(" ".join(s) for s in text)
        if len(new) >= LEAST and len(new) >= 0.95 * len(text):
            found[name] = new
    return found


def language() -> dict[str, Text]:
    """What Python's documentation says about the language, by topic."""
    return _each_once({name: sentences(text) for name, text in topics.items()})


def library() -> dict[str, Text]:
    """The docstrings of Python's own library, by module; nothing of it is run."""
    found = {}
    for path in sorted(Path(sysconfig.get_path("stdlib")).glob("*.py")):
        nodes = ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        held = [ast.get_docstring(n) or "" for n in nodes if isinstance(n, ast.Module | ast.ClassDef | ast.FunctionDef)]
        found[path.stem] = [s for text in held for s in sentences(text)]
    return _each_once(found)


def joined(texts: Mapping[str, Text], many: int, seed: int, half: int = 1, parts: int = 10) -> Iterator[list[Text]]:
    """So many rows of texts: of each the first 3 to 11 sentences, as Choi has it. `half`: which half of the texts."""
    chance = random.Random(seed)
    names = sorted(texts)[half::2]
    for _ in range(many):
        yield [texts[name][: chance.randint(3, 11)] for name in chance.sample(names, parts)]


def spoken(row: Sequence[Text]) -> tuple[list[Utterance], str]:
    """A row of texts as one voice without a pause would say it, a sentence an utterance, and where a text ends ("1", else "0")."""
    found: list[Utterance] = []
    ends = ""
    at = 0
    for text in row:
        for n, sentence in enumerate(text):
            last = len(sentence) - 1
            words = tuple(Word(w + "." * (k == last), at + k * WORD_MS, at + k * WORD_MS + 300) for k, w in enumerate(sentence))
            found.append(Utterance(len(found), None, words[0].start_ms, words[-1].end_ms, words))
            at += len(sentence) * WORD_MS
            ends += "1" if n == len(text) - 1 else "0"
    return found, ends


def tiled(row: Sequence[Text], w: int, k: int) -> str:
    """Where nltk's TextTiling cuts, as `spoken` writes it; every sentence is a paragraph to it, so that it may cut anywhere."""
    whole = "\n\n".join(" ".join(sentence) + "." for text in row for sentence in text)
    found = ""
    for piece in TextTilingTokenizer(w=w, k=k, stopwords=sorted(stoplists["en"])).tokenize(whole):
        found += "0" * (len([p for p in re.split(r"\n\n", piece) if p.strip()]) - 1) + "1"
    return found


@dataclass(frozen=True, slots=True)
class Score:
    """Means over rows: Pk and WindowDiff of nltk (0 best; the window is half a mean piece), and how many pieces."""

    pk: float
    window: float
    pieces: float


def score(rows: Sequence[Sequence[Text]], cut: Callable[[Sequence[Text], list[Utterance]], str]) -> Score:
    """How far cuts are from where the texts end."""
    found = []
    for row in rows:
        utterances, truth = spoken(row)
        mine = cut(row, utterances)
        window = max(2, round(len(truth) / len(row) / 2))
        found.append((pk(truth[:-1], mine[:-1], window), windowdiff(truth[:-1], mine[:-1], window), mine.count("1")))
    return Score(*(sum(column) / len(found) for column in zip(*found, strict=True)))
