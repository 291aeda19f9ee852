"""Small frozen rows that services hand to the command line and the web: codes, counts, sentences; never raw words.

What people said travels only as `Shown*` and `Cleared*` values, which the gate makes.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Any

from archive.domain.cleared import (
    ShownLeaving,
    ShownQuote,
    ShownRecording,
    ShownSoundCheck,
    ShownTag,
    ShownTranslation,
    ShownWaiting,
)
from archive.domain.editing import Progress
from archive.domain.passages import Stage
from archive.gate.clear import Refusal


@dataclass(frozen=True, slots=True)
class Finding:
    """What became of one file given to ingest. outcome: taken, duplicate or refused."""

    source_name: str
    outcome: str
    words: str
    recording: str = ""
    differs: bool = False  # a checksum that lay beside it is not that of the file


@dataclass(frozen=True, slots=True)
class UndatedRow:
    """A recording of which nobody said when it was made. `says`: its recorder's clock, in words; `doubt`: why that cannot be right."""

    code: str
    duration_ms: int
    file: str
    says: str
    doubt: str


@dataclass(frozen=True, slots=True)
class UploadRow:
    """A file on its way from a browser. state: open, whole, taken, refused; `have`: pieces that are here, of `pieces`."""

    key: str
    name: str
    bytes: int
    pieces: int
    have: int
    state: str
    words: str
    recording: str
    by: str
    touched_at: str
    interview: str
    tracks: tuple[str, ...]  # its sound tracks, where nobody said yet which one is the interview


@dataclass(frozen=True, slots=True)
class RecordingRow:
    """One recording in a list. state: not transcribed, waiting, transcribing, transcribed, not allowed,
    no speech found, paused, failed, stopped, cancelled."""

    code: str
    interview: str
    position: int
    title: str
    recorded_on: date | None
    duration_ms: int
    microphones: str
    participants: tuple[str, ...]  # codes, for roles that may know them
    state: str
    words: int
    unassigned: int  # utterances without a speaker
    far: Progress  # how far the transcript has come
    suggestions: int  # tags waiting for a person
    flags: tuple[str, ...]  # problems of the sound, in words
    has_agreement: bool


@dataclass(frozen=True, slots=True)
class RecordingPage:
    """A recording's page: the shown words and sound, its suggestions, who may be assigned."""

    row: RecordingRow
    shown: ShownRecording
    tags: tuple[ShownTag, ...]
    people: tuple[tuple[str, str], ...]  # (code, role in the interview) of its participants
    closed: tuple[tuple[int, int, str], ...]  # closed stretches: start_ms, end_ms, why (no words)
    sealed_here: bool  # something is closed that a keeper could open by a deliberate act
    notes: tuple[str, ...]  # what a person should know about sound and words
    pause: str = ""  # that the interview is too fresh to be used, in a sentence
    technical: tuple[str, ...] = ()  # codec, loudness, checksums
    transcript_on: date | None = None  # the day our own computer listened, or somebody brought the words
    sound: ShownSoundCheck | None = None  # what is wrong with what this viewer may hear
    translations: tuple[ShownTranslation, ...] = ()
    parts: tuple[Stage, ...] = ()  # of a long transcript
    shape: str = ""  # which utterances these are
    read: range = range(0)  # the parts whose words are here
    names: tuple[ShownWaiting, ...] = ()  # the first ones that wait for whoever may decide
    names_waiting: int = 0
    conflicts: int = 0  # places where a newer hearing differs from what people corrected; for those who decide it


@dataclass(frozen=True, slots=True)
class PassageRow:
    """One passage of a recording, in ms. `utterance_id`: with which utterance it begins; `by`, `at`: who cut it by hand, and when; "" where
    the machine did."""

    number: int
    start_ms: int
    end_ms: int
    utterance_id: int
    by: str
    at: str


@dataclass(frozen=True, slots=True)
class Passages:
    """The passages of a recording; what the newest cut by hand did (split, joined, "" none) and from where on, to undo it."""

    rows: tuple[PassageRow, ...]
    newest: str
    newest_ms: int


