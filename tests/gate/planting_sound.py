"""Places in sound files in which text can stand, planted byte by byte: the scan reads tags with mutagen (see planting.py)."""

from __future__ import annotations

import base64
import functools
import io
import struct
import tempfile
import wave
from collections.abc import Callable
from pathlib import Path

import av
import numpy as np
import soundfile

from tests.gate.planting import LATIN, PLACES, UNICODE, Place, written
from tests.gate.planting_pictures import chunk, png


def _tone() -> np.ndarray:
    t = np.arange(16_000) / 16_000
    return (0.2 * np.sin(2 * np.pi * 220 * t)).astype(np.float32)


@functools.cache
def plain(kind: str) -> bytes:
    """A second of tone of this kind, by libsndfile; M4A by FFmpeg."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"a{kind}"
        if kind == ".m4a":
            with av.open(str(path), "w", format="ipod") as out:
                stream = out.add_stream("aac", rate=16_000, layout="mono")
                for at in range(0, 16_000 - 1024, 1024):
                    frame = av.AudioFrame.from_ndarray(_tone()[None, at : at + 1024], format="fltp", layout="mono")
                    frame.sample_rate, frame.pts = 16_000, at
                    out.mux(stream.encode(frame))
                out.mux(stream.encode(None))
        else:
            form = {".ogg": ("OGG", "VORBIS"), ".opus": ("OGG", "OPUS"), ".mp3": ("MP3", "MPEG_LAYER_III"), ".flac": ("FLAC", "PCM_16"), ".wav": ("WAV", "PCM_16")}[kind]
            soundfile.write(path, _tone(), 16_000, format=form[0], subtype=form[1])
        return path.read_bytes()


# ---------------------------------------------------------------- WAV (RIFF: id, length, data, a pad byte to an even length)

Chunks = tuple[tuple[bytes, bytes], ...]


def wav(*chunks: tuple[bytes, bytes], before: bool = False, after: bytes = b"") -> bytes:
    made = io.BytesIO()
    with wave.open(made, "wb") as sound:
        sound.setparams((1, 2, 8000, 0, "NONE", ""))
        sound.writeframes(bytes(1600))
    extra = b"".join(kind + struct.pack("<I", len(data)) + data + b"\0" * (len(data) & 1) for kind, data in chunks)
    body = b"WAVE" + (extra + made.getvalue()[12:] if before else made.getvalue()[12:] + extra) + after
    return b"RIFF" + struct.pack("<I", len(body)) + body


def _listed(kind: bytes, data: bytes, of: bytes = b"INFO") -> tuple[bytes, bytes]:
    return b"LIST", of + kind + struct.pack("<I", len(data)) + data + b"\0" * (len(data) & 1)


def _wav(make: Callable[[str], tuple[bytes, bytes]], spellings: tuple[str, ...] = UNICODE, before: bool = False) -> Place:
    return Place(spellings, written(".wav", lambda t: wav(make(t), before=before)))


def _bext(at: int, text: str) -> tuple[bytes, bytes]:
    """EBU Tech 3285: description 256, originator 32, reference 32, … 602 bytes, then the coding history."""
    return b"bext", (bytes(at) + text.encode()).ljust(602, b"\0") + b"A=PCM"


# ---------------------------------------------------------------- ID3 (id3.org, v2.3.0, v2.4.0, v2.2.0)


def _syncsafe(n: int) -> bytes:
    return bytes(n >> shift & 0x7F for shift in (21, 14, 7, 0))


def frame(kind: bytes, body: bytes, version: int = 3) -> bytes:
    if version == 2:
        return kind + len(body).to_bytes(3, "big") + body
    return kind + (struct.pack(">I", len(body)) if version == 3 else _syncsafe(len(body))) + b"\0\0" + body


def id3(*frames: bytes, version: int = 3, padding: bytes = b"") -> bytes:
    body = b"".join(frames) + padding
    return b"ID3" + bytes([version, 0, 0]) + _syncsafe(len(body)) + body


def u16(text: str) -> bytes:
    return text.encode("utf-16")


def _mp3(make: Callable[[str], bytes], spellings: tuple[str, ...] = UNICODE) -> Place:
    """`make` gives a frame of ID3v2.3."""
    return Place(spellings, written(".mp3", lambda t: id3(make(t)) + plain(".mp3")))


def _mp3_bytes(make: Callable[[str], bytes], spellings: tuple[str, ...] = UNICODE) -> Place:
    return Place(spellings, written(".mp3", make))


TEXT_FRAMES = (b"TIT1", b"TIT2", b"TIT3", b"TALB", b"TPE1", b"TPE2", b"TPE3", b"TPE4", b"TCOM", b"TEXT", b"TCOP", b"TENC", b"TPUB", b"TOWN", b"TSSE", b"TCON", b"TOPE", b"TOLY", b"TRSN", b"TOFN")


def _picture(text: str) -> bytes:
    return b"\1image/png\0\x03" + u16(text) + b"\0\0" + png()


def _ape(text: str, head: bool = False) -> bytes:
    """APEv2 (common practice): items of length, flags, key, zero, value; the footer's size leaves out the head."""
    value = text.encode()
    items = struct.pack("<II", len(value), 0) + b"Artist\0" + value
    foot = b"APETAGEX" + struct.pack("<IIII", 2000, len(items) + 32, 1, 0x8000_0000 if head else 0) + bytes(8)
    top = b"APETAGEX" + struct.pack("<IIII", 2000, len(items) + 32, 1, 0xA000_0000) + bytes(8)
    return (top if head else b"") + items + foot


