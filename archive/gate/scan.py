"""The last look at whatever leaves: each finished file is read back and refused where a name to be hidden stands in it.

Reads with other readers than those that wrote. A kind without a reader cannot leave. Findings never repeat a name.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from archive.domain.cleared import ForbiddenName
from archive.gate.scan_documents import read_docx
from archive.gate.scan_flac import read_flac, read_ogg
from archive.gate.scan_m4a import read_m4a
from archive.gate.scan_match import MASK, Matcher
from archive.gate.scan_mp3 import read_mp3
from archive.gate.scan_pdf import read_pdf
from archive.gate.scan_pictures import read_png, read_svg
from archive.gate.scan_piece import Piece, Unreadable
from archive.gate.scan_read import read_captions, read_csv, read_html, read_json, read_text
from archive.gate.scan_wav import read_wav
from archive.gate.scan_zip import Budget, read_zip
from archive.render.captions import DRAFT_LINE, DRAFT_NOTE
from archive.render.docx import OWN_WORDINGS
from archive.render.embedded import face_digests

A_NAME = "a name to be hidden"
MOST_FINDINGS = 50
MOST_LETTERS = 25_000_000  # of all pieces of one file: about three seconds of looking


@dataclass(frozen=True, slots=True)
class Finding:
    """One reason why a file cannot leave: the file, the place in it, and what is wrong there (never the name)."""

    file: str
    where: str
    what: str

    def sentence(self) -> str:
        """The finding as a person reads it."""
        return f"{self.file}, {self.where}: {self.what}"


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def _read_docx(path: Path) -> Iterator[Piece]:
    return read_docx(path, known_parts=face_digests(), digest=_digest)


def _read_zip(path: Path) -> Iterator[Piece]:
    return read_zip(path, lambda ending: _READERS.get(ending) if ending != ".zip" else None, Budget())


_READERS: dict[str, Callable[[Path], Iterator[Piece]]] = {
    ".docx": _read_docx,
    ".pdf": read_pdf,
    ".json": read_json,
    ".vtt": read_captions,
    ".srt": read_captions,
    ".txt": read_text,
    ".html": read_html,
    ".csv": read_csv,
    ".svg": read_svg,
    ".png": read_png,
    ".wav": read_wav,
    ".mp3": read_mp3,
    ".m4a": read_m4a,
    ".flac": read_flac,
    ".opus": read_ogg,
    ".ogg": read_ogg,
    ".zip": _read_zip,
}
KINDS = tuple(sorted(_READERS))


def matcher_for(forbidden: Sequence[ForbiddenName], allowed: Sequence[str] = ()) -> Matcher:
    """The names of one export, prepared once for all its files. `allowed`: exact wordings that may stand although a name
    is in them (attributions of this export, names kept); the sheets' own fixed wording may always stand."""
    return Matcher(forbidden, (*allowed, *OWN_WORDINGS, DRAFT_LINE, DRAFT_NOTE))


def scan_with(matcher: Matcher, path: Path) -> list[Finding]:
    """Reads one finished file back; an empty list means that it may leave.

    A file that cannot be read back, or is of a kind without a reader, is a finding too. Raises OSError only.
    """
    name = path.name
    findings: list[Finding] = []
    if matcher.first_hit(name, any_case=True) is not None:
        name = MASK + path.suffix.lower() if path.suffix.lower() in _READERS else MASK
        findings.append(Finding(name, "the file's own name", A_NAME))
    reader = _READERS.get(path.suffix.lower())
    if reader is None:
        kinds = ", ".join(kind.lstrip(".") for kind in KINDS)
        words = f"a file of this kind cannot be read back, so it cannot leave. Kinds that can: {kinds}."
        return [*findings, Finding(name, "the whole file", words)]
    if path.is_symlink() or not path.is_file():
        return [*findings, Finding(name, "the whole file", "is not a file of its own.")]
    try:
        left = MOST_LETTERS
        for piece in reader(path):
            left -= len(piece.text)
            if left < 0:
                raise Unreadable("the whole file", "holds more text than can be read back in one file.")
            hit = matcher.first_hit(piece.text, any_case=piece.any_case)
            if hit is None:
                continue
            where = f"{piece.where}, {piece.by_line} {hit.line}" if piece.by_line else piece.where
            findings.append(Finding(name, _safe(where, matcher), A_NAME))
            if len(findings) >= MOST_FINDINGS:
                break
    except Unreadable as error:
        findings.append(Finding(name, _safe(error.where, matcher), error.words))
    return findings


def _safe(where: str, matcher: Matcher) -> str:
    """The place, unless it says a name itself (a part of a document may be called anything)."""
    return where if matcher.first_hit(where, any_case=True) is None else "a part whose own name holds one"
