"""Captions of a clip: WebVTT (W3C) and SRT, from words that passed the gate. Times are ms of the clip's own clock."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from archive.domain.cleared import ClearedCaption
from archive.domain.values import MIN_WORD_MS
from archive.render.sanitise import one_line

LINE_CHARS = 37  # BBC Subtitle Guidelines: 37 characters a line, 2 lines
LINES = 2
LEAST_MS = 1333  # University of California 2024: about 1.33 s to 6 s
MOST_MS = 6000
WORD_MS = 300  # BBC Subtitle Guidelines: at least 0.3 s a word
GAP_MS = 1000  # BBC Subtitle Guidelines: a gap is at least 1 s, or none
DRAFT_LINE = "DRAFT: listening is not finished"
DRAFT_NOTE = "DRAFT. These words still have to be heard against the sound by a person. Do not publish."

READ_LINE = "Read by {}"

_LONG_PAUSE_MS = 600  # project choice: a pause this long is a good place to change captions
_SENTENCE_END = re.compile(r"[.!?…][\"'”’)\]]*$")
# Words that lean on the next one: a line that ends with one reads badly (common practice, no source).
_LEANING = frozenset(
    ("a", "an", "the", "of", "to", "in", "on", "at", "by", "for", "from", "with", "and", "but", "or", "so", "when", "that")
    + ("my", "his", "her", "our", "their", "your", "its", "i", "he", "she", "we", "they", "you", "it", "not", "no")
)
_CLAUSE_END = re.compile(r"[,;:–—][\"'”’)\]]*$")


@dataclass(frozen=True, slots=True)
class Cue:
    """One caption: start and end in ms (end > start), one or two lines, of which the first `marked` say that it is a draft."""

    start_ms: int
    end_ms: int
    lines: tuple[str, ...]
    marked: int = 0


@dataclass(frozen=True, slots=True)
class _Token:
    text: str
    start_ms: int
    end_ms: int


def _tokens(words: Iterable[tuple[str, int, int]]) -> list[_Token]:
    """Words in order, starts never decreasing; a mask stays one token with its spaces."""
    tokens: list[_Token] = []
    for text, start_ms, end_ms in words:
        clean = one_line(text)
        if not clean:
            continue
        start_ms = max(0, start_ms, tokens[-1].start_ms if tokens else 0)
        tokens.append(_Token(clean, start_ms, max(end_ms, start_ms + MIN_WORD_MS)))
    return tokens


def _wrapped(tokens: Sequence[_Token], lines: int) -> tuple[str, ...] | None:
    """The tokens on at most `lines` lines, as even as they go; None where they do not fit. One token is never broken."""
    whole = " ".join(t.text for t in tokens)
    if len(whole) <= LINE_CHARS or len(tokens) == 1:
        return (whole,)
    if lines < 2:
        return None
    best: tuple[int, tuple[str, ...]] | None = None
    for cut in range(1, len(tokens)):
        upper = " ".join(t.text for t in tokens[:cut])
        lower = " ".join(t.text for t in tokens[cut:])
        too_long = [part for part, n in ((upper, cut), (lower, len(tokens) - cut)) if len(part) > LINE_CHARS and n > 1]
        if too_long:
            continue
        cost = abs(len(upper) - len(lower)) // 2 + _split_cost(tokens[cut - 1].text, tokens[cut].text)
        if best is None or cost < best[0]:
            best = (cost, (upper, lower))
    return best[1] if best else None


def _split_cost(before: str, after: str) -> int:
    """How badly two words part: well after a stop or a comma, badly inside a name or after a word that leans on."""
    if _SENTENCE_END.search(before) or _CLAUSE_END.search(before):
        return -6
    if before.lower() in _LEANING:
        return 6
    return 12 if before[:1].isupper() and after[:1].isupper() else 0


def _break_cost(tokens: Sequence[_Token], last: int) -> float:
    """How bad it is to change captions after `last`."""
    if last + 1 == len(tokens):
        return 0.0
    if _SENTENCE_END.search(tokens[last].text):
        return 0.0
    if tokens[last + 1].start_ms - tokens[last].end_ms >= _LONG_PAUSE_MS:
        return 2.0
    return 10.0 + _split_cost(tokens[last].text, tokens[last + 1].text)


def _cue_cost(tokens: Sequence[_Token], first: int, last: int, most_lines: int) -> tuple[float, tuple[str, ...]] | None:
    """Cost and lines of one caption from `first` to `last`; None where it breaks a limit."""
    lines = _wrapped(tokens[first : last + 1], most_lines)
    natural_ms = tokens[last].end_ms - tokens[first].start_ms
    if lines is None or (natural_ms > MOST_MS and last > first):
        return None
    room_ms = tokens[last + 1].start_ms - tokens[first].start_ms if last + 1 < len(tokens) else natural_ms
    short_ms = max(0, LEAST_MS - room_ms) + max(0, WORD_MS * (last - first + 1) - room_ms) * 0.3
    inner_pauses = sum(
        max(0, tokens[i + 1].start_ms - tokens[i].end_ms - _LONG_PAUSE_MS) for i in range(first, last)
    )
    cost = 6.0 + _break_cost(tokens, last) + short_ms / 40 + inner_pauses / 100
    return cost, lines


def _groups(tokens: Sequence[_Token], first_lines: int) -> list[tuple[int, int, tuple[str, ...]]]:
    """The cheapest cuts into captions (first, last, lines); looks back over one caption at a time, so time is linear."""
    best: list[tuple[float, int, tuple[str, ...]]] = [(0.0, 0, ())]
    for last in range(len(tokens)):
        options: list[tuple[float, int, tuple[str, ...]]] = []
        for first in range(last, -1, -1):
            made = _cue_cost(tokens, first, last, first_lines if first == 0 else LINES)
            if made is None:
                break
            options.append((best[first][0] + made[0], first, made[1]))
        best.append(min(options, key=lambda option: option[0]))
    groups: list[tuple[int, int, tuple[str, ...]]] = []
    after = len(tokens)
    while after > 0:
        _, first, lines = best[after]
        groups.append((first, after - 1, lines))
        after = first
    return groups[::-1]


def cues(caption: ClearedCaption, clip_ms: int | None = None) -> list[Cue]:
    """Captions of at most 2 lines of 37 characters and 6 s; ≥ 1.33 s where the sound leaves room.

    `clip_ms`: the clip's length, so that the last caption may stand a little after its last word.
    """
    tokens = _tokens(caption.words)
    if not tokens:
        return []
    made: list[Cue] = []
    mark = _mark(caption)
    groups = _groups(tokens, LINES - 1 if mark else LINES)
    for position, (first, last, lines) in enumerate(groups):
        start_ms = tokens[first].start_ms
        spoken_ms = min(tokens[last].end_ms, start_ms + MOST_MS)
        if position + 1 < len(groups):
            limit_ms = tokens[groups[position + 1][0]].start_ms
        else:
            limit_ms = max(spoken_ms, clip_ms or 0)
        end_ms = _end(start_ms, spoken_ms, limit_ms, last - first + 1, is_last=position + 1 == len(groups))
        if position == 0 and mark:
            made.append(Cue(start_ms, end_ms, (mark, *lines), marked=1))
        else:
            made.append(Cue(start_ms, end_ms, lines))
    return made


def screens(words: Iterable[tuple[str, int, int]]) -> list[Cue]:
    """Words (text, start_ms, end_ms) cut as captions are, each as long as its words last: for a file that is worked on."""
    tokens = _tokens(words)
    return [
        Cue(tokens[first].start_ms, max(t.end_ms for t in tokens[first : last + 1]), lines) for first, last, lines in _groups(tokens, LINES)
    ]


def _mark(caption: ClearedCaption) -> str:
    """What stands above the first caption: that it is a draft, or who reads where that fits on a line."""
    if caption.draft:
        return DRAFT_LINE
    read = READ_LINE.format(one_line(caption.read_by)) if caption.read_by else ""
    return read if len(read) <= LINE_CHARS else ""


def _end(start_ms: int, spoken_ms: int, limit_ms: int, words: int, *, is_last: bool) -> int:
    """When a caption goes: time to read it, never over the next, and no gap shorter than a second."""
    wanted_ms = min(max(spoken_ms, start_ms + LEAST_MS, start_ms + WORD_MS * words), start_ms + MOST_MS)
    if wanted_ms >= limit_ms or (not is_last and limit_ms - wanted_ms < GAP_MS and limit_ms - start_ms <= MOST_MS):
        wanted_ms = limit_ms
    return max(wanted_ms, start_ms + MIN_WORD_MS)


def clock(ms: int, point: str = ".") -> str:
    """`HH:MM:SS.mmm`, always three digits (WebVTT §3.3); SRT has a comma: 3723004 → `01:02:03,004`."""
    seconds, rest = divmod(ms, 1000)
    return f"{seconds // 3600:02d}:{seconds // 60 % 60:02d}:{seconds % 60:02d}{point}{rest:03d}"


def vtt_text(line: str) -> str:
    """WebVTT cue text: `&`, `<` and `>` as escapes, so that no `-->` and no tag can stand in it."""
    return line.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def srt_text(line: str) -> str:
    # SRT has no escapes: look-alikes keep a player from reading a tag or a time line (common practice, no source).
    return line.replace("-->", "→").replace("<", "‹").replace(">", "›")


def webvtt(caption: ClearedCaption, clip_ms: int | None = None) -> bytes:
    """A WebVTT file (UTF-8, LF). A named speaker stands in the voice tag of each cue."""
    speaker = vtt_text(one_line(caption.speaker))
    if caption.read_by:  # the voice is the reader's; whose words they are stands beside it
        read = vtt_text(READ_LINE.format(one_line(caption.read_by)))
        speaker = f"{speaker}, {read[0].lower()}{read[1:]}" if speaker else read
    tag = f"<v {speaker}>" if speaker else ""
    inside, outside = (f"<lang {vtt_text(caption.language)}>", "</lang>") if caption.language else ("", "")  # WebVTT §4.2.2, “WebVTT cue language span”
    blocks = ["WEBVTT"]
    if caption.draft:
        blocks.append(f"NOTE {DRAFT_NOTE}")
    if caption.read_by:
        blocks.append(f"NOTE {vtt_text(READ_LINE.format(one_line(caption.read_by)))}. The words are the speaker's, the voice is not.")
    if caption.translated:
        blocks.append(f"NOTE {vtt_text(one_line(caption.translated))}")
    for number, cue in enumerate(cues(caption, clip_ms), start=1):
        mark, words = cue.lines[: cue.marked], cue.lines[cue.marked :]
        text = "\n".join([*mark, tag + inside + "\n".join(map(vtt_text, words)) + outside])
        blocks.append(f"{number}\n{clock(cue.start_ms)} --> {clock(cue.end_ms)}\n{text}")
    return ("\n\n".join(blocks) + "\n").encode("utf-8")


def srt(caption: ClearedCaption, clip_ms: int | None = None) -> bytes:
    """An SRT file (UTF-8 without BOM, LF)."""
    blocks = []
    for number, cue in enumerate(cues(caption, clip_ms), start=1):
        text = "\n".join(srt_text(line) for line in cue.lines)
        blocks.append(f"{number}\n{clock(cue.start_ms, ',')} --> {clock(cue.end_ms, ',')}\n{text}\n")
    return "\n".join(blocks).encode("utf-8")
