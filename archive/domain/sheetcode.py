"""The short code on a sheet of field notes, written by hand and read back: FN-7K3QX. The last sign finds a slip of the pen. Pure.

29 signs (none that is taken for another: 0 O, 1 I L, S 5, Z 2) and weights below 29, which is prime: one wrong sign and two that
changed places always show (common practice of check digits, as in ISO/IEC 7064).
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from archive.errors import BadInput

SIGNS = "23456789ABCDEFGHJKMNPQRTUVWXY"
LENGTH = 4  # without the one that checks


def code_of(numbers: Sequence[int]) -> str:
    """The code of four numbers below 29."""
    signs = "".join(SIGNS[n] for n in numbers)
    return f"FN-{signs}{_check(signs)}"


def read_code(text: str) -> str:
    """A code as somebody typed or scanned it, in the one way in which it is on record. Raises BadInput."""
    found = re.sub(r"[\s–-]", "", text.upper())
    found = found.removeprefix("FN")
    if len(found) != LENGTH + 1 or any(sign not in SIGNS for sign in found) or _check(found[:LENGTH]) != found[LENGTH]:
        raise BadInput("That is no code of a sheet of field notes, or one sign in it is wrong.", "Look at the sheet again: it is written like FN-2345M, beside the square.")
    return f"FN-{found}"


def _check(signs: str) -> str:
    total = sum((n + 2) * SIGNS.index(sign) for n, sign in enumerate(signs))
    return SIGNS[-total % len(SIGNS)]
