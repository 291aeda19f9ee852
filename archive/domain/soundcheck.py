"""What is wrong with a recording's sound, what a person can do about it, and whether a listening post could use it. Pure.

All of it is an estimate from levels: echo of the room, distance from the microphone and voices over voices are not measured.
Somebody has to listen. Every limit stands here; no standard for the sound of listening posts was found (CHECKS §2).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from archive.domain.masking import merge

Stretches = Sequence[tuple[int, int]]

EAR_MS = 50  # step of the ear's levels: one byte each, half decibels below full scale, 255 for silence (audio.bands)
_SILENT = 255
# In a room for teaching the voice should lie 15 dB over the noise (from memory: ANSI S12.60, BB93); a post stands in a room
# with noise of its own, so the recording needs more. Project choices:
POST_RATIO_DB = 20.0
READ_RATIO_DB = 10.0
SPOILT_LISTEN = 0.01  # share of the speech that has something wrong in it or right beside it
SPOILT_READ = 0.2
BESIDE_MS = 250
TELEPHONE_HZ = 16_000  # sampled at less than this, a recording has hardly more than a telephone's band (300–3400 Hz, ITU-T G.712)
PAUSE_FROM_SPEECH_MS = 200  # the end of a word fades into the room
LEAST_PAUSE_STEPS = 20  # a second in all; with less, the faintest tenth of everything is taken for the noise
LEAST_SPEECH_MS = 1000
SWAPPED_DB = 6.0  # a side that is this much louder is the one that speaks
SWAPPED_RATIO = 2
SWAPPED_LEAST_MS = 60_000


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of problem: its name, what is said where it comes and goes, and what a person can do."""

    name: str
    in_places: str
    advice: str


KINDS: dict[str, Kind] = {
    "damaged": Kind("damaged", "damaged in places", "Copy the file again from the card if it is still there, or ask for a clean copy. Quote nothing across it."),
    "dropout": Kind("missing sound", "sound missing in places", "Nothing brings it back. Copy the file again from the card if it is still there; else quote from before or after it."),
    "repeated": Kind("written twice", "pieces written twice", "Words stumble here that nobody stumbled over. Copy the file again from the card and compare; else quote from before or after it."),
    "gone": Kind("sound gone", "sound gone for a part", "Whoever spoke then is heard by the other microphone, or not at all. Look whether another recorder ran. Next time: look at the meter now and then."),
    "clipped": Kind("clipped", "clipped in places", "It cannot be mended. Use the words only here, or ask for it to be told again, with the recorder set lower."),
    "wind": Kind("wind or handling", "wind or handling in places", "A low cut takes some of it away, outside Told Here. Else use the words only here. Next time: a wind shield, and the recorder on a stand."),
    "hum_50": Kind("hum, 50 Hz", "hum (50 Hz)", "A narrow filter takes most of it away, outside Told Here. Next time: run on batteries, with cables away from mains leads."),
    "hum_60": Kind("hum, 60 Hz", "hum (60 Hz)", "A narrow filter takes most of it away, outside Told Here. Next time: run on batteries, with cables away from mains leads."),
    "low_level": Kind("too quiet", "too quiet", "Clips are made louder, and the noise under them with it: listen to one. Next time: nearer to the mouth, or the recorder set higher."),
    "silent": Kind("silent", "silent", "Look whether this is the right file, and whether the card has another one of the same time."),
    "dead_channel": Kind("one side silent", "one side silent", "The other side has all there is. Whoever had this microphone is heard faintly, if at all. Next time: look at both meters."),
    "same_channels": Kind("both sides the same", "both sides the same", "Nothing is lost; but who speaks cannot be told by side. If there were two microphones, ask for the original files."),
    "inverted": Kind("opposite phase", "sides in opposite phase", "Here only the first side is heard. Whoever works with the file elsewhere must turn one side round before mixing them."),
    "sides": Kind("sides perhaps swapped", "sides perhaps swapped", "Sound alone cannot tell who is who: listen to one side, and correct left and right if need be."),
    "dc_offset": Kind("constant offset", "constant offset", "Hardly to be heard; it costs some headroom. The recorder or its cable should be looked at."),
    "more_channels": Kind("more than two channels", "more than two channels", "Take the other channels in as files of their own if somebody is heard on them alone."),
}  # fmt: skip
_SPOILS = frozenset({"damaged", "dropout", "repeated", "clipped", "wind"})


class Fit(StrEnum):
    """Whether a listening post could use the sound."""

    POST = "post"
    LISTEN = "listen"
    READ = "read"

    @property
    def words(self) -> str:
        """As it is said to people."""
        return {"post": "fit for a listening post", "listen": "listen first", "read": "for reading only"}[self.value]


@dataclass(frozen=True, slots=True)
class Problem:
    """One finding. Times in ms of the recording; None: throughout."""

    kind: str
    start_ms: int | None
    end_ms: int | None
    words: str

    @property
    def name(self) -> str:
        """What kind of problem, in words."""
        return KINDS[self.kind].name


