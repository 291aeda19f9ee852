"""Who may sign in: failures are counted in the database, a link works once, passwords are kept as argon2id."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta

import pytest
from argon2 import PasswordHasher, extract_parameters
from argon2.exceptions import VerifyMismatchError
from sqlalchemy import text

from archive.app import Archive
from archive.domain.values import Role, Viewer
from archive.errors import BadInput, Clash, NotAllowed
from archive.services import accounts as module
from archive.services.accounts import LINK_S, MOST_FAILURES, WINDOW_S
from tests import cast

PASSWORD = "rope lantern quay tide"
IN_USE = (module._hasher, module._NOBODY)  # read when pytest collects, before any fixture


class Clock:
    """A clock that a test moves."""

    def __init__(self) -> None:
        self.now = cast.TODAY

    def __call__(self) -> datetime:
        return self.now

    def later(self, seconds: float) -> None:
        self.now += timedelta(seconds=seconds)


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def archive(open_cast: Callable[..., Archive], clock: Clock) -> Archive:
    opened = open_cast(clock=clock)
    opened.accounts.add(cast.KEEPER, "nell", "editor", PASSWORD)
    return opened


@pytest.fixture
def in_use(monkeypatch: pytest.MonkeyPatch) -> None:
    """Hashes as they are made in use; all other tests have quick ones."""
    monkeypatch.setattr(module, "_hasher", IN_USE[0])
    monkeypatch.setattr(module, "_NOBODY", IN_USE[1])


def fail(archive: Archive, name: str = "nell", address: str = "10.0.0.1", count: int = 1) -> None:
    for _ in range(count):
        with pytest.raises(NotAllowed, match="Name or password is wrong"):
            archive.accounts.sign_in(name, "wrong wrong wrong", address)


def test_signing_in(archive: Archive) -> None:
    account = archive.accounts.sign_in("nell", PASSWORD, "10.0.0.1")
    assert (account.name, account.role, len(account.session_key)) == ("nell", "editor", 32)
    assert archive.accounts.by_id(account.id) == account
    assert [a.name for a in archive.accounts.list(cast.KEEPER)] == [*sorted(v.name for v in cast.VIEWERS), "nell"]


def test_the_same_words_for_a_wrong_name_as_for_a_wrong_password(archive: Archive) -> None:
    said = []
    for name, password in (("nobody", PASSWORD), ("nell", "wrong wrong wrong")):
        with pytest.raises(NotAllowed) as told:
            archive.accounts.sign_in(name, password, "10.0.0.1")
        said.append((told.value.message, told.value.remedy))
    assert said[0] == said[1]


def test_a_wrong_name_costs_as_much_work_as_a_wrong_password(in_use: None, archive: Archive) -> None:
    """The hash that stands for nobody is a real one with the parameters of the others: no time tells who has an account."""
    with archive.rooms.db.read() as connection:
        kept = connection.execute(text("SELECT password_hash FROM account WHERE name = 'nell'")).scalar_one()
    assert extract_parameters(module._NOBODY) == extract_parameters(kept)
    with pytest.raises(VerifyMismatchError):
        PasswordHasher().verify(module._NOBODY, PASSWORD)


def test_passwords_are_kept_as_argon2id(in_use: None, archive: Archive) -> None:
    """RFC 9106, 4: argon2id, at least the second recommended option (64 MiB, 3 passes)."""
    with archive.rooms.db.read() as connection:
        kept = connection.execute(text("SELECT password_hash FROM account WHERE name = 'nell'")).scalar_one()
    found = extract_parameters(kept)
    assert kept.startswith("$argon2id$") and PASSWORD not in kept
    assert found.memory_cost >= 64 * 1024 and found.time_cost >= 3


def test_an_account_is_throttled_from_everywhere(archive: Archive, clock: Clock) -> None:
    for n in range(MOST_FAILURES):
        fail(archive, address=f"10.0.0.{n}")
    with pytest.raises(NotAllowed, match="Too many"):
        archive.accounts.sign_in("nell", PASSWORD, "10.9.9.9")
    clock.later(WINDOW_S + 1)
    assert archive.accounts.sign_in("nell", PASSWORD, "10.9.9.9").name == "nell"


def test_an_address_is_throttled_for_every_account(archive: Archive) -> None:
    for n in range(MOST_FAILURES):
        fail(archive, name=f"guess-{n}")
    with pytest.raises(NotAllowed, match="Too many"):
        archive.accounts.sign_in("nell", PASSWORD, "10.0.0.1")
    assert archive.accounts.sign_in("nell", PASSWORD, "10.0.0.2").name == "nell"


def test_failures_survive_a_restart(archive: Archive, clock: Clock) -> None:
    """PITFALLS, Web: counted in memory they multiply with the processes and are forgotten on restart."""
    fail(archive, count=MOST_FAILURES)
    archive.close()
    again = Archive.open(archive.folder, {}, clock)
    with pytest.raises(NotAllowed, match="Too many"):
        again.accounts.sign_in("nell", PASSWORD, "10.0.0.1")
    again.close()


def test_a_good_sign_in_ends_the_count(archive: Archive) -> None:
    fail(archive, count=MOST_FAILURES - 1)
    archive.accounts.sign_in("nell", PASSWORD, "10.0.0.1")
    fail(archive, count=MOST_FAILURES - 1)
    archive.accounts.sign_in("nell", PASSWORD, "10.0.0.1")


def test_a_link_works_once(archive: Archive) -> None:
    token = archive.accounts.once_link()
    account = archive.accounts.use_link(token)
    assert account.role == "keeper"
    for used in (token, token[:-1], "", "x" * 43):
        with pytest.raises(NotAllowed, match="used already, or is too old"):
            archive.accounts.use_link(used)


def test_a_link_grows_old_and_is_not_kept_in_the_clear(archive: Archive, clock: Clock) -> None:
    token = archive.accounts.once_link()
    with archive.rooms.db.read() as connection:
        assert token not in str(connection.execute(text("SELECT * FROM once_link")).all())
    clock.later(LINK_S)
    with pytest.raises(NotAllowed):
        archive.accounts.use_link(token)
    assert archive.accounts.use_link(archive.accounts.once_link()).role == "keeper"


def test_the_keeper_on_this_machine_has_no_password(archive: Archive) -> None:
    archive.accounts.once_link()
    for password in ("", " ", "anything at all"):
        with pytest.raises(NotAllowed):
            archive.accounts.sign_in(module.LOCAL_KEEPER, password, "10.0.0.7")


@pytest.mark.parametrize("name", [module.LOCAL_KEEPER, f"  {module.LOCAL_KEEPER}", module.LOCAL_KEEPER.upper()])
def test_nobody_else_may_have_the_name_of_the_keeper_on_this_machine(archive: Archive, name: str) -> None:
    with pytest.raises((Clash, BadInput)):
        archive.accounts.add(cast.KEEPER, name, "reader", PASSWORD)
    assert archive.accounts.use_link(archive.accounts.once_link()).role == "keeper"


@pytest.mark.parametrize(
    ("name", "role", "password"),
    [("", "reader", PASSWORD), ("n" * 81, "reader", PASSWORD), ("ann", "owner", PASSWORD), ("ann", "reader", "too short")],
)
def test_what_an_account_needs(archive: Archive, name: str, role: str, password: str) -> None:
    with pytest.raises(BadInput):
        archive.accounts.add(cast.KEEPER, name, role, password)


def test_one_account_a_name(archive: Archive) -> None:
    with pytest.raises(Clash):
        archive.accounts.add(cast.KEEPER, "nell", "reader", PASSWORD)


@pytest.mark.parametrize("role", [Role.EDITOR, Role.READER])
def test_only_a_keeper_adds_and_lists_accounts(archive: Archive, role: Role) -> None:
    viewer = Viewer("x", role)
    with pytest.raises(NotAllowed):
        archive.accounts.add(viewer, "ann", "reader", PASSWORD)
    with pytest.raises(NotAllowed):
        archive.accounts.list(viewer)


def test_roles_of_every_service(cast_archive: Archive) -> None:
    """DESIGN §9: what a reader and an editor may not do is refused before anything is looked at."""
    a = cast_archive
    keeper_only = [
        lambda v: a.consent.withdraw(v, "N-21"), lambda v: a.consent.lift(v, 1, "so"), lambda v: a.records.list(v),
        lambda v: a.recordings.open_closed(v, "IV-21.1", "so"), lambda v: a.people.read(v, a.folder / "none.csv"),
        lambda v: a.consent.read(v, a.folder / "none.csv", a.folder / "none.csv"), lambda v: a.consent.read_closed(v, a.folder / "none.csv"),
    ]  # fmt: skip
    editors = [
        lambda v: a.ingest.take(v, [a.folder]), lambda v: a.ingest.findings(v), lambda v: a.transcribing.queue(v),
        lambda v: a.excerpts.list(v), lambda v: a.excerpts.choose(v, "IV-21.1", "lantern", "exhibition"),
        lambda v: a.excerpts.tick_heard(v, "EX-1"), lambda v: a.excerpts.set_aside(v, "EX-1"), lambda v: a.excerpts.read_heard(v, a.folder / "n.csv"),
        lambda v: a.exports.make(v, ["EX-1"], "exhibition"), lambda v: a.exports.queue(v, ["EX-1"], "exhibition"), lambda v: a.exports.report(v, 1),
        lambda v: a.exports.held_back(v, 1), lambda v: a.ingest.queue(v, [a.folder]), lambda v: a.sound_check.queue(v, "IV-21.1"), lambda v: a.jobs.one(v, 1),
        lambda v: a.exports.register(v), lambda v: a.exports.file(v, "OUT-0001", "x"),
        lambda v: a.people.list(v), lambda v: a.people.page(v, "N-21"), lambda v: a.jobs.list(v), lambda v: a.jobs.cancel(v, 1),
        lambda v: a.deciding.may(v, "IV-21.1@0-10", "team", cast.Way.WORDS), lambda v: a.consent.pause(v, "N-21"),
        lambda v: a.consent.seal(v, "IV-21.1", 0, 10, ""), lambda v: a.describing.decide(v, 1, "confirmed"), lambda v: a.describing.describe(v),
        lambda v: a.naming.waiting(v, "IV-21.1"), lambda v: a.naming.decide(v, "IV-21.1", 0, 10, "", "keep"),
        lambda v: a.recordings.assign(v, "IV-21.1", {}), lambda v: a.records.check(v),
    ]  # fmt: skip
    for viewer, acts in ((cast.READER, [*keeper_only, *editors]), (cast.EDITOR, keeper_only)):
        for number, act in enumerate(acts):
            with pytest.raises(NotAllowed, match="Only a"):
                act(viewer)
                pytest.fail(f"{viewer.role}: act {number} was let through")
