"""Stretches of sound over HTTP, whole or in ranges (RFC 9110 §14).

Paused players stop reading. A body that outgrows waitress's buffer would hold its thread, and a few of them the whole
server (PITFALLS); so a range is cut to 4 MiB, every answer says its length, and no answer is open-ended.
"""

from __future__ import annotations

import re

from flask import request
from werkzeug.wrappers import Response

MOST_BYTES = 4 * 1024 * 1024
_ONE_RANGE = re.compile(r"bytes=\s*(\d{0,18})-(\d{0,18})\s*", re.ASCII)


def asked_range(header: str, size: int) -> tuple[int, int] | None:
    """First and last byte asked for, cut to MOST_BYTES; None: all of it. Raises ValueError where it cannot be had.

    Other units and lists of ranges are ignored, as RFC 9110 §14.2 allows.
    """
    if not header or not header.lower().startswith("bytes=") or "," in header:
        return None
    match = _ONE_RANGE.fullmatch(header.lower())
    if match is None:
        raise ValueError(header)
    first, last = match.groups()
    if first:
        start = int(first)
        end = min(int(last), size - 1) if last else size - 1
        if last and int(last) < start:
            raise ValueError(header)
    elif last:
        start, end = max(0, size - int(last)), size - 1
    else:
        raise ValueError(header)
    if start >= size or end < start:
        raise ValueError(header)
    return start, min(end, start + MOST_BYTES - 1)


def in_ranges(body: bytes, mimetype: str = "audio/wav") -> Response:
    """`body`, or the range of it that this request asks for. If-Range is ignored: a stretch never changes under its address."""
    headers = {"Accept-Ranges": "bytes", "Content-Disposition": "inline"}
    try:
        part = asked_range(request.headers.get("Range", ""), len(body))
    except ValueError:
        return Response(b"", 416, {**headers, "Content-Range": f"bytes */{len(body)}"}, mimetype=mimetype)
    if part is None:
        return Response(body, headers=headers, mimetype=mimetype)
    start, end = part
    headers["Content-Range"] = f"bytes {start}-{end}/{len(body)}"
    return Response(body[start : end + 1], status=206, headers=headers, mimetype=mimetype)
