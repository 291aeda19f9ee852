"""Finding: what a question may be, what it sees of whom, and that its counts are those of its hits."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import text

from archive.app import Archive, Asked
from archive.db import consent_rows, recordings, search, uses
from archive.db import words as spoken
from archive.domain.letters import folded
from archive.domain.values import Viewer
from archive.errors import BadInput, NotFound
from archive.rules.questions import Everything, parse_query
from tests import cast
from tests.cast import EDITOR, KEEPER, READER, VIEWERS

SEEN = {"N-21", "N-25", "N-26", "N-27", "N-28", "N-29"}  # the cast that the team may read today
TOWN = (
    "the rope ran over the quay. we struck the bell at Lower Quay in 1962",
    "striking men stood on Ropewalk; the ferry-men’s wages were paid in 1974",
    "my mother’s kettle, my father’s lantern: nothing else came out of the flood of 1968",
    "she said the café on Net Row was shut, and the ferry did not run",
)


@pytest.fixture(scope="module")
def town(made_cast: Path, tmp_path_factory: pytest.TempPathFactory) -> Archive:
    """The cast, with four more recordings' worth of words in N-21's; only ever read."""
    from tests.conftest import copy_of

    archive = Archive.open(copy_of(made_cast, tmp_path_factory.mktemp("town") / "archive"), {}, cast.clock)
    start_ms, lines = 500, []
    for line in TOWN:
        words = cast.words_of(line, start_ms)
        lines.append(("N-21", words))
        start_ms = words[-1].end_ms + 100
    with archive.rooms.db.write() as connection:
        connection.execute(text("UPDATE recording SET duration_ms = :d WHERE code = 'IV-21.1'"), {"d": start_ms + 500})
    cast.give_words(archive, "IV-21.1", lines)
    return archive


def found(archive: Archive, words: str, viewer: Viewer = EDITOR, **narrowed: str) -> set[str]:
    return {h.recording for h in archive.finding.ask(viewer, Asked(words, **narrowed), 200).hits}


# --- the language -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "codes"),
    [
        ("lantern", {"IV-21.1"}),
        ("LANTERN", {"IV-21.1"}),
        ("kettle", {"IV-21.1", "IV-25.1"}),
        ("kettle lantern", {"IV-21.1"}),
        ("kettle and not lantern", {"IV-25.1"}),
        ("kettle not lantern", {"IV-25.1"}),
        ("herring or tarpaulin", {"IV-27.1", "IV-26.1"}),
        ("(herring or tarpaulin) and winter", {"IV-26.1"}),
        ("not (kettle or herring)", {"IV-26.1", "IV-28.1", "IV-29.1"}),
        ("not kettle not herring not tarpaulin not windlass not oilskin", set()),
        ("strike", {"IV-21.1"}),  # striking, by its stem
        ('"striking men"', {"IV-21.1"}),
        ('"strike men"', set()),  # a phrase is looked for as it was said
        ('"men striking"', set()),
        ('"mother\'s kettle"', {"IV-21.1"}),
        ("lant*", {"IV-21.1"}),
        ("herr* or tarp*", {"IV-27.1", "IV-26.1"}),
        ("cafe", {"IV-21.1"}),
        ("CAFÉ", {"IV-21.1"}),
        ("cafe\u0301", {"IV-21.1"}),  # in parts, as a Mac types it
        ("zeppelin", set()),
        ("zeppelin or kettle", {"IV-21.1", "IV-25.1"}),
    ],
)  # fmt: skip
def test_questions(town: Archive, words: str, codes: set[str]) -> None:
    assert found(town, words) == codes


def test_no_question_is_everything_that_may_be_seen(town: Archive) -> None:
    assert found(town, "") == found(town, "  ") == {f"IV-{c[2:]}.1" for c in SEEN}


@pytest.mark.parametrize("words", ["!?", "...", "“”", "()", '""', "* * *", "not", "and or not", "not ()", "("])
def test_a_question_of_signs_and_operators_alone_never_fails(town: Archive, words: str) -> None:
    """Signs alone find nothing; an operator that stands alone is a word like any other ("nobody mended it, not they")."""
    assert found(town, words) == ({"IV-21.1"} if words == "not" else {"IV-21.1", "IV-28.1"} if words == "and or not" else set())


PIECES = st.sampled_from(
    ["lantern", "kettle", "herring", '"', "'", "(", ")", "*", "and", "or", "not", "AND", "NOT", "NEAR", "NEAR(a b, 2)", ":", "full_exact:", "shown_stem : x", "^", "+", "-",
     "{", "}", "\\", "%", "_", "[name withheld]", "ǂǂǂ", "ǃ", "!nai", "’s", "…", "\x00", "\ufeff", "café", "фото", "東京", "𞤀", "½", "a" * 300, "1968", "--", "; DROP TABLE find_text", "*)", 'x"y']
)  # fmt: skip


@settings(max_examples=80)
@given(st.lists(PIECES | st.text(max_size=6), max_size=14).map(" ".join))
def test_odd_input_never_fails(town: Archive, words: str) -> None:
    """Whatever is typed reaches FTS5 as quoted tokens: no operator, column or error of its own."""
    for viewer in (EDITOR, READER):
        answer = town.finding.ask(viewer, Asked(words), 200)
        assert {h.recording for h in answer.hits} <= {f"IV-{c[2:]}.1" for c in SEEN}
        assert answer.total == len(answer.hits)


@pytest.mark.parametrize("words", ["lantern " * 5000, " or ".join(["kettle"] * 900), "not " * 900 + "kettle", "(" * 400 + "kettle" + ")" * 400,
                                   " ".join(f"w{n}" for n in range(900)), " or ".join(f"w{n}*" for n in range(900)), '"' + "rope " * 3000 + '"'])  # fmt: skip
def test_endless_questions_never_fail(town: Archive, words: str) -> None:
    assert town.finding.ask(EDITOR, Asked(words)).total <= len(SEEN)


def plain(words: str) -> list[str]:
    return [folded(w).replace("’", "'").removesuffix("'s") for w in re.findall(r"[^\W_]+(?:['’][^\W_]+)*", words)]


@settings(max_examples=30)
@given(line=st.sampled_from(TOWN), data=st.data())
def test_every_run_of_words_that_was_said_is_found_as_a_phrase(town: Archive, line: str, data: st.DataObject) -> None:
    said = line.split()
    first = data.draw(st.integers(0, len(said) - 1))
    last = data.draw(st.integers(first, min(len(said) - 1, first + 4)))
    assert "IV-21.1" in found(town, '"' + " ".join(said[first : last + 1]) + '"')


@settings(max_examples=30)
@given(words=st.lists(st.sampled_from(sorted({w for line in TOWN for w in plain(line)})), min_size=2, max_size=3))
def test_a_phrase_is_found_only_where_its_words_stand_together(town: Archive, words: list[str]) -> None:
    """Against a plain search of the script's own words."""
    together = re.compile(r"\b" + r"\W+".join(map(re.escape, words)) + r"\b")
    said = "IV-21.1" in found(town, '"' + " ".join(words) + '"')
    texts = " ".join(re.sub(r"'s\b", "", folded(line).replace("’", "'")) for line in TOWN)  # a possessive counts as its word
    assert said == bool(together.search(texts))


