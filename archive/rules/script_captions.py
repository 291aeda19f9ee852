"""Reads WebVTT and SRT. WebVTT by the parser that the W3C's recommendation spells out (WebVTT §6), cue settings, styles,
regions and notes passed over; SRT, which has no standard, as leniently as its words allow. Pure."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from archive.domain.script import Line, Script
from archive.rules.script_labels import Labels
from archive.rules.script_text import label_of, words_of
from archive.rules.script_times import CLOCK, clock_ms

_SIGNATURE = "WEBVTT"
_TIMESTAMP = re.compile(r"(?:(\d+):(\d{2}):(\d{2})|(\d{2}):(\d{2}))\.(\d{3})(?!\d)", re.ASCII)
_ARROW = re.compile(r"[ \t\f]*-->[ \t\f]*")
_TAG = re.compile(r"<([^>]*)(?:>|\Z)")
_VOICE = re.compile(r"v(?:\.[^\s]*)?(?:[ \t\n\f]+(.*))?", re.DOTALL)
_SRT_TIMES = re.compile(rf"[^\S\n]*({CLOCK})[^\S\n]*-+>[^\S\n]*({CLOCK})(?:[^\S\n].*)?", re.ASCII)
_SRT_STYLE = re.compile(r"</?[a-zA-Z][^<>]*>|\{\\[^{}]*\}")


@dataclass(frozen=True, slots=True)
class Cue:
    """One WebVTT cue as parsed: times in ms as written (the end may lie before the start), and its text with its tags."""

    start_ms: int
    end_ms: int
    text: str


def is_webvtt(text: str) -> bool:
    """True where the text has WebVTT's signature (§6.1, steps 3 to 5)."""
    return text.startswith(_SIGNATURE) and (len(text) == 6 or text[6] in " \t\n")


def webvtt_cues(text: str) -> list[Cue]:
    """The cues of a WebVTT text with \\n as its line ends, by the recommendation's steps ("WebVTT parser algorithm")."""
    lines = text.replace("\x00", "\ufffd").split("\n")
    if not is_webvtt(text):
        return []
    at, cues = 1, []
    if at < len(lines) and lines[at]:
        at, _ = _block(lines, at, in_header=True)
    while at < len(lines):
        if not lines[at]:
            at += 1
            continue
        at, cue = _block(lines, at, in_header=False)
        if cue is not None:
            cues.append(cue)
    return cues


def _block(lines: Sequence[str], at: int, *, in_header: bool) -> tuple[int, Cue | None]:
    """“Collect a WebVTT block”: where the next one begins, and the cue where this is one."""
    times: tuple[int, int] | None = None
    buffer: list[str] = []
    seen_arrow, count = False, 0
    while at < len(lines):
        line = lines[at]
        count += 1
        if "-->" in line:
            if in_header or not (count == 1 or (count == 2 and not seen_arrow)):
                break
            seen_arrow, times, buffer = True, _timings(line), []
        elif not line:
            at += 1
            break
        else:
            buffer.append(line)
        at += 1
    return at, Cue(*times, "\n".join(buffer)) if times is not None else None


def _timings(line: str) -> tuple[int, int] | None:
    """“Collect WebVTT cue timings”; whatever follows them are settings, of which none can spoil a cue."""
    bare = line.lstrip(" \t\f")
    first = _TIMESTAMP.match(bare)
    arrow = _ARROW.match(bare, first.end()) if first else None
    last = _TIMESTAMP.match(bare, arrow.end()) if arrow else None
    start_ms, end_ms = _ms(first), _ms(last)
    return None if start_ms is None or end_ms is None else (start_ms, end_ms)


def _ms(found: re.Match[str] | None) -> int | None:
    if found is None:
        return None
    hours, minutes, seconds = (found[1], found[2], found[3]) if found[1] else ("0", found[4], found[5])
    if len(hours) > 6 or int(minutes) > 59 or int(seconds) > 59:
        return None
    return (int(hours) * 3600 + int(minutes) * 60 + int(seconds)) * 1000 + int(found[6])


def _parts(cue: Cue) -> Iterator[tuple[str, int | None, str]]:
    """(voice, time inside the cue or None, text) of the pieces between a cue's tags."""
    voice, time_ms, at = "", None, 0
    for tag in _TAG.finditer(cue.text):
        yield voice, time_ms, cue.text[at : tag.start()]
        at, time_ms = tag.end(), None
        stamp = _TIMESTAMP.fullmatch(tag[1].strip())
        spoken = _VOICE.fullmatch(tag[1])
        if stamp is not None:
            time_ms = _ms(stamp)
        elif spoken is not None:
            voice = label_of(html.unescape(spoken[1] or ""))
        elif tag[1].startswith("/v"):
            voice = ""
    yield voice, time_ms, cue.text[at:]


def _lines_of(cue: Cue, place: str) -> list[Line]:
    """The lines of a cue: one for each voice and each time inside it."""
    pieces: list[tuple[str, int | None, str]] = []
    for voice, time_ms, text in _parts(cue):
        later = time_ms is not None and cue.start_ms < time_ms < cue.end_ms
        if pieces and pieces[-1][0] == voice and not later:
            pieces[-1] = (voice, pieces[-1][1], pieces[-1][2] + text)
        elif pieces and not pieces[-1][2].strip():
            pieces[-1] = (voice, time_ms if later else pieces[-1][1], text)
        else:
            pieces.append((voice, time_ms if later else None, text))
    spoken = [(voice, ms, words) for voice, ms, text in pieces if (words := words_of(html.unescape(text)))]
    lines = []
    for n, (voice, ms, words) in enumerate(spoken):
        start_ms = cue.start_ms if n == 0 else ms
        following = spoken[n + 1][1] if n + 1 < len(spoken) else cue.end_ms
        lines.append(Line(words, voice, start_ms, following, place=place))
    return lines


def read_webvtt(text: str, labels: Labels) -> Script:
    """A WebVTT text as a script: voices are its speakers, or a label and a colon before the words."""
    cues = webvtt_cues(text)
    lines = [line for n, cue in enumerate(cues, 1) for line in _lines_of(cue, f"cue {n}")]
    if not any(line.speaker for line in lines):
        lines = labels.taken_off(lines)
    return Script("WebVTT", tuple(lines), captions=True)


def is_srt(text: str) -> bool:
    """True where a line of two times with an arrow stands near the start."""
    return any(_SRT_TIMES.fullmatch(line) for line in text[:4000].split("\n"))


def read_srt(text: str, labels: Labels) -> Script:
    """An SRT text as a script. A label and a colon before the words is their speaker, until another one comes."""
    found: list[tuple[int | None, int | None, list[str]]] = []
    for line in text.split("\n"):
        times = _SRT_TIMES.fullmatch(line)
        if times is not None:
            if found and found[-1][2] and found[-1][2][-1].strip().isdecimal():
                found[-1][2].pop()  # the number that stands above these times
            found.append((clock_ms(times[1]), clock_ms(times[2]), []))
        elif found:
            found[-1][2].append(line)
    lines = [
        Line(words, "", start_ms, end_ms, place=f"caption {n}")
        for n, (start_ms, end_ms, text_lines) in enumerate(found, 1)
        if (words := words_of(_SRT_STYLE.sub("", "\n".join(text_lines))))
    ]
    return Script("SRT", tuple(labels.taken_off(lines, carried=True)), captions=True)