def _id3v1(field: int, text: str) -> bytes:
    """Title 30, artist 30, album 30, year 4, comment 30, genre 1."""
    made = bytearray(b"TAG" + bytes(125))
    made[field : field + len(text.encode("latin-1"))] = text.encode("latin-1")
    return bytes(made)[:128]


PLACES[".wav"] = {
    **{
        f"RIFF INFO {key}": _wav(lambda t, key=key: _listed(key.encode(), t.encode()))
        for key in ("IART", "INAM", "ICMT", "ICOP", "IENG", "ISFT", "ISBJ", "IKEY", "ITCH", "ISRC", "ICMS", "IPRD")
    },
    "RIFF INFO before the sound": _wav(lambda t: _listed(b"IART", t.encode()), before=True),
    "RIFF INFO in Latin-1": _wav(lambda t: _listed(b"IART", t.encode("latin-1")), LATIN),
    "bext description": _wav(lambda t: _bext(0, t)),
    "bext originator": _wav(lambda t: _bext(256, t)),
    "bext reference": _wav(lambda t: _bext(288, t)),
    "bext reserved": _wav(lambda t: _bext(420, t)),
    "bext coding history": _wav(lambda t: (b"bext", bytes(602) + b"A=PCM,T=" + t.encode() + b"\r\n")),
    "iXML": _wav(lambda t: (b"iXML", f"<BWFXML><NOTE>{t}</NOTE></BWFXML>".encode())),
    "iXML in UTF-16": _wav(lambda t: (b"iXML", u16(f"<BWFXML><NOTE>{t}</NOTE></BWFXML>"))),
    "axml": _wav(lambda t: (b"axml", f"<dc>{t}</dc>".encode())),
    "XMP": _wav(lambda t: (b"_PMX", f"<x>{t}</x>".encode())),
    "cart": _wav(lambda t: (b"cart", b"0101 " + t.encode())),
    "ID3 in UTF-16": _wav(lambda t: (b"id3 ", id3(frame(b"TPE1", b"\1" + u16(t))))),
    "ID3 comment": _wav(lambda t: (b"ID3 ", id3(frame(b"COMM", b"\1eng" + u16("x") + b"\0\0" + u16(t))))),
    "padding": _wav(lambda t: (b"JUNK", bytes(9) + t.encode())),
    "filler": _wav(lambda t: (b"FLLR", t.encode())),
    "label of a cue": _wav(lambda t: _listed(b"labl", b"\1\0\0\0" + t.encode(), b"adtl")),
    "note of a cue": _wav(lambda t: _listed(b"note", b"\1\0\0\0" + t.encode(), b"adtl")),
    "text of a cue": _wav(lambda t: _listed(b"ltxt", bytes(20) + t.encode(), b"adtl")),
    "DISP": _wav(lambda t: (b"DISP", b"\1\0\0\0" + t.encode())),
    "behind the last chunk": Place(UNICODE, written(".wav", lambda t: wav(after=t.encode()))),
}  # fmt: skip