# --- who sees what ------------------------------------------------------------------------------------------------------


def test_the_full_wording_and_the_shown_one(cast_archive: Archive) -> None:
    """Keeper and editor find by hidden names, others do not; and no phrase reaches over the mask."""
    for words in ("Brine", '"Walter Brine"', '"and Walter Brine held"', "brin*", "Walter not kettle"):
        assert found(cast_archive, words, EDITOR) == found(cast_archive, words, KEEPER) == {"IV-21.1"}, words
        assert found(cast_archive, words, READER) == set(), words
    for words in ('"1968 and held"', '"and held the rope"', '"in 1968 and held"'):
        assert found(cast_archive, words, READER) == set(), words
    for words in ('"held the rope for us"', '"down Net Row in 1968 and"'):
        assert found(cast_archive, words, READER) == {"IV-21.1"}, words
    (hit,) = cast_archive.finding.ask(READER, Asked("rope")).hits
    snippet = " ".join(t for t, _ in hit.snippet.parts)
    assert "[name withheld]" in snippet and "Brine" not in snippet


def test_a_name_decided_to_be_kept_is_found_in_the_next_request(cast_archive: Archive) -> None:
    start_ms, end_ms, _ = cast_archive.naming.waiting(EDITOR, "IV-21.1")[0]
    cast_archive.naming.decide(EDITOR, "IV-21.1", start_ms, end_ms, "P-41", "keep")
    assert found(cast_archive, '"and Walter Brine held"', READER) == {"IV-21.1"}
    cast_archive.naming.decide(EDITOR, "IV-21.1", start_ms, end_ms, "P-41", "hide")
    assert found(cast_archive, "Brine", READER) == set()


