"""The whole job once through, on the invented recordings of sample_media: every step by the same services that people use.

A step that is done is noted in the archive; one that was killed is done again, and none harms by it. The table at the end
is read from the archive alone, so that it is the same whether the run was interrupted or not.
"""

from __future__ import annotations

import csv
import json
import secrets
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from archive.db import audit, facts, people, recordings
from archive.domain.values import Role, Viewer
from archive.errors import NotFound, ScanRefused
from archive.gate import custody
from archive.gate.custody import Errand
from archive.services.accounts import Accounts
from archive.services.consent import Consent
from archive.services.describing import Describing, gazetteer_places
from archive.services.excerpts import Excerpts
from archive.services.exports import Exports
from archive.services.finding import Finding
from archive.services.ingest import Ingest
from archive.services.naming import Naming
from archive.services.people import People
from archive.services.places import Places
from archive.services.recordings import Recordings
from archive.services.rooms import Rooms
from archive.services.rows import Asked, ExcerptRow, LeftRow
from archive.services.scripts import Measured, against, summed
from archive.services.themes import Themes
from archive.services.transcribing import Transcribing

SAMPLES = Path(__file__).resolve().parents[2] / "sample_media"
KEEPER = Viewer("K-01", Role.KEEPER)
EDITOR = Viewer("E-01", Role.EDITOR)
SAID = ("full", "first", "family", "nick")  # kinds of a person's names that are spoken
LEAVER = "N-06"  # withdraws everything at the end
STEPS_DONE, MEASURED, FOUND_BEFORE = "demo_steps_done", "demo_measured", "demo_found_before"  # facts of the archive
SHOWN_KINDS = ("wall-text.docx", "quotes.json", "internal-sheet.docx")
CLIP_KINDS = (".wav", ".vtt", ".srt")
NOT_GIVEN = "Not allowed. The last look at the finished files held it back; export it alone to read what it found."
Tell = Callable[[str], None]


