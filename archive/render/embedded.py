"""The two open font families that a DOCX sheet carries with it, so that it looks the same on every machine (SIL OFL 1.1)."""

from __future__ import annotations

import hashlib
import uuid
from dataclasses import dataclass
from functools import cache
from importlib import resources

SERIF = "Literata"
SANS = "Public Sans"

_FACES = (
    (SERIF, "Regular", "literata-regular.ttf"),
    (SERIF, "Italic", "literata-italic.ttf"),
    (SANS, "Regular", "public-sans-regular.ttf"),
    (SANS, "Bold", "public-sans-bold.ttf"),
)
_COVERS = {SERIF: "literata-regular-covers.txt", SANS: "public-sans-regular-covers.txt"}
_BREAKS = frozenset("\n\r\t")


@dataclass(frozen=True, slots=True)
class Face:
    """One embedded font: family, style (Regular, Italic, Bold), its key as Word writes it, and the veiled bytes."""

    family: str
    style: str
    key: str
    data: bytes


def _veiled(data: bytes, key: uuid.UUID) -> bytes:
    """The first 32 bytes XORed with the key, last byte first (ECMA-376 Part 4, §2.8.1 Font Embedding)."""
    veil = bytes.fromhex(key.hex)[::-1] * 2
    return bytes(a ^ b for a, b in zip(data[:32], veil, strict=True)) + data[32:]


@cache
def faces() -> tuple[Face, ...]:
    """The four fonts of the sheets, read once from the package's data."""
    folder = resources.files("archive.render") / "fonts"
    made = []
    for family, style, file in _FACES:
        key = uuid.uuid5(uuid.NAMESPACE_URL, f"told-here:{file}")  # fixed, so that the same sheet gives the same bytes
        made.append(Face(family, style, f"{{{str(key).upper()}}}", _veiled((folder / file).read_bytes(), key)))
    return tuple(made)


@cache
def face_digests() -> frozenset[str]:
    """SHA-256 of each embedded part: what the last scan accepts without reading it."""
    return frozenset(hashlib.sha256(face.data).hexdigest() for face in faces())


@cache
def _covered(family: str) -> tuple[range, ...]:
    listed = (resources.files("archive.render") / "fonts" / _COVERS[family]).read_text(encoding="utf-8")
    pairs = (line.split("-") for line in listed.split())
    return tuple(range(int(low, 16), int(high, 16) + 1) for low, high in pairs)


def missing_letters(text: str, family: str = SERIF) -> list[str]:
    """The characters of a text that the family does not have, each once, in order."""
    wanted = dict.fromkeys(char for char in text if char not in _BREAKS)
    return [char for char in wanted if not any(ord(char) in covered for covered in _covered(family))]
