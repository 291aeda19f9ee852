"""Works of others inside speech: songs, hymns, poems, letters read aloud, a radio playing. Marked, and cleared apart from the speaker's consent."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from archive.db import audit, consent_rows, uses, works
from archive.domain.phrases import from_to
from archive.domain.reasons import last_day
from archive.domain.values import Answer, Viewer, Way
from archive.errors import BadInput, NotFound
from archive.gate import custody
from archive.gate.indexing import index_recording
from archive.services.deciding import stretch_named
from archive.services.rooms import EDITORS, KEEPER, Rooms, need

KINDS = ("song", "hymn", "poem", "letter", "broadcast", "music", "other")
CAUTION = (
    "The speaker's yes is not the owner's: words and tune may belong to others, and so may a recording that is playing. How much may be quoted "
    "without asking differs from country to country. Not legal advice: local law and your institution's own counsel decide."
)


@dataclass(frozen=True, slots=True)
class SaidRow:
    """One word on the use of a work. Empty use, way, exhibition: any."""

    answer: str
    use: str
    way: str
    exhibition: str
    from_on: date
    through: date | None
    basis: str


@dataclass(frozen=True, slots=True)
class WorkRow:
    """A work that lies in a recording: where, of which kind, what is known of it, and what was said to its use, oldest first."""

    id: int
    recording: str
    start_ms: int
    end_ms: int
    kind: str
    about: str
    said: tuple[SaidRow, ...]

    @property
    def where(self) -> str:
        """As it is written: TW-01.1@1:16-1:25."""
        return f"{self.recording}@{from_to(self.start_ms, self.end_ms)}"


class Works:
    """Works of others in one archive."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms

    def list(self, viewer: Viewer) -> tuple[WorkRow, ...]:
        """Every work that somebody marked."""
        need(viewer, *EDITORS)
        with self._rooms.db.read() as connection:
            rows = works.everything(connection)
            said = works.clearances(connection, [r.id for r in rows])
            labels = {u.code: u.label for u in uses.every_use(connection).values()}
        return tuple(
            WorkRow(
                r.id, r.code, r.start_ms, r.end_ms, r.kind, r.about,
                tuple(
                    SaidRow(c.answer, labels.get(c.use, "") if c.use else "", c.way or "", c.exhibition or "", c.from_on, last_day(c.until_on) if c.until_on else None, c.basis)
                    for c in said.get(r.id, ())
                ),
            )
            for r in rows
        )  # fmt: skip

    def mark(self, viewer: Viewer, stretch: str, kind: str, about: str = "") -> int:
        """Somebody else's work lies in this stretch (TW-01.1@1:16-1:25): held back from every use but our own ears at once. Returns its number."""
        need(viewer, *EDITORS)
        if kind not in KINDS:
            raise BadInput(f"“{kind[:40]}” is no kind of work that we know.", f"Write one of: {', '.join(KINDS)}.")
        with self._rooms.db.write() as connection:
            whole = custody.snap_outwards(connection, stretch_named(connection, stretch))
            number = works.add_work(connection, whole, kind, about.strip(), viewer.name, self._rooms.now())
            index_recording(connection, whole.recording_id, self._rooms.context())
            audit.record(
                connection, viewer.name, "work marked", f"work {number}", self._rooms.now(),
                recording=whole.recording_id, start_ms=whole.start_ms, end_ms=whole.end_ms, kind=kind,
            )  # fmt: skip
        return number

    def say(
        self, viewer: Viewer, number: int, answer: Answer, basis: str, use: str = "", way: str = "", exhibition: str = "", through: date | None = None
    ) -> None:  # fmt: skip
        """Put on record what is allowed of a work, on whose word: for one use and way, or any. The newest word in force counts. Raises
        NotFound, BadInput."""
        need(viewer, *KEEPER)
        if way not in ("", *Way):
            raise BadInput("There is no such way.", f"Write one of: {', '.join(Way)}.")
        with self._rooms.db.write() as connection:
            if not any(r.id == number for r in works.everything(connection)):
                raise NotFound("There is no such work.", "See the list of works of others.")
            known = consent_rows.load_use(connection, use).code if use else None
            works.add_clearance(
                connection, work_id=number, answer=answer, from_on=self._rooms.today(), basis=basis, use=known, way=Way(way) if way else None,
                exhibition=exhibition or None, until_on=through + timedelta(days=1) if through else None, by=viewer.name, at=self._rooms.now(),
            )  # fmt: skip
            audit.record(
                connection, viewer.name, "work cleared" if answer == Answer.YES else "work refused", f"work {number}", self._rooms.now(),
                use=known or "any", way=way or "any",
            )  # fmt: skip
