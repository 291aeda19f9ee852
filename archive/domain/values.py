"""Values that every room shares: stretches, words, the lists of uses, ways, roles and answers. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from archive.errors import BadInput

MIN_WORD_MS = 20  # a zero-length word at a seal's edge would slip through a half-open overlap


@dataclass(frozen=True, order=True, slots=True)
class Stretch:
    """Part of one recording: integers in milliseconds, half-open, end > start. Raises BadInput otherwise."""

    recording_id: int
    start_ms: int
    end_ms: int

    def __post_init__(self) -> None:
        if self.start_ms < 0 or self.end_ms <= self.start_ms:
            raise BadInput("A stretch must end after it starts, and start at 0 or later.")

    def overlaps(self, other: Stretch) -> bool:
        """True where both lie in one recording and share at least a millisecond."""
        return (
            self.recording_id == other.recording_id and self.start_ms < other.end_ms and other.start_ms < self.end_ms
        )

    def covers(self, other: Stretch) -> bool:
        """True where `other` lies wholly inside."""
        return (
            self.recording_id == other.recording_id
            and self.start_ms <= other.start_ms
            and other.end_ms <= self.end_ms
        )

    @property
    def length_ms(self) -> int:
        """Length in milliseconds."""
        return self.end_ms - self.start_ms


@dataclass(frozen=True, slots=True)
class Word:
    """One word as heard: text (with its punctuation), times in ms of the recording, probability 0..1."""

    text: str
    start_ms: int
    end_ms: int
    probability: float = 1.0


class LineState(StrEnum):
    """How far an utterance has come, from the machine's first hearing to its speaker's word, in this order."""

    MACHINE = "machine"
    IN_WORK = "in work"
    CORRECTED = "corrected"
    CHECKED = "checked"  # by a second pair of ears
    AGREED = "agreed"  # with its speaker


class Role(StrEnum):
    """What somebody with an account may do (DESIGN §9)."""

    KEEPER = "keeper"
    EDITOR = "editor"
    READER = "reader"
    HELPER = "helper"  # transcribes or translates what was assigned; nothing else is there


class Way(StrEnum):
    """In which way speech is used."""

    WORDS = "words"
    VOICE = "voice"
    PICTURE = "picture"


class Answer(StrEnum):
    """What somebody answered to one use in one way."""

    YES = "yes"
    NO = "no"
    ASK = "ask"


class Attribution(StrEnum):
    """How somebody wishes to be called."""

    FULL = "full"
    FIRST = "first"
    INITIALS = "initials"
    PSEUDONYM = "pseudonym"
    UNNAMED = "unnamed"


class VoiceWish(StrEnum):
    """How somebody wishes to be heard."""

    AS_RECORDED = "as_recorded"
    DISGUISED = "disguised"
    NOT_HEARD = "not_heard"


class Review(StrEnum):
    """Whether quotes go to their speaker first."""

    NOT_WANTED = "not_wanted"
    WANTED = "wanted"


class Part(StrEnum):
    """What a person did in an interview."""

    NARRATOR = "narrator"
    INTERVIEWER = "interviewer"
    INTERPRETER = "interpreter"
    COMPANION = "companion"


class Decision(StrEnum):
    """What a person decided about a name that is spoken. Undecided means hidden in whatever leaves."""

    UNDECIDED = "undecided"
    HIDE = "hide"
    KEEP = "keep"
    CLEARED = "cleared"
    PUBLIC = "public"

    @property
    def shows(self) -> bool:
        """True where the name may be read and heard."""
        return self in (Decision.KEEP, Decision.CLEARED, Decision.PUBLIC)


class Naming(StrEnum):
    """How words point to somebody: by name, by kin ("the constable's brother"), by where they live or work, by what sets
    them apart ("the only woman on the crew"), by a number, by a year of birth; or they name a place that is hidden like one."""

    NAME = "name"
    KIN = "kin"
    ADDRESS = "address"
    WORK = "work"
    APART = "apart"
    NUMBER = "number"
    BIRTH = "birth"
    PLACE = "place"


class SpellingKind(StrEnum):
    """What a word on the archive's own list of spellings is."""

    PERSON = "person"
    PLACE = "place"
    SHIP = "ship"
    WORK = "work"
    DIALECT = "dialect word"
    OTHER = "other"


class Scan(StrEnum):
    """How the last scan treats a name: always a hit; a hit only where written as a name; never."""

    ALWAYS = "always"
    AS_NAME = "as_name"
    NEVER = "never"


class RestraintKind(StrEnum):
    """Why speech is held back although it was once allowed."""

    WITHDRAWN = "withdrawn"
    PAUSED = "paused"
    OBJECTED = "objected"
    SEALED = "sealed"
    EMBARGO = "embargo"


@dataclass(frozen=True, slots=True)
class Use:
    """One use of the archive's list. `inward`: stays with the team, so quotes need no review by their speaker."""

    code: str
    label: str
    inward: bool = False


# The archive's own list starts with these (DESIGN §5); `use` rows in the database may add to it.
USES: tuple[Use, ...] = (
    Use("machine", "listening by our own computer", inward=True),
    Use("team", "reading and hearing by the team", inward=True),
    Use("reading_room", "reading room", inward=True),
    Use("exhibition", "exhibition"),
    Use("listening_post", "listening post"),
    Use("film", "film"),
    Use("web", "web"),
    Use("print", "print"),
    Use("teaching", "teaching"),
    Use("press", "press"),
    Use("publicity", "publicity"),
    Use("touring", "touring"),
    Use("social_media", "social media"),
    Use("broadcast", "broadcast"),
    Use("translation", "translation"),
    Use("re_voicing", "spoken by an actor (re-voicing)"),
    Use("transfer", "transfer to a library", inward=True),
    Use("training", "training of machines (AI)"),
)


@dataclass(frozen=True, slots=True)
class Viewer:
    """Who is asking. `opened`: a keeper has, on record, opened sealed or withdrawn speech for this one reading."""

    name: str
    role: Role
    opened: bool = False


@dataclass(frozen=True, slots=True)
class PersonDay:
    """Bounds of the 18th birthday, from a birth date that may be only a year. None: not known."""

    adult_from: date | None
    adult_by: date | None
