"""The code on a sheet: a slip of the pen is seen. Bound: one wrong sign or two changed places, as ISO/IEC 7064 asks of check characters (from memory)."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive.domain.sheetcode import LENGTH, SIGNS, code_of, read_code
from archive.errors import BadInput

numbers = st.lists(st.integers(0, len(SIGNS) - 1), min_size=LENGTH, max_size=LENGTH)


@given(numbers)
def test_it_is_read_as_people_write_it(given_: list[int]) -> None:
    code = code_of(given_)
    assert read_code(code) == code == read_code(f" {code.lower().replace('-', ' ')} ") == read_code(code[3:])


@given(numbers, st.integers(0, LENGTH), st.sampled_from(SIGNS))
def test_one_wrong_sign_shows(given_: list[int], at: int, sign: str) -> None:
    code = code_of(given_)
    wrong = code[: 3 + at] + sign + code[4 + at :]
    if wrong != code:
        with pytest.raises(BadInput):
            read_code(wrong)


@given(numbers, st.integers(0, LENGTH - 1))
def test_two_signs_that_changed_places_show(given_: list[int], at: int) -> None:
    code = code_of(given_)
    wrong = code[: 3 + at] + code[4 + at] + code[3 + at] + code[5 + at :]
    if wrong != code:
        with pytest.raises(BadInput):
            read_code(wrong)


@pytest.mark.parametrize("text", ["", "FN-", "FN-22", "Lena Fosse", "FN-O0I1L", "FN-222222"])
def test_what_is_no_code_is_not_repeated(text: str) -> None:
    with pytest.raises(BadInput) as told:
        read_code(text)
    assert not text or text not in told.value.message
