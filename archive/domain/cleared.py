"""What may be shown and what may leave. Values only; they can be built nowhere but in gate/.

`_Sealed` refuses construction without the gate's token, so neither a public constructor nor `dataclasses.replace` makes
one; a test forbids their construction and the token outside gate/.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from archive.domain.placenames import PlaceEntry
from archive.domain.soundcheck import Figures, Group, Problem, Verdict, grouped
from archive.errors import Broken


class _Token:
    """The gate's private proof. One instance, imported by gate/ alone."""

    __slots__ = ()


GATE_TOKEN = _Token()


@dataclass(frozen=True, kw_only=True)
class _Sealed:
    token: Any = field(repr=False, compare=False)

    def __post_init__(self) -> None:
        if self.token is not GATE_TOKEN:
            raise Broken("Words and sound can only be let through by the gate.")
        object.__setattr__(self, "token", None)  # a copy made by replace() therefore fails


@dataclass(frozen=True, slots=True)
class PlayStretch:
    """Sound to take from a master: milliseconds of the recording, half-open."""

    start_ms: int
    end_ms: int


@dataclass(frozen=True, kw_only=True)
class ShownWord(_Sealed):
    """One word, or one mask, as this viewer may read it. `doubtful`: the machine was unsure and nobody has heard it.

    `masked`: a name is withheld here, or (`closed`) words that are closed to this viewer. `index`: of the (first) word
    in its utterance; -1 for closed words. `hidden`: this viewer reads it, readers and what leaves do not: "undecided"
    while nobody has decided, "decided" where somebody has.
    """

    text: str
    start_ms: int
    end_ms: int
    doubtful: bool = False
    masked: bool = False
    closed: bool = False
    index: int = -1
    hidden: str = ""


@dataclass(frozen=True, kw_only=True)
class ShownUtterance(_Sealed):
    """One speaker's stretch. `speaker`: as the person wishes to be called for this viewer; "" where unassigned.
    `state`: how far a person has come with it (domain.values.LineState); `verbatim`: a person said that nothing is left out."""

    utterance_id: int
    speaker: str
    speaker_code: str
    start_ms: int
    end_ms: int
    words: tuple[ShownWord, ...]
    closed: bool = False  # the words are not this viewer's to read; the time is shown, nothing else
    state: str = "machine"
    verbatim: bool = False


@dataclass(frozen=True, kw_only=True)
class ShownLine(_Sealed):
    """One utterance as it is typed at: its words with their times (ms), or closed and not to be touched.

    `words`: (text, start, end, marks); marks: "u" unsure, "h" hidden from readers, "" none.
    """

    key: int
    speaker: str
    speaker_code: str
    start_ms: int
    end_ms: int
    state: str
    state_by: str
    verbatim: bool
    overlap: bool
    words: tuple[tuple[str, int, int, str], ...]
    closed: bool = False


@dataclass(frozen=True, kw_only=True)
class ShownDifference(_Sealed):
    """A place where two versions differ: what each of them has there, and when it is said."""

    start_ms: int
    before: str
    after: str
    speaker_before: str
    speaker_after: str


@dataclass(frozen=True, kw_only=True)
class ShownWaiting(_Sealed):
    """A stretch that may name somebody and waits for a person, with the words around it. `person_code`: who may be meant, "" where
    nobody on record."""

    start_ms: int
    end_ms: int
    person_code: str
    around: tuple[ShownWord, ...]


@dataclass(frozen=True, kw_only=True)
class ShownOccurrence(_Sealed):
    """A place where something mis-heard stands, for who may correct it: word `first` to `last` (inclusive) of the line `key`,
    with words around it, what it would become, and what to play (None: not to be heard). `alike`: it only sounds like it."""

    recording: str
    key: int
    first: int
    last: int
    start_ms: int
    end_ms: int
    speaker: str
    before: str
    said: str
    after: str
    becomes: str
    alike: bool
    play: PlayStretch | None


