"""Confirming: yes, no, another value; the same evidence once for all; everything of the hour taken back; what is closed is not offered."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from archive.app import Archive, Asked, PickedTag
from archive.db import audit
from archive.domain.cleared import ShownEvidence
from archive.errors import BadInput, Clash, NotAllowed, NotFound
from tests import cast
from tests.cast import EDITOR, KEEPER, READER

OTHER = replace(EDITOR, name="E-02")


def waiting(archive: Archive, order: str = "needed", kind: str = "", recording: str = "") -> list[ShownEvidence]:
    return list(archive.confirming.waiting(EDITOR, order, kind, recording, 500)[0])


def picked(one: ShownEvidence) -> PickedTag:
    return PickedTag(one.tag.tag_id, one.seen)


def states(archive: Archive) -> dict[int, tuple[object, ...]]:
    """Every tag that a keeper may read: what is said of it and who decided."""
    return {
        t.tag_id: (t.kind, t.value, t.state, t.by, t.at, t.evidence)
        for row in archive.recordings.list(KEEPER) for t in archive.recordings.page(KEEPER, row.code).tags
    }  # fmt: skip


def the(archive: Archive, kind: str, value: str) -> ShownEvidence:
    return next(one for one in waiting(archive, kind=kind) if one.tag.value == value)


def facet(archive: Archive, kind: str) -> dict[str, int]:
    return dict(archive.finding.ask(EDITOR, Asked("")).facets[kind])


def test_yes_no_and_another_value_with_who_and_when(cast_archive: Archive) -> None:
    archive = cast_archive
    place, year = the(archive, "place", "Net Row"), the(archive, "date", "1968")
    archive.confirming.decide(EDITOR, [picked(place)], "confirmed")
    archive.confirming.say(OTHER, picked(year), "1969")
    now = states(archive)
    assert now[place.tag.tag_id][2:4] == ("confirmed", "E-01") and str(now[place.tag.tag_id][4]).startswith("20")
    assert now[year.tag.tag_id][2:4] == ("rejected", "E-02")
    (said,) = [v for v in now.values() if v[1] == "1969"]
    assert said[2:4] == ("confirmed", "E-02") and said[5] == year.tag.evidence
    archive.describing.describe(EDITOR)
    assert states(archive) == now  # what a person decided stays
    page = archive.confirming.page(OTHER)
    assert [(d.by, d.state, d.said, d.number) for d in page.decided] == [("E-02", "confirmed", True, 1), ("E-01", "confirmed", False, 1)] and page.mine == 1
    with archive.rooms.db.read() as connection:
        assert [len(audit.of_action(connection, a)) for a in ("tag confirmed", "tag said otherwise")] == [1, 1]


def test_each_decision_of_the_hour_can_be_taken_back_in_any_order(cast_archive: Archive) -> None:
    """Twenty decisions drawn at random (always the same ones), taken back in another order; facets follow."""
    archive, chance = cast_archive, random.Random(3)
    before, facets = states(archive), {k: facet(archive, k) for k in ("place", "decade", "theme")}
    presses = []
    for _ in range(8):
        one = chance.choice(waiting(archive))
        what = chance.choice(["confirmed", "rejected", "say"])
        if what == "say":
            presses.append(archive.confirming.say(EDITOR, picked(one), {"place": "Beacon Hill", "date": "1931", "theme": "Strike"}[one.tag.kind]))
        else:
            presses.append(archive.confirming.decide(EDITOR, [picked(one)], what))
    assert states(archive) != before
    chance.shuffle(presses)
    for press in presses:
        archive.confirming.undo(KEEPER, press)
    assert states(archive) == before and {k: facet(archive, k) for k in ("place", "decade", "theme")} == facets
    with pytest.raises(NotFound):
        archive.confirming.undo(EDITOR)


def test_the_newest_of_ones_own_is_taken_back_and_never_under_a_newer_one(cast_archive: Archive) -> None:
    archive = cast_archive
    one = the(archive, "place", "Net Row")
    first = archive.confirming.decide(EDITOR, [picked(one)], "confirmed")
    archive.describing.decide(OTHER, one.tag.tag_id, "rejected")  # on the recording's page
    with pytest.raises(Clash):
        archive.confirming.undo(EDITOR, first)
    assert archive.confirming.undo(OTHER) == 1 and states(archive)[one.tag.tag_id][2:4] == ("confirmed", "E-01")
    archive.describing.decide(OTHER, one.tag.tag_id, "suggested")  # taken back there: nothing is left to take back here
    assert archive.confirming.page(EDITOR).decided == ()


def test_what_the_exhibition_needs_comes_first_then_doubt(cast_archive: Archive) -> None:
    archive = cast_archive
    code = cast.recording_of("N-26")
    archive.excerpts.choose(EDITOR, code, cast.QUOTES["N-26"], "exhibition")
    needed = waiting(archive)
    mine = [one.recording == code for one in needed]
    assert any(mine) and mine == sorted(mine, reverse=True)
    assert sorted(o.tag.tag_id for o in needed) == sorted(o.tag.tag_id for o in waiting(archive, "doubt")) == sorted(o.tag.tag_id for o in waiting(archive, "speaker"))
    assert [o.recording for o in waiting(archive, "speaker")] == sorted(o.recording for o in needed)
    assert {o.tag.kind for o in waiting(archive, "doubt", "date")} == {"date"}
    first, second = needed[0], needed[1]
    page = archive.confirming.page(EDITOR)
    assert page.one is not None and page.one.tag.tag_id == first.tag.tag_id and page.next_id == second.tag.tag_id and page.waiting == len(needed)
    assert any(hit for _, parts in page.one.lines for _, hit in parts), "its evidence is marked in its passage"


def test_the_same_evidence_is_decided_once_for_all_that_were_shown(cast_archive: Archive) -> None:
    archive = cast_archive
    cast.give_words(archive, cast.recording_of("N-28"), [("N-28", cast.words_of("We came down Net Row and up net row again"))])
    one = the(archive, "place", "Net Row")
    found = archive.confirming.alike(EDITOR, one.tag.tag_id)
    assert len(found) == 3 == archive.confirming.page(EDITOR, at=one.tag.tag_id).alike + 1
    assert all(f.said.casefold().startswith("net row") and f.play for f in found) and found[0].tag.tag_id == one.tag.tag_id
    some = [picked(f) for f in found]
    with pytest.raises(Clash):
        archive.confirming.decide(EDITOR, [some[0], PickedTag(some[1].tag_id, "0" * 16)], "confirmed")
    assert {states(archive)[p.tag_id][2] for p in some} == {"suggested"}, "all or none"
    archive.confirming.decide(EDITOR, some[:2], "confirmed")
    assert [states(archive)[p.tag_id][2] for p in some] == ["confirmed", "confirmed", "suggested"]
    assert archive.confirming.undo(EDITOR) == 2 and {states(archive)[p.tag_id][2] for p in some} == {"suggested"}


def test_what_is_closed_is_neither_offered_nor_counted_nor_decided(cast_archive: Archive) -> None:
    archive = cast_archive
    held = {cast.recording_of(m.code) for m in cast.CAST if m.held}
    offered, number = archive.confirming.waiting(KEEPER, most=500)
    assert held.isdisjoint(one.recording for one in offered) and number == len(offered) > 0
    one = the(archive, "place", "Net Row")
    archive.confirming.decide(EDITOR, [picked(one)], "confirmed")
    row = next(o for o in waiting(archive) if o.recording == one.recording)
    archive.consent.pause(KEEPER, "N-21")
    with pytest.raises(Clash):
        archive.confirming.decide(EDITOR, [picked(row)], "confirmed")
    page = archive.confirming.page(EDITOR)
    assert page.decided == () and (page.one is None or page.one.recording != one.recording)
    assert page.waiting == number - sum(o.recording == one.recording for o in offered)


def test_bad_input_changes_nothing(cast_archive: Archive) -> None:
    archive = cast_archive
    place, year, before = the(archive, "place", "Net Row"), the(archive, "date", "1968"), states(archive)
    for wrong, value in ((place, "Nowhere at all"), (year, "nineteen sixty"), (place, "Net Row"), (year, "1968-13")):
        with pytest.raises(BadInput):
            archive.confirming.say(EDITOR, picked(wrong), value)
    for picks, state in (([], "confirmed"), ([picked(place)], "perhaps")):
        with pytest.raises(BadInput):
            archive.confirming.decide(EDITOR, picks, state)
    for order, kind in (("alphabet", ""), ("needed", "person")):
        with pytest.raises(BadInput):
            archive.confirming.page(EDITOR, order, kind)
    with pytest.raises(NotFound):
        archive.confirming.alike(EDITOR, 10**9)
    for ask in (lambda: archive.confirming.page(READER), lambda: archive.confirming.decide(READER, [picked(place)], "confirmed"), lambda: archive.confirming.undo(READER)):
        with pytest.raises(NotAllowed):
            ask()
    assert states(archive) == before
