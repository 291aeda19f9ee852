"""Heard by a person: what leaves is final exactly where the ticks of what is shown today stand (issue 4, project rules)."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from archive.app import Archive
from archive.db import consent_rows, people
from archive.domain.values import Attribution, Review, Role, Viewer, VoiceWish
from archive.errors import BadInput, Clash, NotFound
from tests import cast
from tests.conftest import copy_of

PLAIN = "We carried the lantern down Net Row"
NAMED = "in 1968 and Walter Brine held the rope for us"


def draft(archive: Archive, code: str) -> bool:
    """Whether it would leave as a draft, asked of the page and of the gate that makes exports."""
    row = next(r for r in archive.excerpts.list(cast.KEEPER) if r.code == code)
    with archive.rooms.db.read() as connection:
        cleared = archive.exports._clear(connection, [code], row.use, "OUT-9999")
    (quote,) = cleared.export.quotes
    assert (quote.draft, quote.draft_reason) == (bool(row.draft_reason), row.draft_reason)
    assert all(c.draft == c.caption.draft == quote.draft for c in cleared.export.clips)
    return quote.draft


def wish(archive: Archive, code: str, attribution: Attribution, voice: VoiceWish = VoiceWish.AS_RECORDED) -> None:
    with archive.rooms.db.write() as connection:
        row = people.by_code(connection, code)
        assert row is not None
        consent_rows.add_wish(
            connection, person_id=row.id, attribution=attribution, voice=voice, review=Review.NOT_WANTED,
            from_on=cast.TODAY.date(), by="K-01", at="2026-06-01",
        )  # fmt: skip


def brine(archive: Archive, decision: str) -> None:
    """Decide about Walter Brine's name, wherever N-21 says it."""
    recording = cast.recording_of("N-21")
    for u in archive.recordings.page(cast.KEEPER, recording).shown.utterances:
        words = [w for w in u.words if w.text in ("Walter", "Brine")]
        archive.naming.decide(cast.EDITOR, recording, words[0].start_ms, words[-1].end_ms, "P-41", decision, "said so")


# -- one tick, and two -----------------------------------------------------------------------------------------------------
def test_plain_words_need_one_tick(cast_archive: Archive) -> None:
    code = cast_archive.excerpts.choose(cast.EDITOR, "IV-21.1", PLAIN, "exhibition")
    assert draft(cast_archive, code)
    cast_archive.excerpts.tick_heard(cast.EDITOR, code)
    assert not draft(cast_archive, code)
    with pytest.raises(Clash, match="one listening is enough"):
        cast_archive.excerpts.tick_second(cast.KEEPER, code, "nobody")


@pytest.mark.parametrize(
    ("recording", "quote", "says"),
    [("IV-21.1", NAMED, "hidden in 1 place"), ("IV-25.1", "put the kettle on", "not named")],
    ids=["masked", "unnamed"],
)
def test_what_hides_somebody_needs_two(cast_archive: Archive, recording: str, quote: str, says: str) -> None:
    code = cast_archive.excerpts.choose(cast.EDITOR, recording, quote, "exhibition")
    cast_archive.excerpts.tick_heard(cast.EDITOR, code)
    row = next(r for r in cast_archive.excerpts.list(cast.KEEPER) if r.code == code)
    assert draft(cast_archive, code) and row.leaving is not None and says in " ".join(row.leaving.hidden)
    assert "second person" in row.draft_reason
    assert cast_archive.excerpts.tick_second(cast.KEEPER, code, "nobody")
    assert not draft(cast_archive, code)


@pytest.mark.parametrize(("attribution", "voice"), [(Attribution.FULL, VoiceWish.DISGUISED), (Attribution.PSEUDONYM, VoiceWish.AS_RECORDED)])
def test_a_disguised_voice_and_another_name_need_two(cast_archive: Archive, attribution: Attribution, voice: VoiceWish) -> None:
    code = cast_archive.excerpts.choose(cast.EDITOR, "IV-21.1", PLAIN, "exhibition")
    wish(cast_archive, "N-21", attribution, voice)
    cast_archive.excerpts.tick_heard(cast.EDITOR, code)
    assert draft(cast_archive, code)
    assert cast_archive.excerpts.tick_second(cast.KEEPER, code, "nobody") and not draft(cast_archive, code)


