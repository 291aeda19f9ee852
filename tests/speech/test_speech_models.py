"""Models: assembled and summed once, added from a folder, fetched from a stand-in for the public hub (it cannot be
reached from here, so the real one is not tested)."""

from __future__ import annotations

import hashlib
import http.server
import json
import os
import threading
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from archive.errors import BadInput, Clash, ModelMissing, NotFound
from archive.speech import models

REVISION = "0123456789abcdef0123456789abcdef01234567"
FILES = {
    "model.bin": b"weights " * 5_000,
    "config.json": b'{"model": 1}',
    "tokenizer.json": b'{"tokens": []}',
    "vocabulary.json": b"[]",
    "README.md": b"not needed",
}


def sha256(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A model's folder as somebody might bring it."""
    path = tmp_path / "given"
    path.mkdir()
    for name, data in FILES.items():
        (path / name).write_bytes(data)
    return path


def test_base_is_put_together_from_two_packages_and_summed(base_model: models.ModelFolder) -> None:
    """The sums that were tested (SPEECH.md), read again here from the file."""
    with open(base_model.path / "model.bin", "rb") as stream:
        found = hashlib.file_digest(stream, "sha256").hexdigest()
    assert found == base_model.model_sha256 == "905e5bf8336bcc625ba4e33498d675a4b935504118c594d868c36e91a60c1a57"
    assert (base_model.path / "model.bin").stat().st_size == 145_217_607


def test_later_calls_do_not_sum_again(base_model: models.ModelFolder, monkeypatch: pytest.MonkeyPatch) -> None:
    def summed(*_: object) -> None:
        raise AssertionError("summed again")

    monkeypatch.setattr(models.hashlib, "file_digest", summed)
    assert models.find("base", base_model.path.parent) == base_model


def test_a_missing_model_says_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(ModelMissing) as caught:
        models.find("small", tmp_path)
    assert caught.value.exit_code == 8 and "models fetch" in caught.value.remedy


@pytest.mark.parametrize("name", ["", "..", "a/b", "Base", "-x", "a" * 41])
def test_a_name_that_could_be_a_path_is_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(BadInput):
        models.find(name, tmp_path)


def test_a_package_whose_bytes_differ_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    entry = replace(models.CATALOGUE["base"], sums=models.CATALOGUE["base"].sums | {"config.json": "0" * 64})
    monkeypatch.setitem(models.CATALOGUE, "base", entry)
    with pytest.raises(BadInput, match="checksum"):
        models.find("base", tmp_path / "models")
    assert list((tmp_path / "models").iterdir()) == [], "nothing half is left"


def test_a_folder_is_checked_and_copied(folder: Path, tmp_path: Path) -> None:
    room = tmp_path / "models"
    added = models.add("ours", folder, room)
    assert added.model_sha256 == sha256(FILES["model.bin"]) and added.path == room / "ours"
    assert sorted(p.name for p in added.path.iterdir()) == [
        "config.json", "model.bin", "model.json", "tokenizer.json", "vocabulary.json",
    ]  # fmt: skip
    assert models.find("ours", room) == added
    with pytest.raises(Clash):
        models.add("ours", folder, room)
    assert [line.state for line in models.listed(room) if line.name == "ours"] == ["here"]


@pytest.mark.parametrize("lost", ["model.bin", "tokenizer.json", "config.json", "vocabulary.json"])
def test_a_folder_that_lacks_something_is_refused(folder: Path, tmp_path: Path, lost: str) -> None:
    (folder / lost).unlink()
    with pytest.raises(BadInput, match=lost):
        models.add("ours", folder, tmp_path / "models")


def test_a_folder_with_a_broken_file_or_a_known_name_is_refused(folder: Path, tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="checksum"):
        models.add("base", folder, tmp_path / "models")
    (folder / "tokenizer.json").write_text("{", encoding="utf-8")
    with pytest.raises(BadInput, match="JSON"):
        models.add("ours", folder, tmp_path / "models")
    with pytest.raises(BadInput):
        models.add("ours", tmp_path / "nothing", tmp_path / "models")


def test_a_model_that_changed_is_not_loaded(folder: Path, tmp_path: Path) -> None:
    added = models.add("ours", folder, tmp_path / "models")
    time_ns = (added.path / "model.bin").stat().st_mtime_ns + 10**9
    os.utime(added.path / "model.bin", ns=(time_ns, time_ns))
    assert models.find("ours", tmp_path / "models") == added, "moved with the archive: same bytes, another time"
    (added.path / "model.bin").write_bytes(b"other weights")
    with pytest.raises(ModelMissing, match="changed"):
        models.find("ours", tmp_path / "models")


def test_the_list_names_every_model_with_size_and_licence(tmp_path: Path) -> None:
    lines = {line.name: line for line in models.listed(tmp_path)}
    assert set(lines) == set(models.CATALOGUE)
    assert lines["base"].state == "in a package" and lines["small"].state == "not here"
    assert all(line.bytes > 10**7 and line.licence and line.languages for line in lines.values())


class StandIn(http.server.BaseHTTPRequestHandler):
    """As much of the hub as a fetch needs: the list of files with their sums, and the files."""

    served: dict[str, bytes] = FILES
    promised: dict[str, bytes] = FILES
    asked: list[str] = []

    def log_message(self, format: str, *args: object) -> None:
        """Say nothing."""

    def _answer(self, with_body: bool) -> None:
        StandIn.asked.append(self.path)
        if self.path.startswith("/api/models/"):
            siblings = [
                {
                    "rfilename": n,
                    "size": len(d),
                    **({"lfs": {"sha256": sha256(d), "size": len(d), "pointerSize": 1}} if n == "model.bin" else {}),
                }
                for n, d in self.promised.items()
            ]
            self._send(
                json.dumps({"id": "x", "sha": REVISION, "siblings": siblings}).encode(), "application/json", with_body
            )
            return
        name = self.path.rsplit("/", 1)[1]
        if f"/resolve/{REVISION}/" not in self.path or name not in self.served:
            self.send_error(404)
            return
        self._send(self.served[name], "application/octet-stream", with_body)

    def _send(self, body: bytes, kind: str, with_body: bool) -> None:
        self.send_response(200)
        self.send_header("Content-Type", kind)
        self.send_header("Content-Length", str(len(body)))
        self.send_header("ETag", f'"{sha256(body)}"')
        self.send_header("X-Repo-Commit", REVISION)
        self.end_headers()
        if with_body:
            self.wfile.write(body)

    def do_GET(self) -> None:
        """A file or the list."""
        self._answer(True)

    def do_HEAD(self) -> None:
        """The same without its body."""
        self._answer(False)


@pytest.fixture
def hub(monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """A stand-in on this machine; its address."""
    monkeypatch.setattr(StandIn, "served", dict(FILES))
    monkeypatch.setattr(StandIn, "promised", dict(FILES))
    monkeypatch.setattr(StandIn, "asked", [])
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), StandIn)
    thread = threading.Thread(target=server.serve_forever, args=(0.05,), daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.server_address[1]}"
    server.shutdown()
    server.server_close()
    thread.join()