@dataclass(frozen=True, kw_only=True)
class ShownMisheard(_Sealed):
    """Where something that may be a mis-hearing of a place's name stands, with the words around it, and what to play (None: not to be heard)."""

    tag_id: int
    recording: str
    start_ms: int
    end_ms: int
    said: str
    around: tuple[ShownWord, ...]
    play: PlayStretch | None


@dataclass(frozen=True, kw_only=True)
class ShownGazetteer(_Sealed):
    """The places that this viewer may know by name. `left_out`: places and names of places in which somebody's name stands that is
    withheld here."""

    places: tuple[PlaceEntry, ...]
    left_out: int


@dataclass(frozen=True, kw_only=True)
class ClearedGazetteer(ShownGazetteer):
    """The same for whoever is outside: what a file of the gazetteer is made of."""


@dataclass(frozen=True, kw_only=True)
class ShownSound(_Sealed):
    """A recording's sound as this viewer may have it."""

    code: str
    title: str
    duration_ms: int
    playable: tuple[PlayStretch, ...]
    peaks: bytes  # int8 pairs (lowest, highest) per step, zero where the viewer may not hear
    peak_ms: int


@dataclass(frozen=True, kw_only=True)
class ShownRecording(ShownSound):
    """A recording's page as this viewer may read it. Utterances that are not in view have no words, but for marks of what is closed."""

    version: int
    utterances: tuple[ShownUtterance, ...]


@dataclass(frozen=True, kw_only=True)
class ShownSoundCheck(_Sealed):
    """What is wrong with the sound that this viewer may hear. `figures`, `verdict`: None where it was never measured for them."""

    code: str
    title: str
    problems: tuple[Problem, ...]
    figures: Figures | None
    verdict: Verdict | None

    @property
    def groups(self) -> tuple[Group, ...]:
        """The problems as a person reads them."""
        return grouped(self.problems)


@dataclass(frozen=True, kw_only=True)
class ShownMisfit(_Sealed):
    """Where a typed transcript and what our own computer heard do not fit together, as this viewer may read it. `typed`:
    the words were typed and not heard; else heard, and nobody typed them. `words`: "[closed]" where they are closed."""

    typed: bool
    start_ms: int
    end_ms: int
    words: str


@dataclass(frozen=True, kw_only=True)
class ShownTranslation(_Sealed):
    """A translation as this viewer may read it, beside its original (ms). `changed`: the original has other words today than were
    translated. `held_back`: why readers do not see it and it does not leave, in a sentence; "" where they do."""

    code: str
    language: str
    language_name: str
    text: str
    translator: str
    state: str
    state_words: str
    start_ms: int
    end_ms: int
    changed: bool
    held_back: str


@dataclass(frozen=True, kw_only=True)
class ShownOnRecord(_Sealed):
    """What is on record beside a told date that does not agree with it: in words, as EDTF, and where another telling is."""

    words: str
    edtf: str
    recording: str = ""
    start_ms: int = 0
    note: str = ""  # EDTF that may be noted after a quote of these words; "": none is offered


@dataclass(frozen=True, kw_only=True)
class ShownTag(_Sealed):
    """A suggestion or a decision about place, date or theme, with its evidence as this viewer may read it."""

    tag_id: int
    kind: str
    value: str
    state: str
    evidence: str
    rule: str
    start_ms: int
    end_ms: int
    detail: str = ""
    beside: tuple[ShownOnRecord, ...] = ()
    by: str = ""  # who decided, and when; for those who decide
    at: str = ""


@dataclass(frozen=True, kw_only=True)
class ShownEvidence(_Sealed):
    """A suggestion as a person decides it: with the words around it, what to play, and its passage line by line: who speaks, and
    their words as (text, is it evidence). `seen`: a mark of what was shown."""

    tag: ShownTag
    recording: str
    title: str
    before: str
    said: str
    after: str
    play: PlayStretch | None  # None: not to be heard
    passage: PlayStretch | None
    lines: tuple[tuple[str, tuple[tuple[str, bool], ...]], ...]
    seen: str


