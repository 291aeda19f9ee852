"""Times that are counted from somebody's birth, where that was told in the same passage. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from archive.domain.dates import at_age
from archive.errors import BadInput
from archive.rules.chains import shifted
from archive.rules.context import text_at
from archive.rules.nearby import counted
from archive.rules.numbers import cardinal
from archive.rules.spoken import Token, word_set
from archive.rules.told import Birth, Knowing, Reader, Told

_BIRTH = frozenset(("born", "baby", "had", "came", "arrived"))
_PRONOUNS = word_set("he she him her it they them we i had was were the our my a an was been is his")
_OTHERS = frozenset(("he", "she"))
_CLAUSE = 7


def birth_told(spoken: Sequence[Token], time: Told, start_ms: int) -> Birth | None:
    """The birth that a time tells of: "our Susan came in sixty-one", "a fifty-nine baby", "we had our first in 1972"."""
    if "/" in time.edtf or "X" in time.edtf:
        return None
    begin = time.first
    while begin > 0 and not spoken[begin - 1].stop and begin > time.first - 10:
        begin -= 1
    words = [t.text for t in spoken[begin : time.first]]
    if text_at(spoken, time.last + 1) == "baby" and not spoken[time.last].stop:
        words.append("baby")
    if not _BIRTH.intersection(words) or words[:2] == ["i", "was"]:
        return None
    return Birth(time.edtf, frozenset(w.removesuffix("'s") for w in words) - _PRONOUNS - {"born", "baby"}, start_ms)


def read_beside_birth(spoken: Sequence[Token], at: int, knowing: Knowing, read: Reader) -> Told | None:
    """ "the year after my brother was born", "five years after we had him", "the year our Eileen was born".

    Only where that birth is told: before it in the passage, or later in the same turn, which `read` then reads.
    """
    the = [t.text for t in spoken[at : at + 2]] == ["the", "year"]
    number = (1, "year", at + 1, False) if the else counted(spoken, at)
    if number is None or number[1] not in ("year", "years") or spoken[number[2]].stop:
        return None
    count, unit, end, about = number
    side = text_at(spoken, end + 1)
    sign = {"after": 1, "before": -1}.get(side, 0)
    if not sign and not the:
        return None
    clause = _clause(spoken, end + (2 if sign else 1))
    if clause is None:
        return None
    words, last = clause
    known = _known(words, knowing)
    later = None if known else _still_told(spoken, last, words, knowing, read)
    born = known.edtf if known else later.edtf if later else ""
    edtf = shifted(born.rstrip("~?%"), sign * count, unit) if born else None
    if edtf is None or not knowing.came(edtf):
        return None
    how = f"{count} {unit} {side} it" if sign else "the same year"
    return Told(
        at, last, edtf[:4] + ("~" if about else ""), "counted from a birth", f"that birth was told: {born}; {how}", 0.7, base=born,
        from_ms=known.from_ms if known else None, reach=later.last if later else None,
    )  # fmt: skip


def read_kins_age(spoken: Sequence[Token], at: int, knowing: Knowing) -> Told | None:
    """ "when she was two", where the birth told last in the passage is near."""
    if not knowing.thread.births or text_at(spoken, at + 1) not in _OTHERS or text_at(spoken, at + 2) != "was":
        return None
    before = knowing.thread.before(at)
    number = cardinal(spoken, at + 3)
    if before is None or before[1] > 12 or number is None:
        return None
    last = at + 2 + number.length
    after = "" if spoken[last].stop else text_at(spoken, last + 1)
    if after not in ("", "we", "i", "they", "he", "she", "and", "my", "our", "the"):
        return None
    birth = knowing.thread.births[-1]
    try:
        edtf = at_age(birth.edtf.rstrip("~?%"), number.value)
    except BadInput:
        return None
    if not knowing.came(edtf):
        return None
    why = f"that birth was told: {birth.edtf}; aged {number.value} → {edtf}"
    return Told(at, last, edtf, "age of somebody whose birth is told", why, 0.6, base=birth.edtf, from_ms=birth.from_ms)


def _clause(spoken: Sequence[Token], at: int) -> tuple[frozenset[str], int] | None:
    """ "my brother was born", "we had him": who is meant, and the last token."""
    texts = [t.text for t in spoken[at : at + _CLAUSE]]
    if "born" in texts:
        length = texts.index("born") + 1
    elif texts[1:2] == ["had"] and texts[2:3] in (["him"], ["her"]) and texts[0] in ("we", "i", "she"):
        length = 3
    else:
        return None
    if any(t.stop for t in spoken[at : at + length - 1]) or "i" in texts[: length - 1] and "had" not in texts:
        return None
    return frozenset(texts[:length]) - _PRONOUNS - {"born"}, at + length - 1


def _known(words: frozenset[str], knowing: Knowing) -> Birth | None:
    births = knowing.thread.births
    if not words:
        return births[-1] if births else None
    return next((b for b in reversed(births) if words & b.words), None)


def _still_told(spoken: Sequence[Token], last: int, words: frozenset[str], knowing: Knowing, read: Reader) -> Told | None:
    """The birth told right after: "the year before our Jean was born, and she was born in 58"."""
    for at in range(last + 1, min(last + 12, len(spoken))):
        if spoken[at].text != "born":
            continue
        named = {t.text for t in spoken[last + 1 : at]}
        start = at + 1
        while text_at(spoken, start) in ("in", "on", "the", "about"):
            start += 1
        time = read(spoken, start, knowing) if (named & _OTHERS or named & words) and start < len(spoken) else None
        return time if time and "/" not in time.edtf else None
    return None
