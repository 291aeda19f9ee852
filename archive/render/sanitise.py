"""Text made safe for documents: no control characters, no lone surrogates, one composition (NFC)."""

from __future__ import annotations

import re
import unicodedata

# XML 1.0 §2.2 "Char": what may not stand in a document at all; python-docx raises on these.
_FORBIDDEN_IN_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x84\x86-\x9f\ud800-\udfff\ufffe\uffff]")
# Invisible direction overrides and joins that could hide or reorder words in print (Unicode TR 9, TR 36).
_INVISIBLE = re.compile("[\u00ad\u200b\u2060\ufeff\u202a-\u202e\u2066-\u2069]")
_SPACES = re.compile(r"[ \t\r\n\u2028\u2029\x85]+")


def printable(text: str) -> str:
    """The text in NFC without control characters, lone surrogates or invisible direction marks; line ends kept."""
    return unicodedata.normalize("NFC", _INVISIBLE.sub("", _FORBIDDEN_IN_XML.sub("", text)))


def one_line(text: str) -> str:
    """As `printable`, with every run of white space made one space and none at the ends."""
    return _SPACES.sub(" ", printable(text)).strip()
