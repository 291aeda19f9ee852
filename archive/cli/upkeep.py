"""Upkeep: jobs, checks, the log of who did what, accounts."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path

import click

from archive.app import phrases
from archive.cli.desk import MOST, Desk, desk, json_option, say, say_aside, say_json, table, warn, write_new
from archive.domain.values import Role


@click.command()
@click.option("--fixity", is_flag=True, help="Read every master and its second copy again and compare their checksums.")
@click.option("--for", "minutes", default=0, type=click.IntRange(0, MOST), help="With --fixity: stop after so many minutes; the next check goes on.")
@click.option("--mend", is_flag=True, help="With --fixity: replace a damaged copy by the other, where that one is whole.")
@click.option("--noted", default="", help="The checksum that you noted down at an earlier check: is that entry still there?")
@click.option("--audit", "audit_only", is_flag=True, help="The log alone, verified from its first entry.")
@click.option("--erased", "erased_only", is_flag=True, help="Search the raw bytes of the whole folder for what was erased. You are asked for names to look for.")
@json_option
@desk
def check(at: Desk, fixity: bool, minutes: int, mend: bool, noted: str, audit_only: bool, erased_only: bool, as_data: bool) -> None:
    """Is the archive whole? The log, the index, and with --fixity both copies of every recording."""
    if (minutes or mend) and not fixity:
        raise click.UsageError("--for and --mend go with --fixity.")
    if audit_only + erased_only + fixity > 1 or (noted and (audit_only or erased_only)):
        raise click.UsageError("--audit, --erased and --fixity are three checks: give one at a time.")
    if audit_only:
        faults, verified = at.archive.records.check_log(at.viewer)
        _told(faults, as_data, verified)
    elif erased_only:
        _told(at.archive.erasures.search(at.viewer, _names()), as_data, "Nothing of what was erased was found in the bytes of this folder.")
    else:
        _check_all(at, fixity, minutes, mend, noted, as_data)


def _names() -> list[str]:
    """Names to look for, which are kept nowhere: asked for at the keyboard, where there is one, so that no history of commands has them."""
    if not sys.stdin.isatty():
        return [line.strip() for line in sys.stdin]
    return click.prompt("Names to look for as well, parted by semicolons (Enter: none)", default="", show_default=False, hide_input=True).split(";")


def _told(faults: Sequence[str], as_data: bool, whole: str) -> None:
    if as_data:
        say_json(faults)
    else:
        for words in faults or (whole,):
            say(words)
    if faults:
        sys.exit(11)


def _check_all(at: Desk, fixity: bool, minutes: int, mend: bool, noted: str, as_data: bool) -> None:
    faults = at.archive.records.check(at.viewer, False, noted)
    read = at.archive.copies.check(at.viewer, minutes, mend, say_aside) if fixity else None
    faults += read.faults if read else ()
    warn(at.archive)
    if as_data:
        say_json(faults)
    else:
        for words in (*faults, *(read.mended + read.notes if read else ())):
            say(words)
        if not faults:
            say(_whole(read.read, read.left, read.notes) if read else "Whole (masters not read; add --fixity).")
            number, checksum = at.archive.records.newest(at.viewer)
            say(f"The log's newest entry is {number}, checksum {checksum[:16]}. Note it down outside this computer; next time: check --noted {checksum[:16]}")
    if faults:
        sys.exit(11)


def _whole(read: int, left: int, notes: Sequence[str]) -> str:
    return f"Whole, as far as it was read: {phrases.many(read, 'file')} of {read + left}." if notes else "Whole."


@click.command()
@click.option("--limit", default=50, type=click.IntRange(1, MOST), help="How many entries, the newest first.")
@click.option("--to", type=click.Path(path_type=Path), help="Write the whole log to this new file, to be verified elsewhere: a JSON object a line.")
@json_option
@desk
def log(at: Desk, limit: int, to: Path | None, as_data: bool) -> None:
    """What was done, by whom, when. Ids and counts, never names or words."""
    if to is not None:
        say(f"{phrases.begin(phrases.many(at.archive.records.write_log(at.viewer, to), 'entry', 'entries'))} written to {to}.")
        return
    rows = at.archive.records.list(at.viewer, limit)
    if as_data:
        say_json(rows)
    else:
        table("", ("", "at", "who", "what", "on"), [(r.id, r.at, r.actor, r.action, r.subject) for r in rows])


@click.group()
def accounts() -> None:
    """Who may sign in to the pages."""


@accounts.command("add")
@click.argument("name")
@click.argument("role", type=click.Choice([r.value for r in Role]))
@click.password_option()
@desk
def accounts_add(at: Desk, name: str, role: str, password: str) -> None:
    """Add somebody. The password is asked for."""
    at.archive.accounts.add(at.viewer, name, role, password)
    say("Added.")


@accounts.command("password")
@click.argument("name")
@click.password_option()
@desk
def accounts_password(at: Desk, name: str, password: str) -> None:
    """Give somebody a new password. Whoever is signed in by the old one is signed out."""
    at.archive.accounts.change_password(at.viewer, name, password)
    say("Changed.")


@accounts.command("close")
@click.argument("name")
@desk
def accounts_close(at: Desk, name: str) -> None:
    """Close an account: nobody signs in with it any more."""
    at.archive.accounts.close(at.viewer, name)
    say("Closed.")


@accounts.command("list")
@json_option
@desk
def accounts_list(at: Desk, as_data: bool) -> None:
    """Everybody who may sign in."""
    rows = at.archive.accounts.list(at.viewer)
    if as_data:
        say_json(rows)
    else:
        cells = [(a.name, a.role, "kept" if a.undertaken else "none", ", ".join(a.closed), ", ".join(a.assigned)) for a in rows]
        table("", ("name", "role", "undertaking", "not to be opened", "assigned"), cells)


@accounts.command("shut")
@click.argument("name")
@click.argument("person")
@desk
def accounts_shut(at: Desk, name: str, person: str) -> None:
    """PERSON (N-05) is not to be opened by the account NAME: neither speech nor names nor papers."""
    at.archive.accounts.close_to(at.viewer, name, person)
    say("On record. It holds from the next request on.")


@accounts.command("unshut")
@click.argument("name")
@click.argument("person")
@desk
def accounts_unshut(at: Desk, name: str, person: str) -> None:
    """Let the account NAME open PERSON again, as far as its role does."""
    at.archive.accounts.open_to(at.viewer, name, person)
    say("On record.")


@accounts.command("assign")
@click.argument("name")
@click.argument("recording")
@click.option("--back", is_flag=True, help="Take it back; what was typed stays.")
@desk
def accounts_assign(at: Desk, name: str, recording: str, back: bool) -> None:
    """Let the helper NAME read, hear, type and translate RECORDING (TW-01.1), and nothing else."""
    (at.archive.accounts.take_back if back else at.archive.accounts.assign)(at.viewer, name, recording)
    say("Taken back." if back else "Assigned.")


@accounts.command("envelope")
@click.option("--to", type=click.Path(path_type=Path), help="A new file, or a folder; here where nothing is named.")
@desk
def accounts_envelope(at: Desk, to: Path | None) -> None:
    """Print the sheet for a sealed envelope: what to do when the keeper is gone (PDF)."""
    made = at.archive.accounts.envelope(at.viewer)
    say(f"Written: {write_new(to, made.name, made.data)}. Fill it in by hand, seal it, sign over the flap, lock it away.")


COMMANDS = (check, log, accounts)