@dataclass(frozen=True, kw_only=True)
class ShownSnippet(_Sealed):
    """A few words around what was found. `parts`: (text, is_a_match)."""

    parts: tuple[tuple[str, bool], ...]


@dataclass(frozen=True, kw_only=True)
class ShownTwin(_Sealed):
    """The same moment as another microphone recorded it."""

    recording: str
    at_ms: int
    above: bool  # it stands before this hit in the same answer


@dataclass(frozen=True, kw_only=True)
class ShownHit(_Sealed):
    """One answer of Find. `also`: where other microphones have it, as far as this viewer may find that. `state`: of what this viewer
    reads of it, that of the line with least work in it."""

    unit_id: int
    recording: str
    title: str
    interview: str
    start_ms: int
    end_ms: int
    speakers: tuple[str, ...]
    snippet: ShownSnippet
    tags: tuple[ShownTag, ...]
    playable: bool
    usable: tuple[str, ...] = ()  # codes of uses outside the house that its words may be put to today
    usable_voice: tuple[str, ...] = ()  # and its voice
    translated: str = ""  # what was found stands in a translation alone: its language and whose it is, "Polish, by M. Sobel"
    language: str = ""  # of such a translation, as a tag
    also: tuple[ShownTwin, ...] = ()
    state: str = "machine"
    verbatim: bool = False
    play_ms: int = 0  # where what was asked for is said; the start where nothing was


@dataclass(frozen=True, kw_only=True)
class ShownTaught(_Sealed):
    """A word that decisions taught about a theme: said in `here` of the `all_here` passages of its side (confirmed, or rejected where it
    speaks against the theme) and in `there` of `all_there` others. `passages`: recording and time (ms); `off`: not to be learned."""

    spoken: str
    speaks_for: bool
    here: int
    all_here: int
    there: int
    all_there: int
    passages: tuple[tuple[str, int], ...]
    off: bool


@dataclass(frozen=True, kw_only=True)
class ShownGroup(_Sealed):
    """Passages that no theme describes, with the words that they share; `number`: of all of them, of which the first are in `hits`."""

    words: tuple[str, ...]
    number: int
    hits: tuple[ShownHit, ...]


@dataclass(frozen=True, kw_only=True)
class ShownFound(_Sealed):
    """The answer to one question: hits, how many in all, counts beside the facets {facet: ((value, count), ...)}.

    `confirmed`: of places, decades and themes, how many of these passages a person confirmed it for. `order`: how the hits stand.
    `notes`: what of the question could not be read, and what else is to be known about the answer, in sentences.
    """

    hits: tuple[ShownHit, ...]
    total: int
    facets: dict[str, tuple[tuple[str, int], ...]]
    suggestion: str = ""
    confirmed: dict[str, tuple[tuple[str, int], ...]] = field(default_factory=dict)
    order: str = ""
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class ShownNear(_Sealed):
    """Leads: passages that may answer a question in other words than its own, best first. Never complete, and no hits of the question."""

    hits: tuple[ShownHit, ...]


@dataclass(frozen=True, kw_only=True)
class ShownQuote(_Sealed):
    """An excerpt's wording as this viewer may read it, with who speaks."""

    words: str
    speakers: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class ShownPassage(_Sealed):
    """What is said in a stretch that somebody kept, as this viewer may read it. `playable`: what of it they may hear, in order."""

    recording: str
    title: str
    start_ms: int
    end_ms: int
    speakers: tuple[str, ...]
    words: tuple[ShownWord, ...]
    playable: tuple[PlayStretch, ...]
    state: str
    verbatim: bool


@dataclass(frozen=True, kw_only=True)
class ShownCell(_Sealed):
    """What one place and decade have: passages and their time (ms), from how many narrators, how much of it usable for the use that was
    asked. `others`: beside these `people` there are one or two whom this viewer may not tell apart."""

    decade: int
    passages: int
    ms: int
    people: int
    others: bool
    usable: int
    usable_ms: int