@dataclass(frozen=True, slots=True)
class WaitingPage:
    """Some of the names and suggestions of a recording, and how many there are."""

    code: str
    names: tuple[ShownWaiting, ...]
    names_waiting: int
    tags: tuple[ShownTag, ...]
    tags_count: int


@dataclass(frozen=True, slots=True)
class ClosedRow:
    """A closed stretch: its hold's number, where, until when, and why: `rule` is what made our own computer close it."""

    hold: int
    recording: str
    start_ms: int
    end_ms: int
    kind: str
    rule: str
    how: str
    until: date | None  # the last closed day; None: until somebody opens it
    holds: bool
    event: str = ""  # what ends it, in words


@dataclass(frozen=True, slots=True)
class PersonRow:
    """One person in a list, by code; `name` as this viewer may read it."""

    code: str
    name: str
    roles: tuple[str, ...]
    attribution: str
    voice: str
    review: str
    state: str  # "agreement in force", "no agreement", "withdrawn", "paused", …


@dataclass(frozen=True, slots=True)
class UseLine:
    """What one person allowed for one use, in a sentence, today."""

    use: str
    label: str
    words: str
    voice: str
    picture: str


@dataclass(frozen=True, slots=True)
class Allowed:
    """What somebody allowed, use by use, in these interviews: the answers are the same in each. None: no interview yet."""

    interviews: tuple[str, ...]
    lines: tuple[UseLine, ...]


@dataclass(frozen=True, slots=True)
class HoldLine:
    """Something that holds speech back, by the number under which it is lifted. `holds`: today."""

    id: int
    kind: str
    words: str
    holds: bool


@dataclass(frozen=True, slots=True)
class PersonPage:
    """What somebody allowed, in sentences, with the papers behind it and what already went out."""

    row: PersonRow
    born: str
    allowed: tuple[Allowed, ...]  # one entry where all interviews have the same answers
    agreements: tuple[str, ...]
    restraints: tuple[HoldLine, ...]
    interviews: tuple[str, ...]
    left: tuple[str, ...]
    cautions: tuple[str, ...]
    named: bool = False  # somebody names them in a recording


@dataclass(frozen=True, slots=True)
class AgreementRow:
    """One agreement in a list. `interview` "": all interviews of this person. `state`: today, in words."""

    code: str
    person: str
    interview: str
    kind: str
    signed_on: date
    answers: int
    state: str


@dataclass(frozen=True, slots=True)
class AnswerRow:
    """One answer of an agreement. `exhibition` "": any; `until_on`: the last day, inclusive."""

    use: str
    label: str
    way: str
    answer: str
    exhibition: str
    from_on: date | None
    until_on: date | None
    conditions: str


@dataclass(frozen=True, slots=True)
class PaperRow:
    """What an agreement rests on: a scan under its checksum, or (`recording`) where it is spoken. `form`: the code on the paper."""

    sha256: str
    extension: str
    pages: int
    bytes: int
    form: str
    recording: str
    start_ms: int
    end_ms: int
    kept: str  # by whom, and when


@dataclass(frozen=True, slots=True)
class AgreementPage:
    """One agreement with every answer in it, what it rests on, and what it says otherwise than the version before."""

    row: AgreementRow
    answers: tuple[AnswerRow, ...]
    number: int = 1
    form: str = "signed"
    copyright: str = "kept"
    covers: str = ""  # a stretch; "": all of the interview
    before: str = ""  # the code of the version before
    papers: tuple[PaperRow, ...] = ()
    differences: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class FormRow:
    """A form that was printed, and the signed papers that came back with its code."""

    code: str
    kind: str
    person: str
    interview: str
    language: str
    printed: str
    papers: tuple[PaperRow, ...]


@dataclass(frozen=True, slots=True)
class AskRow:
    """Whether one person is to be asked again, why, to whom the letter goes ("": nobody), and what whoever sends it keeps to."""

    person: str
    what: str
    why: str
    to: str
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class AskedAgain:
    """Everybody who takes part, for a new use or a longer run (`through`: its last day)."""

    use: str
    through: date | None
    rows: tuple[AskRow, ...]
    caution: str


@dataclass(frozen=True, slots=True)
class ReasonRow:
    """One reason for a no: whose (a code, "" nobody's in particular), on which agreement or hold it rests, what would change it."""

    words: str
    person: str
    cites: str
    change: str


