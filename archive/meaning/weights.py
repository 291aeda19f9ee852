"""The weights of a small BERT encoder, put into the form that CTranslate2 runs: from safetensors with numpy alone."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import ctranslate2
import numpy as np
import numpy.typing as npt
from ctranslate2.specs import common_spec, transformer_spec

from archive.errors import Broken

WEIGHTS = "model.safetensors"
TOKENIZER = "tokenizer.json"
LAYERS, HEADS, SIZE = 6, 12, 384
_NORM_EPSILON = 1e-12  # layer_norm_eps of the model's own config.json
Arrays = Mapping[str, npt.NDArray[np.float32]]


def read(path: Path) -> dict[str, npt.NDArray[np.float32]]:
    """The float32 arrays of a safetensors file, by name, mapped from the disk. Raises Broken where it is not such a file.

    Eight bytes of length, a JSON header with type, shape and offsets, then the numbers (the format's own description).
    """
    try:
        with open(path, "rb") as stream:
            length = int.from_bytes(stream.read(8), "little")
            header = json.loads(stream.read(length))
        numbers = np.memmap(path, dtype=np.uint8, mode="r", offset=8 + length)
        return {
            name: numbers[slice(*told["data_offsets"])].view("<f4").reshape(told["shape"])
            for name, told in header.items()
            if name != "__metadata__" and told["dtype"] == "F32"
        }
    except (OSError, ValueError, KeyError, TypeError, MemoryError, OverflowError) as trouble:
        raise Broken("The weights of the model for nearness in meaning cannot be read.", "Remove its folder and install it again.") from trouble


def load(path: Path, threads: int) -> Any:
    """A CTranslate2 encoder in 8-bit whole numbers, from the model's safetensors. Takes under a second, keeps nothing on the disk."""
    arrays = read(path)
    try:
        spec = _filled(arrays)
    except KeyError as missing:
        raise Broken(f"The weights of the model for nearness in meaning lack {missing}.", "Remove its folder and install it again.") from None
    spec.validate()
    spec.optimize(quantization="int8")
    with tempfile.TemporaryDirectory(prefix="toldhere-") as folder:
        spec.save(folder)
        return ctranslate2.Encoder(folder, device="cpu", compute_type="int8", intra_threads=threads)


def _filled(arrays: Arrays) -> Any:
    encoder = transformer_spec.TransformerEncoderSpec(
        LAYERS, HEADS, pre_norm=False, activation=common_spec.Activation.GELU, layernorm_embedding=True, num_source_embeddings=2,
        embeddings_merge=common_spec.EmbeddingsMerge.ADD,
    )  # fmt: skip
    spec = transformer_spec.TransformerEncoderModelSpec(encoder)
    encoder.scale_embeddings = False
    encoder.embeddings[0].weight = np.array(arrays["embeddings.word_embeddings.weight"])
    encoder.embeddings[1].weight = np.array(arrays["embeddings.token_type_embeddings.weight"])
    encoder.position_encodings.encodings = np.array(arrays["embeddings.position_embeddings.weight"])
    _norm(encoder.layernorm_embedding, arrays, "embeddings.LayerNorm")
    for number, layer in enumerate(encoder.layer):
        own = f"encoder.layer.{number}."
        asked = [f"{own}attention.self.{part}" for part in ("query", "key", "value")]
        layer.self_attention.linear[0].weight = np.concatenate([arrays[f"{name}.weight"] for name in asked])
        layer.self_attention.linear[0].bias = np.concatenate([arrays[f"{name}.bias"] for name in asked])
        _linear(layer.self_attention.linear[1], arrays, f"{own}attention.output.dense")
        _norm(layer.self_attention.layer_norm, arrays, f"{own}attention.output.LayerNorm")
        _linear(layer.ffn.linear_0, arrays, f"{own}intermediate.dense")
        _linear(layer.ffn.linear_1, arrays, f"{own}output.dense")
        _norm(layer.ffn.layer_norm, arrays, f"{own}output.LayerNorm")
    # Texts are handed over as numbers of tokens: these names are never looked at.
    spec.register_vocabulary([f"{n}" for n in range(spec.get_vocabulary_size())])
    spec.config.layer_norm_epsilon = _NORM_EPSILON
    spec.config.unk_token = "0"
    return spec


def _linear(spec: Any, arrays: Arrays, name: str) -> None:
    spec.weight, spec.bias = np.array(arrays[f"{name}.weight"]), np.array(arrays[f"{name}.bias"])


def _norm(spec: Any, arrays: Arrays, name: str) -> None:
    spec.gamma, spec.beta = np.array(arrays[f"{name}.weight"]), np.array(arrays[f"{name}.bias"])
