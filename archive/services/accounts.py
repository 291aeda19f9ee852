"""Who may sign in, and how far their accounts reach. Failures are counted in the database by account and address; a link works once."""

from __future__ import annotations

import hashlib
import secrets
from typing import Any

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from archive.db import accounts, audit, papers, reach
from archive.db.session import Connection, Row
from archive.domain.printed import Written
from archive.domain.values import Role, Viewer
from archive.errors import BadInput, Clash, NotAllowed, NotFound
from archive.services.reaching import codes_beyond, person_of, recording_named
from archive.services.rooms import KEEPER, Rooms, need
from archive.services.rows import Account, AccountRow

WINDOW_S = 15 * 60
MOST_FAILURES = 5
LINK_S = 10 * 60
LEAST_LETTERS = 12
MOST_LETTERS = 80  # of a name
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
        if not name or len(name) > MOST_LETTERS:
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

    def list(self, viewer: Viewer) -> tuple[AccountRow, ...]:
        """Everybody who may sign in, and how far their accounts reach. Whoever is not to be opened by the account that asks is not told."""
        need(viewer, *KEEPER)
        with self._rooms.db.read() as connection:
            undertaken, shut, assigned = papers.undertaken(connection), reach.closed(connection), reach.assigned(connection)
            beyond = codes_beyond(connection, viewer)
            return tuple(
                AccountRow(
                    r.name, r.role, r.name in undertaken, tuple(c for c in shut.get(r.name, ()) if c not in beyond),
                    tuple(assigned.get(r.name, ())) if r.role == Role.HELPER else (),
                )
                for r in accounts.everything(connection) if r.active and r.name != LOCAL_KEEPER
            )  # fmt: skip

    # -- how far they reach ------------------------------------------------------------------------------------
    def close_to(self, viewer: Viewer, name: str, person: str) -> None:
        """From the next request on a person's speech, names and papers are not to be opened by an account. Raises NotFound; Clash where
        no keeper would be left who may open them."""
        self._say_of_person(viewer, name, person, True)

    def open_to(self, viewer: Viewer, name: str, person: str) -> None:
        """Let an account open a person again, as far as its role does. Nobody does so for their own account: for them there is no such person."""
        self._say_of_person(viewer, name, person, False)

    def _say_of_person(self, viewer: Viewer, name: str, person: str, in_force: bool) -> None:
        need(viewer, *KEEPER)
        with self._rooms.db.write() as connection:
            account, who = self._open_one(connection, name), person_of(connection, viewer, person)
            if who is None:
                raise NotFound("There is no such person on record. Nothing was changed.", "See the list of people.")
            closed = set(reach.closed_to(connection, who.id))
            if (account.name in closed) is in_force:
                return
            keepers = {r.name for r in accounts.everything(connection) if r.active and r.role == Role.KEEPER} - closed - {LOCAL_KEEPER}
            if in_force and keepers == {account.name}:
                raise Clash("No other keeper has an account that may open them. Nothing was changed.", "Make a second keeper first.")
            reach.say(connection, account.name, person_id=who.id, in_force=in_force, by=viewer.name, at=self._rooms.now())
            what = "closed to an account" if in_force else "opened to an account"
            audit.record(connection, viewer.name, what, f"person {who.id}", self._rooms.now(), account=account.id)

    def assign(self, viewer: Viewer, name: str, recording: str) -> None:
        """Let a helper read, hear, type and translate a recording. Raises NotFound, BadInput for an account of another role."""
        self._say_of_recording(viewer, name, recording, True)

    def take_back(self, viewer: Viewer, name: str, recording: str) -> None:
        """A recording is not there for a helper any more; what they typed stays."""
        self._say_of_recording(viewer, name, recording, False)

    def _say_of_recording(self, viewer: Viewer, name: str, recording: str, in_force: bool) -> None:
        need(viewer, *KEEPER)
        with self._rooms.db.write() as connection:
            account, row = self._open_one(connection, name), recording_named(connection, viewer, recording)
            if account.role != Role.HELPER:
                raise BadInput("Recordings are assigned to helpers alone; the others see what their role allows. Nothing was changed.", "Make an account with the role helper.")
            if (row.code in reach.assigned(connection).get(account.name, ())) is in_force:
                return
            reach.say(connection, account.name, recording_id=row.id, in_force=in_force, by=viewer.name, at=self._rooms.now())
            what = "assigned to an account" if in_force else "taken back from an account"
            audit.record(connection, viewer.name, what, f"recording {row.id}", self._rooms.now(), account=account.id)

    def _open_one(self, connection: Connection, name: str) -> Row[Any]:
        row = accounts.by_name(connection, name.strip())
        if row is None or not row.active or row.name == LOCAL_KEEPER:
            raise NotFound("There is no such account. Nothing was changed.", "See `toldhere accounts list`.")
        return row

    def envelope(self, viewer: Viewer) -> Written:
        """The sheet that lies in a sealed envelope for whoever comes after the last keeper (PDF): what to do, and room to write by hand."""
        need(viewer, *KEEPER)
        from archive.render.keepersheet import (
            keeper_sheet,  # a fifth of a second, which every worker's start would wait for
        )

        with self._rooms.db.write() as connection:
            audit.record(connection, viewer.name, "keeper's sheet printed", "account", self._rooms.now())
        return Written("for-the-next-keeper.pdf", keeper_sheet(self._rooms.options.name, str(self._rooms.folder), self._rooms.today()), (), "")

    # -- signing in --------------------------------------------------------------------------------------------

    def sign_in(self, name: str, password: str, address: str) -> Account:
        """The account, or NotAllowed: in the same words and the same time for a wrong name as for a wrong password."""
        now, name = self._rooms.seconds(), name[:MOST_LETTERS]
        with self._rooms.db.read() as connection:
            row = accounts.by_name(connection, name)
            if accounts.failures(connection, name, address, now - WINDOW_S) >= MOST_FAILURES:
                raise NotAllowed("Too many failed sign-ins.", "Wait a quarter of an hour, then try again.")
        good = _verify(row.password_hash if row is not None and row.active else _NOBODY, password)
        if good and row is not None and row.active and not self.may_work(row.name, row.role):
            raise NotAllowed("Your signed undertaking of confidentiality is not on record yet.", "Sign the form that a keeper prints for you; when its scan is attached you can sign in.")
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

    def may_work(self, name: str, role: str) -> bool:
        """False for an account without a signed undertaking where the archive lets nobody work without one; a keeper must be able to attach it."""
        return role == Role.KEEPER or self._rooms.options.without_undertaking != "refused" or self.has_undertaken(name)

    def has_undertaken(self, name: str) -> bool:
        """Whether the signed undertaking of confidentiality of an account is kept."""
        with self._rooms.db.read() as connection:
            return name == LOCAL_KEEPER or name in papers.undertaken(connection)

    def by_id(self, account_id: int) -> Account | None:
        """An account that is still active and may work, or None."""
        with self._rooms.db.read() as connection:
            row = accounts.by_id(connection, account_id)
        if row is None or not self.may_work(row.name, row.role):
            return None
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
