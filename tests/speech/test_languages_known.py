"""Which languages the model knows: its own list, and how ours are called in it."""

from __future__ import annotations

from faster_whisper.tokenizer import _LANGUAGE_CODES

from archive.domain.languages import tag
from archive.speech.languages import KNOWN, heard_as


def test_the_list_is_the_engine_s_own() -> None:
    assert frozenset(_LANGUAGE_CODES) == KNOWN


def test_every_language_of_the_model_is_reached_by_its_tag() -> None:
    assert all(heard_as(tag(code)) in KNOWN for code in KNOWN)
    assert heard_as(tag("en-GB")) == "en" and heard_as(tag("nb")) == "no" and heard_as(tag("fil")) == "tl" and heard_as(tag("Mandarin Chinese")) == "zh"


def test_what_it_does_not_know_is_heard_as_nothing() -> None:
    assert heard_as(tag("Silesian")) is None and heard_as("") is None