def leftovers(room: Path) -> list[str]:
    return [p.name for p in room.iterdir()] if room.is_dir() else []


def test_a_fetch_says_what_it_brings_and_asks(hub: str, tmp_path: Path) -> None:
    asked: list[str] = []

    def yes(question: str) -> bool:
        asked.append(question)
        return True

    found = models.fetch("small", tmp_path, yes, endpoint=hub)
    assert found.model_sha256 == sha256(FILES["model.bin"])
    assert REVISION in found.source and REVISION in asked[0]
    assert "MIT" in asked[0] and "MB" in asked[0] and "knows no checksum" in asked[0]
    assert models.find("small", tmp_path) == found
    assert leftovers(tmp_path) == ["small"]
    assert not (found.path / "README.md").exists()
    assert all(REVISION in path for path in StandIn.asked if "/resolve/" in path), "every file of one revision"


def test_no_means_that_nothing_is_downloaded(hub: str, tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="Nothing was fetched"):
        models.fetch("small", tmp_path, lambda question: False, endpoint=hub)
    assert [p for p in StandIn.asked if "/resolve/" in p] == [] and leftovers(tmp_path) == []


def test_weights_other_than_promised_are_refused(hub: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(StandIn, "served", FILES | {"model.bin": b"others! " * 5_000})
    with pytest.raises(BadInput, match="checksum"):
        models.fetch("small", tmp_path, lambda question: True, endpoint=hub)
    assert leftovers(tmp_path) == []


def test_base_from_the_hub_must_have_the_known_sums(hub: str, tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="checksum"):
        models.fetch("base", tmp_path, lambda question: "knows" in question, endpoint=hub)
    assert leftovers(tmp_path) == []


def test_an_incomplete_offer_is_refused(hub: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(StandIn, "promised", {"model.bin": FILES["model.bin"]})
    with pytest.raises(ModelMissing, match="complete"):
        models.fetch("small", tmp_path, lambda question: True, endpoint=hub)


def test_only_the_catalogue_can_be_fetched(tmp_path: Path, folder: Path) -> None:
    with pytest.raises(NotFound):
        models.fetch("anything", tmp_path, lambda question: True, endpoint="http://127.0.0.1:9")
    models.add("medium", folder, tmp_path)
    with pytest.raises(Clash):
        models.fetch("medium", tmp_path, lambda question: True, endpoint="http://127.0.0.1:9")


def test_without_a_network_it_says_so_soon(tmp_path: Path) -> None:
    begun = time.monotonic()
    with pytest.raises(ModelMissing) as caught:
        models.fetch("small", tmp_path, lambda question: True, endpoint="http://127.0.0.1:9")
    assert "online" in caught.value.remedy and time.monotonic() - begun < 20