_CHAPTER = b"ch1\0" + struct.pack(">IIII", 0, 500, 0xFFFFFFFF, 0xFFFFFFFF)
PLACES[".mp3"] = {
    **{kind.decode(): _mp3(lambda t, kind=kind: frame(kind, b"\1" + u16(t))) for kind in TEXT_FRAMES},
    "in Latin-1": _mp3(lambda t: frame(b"TIT2", b"\0" + t.encode("latin-1")), LATIN),
    "in UTF-8 (2.4)": _mp3_bytes(lambda t: id3(frame(b"TIT2", b"\3" + t.encode(), 4), version=4) + plain(".mp3")),
    "in UTF-16 without a mark (2.4)": _mp3_bytes(lambda t: id3(frame(b"TIT2", b"\2" + t.encode("utf-16-be"), 4), version=4) + plain(".mp3")),
    "ID3v2.2": _mp3_bytes(lambda t: id3(frame(b"TP1", b"\1" + u16(t), 2), version=2) + plain(".mp3")),
    "comment": _mp3(lambda t: frame(b"COMM", b"\1eng" + u16("x") + b"\0\0" + u16(t))),
    "comment's heading": _mp3(lambda t: frame(b"COMM", b"\1eng" + u16(t) + b"\0\0" + u16("x"))),
    "own text": _mp3(lambda t: frame(b"TXXX", b"\1" + u16("x") + b"\0\0" + u16(t))),
    "own text's heading": _mp3(lambda t: frame(b"TXXX", b"\1" + u16(t) + b"\0\0" + u16("x"))),
    "words of a song": _mp3(lambda t: frame(b"USLT", b"\1eng" + u16("x") + b"\0\0" + u16(t))),
    "timed words": _mp3(lambda t: frame(b"SYLT", b"\1eng\2\1" + u16("x") + b"\0\0" + u16(t) + b"\0\0" + bytes(4))),
    "picture's words": _mp3(lambda t: frame(b"APIC", _picture(t))),
    "picture's own text": _mp3(lambda t: frame(b"APIC", b"\0image/png\0\3x\0" + png(chunk(b"iTXt", b"a\0\0\0\0\0" + t.encode())))),
    "link": _mp3(lambda t: frame(b"WOAR", b"https://tarnwick.invalid/" + t.encode("latin-1")), LATIN),
    "own link's heading": _mp3(lambda t: frame(b"WXXX", b"\1" + u16(t) + b"\0\0http://x")),
    "owner of a private frame": _mp3(lambda t: frame(b"PRIV", t.encode() + b"\0x")),
    "private frame": _mp3(lambda t: frame(b"PRIV", b"x\0" + t.encode())),
    "identity": _mp3(lambda t: frame(b"UFID", b"x\0" + t.encode())),
    "people": _mp3(lambda t: frame(b"IPLS", b"\1" + u16("voice") + b"\0\0" + u16(t) + b"\0\0")),
    "terms": _mp3(lambda t: frame(b"USER", b"\1eng" + u16(t))),
    "ownership": _mp3(lambda t: frame(b"OWNE", b"\1EUR1\x0020250101" + u16(t))),
    "packed file's name": _mp3(lambda t: frame(b"GEOB", b"\1text/plain\0" + u16(t) + b"\0\0" + u16("x") + b"\0\0y")),
    "packed file": _mp3(lambda t: frame(b"GEOB", b"\0text/plain\0a\0b\0" + t.encode())),
    "mail of a rating": _mp3(lambda t: frame(b"POPM", t.encode("latin-1") + b"\0\1"), LATIN),
    "title of a chapter": _mp3(lambda t: frame(b"CHAP", _CHAPTER + frame(b"TIT2", b"\1" + u16(t)))),
    "name of a chapter": _mp3(lambda t: frame(b"CHAP", t.encode("latin-1") + _CHAPTER[3:]), LATIN),
    "unknown frame": _mp3(lambda t: frame(b"XABC", t.encode())),
    "padding": _mp3_bytes(lambda t: id3(frame(b"TIT2", b"\0x"), padding=bytes(20) + t.encode() + bytes(20)) + plain(".mp3")),
    "second tag": _mp3_bytes(lambda t: id3(frame(b"TIT2", b"\0x")) + id3(frame(b"TIT2", b"\1" + u16(t))) + plain(".mp3")),
    **{f"ID3v1 {name}": _mp3_bytes(lambda t, at=at: plain(".mp3") + _id3v1(at, t), LATIN) for name, at in (("title", 3), ("artist", 33), ("album", 63), ("comment", 97))},
    "APE": _mp3_bytes(lambda t: plain(".mp3") + _ape(t)),
    "APE with a head": _mp3_bytes(lambda t: plain(".mp3") + _ape(t, head=True)),
    "APE before ID3v1": _mp3_bytes(lambda t: plain(".mp3") + _ape(t) + _id3v1(3, "x")),
    "before the sound": _mp3_bytes(lambda t: t.encode() + plain(".mp3")),
    "behind the sound": _mp3_bytes(lambda t: plain(".mp3") + t.encode()),
}  # fmt: skip