@dataclass(frozen=True, slots=True)
class MayAnswer:
    """A decision in sentences. `recheck_on`: the next day on which it could change."""

    allowed: bool
    sentences: tuple[str, ...]
    duties: tuple[str, ...]
    recheck_on: date | None
    disguised: bool = False  # a voice in it may be heard only disguised
    around: tuple[str, ...] = ()  # of an excerpt with something hidden: what stands around it, and the question to ask of it
    reasons: tuple[ReasonRow, ...] = ()


@dataclass(frozen=True, slots=True)
class ExcerptRow:
    """A chosen excerpt as the Exhibition page lists it. `shown` is None where this viewer may not read it now."""

    code: str
    recording: str
    start_ms: int
    end_ms: int
    use: str
    panel: str
    note: str
    shown: ShownQuote | None
    words_may: MayAnswer
    voice_may: MayAnswer
    heard: str  # "heard by E-01 on 2 May 2026" or "", for exactly what is shown today
    left: tuple[str, ...]  # exports it went out with
    wording_sha256: str
    set_aside: bool = False
    shown_sha256: str = ""  # what a tick as heard is bound to
    draft_reason: str = ""  # why it would leave as a draft for its own use; "" where it is final
    dated: str = ""  # the date noted after it (EDTF)
    dates_offered: tuple[str, ...] = ()  # dates on record that do not agree with what is told in it
    leaving: ShownLeaving | None = None  # as it would leave; None where this viewer may not read it now
    needs_second: bool = False
    heard_second: str = ""
    heard_before: str = ""  # a tick that something changed since
    heard_around: str = ""  # a second tick since which something came or changed around it
    why_again: str = ""  # why this viewer is asked for a first tick though one stands; "" where they are not
    may_be_second: str = ""  # why this viewer cannot give the second tick; "" where they can
    around: tuple[str, ...] = ()  # what stands around it, for the question whether together they name somebody
    around_sha256: str = ""  # what the answer to it is bound to
    doubts: tuple[str, ...] = ()  # who thought that somebody might be named, of exactly what is shown today
    shows: str = "original"  # original | translation | both
    translation: str = ""  # the code of the one it is shown in
    translations: tuple[tuple[str, str], ...] = ()  # (code, language) of those of exactly these words
    in_later: bool = False  # it stands in its speaker's later wording


@dataclass(frozen=True, slots=True)
class ExportReport:
    """What an export gave. `folder` is empty where nothing was given."""

    code: str
    folder: str
    files: tuple[str, ...]
    taken: tuple[str, ...]
    refused: tuple[Refusal, ...]
    withheld: tuple[str, ...]  # e.g. "EX-3: words only, because …"
    draft: bool
    drafts: tuple[str, ...] = ()  # e.g. "EX-3: a second person has not yet heard …"
    listened: str = ""  # what our own computer's listening back gave, in a sentence; "" where no sound went out
    voices: tuple[str, ...] = ()  # how voices leave that do not leave as recorded, with what that does not protect against


@dataclass(frozen=True, slots=True)
class PlaceRow:
    """Where a file that left stands. `number`: by which it is taken down."""

    number: int
    file: str
    where: str
    up_on: date | None
    down_on: date | None


@dataclass(frozen=True, slots=True)
class LeftRow:
    """One line of the export register. `recall`: (excerpt, why) of what may not leave any more: to be taken down."""

    export: str
    on: str
    use: str
    exhibition: str
    state: str
    excerpts: tuple[str, ...]
    people: tuple[str, ...]
    files: tuple[str, ...]
    recall: tuple[tuple[str, str], ...] = ()
    places: tuple[PlaceRow, ...] = ()


@dataclass(frozen=True, slots=True)
class JobRow:
    """A job with its progress, in its kind's own unit. `left_s`: seconds of work still to do from measured speed, None while unknown.

    `idle`: only while the machine has little else to do.
    """

    id: int
    kind: str
    subject: str
    state: str
    done: int
    total: int
    left_s: int | None
    words: str
    idle: bool

    @property
    def percent(self) -> int:
        """How much of it is done."""
        return 100 * self.done // self.total if self.total else 0


