"""What is said off the record: found where it is meant, and nothing else is closed. Project choices; the phrases are from memory."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from archive.domain.passages import Utterance
from archive.domain.values import Word
from archive.rules.off_record import AFTER_THANKS, BEFORE_FIRST, OffRecord, suggest_off_record
from tests.rules.named import SAMPLES, rows_of

ASKER, TELLER = 1, 2


def talk(*lines: tuple[int | None, str], gap_ms: int = 400) -> list[Utterance]:
    """Utterances of (speaker, words), 300 ms a word."""
    made, at = [], 500
    for number, (speaker, text) in enumerate(lines):
        words = tuple(Word(w, at + n * 300, at + n * 300 + 250) for n, w in enumerate(text.split()))
        made.append(Utterance(number, speaker, words[0].start_ms, words[-1].end_ms, words))
        at = words[-1].end_ms + gap_ms
    return made


def covers(found: Sequence[OffRecord], said: Utterance) -> bool:
    return any(f.start_ms <= said.start_ms and said.end_ms <= f.end_ms for f in found)


MEANT = (
    "No, don't put that in.", "Don't put any of that in the book, please.", "Please do not print that.", "You mustn't use that.",
    "I'd rather you didn't put that in.", "Turn that off.", "Could you turn it off now?", "Can you switch that thing off?", "Switch the recorder off, will you.",
    "Turn off the tape.", "Stop the tape.", "That's off the record.", "Off the record, he took the money.", "This is not for the tape.",
    "It's not for the recording.", "Just between us, he took it.", "Between you and me, he took it.", "That stays between us.", "Keep that between us.",
    "This is strictly between ourselves.", "Leave that out.", "Cut that bit out, please.", "Strike that.", "Keep that to yourself.",
    "Close that, please.", "Could you close that?", "Please close this part.", "Close that bit, please.", "The next part has to be closed.", "This bit must stay closed.",
    "That part should be kept closed.", "I want that part sealed.", "You didn't hear that from me.", "Don't tell anybody I said that.", "He took it. And don't write that down.", "Never put that in the exhibition.",
)  # fmt: skip
INNOCENT = (
    "There was a wall between us and the river.", "The difference between us was money.", "Between us we carried forty tins.", "Nobody came between us.",
    "They put that in the tin.", "We don't put that in the soup any more.", "You put that on your wall.", "Do not hold it like that.",
    "She turned it off at night.", "He used to turn off the lamp.", "We had to switch the engine off.", "I shut off the fuel.", "Leave the door open.",
    "They left that out in the rain.", "We cut the night crew from five men to three.", "Don't put that in your mouth, she said.", "We went on strike.",
    "That was the record of it.", "He kept it to himself.", "It was not for the council to say.", "They do not use that gate.", "I took it off the shelf.",
    "You can ask me to keep something closed.", "He turned off at the Steps.", "The tape they measured with.", "Between the four walls it was warm.",
    "They told us never to use that door.", "Close the door, please.", "Close the door.", "Close that gate, please.",
    "Could you close that window?", "The yard closed in 74.", "Close that, she said, you will catch cold.", "That part of the yard had to be closed.",
    "The last part has to be closed in winter.", "We had to close that part.", "The next part of the road should be closed.", "I want that door closed.",
    "It will be closed on Mondays.", "They will close that.", "The whole cannery was to be closed.", "The case was closed.", "Stop the ferry, he said.", "I never wrote it down.", "Don't you use that tone.",
)  # fmt: skip


@pytest.mark.parametrize("phrase", MEANT)
@pytest.mark.parametrize("assigned", [True, False])
def test_the_whole_answer_around_the_words_is_closed(phrase: str, assigned: bool) -> None:
    asker, teller = (ASKER, TELLER) if assigned else (None, None)
    said = talk(
        (asker, "This is Ruth Calder. What was the manager like?"), (teller, "He was sweet on her."), (teller, phrase), (teller, "Her sister is alive."),
        (asker, "And where did you live then?"), (teller, "On Net Row."),
    )  # fmt: skip
    found = suggest_off_record(said, {ASKER})
    assert [covers(found, u) for u in said] == [False, True, True, True, False, False], found
    (one,) = found
    assert "“" in one.rule


@pytest.mark.parametrize("phrase", INNOCENT)
@pytest.mark.parametrize("assigned", [True, False])
def test_a_false_alarm_closes_nothing(phrase: str, assigned: bool) -> None:
    asker, teller = (ASKER, TELLER) if assigned else (None, None)
    said = talk((asker, "What was it like?"), (teller, phrase), (asker, "And then?"), (teller, "Nothing more."))
    assert suggest_off_record(said, {ASKER}) == []


def test_the_samples_have_two_such_stretches() -> None:
    """SCENARIO: N-07 says "don't put that in" once, N-05 closes a stretch (70.061 s to 102.077 s in closed.csv); nothing else of the
    eleven scripts is closed."""
    found = {}
    for path in sorted((SAMPLES / "scripts").glob("*.csv")):
        for assigned in (True, False):
            lines = []
            for n, row in enumerate(rows_of(path)):
                start_ms, end_ms, said = int(float(row["start_s"]) * 1000), int(float(row["end_s"]) * 1000), row["words"].split()
                step = (end_ms - start_ms) // len(said)
                words = tuple(Word(w, start_ms + k * step, start_ms + (k + 1) * step) for k, w in enumerate(said))
                speaker = (ASKER if row["speaker"] == "I-01" else TELLER) if assigned else None
                lines.append(Utterance(n, speaker, start_ms, end_ms, words))
            stretches = suggest_off_record(lines, {ASKER}, begins=path.stem != "TW-04b")
            if stretches:
                found[path.stem, assigned] = [(s.start_ms, s.end_ms) for s in stretches]
    closed = {("TW-05", assigned): [(70_061, 102_077)] for assigned in (True, False)}
    assert found == closed | {("TW-07", True): [(56_314, 85_896)], ("TW-07", False): [(44_070, 85_896)]}


def test_what_an_interviewer_promises_closes_the_answer_before() -> None:
    said = talk(
        (ASKER, "Who told them?"), (TELLER, "My neighbour did."), (TELLER, "I should not say so."), (ASKER, "We will leave that out. And then?"),
        (TELLER, "Then we moved."),
    )  # fmt: skip
    assert [covers(suggest_off_record(said, {ASKER}), u) for u in said] == [False, True, True, False, False]


def test_a_promise_that_it_will_be_closed_closes_the_answer_before_and_a_question_does_not() -> None:
    for promise, closed in (("It will be closed. Thank you, Lena.", True), ("That will stay closed.", True), ("It will be closed?", False), ("It will be closed on Mondays.", False)):
        said = talk((ASKER, "Who told them?"), (TELLER, "My neighbour did."), (ASKER, promise), (TELLER, "Then we moved away."))
        assert [covers(suggest_off_record(said, {ASKER}), u) for u in said] == [False, closed, False, False], promise


def test_talk_before_the_first_question_and_after_the_thanks() -> None:
    said = talk(
        (TELLER, "Is it on already?"), (TELLER, "My neighbour drinks, you know."), (ASKER, "This is Ruth Calder, with Maud Ellery."),
        (ASKER, "What was it like?"), (TELLER, "It was cold."), (ASKER, "Anything more?"), (TELLER, "We were proud of it all the same, every one of us."),
        (ASKER, "Thank you very much for talking to us."), (TELLER, "Well, what I did not tell you is that he took the money himself."),
    )  # fmt: skip
    found = suggest_off_record(said, {ASKER})
    assert [(f.rule, covers(found, u)) for f, u in zip(found, (said[0], said[-1]), strict=True)] == [(BEFORE_FIRST, True), (AFTER_THANKS, True)]
    assert [covers(found, u) for u in said] == [True, True, False, False, False, False, False, False, True]
    assert [f.rule for f in suggest_off_record(said, {ASKER}, begins=False)] == [AFTER_THANKS], "a second file begins in the middle"


def test_thanks_in_the_middle_end_nothing() -> None:
    said = talk(
        (ASKER, "This is Ruth Calder. What was it like?"), (TELLER, "It was cold."), (ASKER, "Thank you, Lena."), (ASKER, "Shall we go on?"),
        (TELLER, "Yes, I would like to say something about fear."), (ASKER, "Thank you."), (TELLER, "You are welcome."),
    )  # fmt: skip
    assert suggest_off_record(said, {ASKER}) == []


def test_a_phrase_where_nobody_is_assigned_does_not_close_the_recording() -> None:
    lines: list[tuple[int | None, str]] = [(None, f"It was cold on day {n} and we went on and on and on.") for n in range(120)]
    lines[60] = (None, "No, don't put that in.")
    said = talk(*lines)
    (one,) = suggest_off_record(said)
    assert one.start_ms <= said[59].start_ms and one.end_ms >= said[61].end_ms
    assert one.end_ms - one.start_ms < 200_000


def test_nothing_in_nothing() -> None:
    assert suggest_off_record([], {ASKER}) == []