# ---------------------------------------------------------------- M4A (ISO/IEC 14496-12 §4.2; tags: QuickTime file format)


def box(kind: bytes, *inside: bytes) -> bytes:
    body = b"".join(inside)
    return struct.pack(">I", len(body) + 8) + kind + body


def _in_moov(extra: bytes) -> bytes:
    """The plain file, whose moov comes last, with further boxes in it."""
    data = plain(".m4a")
    at = data.index(b"moov") - 4
    size = struct.unpack(">I", data[at : at + 4])[0]
    assert at + size == len(data) and data.index(b"mdat") < at
    return data[:at] + struct.pack(">I", size + len(extra)) + data[at + 4 :] + extra


def _item(key: bytes, body: bytes, form: int = 1) -> bytes:
    handler = box(b"hdlr", bytes(8) + b"mdirappl" + bytes(9))
    data = box(b"data", struct.pack(">II", form, 0), body)
    return box(b"udta", box(b"meta", bytes(4), handler, box(b"ilst", box(key, data))))


def _m4a(make: Callable[[str], bytes], spellings: tuple[str, ...] = UNICODE) -> Place:
    return Place(spellings, written(".m4a", lambda t: _in_moov(make(t))))


def _free(mean: str, name: str, value: str) -> bytes:
    handler = box(b"hdlr", bytes(8) + b"mdirappl" + bytes(9))
    parts = box(b"mean", bytes(4), mean.encode()), box(b"name", bytes(4), name.encode()), box(b"data", struct.pack(">II", 1, 0), value.encode())
    return box(b"udta", box(b"meta", bytes(4), handler, box(b"ilst", box(b"----", *parts))))


ATOMS = (b"\xa9nam", b"\xa9ART", b"\xa9alb", b"\xa9cmt", b"\xa9day", b"\xa9too", b"\xa9wrt", b"\xa9gen", b"\xa9grp", b"\xa9lyr", b"aART", b"cprt", b"desc", b"ldes", b"purd", b"sonm", b"soar", b"catg", b"keyw")
_CHAPTERS = b"\1\0\0\0\0\0\0\0\1" + bytes(8)
PLACES[".m4a"] = {
    **{key.decode("latin-1"): _m4a(lambda t, key=key: _item(key, t.encode())) for key in ATOMS},
    "in UTF-16": _m4a(lambda t: _item(b"\xa9nam", t.encode("utf-16-be"), 2)),
    "cover's own text": _m4a(lambda t: _item(b"covr", png(chunk(b"iTXt", b"a\0\0\0\0\0" + t.encode())), 14)),
    "own tag": _m4a(lambda t: _free("x", "y", t)),
    "own tag's name": _m4a(lambda t: _free("x", t, "y")),
    "own tag's maker": _m4a(lambda t: _free(t, "x", "y")),
    "chapter": _m4a(lambda t: box(b"udta", box(b"chpl", _CHAPTERS, bytes([len(t.encode())]), t.encode()))),
    "title of 3GPP": _m4a(lambda t: box(b"udta", box(b"titl", bytes(6), t.encode() + b"\0"))),
    "title of 3GPP in UTF-16": _m4a(lambda t: box(b"udta", box(b"titl", bytes(6), b"\xfe\xff" + t.encode("utf-16-be")))),
    "plain text of a player": _m4a(lambda t: box(b"udta", box(b"name", t.encode()))),
    "free space": _m4a(lambda t: box(b"free", bytes(30) + t.encode())),
    "unique box": _m4a(lambda t: box(b"uuid", bytes(16), f"<x:xmpmeta>{t}</x:xmpmeta>".encode())),
    "unknown box": _m4a(lambda t: box(b"Xyzw", t.encode())),
    "name of a handler": _m4a(lambda t: box(b"udta", box(b"hdlr", bytes(8) + b"mdir" + bytes(12) + t.encode() + b"\0"))),
    "free space behind": Place(UNICODE, written(".m4a", lambda t: plain(".m4a") + box(b"free", t.encode()))),
    "sound that no table names": Place(UNICODE, written(".m4a", lambda t: plain(".m4a") + box(b"mdat", t.encode()))),
    "behind the last box": Place(("COYLE", "Coyle"), written(".m4a", lambda t: plain(".m4a") + t.encode())),
}  # fmt: skip

