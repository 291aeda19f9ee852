"""Translations beside the original: who reads them, what holds them back, where they stand when words change, how they are found."""

from __future__ import annotations

import pytest

from archive.app import Archive, Asked
from archive.db import translations
from archive.domain.cleared import ShownTranslation
from archive.domain.values import Role, Viewer, Word
from archive.errors import BadInput, Clash, NotAllowed, NotFound, Refused
from tests import cast
from tests.cast import CAST, EDITOR, KEEPER, READER, VIEWERS

OPEN = cast.recording_of("N-28")  # We greased the windlass twice a week and it sang all the same
NAMED = cast.recording_of("N-21")  # … and Walter Brine held the rope for us: nobody has decided about him
POLISH = "Smarowaliśmy kołowrót dwa razy w tygodniu"
MASKED = "Nieśliśmy latarnię ulicą Net Row, a [name withheld] trzymał linę"


def write(archive: Archive, recording: str, text: str, last_word: int, first_word: int = 0) -> str:
    start_ms, end_ms = 500 + first_word * cast.WORD_MS, 500 + last_word * cast.WORD_MS + 10
    return archive.translating.write(EDITOR, recording, start_ms, end_ms, "Polish", text)


def read(archive: Archive, viewer: Viewer, recording: str) -> tuple[ShownTranslation, ...]:
    return archive.recordings.page(viewer, recording).translations


def test_it_stands_beside_whole_words_as_a_draft(cast_archive: Archive) -> None:
    code = write(cast_archive, OPEN, f" {POLISH}\n", 6)
    for viewer in VIEWERS:
        (one,) = read(cast_archive, viewer, OPEN)
        assert (one.code, one.text, one.language, one.language_name) == (code, POLISH, "pl", "Polish")
        assert (one.start_ms, one.end_ms) == (500, 500 + 6 * cast.WORD_MS + 320), "rounded outwards to whole words"
        assert (one.state, one.translator, one.changed, one.held_back) == ("draft", "E-01", False, "")
    with pytest.raises(NotAllowed):
        cast_archive.translating.write(READER, OPEN, 0, 3000, "pl", POLISH)


def test_checked_by_a_second_speaker_and_agreed_all_on_record(cast_archive: Archive) -> None:
    code = write(cast_archive, OPEN, POLISH, 6)
    with pytest.raises(Clash):
        cast_archive.translating.say_state(EDITOR, code, "checked")
    cast_archive.translating.say_state(KEEPER, code, "checked")
    assert "checked by a second speaker of the language (K-01" in read(cast_archive, READER, OPEN)[0].state_words
    cast_archive.translating.change(KEEPER, code, POLISH + ".")
    assert read(cast_archive, READER, OPEN)[0].state == "draft", "other words were checked by nobody"
    with pytest.raises(Clash):  # the keeper typed these words
        cast_archive.translating.say_state(KEEPER, code, "checked")
    cast_archive.translating.say_state(EDITOR, code, "agreed")
    history = cast_archive.translating.one(EDITOR, code).history
    assert [line.split(":")[0] for line in history] == ["A draft", "Checked by a second speaker of the language", "A draft", "Agreed with the speaker"]
    cast_archive.translating.say_state(EDITOR, code, "set aside")
    assert read(cast_archive, KEEPER, OPEN) == ()


def test_bad_input_is_told_and_repeats_nothing(cast_archive: Archive) -> None:
    code = write(cast_archive, OPEN, POLISH, 6)
    for call in (
        lambda: cast_archive.translating.write(EDITOR, OPEN, 0, 3000, "Elbonian", POLISH),
        lambda: cast_archive.translating.write(EDITOR, OPEN, 0, 3000, "pl", "  \n "),
        lambda: cast_archive.translating.write(EDITOR, OPEN, 0, 3000, "pl", "x" * 20_001),
        lambda: cast_archive.translating.write(EDITOR, OPEN, 0, 100, "pl", POLISH),
        lambda: cast_archive.translating.write(EDITOR, OPEN, 0, 3000, "pl", POLISH, "Lena Fosse"),
        lambda: cast_archive.translating.say_state(EDITOR, code, "perfect"),
    ):
        with pytest.raises(BadInput) as told:
            call()
        assert "Lena" not in told.value.message and "Elbonian" not in told.value.message
    with pytest.raises(NotFound):
        cast_archive.translating.change(EDITOR, "TR-99", POLISH)
    assert len(read(cast_archive, EDITOR, OPEN)) == 1


