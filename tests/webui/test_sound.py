"""The range view: what of a stretch is sent, and how it is said. RFC 9110 §14 (range requests), read from memory."""

from __future__ import annotations

import pytest
from flask import Flask
from hypothesis import given
from hypothesis import strategies as st

from webui.sound import MOST_BYTES, asked_range, in_ranges


@pytest.mark.parametrize(
    ("header", "size", "expected"),
    [
        ("bytes=0-", 1000, (0, 999)),
        ("bytes=0-0", 1000, (0, 0)),
        ("bytes=500-599", 1000, (500, 599)),
        ("bytes=500-99999", 1000, (500, 999)),
        ("bytes=-100", 1000, (900, 999)),
        ("bytes=-5000", 1000, (0, 999)),
        ("Bytes=10-20", 1000, (10, 20)),
        ("bytes=0-", MOST_BYTES + 10, (0, MOST_BYTES - 1)),
        ("bytes=5-", MOST_BYTES * 3, (5, MOST_BYTES + 4)),
        ("", 1000, None),
        ("items=0-5", 1000, None),  # another unit is ignored (§14.2)
        ("bytes=0-5,10-20", 1000, None),  # a list of ranges may be ignored (§14.2)
    ],
)
def test_ranges(header: str, size: int, expected: tuple[int, int] | None) -> None:
    assert asked_range(header, size) == expected


@pytest.mark.parametrize(
    "header", ["bytes=1000-", "bytes=1000-1001", "bytes=5-4", "bytes=-", "bytes=-0", "bytes=a-b", "bytes=٣-", "bytes=1-2x"]
)
def test_ranges_that_cannot_be_had(header: str) -> None:
    with pytest.raises(ValueError):
        asked_range(header, 1000)


@given(st.integers(0, 10**7), st.one_of(st.none(), st.integers(0, 10**7)), st.integers(1, 10**7))
def test_every_answer_lies_inside_and_is_short(first: int, last: int | None, size: int) -> None:
    header = f"bytes={first}-{'' if last is None else last}"
    try:
        part = asked_range(header, size)
    except ValueError:
        assert first >= size or (last is not None and last < first)
        return
    assert part is not None
    start, end = part
    assert start == first
    assert start <= end < size
    assert end - start < MOST_BYTES


def _answer(body: bytes, **headers: str) -> tuple[int, dict[str, str], bytes]:
    app = Flask(__name__)
    with app.test_request_context(headers=headers):
        response = in_ranges(body)
        return response.status_code, dict(response.headers), response.get_data()


def test_whole() -> None:
    status, headers, data = _answer(b"0123456789")
    assert (status, data) == (200, b"0123456789")
    assert headers["Content-Length"] == "10"
    assert headers["Accept-Ranges"] == "bytes"


def test_part_says_which_part() -> None:
    status, headers, data = _answer(b"0123456789", Range="bytes=2-4")
    assert (status, data) == (206, b"234")
    assert headers["Content-Range"] == "bytes 2-4/10"
    assert headers["Content-Length"] == "3"


def test_if_range_is_ignored() -> None:
    status, _, data = _answer(b"0123456789", **{"Range": "bytes=2-4", "If-Range": '"another"'})
    assert (status, data) == (206, b"234")


def test_outside_is_416_with_the_size() -> None:
    status, headers, data = _answer(b"0123456789", Range="bytes=10-")
    assert (status, data) == (416, b"")
    assert headers["Content-Range"] == "bytes */10"
    assert headers["Content-Length"] == "0"
