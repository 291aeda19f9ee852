"""What a recorder wrote into its file about itself: chunks `bext` and `iXML` of a WAVE file, the movie header of an MP4.

None of it is a fact: clocks are often never set, and notes are whatever somebody once typed. EBU Tech 3285 (version 2) §2.3 for
`bext`, EBU Tech 3306 for files over 4 GB; `iXML`'s elements and the MP4 movie header (ISO/IEC 14496-12 §8.2.2) from memory.
"""

from __future__ import annotations

import re
import struct
import unicodedata
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import IO
from xml.etree import ElementTree

from archive.audio.riff import wav_chunks

BEXT_BYTES = 602  # fixed part; what follows is the coding history
_MOST_IXML = 1 << 20
_MOST_BOXES = 256
_NOTES = ("NOTE", "PROJECT", "SCENE", "TAKE", "TAPE")  # elements of iXML whose text a person may have written
_MOST_TEXT = 2000
_DAY_MS = 86_400_000


@dataclass(frozen=True, slots=True)
class RecorderSays:
    """What stands in the file, as text. `day` and `time`: as 2024-05-12 and 14:03:07, "" where unreadable.

    `first_ms`: the moment of the first sample after midnight of that day, from the count of samples; None: not said.
    `notes`: (element, text).
    """

    originator: str = ""
    reference: str = ""
    day: str = ""
    time: str = ""
    first_ms: int | None = None
    description: str = ""
    notes: tuple[tuple[str, str], ...] = ()

    @property
    def started_ms(self) -> int | None:
        """First sample on the recorder's own clock, ms since 1970-01-01 without any time zone; None where it does not say."""
        if not self.day:
            return None
        midnight = (date.fromisoformat(self.day) - date(1970, 1, 1)).days * _DAY_MS
        if self.first_ms is not None:
            return midnight + self.first_ms
        if not self.time:
            return None
        hours, minutes, seconds = map(int, self.time.split(":"))
        return midnight + ((hours * 60 + minutes) * 60 + seconds) * 1000


def recorder_says(path: Path, rate_hz: int) -> RecorderSays:
    """Read what the file says about itself; nothing where it says nothing, or nothing that can be read. Decodes no sound."""
    try:
        chunks = wav_chunks(path, {b"bext": BEXT_BYTES, b"iXML": _MOST_IXML})
        if chunks:
            return _of_wave(chunks.get(b"bext", b""), chunks.get(b"iXML", b""), rate_hz)
        moment = _movie_moment(path)
    except OSError:
        return RecorderSays()
    return RecorderSays(day=moment.date().isoformat(), time=f"{moment:%H:%M:%S}") if moment else RecorderSays()


def _of_wave(bext: bytes, ixml: bytes, rate_hz: int) -> RecorderSays:
    notes = _notes(ixml)
    if len(bext) < BEXT_BYTES:
        return RecorderSays(notes=notes)
    description, originator, reference, day, time, low, high = struct.unpack_from("<256s32s32s10s8sII", bext)
    count = high << 32 | low
    # 0 stands for midnight and for "not written"; a day has no more samples than this
    first_ms = round(count * 1000 / rate_hz) if rate_hz and 0 < count < 2 * 86_400 * rate_hz else None
    return RecorderSays(_text(originator), _text(reference), _day(day), _clock(time), first_ms, _text(description), notes)


def _text(raw: bytes) -> str:
    """Text up to the first zero byte: ASCII by the standard, UTF-8 or Windows-1252 in practice (common practice, no source)."""
    raw = raw.split(b"\0")[0]
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError:
        text = raw.decode("cp1252", errors="replace")
    return _plain(text)


def _plain(text: str) -> str:
    text = unicodedata.normalize("NFC", text)
    kept = "".join(" " if c.isspace() else c for c in text if c.isspace() or unicodedata.category(c) not in ("Cc", "Cs", "Cf"))
    return " ".join(kept.split())[:_MOST_TEXT]


def _day(raw: bytes) -> str:
    """yyyy-mm-dd; the standard allows “_”, “:”, “ ” and “.” between the numbers as well."""
    found = re.fullmatch(r"(\d{4})[-_:. /](\d{2})[-_:. /](\d{2})", raw.decode("latin-1"))
    try:
        return date(*map(int, found.groups())).isoformat() if found else ""
    except ValueError:
        return ""


def _clock(raw: bytes) -> str:
    found = re.fullmatch(r"([01]\d|2[0-3])[-_:. ]([0-5]\d)[-_:. ]([0-5]\d)", raw.decode("latin-1"))
    return ":".join(found.groups()) if found else ""


def _notes(ixml: bytes) -> tuple[tuple[str, str], ...]:
    # No iXML has a document type: one could only be there to make the parser swell.
    if not ixml or b"<!" in ixml.replace(b"<!--", b""):
        return ()
    try:
        root = ElementTree.fromstring(ixml.rstrip(b"\0 \r\n\t"))
    except (ElementTree.ParseError, ValueError, LookupError):
        return ()
    found = [(name, _plain(root.findtext(name) or "")) for name in _NOTES]
    tracks = [_plain(track.findtext("NAME") or "") for track in root.iterfind("TRACK_LIST/TRACK")][:8]
    found += [(f"TRACK {n}", name) for n, name in enumerate(tracks, 1)]
    return tuple((name, text) for name, text in found if text)


def _movie_moment(path: Path) -> datetime | None:
    """When the movie header says that the file was made (UTC by the standard); None where it does not say."""
    with open(path, "rb") as stream:
        if stream.read(8)[4:] != b"ftyp":
            return None
        movie = _box(stream, b"moov", 0, path.stat().st_size)
        header = movie and _box(stream, b"mvhd", *movie)
        if not header:
            return None
        stream.seek(header[0])
        body = stream.read(12)
    wide = body[:1] == b"\x01"
    if len(body) < 12:
        return None
    seconds = int.from_bytes(body[4:12] if wide else body[4:8], "big")
    try:
        return datetime(1904, 1, 1, tzinfo=UTC) + timedelta(seconds=seconds) if seconds else None
    except OverflowError:
        return None


def _box(stream: IO[bytes], wanted: bytes, start: int, end: int) -> tuple[int, int] | None:
    """(start, end) of the body of the first box of this name between two places of a file."""
    for _ in range(_MOST_BOXES):
        if start + 8 > end:
            return None
        stream.seek(start)
        head = stream.read(16)
        size, body = int.from_bytes(head[:4], "big"), start + 8
        if size == 1:
            size, body = int.from_bytes(head[8:16], "big"), start + 16
        stop = end if size == 0 else start + size
        if stop <= start or stop > end:
            return None
        if head[4:8] == wanted:
            return body, stop
        start = stop
    return None