def test_the_second_is_somebody_else_and_comes_after(cast_archive: Archive) -> None:
    code = cast_archive.excerpts.choose(cast.EDITOR, "IV-25.1", "put the kettle on", "exhibition")
    with pytest.raises(Clash, match="Somebody has to hear it"):
        cast_archive.excerpts.tick_second(cast.KEEPER, code, "nobody")
    cast_archive.excerpts.tick_heard(cast.EDITOR, code)
    for viewer in (cast.EDITOR, Viewer("e-01", Role.KEEPER), Viewer("Ｅ-01", Role.KEEPER)):
        with pytest.raises(Clash, match="heard it already"):
            cast_archive.excerpts.tick_second(viewer, code, "nobody")
    with pytest.raises(Clash, match="heard it already"):
        cast_archive.excerpts.tick_second(cast.KEEPER, code, "nobody", "E-01")
    assert draft(cast_archive, code)
    assert cast_archive.excerpts.tick_second(cast.KEEPER, code, "nobody", "R-01"), "by whoever has an account"
    with pytest.raises(NotFound):
        cast_archive.excerpts.tick_second(cast.KEEPER, "EX-99", "nobody")


@pytest.mark.parametrize("answer", ["", "no", "maybe", "NOBODY"])
def test_without_an_answer_nothing_is_ticked(cast_archive: Archive, answer: str) -> None:
    code = cast_archive.excerpts.choose(cast.EDITOR, "IV-25.1", "put the kettle on", "exhibition")
    cast_archive.excerpts.tick_heard(cast.EDITOR, code)
    with pytest.raises(BadInput, match="together"):
        cast_archive.excerpts.tick_second(cast.KEEPER, code, answer)
    assert draft(cast_archive, code)


def test_somebody_might_be_named_keeps_the_draft_and_is_told_to_the_next(cast_archive: Archive) -> None:
    code = cast_archive.excerpts.choose(cast.EDITOR, "IV-25.1", "put the kettle on", "exhibition")
    cast_archive.excerpts.tick_heard(cast.EDITOR, code)
    assert not cast_archive.excerpts.tick_second(cast.KEEPER, code, "somebody")
    assert draft(cast_archive, code)
    (row,) = cast_archive.excerpts.list(cast.EDITOR)
    assert row.doubts == ("K-01 thought on 1 June 2026 that somebody might be named",)
    assert cast_archive.records.list(cast.KEEPER, 1)[0].action == "might name somebody"


# -- what voids ------------------------------------------------------------------------------------------------------------
VOIDS: dict[str, Callable[[Archive], None]] = {
    "a mask added": lambda a: brine(a, "hide"),
    "unnamed": lambda a: wish(a, "N-21", Attribution.UNNAMED),
    "initials": lambda a: wish(a, "N-21", Attribution.INITIALS),
    "disguised": lambda a: wish(a, "N-21", Attribution.FULL, VoiceWish.DISGUISED),
    "not heard": lambda a: wish(a, "N-21", Attribution.FULL, VoiceWish.NOT_HEARD),
}


@pytest.mark.parametrize("change", VOIDS)
def test_a_change_of_what_is_shown_or_heard_voids_the_tick(cast_archive: Archive, change: str) -> None:
    brine(cast_archive, "keep")
    code = cast_archive.excerpts.choose(cast.EDITOR, "IV-21.1", NAMED, "exhibition")
    cast_archive.excerpts.tick_heard(cast.EDITOR, code)
    (before,) = cast_archive.excerpts.list(cast.EDITOR)
    assert not draft(cast_archive, code)
    VOIDS[change](cast_archive)
    assert draft(cast_archive, code)
    (row,) = cast_archive.excerpts.list(cast.EDITOR)
    assert row.shown_sha256 != before.shown_sha256 and row.wording_sha256 == before.wording_sha256
    assert (row.heard, row.heard_before) == ("", before.heard) and "Nobody has heard" in row.draft_reason
    with pytest.raises(Clash, match="not what was shown"):
        cast_archive.excerpts.tick_heard(cast.EDITOR, code, shown=before.shown_sha256)