@dataclass(frozen=True, slots=True)
class Group:
    """Problems of one kind that are said in the same words; `places`: where (ms), none where it holds throughout."""

    kind: str
    name: str
    words: str
    advice: str
    places: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class Figures:
    """Levels of what was looked at: dB below full scale as an ear weighs them (A), None where they cannot be told.

    `from_pauses`: False where there are too few pauses, so that the noise is guessed from the faintest tenth of everything.
    """

    heard_ms: int
    speech_ms: int
    speech_dbfs: float | None
    noise_dbfs: float | None
    from_pauses: bool

    @property
    def speech_share(self) -> float:
        """0 to 1."""
        return self.speech_ms / self.heard_ms if self.heard_ms else 0.0

    @property
    def ratio_db(self) -> float | None:
        """How far the voice stands over the noise, dB; 0 where it does not."""
        if self.speech_dbfs is None or self.noise_dbfs is None:
            return None
        voice = 10 ** (self.speech_dbfs / 10) - 10 ** (self.noise_dbfs / 10)
        return max(0.0, 10 * math.log10(voice) - self.noise_dbfs) if voice > 0 else 0.0

    @property
    def sentences(self) -> tuple[str, ...]:
        """The figures as people read them."""
        said = [f"Somebody speaks in {100 * self.speech_share:.0f} % of it."]
        if self.noise_dbfs is not None:
            how = "between the words" if self.from_pauses else "guessed from the faintest tenth of everything, for want of pauses"
            said.append(f"The noise under it lies {-self.noise_dbfs:.0f} dB below full scale ({how}; A-weighted).")
        if self.ratio_db is not None:
            said.append(f"The voice stands {self.ratio_db:.0f} dB over it.")
        return tuple(said)


@dataclass(frozen=True, slots=True)
class Verdict:
    """An estimate with its reasons in sentences."""

    fit: Fit
    reasons: tuple[str, ...]


def problems_of(flags: Sequence[Sequence[object]], damage: Sequence[Sequence[object]]) -> tuple[Problem, ...]:
    """The measuring pass's findings: flags (code, start_ms, end_ms, words) and damage (start_ms, end_ms, words); what holds
    throughout first, then in time order. A kind that is not known here is left out."""
    rows = [*flags, *(("damaged", *row) for row in damage)]
    found = [Problem(str(c), _ms(s), _ms(e), str(w)) for c, s, e, w in rows if c in KINDS]
    return tuple(sorted(found, key=lambda p: (-1 if p.start_ms is None else p.start_ms, p.end_ms or 0, p.kind)))


def _ms(value: object) -> int | None:
    return value if isinstance(value, int) else None


def grouped(problems: Sequence[Problem]) -> tuple[Group, ...]:
    """Problems as a person reads them: what can be done is said once a kind."""
    places: dict[tuple[str, str], list[tuple[int, int]]] = {}
    for p in problems:
        here = places.setdefault((p.kind, p.words), [])
        if p.start_ms is not None and p.end_ms is not None:
            here.append((p.start_ms, p.end_ms))
    return tuple(Group(k, KINDS[k].name, words, KINDS[k].advice, tuple(p)) for (k, words), p in places.items())


def shared(these: Stretches, those: Stretches) -> list[tuple[int, int]]:
    """What two lists of stretches (each in order, not overlapping) have in common."""
    found = []
    i = j = 0
    while i < len(these) and j < len(those):
        start_ms, end_ms = max(these[i][0], those[j][0]), min(these[i][1], those[j][1])
        if start_ms < end_ms:
            found.append((start_ms, end_ms))
        if these[i][1] <= those[j][1]:
            i += 1
        else:
            j += 1
    return found


def inside(problems: Sequence[Problem], pieces: Stretches) -> tuple[Problem, ...]:
    """What of the problems lies in these pieces (ms, in order): cut at their edges, gone outside; what holds throughout stays."""
    found: list[Problem] = []
    for p in problems:
        if p.start_ms is None or p.end_ms is None:
            found.append(p)
        else:
            found += [Problem(p.kind, s, e, p.words) for s, e in shared([(p.start_ms, p.end_ms)], pieces)]
    return tuple(found)


def figures(ears: Sequence[bytes], speech: Sequence[Stretches], pieces: Stretches) -> Figures:
    """Figures of these pieces (ms, in order) of a recording. `ears`: a track of levels a channel; `speech`: where somebody
    speaks (ms), a list a channel. Two channels count as the louder of them at each step."""
    spoken = merge([s for channel in speech for s in channel])
    near = merge([(max(0, s - PAUSE_FROM_SPEECH_MS), e + PAUSE_FROM_SPEECH_MS) for s, e in spoken])
    heard = shared(pieces, spoken)
    loudest = bytes(map(min, *ears)) if len(ears) > 1 else b"".join(ears)
    voices = _counted(loudest, heard)
    everything = _counted(loudest, pieces)
    around = _counted(loudest, shared(pieces, near))
    pauses = everything - around
    from_pauses = pauses.total() >= LEAST_PAUSE_STEPS
    return Figures(
        heard_ms=sum(e - s for s, e in pieces), speech_ms=sum(e - s for s, e in heard), speech_dbfs=_mean_db(voices),
        noise_dbfs=_faintest(pauses, 0.5) if from_pauses else _faintest(everything, 0.1), from_pauses=from_pauses,
    )  # fmt: skip


