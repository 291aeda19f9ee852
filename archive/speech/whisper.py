"""faster-whisper, the only place that imports it. Loads by folder, takes samples, opens no recording."""

from __future__ import annotations

import os
from collections.abc import Sequence
from typing import Any

os.environ.setdefault("HF_HUB_OFFLINE", "1")  # before the import below: loading must never reach for the network

import ctranslate2
import faster_whisper
import numpy as np
import numpy.typing as npt
from faster_whisper.tokenizer import Tokenizer
from faster_whisper.transcribe import pad_or_trim
from faster_whisper.vad import VadOptions, get_speech_timestamps

from archive.domain.letters import core, folded
from archive.domain.marks import GAP, spoken
from archive.domain.values import MIN_WORD_MS, Word
from archive.errors import BadInput, ModelMissing
from archive.speech.engine import MOST_PLACED_MS, RATE_HZ, Doubt, Heard
from archive.speech.models import NEEDED, ModelFolder
from archive.speech.onset import move_first_words

Samples = npt.NDArray[np.float32]
REPEATS_RATIO = 2.4  # Whisper's own limit of the compression ratio: above it text repeats itself
UNLIKELY_LOGPROB = -1.0  # Whisper's own limit of the mean log probability
MOST_VOCABULARY = 60  # names; longer lists are cut by the engine without a word
_NO_SPACES = frozenset({"zh", "ja", "th", "lo", "my", "yue"})
"""Languages written without spaces: there a word without one before it is a word of its own."""


ATTENDED_MS = 20  # how finely the model attends to time
PLACED_LEAST = 0.005  # less likely words are not placed; words that nobody said came to 0.0004–0.02 (project choice)
UNHEARD_MS = 1000  # project choice: shorter ones are breaths and hesitations
AGAIN_LEAD_MS = 300


