"""Sending a file from a real Chromium: the connection breaks, the page is loaded again, the same file goes on."""

from __future__ import annotations

import hashlib
import re
from pathlib import Path

from playwright.sync_api import Route, expect

from archive.app import Archive
from archive.domain.pieces import PIECE_BYTES
from tests.browser.conftest import Visitor
from tests.lease import worked
from tests.webui.conftest import archive  # noqa: F401  fixture
from tests.webui.test_take_in import large
from tests.webui.town import EDITOR

# FIPS 180-4 examples "abc" and the two-block message, as NIST's example values give them (from memory); hashlib for the rest
ABC = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_the_page_s_own_sum_is_sha256(visit: Visitor) -> None:
    """`sha256.js`, fed in uneven bits, beside hashlib."""
    page = visit("E-01").go("/take-in")
    sums = page.evaluate(
        """async (lengths) => {
            const { Sum, sumOf } = await import("/static/js/sha256.js");
            const text = new TextEncoder().encode("abc");
            const found = [new Sum().add(text).hex(), await sumOf(text)];
            for (const length of lengths) {
                const bytes = Uint8Array.from({ length }, (_, i) => (i * 31 + 7) & 255);
                const sum = new Sum();
                for (let at = 0, step = 1; at < length; at += step, step = (step * 3) % 101 + 1) sum.add(bytes.subarray(at, Math.min(length, at + step)));
                found.push(sum.hex());
            }
            return found;
        }""",
        [0, 1, 55, 56, 63, 64, 65, 119, 1000, 100_003],
    )
    assert sums[:2] == [ABC, ABC]
    for length, found in zip([0, 1, 55, 56, 63, 64, 65, 119, 1000, 100_003], sums[2:], strict=True):
        assert found == hashlib.sha256(bytes((i * 31 + 7) & 255 for i in range(length))).hexdigest(), length


def test_a_broken_connection_and_a_reload_lose_nothing(visit: Visitor, archive: Archive, tmp_path: Path) -> None:  # noqa: F811
    """By keyboard: choose, send; after two pieces the network is gone; the page is loaded again and the same file chosen."""
    path = large(tmp_path / "REC1.wav", 3.2)
    came = visit("E-01")
    page = came.go("/take-in")
    sent: list[int] = []

    def two_pieces(route: Route) -> None:
        if len(sent) == 2:
            route.abort("connectionfailed")
            return
        sent.append(int(re.search(r"/(\d+)\.json", route.request.url)[1]))  # type: ignore[index]
        route.continue_()

    page.route(re.compile(r"/uploads/[0-9a-f]{32}/\d+\.json"), two_pieces)
    page.set_input_files("#files", path)
    page.focus("#send button.main")
    page.keyboard.press("Enter")
    line = page.locator("#going .sending")
    expect(line).to_contain_text("No connection to the archive. Trying again in", timeout=60_000)
    expect(page.locator("#spoken")).to_contain_text("REC1.wav: No connection")
    assert sent == [0, 1] and archive.recordings.list(EDITOR) == before(archive)
    page.on("dialog", lambda dialog: dialog.accept())  # the page asks whether to leave while a file is on its way
    again: list[int] = []
    page.on("request", lambda r: again.append(int(m[1])) if (m := re.search(r"/uploads/[0-9a-f]{32}/(\d+)\.json", r.url)) else None)
    page.reload()
    page.unroute_all(behavior="ignoreErrors")
    again.clear()
    expect(page.locator("#sent")).to_contain_text("Sent in part: 2 of 4 pieces")
    notes = tmp_path / "REC1.txt"
    notes.write_text("At the quay, windy.", encoding="utf-8")
    page.set_input_files("#files", [path, notes])
    page.click("#send button.main")
    expect(page.locator("#together")).to_contain_text("Our own computer checks", timeout=30_000)
    assert again == [2, 3, 0], "only what was missing is sent, and what lies beside it"
    assert "2 files taken" in worked(archive)
    expect(page.locator("#going .sending").first).to_contain_text("Kept beside it: REC1.txt", timeout=15_000)
    expect(page.locator("#going .sending").last).to_contain_text("Kept beside REC1.wav", timeout=15_000)
    expect(page.locator("#going a")).to_be_visible()
    master = next((archive.folder / "masters").glob(f"??/{hashlib.sha256(path.read_bytes()).hexdigest()}*"))
    assert master.stat().st_size == path.stat().st_size > 3 * PIECE_BYTES
    assert not [c for c in came.complaints if "ERR_CONNECTION_FAILED" not in c], came.complaints


def test_another_file_of_the_same_name_is_sent_beside_it(visit: Visitor, archive: Archive, tmp_path: Path) -> None:  # noqa: F811
    """The first piece is the same (both begin alike), a later one is not: told by its sum, both come whole."""
    first = large(tmp_path / "REC1.wav", 2.2)
    data = bytearray(first.read_bytes())
    key, _ = archive.uploads.begin(EDITOR, "REC1.wav", len(data), hashlib.sha256(data[:PIECE_BYTES]).hexdigest())
    for n in (0, 1):
        piece = bytes(data[n * PIECE_BYTES : (n + 1) * PIECE_BYTES])
        archive.uploads.put(EDITOR, key, n, hashlib.sha256(piece).hexdigest(), piece)
    data[PIECE_BYTES + 1000] ^= 1
    other = tmp_path / "other" / "REC1.wav"
    other.parent.mkdir()
    other.write_bytes(data)
    page = visit("E-01").go("/take-in")
    page.set_input_files("#files", other)
    page.click("#send button.main")
    expect(page.locator("#together")).to_contain_text("Our own computer checks", timeout=30_000)
    assert "Taken as" in worked(archive)
    rows = {u.key: u.state for u in archive.uploads.list(EDITOR)}
    assert rows[key] == "open" and sorted(rows.values()) == ["open", "taken"]


def test_it_fits_a_telephone_and_is_said_to_a_screen_reader(visit: Visitor) -> None:
    page = visit("E-01", width=390, height=800).go("/take-in")
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    assert page.locator("#spoken").get_attribute("aria-live") == "polite"
    page.click("#send button.main")
    expect(page.locator("#spoken")).to_have_text("Choose files first.")
    assert page.evaluate("document.activeElement.id") == "files"


def before(archive: Archive) -> object:  # noqa: F811
    """The town's recordings and nothing else."""
    return tuple(r for r in archive.recordings.list(EDITOR) if r.code.startswith("TW-"))