def test_a_margin_of_silence_that_grows_voids_the_tick(cast_archive: Archive, open_cast: Callable[..., Archive]) -> None:
    """The silent stretches belong to what was heard, wherever they come from."""
    code = cast_archive.excerpts.choose(cast.EDITOR, "IV-21.1", NAMED, "exhibition")
    cast_archive.excerpts.tick_heard(cast.EDITOR, code)
    folder = cast_archive.folder
    cast_archive.close()
    settings_file = folder / "archive.toml"
    settings_file.write_text(f"{settings_file.read_text(encoding='utf-8')}\nmute_margin_ms = 400\n", encoding="utf-8")
    wider = Archive.open(folder, {}, cast.clock)
    (row,) = wider.excerpts.list(cast.EDITOR)
    assert row.heard == "" and row.heard_before
    wider.close()


def test_ticks_of_before_shown_was_noted_count_for_nothing_but_doubtful_words(cast_archive: Archive) -> None:
    """An archive of the first schema: its ticks say which words were heard, and not how they were shown."""
    code = cast_archive.excerpts.choose(cast.EDITOR, "IV-21.1", PLAIN, "exhibition")
    with cast_archive.rooms.db.write() as connection:
        from sqlalchemy import text

        connection.execute(
            text('INSERT INTO heard (wording_sha256, excerpt_id, second, "by", at) SELECT wording_sha256, id, 0, :by, :at FROM excerpt'),
            {"by": "E-01", "at": "2026-05-01T10:00:00+00:00"},
        )
    assert draft(cast_archive, code)
    (row,) = cast_archive.excerpts.list(cast.EDITOR)
    assert row.heard_before == "heard by E-01 on 1 May 2026"


def test_the_same_words_for_another_use_share_the_first_tick_and_never_the_second(cast_archive: Archive) -> None:
    """Exactly the same is shown and heard; but what stands around it there is another question."""
    here = cast_archive.excerpts.choose(cast.EDITOR, "IV-25.1", "put the kettle on", "exhibition")
    there = cast_archive.excerpts.choose(cast.EDITOR, "IV-25.1", "put the kettle on", "film")
    cast_archive.excerpts.tick_heard(cast.EDITOR, here)
    assert cast_archive.excerpts.tick_second(cast.KEEPER, here, "nobody")
    rows = {r.code: r for r in cast_archive.excerpts.list(cast.EDITOR)}
    assert rows[here].shown_sha256 == rows[there].shown_sha256
    assert not draft(cast_archive, here) and rows[there].heard and draft(cast_archive, there)


# -- what surrounds a quote ------------------------------------------------------------------------------------------------
def test_what_stands_around_is_told_where_it_is_asked(cast_archive: Archive) -> None:
    choose = cast_archive.excerpts.choose
    mine = choose(cast.EDITOR, "IV-25.1", "put the kettle on when the flood came up Ropewalk", "exhibition", "The flood")
    beside = choose(cast.EDITOR, "IV-26.1", "Under the tarpaulin", "exhibition", "the FLOOD")
    same = choose(cast.EDITOR, "IV-25.1", "They said", "exhibition", "Elsewhere")
    choose(cast.EDITOR, "IV-21.1", PLAIN, "exhibition", "Elsewhere")
    choose(cast.EDITOR, "IV-26.1", "the winter of sixty-two", "film", "The flood")
    row = next(r for r in cast_archive.excerpts.list(cast.EDITOR) if r.code == mine)
    told = "\n".join(row.around)
    assert row.leaving is not None
    assert [(b.code, b.why) for b in row.leaving.beside] == [(beside, "on the same panel"), (same, "by the same speaker")]
    for part in ("Panel: The flood", "Under it: Name withheld. Oral history interview, recorded in 2025. Tarnwick Voices.", "Ropewalk", "“Under the tarpaulin” (I. D.)"):
        assert part in told, part
    assert "Fosse" not in told and "N-25" not in told
    answer = cast_archive.deciding.may(cast.EDITOR, mine, "exhibition", cast.Way.WORDS)
    assert answer.around[-1] == "Together, do these name her or him?" and set(row.around) <= set(answer.around)
    assert cast_archive.deciding.may(cast.EDITOR, "IV-21.1@500-4000", "exhibition", cast.Way.WORDS).around == ()