@dataclass(frozen=True, kw_only=True)
class ShownConflict(_Sealed):
    """A place to decide at the desk: how it stands, and how a newer hearing has it. `keys`: the lines it stands in. Where anything
    of it is closed to the viewer there are no words."""

    id: int
    start_ms: int
    end_ms: int
    closed: bool
    speaker: str
    keys: tuple[int, ...]
    ours: str
    theirs: str


@dataclass(frozen=True, kw_only=True)
class ShownMention(_Sealed):
    """A stretch that may name or point to somebody, for who decides about it: its words with those around, what to play
    (None: not to be heard), what is on record. `stands`: it may be read today. `seen`: a mark of what was on record when it was shown.
    """

    recording: str
    start_ms: int
    end_ms: int
    person: str  # code of who may be meant; "" where nobody on record
    kind: str
    rule: str
    before: str
    said: str
    after: str
    play: PlayStretch | None
    decision: str
    stands: bool
    instead: str
    how: str
    by: str
    at: str
    seen: str
    also: tuple[str, ...] = ()  # codes of others on record who may be meant there


@dataclass(frozen=True, kw_only=True)
class ShownBeside(_Sealed):
    """Another quote that a visitor would read together with one, as it would leave, and why together."""

    code: str
    why: str
    words: str
    attribution: str


@dataclass(frozen=True, kw_only=True)
class ShownLeaving(_Sealed):
    """A quote as it would leave for its use, for whoever ticks it: `hidden` says in sentences what is masked, unnamed or
    disguised; `pieces` are the clip's own stretches. What stands around it is filled in where a second person decides."""

    words: str
    attribution: str
    hidden: tuple[str, ...]
    how_heard: str  # as_recorded | disguised | read | "": not heard
    pieces: tuple[PlayStretch, ...]
    panel: str = ""
    title: str = ""
    source_line: str = ""
    places: tuple[str, ...] = ()
    dates: tuple[str, ...] = ()
    translation: str = ""  # what it is shown in, or together with
    translation_language: str = ""
    translated: str = ""
    shows: str = "original"
    dated: str = ""  # an editorial note after the words: [1968]
    beside: tuple[ShownBeside, ...] = ()
    more: int = 0  # further quotes that would be read together with it


@dataclass(frozen=True, kw_only=True)
class ClearedQuestion(_Sealed):
    """A quote as it will stand, put to its speaker. `words_number`, `voice_number`: of its questions, 0 where that is not asked; `pieces`:
    what a clip of it plays, ms; `beside`: (words, line under them) of each other quote on its panel, ("", "") of one that may not leave yet."""

    words_number: int
    voice_number: int
    words: str
    attribution: str
    use: str
    panel: str
    shows: str
    translation: str
    translated: str
    dated: str
    recording: str
    pieces: tuple[PlayStretch, ...]
    disguised: bool
    later: bool
    beside: tuple[tuple[str, str], ...]


@dataclass(frozen=True, kw_only=True)
class ClearedLine(_Sealed):
    """What somebody said, with masks; `text` "" where something is left out. `start_ms`: of the recording."""

    start_ms: int
    text: str


@dataclass(frozen=True, kw_only=True)
class ClearedCopy(_Sealed):
    """What one person said in a recording, for themselves, and its sound; nothing of anybody else."""

    recording: str
    recorded_on: date | None
    lines: tuple[ClearedLine, ...]
    clips: tuple[ClearedClip, ...]
    forbidden: tuple[ForbiddenName, ...]
    allowed: tuple[str, ...]

    @property
    def digest(self) -> str:
        """One checksum over all of it, to see whether two rounds of decisions agree."""
        return hashlib.sha256(repr((self.recording, self.recorded_on, self.lines, self.clips, self.forbidden, self.allowed)).encode("utf-8", "surrogatepass")).hexdigest()


