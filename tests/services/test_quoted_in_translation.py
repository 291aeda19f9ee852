"""A quote shown in translation or beside it: what that needs, what it voids, and what every file says of it."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

import docx
import pytest
import webvtt
from docx.oxml.ns import qn

from archive.app import Archive
from archive.db import consent_rows, people
from archive.domain.values import Answer, Attribution, Review, Role, VoiceWish
from archive.errors import BadInput, Clash, Refused
from archive.services.rows import ExcerptRow, ExportReport
from tests import cast
from tests.cast import EDITOR, KEEPER

MEMBER = next(m for m in cast.CAST if m.code == "N-28")  # named in full, voice disguised
CODE = cast.recording_of(MEMBER.code)
POLISH = "Smarowaliśmy windę dwa razy w tygodniu, a ona i tak śpiewała"


def quoted(archive: Archive, shows: str = "both", text: str = POLISH) -> tuple[str, str]:
    """The whole of what N-28 says, with its translation: (excerpt, translation)."""
    code = archive.excerpts.choose(EDITOR, CODE, MEMBER.text, "exhibition")
    made = archive.translating.write(EDITOR, CODE, 500, 5500, "pl", text)
    archive.excerpts.show_as(EDITOR, code, shows)
    return code, made


def row_of(archive: Archive, code: str) -> ExcerptRow:
    return next(r for r in archive.excerpts.list(EDITOR) if r.code == code)


def final(archive: Archive, code: str) -> None:
    """Heard by two people, for a disguised voice needs both."""
    archive.excerpts.tick_heard(EDITOR, code)
    archive.excerpts.tick_second(KEEPER, code, "nobody")


def given(archive: Archive, codes: Sequence[str], folder: Path) -> tuple[ExportReport, dict[str, Path]]:
    report = archive.exports.make(EDITOR, codes, "exhibition", folder)
    return report, {Path(f).name: Path(f) for f in report.files}


@pytest.mark.parametrize("shows", ["original", "translation", "both"])
def test_every_file_says_which_language_is_which_and_whose_words_they_are(cast_archive: Archive, tmp_path: Path, shows: str) -> None:
    archive = cast_archive
    code, made = quoted(archive, shows)
    archive.translating.say_state(KEEPER, made, "checked")
    final(archive, code)
    report, files = given(archive, [code], tmp_path / "out")
    assert not report.refused and not report.draft
    (quote,) = json.loads(files["quotes.json"].read_text(encoding="utf-8"))["quotes"]
    sheet = docx.Document(str(files["wall-text.docx"]))
    runs = {r.text.strip("“”"): r._r.find(f".//{qn('w:lang')}") for p in sheet.paragraphs for r in p.runs}
    captions = {name: " ".join(c.text for c in webvtt.read(str(path))) for name, path in files.items() if name.endswith(".vtt")}
    if shows == "original":
        assert "translation" not in quote and POLISH not in runs and set(captions) == {"clip-01.vtt"}
        return
    assert quote["translation"] == {"language": "pl", "words": POLISH, "credit": "Translated from English by E-01."}
    assert (quote["words"], quote["language"], quote["shows"]) == (MEMBER.text if shows == "both" else "", "en", shows)
    assert runs[POLISH].get(qn("w:val")) == "pl" and (MEMBER.text in runs) == (shows == "both")
    assert "Translated from English by E-01." in [p.text for p in sheet.paragraphs]
    assert " ".join(captions["clip-01.pl.vtt"].split()) == POLISH
    assert ("clip-01.vtt" in captions) == (shows == "both")
    raw = files["clip-01.pl.vtt"].read_text(encoding="utf-8")
    assert "<lang pl>" in raw and "</lang>" in raw, "WebVTT §4.2.2: cue language span"
    assert archive.exports.file(EDITOR, report.code, "quotes.json").is_file()


def test_a_draft_of_a_translation_makes_a_draft_of_the_quote(cast_archive: Archive, tmp_path: Path) -> None:
    code, made = quoted(cast_archive)
    final(cast_archive, code)
    assert row_of(cast_archive, code).draft_reason == "Its translation is a draft: a second speaker of the language has to check it."
    report, files = given(cast_archive, [code], tmp_path / "out")
    assert report.draft and any("its translation is not yet checked" in p.text for p in docx.Document(str(files["DRAFT-wall-text.docx"])).paragraphs)
    cast_archive.translating.say_state(KEEPER, made, "checked")
    assert not row_of(cast_archive, code).draft_reason, "its words are the same: the ticks stand"


def test_a_change_of_the_translation_voids_ticks_and_so_does_another_way_of_showing(cast_archive: Archive) -> None:
    code, made = quoted(cast_archive)
    final(cast_archive, code)
    assert row_of(cast_archive, code).heard and row_of(cast_archive, code).heard_second
    cast_archive.translating.change(EDITOR, made, POLISH + "!")
    assert not row_of(cast_archive, code).heard and row_of(cast_archive, code).heard_before
    final(cast_archive, code)
    cast_archive.excerpts.show_as(EDITOR, code, "translation")
    assert not row_of(cast_archive, code).heard
    cast_archive.excerpts.show_as(EDITOR, code, "both")
    assert row_of(cast_archive, code).heard, "shown as it was when it was ticked, the tick counts"


def test_an_approval_is_of_the_quote_with_its_translation(cast_archive: Archive) -> None:
    archive = cast_archive
    with archive.rooms.db.write() as connection:
        person = people.by_code(connection, MEMBER.code)
        assert person is not None
        consent_rows.add_wish(
            connection, person_id=person.id, attribution=Attribution.FULL, voice=VoiceWish.DISGUISED, review=Review.WANTED,
            from_on=cast.SIGNED, by="K-01", at=archive.rooms.now(),
        )  # fmt: skip
    code, made = quoted(archive)
    assert not row_of(archive, code).words_may.allowed
    archive.consent.approve(EDITOR, code, MEMBER.code, Answer.YES)
    assert row_of(archive, code).words_may.allowed
    archive.translating.change(EDITOR, made, POLISH + "!")
    assert not row_of(archive, code).words_may.allowed


def test_it_needs_the_narrator_s_word_for_translation_beside_the_use(cast_archive: Archive, tmp_path: Path) -> None:
    code, _ = quoted(cast_archive)
    report, files = given(cast_archive, [code], tmp_path / "before")
    assert not report.refused
    cast_archive.consent.withdraw(KEEPER, MEMBER.code, how="letter", use="translation")
    row = row_of(cast_archive, code)
    assert not row.words_may.allowed and all(s.startswith("In translation.") for s in row.words_may.sentences)
    again, _ = given(cast_archive, [code], tmp_path / "after")
    assert [r.excerpt for r in again.refused] == [code] and not again.files
    with pytest.raises(Exception, match="may not leave any more"):
        cast_archive.exports.file(EDITOR, report.code, "DRAFT-quotes.json")
    cast_archive.excerpts.show_as(EDITOR, code, "original")
    assert row_of(cast_archive, code).words_may.allowed, "the original itself may"


def test_only_of_exactly_these_words(cast_archive: Archive) -> None:
    part = cast_archive.excerpts.choose(EDITOR, CODE, "We greased the windlass", "exhibition")
    whole, made = quoted(cast_archive)
    with pytest.raises(BadInput, match="exactly these words"):
        cast_archive.excerpts.show_as(EDITOR, part, "both")
    other = cast_archive.translating.write(EDITOR, CODE, 500, 5500, "de", "Wir schmierten die Winde")
    with pytest.raises(BadInput, match="several"):
        cast_archive.excerpts.show_as(EDITOR, whole, "both")
    cast_archive.excerpts.show_as(EDITOR, whole, "both", other)
    assert dict(row_of(cast_archive, whole).translations) == {made: "Polish", other: "German"}
    cast_archive.translating.say_state(EDITOR, other, "set aside")
    assert row_of(cast_archive, whole).words_may.sentences == ("It is to be shown in translation, and that translation was set aside. Choose another one, or show the original.",)


PIECES = [("Smarowaliśmy windę", 0, 3), ("śpiewała", 8, 12)]  # of “We greased the windlass […] it sang all the same”


def in_pieces(archive: Archive, pieces: Sequence[tuple[str, int, int]] = PIECES) -> tuple[str, list[str]]:
    """A quote with words left out, and translations of its pieces (text, first and last word): (excerpt, their codes)."""
    said = cast.words_of(MEMBER.text)
    wording = " […] ".join(" ".join(w.text for w in said[first : last + 1]) for _, first, last in PIECES)
    code = archive.excerpts.choose(EDITOR, CODE, wording, "exhibition")
    return code, [archive.translating.write(EDITOR, CODE, said[first].start_ms, said[last].end_ms, "pl", text) for text, first, last in pieces]


@pytest.mark.parametrize("shows", ["translation", "both"])
def test_with_words_left_out_each_piece_has_its_own_translation(cast_archive: Archive, tmp_path: Path, shows: str) -> None:
    code, made = in_pieces(cast_archive)
    assert row_of(cast_archive, code).translations == ((" ".join(made), "Polish"),)
    cast_archive.excerpts.show_as(EDITOR, code, shows)
    cast_archive.translating.say_state(KEEPER, made[0], "checked")
    assert row_of(cast_archive, code).draft_reason.endswith("a second speaker of the language has to check it."), "of one piece it is still a draft"
    cast_archive.translating.say_state(KEEPER, made[1], "checked")
    final(cast_archive, code)
    report, files = given(cast_archive, [code], tmp_path / "out")
    assert not report.refused and not report.draft
    (quote,) = json.loads(files["quotes.json"].read_text(encoding="utf-8"))["quotes"]
    assert quote["translation"]["words"] == " […] ".join(text for text, *_ in PIECES)
    assert quote["translation"]["credit"] == "Translated from English by E-01."
    said, other = (webvtt.read(str(files[name])) if name in files else None for name in ("clip-01.vtt", "clip-01.pl.vtt"))
    assert other is not None and " ".join(" ".join(c.text for c in other).split()) == " ".join(text for text, *_ in PIECES), "nobody speaks […]"
    assert (said is not None) == (shows == "both")
    cast_archive.translating.change(EDITOR, made[1], "i tak śpiewała")
    assert not row_of(cast_archive, code).heard, "a change of one piece is a change of the quote"


def test_a_piece_without_its_translation_is_named(cast_archive: Archive) -> None:
    code, made = in_pieces(cast_archive, PIECES[:1])
    assert not row_of(cast_archive, code).translations
    with pytest.raises(BadInput) as refused:
        cast_archive.excerpts.show_as(EDITOR, code, "both")
    assert "not each piece" in str(refused.value) and refused.value.remedy.startswith("Of the 2, there is none of piece 2.")
    said = cast.words_of(MEMBER.text)
    german = cast_archive.translating.write(EDITOR, CODE, said[8].start_ms, said[12].end_ms, "de", "sang sie doch")
    with pytest.raises(BadInput):
        cast_archive.excerpts.show_as(EDITOR, code, "both", f"{made[0]} {german}")
    polish = cast_archive.translating.write(EDITOR, CODE, said[8].start_ms, said[12].end_ms, "pl", "śpiewała")
    for wrong in (polish, f"{polish} {made[0]}", f"{made[0]} {polish} {polish}"):
        with pytest.raises(BadInput):
            cast_archive.excerpts.show_as(EDITOR, code, "both", wrong)
    cast_archive.excerpts.show_as(EDITOR, code, "both", f"{made[0]} {polish}")
    cast_archive.translating.say_state(EDITOR, polish, "set aside")
    assert row_of(cast_archive, code).words_may.sentences[0].startswith("It is to be shown in translation, and that translation was set aside.")


def test_a_name_in_one_piece_holds_all_of_it_and_what_went_out(cast_archive: Archive, tmp_path: Path) -> None:
    code, made = in_pieces(cast_archive, [PIECES[0], ("śpiewała z Rosalind Veck", *PIECES[1][1:])])
    cast_archive.excerpts.show_as(EDITOR, code, "translation")
    report, _ = given(cast_archive, [code], tmp_path / "out")
    assert cast_archive.exports.file(EDITOR, report.code, "DRAFT-quotes.json").is_file()
    other, spoken = cast.recording_of("N-21"), cast.words_of("It was Rosalind Veck who sold it")
    cast.give_words(cast_archive, other, [("N-21", spoken)])
    cast_archive.naming.decide(EDITOR, other, spoken[2].start_ms, spoken[3].end_ms, "", "hide", "they asked")
    assert row_of(cast_archive, code).words_may.sentences[0].startswith("The translation may not leave.")
    cast_archive.translating.change(EDITOR, made[1], "śpiewała z [name withheld]")
    cast_archive.translating.change(EDITOR, made[0], "Smarowaliśmy tę windę")
    with pytest.raises(Refused):
        cast_archive.exports.file(EDITOR, report.code, "DRAFT-quotes.json")


@pytest.mark.parametrize("text", ["Smarowaliśmy windę, a Lena Fosse śpiewała", "Ottilie Crane i Brine smarowali windę"])
def test_a_translation_with_a_hidden_name_does_not_leave(cast_archive: Archive, tmp_path: Path, text: str) -> None:
    code, _ = quoted(cast_archive, text=text)
    report, _ = given(cast_archive, [code], tmp_path / "out")
    assert not report.files and [r.excerpt for r in report.refused] == [code]
    assert report.refused[0].reasons[0].startswith("The translation may not leave.") and not any(n in report.refused[0].reasons[0] for n in text.split() if n[0].isupper() and n != "The")


def test_the_original_stays_pinned_where_the_transcript_changed(cast_archive: Archive, tmp_path: Path) -> None:
    """The quote is of its own version, and so is the translation, until somebody translates the new words."""
    code, made = quoted(cast_archive)
    other = [w if w.text != "windlass" else type(w)("capstan", w.start_ms, w.end_ms) for w in cast.words_of(MEMBER.text)]
    cast.give_words(cast_archive, CODE, [(MEMBER.code, other)])
    report, files = given(cast_archive, [code], tmp_path / "out")
    assert MEMBER.text in files["DRAFT-quotes.json"].read_text(encoding="utf-8") and not report.refused
    with pytest.raises(Clash):
        cast_archive.translating.say_state(KEEPER, made, "checked")
    cast_archive.translating.change(EDITOR, made, POLISH)
    assert row_of(cast_archive, code).words_may.sentences[0].startswith("Its translation is not of exactly these words")


def test_no_file_names_a_translator_who_is_not_to_be_named(cast_archive: Archive, tmp_path: Path) -> None:
    """An account under the name of somebody on record."""
    cast_archive.accounts.add(KEEPER, "Lena Fosse", Role.EDITOR, cast.PASSWORD)
    code = cast_archive.excerpts.choose(EDITOR, CODE, MEMBER.text, "exhibition")
    cast_archive.translating.write(EDITOR, CODE, 500, 5500, "pl", POLISH, "Lena Fosse")
    cast_archive.excerpts.show_as(EDITOR, code, "both")
    report, files = given(cast_archive, [code], tmp_path / "out")
    assert not report.refused
    assert json.loads(files["DRAFT-quotes.json"].read_text(encoding="utf-8"))["quotes"][0]["translation"]["credit"] == "Translated from English."
    assert not any("Fosse" in path.read_text(encoding="utf-8") for name, path in files.items() if name.endswith((".vtt", ".srt")))


def test_a_file_is_not_handed_out_again_once_its_translation_names_somebody_hidden(cast_archive: Archive, tmp_path: Path) -> None:
    code, made = quoted(cast_archive, text="Smarowaliśmy windę z Rosalind Veck")
    report, _ = given(cast_archive, [code], tmp_path / "out")
    assert cast_archive.exports.file(EDITOR, report.code, "DRAFT-quotes.json").is_file()
    other, spoken = cast.recording_of("N-21"), cast.words_of("It was Rosalind Veck who sold it")
    cast.give_words(cast_archive, other, [("N-21", spoken)])
    cast_archive.naming.decide(EDITOR, other, spoken[2].start_ms, spoken[3].end_ms, "", "hide", "they asked")
    for _ in range(2):  # as it is, and after it was put right: what went out says it still
        with pytest.raises(Refused):
            cast_archive.exports.file(EDITOR, report.code, "DRAFT-quotes.json")
        assert cast_archive.exports.register(EDITOR)[0].recall
        cast_archive.translating.change(EDITOR, made, "Smarowaliśmy windę z [name withheld]")


def test_a_corrected_letter_takes_nothing_down(cast_archive: Archive, tmp_path: Path) -> None:
    code, made = quoted(cast_archive)
    report, _ = given(cast_archive, [code], tmp_path / "out")
    cast_archive.translating.change(EDITOR, made, POLISH + "!")
    cast_archive.excerpts.show_as(EDITOR, code, "original")
    assert cast_archive.exports.file(EDITOR, report.code, "DRAFT-quotes.json").is_file() and not cast_archive.exports.register(EDITOR)[0].recall
