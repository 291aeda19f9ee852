"""A transcript as somebody may read it, written out for the team's own use: WebVTT, SRT, plain text, JSON.

The input is what the gate shows (`ShownRecording`): masks and closed stretches are as on the page. Every format can be
read in again (rules/scripts.py), but for what is closed.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass

from archive.domain.cleared import ShownRecording, ShownUtterance
from archive.render.captions import Cue, clock, screens, srt_text, vtt_text
from archive.render.labels import moment
from archive.render.sanitise import one_line
from archive.rules.script_labels import NOT_ASSIGNED

CLOSED = "[closed]"
INSIDE = "For the team only – do not send on."
JSON_FORMAT = 1


@dataclass(frozen=True, slots=True)
class Spoken:
    """One utterance to be written: who speaks (as they are called for whoever reads, or that nobody is assigned; "" where
    it is closed), their code ("" where the reader may not know it), times in ms, words (text, start_ms, end_ms)."""

    speaker: str
    code: str
    start_ms: int
    end_ms: int
    words: tuple[tuple[str, int, int], ...]

    @property
    def text(self) -> str:
        """The words on one line."""
        return " ".join(text for text, _, _ in self.words)


def spoken(shown: ShownRecording) -> Iterator[Spoken]:
    """Every utterance in order; a closed one has its mark and its time alone."""
    for said in shown.utterances:
        words = tuple((text, w.start_ms, w.end_ms) for w in said.words if (text := one_line(w.text)))
        if said.closed or not words:
            yield Spoken("", "", said.start_ms, said.end_ms, ((CLOSED, said.start_ms, said.end_ms),))
        else:
            yield Spoken(_label(said), one_line(said.speaker_code), said.start_ms, said.end_ms, words)


def _label(said: ShownUtterance) -> str:
    return one_line(said.speaker).replace(":", " ") or NOT_ASSIGNED


def heading(shown: ShownRecording) -> str:
    """The recording's code and title."""
    title = one_line(shown.title)
    return f"{shown.code} · {title}" if title and title != shown.code else shown.code


def _screens(shown: ShownRecording) -> list[tuple[Cue, str]]:
    """Captions with who speaks in each, in the order of their starts."""
    found = [(cue, said.speaker) for said in spoken(shown) for cue in screens(said.words)]
    return sorted(found, key=lambda pair: pair[0].start_ms)


def as_vtt(shown: ShownRecording) -> bytes:
    """WebVTT (W3C): a voice tag in each cue, times those of its words. UTF-8, LF."""
    blocks = ["WEBVTT", f"NOTE {vtt_text(heading(shown))}\n{INSIDE}"]
    for number, (cue, speaker) in enumerate(_screens(shown), 1):
        tag = f"<v {vtt_text(speaker)}>" if speaker else ""
        text = "\n".join(map(vtt_text, cue.lines))
        blocks.append(f"{number}\n{clock(cue.start_ms)} --> {clock(cue.end_ms)}\n{tag}{text}")
    return ("\n\n".join(blocks) + "\n").encode("utf-8")


def as_srt(shown: ShownRecording) -> bytes:
    """SRT, who speaks before the words of each caption. UTF-8 without BOM, LF."""
    blocks = []
    for number, (cue, speaker) in enumerate(_screens(shown), 1):
        label = f"{srt_text(speaker)}: " if speaker else ""
        text = "\n".join(map(srt_text, cue.lines))
        blocks.append(f"{number}\n{clock(cue.start_ms, ',')} --> {clock(cue.end_ms, ',')}\n{label}{text}\n")
    return "\n".join(blocks).encode("utf-8")


def as_text(shown: ShownRecording) -> bytes:
    """Plain text: a paragraph an utterance, from and to, who speaks, the words. UTF-8, LF."""
    paragraphs = [f"# {heading(shown)}\n# {INSIDE} Times are hours, minutes and seconds of the recording."]
    for said in spoken(shown):
        label = f"{said.speaker}: " if said.speaker else ""
        paragraphs.append(f"[{moment(said.start_ms)} – {moment(said.end_ms)}] {label}{said.text}")
    return ("\n\n".join(paragraphs) + "\n").encode("utf-8")


def as_json(shown: ShownRecording) -> bytes:
    """Our own JSON (DEVELOPERS.md): utterances with every word's times in ms. UTF-8, one utterance a line."""
    head = {
        "format": JSON_FORMAT, "note": INSIDE, "recording": shown.code, "title": one_line(shown.title),
        "duration_ms": shown.duration_ms, "version": shown.version,
    }  # fmt: skip
    lines = [
        json.dumps(
            {
                "speaker": "" if said.speaker == NOT_ASSIGNED else said.code or said.speaker,
                "called": "" if said.speaker == NOT_ASSIGNED else said.speaker,
                "start_ms": said.start_ms, "end_ms": said.end_ms, "words": [list(word) for word in said.words],
            },
            ensure_ascii=False,
        )
        for said in spoken(shown)
    ]  # fmt: skip
    begun = json.dumps(head, ensure_ascii=False, indent=1).removesuffix("\n}")
    body = ",\n".join(f"  {line}" for line in lines)
    return f'{begun},\n "utterances": [\n{body}\n ]\n}}\n'.encode()