@dataclass(frozen=True, kw_only=True)
class ClearedReview(_Sealed):
    """Quotes that are put to one speaker, with what may stand in no part of the paper, and what may although a name is in it."""

    questions: tuple[ClearedQuestion, ...]
    forbidden: tuple[ForbiddenName, ...]
    allowed: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class ClearedQuote(_Sealed):
    """A quote that may leave as words: for outside eyes. No codes, no dates of agreements, no conditions."""

    item: int
    words: str
    attribution: str
    source_line: str
    draft: bool
    use: str
    panel: str = ""
    draft_reason: str = ""  # why it is a draft, for the team's own sheet and page
    language: str = "en"  # of the original, as a tag; "": more than one
    shows: str = "original"  # domain.translating.Shows
    translation: str = ""  # its words, where it is shown in translation
    translation_language: str = ""
    translated: str = ""  # by whom, as it stands beside it
    dated: str = ""  # an editorial note after the words, in brackets: [1968]


@dataclass(frozen=True, kw_only=True)
class ClearedInside(_Sealed):
    """What the team's own sheet says beside a cleared quote. Never for outside eyes. `unnamed`: somebody in it asked not to
    be named; then it has no code of theirs and no agreement, and neither recording nor times, which lead to the person."""

    item: int
    excerpt_code: str
    recording: str
    start_ms: int
    end_ms: int
    speakers: tuple[str, ...]
    agreement_lines: tuple[str, ...]
    conditions: tuple[str, ...]
    masks: int
    recheck_on: date | None
    heard_line: str
    wording_sha256: str
    unnamed: bool = False


@dataclass(frozen=True, kw_only=True)
class ClearedCaption(_Sealed):
    """Caption words of a clip: (text, start_ms, end_ms) on the clip's own clock, masks in place."""

    item: int
    speaker: str
    words: tuple[tuple[str, int, int], ...]
    draft: bool
    read_by: str = ""  # the credit of somebody else who reads the words aloud
    language: str = ""  # of a translation, as a tag: not what is said
    translated: str = ""  # who translated, as it stands beside it


@dataclass(frozen=True, kw_only=True)
class ClearedClip(_Sealed):
    """Sound that may leave. `pieces`: stretches of the recording in order; `mutes`: stretches of it with no energy left."""

    item: int
    master_sha256: str
    extension: str
    channels: tuple[int, ...]  # which channels of the master are heard (empty: all)
    pieces: tuple[PlayStretch, ...]
    mutes: tuple[PlayStretch, ...]
    caption: ClearedCaption  # what is said
    draft: bool
    disguised: bool = False  # the speaker is to be heard only so
    language: str = "en"  # spoken in it, as a BCP 47 tag: for listening back; "": more than one
    voice: str = ""  # who is heard, as a key alone: one disguise for one voice in one export
    track: int = 0  # which sound track of the master, from 0
    shown: tuple[ClearedCaption, ...] = ()  # the captions that are given with it: what is said, a translation, or both
    read_by: str = ""  # the credit of who reads it aloud; then `master_sha256` is the reading, without mutes of its own


@dataclass(frozen=True, kw_only=True)
class ClearedExport(_Sealed):
    """All that one export may give, with the names that no file of it may hold."""

    code: str
    exhibition: str
    use: str
    made_on: date
    quotes: tuple[ClearedQuote, ...]
    insides: tuple[ClearedInside, ...]
    clips: tuple[ClearedClip, ...]
    forbidden: tuple[ForbiddenName, ...] = ()
    allowed: tuple[str, ...] = ()  # attribution lines and names decided to be shown, which the scan lets stand

    @property
    def draft(self) -> bool:
        """True where anything in it lacks a tick that it needs."""
        return any(q.draft for q in self.quotes)


@dataclass(frozen=True, slots=True)
class ForbiddenName:
    """A name the scan must not find. `as_name`: a hit only where written as a name (capitalised), not as a word."""

    text: str
    as_name: bool = False
