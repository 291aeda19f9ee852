"""What a text is about, as 384 numbers a window of it: all-MiniLM-L6-v2 (Apache-2.0), English, run by CTranslate2.

Two texts of like meaning have a large dot product. These numbers are made from words and are guarded like words.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

import ctranslate2
import numpy as np
import numpy.typing as npt
from tokenizers import Tokenizer

from archive.errors import Broken
from archive.meaning.weights import SIZE, TOKENIZER, WEIGHTS, load

Vectors = npt.NDArray[np.float32]

WINDOW_TOKENS = 254  # of 256 that the model was made for; two stand for begin and end. About 195 words
_BATCH = 16
_BEGIN, _END = "[CLS]", "[SEP]"


class Encoder:
    """A loaded model (under a second). `model_sha256`: of its weights; vectors of two models are never compared."""

    def __init__(self, folder: Path, model_sha256: str, threads: int = 1) -> None:
        """Raises Broken where weights or tokenizer cannot be read."""
        self.model_sha256 = model_sha256
        self._encoder = load(folder / WEIGHTS, threads)
        try:
            self._tokenizer = Tokenizer.from_file(str(folder / TOKENIZER))
        except Exception as trouble:  # the library raises bare Exception
            raise Broken("The tokenizer of the model for nearness in meaning cannot be read.", "Remove its folder and install it again.") from trouble
        self._tokenizer.no_truncation()
        self._tokenizer.no_padding()
        self._begin, self._end = (self._tokenizer.token_to_id(t) or 0 for t in (_BEGIN, _END))

    def vectors(self, texts: Sequence[str]) -> list[Vectors]:
        """For each text float32 [windows, 384], each of length 1; no window for a text without words."""
        windows = [self._windows(text) for text in texts]
        flat = [tokens for own in windows for tokens in own]
        made = np.zeros((len(flat), SIZE), dtype=np.float32)
        order = sorted(range(len(flat)), key=lambda n: len(flat[n]))  # alike in length, so that little is padded
        for at in range(0, len(order), _BATCH):
            numbers = order[at : at + _BATCH]
            made[numbers] = self._run([flat[n] for n in numbers])
        found, at = [], 0
        for own in windows:
            found.append(made[at : at + len(own)])
            at += len(own)
        return found

    def _windows(self, text: str) -> list[list[int]]:
        """Numbers of tokens, in as few windows as possible, alike in length, cut between words."""
        encoding = self._tokenizer.encode(text, add_special_tokens=False)
        return [[self._begin, *encoding.ids[first:last], self._end] for first, last in cuts(encoding.word_ids, WINDOW_TOKENS)]

    def _run(self, batch: Sequence[Sequence[int]]) -> Vectors:
        """Mean over a text's own tokens, then unit length."""
        lengths = np.array([len(tokens) for tokens in batch], dtype=np.int32)
        padded = np.zeros((len(batch), int(lengths.max())), dtype=np.int32)
        for row, tokens in zip(padded, batch, strict=True):
            row[: len(tokens)] = tokens
        told = [ctranslate2.StorageView.from_array(a) for a in (padded, lengths)]
        states = np.array(self._encoder.forward_batch(*told).last_hidden_state)
        mask = np.arange(padded.shape[1]) < lengths[:, np.newaxis]
        mean = (states * mask[..., np.newaxis]).sum(axis=1) / lengths[:, np.newaxis]
        return np.asarray(mean / np.maximum(np.linalg.norm(mean, axis=1, keepdims=True), 1e-9), dtype=np.float32)


def cuts(word_of: Sequence[int | None], most: int) -> Iterator[tuple[int, int]]:
    """Windows (first, last) of at most so many tokens over all of them; `word_of`: the word that each token is a part of.

    A word longer than a window is cut.
    """
    count, first = len(word_of), 0
    while first < count:
        rest = count - first
        last = first + -(-rest // -(-rest // most))
        back = last
        while first < back < count and word_of[back] == word_of[back - 1]:
            back -= 1
        last = back if back > first else last
        yield first, last
        first = last
