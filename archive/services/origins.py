"""What a file tells about itself when it comes: the recorder's note, its neighbours on the card, the files that lay beside it."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from archive.audio.joins import Join, join
from archive.audio.recorder import RecorderSays, recorder_says
from archive.db import origins, recordings
from archive.db.session import Connection, Row
from archive.domain import clocks
from archive.domain.phrases import day as told_day
from archive.domain.phrases import exact
from archive.domain.takes import Agree, Came, Tie, at_once, beside_by_name, goes_on, next_by_name
from archive.errors import NoSpace, ToldHereError
from archive.files.companions import companions_of, expected_sums, sum_of
from archive.files.guard import Source
from archive.files.masters import Masters, clean_extension
from archive.services.card import AGAIN, SHEET, Described

COMPANIONS = "companions"  # folder below the archive's own
_MOST_COMPARED = 8  # neighbours by name whose sound is compared: cards repeat names


@dataclass(frozen=True, slots=True)
class Bond:
    """How a file belongs to one that is here. `sure`: acted upon; else only said."""

    tie: Tie
    sure: bool
    row: Row[Any]
    why: str


@dataclass(frozen=True, slots=True)
class Told:
    """All that was read of one file before it is put on record."""

    says: RecorderSays
    came: Came
    doubt: str
    bonds: tuple[Bond, ...]

    @property
    def follows(self) -> Bond | None:
        """The recording whose interview this one goes on with, or which another microphone made; only where that is sure."""
        return next((b for b in self.bonds if b.sure and b.row.interview_id is not None), None)


def told_of(known: list[Row[Any]], masters: Masters, source: Source, path: Path, measured: Any, today: date) -> Told:
    """Read what a file says and compare it with those that are here. `known`: rows of origins.came; `path`: its master."""
    says = recorder_says(path, measured.rate_hz)
    closed_ms = None
    with contextlib.suppress(OSError):
        closed_ms = round(source.path.stat().st_mtime * 1000)
    form = (measured.codec, measured.rate_hz, measured.bit_depth, measured.channels)
    came = Came(source.name, form, measured.duration_ms, says.started_ms, says.first_ms is not None, closed_ms)
    return Told(says, came, clocks.doubt(says.day, says.time, today), _bonds(known, masters, came, path))


def described(bond: Bond, row: Row[Any], taken: bool) -> Described:
    """What is known of the recording it belongs to, for the part after it. `taken`: that part is another one already."""
    return Described(
        bond.row.interview_code, 0 if taken else bond.row.position + 1, row.recorded_on, row.title, row.language, row.microphones
    )


def _bonds(known: list[Row[Any]], masters: Masters, came: Came, path: Path) -> tuple[Bond, ...]:
    found = []
    near = [row for row in known if _form(row) == came.form and masters.path(row.sha256, row.extension) != path]
    for row in near:
        other = _came(row)
        if beside_by_name(other.name, came.name) or beside_by_name(came.name, other.name):
            agree = at_once(other, came)
            if agree in (Agree.YES, Agree.MAYBE):
                found.append(Bond(Tie.BESIDE, agree is Agree.YES, row, "name, start and length agree" if agree is Agree.YES else "name, length and time of the file agree"))
    after = [row for row in near if next_by_name(row.original_name, came.name) and goes_on(_came(row), came) is not Agree.NO]
    for row in after[-_MOST_COMPARED:]:
        agree, heard = goes_on(_came(row), came), join(masters.path(row.sha256, row.extension), path)
        if heard is Join.JOINS or agree is Agree.YES or (heard is Join.OPEN and agree is Agree.MAYBE):
            clock = {Agree.YES: "the recorder’s clock", Agree.MAYBE: "the times of the files"}.get(agree, "")
            why = ", ".join(w for w in ("the names", clock, "the sound" if heard is Join.JOINS else "") if w) + " agree"
            why += "; but the sound breaks there, as if a moment were missing" if heard is Join.BREAKS else ""
            found.append(Bond(Tie.GOES_ON, agree is Agree.YES and heard is Join.JOINS, row, why))
    return tuple(sorted(found, key=lambda b: (b.tie is not Tie.GOES_ON, not b.sure)))


def _form(row: Row[Any]) -> tuple[str, int, int | None, int]:
    return row.codec, row.rate_hz, row.bit_depth, row.channels


def _came(row: Row[Any]) -> Came:
    return Came(row.original_name, _form(row), row.duration_ms, row.started_ms, bool(row.exact), row.closed_ms)


def keep(connection: Connection, recording_id: int, told: Told) -> None:
    """Put on record what the file told, and which other microphone it stood beside where that is sure."""
    says = told.says
    origins.add_origin(
        connection, recording_id=recording_id, originator=says.originator, description=says.description,
        notes=[list(note) for note in says.notes], day=says.day, time=says.time, doubt=told.doubt,
        started_ms=told.came.started_ms, exact=told.came.counted, closed_ms=told.came.closed_ms,
    )  # fmt: skip
    twin = next((b for b in told.bonds if b.tie is Tie.BESIDE and b.sure), None)
    if twin is not None:
        origins.put_beside(connection, recording_id, twin.row.id, (told.came.started_ms or 0) - (twin.row.started_ms or 0))


def words(told: Told, part_of: str, dated: date | None) -> list[str]:
    """Sentences about neighbours and the clock. `part_of`: the interview that it is in, "" for none; `dated`: as a person said."""
    lines = []
    for bond in told.bonds:
        code, together = bond.row.code, bool(part_of) and bond.row.interview_code == part_of
        if bond.tie is Tie.BESIDE:
            lines.append(_beside(bond, code, together))
        elif bond.sure and together:
            lines.append(f"It goes on where {code} ends ({bond.why}).")
        elif together:
            lines.append(f"It seems to go on where {code} ends ({bond.why}).")
        else:
            lines.append(f"It seems to go on where {code} ends ({bond.why}): if so, write both into {SHEET} as parts of one interview, in order, {AGAIN}")
    return [*lines, *_clock(told, dated)]


def _beside(bond: Bond, code: str, together: bool) -> str:
    """Two masters stay two recordings, as masters never change: what both microphones heard is in both."""
    if bond.sure:
        where = "" if together else f" Write both into {SHEET} as parts of one interview {AGAIN}"
        return f"It was recorded at the same time as {code} by another microphone ({bond.why}): two recordings, and what both heard is found twice.{where}"
    return f"It may be another microphone of {code} ({bond.why}). Listen, and write both into {SHEET} as parts of one interview if it is."


def _clock(told: Told, dated: date | None) -> list[str]:
    says = told.says
    if dated is not None:
        off = says.day and not told.doubt and says.day != dated.isoformat()
        return [f"{SHEET} says {told_day(dated)}, the recorder’s clock {told_day(says.day)}: the sheet counts."] if off else []
    asked = "Say when it was recorded: on Upkeep, “When was this recorded?” (on the command line, `toldhere when`)."
    if told.doubt:
        return [f"{told.doubt} {asked}"]
    return [f"The recorder’s clock says {told_day(says.day)}{f', {says.time[:5]}' if says.time else ''}, which nobody has confirmed. {asked}"] if says.day else []


def recorder_lines(connection: Connection, recording_id: int) -> list[str]:
    """What the recorder says about a recording, for who describes it: never a fact."""
    row = origins.origin_of(connection, recording_id)
    if row is None:
        return []
    lines = [f"made with {row.originator}"] if row.originator else []
    if row.day:
        lines.append(f"started on {told_day(row.day)}{f' at {row.time[:5]}' if row.time else ''}{', which is not believed' if row.doubt else ''}")
    lines += [f"{name.capitalize()}: {text}" for name, text in (("description", row.description), *row.notes) if text]
    if row.beside_id is not None:
        later = f", from its {exact(row.beside_ms)} on" if row.beside_ms and row.beside_ms > 0 else ""
        lines.append(f"at the same time as {recordings.by_id(connection, row.beside_id).code}{later}")
    return lines


def keep_companions(
    write: Callable[[Callable[[Connection], bool]], bool], folder: Path, source: Source, master: Path, recording_id: int, by: str, at: str
) -> tuple[list[str], bool]:  # fmt: skip
    """Keep the files that lie beside one under their checksums, and verify what checksums say.

    Returns sentences, and whether a checksum is not that of the file: then both are kept, and a person must look.
    """
    store = Masters(folder / COMPANIONS)
    lines: list[str] = []
    kept: list[str] = []
    differs = False
    for companion in companions_of(source):
        extension = clean_extension(Path(companion.name).suffix)
        try:
            taken = store.take(companion.path, extension, companion.path.stat().st_size)
        except NoSpace:
            raise
        except (ToldHereError, OSError):
            lines.append(f"{companion.name} beside it could not be read.")
            continue
        sums = expected_sums(companion, source.name)
        right = [sum_of(master, algorithm) == said for algorithm, said in sums]
        says = "" if not right else "matches" if all(right) else "differs"
        values = {
            "recording_id": recording_id, "name": companion.name, "kind": companion.kind, "sha256": taken.sha256,
            "bytes": taken.bytes, "extension": extension, "says": says, "by": by, "at": at,
        }  # fmt: skip
        new = write(lambda connection, values=values: origins.add_companion(connection, **values))  # type: ignore[misc]
        if says == "differs":
            differs = True
            lines.append(f"Careful: the checksum in {companion.name} is not that of this file. Copy it again from the card and compare; what came is kept.")
        elif new:
            kept.append(companion.name + (" (its checksum matches)" if says else ""))
    return ([f"Kept beside it: {', '.join(kept)}."] if kept else []) + lines, differs