# -- what is closed, and who is hidden ---------------------------------------------------------------------------------
@pytest.mark.parametrize("member", [m for m in CAST if m.held], ids=lambda m: m.held)
def test_closed_speech_can_neither_be_translated_nor_read_in_translation(cast_archive: Archive, member: cast.Member) -> None:
    """Written before it was closed, it is closed with its original; the archive finds nothing of it."""
    code = cast.recording_of(member.code)
    with pytest.raises(Refused):
        write(cast_archive, code, POLISH, 3)
    cast.translate(cast_archive, code, "Przekład o żurawiu")
    for viewer in VIEWERS:
        assert read(cast_archive, viewer, code) == () and cast_archive.translating.list(viewer) == ()
        assert cast_archive.finding.ask(viewer, Asked("żurawiu")).total == 0
    with pytest.raises(Refused):
        cast_archive.translating.one(EDITOR, "TR-1")


def test_a_name_that_is_hidden_in_the_original_holds_the_translation_back(cast_archive: Archive) -> None:
    """The same eyes as the last scan's; and as many masks as the original has, since another language bends names."""
    for text, why in (
        ("Nieśliśmy latarnię, a Walter Brine trzymał linę [name withheld]", "A name that is hidden"),
        ("Nieśliśmy latarnię, a Walterem trzymano linę", "The original hides something in 1 place, the translation in no places."),
    ):
        code = write(cast_archive, NAMED, text, 14)
        (one,) = read(cast_archive, EDITOR, NAMED)
        assert one.held_back.startswith(why)
        assert read(cast_archive, READER, NAMED) == ()
        assert cast_archive.finding.ask(EDITOR, Asked("latarnię")).total == 1
        assert cast_archive.finding.ask(READER, Asked("latarnię")).total == 0
        assert cast_archive.finding.ask(READER, Asked("trzymał or trzymano")).total == 0
        cast_archive.translating.say_state(EDITOR, code, "set aside")
    write(cast_archive, NAMED, MASKED, 14)
    assert [one.text for one in read(cast_archive, READER, NAMED)] == [MASKED]
    assert cast_archive.finding.ask(READER, Asked("latarnię")).total == 1
    assert cast_archive.finding.ask(READER, Asked('"a trzymał"')).total == 0, "no phrase reaches across a mask"


def test_a_decision_of_today_counts_for_a_translation_of_yesterday(cast_archive: Archive) -> None:
    text = "Smarowaliśmy kołowrót Ottylii dwa razy"
    write(cast_archive, OPEN, text, 6)
    assert read(cast_archive, READER, OPEN)
    cast_archive.naming.decide(EDITOR, OPEN, 500 + 3 * cast.WORD_MS, 500 + 3 * cast.WORD_MS + 300, "", "hide", "they asked")
    assert read(cast_archive, READER, OPEN) == ()
    assert cast_archive.finding.ask(READER, Asked("kołowrót")).total == 0
    assert read(cast_archive, EDITOR, OPEN)[0].held_back


def test_a_name_of_somebody_on_record_may_not_come_in_by_translating(cast_archive: Archive) -> None:
    """“It sang” becomes somebody by name, though the original says none."""
    write(cast_archive, OPEN, "Smarowaliśmy, a Lena Fosse śpiewała", 11)
    assert read(cast_archive, EDITOR, OPEN)[0].held_back and read(cast_archive, READER, OPEN) == ()


def test_a_name_that_may_stand_in_the_original_may_stand_in_its_translation(cast_archive: Archive) -> None:
    named = "Nieśliśmy latarnię, a Walter Brine trzymał linę"
    write(cast_archive, NAMED, named, 14)
    start_ms, end_ms, _ = cast_archive.naming.waiting(EDITOR, NAMED)[0]
    cast_archive.naming.decide(EDITOR, NAMED, start_ms, end_ms, cast.THIRD[0], "keep", "decided")
    assert [one.text for one in read(cast_archive, READER, NAMED)] == [named]


