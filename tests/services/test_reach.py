"""Not to be opened by …, and what a helper was assigned: the whole cast, through reading, hearing, finding, counting, papers and exports.

The oracle is written by hand: in the cast each recording has one narrator (tests/cast.py), so what is beyond somebody is known without the gate.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import asdict
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from archive.app import Archive, as_json
from archive.db import people, reach, recordings
from archive.db.search import Unit
from archive.domain.values import RestraintKind, Role, Viewer, Way
from archive.errors import BadInput, Clash, NotAllowed, NotFound, Refused, ToldHereError
from archive.gate.reading import Readings
from archive.gate.show import show_recording
from archive.services.accounts import LOCAL_KEEPER
from archive.services.rows import Asked
from tests import cast
from tests.cast import CAST, EDITOR, KEEPER, PASSWORD, READER, VIEWERS, recording_of
from tests.conftest import Once, copy_of

HELPER = Viewer("H-01", Role.HELPER)
SECOND = Viewer("K-02", Role.KEEPER)
OPEN = [m for m in CAST if not m.held]
QUILL = CAST[0]


@pytest.fixture(scope="module")
def made(once: Once, made_cast: Path) -> Path:
    def make(folder: Path) -> None:
        archive = Archive.open(copy_of(made_cast, folder), {}, cast.clock)
        archive.accounts.add(KEEPER, HELPER.name, HELPER.role, PASSWORD)
        archive.accounts.add(KEEPER, SECOND.name, SECOND.role, PASSWORD)
        archive.close()

    return once("reach", make)


@pytest.fixture
def town(made: Path, tmp_path: Path) -> Iterator[Archive]:
    opened = cast.in_a_hurry(Archive.open(copy_of(made, tmp_path / "archive"), {}, cast.clock))
    yield opened
    opened.close()


@pytest.fixture(scope="module")
def shared(made: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Archive]:
    """One archive for the drawn reaches: each example says anew whom nobody may open."""
    opened = Archive.open(copy_of(made, tmp_path_factory.mktemp("reach") / "archive"), {}, cast.clock)
    yield opened
    opened.close()


def _units(archive: Archive, viewer: Viewer) -> list[Unit]:
    with archive.rooms.db.read() as connection:
        return archive.finding.every(Readings(connection, archive.rooms.context()), viewer, Asked())


def _codes(archive: Archive) -> dict[int, str]:
    with archive.rooms.db.read() as connection:
        return {r.id: r.code for r in recordings.everything(connection)}


def _say(archive: Archive, viewer: Viewer, shut: set[str], given: set[str]) -> None:
    """Exactly these people are not to be opened by an account; exactly these recordings are a helper's."""
    with archive.rooms.db.write() as connection:
        ids = people.ids_by_code(connection)
        for member in CAST:
            row = recordings.named(connection, recording_of(member.code))
            reach.say(connection, viewer.name, person_id=ids[member.code], in_force=member.code in shut, by="K-01", at="2026-06-01")
            reach.say(connection, viewer.name, recording_id=row.id, in_force=row.code in given, by="K-01", at="2026-06-01")


@settings(max_examples=6, deadline=None)
@given(
    viewer=st.sampled_from([EDITOR, READER, KEEPER, HELPER]), shut=st.sets(st.sampled_from([m.code for m in CAST])),
    given_=st.sets(st.sampled_from([recording_of(m.code) for m in CAST])),
)  # fmt: skip
def test_explained_is_filtered_is_the_oracle(shared: Archive, viewer: Viewer, shut: set[str], given_: set[str]) -> None:
    """What Find answers, what a page shows and what is counted are the same, and what the table by hand says."""
    codes = _codes(shared)
    _say(shared, viewer, set(), {recording_of(m.code) for m in CAST})
    before = _units(shared, viewer)
    _say(shared, viewer, shut, given_)
    narrator = {recording_of(m.code): m for m in CAST}
    reached = {c for c, m in narrator.items() if m.code not in shut and (viewer.role is not Role.HELPER or c in given_)}
    found = _units(shared, viewer)
    assert found == [u for u in before if codes[u.recording_id] in reached]
    if viewer.role is not Role.HELPER:
        assert shared.finding.ask(viewer, Asked()).total == len(found)
        counted = dict(shared.finding.ask(viewer, Asked()).facets)
        assert all(m.name not in as_json(counted, None) for m in CAST if m.code in shut)
    with shared.rooms.db.read() as connection:
        readings = Readings(connection, shared.rooms.context())
        for number, code in codes.items():
            shown = show_recording(readings, viewer, number, 0.5)
            said = [w.text for u in shown.utterances for w in u.words]
            assert bool(said) == any(u.recording_id == number for u in found), code
            if code not in reached:
                assert not shown.playable
                assert not any(shown.peaks)
                assert narrator[code].secret not in as_json(said or asdict(shown), None)


