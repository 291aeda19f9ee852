"""What a row of the sheet of agreements says beside its answers: what it covers, the paper it rests on, whether its day can be right."""

from __future__ import annotations

from archive.db import papers, recordings
from archive.db.session import Connection
from archive.domain import phrases
from archive.domain.agreements import AgreementKind
from archive.domain.printed import FormKind
from archive.domain.sheetcode import Coded, read_code
from archive.domain.values import Stretch
from archive.errors import BadInput, ToldHereError
from archive.services.sheets import Row

# Which kind of agreement comes of a form; of an undertaking none.
AGREED_BY = {FormKind.PARTICIPATION: AgreementKind.PARTICIPATION, FormKind.RECORDING: AgreementKind.RECORDING, FormKind.STANDING: AgreementKind.RECORDING}


def covered(connection: Connection, row: Row, interview_id: int | None) -> Stretch | None:
    """The stretch that an agreement covers (“covers”: TW-01.1@1:16-1:25); None: all of it."""
    if not row["covers"]:
        return None
    try:
        code, start_ms, end_ms = phrases.stretch(row["covers"])
        recording = recordings.named(connection, code)
    except ToldHereError as error:
        row.fault(f"“covers”: {error.message} {error.remedy}")
        return None
    if end_ms > recording.duration_ms:
        row.fault(f"“covers”: the recording ends before that. It lasts until {phrases.exact(recording.duration_ms)}.")
    if interview_id is not None and recording.interview_id != interview_id:
        row.fault("“covers” lies in a recording of another interview. Correct one of them.")
    return Stretch(recording.id, start_ms, end_ms)


def paper(connection: Connection, row: Row, person_id: int | None) -> tuple[str | None, int | None]:
    """The newest scan that came back with a form's code (“paper”), and the form's id."""
    if not row["paper"]:
        return None, None
    try:
        printed = papers.form_by_code(connection, read_code(row["paper"], Coded.FORM))
    except BadInput as error:
        row.fault(f"“paper”: {error.message} {error.remedy}")
        return None, None
    if printed is None or printed.person_id != person_id:
        row.fault("“paper”: no form with that code was printed for this person. Look at the paper again.")
        return None, None
    if AGREED_BY.get(FormKind(printed.kind)) != (row["kind"] or AgreementKind.RECORDING):
        row.fault(f"“paper”: that code is on another kind of paper ({phrases.form_kind(printed.kind)}) than this agreement. Look at both again.")
        return None, None
    scans = papers.of_form(connection, printed.id)
    return (scans[-1].sha256 if scans else None), int(printed.id)


def rest_on(connection: Connection, agreement_id: int, form_id: int, by: str, at: str) -> None:
    """The scans that came back with the code on a form are what the agreement rests on."""
    for found in papers.of_form(connection, form_id):
        papers.add_paper(
            connection, agreement_id=agreement_id, form_id=form_id, sha256=found.sha256, bytes=found.bytes, extension=found.extension,
            pages=found.pages, by=by, at=at,
        )  # fmt: skip


def number(connection: Connection, supersedes: str) -> int:
    """Which version an agreement is: one more than the one whose place it takes."""
    before = papers.agreement_row(connection, supersedes) if supersedes else None
    return int(before.number) + 1 if before is not None else 1
