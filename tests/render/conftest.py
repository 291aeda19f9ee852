"""Cleared values of the invented town, built with the gate's token as only tests and the gate may."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import pytest

from archive.domain.cleared import (
    GATE_TOKEN,
    ClearedCaption,
    ClearedClip,
    ClearedExport,
    ClearedInside,
    ClearedQuote,
    ForbiddenName,
    PlayStretch,
)

LONG = (
    "We never called it Harbour View, not once, not in our house. My mother still wrote Net Row on the envelopes and the "
    "postman still brought them, because he had grown up at number nine himself. […] When the water came it came up "
    "through the floor, not under the door, that is what nobody believes. First the lino lifted, like something "
    "breathing, and then the cupboard walked across the kitchen. [name withheld] carried the two little ones up the Gull "
    "Steps on his back, one after the other, and went down again for the dog."
)


@pytest.fixture
def make_export() -> Callable[..., ClearedExport]:
    """One export with four quotes: short, masked, long, and one full of diacritics. `drafts`: items not yet heard."""

    def make(drafts: tuple[int, ...] = (), times: int = 1) -> ClearedExport:
        texts = [
            ("You didn't cross on the Marigold, you were carried.", "Maud Ellery", "Recorded in Tarnwick, 2025", "Panel 4"),
            (
                "The chain sang before you saw her. […] My father set the clock by it, and when [name withheld] stopped "
                "the engine in seventy-four, the whole of Lower Quay went out to look at the quiet.",
                "A. C.",
                "Recorded in Tarnwick, 2025",
                "Panel 7 · The strike",
            ),
            (LONG, "“Ruta”", "In translation", ""),
            ("Dziękuję, říkala babička, žluťoučký kůň ő ű ș ț.", "Dot", "", ""),
        ] * times
        quotes = tuple(
            ClearedQuote(
                token=GATE_TOKEN,
                item=item,
                words=words,
                attribution=attribution,
                source_line=source,
                draft=item in drafts,
                use="exhibition",
                panel=panel,
            )
            for item, (words, attribution, source, panel) in enumerate(texts, start=1)
        )
        insides = tuple(
            ClearedInside(
                token=GATE_TOKEN,
                item=quote.item,
                excerpt_code=f"E-{quote.item:04d}",
                recording="R-0003",
                start_ms=3_723_004,
                end_ms=3_741_020,
                speakers=("N-01",),
                agreement_lines=("N-01: agreement of 3 May 2025, version 2, signed",),
                conditions=("Show the lent photograph with its credit line.",),
                masks=quote.words.count("[name withheld]"),
                recheck_on=date(2030, 5, 4),
                heard_line="Heard by E-01 on 7 June 2025",
                wording_sha256="ab" * 32,
            )
            for quote in quotes
        )
        clip = ClearedClip(
            token=GATE_TOKEN,
            item=1,
            master_sha256="cd" * 32,
            extension="flac",
            channels=(),
            pieces=(PlayStretch(1000, 5500),),
            mutes=(PlayStretch(2000, 2500),),
            caption=ClearedCaption(token=GATE_TOKEN, item=1, speaker="Maud Ellery", words=(), draft=False),
            draft=False,
        )
        return ClearedExport(
            token=GATE_TOKEN,
            code="X-0007",
            exhibition="Marigold: the last chain ferry",
            use="exhibition",
            made_on=date(2025, 6, 12),
            quotes=quotes,
            insides=insides,
            clips=(clip,),
            forbidden=(ForbiddenName("Lena Marsh"),),
        )

    return make


@pytest.fixture
def make_caption() -> Callable[..., ClearedCaption]:
    """A caption from a line of words (masks keep their spaces), spoken evenly; `pause_after`: word index → ms."""

    def make(
        text: str,
        *,
        word_ms: int = 300,
        gap_ms: int = 40,
        pause_after: dict[int, int] | None = None,
        speaker: str = "Maud Ellery",
        draft: bool = False,
        start_ms: int = 150,
    ) -> ClearedCaption:
        words: list[tuple[str, int, int]] = []
        at = start_ms
        for number, word in enumerate(text.replace("[name withheld]", "[name\u0000withheld]").split(" ")):
            words.append((word.replace("\u0000", " "), at, at + word_ms))
            at += word_ms + gap_ms + (pause_after or {}).get(number, 0)
        return ClearedCaption(token=GATE_TOKEN, item=1, speaker=speaker, words=tuple(words), draft=draft)

    return make