@pytest.mark.parametrize("viewer", VIEWERS, ids=lambda v: v.role.value)
def test_whoever_is_not_to_be_opened_is_not_there(town: Archive, viewer: Viewer) -> None:
    secret, code, where = QUILL.secret, QUILL.code, recording_of(QUILL.code)
    quote = town.excerpts.choose(EDITOR, where, QUILL.text, "exhibition")
    assert town.finding.ask(viewer, Asked(secret)).total == 1
    by = SECOND if viewer == KEEPER else KEEPER
    town.accounts.close_to(by, viewer.name, code)
    assert town.finding.ask(viewer, Asked(secret)).total == 0
    assert code not in dict(town.finding.choices(viewer)["speakers"])
    page = town.recordings.page(viewer, where)
    assert secret not in as_json(page, None)
    assert "Quill" not in as_json(page, None)
    with pytest.raises(Refused):
        town.recordings.sound(viewer, where, 0, 500)
    assert all(secret not in as_json(row, None) for row in town.recordings.list(viewer))
    if viewer.role is not Role.READER:
        assert code not in {r.code for r in town.people.list(viewer)}
        assert code not in {r.person for r in town.people.agreements(viewer)}
        assert code not in {r.person for r in town.due.list(viewer)}
        assert quote not in {r.code for r in town.excerpts.list(viewer)}
        asked: list[Callable[[], Any]] = [
            lambda: town.people.page(viewer, code), lambda: town.people.agreements(viewer, code), lambda: town.papers.agreement(viewer, f"A-{code}"),
            lambda: town.papers.forms(viewer, code), lambda: town.letters.contact(viewer, code), lambda: town.deciding.may(viewer, quote, "exhibition", Way.WORDS),
            lambda: town.deciding.may(viewer, code, "exhibition", Way.WORDS), lambda: town.deciding.table(viewer, quote),
            lambda: town.excerpts.tick_heard(viewer, quote), lambda: town.exports.make(viewer, [quote], "exhibition"),
            lambda: town.consent.pause(viewer, code), lambda: town.spokespeople.of(viewer, code),
        ]  # fmt: skip
        for ask in asked:
            with pytest.raises(NotFound):
                ask()
    town.accounts.open_to(by, viewer.name, code)
    assert town.finding.ask(viewer, Asked(secret)).total == 1


def test_no_deliberate_look_goes_round_it(town: Archive) -> None:
    """A keeper opens sealed speech on record, and not whom they are not to open."""
    sealed = next(m for m in CAST if m.held == RestraintKind.SEALED.value)
    opened = Viewer(KEEPER.name, KEEPER.role, True)
    assert sealed.secret in as_json(town.recordings.page(opened, recording_of(sealed.code)), None)
    town.accounts.close_to(SECOND, KEEPER.name, sealed.code)
    assert sealed.secret not in as_json(town.recordings.page(opened, recording_of(sealed.code)), None)
    assert sealed.secret in as_json(town.recordings.page(Viewer(SECOND.name, SECOND.role, True), recording_of(sealed.code)), None)


def test_what_others_say_of_them_is_read_as_readers_read_it(town: Archive) -> None:
    """Walter Brine (P-41) is named in what N-21 says, undecided: masked, and found by his name by nobody who must not open him."""
    name, where = cast.THIRD[1].split()[1], recording_of(QUILL.code)
    assert name in as_json(town.recordings.page(EDITOR, where).shown, None)
    assert town.finding.ask(EDITOR, Asked(name)).total == 1
    town.accounts.close_to(KEEPER, EDITOR.name, cast.THIRD[0])
    assert name not in as_json(town.recordings.page(EDITOR, where).shown, None)
    assert QUILL.secret in as_json(town.recordings.page(EDITOR, where).shown, None)
    assert town.finding.ask(EDITOR, Asked(name)).total == 0
    with pytest.raises(NotFound):
        town.naming.name(EDITOR, cast.THIRD[0])
    assert name not in as_json(town.naming.heard(EDITOR), None)
    assert name not in as_json(town.spellings.page(EDITOR), None)
    (line,), _ = town.correcting.lines(EDITOR, where)
    assert line.closed
    assert name not in as_json(line, None)


def test_files_that_left_are_not_handed_to_them(town: Archive, tmp_path: Path) -> None:
    code = town.excerpts.choose(EDITOR, recording_of(QUILL.code), QUILL.text, "exhibition")
    report = town.exports.make(EDITOR, [code], "exhibition", tmp_path / "out")
    name = next(f.removeprefix(f"{report.folder}/") for f in report.files)
    assert town.exports.file(EDITOR, report.code, name).is_file()
    town.accounts.close_to(KEEPER, EDITOR.name, QUILL.code)
    with pytest.raises(NotFound):
        town.exports.file(EDITOR, report.code, name)
    assert town.exports.register(EDITOR) == ()
    assert town.exports.file(KEEPER, report.code, name).is_file()