@dataclass(frozen=True, slots=True)
class RecordRow:
    """One audit entry."""

    id: int
    at: str
    actor: str
    action: str
    subject: str
    detail: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class AccountRow:
    """One account of the list. `undertaken`: a signed undertaking of confidentiality is kept; `closed`: people (codes) who are not to be
    opened by it; `assigned`: recordings (codes) that a helper has."""

    name: str
    role: str
    undertaken: bool
    closed: tuple[str, ...]
    assigned: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Account:
    """Somebody who may sign in. `session_key` changes when all their sessions are ended."""

    id: int
    name: str
    role: str
    session_key: str


@dataclass(frozen=True, slots=True)
class Asked:
    """A question put to Find. Every field has an empty default, which narrows nothing; a new one needs nothing else here."""

    words: str = ""
    place: str = ""  # any of its names; what lies within counts
    decade: str = ""  # "1960"
    theme: str = ""
    speaker: str = ""  # person code
    usable_for: str = ""  # code of a use
    way: str = "words"
    usable_on: str = ""  # the day of that use, "2027-05-01"; "" today
    era: str = ""  # what is told of: EDTF, "1960s" or "1959–1962"; any overlap counts
    born: str = ""  # of somebody heard: the same ways of writing
    sex: str = ""  # as it is on record
    role: str = ""  # narrator, interviewer, … as somebody heard took part
    language: str = ""  # a tag
    state: str = ""  # how far the transcript has come: domain.values.LineState
    sound: str = ""  # domain.soundcheck.Fit
    interview: str = ""  # code
    confirmed: bool = False  # only places, dates and themes that a person confirmed
    other_names: bool = False  # a place's name among the words finds its other names too
    order: str = ""  # best | oldest | newest | interview; "": best where words were asked


@dataclass(frozen=True, slots=True)
class CopyRow:
    """A master and its second copy: moments in UTC, None where it did not happen; troubles are "" where the newest reading was whole."""

    recording: str
    bytes: int
    copied_at: str | None
    read_back_at: str | None
    copy_checked_at: str | None
    checked_at: str | None
    trouble: str
    copy_trouble: str


@dataclass(frozen=True, slots=True)
class CopiesPage:
    """The second place and every copy. `folder` "": none is chosen; `away`: why it can't be read now; `said`: who looked that it is another disk."""

    folder: str
    away: str
    other_disk: str
    said: str
    warnings: tuple[str, ...]
    rows: tuple[CopyRow, ...]
    proves: str  # what reading back proves, and what not


@dataclass(frozen=True, slots=True)
class Checked:
    """What reading both copies again gave, in sentences; `read` and `left`: how many files."""

    faults: tuple[str, ...]
    mended: tuple[str, ...]
    notes: tuple[str, ...]
    read: int
    left: int


@dataclass(frozen=True, slots=True)
class PartRow:
    """The start, middle or end of a recording. `heard`: who listened and when; `may_hear`: this viewer may; `opens`: a keeper may open it, and `opened` did just now."""

    part: str
    start_ms: int
    end_ms: int
    heard: str
    may_hear: bool
    opens: bool
    opened: bool


@dataclass(frozen=True, slots=True)
class CardRow:
    """One card as it was taken in. `may`: it may be cleared; `missing`: what stands in the way; `parts`: by recording."""

    number: str
    at: str
    by: str
    files: tuple[str, ...]
    may: bool
    told: str
    missing: tuple[str, ...]
    parts: tuple[tuple[str, tuple[PartRow, ...]], ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NoteRow:
    """Field notes under the code of their sheet. `about`: an interview or a recording, "" where nobody said; `written`: by whom and when."""

    code: str
    about: str
    who: str
    where: str
    when: str
    with_what: str
    in_the_room: str
    remarks: str
    written: str
    cautions: tuple[str, ...]
    closed: bool = False  # something in what it is about is held back: its words are a keeper's


@dataclass(frozen=True, slots=True)
class NotesPage:
    """All field notes, and what has none: interviews and recordings without an interview, by code."""

    rows: tuple[NoteRow, ...]
    without: tuple[str, ...]