def hide(archive: Archive, recording: str, word: Word, decision: str = "hide") -> None:
    archive.naming.decide(EDITOR, recording, word.start_ms, word.end_ms, "", decision, "decided")


MET = cast.words_of("We met the farrier and the cobbler by the old mill")


@pytest.mark.parametrize("text", ["Spotkaliśmy [name withheld] i szewca", "Spotkaliśmy kowala i szewca przy [name withheld]"])
def test_a_mask_that_stood_for_something_else_hides_nobody_later(cast_archive: Archive, text: str) -> None:
    """Another language bends names, and one mask is as good as another where they are only counted."""
    cast.give_words(cast_archive, OPEN, [("N-28", MET)])
    hide(cast_archive, OPEN, MET[3])
    code = write(cast_archive, OPEN, text, 10)
    assert read(cast_archive, READER, OPEN)
    hide(cast_archive, OPEN, MET[3], "keep")
    assert read(cast_archive, READER, OPEN), "less is hidden now"
    hide(cast_archive, OPEN, MET[6])
    assert read(cast_archive, READER, OPEN) == () and read(cast_archive, EDITOR, OPEN)[0].held_back.startswith("Something is hidden")
    assert cast_archive.finding.ask(READER, Asked("spotkaliśmy")).total == 0
    later = [Word(w.text, w.start_ms + 300, w.end_ms + 300) for w in MET]
    cast.give_words(cast_archive, OPEN, [("N-28", later)])
    assert read(cast_archive, READER, OPEN) == (), "heard again it is held back as before"
    cast_archive.translating.change(EDITOR, code, "Spotkaliśmy kowala i [name withheld]")
    assert read(cast_archive, READER, OPEN)
    cast.give_words(cast_archive, OPEN, [("N-28", MET)])
    assert read(cast_archive, READER, OPEN), "and what withholds it is read wherever its words are"


def test_a_name_hidden_in_another_recording_is_found_in_no_translation(cast_archive: Archive) -> None:
    write(cast_archive, OPEN, "Smarowaliśmy windę z Rosalind Veck", 6)
    assert cast_archive.finding.ask(READER, Asked("Veck")).total == 1
    spoken = cast.words_of("It was Rosalind Veck who sold it")
    cast.give_words(cast_archive, NAMED, [("N-21", spoken)])
    cast_archive.naming.decide(EDITOR, NAMED, spoken[2].start_ms, spoken[3].end_ms, "", "hide", "they asked")
    assert read(cast_archive, READER, OPEN) == () and cast_archive.finding.ask(READER, Asked("Veck")).total == 0
    assert cast_archive.records.check(KEEPER) == ()


def test_a_translator_whose_name_may_not_be_read_is_not_named(cast_archive: Archive) -> None:
    """An account under the name of somebody on record, who is not to be named."""
    cast_archive.accounts.add(KEEPER, "Lena Fosse", Role.EDITOR, cast.PASSWORD)
    write_by = cast_archive.translating.write(EDITOR, OPEN, 500, 3000, "pl", POLISH, "Lena Fosse")
    cast_archive.translating.say_state(Viewer("Lena Fosse", Role.EDITOR), write_by, "agreed")
    (one,) = read(cast_archive, READER, OPEN)
    assert "Lena" not in f"{one.translator} {one.state_words}" and read(cast_archive, EDITOR, OPEN)[0].translator == "Lena Fosse"
    assert "Lena" not in cast_archive.finding.ask(READER, Asked("kołowrót")).hits[0].translated


