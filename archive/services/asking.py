"""Who asked for a piece of work: kept with it by account, and asked again when it is done, which may be a day later."""

from __future__ import annotations

from typing import Any, Protocol

from archive.db import accounts
from archive.db.session import Connection
from archive.domain.values import Role, Viewer
from archive.errors import Refused
from archive.services.rooms import EDITORS

NOT_ANY_MORE = "Whoever asked for this may not any more: the account was closed or has another role. Nothing was done."


class Asked(Protocol):
    """A job as it was queued."""

    by: str
    args: dict[str, Any]


def asking(connection: Connection, viewer: Viewer) -> dict[str, Any]:
    """What a job keeps of whoever asks: the account, None for whoever sits at the machine and has none; the role they look as."""
    row = accounts.by_name(connection, viewer.name)
    return {"account": row.id if row is not None and row.active else None, "role": viewer.role.value}


def asked_by(connection: Connection, job: Asked) -> Viewer:
    """Who asked, where they still may. Raises Refused."""
    known = job.args.get("account")
    if known is not None:
        row = accounts.by_id(connection, known)
        if row is None or not row.active or Role(row.role) not in EDITORS:
            raise Refused(NOT_ANY_MORE, (), "Ask for it again under an account that may.")
    return Viewer(job.by, Role(job.args["role"]))