def test_somebody_who_asks_to_be_unnamed_is_not_found_by_their_name(cast_archive: Archive, tmp_path: Path) -> None:
    """The words stay, the name goes from the wording that readers search, with the sheet that says so."""
    cast.give_words(cast_archive, "IV-21.1", [("N-21", cast.words_of(f"{cast.QUOTES['N-21']} and I am Edith Quill and I held the anchor"))])
    assert found(cast_archive, "Quill", READER) == {"IV-21.1"}
    sheet = tmp_path / "people.csv"
    sheet.write_text("code,full,first,family,attribution,voice,review,born\nN-21,Edith Quill,Edith,Quill,unnamed,as_recorded,not_wanted,1940\n", encoding="utf-8")
    cast_archive.people.read(KEEPER, sheet)
    assert found(cast_archive, "Quill", READER) == set() and found(cast_archive, "Quill", EDITOR) == {"IV-21.1"}
    assert found(cast_archive, "anchor", READER) == {"IV-21.1"}


@pytest.mark.parametrize("viewer", VIEWERS, ids=lambda v: v.role.value)
def test_a_withdrawal_is_seen_in_the_next_request(cast_archive: Archive, viewer: Viewer) -> None:
    """No re-indexing: the same index, another answer; hits, total, counts and what can be narrowed by."""
    before = cast_archive.finding.ask(viewer, Asked(""))
    assert found(cast_archive, "lantern", viewer) == {"IV-21.1"}
    with cast_archive.rooms.db.read() as connection:
        index = connection.execute(text("SELECT * FROM find_text")).all()
    cast_archive.consent.withdraw(KEEPER, "N-21", how="call")
    with cast_archive.rooms.db.read() as connection:
        assert connection.execute(text("SELECT * FROM find_text")).all() == index
    after = cast_archive.finding.ask(viewer, Asked(""))
    assert found(cast_archive, "lantern", viewer) == set()
    assert after.total == before.total - 1
    assert "Net Row" in dict(before.facets["place"]) and "Net Row" not in dict(after.facets["place"])
    assert not any("Quill" in label for label, _ in after.facets["speaker"])


@pytest.mark.parametrize(("use", "way", "codes"), [("exhibition", "words", {"IV-21.1", "IV-25.1", "IV-26.1", "IV-28.1", "IV-29.1"}), ("exhibition", "voice", {"IV-21.1", "IV-25.1", "IV-28.1"}), ("team", "words", {"IV-21.1", "IV-25.1", "IV-26.1", "IV-27.1", "IV-28.1", "IV-29.1"}), ("exhibition", "picture", set())])  # fmt: skip
def test_only_what_may_be_used_so(cast_archive: Archive, use: str, way: str, codes: set[str]) -> None:
    assert found(cast_archive, "", usable_for=use, way=way) == codes
    for code in codes:
        length = cast_archive.recordings.page(KEEPER, code).row.duration_ms
        first = cast_archive.recordings.page(KEEPER, code).shown.utterances[0]
        assert cast_archive.deciding.may(EDITOR, f"{code}@{first.start_ms}-{min(first.end_ms, length)}", use, cast.Way(way)).allowed