# -- when words change -------------------------------------------------------------------------------------------------
def test_an_edit_elsewhere_leaves_it_and_one_inside_marks_it(cast_archive: Archive) -> None:
    code = write(cast_archive, OPEN, POLISH, 6)
    spoken = cast.words_of("We greased the windlass twice a week and it sang all the same")
    told = [*spoken[:-1], Word("similar", spoken[-1].start_ms, spoken[-1].end_ms)]
    cast.give_words(cast_archive, OPEN, [("N-28", told)])
    (one,) = read(cast_archive, READER, OPEN)
    assert not one.changed and one.end_ms == spoken[6].end_ms
    moved = [Word(w.text, w.start_ms + 300, w.end_ms + 300) for w in told]
    cast.give_words(cast_archive, OPEN, [("N-28", moved)])
    (one,) = read(cast_archive, READER, OPEN)
    assert not one.changed and (one.start_ms, one.end_ms) == (moved[0].start_ms, moved[6].end_ms), "it goes with its words"
    cast.give_words(cast_archive, OPEN, [("N-28", [Word("capstan", w.start_ms, w.end_ms) if w.text == "windlass" else w for w in moved])])
    assert read(cast_archive, READER, OPEN) == (), "a name may have gone out of the original"
    (one,) = read(cast_archive, EDITOR, OPEN)
    assert one.changed and one.text == POLISH and one.translator == "E-01"
    with pytest.raises(Clash):
        cast_archive.translating.say_state(KEEPER, code, "checked")
    cast_archive.translating.change(EDITOR, code, POLISH)
    assert not read(cast_archive, READER, OPEN)[0].changed
    with cast_archive.rooms.db.read() as connection:
        assert {r.number for r in translations.history(connection, code)} == {1, 2}, "what the archive carried is nobody's new wording"


def test_what_was_closed_stays_closed_in_translation_though_its_words_are_not_heard_again(cast_archive: Archive) -> None:
    spoken = cast.words_of("We greased the windlass twice a week and it sang all the same")
    write(cast_archive, OPEN, POLISH + ", a ona śpiewała", 11)
    cast_archive.consent.seal(EDITOR, OPEN, spoken[0].start_ms, spoken[5].end_ms, "asked")
    cast.give_words(cast_archive, OPEN, [("N-28", spoken[7:])])
    for viewer in VIEWERS:
        assert read(cast_archive, viewer, OPEN) == () and cast_archive.finding.ask(viewer, Asked("śpiewała")).total == 0


# -- found -------------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("viewer", VIEWERS, ids=lambda v: v.role.value)
def test_a_passage_is_found_by_the_words_of_its_translation(cast_archive: Archive, viewer: Viewer) -> None:
    write(cast_archive, OPEN, POLISH, 6)
    ask = cast_archive.finding.ask
    found = ask(viewer, Asked("kołowrót"))
    assert found.total == 1
    (hit,) = found.hits
    assert (hit.recording, hit.translated, hit.language) == (OPEN, "Polish, by E-01", "pl")
    assert [text for text, is_match in hit.snippet.parts if is_match] == ["kołowrót"]
    assert ask(viewer, Asked("windlass")).hits[0].translated == "", "found in the original, it says nothing of the other"
    assert ask(viewer, Asked('"same Smarowaliśmy"')).total == 0, "own words and translation make no phrase together"
    assert ask(viewer, Asked("kołowrót windlass")).total == 1
    assert ask(viewer, Asked("")).total == len({h.unit_id for h in ask(viewer, Asked(""), 200).hits}), "no passage is there twice"


def test_a_withdrawal_takes_it_away_at_once(cast_archive: Archive) -> None:
    write(cast_archive, OPEN, POLISH, 6)
    cast_archive.consent.withdraw(KEEPER, "N-28", how="letter")
    for viewer in VIEWERS:
        assert cast_archive.finding.ask(viewer, Asked("kołowrót")).total == 0 and read(cast_archive, viewer, OPEN) == ()


def test_changed_and_set_aside_it_is_found_by_what_it_says_now(cast_archive: Archive) -> None:
    code = write(cast_archive, OPEN, POLISH, 6)
    cast_archive.translating.change(EDITOR, code, "Smarowaliśmy windę")
    assert cast_archive.finding.ask(READER, Asked("kołowrót")).total == 0 and cast_archive.finding.ask(READER, Asked("windę")).total == 1
    cast_archive.translating.say_state(EDITOR, code, "set aside")
    assert cast_archive.finding.ask(KEEPER, Asked("windę")).total == 0
    assert cast_archive.records.check(KEEPER) == ()
