"""The second tick: under whose account it is typed, what stands around the quote, and what a sheet may say (issue 4, project rules)."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import text

from archive.app import Archive
from archive.db import people
from archive.domain.dates import adult_days
from archive.domain.reasons import AROUND_CHANGED
from archive.domain.values import Attribution, Role, Viewer
from archive.errors import BadInput, Clash, SheetError
from archive.services.rows import ExcerptRow
from tests import cast
from tests.services.test_hearing import brine, draft, wish

UNNAMED = "put the kettle on when the flood came up Ropewalk"
PANEL = "The flood"
HERE = Viewer("maria", Role.KEEPER)  # no account: whoever sits at the machine


def unnamed(archive: Archive, first: Viewer | None = cast.EDITOR) -> str:
    """An excerpt of N-25, whose name is hidden, heard once."""
    code = archive.excerpts.choose(cast.EDITOR, "IV-25.1", UNNAMED, "exhibition", PANEL)
    if first is not None:
        archive.excerpts.tick_heard(first, code)
    return code


def row_of(archive: Archive, code: str, viewer: Viewer = cast.KEEPER) -> ExcerptRow:
    return next(r for r in archive.excerpts.list(viewer) if r.code == code)


def takes_part(archive: Archive, code: str, role: str, born: str = "1980") -> None:
    """Put somebody on record who does this in an interview of their own."""
    with archive.rooms.db.write() as connection:
        person, _ = people.write(connection, code, born, None, adult_days(born), "")
        made = connection.execute(text("INSERT INTO interview (code, title) VALUES (:code, '')"), {"code": f"IV-{code}"}).lastrowid
        people.take_part(connection, int(made), person, role)


# -- under whose account ---------------------------------------------------------------------------------------------------
def test_one_account_cannot_type_both(cast_archive: Archive) -> None:
    takes_part(cast_archive, "I-01", "interviewer")
    code = unnamed(cast_archive, first=None)
    cast_archive.excerpts.tick_heard(cast.KEEPER, code, "E-01")
    for by in ("", "R-01", "I-01"):
        with pytest.raises(Clash, match=r"under the same account \(K-01\).*accounts add NAME editor"):
            cast_archive.excerpts.tick_second(cast.KEEPER, code, "nobody", by)
    row = row_of(cast_archive, code)
    assert row.heard == "heard by E-01, typed in by K-01 on 1 June 2026" and "same account" in row.may_be_second and draft(cast_archive, code)
    assert cast_archive.excerpts.tick_second(Viewer("R-01", Role.EDITOR), code, "nobody", "I-01")
    assert not draft(cast_archive, code)
    assert row_of(cast_archive, code).heard_second == "heard a second time by I-01, typed in by R-01 on 1 June 2026"


def test_a_team_of_two_is_not_stuck_when_one_typed_for_the_other(cast_archive: Archive) -> None:
    """E-01 is asked to tick once more under her own account; then K-01 can be the second."""
    code = unnamed(cast_archive, first=None)
    cast_archive.excerpts.tick_heard(cast.KEEPER, code, "E-01")
    assert "not under your own account" in row_of(cast_archive, code, cast.EDITOR).why_again and not row_of(cast_archive, code).why_again
    cast_archive.excerpts.tick_heard(cast.EDITOR, code)
    assert not row_of(cast_archive, code, cast.EDITOR).why_again
    assert cast_archive.excerpts.tick_second(cast.KEEPER, code, "nobody") and not draft(cast_archive, code)
    assert row_of(cast_archive, code).heard == "heard by E-01 on 1 June 2026"


def test_whoever_sits_at_the_machine_is_one_whatever_they_call_themselves(cast_archive: Archive) -> None:
    """A name without an account, on the command line, and the keeper whom `serve` signs in are one account."""
    code = unnamed(cast_archive, first=HERE)
    local = cast_archive.accounts.use_link(cast_archive.accounts.once_link())
    for viewer in (Viewer(local.name, Role.KEEPER), Viewer("anna", Role.KEEPER), HERE):
        with pytest.raises(Clash):
            cast_archive.excerpts.tick_second(viewer, code, "nobody")
    assert draft(cast_archive, code)
    cast_archive.accounts.add(cast.KEEPER, "anna", "editor", cast.PASSWORD)
    assert cast_archive.excerpts.tick_second(Viewer("anna", Role.EDITOR), code, "nobody") and not draft(cast_archive, code)


def test_a_closed_account_types_for_nobody(cast_archive: Archive) -> None:
    code = unnamed(cast_archive, first=HERE)
    cast_archive.accounts.close(cast.KEEPER, "R-01")
    with pytest.raises(Clash, match="same account"):
        cast_archive.excerpts.tick_second(Viewer("R-01", Role.EDITOR), code, "nobody")


@pytest.mark.parametrize(
    ("code", "role", "born", "may"),
    [("I-01", "interviewer", "1980", True), ("I-02", "interpreter", "1980", True), ("I-03", "interviewer", "2011", False), ("C-01", "companion", "1980", False), ("N-30", "narrator", "1980", False)],
)
def test_who_may_be_named_as_who_listened(cast_archive: Archive, code: str, role: str, born: str, may: bool) -> None:
    takes_part(cast_archive, code, role, born)
    quote = unnamed(cast_archive, first=None)
    if may:
        cast_archive.excerpts.tick_heard(cast.EDITOR, quote, code)
        assert f"heard by {code}, typed in by E-01" in row_of(cast_archive, quote).heard
        return
    for act in (lambda: cast_archive.excerpts.tick_heard(cast.EDITOR, quote, code), lambda: cast_archive.excerpts.tick_heard(Viewer(code, Role.EDITOR), quote)):
        with pytest.raises(BadInput, match="neither an account nor an interviewer"):
            act()
    assert not row_of(cast_archive, quote).heard


@pytest.mark.parametrize("by", ["N-25", "N-21", "P-41", "somebody I know"])
def test_narrators_and_third_parties_listen_for_nobody(cast_archive: Archive, by: str) -> None:
    code = unnamed(cast_archive)
    with pytest.raises(BadInput, match="neither an account nor"):
        cast_archive.excerpts.tick_second(cast.KEEPER, code, "nobody", by)


def test_ticks_of_before_accounts_were_kept_stand_alone_and_carry_no_second(cast_archive: Archive) -> None:
    code = unnamed(cast_archive, first=None)
    plain = cast_archive.excerpts.choose(cast.EDITOR, "IV-21.1", "We carried the lantern", "exhibition")
    with cast_archive.rooms.db.write() as connection:
        for row in (row_of(cast_archive, code), row_of(cast_archive, plain)):
            connection.execute(
                text('INSERT INTO heard (wording_sha256, shown_sha256, excerpt_id, second, "by", at) SELECT wording_sha256, :shown, id, 0, :by, :at FROM excerpt WHERE code = :code'),
                {"by": "E-01", "at": "2026-05-01T10:00:00+00:00", "shown": row.shown_sha256, "code": row.code},
            )
    assert not draft(cast_archive, plain) and draft(cast_archive, code)
    with pytest.raises(Clash, match="once more"):
        cast_archive.excerpts.tick_second(cast.KEEPER, code, "nobody")
    assert "not on record who typed that in" in row_of(cast_archive, code, Viewer("R-01", Role.EDITOR)).why_again
    cast_archive.excerpts.tick_heard(cast.EDITOR, code)
    assert cast_archive.excerpts.tick_second(cast.KEEPER, code, "nobody") and not draft(cast_archive, code)


# -- what stands around it -------------------------------------------------------------------------------------------------
def twice(archive: Archive) -> tuple[str, str]:
    """(the excerpt, heard twice, beside another on its panel; that other)."""
    beside = archive.excerpts.choose(cast.EDITOR, "IV-21.1", "in 1968 and Walter Brine held the rope", "exhibition", PANEL)
    code = unnamed(archive)
    assert archive.excerpts.tick_second(cast.KEEPER, code, "nobody") and not draft(archive, code)
    return code, beside


def joins(archive: Archive) -> None:
    archive.excerpts.choose(cast.EDITOR, "IV-26.1", "Under the tarpaulin", "exhibition", " the FLOOD")


def change(sql: str) -> Callable[[Archive], None]:
    def act(archive: Archive) -> None:
        with archive.rooms.db.write() as connection:
            connection.execute(text(sql))

    return act


def place_noted(archive: Archive) -> None:
    change("UPDATE tag SET value = 'Net Row' WHERE kind = 'place' AND recording_id = (SELECT id FROM recording WHERE code = 'IV-25.1')")(archive)


MOVES: dict[str, Callable[[Archive], None]] = {
    "a quote joins the panel": joins,
    "a quote by the same speaker": lambda a: str(a.excerpts.choose(cast.EDITOR, "IV-25.1", "They said", "exhibition")) and None,
    "the panel's name": change("UPDATE excerpt SET panel = 'The flood of 1968'"),
    "a name in the quote beside is decided": lambda a: brine(a, "keep"),
    "the quote beside is named otherwise": lambda a: wish(a, "N-21", Attribution.INITIALS),
    "the recording's title": change("UPDATE recording SET title = 'The only woman on Ropewalk' WHERE code = 'IV-25.1'"),
    "the year in the source line": change("UPDATE recording SET recorded_on = '2024-02-01' WHERE code = 'IV-25.1'"),
    "a place in it": place_noted,
}


@pytest.mark.parametrize("move", MOVES)
def test_what_comes_or_changes_around_it_voids_the_second_tick_alone(cast_archive: Archive, move: str) -> None:
    code, _ = twice(cast_archive)
    before = row_of(cast_archive, code)
    MOVES[move](cast_archive)
    row = row_of(cast_archive, code)
    assert draft(cast_archive, code) and row.draft_reason == AROUND_CHANGED
    assert (row.heard, row.shown_sha256) == (before.heard, before.shown_sha256), "what is shown and heard of it is the same"
    assert row.heard_around == before.heard_second and not row.heard_second and row.around_sha256 != before.around_sha256
    with pytest.raises(Clash, match="not what was shown"):
        cast_archive.excerpts.tick_second(cast.KEEPER, code, "nobody", shown=row.shown_sha256, around=before.around_sha256)
    assert cast_archive.excerpts.tick_second(cast.KEEPER, code, "nobody", shown=row.shown_sha256, around=row.around_sha256)
    assert not draft(cast_archive, code)


@pytest.mark.parametrize("gone", ["set aside", "withdrawn", "sealed"])
def test_what_is_gone_voids_nothing(cast_archive: Archive, gone: str) -> None:
    """Whoever listened second saw more than stands there now; a withdrawal does not send everybody back to every panel."""
    code, beside = twice(cast_archive)
    if gone == "set aside":
        cast_archive.excerpts.set_aside(cast.EDITOR, beside)
    elif gone == "withdrawn":
        cast_archive.consent.withdraw(cast.KEEPER, "N-21", how="letter")
    else:
        cast_archive.consent.seal(cast.KEEPER, "IV-21.1", 500, 7000, "asked")
    row = row_of(cast_archive, code)
    assert row.leaving is not None and row.leaving.beside == () and not draft(cast_archive, code)
    if gone == "set aside":
        cast_archive.excerpts.take_back(cast.EDITOR, beside)
        assert not draft(cast_archive, code), "it stood there when it was heard"


def test_ticking_one_voids_no_other(cast_archive: Archive) -> None:
    """Two that stand beside each other: both can be final at once."""
    code, beside = twice(cast_archive)
    for _ in range(2):
        cast_archive.excerpts.tick_heard(cast.EDITOR, beside)
        assert cast_archive.excerpts.tick_second(cast.KEEPER, beside, "nobody")
        assert cast_archive.excerpts.tick_second(cast.KEEPER, code, "nobody")
        assert not draft(cast_archive, beside) and not draft(cast_archive, code)


def test_what_stands_around_is_the_same_for_everybody(cast_archive: Archive) -> None:
    code, _ = twice(cast_archive)
    seen = {row_of(cast_archive, code, viewer).around for viewer in (cast.KEEPER, cast.EDITOR, Viewer("K-01", Role.KEEPER, opened=True))}
    assert len(seen) == 1


# -- the sheet -------------------------------------------------------------------------------------------------------------
def sheet(tmp_path: Path, *rows: str) -> Path:
    path = tmp_path / "heard.csv"
    path.write_text("\n".join(["file,quote,use,heard_by,second_by,together,panel,heard_on", *rows]) + "\n", encoding="utf-8")
    return path


def test_the_sheet_gives_both_ticks_where_they_are_needed(cast_archive: Archive, tmp_path: Path) -> None:
    path = sheet(
        tmp_path, "IV-21.wav,We carried the lantern,exhibition,K-01,R-01,yes,,", "IV-25.wav,put the kettle on,exhibition,K-01,R-01,yes,,",
        "IV-25.wav,They said,exhibition,K-01,R-01,no,,", "IV-26.wav,Under the tarpaulin,exhibition,,,,,",
    )  # fmt: skip
    for _ in range(2):  # read twice it says the same
        plain, both, doubt, none = cast_archive.excerpts.read_heard(cast.EDITOR, path)
        assert [(c.heard, c.heard_second) for c in (plain, both, doubt, none)] == [(True, False), (True, True), (True, False), (False, False)]
        assert not both.words and "stays a draft" in doubt.words
    assert [draft(cast_archive, c.excerpt) for c in (plain, both, doubt, none)] == [False, False, True, True]
    row = row_of(cast_archive, both.excerpt)
    assert row.heard == "heard by K-01, typed in by E-01 from a sheet on 1 June 2026"
    assert row.heard_second == "heard a second time by R-01, typed in by E-01 from a sheet on 1 June 2026"


def test_second_ticks_of_a_sheet_see_all_that_the_sheet_puts_on_a_panel(cast_archive: Archive, tmp_path: Path) -> None:
    """In whatever order the rows stand."""
    rows = [
        "IV-25.wav,put the kettle on,exhibition,E-01,K-01,yes,The flood,", "IV-21.wav,and Walter Brine held,exhibition,E-01,K-01,yes,The flood,",
        "IV-26.wav,Under the tarpaulin,exhibition,E-01,K-01,yes,The flood,",
    ]  # fmt: skip
    found = cast_archive.excerpts.read_heard(cast.EDITOR, sheet(tmp_path, *rows))
    assert [draft(cast_archive, c.excerpt) for c in found] == [False, False, False]


def test_a_sheet_read_again_hears_nothing_that_changed_since(cast_archive: Archive, tmp_path: Path) -> None:
    row = "IV-25.wav,put the kettle on,exhibition,E-01,K-01,yes,The flood,"
    (first,) = cast_archive.excerpts.read_heard(cast.EDITOR, sheet(tmp_path, row))
    assert not draft(cast_archive, first.excerpt)
    (again, _) = cast_archive.excerpts.read_heard(cast.EDITOR, sheet(tmp_path, row, "IV-26.wav,Under the tarpaulin,exhibition,E-01,,,The flood,"))
    assert again.heard and not again.heard_second and "changed since K-01 listened" in again.words and draft(cast_archive, first.excerpt)
    wish(cast_archive, "N-25", Attribution.FULL)
    (once,) = cast_archive.excerpts.read_heard(cast.EDITOR, sheet(tmp_path, row))
    assert not once.heard and "changed since E-01 listened" in once.words and draft(cast_archive, first.excerpt)


@pytest.mark.parametrize(("heard_on", "counts"), [("2026-06-01", False), ("2026-06-02", True), ("2026-06-03", True), ("2026-06-04", False), ("", False)])
def test_a_later_listening_on_the_sheet_counts_anew(
    cast_archive: Archive, open_cast: Callable[..., Archive], tmp_path: Path, heard_on: str, counts: bool
) -> None:
    """It was first read on 1 June; read again on 3 June it may say that they listened since, and not that they will."""
    row = "IV-25.wav,put the kettle on,exhibition,E-01,K-01,yes,The flood,"
    archive = open_cast(lambda: cast.TODAY + timedelta(days=2))
    archive.close()
    first = Archive.open(archive.folder, {}, cast.clock)
    (chosen,) = first.excerpts.read_heard(cast.EDITOR, sheet(tmp_path, row))
    joins(first)
    first.close()
    later = Archive.open(archive.folder, {}, lambda: cast.TODAY + timedelta(days=2))
    assert draft(later, chosen.excerpt)
    (found,) = later.excerpts.read_heard(cast.EDITOR, sheet(tmp_path, row + heard_on))
    assert found.heard_second is counts and draft(later, chosen.excerpt) is not counts
    later.close()


def test_a_sheet_goes_with_a_tick_of_the_pages(cast_archive: Archive, tmp_path: Path) -> None:
    """The paper says who listened, whoever ticked here meanwhile."""
    code = unnamed(cast_archive)
    row = f"IV-25.wav,{UNNAMED},exhibition,K-01,E-01,yes,{PANEL},"
    (found,) = cast_archive.excerpts.read_heard(cast.EDITOR, sheet(tmp_path, row))
    assert found.excerpt == code and found.heard_second and not draft(cast_archive, code)


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("IV-25.wav,They said,exhibition,E-01,e-01,yes", "neither an account"), ("IV-25.wav,They said,exhibition,E-01,E-01,yes", "somebody else"),
        ("IV-25.wav,They said,exhibition,,K-01,yes", "somebody else"), ("IV-25.wav,They said,exhibition,E-01,K-01,", "“together” is empty"),
        ("IV-25.wav,They said,exhibition,E-01,K-01,perhaps", "neither yes nor no"), ("IV-25.wav,They said,exhibition,N-22,,", "“N-22” in “heard_by” is neither an account"),
        ("IV-25.wav,They said,exhibition,E-01,P-41,yes", "“P-41” in “second_by” is neither an account"), ("IV-25.wav,They said,exhibition,E-01,,,,tomorrow", "no date"),
    ],
)  # fmt: skip
def test_a_second_tick_in_the_sheet_has_its_rules(cast_archive: Archive, tmp_path: Path, row: str, said: str) -> None:
    with pytest.raises(SheetError) as told:
        cast_archive.excerpts.read_heard(cast.EDITOR, sheet(tmp_path, row))
    assert any(said in line for line in told.value.findings), told.value.findings
    assert cast_archive.excerpts.list(cast.EDITOR) == ()
