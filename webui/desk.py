"""What every view needs: the archive that this app serves, and who is asking."""

from __future__ import annotations

import re
from datetime import date
from typing import cast

from flask import Response, current_app, request, session
from flask_login import current_user

from archive.app import Archive, Written, as_json
from archive.domain.values import Role, Viewer
from archive.errors import BadInput, NotFound

_WORD = re.compile(r"(\d{1,9}):(\d{1,9})", re.ASCII)
_MIME = {"pdf": "application/pdf", "jpg": "image/jpeg", "png": "image/png", "zip": "application/zip"}
AT_THIS_MACHINE = "at this machine"  # in the session of who came by the link that is printed there


def archive() -> Archive:
    """The archive of this app."""
    return cast(Archive, current_app.extensions["archive"])


def viewer(opened: bool = False) -> Viewer:
    """Who is asking, for the gate. `opened` only inside a POST that has put its reason on record."""
    return Viewer(current_user.name, Role(current_user.role), opened)


def at_this_machine() -> bool:
    """True for a keeper who came by the link that `serve` prints and asks from this very machine: its folders are theirs to see."""
    here = request.remote_addr or ""
    return bool(session.get(AT_THIS_MACHINE)) and current_user.role == Role.KEEPER and (here == "::1" or here.startswith("127."))


def as_answer(value: object) -> Response:
    """A value of the archive's as JSON, for a page that asks."""
    return Response(as_json(value, None), mimetype="application/json")


def whole_number(text: str, most: int = 2**31 - 1) -> int:
    """A number that a form or an address holds. Raises NotFound where it is none, or larger than anything on record."""
    if not (text.isascii() and text.isdecimal() and len(text) <= len(str(most))) or int(text) > most:
        raise NotFound("There is no such thing on record.", "Go back, load the page again and repeat what you did.")
    return int(text)


def day_of(text: str) -> date | None:
    """A day from a form, None where it is empty. Raises BadInput."""
    try:
        return date.fromisoformat(text) if text else None
    except ValueError:
        raise BadInput("What was written as a day is none.", "Write it as 2039-12-31.") from None


def to_save(name: str, data: bytes) -> Response:
    """A paper as a file to save, by the ending of its name."""
    return Response(data, headers={"Content-Type": _MIME[name.rpartition(".")[2]], "Content-Disposition": f'attachment; filename="{name}"'})


def given(made: Written) -> Response:
    """A paper that was written, as a file to save: nothing of whose it is stands in its name."""
    return to_save(made.name, made.data)


def chosen_word(text: str) -> tuple[int, int]:
    """One end of chosen words as the recording's page sends it, "utterance:number of the word". Raises BadInput."""
    match = _WORD.fullmatch(text)
    if match is None:
        raise BadInput("The chosen words could not be read.", "Choose them again on the recording's page.")
    return int(match[1]), int(match[2])