# ---------------------------------------------------------------- FLAC (RFC 9639 §8)


def block(kind: int, body: bytes) -> bytes:
    return bytes([kind]) + len(body).to_bytes(3, "big") + body


def flac(*blocks: bytes, after: bytes = b"") -> bytes:
    """The plain file with its first block, these ones, an empty padding, and its sound."""
    data = plain(".flac")
    at, first, last = 4, b"", False
    while not last:
        last, end = bool(data[at] & 0x80), at + 4 + int.from_bytes(data[at + 1 : at + 4], "big")
        if data[at] & 0x7F == 0:
            first = bytes([0]) + data[at + 1 : end]
        at = end
    return b"fLaC" + first + b"".join(blocks) + block(0x80 | 1, bytes(16)) + data[at:] + after


def comments(*pairs: str, vendor: str = "x") -> bytes:
    """RFC 9639 §8.6, as in Vorbis: lengths little-endian."""
    packed = [p.encode() for p in pairs]
    return struct.pack("<I", len(vendor.encode())) + vendor.encode() + struct.pack("<I", len(packed)) + b"".join(struct.pack("<I", len(p)) + p for p in packed)


def picture(text: str = "x", mime: str = "image/png", data: bytes = b"") -> bytes:
    """RFC 9639 §8.8."""
    data = data or png()
    return struct.pack(">II", 3, len(mime.encode())) + mime.encode() + struct.pack(">I", len(text.encode())) + text.encode() + struct.pack(">IIIII", 1, 1, 8, 0, len(data)) + data


def _flac(make: Callable[[str], bytes], spellings: tuple[str, ...] = UNICODE) -> Place:
    return Place(spellings, written(".flac", lambda t: flac(make(t))))


FIELDS = ("TITLE", "ARTIST", "ALBUM", "PERFORMER", "COPYRIGHT", "LICENSE", "ORGANIZATION", "DESCRIPTION", "GENRE", "DATE", "LOCATION", "CONTACT", "ISRC", "COMMENT")
PLACES[".flac"] = {
    **{key: _flac(lambda t, key=key: block(4, comments(f"{key}={t}"))) for key in FIELDS},
    "maker": _flac(lambda t: block(4, comments("TITLE=x", vendor=t))),
    "own field": _flac(lambda t: block(4, comments("TITLE=x", f"SAID BY={t}"))),
    "name of a field": _flac(lambda t: block(4, comments(f"{t}=x")), LATIN[:3]),
    "chapter": _flac(lambda t: block(4, comments("CHAPTER001=00:00:00.000", f"CHAPTER001NAME={t}"))),
    "over two fields": _flac(lambda t: block(4, comments(*(f"ARTIST={w}" for w in t.split()))), LATIN[:3]),
    "picture's words": _flac(lambda t: block(6, picture(t))),
    "picture's kind": _flac(lambda t: block(6, picture(mime=t)), LATIN),
    "picture's own text": _flac(lambda t: block(6, picture(data=png(chunk(b"iTXt", b"a\0\0\0\0\0" + t.encode()))))),
    "picture in a comment": _flac(lambda t: block(4, comments("METADATA_BLOCK_PICTURE=" + base64.b64encode(picture(t)).decode()))),
    "cue sheet": _flac(lambda t: block(5, t.encode().ljust(128, b"\0") + bytes(268) + bytes([1]) + bytes(8) + b"\xaa" + bytes(27))),
    "application": _flac(lambda t: block(2, b"abcd\0" + t.encode())),
    "padding": _flac(lambda t: block(1, bytes(50) + t.encode())),
    "comments behind a picture": _flac(lambda t: block(6, picture()) + block(4, comments(f"TITLE={t}"))),
}  # fmt: skip

# ---------------------------------------------------------------- Ogg (RFC 3533 §6, RFC 7845 §5.2)