def test_a_quote_about_somebody_hidden_here_is_told(cast_archive: Archive) -> None:
    """Two quotes that speak of one hidden person tell more together."""
    first = cast_archive.excerpts.choose(cast.EDITOR, "IV-21.1", "and Walter Brine", "exhibition")
    second = cast_archive.excerpts.choose(cast.EDITOR, "IV-21.1", NAMED, "exhibition")
    row = next(r for r in cast_archive.excerpts.list(cast.EDITOR) if r.code == first)
    assert row.leaving is not None
    assert [b.code for b in row.leaving.beside] == [second]
    assert "about somebody whose name is hidden here" in row.leaving.beside[0].why
    assert "Brine" not in row.leaving.words + "".join(row.around)


def test_a_title_is_told_as_it_would_be_shown(cast_archive: Archive) -> None:
    with cast_archive.rooms.db.write() as connection:
        from sqlalchemy import text

        connection.execute(text("UPDATE recording SET title = 'Lena Fosse and the kettle' WHERE code = 'IV-25.1'"))
    cast_archive.excerpts.choose(cast.EDITOR, "IV-25.1", "put the kettle on", "exhibition")
    (row,) = cast_archive.excerpts.list(cast.KEEPER)
    assert row.leaving is not None and row.leaving.title == "[name withheld] and the kettle"


def test_the_sound_as_it_leaves_is_silent_where_a_name_is(cast_archive: Archive) -> None:
    """Read back by soundfile: exact zeros where readers hear nothing, for editors too."""
    import io

    import numpy as np
    import soundfile

    code = cast_archive.excerpts.choose(cast.EDITOR, "IV-21.1", NAMED, "exhibition")
    (row,) = cast_archive.excerpts.list(cast.EDITOR)
    assert row.code == code and row.leaving is not None and row.leaving.pieces
    piece = row.leaving.pieces[0]
    plain, _ = soundfile.read(io.BytesIO(cast_archive.recordings.sound(cast.EDITOR, "IV-21.1", piece.start_ms, piece.end_ms)))
    leaves, _ = soundfile.read(io.BytesIO(cast_archive.exports.listen(cast.EDITOR, code, piece.start_ms, piece.end_ms)))
    assert 2 * len(plain) == len(leaves)
    assert piece.start_ms == row.start_ms - 80 and piece.end_ms > row.end_ms, "a little before and after, up to the next words"
    words = [w for u in cast_archive.recordings.page(cast.EDITOR, "IV-21.1").shown.utterances for w in u.words if w.text in ("Walter", "Brine")]
    there, later = ((words[0].start_ms - piece.start_ms) * 24, (words[-1].end_ms - piece.start_ms) * 24)
    assert np.abs(plain[there:later]).max() > 0.05
    assert not leaves[2 * there : 2 * later].any()


# -- any sequence ----------------------------------------------------------------------------------------------------------
PEOPLE = ("E-01", "K-01", "e-01 ", "R-01", "maria")
ACTS = st.lists(
    st.one_of(
        st.tuples(st.just("tick"), st.sampled_from(PEOPLE)), st.tuples(st.just("second"), st.sampled_from(PEOPLE)),
        st.tuples(st.just("doubt"), st.sampled_from(PEOPLE)), st.tuples(st.just("name"), st.sampled_from(["hide", "keep", "undecided"])),
        st.tuples(st.just("wish"), st.sampled_from([Attribution.FULL, Attribution.UNNAMED, Attribution.INITIALS])),
    ),
    min_size=2, max_size=9,
)  # fmt: skip


