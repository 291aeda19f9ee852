"""Captions, read back by webvtt-py and by our own checker of the W3C's rules (WebVTT, W3C; limits: CHECKS §4)."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from pathlib import Path

import pytest
import webvtt
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from archive.domain.cleared import GATE_TOKEN, ClearedCaption
from archive.render.captions import (
    DRAFT_LINE,
    LEAST_MS,
    LINE_CHARS,
    MOST_MS,
    clock,
    cues,
    srt,
)
from archive.render.captions import webvtt as vtt_bytes

GOLDEN = Path(__file__).parents[1] / "golden"
TALK = (
    "You could set your clock by that chain. It sang before you saw her, and when [name withheld] stopped the engine in "
    "seventy-four the whole of Lower Quay went out to look at the quiet. We stood there. Nobody said a word, and then "
    "somebody’s baby laughed."
)
_TIME = r"(?:(\d{2,}):)?([0-5]\d):([0-5]\d)\.(\d{3})"


def vtt_cues(data: bytes) -> list[tuple[int, int, str]]:
    """Our own reader, after "WebVTT file structure" (W3C WebVTT §4.1): raises AssertionError where a rule is broken."""
    text = data.decode("utf-8")
    blocks = re.split(r"\n\n+", text.rstrip("\n"))
    assert re.fullmatch(r"WEBVTT(?:[ \t].*)?", blocks[0]), "signature, then an empty line"
    found: list[tuple[int, int, str]] = []
    for block in blocks[1:]:
        if block.startswith("NOTE"):
            assert "-->" not in block
            continue
        lines = block.split("\n")
        if "-->" not in lines[0]:
            lines = lines[1:]  # cue identifier
        match = re.fullmatch(rf"{_TIME} --> {_TIME}", lines[0])
        assert match, lines[0]
        h1, m1, s1, f1, h2, m2, s2, f2 = (int(g or 0) for g in match.groups())
        start, end = ((h1 * 60 + m1) * 60 + s1) * 1000 + f1, ((h2 * 60 + m2) * 60 + s2) * 1000 + f2
        assert end > start, "end after start"
        assert not found or start >= found[-1][0], "starts never decrease"
        payload = "\n".join(lines[1:])
        assert "-->" not in payload
        bare = re.sub(r"^<v [^<>\n]+>", "", payload, flags=re.M)
        assert "<" not in bare and not re.search(r"&(?!amp;|lt;|gt;)", bare), "& and < only as escapes"
        found.append((start, end, bare))
    return found


def test_clock_always_has_three_digits() -> None:
    assert clock(3_723_004, ",") == "01:02:03,004"  # CHECKS §4: 3723.004 s
    assert clock(3_723_004) == "01:02:03.004"
    assert clock(0) == "00:00:00.000"
    assert clock(100 * 3_600_000) == "100:00:00.000"  # W3C: two or more digits of hours


def test_cues_keep_to_the_limits(make_caption: Callable[..., ClearedCaption]) -> None:
    caption = make_caption(TALK, pause_after={7: 900})
    made = cues(caption)
    for cue in made:
        assert 1 <= len(cue.lines) <= 2  # BBC Subtitle Guidelines
        assert all(len(line) <= LINE_CHARS == 37 for line in cue.lines)
        assert cue.end_ms - cue.start_ms <= MOST_MS == 6000  # University of California 2024
    assert all(cue.end_ms - cue.start_ms >= LEAST_MS for cue in made)  # 1.33 s: this talk leaves room for it
    for before, after in zip(made, made[1:], strict=False):
        assert before.end_ms <= after.start_ms
    assert " ".join(line for cue in made for line in cue.lines) == TALK  # every word, once, in order


def test_captions_change_at_the_end_of_sentences(make_caption: Callable[..., ClearedCaption]) -> None:
    made = cues(
        make_caption("We stood on the slip and we waited for her. Nobody came across the river that morning.", word_ms=350)
    )
    assert [" ".join(cue.lines) for cue in made] == [
        "We stood on the slip and we waited for her.",
        "Nobody came across the river that morning.",
    ]


def test_a_name_of_two_words_stays_on_one_line(make_caption: Callable[..., ClearedCaption]) -> None:
    (cue,) = cues(make_caption("and the whole of Lower Quay went out to look", word_ms=200))
    assert any("Lower Quay" in line for line in cue.lines)


def test_a_mask_is_never_split_over_lines_or_cues(make_caption: Callable[..., ClearedCaption]) -> None:
    for before in range(0, 40):
        made = cues(make_caption(" ".join(["ab"] * before + ["[name withheld]"] + ["cd"] * 9)))
        assert sum(line.count("[name withheld]") for cue in made for line in cue.lines) == 1


def test_reading_back_with_webvtt_py(make_caption: Callable[..., ClearedCaption]) -> None:
    caption = make_caption("Bread & <salt> --> river, said Irena's neighbour.", speaker="Ruta & Co")
    data = vtt_bytes(caption)
    read = list(webvtt.from_buffer(io.BytesIO(data)))  # reference library webvtt-py
    mine = vtt_cues(data)
    assert [(round(c.start_in_seconds), round(c.end_in_seconds)) for c in read] == [
        (start // 1000, end // 1000) for start, end, _ in mine
    ]
    assert " ".join(text for _, _, text in mine).replace("\n", " ") == (
        "Bread &amp; &lt;salt&gt; --&gt; river, said Irena's neighbour."
    )
    assert b"<v Ruta &amp; Co>" in data


def test_srt_read_back_with_webvtt_py(make_caption: Callable[..., ClearedCaption], tmp_path: Path) -> None:
    caption = make_caption(TALK)
    path = tmp_path / "clip.srt"
    path.write_bytes(srt(caption))
    read = list(webvtt.from_srt(str(path)))
    assert [(c.start, c.end) for c in read] == [(clock(c.start_ms), clock(c.end_ms)) for c in cues(caption)]
    assert " ".join(c.text for c in read).replace("\n", " ") == TALK
    assert b"\xef\xbb\xbf" not in path.read_bytes()


def test_srt_holds_no_second_time_line(make_caption: Callable[..., ClearedCaption]) -> None:
    text = srt(make_caption("look 00:00:01,000 --> 00:00:02,000 <i>there</i>")).decode("utf-8")
    assert text.count("-->") == text.count(" --> ") == len(re.findall(r"^\d+$", text, re.M))
    assert "<i>" not in text


def test_draft_is_marked_in_sight_and_in_a_note(make_caption: Callable[..., ClearedCaption]) -> None:
    caption = make_caption(TALK, draft=True)
    first = cues(caption)[0]
    assert first.lines[0] == DRAFT_LINE and len(first.lines) <= 2
    assert vtt_bytes(caption).decode("utf-8").split("\n\n")[1].startswith("NOTE DRAFT")
    assert DRAFT_LINE in srt(caption).decode("utf-8")
    assert "DRAFT" not in vtt_bytes(make_caption(TALK)).decode("utf-8")


def test_the_last_caption_may_stand_to_the_end_of_the_clip(make_caption: Callable[..., ClearedCaption]) -> None:
    caption = make_caption("Yes.")
    assert cues(caption)[-1].end_ms == 450  # nobody said how long the clip is: not past the last word
    assert cues(caption, clip_ms=1000)[-1].end_ms == 1000
    assert cues(caption, clip_ms=9000)[-1].end_ms == 150 + LEAST_MS


def test_no_words_make_a_valid_empty_file(make_caption: Callable[..., ClearedCaption]) -> None:
    empty = ClearedCaption(token=GATE_TOKEN, item=1, speaker="", words=(), draft=False)
    assert vtt_bytes(empty) == b"WEBVTT\n"
    assert srt(empty) == b""


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    words=st.lists(
        st.tuples(
            st.text(st.characters(exclude_categories=("Cs",)), min_size=1, max_size=50),
            st.integers(0, 20_000),
            st.integers(0, 9_000),
        ),
        max_size=30,
    ),
    draft=st.booleans(),
    clip_ms=st.one_of(st.none(), st.integers(0, 40_000)),
)
def test_any_words_give_a_valid_file(words: list[tuple[str, int, int]], draft: bool, clip_ms: int | None) -> None:
    """Odd letters, times out of order, words of no length: the file keeps the W3C's rules all the same."""
    caption = ClearedCaption(
        token=GATE_TOKEN,
        item=1,
        speaker="Dot",
        words=tuple((text, start, start + length) for text, start, length in words),
        draft=draft,
    )
    mine = vtt_cues(vtt_bytes(caption, clip_ms))
    assert [(c.start_ms, c.end_ms) for c in cues(caption, clip_ms)] == [(start, end) for start, end, _ in mine]
    assert all(end - start <= MOST_MS for start, end, _ in mine)


@pytest.mark.parametrize("name", ["clip.vtt", "clip.srt"])
def test_golden(make_caption: Callable[..., ClearedCaption], name: str) -> None:
    caption = make_caption(TALK, pause_after={7: 900}, draft=True)
    made = vtt_bytes(caption, 20_000) if name.endswith("vtt") else srt(caption, 20_000)
    assert made.decode("utf-8") == (GOLDEN / name).read_text(encoding="utf-8")
