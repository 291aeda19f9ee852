"""Forms that were printed, and the signed papers or spoken stretches that agreements and undertakings rest on."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, Row, func, select

from archive.db.rows import add, one
from archive.db.tables import agreement, form, person, recording, signed_paper
from archive.domain.printed import FormKind


def form_by_code(connection: Connection, code: str) -> Row[Any] | None:
    """A printed form, or None."""
    return one(connection, form, code=code)


def add_form(connection: Connection, **values: Any) -> int:
    """Put a printed form on record; returns its id."""
    return add(connection, form, **values)


def add_paper(connection: Connection, **values: Any) -> int:
    """Put a scan, or where an agreement is spoken, on record; returns its id."""
    return add(connection, signed_paper, **values)


def forms(connection: Connection, person_id: int | None = None) -> list[Row[Any]]:
    """Every form that was printed, or those for one person, the newest first."""
    query = select(form).order_by(form.c.id.desc())
    return list(connection.execute(query if person_id is None else query.where(form.c.person_id == person_id)))


def of_agreement(connection: Connection, agreement_id: int) -> list[Row[Any]]:
    """What an agreement rests on, oldest first, with `form` (the code on the paper) and `recording` (the code of where it is spoken)."""
    return _papers(connection, signed_paper.c.agreement_id == agreement_id)


def of_form(connection: Connection, form_id: int) -> list[Row[Any]]:
    """The signed papers that bear a form's code, oldest first, as `of_agreement`."""
    return _papers(connection, signed_paper.c.form_id == form_id)


def by_sum(connection: Connection, sha256: str) -> Row[Any] | None:
    """A scan by its checksum, or None."""
    found = _papers(connection, signed_paper.c.sha256 == sha256) if sha256 else []
    return found[0] if found else None


def whose(connection: Connection, paper: Row[Any]) -> set[int]:
    """Ids of the people whose agreement a signed paper bears, or for whom its form was printed."""
    of_it = select(agreement.c.person_id).where(agreement.c.id == paper.agreement_id)
    for_it = select(form.c.person_id).where(form.c.id == paper.form_id, form.c.person_id.is_not(None))
    return set(connection.execute(of_it).scalars()) | set(connection.execute(for_it).scalars())


def undertaken(connection: Connection) -> set[str]:
    """Accounts of which a signed undertaking of confidentiality is kept: printed for the account, or for the person of its code."""
    query = (
        select(func.coalesce(person.c.code, form.c.account)).select_from(signed_paper).join(form, form.c.id == signed_paper.c.form_id)
        .outerjoin(person, person.c.id == form.c.person_id).where(form.c.kind.in_([k.value for k in FormKind if not k.asks]))
    )  # fmt: skip
    return set(connection.execute(query).scalars())


def agreement_row(connection: Connection, code: str) -> Row[Any] | None:
    """An agreement with everything on record of it, or None."""
    return one(connection, agreement, code=code)


def agreement_by_id(connection: Connection, agreement_id: int) -> Row[Any] | None:
    """An agreement by its number, or None."""
    return one(connection, agreement, id=agreement_id)


def without_paper(connection: Connection) -> list[Row[Any]]:
    """Agreements that rest on no scan and no spoken stretch (code, person, form), by code."""
    proven = select(signed_paper.c.agreement_id).where(signed_paper.c.agreement_id.is_not(None))
    query = select(agreement.c.code, person.c.code.label("person"), agreement.c.form).join(person, person.c.id == agreement.c.person_id)
    return list(connection.execute(query.where(agreement.c.id.not_in(proven), agreement.c.paper_sha256.is_(None)).order_by(agreement.c.code)))


def sums(connection: Connection) -> list[tuple[str, str]]:
    """(checksum, extension) of every scan, each once."""
    rows = connection.execute(select(signed_paper.c.sha256, signed_paper.c.extension).where(signed_paper.c.sha256 != "").distinct())
    return sorted((r.sha256, r.extension) for r in rows)


def _papers(connection: Connection, wanted: Any) -> list[Row[Any]]:
    query = (
        select(signed_paper, form.c.code.label("form"), recording.c.code.label("recording"))
        .outerjoin(form, form.c.id == signed_paper.c.form_id)
        .outerjoin(recording, recording.c.id == signed_paper.c.recording_id)
    )
    return list(connection.execute(query.where(wanted).order_by(signed_paper.c.id)))