def account_of(name: str) -> str:
    """Whoever has no account sits at the machine itself."""
    return name if name in {v.name for v in cast.VIEWERS} else "keeper on this machine"


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(acts=ACTS)
def test_any_sequence_is_final_exactly_where_the_ticks_stand(
    acts: list[tuple[str, str]], made_cast: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Against a model: what is shown is (mask or not, line under it); ticks are remembered per what was shown."""
    archive = Archive.open(copy_of(made_cast, tmp_path_factory.mktemp("any") / "archive"), {}, cast.clock)
    code = archive.excerpts.choose(cast.EDITOR, "IV-21.1", NAMED, "exhibition")
    name, line = "undecided", Attribution.FULL
    firsts: dict[tuple[bool, str], set[tuple[str, str]]] = {}  # who listened, and under which account that was typed
    seconds: set[tuple[bool, str]] = set()
    for act, what in acts:
        shown = (name != "keep", line.value)
        needs = shown[0] or line == Attribution.UNNAMED
        if act == "tick":
            archive.excerpts.tick_heard(Viewer(what, Role.EDITOR), code)
            firsts.setdefault(shown, set()).add((what.strip().casefold(), account_of(what)))
        elif act == "second":
            may = needs and any(w != what.strip().casefold() and a != account_of(what) for w, a in firsts.get(shown, ()))
            try:
                archive.excerpts.tick_second(Viewer(what, Role.EDITOR), code, "nobody")
                assert may or shown in seconds
                seconds.add(shown)
            except Clash:
                assert not may
        elif act == "doubt":
            archive.excerpts.tick_second(Viewer(what, Role.EDITOR), code, "somebody")
        elif act == "name":
            brine(archive, what)
            name = what
        else:
            wish(archive, "N-21", Attribution(what))
            line = Attribution(what)
        shown = (name != "keep", line.value)
        needs = shown[0] or line == Attribution.UNNAMED
        final = shown in firsts and (not needs or shown in seconds)
        assert draft(archive, code) is not final, (acts, act)
    archive.close()


# -- nobody is singled out by counting -------------------------------------------------------------------------------------
def test_find_offers_nothing_that_singles_out_the_unnamed(cast_archive: Archive) -> None:
    """Whoever is unnamed is neither counted nor narrowed to for readers, and found by birth, sex or role only among three alike."""
    from archive.app import Asked

    for trait in ({"born": "1940s"}, {"born": "1940"}, {"sex": "woman"}, {"role": "narrator"}):
        assert cast_archive.finding.ask(cast.READER, Asked("kettle", **trait)).total == 0
    assert all(not cast_archive.finding.ask(cast.READER, Asked("kettle")).facets[kind] for kind in ("born", "sex", "role"))
    assert cast_archive.finding.ask(cast.EDITOR, Asked("kettle", role="narrator")).total == 1
    told = cast_archive.finding.ask(cast.READER, Asked("kettle"))
    assert told.total == 1 and told.facets.get("speaker", ()) == ()
    assert "N-25" not in {code for code, _ in cast_archive.finding.choices(cast.READER)["speakers"]}
    for code in ("N-25", "N-99"):
        assert cast_archive.finding.ask(cast.READER, Asked(speaker=code)).total == 0, "the answer does not tell which is on record"
    born = re.compile(r"\b(19[34]0|born|sex|gender|aged)\b", re.I)
    from archive.app import as_json

    for shown in (told, cast_archive.recordings.page(cast.READER, "IV-25.1"), cast_archive.recordings.list(cast.READER)):
        assert not born.search(re.sub(r'"(born|sex)":\s*\[\]', "", as_json(shown))), shown
