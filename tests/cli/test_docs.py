"""README and the guide are true: the first two blocks, every command, every setting."""

from __future__ import annotations

import re
from dataclasses import fields
from pathlib import Path

import click

from archive.cli.main import cli
from archive.settings import Settings

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_the_first_two_blocks_are_the_two_commands() -> None:
    blocks = re.findall(r"```sh\n(.*?)```", README, re.S)
    assert blocks[0] == "python3 -m venv .venv && . .venv/bin/activate && pip install -e '.[demo]' && toldhere demo\n"
    assert blocks[1] == ". .venv/bin/activate && pip install -e '.[test]' && pytest\n"


def test_every_command_is_in_the_docs() -> None:
    context = click.Context(cli)
    for name in cli.list_commands(context):
        assert re.search(rf"`{name}\b|toldhere {name}\b|· `{name}", README + GUIDE), name


def test_the_walk_uses_commands_that_exist() -> None:
    context = click.Context(cli)
    for line in re.findall(r"^toldhere (.*)$", README, re.M):
        parts = line.split()
        command = cli.get_command(context, parts[0])
        assert command is not None, line
        if isinstance(command, click.Group):
            assert command.get_command(context, parts[1]) is not None, line


def test_every_setting_is_in_the_guide() -> None:
    for field in fields(Settings):
        assert re.search(rf"\b{field.name}\b", GUIDE), field.name


def test_what_a_reader_must_be_told_is_told() -> None:
    for caution in ("No record means no", "not legal advice", "GPL", "cannot recall what was printed"):
        assert caution.casefold() in README.casefold()