# --- narrowed by --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("viewer", VIEWERS, ids=lambda v: v.role.value)
@pytest.mark.parametrize("words", ["", "kettle", "not kettle", "ferry or rope", "zeppelin"])
def test_counts_are_those_of_the_hits(town: Archive, viewer: Viewer, words: str) -> None:
    """Counted again from the hits' own tags; and each value, asked for, gives exactly its number."""
    answer = town.finding.ask(viewer, Asked(words), 200)
    assert answer.total == len(answer.hits)
    for kind in ("place", "theme"):
        tally = Counter(v for h in answer.hits for v in {t.value for t in h.tags if t.kind == kind})
        assert dict(answer.facets[kind]) == dict(tally)
    for decade, count in answer.facets["decade"]:
        assert town.finding.ask(viewer, Asked(words, decade=decade), 200).total == count
    for code in SEEN:
        asked = town.finding.ask(viewer, Asked(words, speaker=code), 200)
        labels = [n for label, n in asked.facets["speaker"]]
        assert not labels or max(labels) == asked.total
    counts = [n for _, n in answer.facets["place"]]
    assert counts == sorted(counts, reverse=True) and all(counts)


def test_pages_of_an_answer_make_up_the_whole(town: Archive) -> None:
    whole = [h.unit_id for h in town.finding.ask(EDITOR, Asked("kettle or rope or herring"), 200).hits]
    parts = [h.unit_id for n in range(len(whole) + 1) for h in town.finding.ask(EDITOR, Asked("kettle or rope or herring"), 1, n).hits]
    assert parts == whole and len(set(whole)) == len(whole)
    assert town.finding.ask(EDITOR, Asked(""), -5, -5).hits, "odd numbers are set right"


def test_a_place_by_any_name_with_what_lies_within_and_the_same_ground(cast_archive: Archive, tmp_path: Path) -> None:
    """Harbourside > Longwharf > Fishsteps; the wharf was once called Oldstrand: one ground, and not the hill beside it."""
    sheet = tmp_path / "places.csv"
    sheet.write_text(
        "name,kind,within,also,heard_as,same_as\nHarbourside,quarter,Tarnwick,the Basin,,\nLongwharf,quay,Harbourside,,Longworth,\nFishsteps,steps,Longwharf,,,\nOldstrand,quay,Tarnwick,,,Longwharf\nGorsehill,hill,Tarnwick,,,\n",
        encoding="utf-8",
    )
    cast_archive.places.read(EDITOR, sheet)
    lines = {"N-21": "we met at Fishsteps", "N-25": "we lived on Oldstrand", "N-26": "we went up Gorsehill", "N-27": "it lay at Longwharf"}
    for code, line in lines.items():
        cast.give_words(cast_archive, cast.recording_of(code), [(code, cast.words_of(line))])
    ask = {name: found(cast_archive, "", place=name) for name in ("Fishsteps", "Longwharf", "Longworth", "Oldstrand", "Harbourside", "the Basin", "THE BASIN", "Gorsehill", "Tarnwick")}
    same_ground = {"IV-21.1", "IV-25.1", "IV-27.1"}
    assert ask["Fishsteps"] == {"IV-21.1"} and ask["Gorsehill"] == {"IV-26.1"}
    for name in ("Longwharf", "Longworth", "Oldstrand", "Harbourside", "the Basin", "THE BASIN"):
        assert ask[name] == same_ground, name
    assert ask["Tarnwick"] == same_ground | {"IV-26.1"}
    with pytest.raises(NotFound):
        found(cast_archive, "", place="Atlantis")


