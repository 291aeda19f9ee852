"""Who may sign in. Failures are counted in the database by account and address; a link works once."""

from __future__ import annotations

import hashlib
import secrets

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from archive.db import accounts, audit
from archive.domain.values import Role, Viewer
from archive.errors import BadInput, Clash, NotAllowed, NotFound
from archive.services.rooms import KEEPER, Rooms, need
from archive.services.rows import Account

WINDOW_S = 15 * 60
MOST_FAILURES = 5
LINK_S = 10 * 60
LEAST_LETTERS = 12
LOCAL_KEEPER = "keeper on this machine"
_NOBODY = "$argon2id$v=19$m=65536,t=3,p=4$c29tZXNhbHRzb21lc2FsdA$RdescudvJCsgt3ub+b27ggAqrpVExOEqLmSvWcwdBEI"
_hasher = PasswordHasher()


class Accounts:
    """Accounts of one archive."""

    def __init__(self, rooms: Rooms) -> None:
        self._rooms = rooms

    def add(self, viewer: Viewer, name: str, role: str, password: str) -> None:
        """Add somebody who may sign in."""
        need(viewer, *KEEPER)
        name = name.strip()
        if not name or len(name) > 80:
            raise BadInput("An account needs a name of at most 80 letters.")
        if role not in set(Role):
            raise BadInput("What was written as the role is no role.", f"Use one of: {', '.join(Role)}.")
        _long_enough(password)
        with self._rooms.db.write() as connection:
            if accounts.by_name(connection, name) is not None or name.casefold() == LOCAL_KEEPER:
                raise Clash("There is an account of this name already.")
            made = accounts.add_account(
                connection, name=name, role=role, password_hash=_hasher.hash(password), session_key=secrets.token_hex(16)
            )
            audit.record(connection, viewer.name, "account added", f"account {made}", self._rooms.now(), role=role)

    def list(self, viewer: Viewer) -> tuple[Account, ...]:
        """Everybody who may sign in."""
        need(viewer, *KEEPER)
        with self._rooms.db.read() as connection:
            return tuple(Account(r.id, r.name, r.role, "") for r in accounts.everything(connection) if r.active)

    def sign_in(self, name: str, password: str, address: str) -> Account:
        """The account, or NotAllowed: in the same words and the same time for a wrong name as for a wrong password."""
        now = self._rooms.seconds()
        with self._rooms.db.read() as connection:
            row = accounts.by_name(connection, name)
            if accounts.failures(connection, name, address, now - WINDOW_S) >= MOST_FAILURES:
                raise NotAllowed("Too many failed sign-ins.", "Wait a quarter of an hour, then try again.")
        good = _verify(row.password_hash if row is not None and row.active else _NOBODY, password)
        with self._rooms.db.write() as connection:
            if not good or row is None or not row.active:
                accounts.add_failure(connection, name, address, now)
            else:
                accounts.forget_failures(connection, name)
                audit.record(connection, name, "signed in", f"account {row.id}", self._rooms.now())
        if not good or row is None or not row.active:
            raise NotAllowed("Name or password is wrong.", "Try again, or ask a keeper.")
        return Account(row.id, row.name, row.role, row.session_key)

    def once_link(self) -> str:
        """A token that signs in once, as keeper, on this machine. Only its digest is kept."""
        token = secrets.token_urlsafe(32)
        with self._rooms.db.write() as connection:
            row = accounts.by_name(connection, LOCAL_KEEPER)
            account_id = row.id if row is not None else accounts.add_account(
                connection, name=LOCAL_KEEPER, role=Role.KEEPER.value, password_hash="", session_key=secrets.token_hex(16)
            )
            accounts.add_link(connection, _digest(token), account_id, self._rooms.seconds() + LINK_S)
        return token

    def use_link(self, token: str) -> Account:
        """The account of a link, which is then used up. Raises NotAllowed."""
        with self._rooms.db.write() as connection:
            account_id = accounts.use_link(connection, _digest(token), self._rooms.seconds())
            row = accounts.by_id(connection, account_id) if account_id is not None else None
            if row is not None:
                audit.record(connection, row.name, "signed in by link", f"account {row.id}", self._rooms.now())
        if row is None:
            raise NotAllowed("This link was used already, or is too old.", "Start `toldhere serve` again for a new one.")
        return Account(row.id, row.name, row.role, row.session_key)

    def leave(self, account_id: int) -> None:
        """Sign out: every session of this account ends, also one whose cookie somebody copied."""
        with self._rooms.db.write() as connection:
            accounts.change(connection, account_id, session_key=secrets.token_hex(16))

    def change_password(self, viewer: Viewer, name: str, password: str) -> None:
        """Give an account a new password; its sessions end."""
        need(viewer, *KEEPER)
        _long_enough(password)
        self._change(viewer, name, "password changed", password_hash=_hasher.hash(password))

    def close(self, viewer: Viewer, name: str) -> None:
        """Close an account: nobody signs in with it any more, and its sessions end. It stays on record."""
        need(viewer, *KEEPER)
        self._change(viewer, name, "account closed", active=False)

    def _change(self, viewer: Viewer, name: str, what: str, **values: object) -> None:
        with self._rooms.db.write() as connection:
            row = accounts.by_name(connection, name.strip())
            if row is None or not row.active or row.name == LOCAL_KEEPER:
                raise NotFound("There is no such account.", "See `toldhere accounts list`.")
            accounts.change(connection, row.id, session_key=secrets.token_hex(16), **values)
            audit.record(connection, viewer.name, what, f"account {row.id}", self._rooms.now())

    def by_id(self, account_id: int) -> Account | None:
        """An account that is still active, or None."""
        with self._rooms.db.read() as connection:
            row = accounts.by_id(connection, account_id)
        return Account(row.id, row.name, row.role, row.session_key) if row is not None and row.active else None


def _long_enough(password: str) -> None:
    if len(password) < LEAST_LETTERS:
        raise BadInput(f"A password needs at least {LEAST_LETTERS} letters.", "Four or five words make a good one.")


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8")).hexdigest()


def _verify(password_hash: str, password: str) -> bool:
    try:
        return _hasher.verify(password_hash, password)
    except (VerificationError, InvalidHashError):
        return False
