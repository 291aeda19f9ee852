"""The encoder once more, written out in numpy float64 from the paper and the model's own configuration: no CTranslate2, no 8-bit numbers.

Devlin et al. 2019 (BERT), Vaswani et al. 2017 (attention), Hendrycks and Gimpel 2016 (GELU); mean over the tokens and unit length as in
the model's 1_Pooling/config.json and modules.json. safetensors is read by its published format.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
from scipy.special import erf
from tokenizers import Tokenizer

LAYERS, HEADS, SIZE, EPSILON = 6, 12, 384, 1e-12  # config.json
Array = np.ndarray[Any, np.dtype[np.float64]]


def read(path: Path) -> dict[str, Array]:
    data = path.read_bytes()
    length = int.from_bytes(data[:8], "little")
    header = json.loads(data[8 : 8 + length])
    found = {}
    for name, told in header.items():
        if name != "__metadata__" and told["dtype"] == "F32":
            first, last = (8 + length + at for at in told["data_offsets"])
            found[name] = np.frombuffer(data[first:last], dtype="<f4").reshape(told["shape"]).astype(np.float64)
    return found


def _linear(x: Array, w: dict[str, Array], name: str) -> Array:
    return x @ w[f"{name}.weight"].T + w[f"{name}.bias"]


def _norm(x: Array, w: dict[str, Array], name: str) -> Array:
    middle, spread = x.mean(axis=-1, keepdims=True), x.var(axis=-1, keepdims=True)
    return (x - middle) / np.sqrt(spread + EPSILON) * w[f"{name}.weight"] + w[f"{name}.bias"]


def vector(w: dict[str, Array], tokenizer: Tokenizer, text: str) -> Array:
    """[384], of length 1, of a text that fits into one window."""
    ids = tokenizer.encode(text).ids
    x = w["embeddings.word_embeddings.weight"][ids] + w["embeddings.position_embeddings.weight"][: len(ids)] + w["embeddings.token_type_embeddings.weight"][0]
    x = _norm(x, w, "embeddings.LayerNorm")
    for n in range(LAYERS):
        own = f"encoder.layer.{n}"
        q, k, v = (_linear(x, w, f"{own}.attention.self.{part}").reshape(len(ids), HEADS, -1).transpose(1, 0, 2) for part in ("query", "key", "value"))
        weight = np.exp(q @ k.transpose(0, 2, 1) / np.sqrt(SIZE / HEADS))
        mixed = (weight / weight.sum(axis=-1, keepdims=True) @ v).transpose(1, 0, 2).reshape(len(ids), SIZE)
        x = _norm(x + _linear(mixed, w, f"{own}.attention.output.dense"), w, f"{own}.attention.output.LayerNorm")
        inner = _linear(x, w, f"{own}.intermediate.dense")
        x = _norm(x + _linear(0.5 * inner * (1 + erf(inner / np.sqrt(2))), w, f"{own}.output.dense"), w, f"{own}.output.LayerNorm")
    mean = x.mean(axis=0)
    return mean / np.linalg.norm(mean)