def test_themes_count_their_narrower_ones(town: Archive) -> None:
    whole = found(town, "", theme="work")
    with town.rooms.db.read() as connection:
        narrower = connection.execute(text("SELECT name FROM theme WHERE broader_id = (SELECT id FROM theme WHERE name = 'work')")).scalars().all()
    assert narrower
    parts = [found(town, "", theme=name) for name in narrower]
    assert set().union(*parts) <= whole
    with pytest.raises(NotFound):
        found(town, "", theme="zeppelins")


def test_a_rejected_suggestion_no_longer_counts(cast_archive: Archive) -> None:
    tag = next(t for t in cast_archive.recordings.page(EDITOR, "IV-21.1").tags if t.value == "Net Row")
    assert found(cast_archive, "", place="Net Row") == {"IV-21.1"}
    cast_archive.describing.decide(EDITOR, tag.tag_id, "rejected")
    assert found(cast_archive, "", place="Net Row") == set()
    assert "Net Row" not in dict(cast_archive.finding.ask(EDITOR, Asked("")).facets["place"])
    cast_archive.describing.describe(EDITOR, "IV-21.1")
    assert found(cast_archive, "", place="Net Row") == set(), "what a person decided stays"
    cast_archive.describing.decide(EDITOR, tag.tag_id, "confirmed")
    assert found(cast_archive, "", place="Net Row") == {"IV-21.1"}


@pytest.mark.parametrize("asked", [Asked(decade="sixties"), Asked(decade="196"), Asked(usable_for="exhibitoin"), Asked(usable_for="web", way="smell")])
def test_what_cannot_be_asked_is_told(town: Archive, asked: Asked) -> None:
    with pytest.raises(BadInput) as told:
        town.finding.ask(EDITOR, asked)
    assert told.value.remedy


def test_an_unknown_speaker_finds_nothing_like_one_who_may_not_be_found(cast_archive: Archive) -> None:
    for code in ("N-99", "N-24"):
        assert found(cast_archive, "", speaker=code) == set()


def test_a_kept_question_is_for_who_asked_it(cast_archive: Archive) -> None:
    key = cast_archive.finding.keep(EDITOR, Asked("Walter Brine", place="Net Row"))
    assert "Brine" not in key and len(key) >= 20
    assert cast_archive.finding.question(EDITOR, key) == Asked("Walter Brine", place="Net Row")
    for viewer, wrong in ((READER, key), (EDITOR, key[:-1]), (EDITOR, "")):
        with pytest.raises(NotFound):
            cast_archive.finding.question(viewer, wrong)


# --- the index ----------------------------------------------------------------------------------------------------------

TAMPERING = (
    "UPDATE find_text SET full_exact = replace(full_exact, 'lantern', 'candle')",
    "DELETE FROM find_text WHERE unit_id = (SELECT min(unit_id) FROM find_text)",
    "INSERT INTO find_fts (find_fts) VALUES ('delete-all')",
    "INSERT INTO find_fts (rowid, full_exact, full_stem, shown_exact, shown_stem) VALUES (999, 'ghost', 'ghost', 'ghost', 'ghost')",
    "UPDATE find_text SET shown_stem = shown_stem || ' brine'",
)


@pytest.mark.parametrize("statement", TAMPERING)
def test_the_check_finds_an_index_that_differs_from_its_texts(cast_archive: Archive, statement: str) -> None:
    assert cast_archive.records.check(KEEPER) == ()
    with cast_archive.rooms.db.write() as connection:
        connection.execute(text("PRAGMA defer_foreign_keys = ON"))
        connection.execute(text(statement))
    faults = cast_archive.records.check(KEEPER)
    assert faults and all("word index" in f for f in faults)


def test_words_that_are_gone_are_forgotten_by_the_index(cast_archive: Archive) -> None:
    """FTS5 forgets only what it is told in the very words it was given (SEARCH.md, traps)."""
    cast.give_words(cast_archive, "IV-21.1", [("N-21", cast.words_of("nothing of it is left"))])
    assert found(cast_archive, "lantern") == set() and found(cast_archive, '"nothing of it is left"') == {"IV-21.1"}
    assert cast_archive.records.check(KEEPER) == ()
    with cast_archive.rooms.db.read() as connection:
        hits = connection.execute(text("SELECT count(*) FROM find_fts WHERE find_fts MATCH 'lantern'")).scalar()
    assert hits == 0