class WhisperEngine:
    """One loaded model. Keep it in a worker process that may die; never in the web's."""

    def __init__(
        self, model: ModelFolder, cpu_threads: int | None = None, beam_size: int = 5, compute_type: str = "int8"
    ) -> None:  # fmt: skip
        missing = [n for n in NEEDED if not (model.path / n).is_file()]
        if missing:
            raise ModelMissing(f"The speech model “{model.name}” lacks {', '.join(missing)}.")
        self._model = model
        self._threads = cpu_threads or min(4, _cores())
        self._beam_size = beam_size
        able = ctranslate2.get_supported_compute_types("cpu")
        if compute_type not in able:
            raise BadInput(f"This machine cannot run the engine in “{compute_type}”.", f"Set compute_type to one of: {', '.join(sorted(able))}.")
        self._compute_type = compute_type
        self._whisper = faster_whisper.WhisperModel(
            str(model.path), device="cpu", compute_type=compute_type, cpu_threads=self._threads, local_files_only=True
        )

    @property
    def name(self) -> str:
        """Engine and model."""
        return f"faster-whisper {self._model.name}"

    @property
    def model_sha256(self) -> str:
        """SHA-256 of model.bin."""
        return self._model.model_sha256

    @property
    def options(self) -> dict[str, Any]:
        """All that decides the words, for the record of the run. Language and vocabulary belong to the call."""
        return {
            "engine": "faster-whisper",
            "engine_version": faster_whisper.__version__,
            "runtime_version": ctranslate2.__version__,
            "model": self._model.name,
            "model_sha256": self._model.model_sha256,
            "compute_type": self._compute_type,
            "cpu_threads": self._threads,
            **self._asked(),
            "first_word_at_onset": True,
            "unheard_speech_heard_again": True,
        }

    def _asked(self) -> dict[str, Any]:
        return {
            "task": "transcribe",
            "beam_size": self._beam_size,
            "vad_filter": True,
            "vad_parameters": {"threshold": 0.5, "min_silence_duration_ms": 2000, "speech_pad_ms": 400},
            "condition_on_previous_text": False,
            "temperature": 0.0,  # higher ones draw lots: what a killed worker had heard would not be heard again
            "word_timestamps": True,
        }

    def transcribe(self, pcm: Samples, language: str, vocabulary: Sequence[str] = ()) -> list[Word]:
        """Words of 16 kHz mono samples, ms from their start."""
        return list(self.hear(pcm, language, vocabulary).words)

    def hear(
        self, pcm: Samples, language: str, vocabulary: Sequence[str] = (), speech_ms: Sequence[tuple[int, int]] | None = None
    ) -> Heard:
        """Words, doubts and skipped silence. `vocabulary`: names that prime the engine; `speech_ms`: where somebody
        speaks (ms of these samples), as the measuring pass has it; None: listened for here. Raises BadInput."""
        if pcm.ndim != 1 or pcm.dtype != np.float32:
            raise BadInput("The engine takes mono samples as 32-bit floats.")
        length_ms = len(pcm) * 1000 // RATE_HZ
        if length_ms < MIN_WORD_MS:
            return Heard(())
        words, doubts = self._pass(pcm, language, vocabulary)
        if vocabulary:
            words = self._heard_again(pcm, language, words, _speech_in(pcm) if speech_ms is None else speech_ms)
        tidy = _in_order(move_first_words(_in_order(words, length_ms), pcm), length_ms)
        return Heard(tuple(tidy), tuple(doubts), tuple(_skipped(tidy, length_ms)))

    def place(self, pcm: Samples, language: str, texts: Sequence[str]) -> list[tuple[int, int] | None]:
        """When each of these words is heard, ms: the sound is laid beside the words that are given, none are guessed. None for
        what is no spoken word, and where the sound has no room for it or speaks against it. Raises BadInput."""
        length_ms = len(pcm) * 1000 // RATE_HZ
        if pcm.ndim != 1 or pcm.dtype != np.float32 or length_ms > MOST_PLACED_MS:
            raise BadInput(f"The engine takes {MOST_PLACED_MS // 1000} s of mono samples as 32-bit floats.")
        said = [(n, core(spoken(t).replace(GAP, ""))) for n, t in enumerate(texts)]
        said = [(n, text) for n, text in said if text]
        found: list[tuple[int, int] | None] = [None] * len(texts)
        if not said or length_ms < MIN_WORD_MS:
            return found
        heard = self._laid_beside(pcm, language, [text for _, text in said])
        moved = move_first_words(heard, pcm)
        for (n, _), word in zip(said, moved, strict=True):
            if word.probability >= PLACED_LEAST and word.end_ms - word.start_ms >= MIN_WORD_MS:
                found[n] = (word.start_ms, word.end_ms)
        return found

    def _laid_beside(self, pcm: Samples, language: str, texts: Sequence[str]) -> list[Word]:
        """Words with the times at which the model attends to them; some may last 0 ms."""
        whisper = self._whisper
        try:
            tokenizer = Tokenizer(whisper.hf_tokenizer, whisper.model.is_multilingual, task="transcribe", language=language)
        except ValueError as trouble:
            raise BadInput(f"The speech model does not know the language “{language}”.") from trouble
        features = whisper.feature_extractor(pcm)[..., :-1]
        tokens = [tokenizer.encode(f" {text}") for text in texts]
        flat = [t for some in tokens for t in some]
        frames = min(features.shape[-1], MOST_PLACED_MS // 10)
        sound = whisper.encode(pad_or_trim(features))
        laid = whisper.model.align(sound, tokenizer.sot_sequence, [flat], frames)[0]
        pairs = np.array(laid.alignments)
        first = np.pad(np.diff(pairs[:, 0]), (1, 0), constant_values=1).astype(bool)
        begins_ms = pairs[first, 1] * ATTENDED_MS  # of each token, and of the end of the text
        edges = np.cumsum([0, *(len(some) for some in tokens)])
        return [
            Word(text, int(begins_ms[a]), int(begins_ms[b]), float(np.mean(laid.text_token_probs[a:b])))
            for text, a, b in zip(texts, edges[:-1], edges[1:], strict=True)
        ]

    def _heard_again(
        self, pcm: Samples, language: str, words: list[Word], speech_ms: Sequence[tuple[int, int]]
    ) -> list[Word]:
        """Words with those added that a primed pass dropped: where somebody speaks and no words came, heard unprimed.

        Measured on the samples: with 14 names as vocabulary, two of eleven recordings lost whole sentences.
        """
        found = list(words)
        for start_ms, end_ms in _unheard(speech_ms, words):
            first_ms = max(0, start_ms - AGAIN_LEAD_MS)
            piece = pcm[first_ms * RATE_HZ // 1000 : (end_ms + AGAIN_LEAD_MS) * RATE_HZ // 1000]
            for word in self._pass(piece, language, ())[0]:
                middle_ms = first_ms + (word.start_ms + word.end_ms) // 2
                moved = Word(word.text, word.start_ms + first_ms, word.end_ms + first_ms, word.probability)
                if start_ms - AGAIN_LEAD_MS // 2 <= middle_ms <= end_ms + AGAIN_LEAD_MS // 2 and not _there_already(moved, words):
                    found.append(moved)
        return sorted(found, key=lambda w: w.start_ms)

    def _pass(self, pcm: Samples, language: str, vocabulary: Sequence[str]) -> tuple[list[Word], list[Doubt]]:
        if language != "en" and not self._whisper.model.is_multilingual:  # it would write English for whatever is said
            raise BadInput("This speech model knows English alone.", "Set another one (“model” in archive.toml), then start again.")
        length_ms = len(pcm) * 1000 // RATE_HZ
        # The full stop ends the list: without it the engine takes the list for talk that goes on, and writes more of it.
        # Measured on the samples: errors 1.9 → 1.6 %, names that nobody said no longer inserted.
        hotwords = ", ".join(list(vocabulary)[:MOST_VOCABULARY]) + "." if vocabulary else None
        try:
            segments, _ = self._whisper.transcribe(pcm, language=language, hotwords=hotwords, **self._asked())
        except ValueError as trouble:
            raise BadInput(f"The speech model does not know the language “{language}”.") from trouble
        words: list[Word] = []
        doubts: list[Doubt] = []
        for segment in segments:
            own = _words(segment.words or [], language, length_ms)
            if own:
                doubts += _doubts(segment, own, vocabulary)
                words += own
        return words, doubts


def _speech_in(pcm: Samples) -> list[tuple[int, int]]:
    """Where somebody speaks, ms."""
    found = get_speech_timestamps(pcm, VadOptions(threshold=0.5, min_silence_duration_ms=300, speech_pad_ms=0))
    return [(part["start"] * 1000 // RATE_HZ, part["end"] * 1000 // RATE_HZ) for part in found]


def _unheard(speech_ms: Sequence[tuple[int, int]], words: Sequence[Word]) -> list[tuple[int, int]]:
    """Stretches (ms) of at least a second in which somebody speaks and no word was heard."""
    found: list[tuple[int, int]] = []
    for at, end_ms in speech_ms:
        for word in words:
            if word.start_ms >= end_ms or word.end_ms <= at:
                continue
            if word.start_ms - at >= UNHEARD_MS:
                found.append((at, word.start_ms))
            at = max(at, word.end_ms)
        if end_ms - at >= UNHEARD_MS:
            found.append((at, end_ms))
    joined: list[tuple[int, int]] = []
    for start_ms, end_ms in found:
        between = joined and any(joined[-1][1] <= w.start_ms < start_ms for w in words)
        if joined and not between and start_ms - joined[-1][1] < 1500:
            joined[-1] = (joined[-1][0], end_ms)
        else:
            joined.append((start_ms, end_ms))
    return joined


def _there_already(word: Word, words: Sequence[Word]) -> bool:
    """True where the same word stands there: the piece that is heard again begins a little before and ends a little after."""
    near = [w for w in words if w.start_ms - AGAIN_LEAD_MS < word.end_ms and word.start_ms < w.end_ms + AGAIN_LEAD_MS]
    return folded(core(word.text)) in {folded(core(w.text)) for w in near}


def _cores() -> int:
    if hasattr(os, "sched_getaffinity"):
        return max(1, len(os.sched_getaffinity(0)))
    return os.cpu_count() or 1


def _words(heard: Sequence[Any], language: str, length_ms: int) -> list[Word]:
    """The engine's words as ours: stripped; what has no space before it belongs to the word before ("62" "-63")."""
    out: list[Word] = []
    for word in heard:
        text = word.word.strip()
        if not text:
            continue
        start, end = round(word.start * 1000), round(word.end * 1000)
        if out and not word.word[:1].isspace() and language not in _NO_SPACES:
            last = out[-1]
            out[-1] = Word(last.text + text, last.start_ms, end, min(last.probability, float(word.probability)))
        else:
            out.append(Word(text, start, end, float(word.probability)))
    return [w for w in out if w.start_ms < length_ms]


def _in_order(words: list[Word], length_ms: int) -> list[Word]:
    """Times that never go back, words of at least 20 ms that do not overlap, all inside the piece."""
    out: list[Word] = []
    at = 0
    for n, word in enumerate(words):
        last_end = length_ms - MIN_WORD_MS * (len(words) - n - 1)  # leaves 20 ms for each word that follows
        start = max(at, min(word.start_ms, last_end - MIN_WORD_MS))
        end = min(word.end_ms, last_end, words[n + 1].start_ms if n + 1 < len(words) else length_ms)
        out.append(Word(word.text, start, max(start + MIN_WORD_MS, end), round(word.probability, 4)))
        at = out[-1].end_ms
    return out


def _doubts(segment: Any, words: list[Word], vocabulary: Sequence[str]) -> list[Doubt]:
    found = []
    start, end = words[0].start_ms, max(words[-1].end_ms, words[0].start_ms + MIN_WORD_MS)
    if segment.compression_ratio > REPEATS_RATIO:
        found.append(Doubt("repeats", start, end, "The words repeat themselves; the engine may have got stuck."))
    if segment.avg_logprob < UNLIKELY_LOGPROB:
        found.append(Doubt("unlikely", start, end, "The engine was very unsure here."))
    primed = [v.casefold() for v in vocabulary]
    text = segment.text.casefold()
    if sum(1 for a, b in zip(primed, primed[1:], strict=False) if f"{a}, {b}" in text) >= 2:
        found.append(Doubt("vocabulary", start, end, "The list of names came back as if it had been spoken."))
    return found


def _skipped(words: Sequence[Word], length_ms: int) -> list[tuple[int, int]]:
    """Stretches of 2 s and more in which the engine wrote nothing, ms. They are shown and can be asked for."""
    edges = [0, *(t for w in words for t in (w.start_ms, w.end_ms)), length_ms]
    return [(a, b) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a >= 2000]
