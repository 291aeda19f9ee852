"""A withdrawal of everything of a person with 500 passages and 60 exports, half of them standing somewhere: budget 1 s (issue 7)."""

from __future__ import annotations

import shutil
import time
from collections.abc import Callable
from pathlib import Path

from sqlalchemy import select, text

from archive.app import Archive, Asked, Size
from archive.db import excerpts, people, tasks
from archive.db.tables import recording
from archive.domain.values import Role, Viewer
from tests.bench.big import PER_RECORDING, made

KEEPER, EDITOR = Viewer("K-01", Role.KEEPER), Viewer("E-01", Role.EDITOR)
RECORDINGS, EXPORTS = 7, 60  # of 80 passages each
BY = {"by": "bench", "at": "2026-01-01T00:00:00+00:00"}


def ending(say: Callable[[str], None], folder: Path) -> None:
    """One withdrawal in an archive of 20,000 passages, and what follows: Find, the list of tasks, the letter."""
    home = folder / "ending"
    archive = made(home, 20_000).archive
    code = _with_exports(archive)
    begun, busy = time.perf_counter(), time.process_time()
    report = archive.consent.withdraw(KEEPER, code, how="bench")
    took, busy = time.perf_counter() - begun, time.process_time() - busy
    say(
        f"withdrawal: {RECORDINGS * PER_RECORDING} passages, {len(report.already_out)} exports, {len(report.excerpts_flagged)} excerpts flagged, "
        f"{report.tasks} tasks: {took * 1000:.0f} ms, {busy * 1000:.0f} ms of processor"
    )
    begun = time.perf_counter()
    found = archive.finding.ask(EDITOR, Asked(speaker=code)).total
    say(f"Find in the next request: {found} of theirs, {(time.perf_counter() - begun) * 1000:.0f} ms")
    begun = time.perf_counter()
    rows = len(archive.tasks.list(KEEPER))
    say(f"list of {rows} tasks: {(time.perf_counter() - begun) * 1000:.0f} ms")
    begun = time.perf_counter()
    size = len(archive.ending_letters.of_hold(KEEPER, code, report.hold, Size.A4).data)
    say(f"its letter, {size:,} bytes: {(time.perf_counter() - begun) * 1000:.0f} ms")
    archive.close()
    shutil.rmtree(home)


def _with_exports(archive: Archive) -> str:
    """Give seven recordings to one person who allowed the exhibition, and write down sixty exports of quotes of theirs."""
    with archive.rooms.db.write() as connection:
        yes = "SELECT a.person_id FROM permission p JOIN agreement a ON a.id = p.agreement_id WHERE p.answer = 'yes' AND p.way = 'words' AND p.use = '{}'"
        who = connection.execute(text(f"{yes.format('team')} INTERSECT {yes.format('exhibition')} LIMIT 1")).scalar_one()
        codes = [r.code for r in connection.execute(select(recording.c.code).where(recording.c.id <= RECORDINGS).order_by(recording.c.id))]
        mine = {"who": who, "most": RECORDINGS}
        connection.execute(text("UPDATE participation SET person_id = :who WHERE interview_id <= :most"), mine)
        connection.execute(text("UPDATE voicing_person SET person_id = :who WHERE voicing_id <= :most"), mine)
        for trigger in connection.execute(text("SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'version_block'")).scalars().all():
            connection.execute(text(f"DROP TRIGGER {trigger}"))  # whose words they are is never rewritten otherwise
        connection.execute(text("UPDATE version_block SET speaker_id = :who WHERE version_id <= :most"), mine)
        connection.execute(text("INSERT INTO account (name, role, password_hash, session_key) VALUES ('E-01', 'editor', '', '')"))
        code = people.codes_by_id(connection)[who]
    quotes = []
    for code_of in codes:
        said = [u for u in archive.recordings.page(EDITOR, code_of).shown.utterances if len(u.words) > 12]
        quotes += [archive.excerpts.choose_words(EDITOR, code_of, u.utterance_id, 0, u.utterance_id, 9, "exhibition", f"panel {n}") for n, u in enumerate(said[:9])]
    with archive.rooms.db.write() as connection:
        for n, quote in enumerate(quotes[:EXPORTS]):
            row = excerpts.named(connection, quote)
            export_id, _ = excerpts.add_export(connection, "exhibition", "Marigold", 1, f"/given/{n}", BY["by"], BY["at"])
            excerpts.mark_given(connection, export_id, BY["at"])
            excerpts.add_item(
                connection, export_id=export_id, item=1, excerpt_id=row.id, person_id=who, wording_sha256=row.wording_sha256, mask_digest="",
                attribution="full", voice=False,
            )  # fmt: skip
            for name in ("wall-text.docx", "quotes.json", "for-the-team/internal-sheet.docx"):
                excerpts.add_file(connection, export_id, name, "0" * 64)
            if n % 2:
                tasks.place(connection, excerpts.files(connection, export_id)[0].id, f"gallery {n}", None, BY["by"], BY["at"])
    return code