def _crc(data: bytes) -> int:
    """RFC 3533 §6: polynomial 0x04c11db7, no reflection."""
    value = 0
    for byte in data:
        value ^= byte << 24
        for _ in range(8):
            value = (value << 1 ^ 0x04C11DB7 if value & 0x80000000 else value << 1) & 0xFFFFFFFF
    return value


def _page(flags: int, serial: bytes, number: int, *packets: bytes) -> bytes:
    lacing = b"".join(b"\xff" * (len(p) // 255) + bytes([len(p) % 255]) for p in packets)
    assert len(lacing) < 256
    head = b"OggS\0" + bytes([flags]) + bytes(8) + serial + struct.pack("<I", number)
    rest = bytes([len(lacing)]) + lacing + b"".join(packets)
    return head + struct.pack("<I", _crc(head + bytes(4) + rest)) + rest


def _pages(data: bytes) -> list[bytes]:
    found, at = [], 0
    while at < len(data):
        end = at + 27 + data[at + 26] + sum(data[at + 27 : at + 27 + data[at + 26]])
        found.append(data[at:end])
        at = end
    return found


def ogg(kind: str, tags: bytes, between: bytes = b"", behind: bytes = b"", second: bytes = b"") -> bytes:
    """The plain file with this packet of comments."""
    pages = _pages(plain(kind))
    serial = pages[0][14:18]
    if kind == ".opus":
        made, rest = _page(0, serial, 1, tags), pages[2:]
    else:  # Vorbis: the comments share their page with the packet of tables
        lengths = pages[1][27 : 27 + pages[1][26]]
        whole, at = pages[1][27 + pages[1][26] :], 0
        n = 0
        while n < len(lengths):
            at += lengths[n]
            n += 1
            if lengths[n - 1] < 255:
                break
        made, rest = _page(0, serial, 1, tags, whole[at:]), pages[2:]
    return pages[0] + second + between + made + b"".join(rest) + behind


def _ogg(kind: str, make: Callable[[str], bytes], spellings: tuple[str, ...] = UNICODE) -> Place:
    head, tail = (b"OpusTags", b"") if kind == ".opus" else (b"\x03vorbis", b"\x01")
    return Place(spellings, written(kind, lambda t: ogg(kind, head + make(t) + tail)))


def _oggs(kind: str) -> dict[str, Place]:
    head, tail = (b"OpusTags", b"") if kind == ".opus" else (b"\x03vorbis", b"\x01")
    plain_tags = head + comments("TITLE=x") + tail
    other = b"\7\7\7\7"
    return {
        **{key: _ogg(kind, lambda t, key=key: comments(f"{key}={t}")) for key in FIELDS},
        "maker": _ogg(kind, lambda t: comments("TITLE=x", vendor=t)),
        "own field": _ogg(kind, lambda t: comments("TITLE=x", f"SAID BY={t}")),
        "name of a field": _ogg(kind, lambda t: comments(f"{t}=x"), LATIN[:3]),
        "chapter": _ogg(kind, lambda t: comments("CHAPTER001=00:00:00.000", f"CHAPTER001NAME={t}")),
        "over two fields": _ogg(kind, lambda t: comments(*(f"ARTIST={w}" for w in t.split())), LATIN[:3]),
        "lines in a field": _ogg(kind, lambda t: comments(f"LYRICS=x\n{t}\ny")),
        "picture's words": _ogg(kind, lambda t: comments("METADATA_BLOCK_PICTURE=" + base64.b64encode(picture(t)).decode())),
        "picture's own text": _ogg(kind, lambda t: comments("METADATA_BLOCK_PICTURE=" + base64.b64encode(picture(data=png(chunk(b"iTXt", b"a\0\0\0\0\0" + t.encode())))).decode())),
        "padding behind the comments": Place(UNICODE, written(kind, lambda t: ogg(kind, head + comments("TITLE=x") + tail + bytes(9) + t.encode()))),
        "between pages": Place(UNICODE, written(kind, lambda t: ogg(kind, plain_tags, between=t.encode()))),
        "behind the last page": Place(UNICODE, written(kind, lambda t: ogg(kind, plain_tags, behind=t.encode()))),
        "a stream of words": Place(("Coyle",), written(kind, lambda t: ogg(kind, plain_tags, second=_page(2, other, 0, b"kate" + t.encode())))),
    }  # fmt: skip


PLACES[".opus"] = _oggs(".opus")
PLACES[".ogg"] = _oggs(".ogg")
