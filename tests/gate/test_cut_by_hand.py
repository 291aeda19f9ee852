"""Passages split and joined by a person: what they made stays when the recording is cut anew, transcribed anew, corrected; undone it is
as it was. Tags, excerpts and approvals follow by their words."""

from __future__ import annotations

import random
import secrets
from itertools import pairwise
from pathlib import Path

import pytest

from archive.app import Archive, Asked, LineAct
from archive.db import audit, describing, recordings, units
from archive.domain.values import Answer, Word
from archive.errors import BadInput, Clash, NotAllowed, NotFound
from tests import cast
from tests.cast import EDITOR, KEEPER, READER
from tests.conftest import copy_of

SAID = [
    "We mended nets and nets again on Net Row", "the needle and the twine and the nets all day", "in 1968 the flood came up Ropewalk",
    "water and flood water in every house", "and Walter Brine held the rope for us", "then the strike in 1974 at the cannery",
    "the strike was about the night crossings", "nobody was paid for the strike at all",
]  # fmt: skip
QUOTE = "in 1968 the flood came up Ropewalk"


def lines(shift_ms: int = 0, said: list[str] = SAID) -> list[tuple[str | None, list[Word]]]:
    """Eight utterances of ten seconds."""
    found: list[tuple[str | None, list[Word]]] = []
    for n, text in enumerate(said):
        at = 500 + n * 10_000 + shift_ms
        found.append(("N-21", [Word(t, at + k * 900, at + k * 900 + 800, 0.9) for k, t in enumerate(text.split())]))
    return found


