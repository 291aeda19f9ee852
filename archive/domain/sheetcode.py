"""The short code on a paper of the team's, written by hand and read back: FN-7K3QX. The last sign finds a slip of the pen. Pure.

29 signs (none that is taken for another: 0 O, 1 I L, S 5, Z 2) and weights below 29, which is prime: one wrong sign and two that
changed places always show (common practice of check digits, as in ISO/IEC 7064).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from enum import StrEnum

from archive.errors import BadInput

SIGNS = "23456789ABCDEFGHJKMNPQRTUVWXY"
LENGTH = 4  # without the one that checks


class Coded(StrEnum):
    """What bears a code, by the letters it begins with."""

    NOTES = "FN"
    FORM = "FM"
    LETTER = "LT"
    REVIEW = "RV"


_CALLED = {Coded.NOTES: "a sheet of field notes", Coded.FORM: "a form that we printed", Coded.LETTER: "a letter that we wrote", Coded.REVIEW: "a sheet of quotes to be answered"}


def code_of(numbers: Sequence[int], kind: Coded = Coded.NOTES) -> str:
    """The code of four numbers below 29."""
    signs = "".join(SIGNS[n] for n in numbers)
    return f"{kind}-{signs}{_check(signs)}"


def read_code(text: str, kind: Coded = Coded.NOTES) -> str:
    """A code as somebody typed or scanned it, in the one way in which it is on record. Raises BadInput."""
    found = re.sub(r"[\s–-]", "", text.upper())
    found = found.removeprefix(kind)
    if len(found) != LENGTH + 1 or any(sign not in SIGNS for sign in found) or _check(found[:LENGTH]) != found[LENGTH]:
        raise BadInput(f"That is no code of {_CALLED[kind]}, or one sign in it is wrong.", f"Look at the paper again: it is written like {code_of((0, 1, 2, 3), kind)}, beside the square.")
    return f"{kind}-{found}"


def _check(signs: str) -> str:
    total = sum((n + 2) * SIGNS.index(sign) for n, sign in enumerate(signs))
    return SIGNS[-total % len(SIGNS)]
