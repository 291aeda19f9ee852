"""Reads a script that somebody brings, whatever it is: told by what is in it, its name helping with tables only. Pure."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from archive.domain.script import Script
from archive.errors import BadInput
from archive.rules.script_captions import is_srt, is_webvtt, read_srt, read_webvtt
from archive.rules.script_docx import read_docx
from archive.rules.script_labels import Labels
from archive.rules.script_lines import read_plain
from archive.rules.script_tables import is_json, is_table, read_json, read_table
from archive.rules.script_text import decoded

_OTHER_PAPERS = ((b"%PDF", "a PDF"), (b"{\\rtf", "an RTF"), (b"\xd0\xcf\x11\xe0", "an old Word file or sheet"))
_NO_WORDS = BadInput("There are no words in this file.", "Look whether it is the right one. Nothing was changed.")


def read_script(data: bytes, known: Collection[str] = (), encoding: str = "", docx_body: bytes | None = None) -> Script:
    """The script in these bytes. `known`: what those who may speak are called; `docx_body`: the XML of a DOCX's main part,
    where the bytes are a package. Raises BadInput (SheetError for tables) for what cannot be read; then nothing is taken."""
    labels = Labels(known)
    told = ""
    if docx_body is not None:
        script = read_docx(docx_body, labels)
    else:
        for begins, name in _OTHER_PAPERS:
            if data.startswith(begins):
                raise BadInput(f"This is {name}, which is not read here.", "Save the transcript as DOCX or plain text and read it again. Nothing was changed.")
        text, told = decoded(data, encoding)
        script = _read(text, labels)
    if not script.lines:
        raise _NO_WORDS
    return replace(script, notes=tuple(n for n in (told, *script.notes) if n))


def _read(text: str, labels: Labels) -> Script:
    if is_webvtt(text):
        return read_webvtt(text, labels)
    if is_json(text):
        return read_json(text)
    if is_table(text):
        return read_table(text)
    return read_srt(text, labels) if is_srt(text) else read_plain(text, labels)
