"""How a file is cut for its way from a browser: pieces of 8 MiB, the last one smaller. Pure."""

from __future__ import annotations

PIECE_BYTES = 8 << 20


def count(size: int) -> int:
    """How many pieces a file of so many bytes has."""
    return -(-size // PIECE_BYTES)


def extent(size: int, n: int) -> tuple[int, int]:
    """(first byte, length) of piece `n`, from 0; a length of 0 where there is no such piece."""
    start = n * PIECE_BYTES
    return start, max(0, min(PIECE_BYTES, size - start)) if n >= 0 else 0
