"""The whole job once through, on the invented recordings of sample_media: every step by the same services that people use."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from dataclasses import asdict, dataclass, field
from pathlib import Path

from archive.db import people, recordings
from archive.domain.values import Role, Viewer
from archive.errors import NotFound, ScanRefused
from archive.gate import custody
from archive.gate.custody import Errand
from archive.services.consent import Consent
from archive.services.describing import Describing, gazetteer_places
from archive.services.excerpts import Excerpts
from archive.services.exports import Exports
from archive.services.finding import Finding
from archive.services.ingest import Ingest
from archive.services.naming import Naming
from archive.services.people import People
from archive.services.recordings import Recordings
from archive.services.rooms import Rooms
from archive.services.rows import Asked
from archive.services.scripts import Measured, against, summed
from archive.services.transcribing import Transcribing

SAMPLES = Path(__file__).resolve().parents[2] / "sample_media"
RESULT = "demo-result.json"
KEEPER = Viewer("K-01", Role.KEEPER)
EDITOR = Viewer("E-01", Role.EDITOR)
SAID = ("full", "first", "family", "nick")  # kinds of a person's names that are spoken
LEAVER = "N-06"  # withdraws everything at the end
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


@dataclass(frozen=True, slots=True)
class Demo:
    """The demo of one archive."""

    rooms: Rooms
    ingest: Ingest
    transcribing: Transcribing
    describing: Describing
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
        done = self.rooms.folder / RESULT
        if done.is_file():
            tell("This archive went through the whole job before; nothing is done twice.")
            return Result(**json.loads(done.read_text(encoding="utf-8")))
        result = Result()
        self._sheets(tell)
        self._take(result, tell)
        tell("Transcribing with Whisper's base weights, on this machine …")
        self.transcribing.queue(EDITOR)
        work()
        tell("Speakers, names and closed stretches, as the invented editor decided them …")
        self.recordings.read_speakers(EDITOR, SAMPLES / "speakers.csv")
        self.naming.read(EDITOR, SAMPLES / "mentions.csv")
        self._measure(result)
        chosen = self._choose(tell)
        self.consent.read_closed(KEEPER, SAMPLES / "closed.csv")
        self._export(result, chosen, tell)
        self._withdraw(result, chosen, tell)
        done.write_text(json.dumps(asdict(result), ensure_ascii=False, indent=1), encoding="utf-8")
        return result

    def _sheets(self, tell: Tell) -> None:
        tell("People, agreements, places, events and themes from their sheets …")
        self.people.read(KEEPER, SAMPLES / "people.csv")
        self.consent.read(KEEPER, SAMPLES / "agreements.csv", SAMPLES / "permissions.csv")
        self.describing.read_places(EDITOR, SAMPLES / "places.csv")
        self.describing.read_events(EDITOR, SAMPLES / "events.csv")
        self.describing.read_themes(EDITOR, SAMPLES / "themes.csv")

    def _take(self, result: Result, tell: Tell) -> None:
        tell("Taking the recordings in: copied, summed, measured …")
        for found in self.ingest.take(EDITOR, [SAMPLES], progress=lambda f: tell(f"  {f.outcome:9} {f.source_name}")):
            line = f"{found.source_name}: {found.words}"
            (result.taken if found.outcome == "taken" else result.not_taken).append(line)

    def _measure(self, result: Result) -> None:
        """Against the scripts: the outside truth for the word error rate."""
        parts: list[Measured] = []
        with self.rooms.db.read() as connection:
            names = [text for p in gazetteer_places(connection) for text in (p.name, *p.also)]
            names += [n.text for known in people.names(connection).values() for n in known if n.kind in SAID]
            for row in recordings.everything(connection):
                script = SAMPLES / "scripts" / f"{Path(row.original_name).stem}.csv"
                spoken = custody.take(connection, row.id, Errand.MEASURE, self.rooms.context())
                result.minutes += row.duration_ms / 60_000
                if script.is_file():
                    with open(script, encoding="utf-8", newline="") as stream:
                        said = " ".join(line["words"] for line in csv.DictReader(stream))
                    heard = " ".join(w.text for w in sorted((w for u in spoken.utterances for w in u.words), key=lambda w: w.start_ms))
                    parts.append(against(said, heard, names))
                    result.by_recording.append(f"{row.code}: {parts[-1].rate:.1%} of {parts[-1].words} words")
                counted = custody.count(connection, row.id)
                result.words += counted.words
                result.suggestions += counted.suggestions
            result.passages = recordings.count_passages(connection)
        whole = summed(parts)
        result.error_rate = whole.rate
        result.names_right = whole.names_right / whole.names if whole.names else 1.0

    def _choose(self, tell: Tell) -> list[tuple[str, str]]:
        tell("Quotes chosen, and ticked as heard against the sound …")
        found = self.excerpts.read_heard(EDITOR, SAMPLES / "heard.csv")
        for choice in found:
            if choice.words:
                tell(f"  heard.csv, row {choice.row}: not chosen. {choice.words}")
        return [(c.excerpt, c.use) for c in found if c.excerpt]

    def _export(self, result: Result, chosen: list[tuple[str, str]], tell: Tell) -> None:
        tell("What may leave, leaves; the last scan reads every file back …")
        for use in dict.fromkeys(use for _, use in chosen):
            codes = [code for code, wanted in chosen if wanted == use]
            # What was heard leaves apart from what was not: a single draft would mark the whole sheet.
            heard = {row.code for row in self.excerpts.list(EDITOR) if row.heard}
            for group in ([c for c in codes if c in heard], [c for c in codes if c not in heard]):
                if group:
                    self._give(result, group, use)

    def _give(self, result: Result, codes: list[str], use: str) -> None:
        """Export together; where the last scan finds a name, one by one, so that the others are not held up by it."""
        try:
            report = self.exports.make(EDITOR, codes, use)
        except ScanRefused as refusal:
            if len(codes) == 1:
                result.refused.append(f"{codes[0]} for {use}: Not allowed. {refusal.message} {refusal.remedy}")
                return
            for code in codes:
                self._give(result, [code], use)
            return
        draft = ", as DRAFT" if report.draft else ""
        result.given += [f"{code} for {use} in {report.code}{draft}" for code in report.taken]
        result.refused += [f"{r.excerpt} for {use}: {' '.join(r.reasons)}" for r in report.refused]
        result.withheld += report.withheld
        result.files += [f for f in report.files if f.endswith((".docx", ".wav", ".vtt", ".json"))]

    def _withdraw(self, result: Result, chosen: list[tuple[str, str]], tell: Tell) -> None:
        tell(f"{LEAVER} withdraws everything …")
        before = self.finding.ask(EDITOR, Asked(speaker=LEAVER)).total
        report = self.consent.withdraw(KEEPER, LEAVER, how="letter, invented for the demo")
        after = self.finding.ask(EDITOR, Asked(speaker=LEAVER)).total
        result.withdrawal.append(f"Passages of {LEAVER} found before: {before}; in the next request: {after}.")
        result.withdrawal.append(f"Excerpts that may not leave any more: {', '.join(report.excerpts_flagged) or 'none'}.")
        result.withdrawal += [
            f"Already out: {row.export}, {row.on}, for {row.use}: {', '.join(Path(f).name for f in row.files)}" for row in report.already_out
        ]
