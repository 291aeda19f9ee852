"""What was said off the record: "don't put that in", talk before the first question and after the thanks. Pure.

A suggested stretch is closed until a person decides its true limits, so it is cut generously; and a false alarm closes
speech, so the words that raise it are few and must stand as they stand when they are meant. Phrases are from memory.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from archive.domain.passages import Utterance
from archive.rules.spoken import Token, tokens, word_set
from archive.rules.utterances import asks

BEFORE_FIRST = "talk before the first question"
AFTER_THANKS = "talk after the thanks"
_MOST_BEFORE_MS = 180_000  # an interview that begins later than this began without an opening
_MOST_AFTER_MS = 300_000
_UNKNOWN_BEFORE_MS, _UNKNOWN_AFTER_MS = 120_000, 60_000  # around a phrase where nobody knows whose turn it is

_THAT = word_set("that this it any all these those them anything none")
_MEDIA = word_set("tape record recording recorder film machine microphone mic book exhibition exhibit wall archive transcript tapes camera phone")
_PUT = word_set("put print use write quote keep include publish broadcast record play show leave")
_STOPPED = word_set("stop pause cut")
_WILL = word_set("will shall can could would we'll i'll should let's")
_US = word_set("us ourselves")
_PART = word_set("part bit answer story stretch piece")
_SHUT = word_set("closed sealed")


@dataclass(frozen=True, slots=True)
class OffRecord:
    """A stretch (ms, half-open) said off the record, with the words or the place that say so, in plain words."""

    start_ms: int
    end_ms: int
    rule: str


def suggest_off_record(
    utterances: Sequence[Utterance], interviewers: Collection[int] = (), *, begins: bool = True
) -> list[OffRecord]:
    """Stretches in order, overlapping ones made one. `begins`: this recording is the first one of its interview."""
    found: list[OffRecord] = []
    for at, utterance in enumerate(utterances):
        spoken = tokens(utterance.words)
        asking = utterance.speaker_id in interviewers if utterance.speaker_id is not None else None
        said = next((p for n in range(len(spoken)) if (p := _phrase(spoken, n))), "")
        if said and asking is not True:
            found.append(_turn(utterances, at, interviewers, f"somebody says “{said}”"))
        promised = said or next((p for n in range(len(spoken)) if (p := _promise(spoken, n))), "")
        if promised and asking is not False and at > 0 and (asking or not said):
            found.append(_turn(utterances, at - 1, interviewers, f"the interviewer says “{promised}”"))
    if begins:
        found += _before_first(utterances, interviewers)
    found += _after_thanks(utterances, interviewers)
    return _joined(found)


# -- the words -------------------------------------------------------------------------------------------------------------
def _text(spoken: Sequence[Token], at: int) -> str:
    return spoken[at].text if 0 <= at < len(spoken) else ""


def _closed_behind(spoken: Sequence[Token], at: int) -> bool:
    """True where nothing goes on behind this token."""
    return at + 1 >= len(spoken) or bool(spoken[at].stop)


def _begins(spoken: Sequence[Token], at: int) -> bool:
    """True where an order begins here: at the start of a sentence or of its part, or behind "please", "could you"."""
    before = _text(spoken, at - 1)
    if at == 0 or spoken[at].opens or spoken[at - 1].stop:
        return True
    if before in ("please", "now", "just", "no", "but", "so", "better", "well", "oh", "and"):
        return before in ("please", "just", "now", "no") or at == 1 or spoken[at - 1].opens or bool(spoken[at - 2].stop)
    return before == "you" and _text(spoken, at - 2) in ("could", "can", "would", "will")


def _said(spoken: Sequence[Token], first: int, last: int) -> str:
    return " ".join(t.text for t in spoken[first : last + 1])


def _phrase(spoken: Sequence[Token], at: int) -> str:
    """The words that ask to keep something out and begin at `at`; "" where none do."""
    for rule in (_do_not_put, _turn_off, _off_the_record, _between_us, _leave_out, _keep_to_yourself, _close_that, _to_be_closed):
        last = rule(spoken, at)
        if last is not None:
            return _said(spoken, at, last)
    return ""


def _do_not_put(spoken: Sequence[Token], at: int) -> int | None:
    """ "Don't put that in", "do not print any of this", "you mustn't use that", "I'd rather you didn't put that in"."""
    text, verb = _text(spoken, at), at + 1
    if text == "do" and _text(spoken, at + 1) == "not":
        verb = at + 2
    elif text not in ("don't", "dont", "never", "mustn't", "can't", "cannot", "shouldn't", "didn't"):
        return None
    asked_of_you = _text(spoken, at - 1) == "you" and text in ("mustn't", "can't", "cannot", "shouldn't", "didn't", "don't")
    if text in ("mustn't", "can't", "cannot", "shouldn't", "didn't") and not asked_of_you:
        return None
    if text == "didn't" and not any(t.text in ("rather", "prefer", "if", "wish") for t in spoken[max(0, at - 5) : at]):
        return None
    if not asked_of_you and not (_begins(spoken, at) or _text(spoken, at - 1) == "please"):
        return None
    while _text(spoken, verb) in ("you", "please", "ever", "go", "and", "be"):
        verb += 1
    if _text(spoken, verb) not in _PUT | {"putting", "writing", "using", "printing"} or _text(spoken, verb + 1) not in _THAT | {"my"}:
        return None
    last = verb + 1
    while _text(spoken, last + 1) in ("of", "that", "this", "it", "bit", "part", "last", "name", "story", "last"):
        last += 1
    put = _text(spoken, verb) in ("put", "putting", "write", "writing", "leave", "keep")
    if put:
        if _text(spoken, last + 1) not in ("in", "down", "on", "anywhere", "up"):
            return None
        if _closed_behind(spoken, last + 1):
            return last + 1
        where = [_text(spoken, n) for n in range(last + 2, last + 5)]
        return last + 1 if where[0] in _MEDIA | {"please"} or where[1] in _MEDIA or where[2] in _MEDIA else None
    if _text(spoken, verb) == "show":
        return None
    return last if _closed_behind(spoken, last) or _text(spoken, last + 1) in ("please", "will", "anywhere", "on", "in") and _media_near(spoken, last) else None


def _media_near(spoken: Sequence[Token], last: int) -> bool:
    return _text(spoken, last + 1) in ("please", "will", "anywhere") or any(_text(spoken, n) in _MEDIA for n in range(last + 2, last + 5))


def _turn_off(spoken: Sequence[Token], at: int) -> int | None:
    """ "Turn that off", "could you switch the recorder off", "stop the tape"."""
    text = _text(spoken, at)
    if text in _STOPPED and _begins(spoken, at):
        last = at + 2 if _text(spoken, at + 1) in ("the", "that", "this", "your") else at + 1
        return last if _text(spoken, last) in _MEDIA | {"recording"} and _closed_behind(spoken, last) else None
    if text not in ("turn", "switch", "shut") or not _begins(spoken, at):
        return None
    if _text(spoken, at + 1) == "off":
        last = at + 3 if _text(spoken, at + 2) in ("the", "that", "this", "your") else at + 2
        return last if _text(spoken, last) in _MEDIA | {"thing", "that", "it"} and _closed_behind(spoken, last) else None
    off = next((n for n in range(at + 2, min(at + 6, len(spoken))) if spoken[n].text == "off"), None)
    if off is None or any(spoken[n].stop for n in range(at, off)):
        return None
    what = [spoken[n].text for n in range(at + 1, off)]
    told = any(w in _MEDIA or w == "thing" for w in what)
    plain = len(what) == 1 and what[0] in ("that", "it", "this")
    after = _text(spoken, off + 1)
    ending = _closed_behind(spoken, off) or after in ("now", "please", "for", "a", "will", "would", "first", "before")
    return off if ending and (told or plain) else None


def _off_the_record(spoken: Sequence[Token], at: int) -> int | None:
    """ "Off the record", "not for the tape", "this isn't for the recording"."""
    run = [_text(spoken, at + n) for n in range(5)]
    if run[:3] == ["off", "the", "record"]:
        return None if run[3] in ("player", "deck", "shelf", "shop", "company", "sleeve", "books") else at + 2
    denied = run[0] in ("not", "isn't", "never")
    if denied and run[1] in ("for", "on") and run[2] in ("the", "your", "this", "that"):
        fits = run[3] in ("tape", "record", "recording", "recorder", "exhibition", "archive", "transcript", "camera", "microphone", "book")
        # "It was not on the record", "it is not for the exhibition to say": only where it closes the sentence.
        return at + 3 if fits and _closed_behind(spoken, at + 3) and (run[1] == "for" or run[3] in ("tape", "camera", "record", "recording")) else None
    return None


def _between_us(spoken: Sequence[Token], at: int) -> int | None:
    """ "Between us, …", "this is just between us", "between you and me"; not "between us and the river"."""
    if _text(spoken, at) != "between":
        return None
    run = [_text(spoken, at + n) for n in range(1, 6)]
    if run[0] in _US:
        last = at + 1
    elif run[:3] in (["you", "and", "me"], ["you", "and", "i"], ["these", "four", "walls"]):
        last = at + 3
    else:
        return None
    if _text(spoken, last + 1) in ("and", "two", "three", "both", "all", "or") and not spoken[last].stop:
        return None
    before = _text(spoken, at - 1)
    if before in ("just", "strictly", "only", "keep", "stay", "stays", "purely") or before in ("this", "that", "it") and _text(spoken, at - 2) in ("keep", "leave"):
        return last if _closed_behind(spoken, last) or _text(spoken, last + 1) in ("please", "now", "but") else None
    if before in ("is", "that's", "this's") and _text(spoken, at - 2) in ("this", "that") and _closed_behind(spoken, last):
        return last
    opens = at == 0 or spoken[at].opens or bool(spoken[at - 1].stop)
    comma = last + 1 < len(spoken) and bool(spoken[last].stop)
    follows = comma and spoken[last].stop == "," and spoken[at].opens or opens and comma and spoken[at - 1].stop == "," and spoken[last].stop == ","
    whole = spoken[at].opens and _closed_behind(spoken, last)
    return last if opens and (follows or whole) else None


def _leave_out(spoken: Sequence[Token], at: int) -> int | None:
    """ "Leave that out", "cut that bit out, please", "strike that"."""
    text = _text(spoken, at)
    if text not in ("leave", "take", "cut", "edit", "strike", "scrub", "miss", "keep", "wipe", "rub", "delete", "erase") or not _begins(spoken, at):
        return None
    if _text(spoken, at + 1) not in _THAT - {"anything", "none"}:
        return None
    last = at + 1
    while _text(spoken, last + 1) in ("of", "that", "this", "it", "bit", "part", "last", "name"):
        last += 1
    if text in ("strike", "scrub", "delete", "erase"):
        return last if _text(spoken, at + 1) in ("that", "this") and _closed_behind(spoken, last) and spoken[at].opens else None
    if _text(spoken, last + 1) != "out":
        return None
    after = _text(spoken, last + 2)
    closed = _closed_behind(spoken, last + 1) or after == "please" or after == "of" and any(_text(spoken, n) in _MEDIA | {"it"} for n in range(last + 3, last + 5))
    return last + 1 if closed and (spoken[at].opens or spoken[at - 1].stop or _text(spoken, at - 1) in ("please", "you", "better", "just")) else None


def _keep_to_yourself(spoken: Sequence[Token], at: int) -> int | None:
    """ "Keep that to yourself", "you didn't hear that from me", "don't tell anybody I said so"."""
    run = [_text(spoken, at + n) for n in range(7)]
    if run[0] in ("keep", "keeping") and run[1] in ("that", "this", "it") and run[2] == "to" and run[3] in ("yourself", "yourselves") and _begins(spoken, at):
        return at + 3 if _closed_behind(spoken, at + 3) or run[4] == "please" else None
    if run[:2] == ["you", "didn't"] and run[2] == "hear" and run[3] in ("that", "this", "it") and run[4:6] == ["from", "me"]:
        return at + 5
    tells = run[:2] in (["don't", "tell"], ["do", "not"]) and _begins(spoken, at)
    if tells:
        shift = 1 if run[:2] == ["do", "not"] else 0
        if shift and run[2] != "tell":
            return None
        who, said = run[2 + shift], run[3 + shift : 5 + shift]
        if who in ("anybody", "anyone", "them", "her", "him", "people") and said in (["i", "said"], ["i", "told"], ["that", "i"]):
            return at + 4 + shift
    return None


def _part(spoken: Sequence[Token], at: int) -> tuple[int, bool]:
    """ "That", "this bit", "the next part": its last token (before `at` where there is none), and whether a part is named."""
    if _text(spoken, at) not in ("that", "this", "the"):
        return at - 1, False
    noun = at + 2 if _text(spoken, at + 1) in ("next", "last", "whole") else at + 1
    if _text(spoken, noun) in _PART:
        return noun, True
    return (at, False) if _text(spoken, at) != "the" else (at - 1, False)


def _close_that(spoken: Sequence[Token], at: int) -> int | None:
    """ "Close that, please", "could you close this part"; not "close that gate", nor "close the door, please"."""
    if _text(spoken, at) not in ("close", "seal") or not _begins(spoken, at):
        return None
    last, named = _part(spoken, at + 1)
    if last == at:
        return None
    asked = _text(spoken, at - 1) == "please" or _text(spoken, at - 1) == "you" or _text(spoken, last + 1) == "please"
    return last if (named or asked) and (_closed_behind(spoken, last) or _text(spoken, last + 1) == "please") else None


def _to_be_closed(spoken: Sequence[Token], at: int) -> int | None:
    """ "The next part has to be closed", "this bit must stay closed", "I want that part sealed"; not "that part of it had to be closed"."""
    last, named = _part(spoken, at)
    if not named:
        return None
    run = [_text(spoken, last + n) for n in range(1, 5)]
    wanted = [_text(spoken, at - n) for n in (2, 1)]
    if run[:2] in (["has", "to"], ["needs", "to"], ["ought", "to"]):
        end = last + 3
    elif run[0] in ("must", "should", "shall"):
        end = last + 2
    elif wanted in (["i", "want"], ["would", "like"], ["i'd", "like"]):
        return last + 1 if run[0] in _SHUT and _closed_behind(spoken, last + 1) else None
    else:
        return None
    if _text(spoken, end) not in ("be", "stay", "remain"):
        return None
    shut = end + 2 if _text(spoken, end + 1) in ("kept", "left") else end + 1
    return shut if _text(spoken, shut) in _SHUT and _closed_behind(spoken, shut) else None


def _promise(spoken: Sequence[Token], at: int) -> str:
    """ "We will leave that out", "I'll cut that": what an interviewer answers who was asked."""
    text = _text(spoken, at)
    shut = [_text(spoken, at + n) for n in range(4)]
    if shut[0] in ("it", "that", "this") and shut[1] in ("will", "shall") and shut[2] in ("be", "stay") and shut[3] in _SHUT:
        answered = _closed_behind(spoken, at + 3) and "?" not in spoken[at + 3].raw
        return _said(spoken, at, at + 3) if answered and spoken[at].opens else ""
    verb = at + 1 if text in ("we'll", "i'll") else at + 2 if text in ("we", "i") and _text(spoken, at + 1) in _WILL else None
    if verb is None or _text(spoken, verb) not in ("leave", "cut", "take", "keep", "edit") or _text(spoken, verb + 1) not in ("that", "this", "it"):
        return ""
    out = _text(spoken, verb + 2)
    if out == "out" and _closed_behind(spoken, verb + 2):
        return _said(spoken, at, verb + 2)
    off = _text(spoken, verb + 2) == "off" and any(_text(spoken, n) in _MEDIA for n in range(verb + 3, verb + 5))
    return _said(spoken, at, verb + 2) if off else ""


# -- the turn around them --------------------------------------------------------------------------------------------------------
def _asked(utterance: Utterance, interviewers: Collection[int]) -> bool:
    """True where somebody asks: an interviewer; where nobody was assigned, whoever ends in a question."""
    if utterance.speaker_id is not None:
        return utterance.speaker_id in interviewers
    return bool(utterance.words) and asks(utterance.words[-1].text)


def _turn(utterances: Sequence[Utterance], at: int, interviewers: Collection[int], rule: str) -> OffRecord:
    """The whole answer around an utterance: from behind the question before it to the next question."""
    first = last = at
    known = utterances[at].speaker_id is not None
    while first > 0 and not _asked(utterances[first - 1], interviewers):
        if not known and utterances[at].start_ms - utterances[first - 1].start_ms > _UNKNOWN_BEFORE_MS:
            break
        first -= 1
    while last + 1 < len(utterances) and not _asked(utterances[last + 1], interviewers):
        if not known and utterances[last + 1].end_ms - utterances[at].end_ms > _UNKNOWN_AFTER_MS:
            break
        last += 1
    held = utterances[first : last + 1]
    return OffRecord(held[0].start_ms, max(u.end_ms for u in held), rule)


# -- before and after the interview ------------------------------------------------------------------------------------------------
_OPENINGS = ("this is", "we are recording", "we're recording", "i am with", "i'm with", "my name is", "today is", "interview with", "i am talking", "i'm talking")
_CLOSINGS = ("end of the interview", "end of our interview", "end of this interview", "stop the recording", "stop recording", "stop the tape", "switch it off now", "turn it off now", "stop there")


def _words_of(utterance: Utterance) -> str:
    return " ".join(t.text for t in tokens(utterance.words))


def _before_first(utterances: Sequence[Utterance], interviewers: Collection[int]) -> list[OffRecord]:
    """What was said before an interviewer opened the interview, where speakers are known."""
    for at, utterance in enumerate(utterances):
        if utterance.start_ms > _MOST_BEFORE_MS or utterance.speaker_id is None:
            return []
        if utterance.speaker_id not in interviewers:
            continue
        opened = _words_of(utterance)
        later = any(_opens_interview(u, interviewers) for u in utterances[at + 1 :] if u.start_ms <= _MOST_BEFORE_MS)
        if any(o in f"{opened} " for o in _OPENINGS) or not later:
            break
    else:
        return []
    if at == 0:
        return []
    return [OffRecord(utterances[0].start_ms, max(u.end_ms for u in utterances[:at]), BEFORE_FIRST)]


def _opens_interview(utterance: Utterance, interviewers: Collection[int]) -> bool:
    return utterance.speaker_id in interviewers and any(o in _words_of(utterance) for o in _OPENINGS)


def _after_thanks(utterances: Sequence[Utterance], interviewers: Collection[int]) -> list[OffRecord]:
    """What was said after an interviewer gave thanks and asked nothing more of the interview."""
    end_ms = max((u.end_ms for u in utterances), default=0)
    for at in range(len(utterances) - 1, 0, -1):
        utterance = utterances[at]
        if end_ms - utterance.end_ms > _MOST_AFTER_MS or utterance.start_ms < end_ms // 2:
            return []
        if utterance.speaker_id is None or utterance.speaker_id not in interviewers:
            continue
        said = _words_of(utterance)
        thanks = ("thank you" in said or "thanks" in said.split()) and not asks(utterance.words[-1].text)
        closing = any(c in said for c in _CLOSINGS)
        after = utterances[at + 1 :]
        goes_on = any(u.speaker_id in interviewers and u.words and asks(u.words[-1].text) for u in after)
        if not closing and (goes_on or not thanks):
            continue
        if sum(len(u.words) for u in after) <= 6:  # "You are welcome."
            return []
        return [OffRecord(after[0].start_ms, max(u.end_ms for u in after), AFTER_THANKS)]
    return []


def _joined(found: Sequence[OffRecord]) -> list[OffRecord]:
    joined: list[OffRecord] = []
    for one in sorted(found, key=lambda f: (f.start_ms, -f.end_ms)):
        if joined and one.start_ms < joined[-1].end_ms:
            before = joined[-1]
            joined[-1] = OffRecord(before.start_ms, max(before.end_ms, one.end_ms), before.rule)
        else:
            joined.append(one)
    return joined