def _counted(levels: bytes, pieces: Stretches) -> Counter[int]:
    """level byte → how many steps wholly inside these pieces have it; steps of digital silence are no noise of any room."""
    found: Counter[int] = Counter()
    for start_ms, end_ms in pieces:
        found.update(levels[-(-start_ms // EAR_MS) : end_ms // EAR_MS])
    del found[_SILENT]
    return found


def _mean_db(counted: Counter[int]) -> float | None:
    if not counted:
        return None
    return 10 * math.log10(sum(n * 10 ** (-level / 20) for level, n in counted.items()) / counted.total())


def _faintest(counted: Counter[int], part: float) -> float | None:
    """The level that this part of all steps stays under, dB."""
    left = counted.total() * part
    for level in sorted(counted, reverse=True):
        left -= counted[level]
        if left <= 0:
            return -level / 2
    return None


def judge(found: Figures, problems: Sequence[Problem], speech: Sequence[Stretches], rate_hz: int) -> Verdict:
    """Whether a listening post could use what these figures and problems are of; the reasons for less than that come alone."""
    doubts: list[tuple[Fit, str]] = []
    kinds = {p.kind for p in problems}
    if "silent" in kinds:
        return Verdict(Fit.READ, ("There is no sound in it.",))
    if found.speech_ms < LEAST_SPEECH_MS:
        return Verdict(Fit.LISTEN, ("Our own computer hears hardly any speech in it.",))
    spoilt = _spoilt(problems, speech)
    share = spoilt / max(1, found.speech_ms)
    if share >= SPOILT_LISTEN:
        what = ", ".join(dict.fromkeys(KINDS[p.kind].name for p in problems if p.kind in _SPOILS))
        amount = f"{100 * min(share, 1.0):.0f} % of the speech has something wrong in it or beside it ({what})."
        doubts.append((Fit.READ if share >= SPOILT_READ else Fit.LISTEN, amount))
    ratio = found.ratio_db
    if ratio is None:
        doubts.append((Fit.LISTEN, "How loud the noise under the voice is cannot be told."))
    elif ratio < POST_RATIO_DB:
        far = f"The voice stands only {ratio:.0f} dB over the noise under it; {POST_RATIO_DB:.0f} would do."
        doubts.append((Fit.READ if ratio < READ_RATIO_DB else Fit.LISTEN, far))
    if kinds & {"hum_50", "hum_60"}:
        doubts.append((Fit.LISTEN, "The mains hum under it."))
    if rate_hz < TELEPHONE_HZ:
        doubts.append((Fit.LISTEN, "It sounds like a telephone: nothing high is in it."))
    if not doubts:
        rest = " Keep out of the stretches named." if kinds & _SPOILS else ""
        return Verdict(Fit.POST, (f"The voice stands {ratio:.0f} dB over the noise under it.{rest}",))
    fit = Fit.READ if any(f == Fit.READ for f, _ in doubts) else Fit.LISTEN
    return Verdict(fit, tuple(words for _, words in doubts))


def _spoilt(problems: Sequence[Problem], speech: Sequence[Stretches]) -> int:
    """Milliseconds of speech that lie in a stretch with a problem, or right beside one."""
    wide = [
        (max(0, p.start_ms - BESIDE_MS), p.end_ms + BESIDE_MS)
        for p in problems
        if p.kind in _SPOILS and p.start_ms is not None and p.end_ms is not None
    ]
    spoken = merge([s for channel in speech for s in channel])
    return sum(e - s for s, e in shared(merge(wide), spoken))


def perhaps_swapped(ears: Sequence[bytes], speech: Sequence[Stretches], left_role: str, right_role: str) -> Problem | None:
    """A question, where the side on record as the interviewer's speaks far longer than the narrator's. Sound alone cannot tell
    who is who, so that the answer is a person's; None where there is nothing to ask."""
    if len(ears) != 2 or {left_role, right_role} != {"interviewer", "narrator"}:
        return None
    longest_ms = [0, 0]
    for start_ms, end_ms in merge([s for channel in speech for s in channel]):
        here = slice(start_ms // EAR_MS, end_ms // EAR_MS)
        for left, right in zip(ears[0][here], ears[1][here], strict=False):
            if abs(left - right) >= 2 * SWAPPED_DB:
                longest_ms[left > right] += EAR_MS
    asked, told = longest_ms if left_role == "interviewer" else longest_ms[::-1]
    if asked + told < SWAPPED_LEAST_MS or asked < SWAPPED_RATIO * told:
        return None
    side = "left" if left_role == "interviewer" else "right"
    words = f"The {side} side, on record as the interviewer's, speaks far longer than the narrator's: perhaps the sides are swapped."
    return Problem("sides", None, None, words)


def in_short(problems: Sequence[Problem], places: bool) -> tuple[str, ...]:
    """Each kind of problem once; without `places` only what holds throughout."""
    said = (KINDS[p.kind].in_places for p in problems if places or p.start_ms is None)
    return tuple(dict.fromkeys(said))