@dataclass
class Result:
    """What came out, as the table at the end shows it."""

    taken: list[str] = field(default_factory=list)
    not_taken: list[str] = field(default_factory=list)
    minutes: float = 0.0
    words: int = 0
    error_rate: float = 0.0
    names_right: float = 0.0
    by_recording: list[str] = field(default_factory=list)
    passages: int = 0
    suggestions: int = 0
    given: list[str] = field(default_factory=list)
    withheld: list[str] = field(default_factory=list)
    refused: list[str] = field(default_factory=list)
    withdrawal: list[str] = field(default_factory=list)
    files: list[str] = field(default_factory=list)
    listened: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Demo:
    """The demo of one archive."""

    rooms: Rooms
    accounts: Accounts
    ingest: Ingest
    transcribing: Transcribing
    places: Places
    describing: Describing
    themes: Themes
    naming: Naming
    people: People
    consent: Consent
    finding: Finding
    recordings: Recordings
    excerpts: Excerpts
    exports: Exports

    def run(self, tell: Tell, work: Callable[[], None]) -> Result:
        """Every step, telling what it does. `work`: works through the jobs. Run again, it goes on or finds all done."""
        if not (SAMPLES / "recordings.csv").is_file():
            raise NotFound("The invented recordings are not here.", "Run the demo from a clone of the project.")
        steps: tuple[Callable[[Tell], None], ...] = (
            self._sheets, self._take, lambda tell: self._transcribe(tell, work), self._decided, self._measure, self._choose,
            self._close, self._export, self._withdraw,
        )  # fmt: skip
        with self.rooms.db.read() as connection:
            done = int(facts.get_fact(connection, STEPS_DONE, "0"))
        if done == len(steps):
            tell("This archive went through the whole job before; nothing is done twice.")
        for number, step in enumerate(steps[done:], done + 1):
            step(tell)
            self._note(STEPS_DONE, str(number))
        return self.table()

    def _note(self, key: str, value: str) -> None:
        with self.rooms.db.write() as connection:
            facts.set_fact(connection, key, value)

    # -- the steps ---------------------------------------------------------------------------------------------
    def _sheets(self, tell: Tell) -> None:
        tell("People, agreements, places, events and themes from their sheets …")
        self._team()
        self.people.read(KEEPER, SAMPLES / "people.csv")
        self.consent.read(KEEPER, SAMPLES / "agreements.csv", SAMPLES / "permissions.csv")
        self.places.read(EDITOR, SAMPLES / "places.csv")
        self.describing.read_events(EDITOR, SAMPLES / "events.csv")
        self.themes.read(EDITOR, SAMPLES / "themes.csv")

    def _team(self) -> None:
        """Accounts of the invented keeper and editor, who listen in heard.csv. Nobody knows their passwords until a keeper gives new ones."""
        there = {account.name for account in self.accounts.list(KEEPER)}
        for viewer in (KEEPER, EDITOR):
            if viewer.name not in there:
                self.accounts.add(KEEPER, viewer.name, viewer.role, secrets.token_urlsafe(24))

    def _take(self, tell: Tell) -> None:
        tell("Taking the recordings in: copied, summed, measured …")
        self.ingest.take(EDITOR, [SAMPLES], progress=lambda f: tell(f"  {f.outcome:9} {f.source_name}"))

    def _transcribe(self, tell: Tell, work: Callable[[], None]) -> None:
        tell("Transcribing with Whisper's base weights, on this machine …")
        self.transcribing.queue(EDITOR)
        work()

    def _decided(self, tell: Tell) -> None:
        tell("Speakers and names, as the invented editor decided them …")
        self.recordings.read_speakers(EDITOR, SAMPLES / "speakers.csv")
        self.naming.read(EDITOR, SAMPLES / "mentions.csv")

    def _measure(self, tell: Tell) -> None:
        """Against the scripts: the outside truth for the word error rate. Kept, since somebody withdraws afterwards."""
        tell("Measured against the scripts …")
        parts: dict[str, Measured] = {}
        words = suggestions = length_ms = 0
        with self.rooms.db.read() as connection:
            names = [text for p in gazetteer_places(connection) for text in (p.name, *p.also)]
            names += [n.text for known in people.names(connection).values() for n in known if n.kind in SAID]
            for row in recordings.everything(connection):
                script = SAMPLES / "scripts" / f"{Path(row.original_name).stem}.csv"
                spoken = custody.take(connection, row.id, Errand.MEASURE, self.rooms.context())
                length_ms += row.duration_ms
                if script.is_file():
                    with open(script, encoding="utf-8", newline="") as stream:
                        said = " ".join(line["words"] for line in csv.DictReader(stream))
                    heard = " ".join(w.text for w in sorted((w for u in spoken.utterances for w in u.words), key=lambda w: w.start_ms))
                    parts[row.code] = against(said, heard, names)
                counted = custody.count(connection, row.id)
                words += counted.words
                suggestions += counted.suggestions
            passages = recordings.count_passages(connection)
        whole = summed(list(parts.values()))
        kept = {
            "minutes": length_ms / 60_000, "words": words, "suggestions": suggestions, "passages": passages,
            "error_rate": whole.rate, "names_right": whole.names_right / whole.names if whole.names else 1.0,
            "by_recording": [f"{code}: {part.rate:.1%} of {part.words} words" for code, part in parts.items()],
        }  # fmt: skip
        self._note(MEASURED, json.dumps(kept))

    def _choose(self, tell: Tell) -> None:
        tell("Quotes chosen, ticked as heard against the sound, and by a second person where somebody is hidden …")
        for choice in self.excerpts.read_heard(EDITOR, SAMPLES / "heard.csv"):
            if choice.words:
                tell(f"  heard.csv, row {choice.row}: {'' if choice.excerpt else 'not chosen. '}{choice.words}")

    def _close(self, tell: Tell) -> None:
        tell("Stretches closed that their speakers asked to close …")
        self.consent.read_closed(KEEPER, SAMPLES / "closed.csv")

    def _export(self, tell: Tell) -> None:
        tell("What may leave, leaves; the last scan reads every file back …")
        given = self._given()
        rows = [row for row in self.excerpts.list(EDITOR) if (row.code, row.use) not in given]
        for use in dict.fromkeys(row.use for row in rows):
            # What was heard leaves apart from what was not: a single draft would mark the whole sheet.
            for final in (True, False):
                codes = [row.code for row in rows if row.use == use and (not row.draft_reason) is final]
                if codes:
                    self._give(codes, use)

    def _give(self, codes: list[str], use: str) -> None:
        """Export together; where the last scan finds a name, one by one, so that the others are not held up by it."""
        try:
            self.exports.make(EDITOR, codes, use)
        except ScanRefused as refused:
            if refused.excerpts:  # it is known which: the others go on together
                left = [code for code in codes if code not in refused.excerpts]
                return self._give(left, use) if left else None
            for code in codes if len(codes) > 1 else []:
                self._give([code], use)

    def _withdraw(self, tell: Tell) -> None:
        tell(f"{LEAVER} withdraws everything …")
        if any(row.code == LEAVER and row.state == "withdrawn" for row in self.people.list(KEEPER)):
            return  # killed before this step was noted
        self._note(FOUND_BEFORE, str(self.finding.ask(EDITOR, Asked(speaker=LEAVER)).total))
        self.consent.withdraw(KEEPER, LEAVER, how="letter, invented for the demo")

    # -- the table ---------------------------------------------------------------------------------------------
    def table(self) -> Result:
        """What came out, from what is on record; nothing is changed."""
        with self.rooms.db.read() as connection:
            found = recordings.first_findings(connection)
            result = Result(**json.loads(facts.get_fact(connection, MEASURED, "{}")))
            before = facts.get_fact(connection, FOUND_BEFORE, "0")
        for finding in found:
            (result.taken if finding.outcome == "taken" else result.not_taken).append(f"{finding.source_name}: {finding.words}")
        register = [left for left in reversed(self.exports.register(EDITOR)) if left.state == "given"]
        given, rows = self._given(), self.excerpts.list(EDITOR)
        for row in rows:
            if (row.code, row.use) not in given:
                why = " ".join(row.words_may.sentences) if not row.words_may.allowed else NOT_GIVEN
                result.refused.append(f"{row.code} for {row.use}: {why}")
        for left in register:
            draft = ", as DRAFT" if any(Path(file).name.startswith("DRAFT-") for file in left.files) else ""
            result.given += [f"{code} for {left.use} in {left.export}{draft}" for code in left.excerpts]
            result.files += _to_open(left)
        with self.rooms.db.read() as connection:
            clips, held = audit.listened_back(connection)
        held = [code for code in held if code not in {code for code, _ in given}]
        result.listened = [f"Clips that our own computer listened to again before they were given: {clips}. That is no proof: a person has to hear them."]
        result.listened += [f"Held back, since something else was heard or found: {', '.join(held)}."] if held else []
        result.withheld = [
            f"{row.code}: words only. {' '.join(row.voice_may.sentences).removeprefix('Not allowed. ')}"
            for row in rows
            if (row.code, row.use) in given and row.words_may.allowed and not row.voice_may.allowed
        ]
        result.withdrawal = self._withdrawal(before, rows, register)
        return result

    def _given(self) -> set[tuple[str, str]]:
        """(excerpt, use) of what was given."""
        return {(code, left.use) for left in self.exports.register(EDITOR) if left.state == "given" for code in left.excerpts}

    def _withdrawal(self, before: str, rows: tuple[ExcerptRow, ...], register: list[LeftRow]) -> list[str]:
        theirs = {row.code for row in self.recordings.list(EDITOR) if LEAVER in row.participants}
        after = self.finding.ask(EDITOR, Asked(speaker=LEAVER)).total
        flagged = [row.code for row in rows if row.recording in theirs and not row.words_may.allowed]
        return [
            f"Passages of {LEAVER} found before: {before}; in the next request: {after}.",
            f"Excerpts that may not leave any more: {', '.join(flagged) or 'none'}.",
            *(f"Already out: {left.export}, {left.on}, for {left.use}: {_counted(left)}" for left in register if LEAVER in left.people),
        ]


def _folder(left: LeftRow) -> Path:
    """The folder an export was given to: that of its files which is not the team's own."""
    return min((Path(file).parent for file in left.files), key=lambda folder: len(folder.parts))


def _to_open(left: LeftRow) -> list[str]:
    """The files of an export worth opening first: wall text, internal sheet, quotes, one clip with its captions."""
    paths = sorted(map(Path, left.files))
    shown = [path for kind in SHOWN_KINDS for path in paths if path.name.endswith(kind)]
    clips = [path for path in paths if path.suffix in CLIP_KINDS]
    shown += [path for path in clips if path.stem == clips[0].stem]
    more = len(paths) - len(shown)
    return [*map(str, shown), *([f"and {more} more in {_folder(left)}"] if more else [])]


def _counted(left: LeftRow) -> str:
    names = [Path(file).name for file in left.files]
    papers = [name for name in names if not name.endswith(CLIP_KINDS)]
    clips = sum(name.endswith(".wav") for name in names)
    return ", ".join([*papers, *([f"{clips} clips with captions" if clips > 1 else "a clip with captions"] if clips else [])])