@pytest.fixture(scope="module")
def told_once(made_cast: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """The cast with one more interview of a minute and a half."""
    base = tmp_path_factory.mktemp("told")
    archive = Archive.open(copy_of(made_cast, base / "archive"), {}, cast.clock)
    cast.sound(base / "IV-80.wav", 82, 80)
    (base / "recordings.csv").write_text("file,interview,part,recorded_on,participants\nIV-80.wav,IV-80,1,2025-02-01,N-21:narrator\n", encoding="utf-8")
    (found,) = [f for f in archive.ingest.take(EDITOR, [base / "IV-80.wav", base / "recordings.csv"]) if f.recording]
    cast.give_words(archive, found.recording, lines())
    excerpt = archive.excerpts.choose(EDITOR, found.recording, QUOTE, "exhibition")
    archive.excerpts.tick_heard(EDITOR, excerpt)
    archive.consent.approve(KEEPER, excerpt, "N-21", Answer.YES)
    archive.close()
    return base / "archive", found.recording


@pytest.fixture
def told(told_once: tuple[Path, str], tmp_path: Path) -> tuple[Archive, str]:
    return Archive.open(copy_of(told_once[0], tmp_path / "archive"), {}, cast.clock), told_once[1]


def begins(archive: Archive, code: str) -> list[int]:
    """Which utterances passages begin with, by number."""
    ids = [u.utterance_id for u in archive.recordings.page(KEEPER, code).shown.utterances]
    return [ids.index(p.utterance_id) for p in archive.cutting.passages(EDITOR, code).rows]


def utterance(archive: Archive, code: str, n: int) -> int:
    return archive.recordings.page(KEEPER, code).shown.utterances[n].utterance_id


def found(archive: Archive, words: str) -> list[tuple[int, int]]:
    """Stretches of this interview that Find answers with."""
    return sorted((h.start_ms, h.end_ms) for h in archive.finding.ask(READER, Asked(words)).hits if h.recording.startswith("IV-80"))


def follows(archive: Archive, code: str) -> tuple[object, ...]:
    """What must not change with a cut: tags by their words (themes are about passages), the excerpt, its approval and its ticks."""
    tags = [(t.start_ms, t.end_ms, t.kind, t.value, t.state) for t in archive.recordings.page(EDITOR, code).tags if t.kind != "theme" or t.state != "suggested"]
    quotes = [(e.code, e.shown and e.shown.words, e.words_may, e.heard, e.shown_sha256, e.start_ms, e.end_ms) for e in archive.excerpts.list(EDITOR)]
    return sorted(tags), quotes


def test_split_stays_and_is_found_apart_and_undone_it_is_as_before(told: tuple[Archive, str]) -> None:
    archive, code = told
    before, kept = begins(archive, code), follows(archive, code)
    archive.cutting.split(EDITOR, code, utterance(archive, code, 1))
    assert begins(archive, code)[:2] == [0, 1] and archive.cutting.passages(EDITOR, code).rows[1].by == EDITOR.name
    assert len(found(archive, "nets")) == 2 and follows(archive, code) == kept
    archive.describing.describe(EDITOR, code)
    assert begins(archive, code)[:2] == [0, 1]
    assert archive.cutting.undo(EDITOR, code) == "split"
    assert begins(archive, code) == before and len(found(archive, "nets")) == 1
    with pytest.raises(NotFound):
        archive.cutting.undo(EDITOR, code)
    with archive.rooms.db.read() as connection:
        assert [len(audit.of_action(connection, a)) for a in ("passage split", "passage cut undone")] == [1, 1]


def test_joined_they_stay_one_however_long_and_come_apart_again(told: tuple[Archive, str]) -> None:
    archive, code = told
    for n in (1, 2, 3):
        archive.cutting.split(EDITOR, code, utterance(archive, code, n))
    three = begins(archive, code)
    archive.cutting.join(EDITOR, code, utterance(archive, code, 2))
    assert begins(archive, code) == [n for n in three if n != 2]
    assert len(found(archive, "flood")) == 2  # 2 with 1, and 3 by itself
    archive.describing.describe(EDITOR, code)
    assert begins(archive, code) == [n for n in three if n != 2]
    assert archive.cutting.undo(EDITOR, code) == "joined" and begins(archive, code) == three


def test_they_stand_where_their_words_are_now(told: tuple[Archive, str]) -> None:
    """Heard anew 700 ms later, with another word and two lines heard as one; and corrected at the desk."""
    archive, code = told
    archive.cutting.split(EDITOR, code, utterance(archive, code, 3))
    archive.cutting.split(EDITOR, code, utterance(archive, code, 5))
    cast.give_words(archive, code, lines(700, [*SAID[:2], "in 1968 a flood came up Ropewalk", *SAID[3:]]))
    assert {3, 5} <= set(begins(archive, code))
    assert [p.by for p in archive.cutting.passages(EDITOR, code).rows if p.start_ms == 31_200] == [EDITOR.name]
    newest = lines(700)
    cast.give_words(archive, code, [newest[0], (newest[1][0], newest[1][1] + newest[2][1]), *newest[3:]])
    assert {2, 4} <= set(begins(archive, code))
    line = archive.correcting.lines(EDITOR, code)[0][2]
    archive.correcting.change(EDITOR, code, LineAct("type", (line.key,), "sea water and flood water in every house"), secrets.token_hex(8))
    archive.correcting.finish(EDITOR, code)
    assert {2, 4} <= set(begins(archive, code)) and archive.cutting.undo(EDITOR, code) == "split"


def test_bad_input_changes_nothing(told: tuple[Archive, str]) -> None:
    archive, code = told
    first = utterance(archive, code, 0)
    before = begins(archive, code)
    for wrong, act, which in (
        (BadInput, archive.cutting.split, first), (BadInput, archive.cutting.join, first), (Clash, archive.cutting.split, 10**9),
        (BadInput, archive.cutting.join, utterance(archive, code, 1)),
    ):  # fmt: skip
        with pytest.raises(wrong):
            act(EDITOR, code, which)
    with pytest.raises(NotAllowed):
        archive.cutting.split(READER, code, utterance(archive, code, 1))
    with pytest.raises(NotFound):
        archive.cutting.split(EDITOR, "IV-99.1", first)
    assert begins(archive, code) == before
    sealed = cast.recording_of("N-23")
    with pytest.raises(Clash):
        archive.cutting.split(EDITOR, sealed, archive.recordings.page(KEEPER, sealed).shown.utterances[0].utterance_id)


def test_whatever_is_cut_all_of_it_can_be_undone_and_everything_follows(told: tuple[Archive, str]) -> None:
    """Ten acts drawn at random (always the same ones); then all of them are taken back."""
    archive, code = told
    chance, before, done = random.Random(4), begins(archive, code), 0
    kept = follows(archive, code)
    for _ in range(10):
        try:
            (archive.cutting.split if chance.random() < 0.6 else archive.cutting.join)(EDITOR, code, utterance(archive, code, chance.randint(1, 7)))
            done += 1
        except BadInput:
            pass  # a passage begins there already, or none does
        _whole(archive, code)
    assert done > 4 and follows(archive, code) == kept
    for _ in range(done):
        archive.cutting.undo(EDITOR, code)
    assert begins(archive, code) == before and follows(archive, code) == kept


def _whole(archive: Archive, code: str) -> None:
    """Passages hold every utterance once; the index agrees with them and every tag that is not rejected has its unit."""
    with archive.rooms.db.read() as connection:
        row = recordings.named(connection, code)
        passages, made = units.passages(connection, row.id), units.units_of(connection, row.id)
        assert units.index_faults(connection) == []
        tagged = {t.id for some in units.tags_of_units(connection, [u.id for u in made]).values() for t in some}
        assert tagged == {t.id for t in describing.tags_of(connection, row.id) if t.state != "rejected"}
    assert all(a.end_ms <= b.start_ms for a, b in pairwise(passages)) and len(begins(archive, code)) == len(passages)
    assert [(u.start_ms, u.end_ms) for u in made] == [(p.start_ms, p.end_ms) for p in passages]
