"""Names planted in every place of every kind of file that may leave, in many spellings, and innocent files of each kind."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from archive.gate import scan_pdf, scan_pdf_child
from archive.gate.scan import A_NAME, KINDS, matcher_for, scan_with
from tests.gate import planting_pdf, planting_pictures, planting_sound
from tests.gate.planting import NAMES, PLACES, QUIET
from tests.gate.planting_sound import plain

MATCHER = matcher_for(NAMES)
LEAST = 25
ALL = [(kind, place) for kind in sorted(PLACES) for place in PLACES[kind]]
# Refused because it cannot be read at all, which is as good: nothing leaves.
REFUSED = {
    (".opus", "a stream of words"), (".ogg", "a stream of words"), (".opus", "between pages"), (".ogg", "between pages"),
    (".wav", "behind the last chunk"), (".zip", "own head of a member"), (".png", "behind the end"), (".png", "a second picture behind the end"),
}  # fmt: skip


@pytest.fixture
def here(monkeypatch: pytest.MonkeyPatch) -> None:
    """PDFs are read in this process: a child for each of a thousand files would take minutes. test_scan_hostile uses the child."""
    monkeypatch.setattr(scan_pdf, "in_child", scan_pdf_child.read)


def test_every_kind_has_at_least_25_places() -> None:
    """A new kind without places of its own fails here."""
    assert set(PLACES) == set(KINDS)
    assert {kind: len(places) for kind, places in PLACES.items() if len(places) < LEAST} == {}


@pytest.mark.usefixtures("here")
@pytest.mark.parametrize(("kind", "place"), ALL, ids=[f"{k[1:]}-{p}" for k, p in ALL])
def test_a_name_is_caught_there_however_it_is_spelled(tmp_path: Path, kind: str, place: str) -> None:
    """The finding says a name is there (not only that something cannot be read), where, and never the name."""
    spot = PLACES[kind][place]
    assert spot.spellings
    number = ALL.index((kind, place))  # every spelling in every third place or so; all of them in all would take minutes
    chosen = [text for n, text in enumerate(spot.spellings) if n == 0 or len(spot.spellings) < 6 or (n + number) % 3 == 0]
    for text in chosen:
        found = scan_with(MATCHER, spot.build(tmp_path, text))
        whats = [f.what for f in found]
        assert A_NAME in whats or ((kind, place) in REFUSED and whats), f"{text!r}: {found}"
        assert not any(re.search("coyle|lena|marsh|крук", f.sentence().lower()) for f in found)


@pytest.mark.usefixtures("here")
@pytest.mark.parametrize(("kind", "place"), ALL, ids=[f"{k[1:]}-{p}" for k, p in ALL])
def test_innocent_words_may_stand_there(tmp_path: Path, kind: str, place: str) -> None:
    """The same files with another person's name in them pass, so that it was the name that was found."""
    spot = PLACES[kind][place]
    text = "Maud" if " " not in spot.spellings[0] else "Maud Ellery"
    found = scan_with(MATCHER, spot.build(tmp_path, text))
    assert found == [] or ((kind, place) in REFUSED and all(f.what != A_NAME for f in found)), found


@pytest.mark.parametrize("kind", [".wav", ".mp3", ".m4a", ".flac", ".opus", ".ogg"])
def test_plain_sound_passes(tmp_path: Path, kind: str) -> None:
    path = tmp_path / f"clip-01{kind}"
    path.write_bytes(plain(kind))
    assert scan_with(MATCHER, path) == []


def test_other_plain_files_pass(tmp_path: Path) -> None:
    for name, data in (("a.png", planting_pictures.png()), ("a.pdf", planting_pdf.pdf()), ("b.pdf", planting_pdf._by_fpdf(lambda *_: None)(QUIET))):
        (tmp_path / name).write_bytes(data)
        assert scan_with(MATCHER, tmp_path / name) == [], name
    assert planting_sound.id3()  # the builders are loaded, whoever runs this file alone
