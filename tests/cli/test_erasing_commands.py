"""An erasure at the command line, from asking to the search of every byte; the log verified and written out."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from archive.app import Archive
from archive.cli.main import cli
from tests import cast
from tests.conftest import copy_of


def test_from_asking_to_the_proof(made_cast: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder, real = copy_of(made_cast, tmp_path / "archive"), Archive.open
    monkeypatch.setattr(Archive, "open", lambda path, *_: real(path, {}, cast.clock))

    def run(*words: str, who: str = "K-01", typed: str = "") -> Result:
        return CliRunner().invoke(cli, ["--as", who, "--archive", str(folder), *words], input=typed, prog_name="toldhere")

    assert run("accounts", "add", "K-02", "keeper", "--password", cast.PASSWORD).exit_code == 0
    asked = run("erase", "ask", "N-25", "--reason", "a letter", "--paper", "destroy").output
    assert "ER-1 is asked for, and N-25 is held." in asked and "IV-25.1: all of it" in asked and "Not legal advice" in asked
    assert run("erase", "now", "ER-1", "--yes").exit_code == 5
    assert run("erase", "agree", "ER-1", "--password", "wrong", who="K-02").exit_code == 4
    assert run("erase", "agree", "ER-1", "--password", cast.PASSWORD, who="K-02").exit_code == 0
    assert run("erase", "now", "ER-1", typed="n\n").exit_code == 1, "asked once more"
    done = run("erase", "now", "ER-1", typed="y\n")
    assert done.exit_code == 0 and "Memory cards" in done.output, done.output
    searched = run("check", "--erased", typed="Lena Fosse\n")
    assert searched.exit_code == 0 and "Nothing of what was erased was found" in searched.output
    (folder / "left.txt").write_text("Lena Fosse", encoding="utf-8")
    assert run("check", "--erased", typed="Lena Fosse\n").exit_code == 11
    audited = run("check", "--audit")
    assert audited.exit_code == 0 and "verified, from the first on; of " in audited.output
    assert run("log", "--to", str(tmp_path / "log.jsonl")).exit_code == 0
    assert json.loads((tmp_path / "log.jsonl").read_text(encoding="utf-8").splitlines()[0])["action"] == "archive made"
    assert run("check", "--audit", "--erased").exit_code == 2
    assert [row["state"] for row in json.loads(run("erase", "list", "--json").stdout)] == ["done"]
    assert run("erase", "again", str(folder / "erased.json")).output == "No erasures carried out again.\n"
