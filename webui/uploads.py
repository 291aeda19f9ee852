"""Requests of this app: small, but for a reading and the pieces of a file; and what is uploaded lies on the archive's own disk until it is taken in."""

from __future__ import annotations

import tempfile
from typing import IO

from flask import Request

from archive.app import PIECE_BYTES
from webui.desk import archive

MOST_READING_BYTES = 60 * 1024 * 1024
MOST_SCRIPT_BYTES = 11 * 1024 * 1024
MOST_PAPER_BYTES = 60 * 1024 * 1024  # more than may be kept, so that whoever sends too much is told how much that is
FOLDER = ".staging"
MOST = {"exhibition.reading": MOST_READING_BYTES, "take_in.piece": PIECE_BYTES, "transcripts.read": MOST_SCRIPT_BYTES, "papers.attach": MOST_PAPER_BYTES}


class UploadRequest(Request):
    """Flask's request with limits of its own for the forms that send sound, or a transcript."""

    @property
    def max_content_length(self) -> int | None:
        """Bytes that the body may have."""
        return MOST.get(self.endpoint or "", super().max_content_length)

    @max_content_length.setter
    def max_content_length(self, value: int | None) -> None:
        Request.max_content_length.fset(self, value)  # type: ignore[attr-defined]

    def _get_file_stream(
        self, total_content_length: int | None, content_type: str | None, filename: str | None = None,
        content_length: int | None = None,
    ) -> IO[bytes]:  # fmt: skip
        folder = archive().folder / FOLDER
        folder.mkdir(exist_ok=True)
        return tempfile.NamedTemporaryFile("w+b", dir=folder)  # closed with the request, and gone then