def test_who_may_say_so(town: Archive) -> None:
    for viewer in (EDITOR, READER, HELPER):
        with pytest.raises(NotAllowed):
            town.accounts.close_to(viewer, EDITOR.name, QUILL.code)
        with pytest.raises(NotAllowed):
            town.accounts.assign(viewer, HELPER.name, recording_of(QUILL.code))
    for name, person in (("nobody", QUILL.code), (EDITOR.name, "N-99"), (LOCAL_KEEPER, QUILL.code)):
        with pytest.raises(NotFound):
            town.accounts.close_to(KEEPER, name, person)
    town.accounts.close_to(SECOND, KEEPER.name, QUILL.code)
    with pytest.raises(NotFound):  # for them there is no such person, so nobody opens whom they must not
        town.accounts.open_to(KEEPER, KEEPER.name, QUILL.code)
    with pytest.raises(Clash):  # somebody must be left to answer for them
        town.accounts.close_to(SECOND, SECOND.name, QUILL.code)
    rows = {r.name: r for r in town.accounts.list(SECOND)}
    assert rows[KEEPER.name].closed == (QUILL.code,)
    assert {r.name: r for r in town.accounts.list(KEEPER)}[KEEPER.name].closed == ()
    with pytest.raises(BadInput):
        town.accounts.assign(KEEPER, EDITOR.name, recording_of(QUILL.code))
    told = [r.action for r in town.records.list(SECOND, 5)]
    assert "closed to an account" in told


# -- helpers ---------------------------------------------------------------------------------------------------------


def test_a_helper_sees_what_was_assigned_and_nothing_else(town: Archive) -> None:
    mine, other = recording_of(QUILL.code), recording_of(OPEN[1].code)
    assert town.recordings.list(HELPER) == ()
    town.accounts.assign(KEEPER, HELPER.name, mine)
    assert [r.code for r in town.recordings.list(HELPER)] == [mine]
    assert QUILL.secret in as_json(town.recordings.page(HELPER, mine).shown, None)
    assert town.recordings.sound(HELPER, mine, 0, 500)[:4] == b"RIFF"
    assert town.correcting.lines(HELPER, mine)[1] == 1
    page = town.recordings.page(HELPER, mine)
    assert page.tags == ()
    assert page.people == ()
    for ask in (town.recordings.page, town.recordings.heard, town.correcting.desk, town.correcting.lines, town.translating.list, town.languages.of):
        with pytest.raises(NotFound) as unassigned:
            ask(HELPER, other)
        with pytest.raises(NotFound) as unknown:
            ask(HELPER, "IV-99.1")
        assert unassigned.value.message == unknown.value.message
    town.accounts.take_back(KEEPER, HELPER.name, mine)
    assert town.recordings.list(HELPER) == ()
    with pytest.raises(NotFound):
        town.correcting.finish(HELPER, mine)


def test_what_is_closed_is_closed_to_a_helper_too(town: Archive) -> None:
    for member in CAST:
        town.accounts.assign(KEEPER, HELPER.name, recording_of(member.code))
        if member.held:
            assert member.secret not in as_json(town.recordings.page(HELPER, recording_of(member.code)), None)


FOR_HELPERS = {
    ("recordings", "list"), ("recordings", "page"), ("recordings", "part"), ("recordings", "heard"), ("recordings", "sound"), ("recordings", "taking_part"),
    *(("correcting", n) for n in ("desk", "lines", "lines_at", "change", "undo", "conflicts", "decide", "finish")),
    *(("translating", n) for n in ("list", "one", "look", "write", "change", "say_state")),
    ("languages", "of"), ("glossary", "list"), ("glossary", "marked"), ("glossary", "called"), ("glossary", "one"),
}  # fmt: skip


def _services(archive: Archive) -> Iterator[tuple[str, str, Callable[..., Any]]]:
    for name, service in vars(archive).items():
        if not type(service).__module__.startswith("archive.services"):
            continue
        for method, _ in inspect.getmembers(type(service), inspect.isfunction):
            if not method.startswith("_") and next(iter(list(inspect.signature(getattr(type(service), method)).parameters)[1:]), "") == "viewer":
                yield name, method, getattr(service, method)


def test_every_service_says_whom_it_is_for(town: Archive) -> None:
    """Every method of every service that is asked by somebody, asked by somebody whom nothing was assigned: refused before anything is
    looked at, but for what helpers are for, listed by hand above."""
    asked = 0
    for name, method, call in _services(town):
        given_ = [p for p in list(inspect.signature(call).parameters.values())[1:] if p.default is p.empty and p.kind is p.POSITIONAL_OR_KEYWORD]
        values = [_fitting(str(p.annotation)) for p in given_]
        if (name, method) in FOR_HELPERS:
            with suppress(ToldHereError):
                assert QUILL.secret not in repr(call(HELPER, *values)), (name, method)
            continue
        with pytest.raises(NotAllowed):
            call(HELPER, *values)
            raise AssertionError((name, method))
        asked += 1
    assert asked > 150


def _fitting(kind: str) -> Any:
    """Something of this kind, as far as a look at it before the role would take it."""
    first = kind.split("[")[0].split(" |")[0]
    known: dict[str, Any] = {"str": recording_of(QUILL.code), "int": 1, "bool": True, "bytes": b"", "Path": Path("none.csv"), "Way": Way.WORDS}
    return known.get(first, [] if first in ("Sequence", "Iterable", "Collection", "list", "tuple") else {} if first == "Mapping" else None)
