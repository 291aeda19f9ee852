"""Upkeep: jobs, checks, the log of who did what, accounts."""

from __future__ import annotations

import sys

import click

from archive.cli.desk import MOST, Desk, desk, json_option, say, say_json, table
from archive.domain.values import Role


@click.command()
@click.option("--fixity", is_flag=True, help="Read every master again and compare its checksum.")
@click.option("--noted", default="", help="The checksum that you noted down at an earlier check: is that entry still there?")
@json_option
@desk
def check(at: Desk, fixity: bool, noted: str, as_data: bool) -> None:
    """Is the archive whole? The log, the index, and with --fixity every master."""
    faults = at.archive.records.check(at.viewer, fixity, noted)
    if as_data:
        say_json(faults)
    else:
        for fault in faults:
            say(fault)
        if not faults:
            say("Whole." if fixity else "Whole (masters not read; add --fixity).")
            number, checksum = at.archive.records.newest(at.viewer)
            say(f"The log's newest entry is {number}, checksum {checksum[:16]}. Note it down outside this computer; next time: check --noted {checksum[:16]}")
    if faults:
        sys.exit(11)


@click.command()
@click.option("--limit", default=50, type=click.IntRange(1, MOST), help="How many entries, the newest first.")
@json_option
@desk
def log(at: Desk, limit: int, as_data: bool) -> None:
    """What was done, by whom, when. Ids and counts, never names or words."""
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
    rows = [(a.name, a.role) for a in at.archive.accounts.list(at.viewer)]
    if as_data:
        say_json(rows)
    else:
        table("", ("name", "role"), rows)


COMMANDS = (check, log, accounts)