def test_a_seal_cuts_the_index_and_its_lifting_opens_it(cast_archive: Archive) -> None:
    first, last = _times(cast_archive, "lantern")
    cast_archive.consent.seal(EDITOR, "IV-21.1", first, last, "asked by letter")
    assert found(cast_archive, "lantern") == set() and found(cast_archive, '"held the rope"') == {"IV-21.1"}
    assert found(cast_archive, '"carried the down"') == set(), "no phrase reaches over what is closed"
    with cast_archive.rooms.db.read() as connection:
        hold = int(connection.execute(text("SELECT max(id) FROM restraint WHERE kind = 'sealed'")).scalar_one())
    cast_archive.consent.lift(KEEPER, hold, "taken back by letter")
    assert found(cast_archive, "lantern") == {"IV-21.1"}


def _times(archive: Archive, word: str) -> tuple[int, int]:
    shown = archive.recordings.page(KEEPER, "IV-21.1").shown
    return next((w.start_ms + 10, w.end_ms - 10) for u in shown.utterances for w in u.words if w.text == word)


def test_one_state_of_consent_in_one_answer(cast_archive: Archive) -> None:
    """Hits and counts come from one read transaction: a withdrawal in between belongs to the next answer."""
    with cast_archive.rooms.db.read() as connection:
        known = uses.every_use(connection)
        filters = search.Filters(
            "full", cast.TODAY.date(), "Marigold", consent_rows.load_policy(connection, 14), known["team"]
        )
        before = search.find(connection, Everything(), filters, 200, 0)
        cast_archive.consent.withdraw(KEEPER, "N-21")
        assert search.find(connection, Everything(), filters, 200, 0) == before
    assert cast_archive.finding.ask(EDITOR, Asked("")).total == before.total - 1


def test_a_boundary_cannot_be_typed() -> None:
    """The token that stands for a mask is in no question, however it is written."""
    for typed in ("ǂǂǂ", "[name withheld]", '"and ǂǂǂ held"', "ǂǂǂ*", '"and [name withheld] held"'):
        assert "ǂ" not in repr(parse_query(typed))


@pytest.mark.parametrize("typed", ["ǂ*", "ǂǂ*", "ǂ", "rope ǂ*", "not ǂ*"])
def test_the_beginning_of_a_boundary_finds_no_mask(cast_archive: Archive, typed: str) -> None:
    """Read by whoever may not read the name: a question answered by masks would tell where somebody is hidden."""
    masked = {h.unit_id for h in cast_archive.finding.ask(READER, Asked("held the rope")).hits}
    assert masked, "there is a mask to be found beside these words"
    found = {h.unit_id for h in cast_archive.finding.ask(READER, Asked(typed)).hits}
    if typed == "not ǂ*":
        assert masked <= found
    else:
        assert not found


def test_an_answer_reads_only_its_own_stretch(cast_archive: Archive) -> None:
    """An answer of Find needs a minute of three hours: blocks are found by their times, not by reading them."""
    with cast_archive.rooms.db.read() as connection:
        row = recordings.by_code(connection, "IV-21.1")
        assert row is not None
        version = spoken.newest_version(connection, row.id)
        assert version is not None
        (whole,) = spoken.utterances(connection, version)
        for near, found in (
            ((whole.start_ms, whole.start_ms + 1), [whole]),
            ((whole.end_ms, whole.end_ms + 900), []),
            ((0, whole.start_ms), []),
        ):
            assert spoken.utterances_near(connection, {version: [near]}) == {version: found}
        twice = [(whole.start_ms, whole.end_ms), (whole.end_ms - 1, whole.end_ms)]
        assert spoken.utterances_near(connection, {version: twice}) == {version: [whole]}, "each once"
