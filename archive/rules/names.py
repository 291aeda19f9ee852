"""Names of people in spoken words, to be decided by a person. It would rather find one too many than one too few. Pure."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

from archive.domain.attribution import name_parts
from archive.domain.letters import core, folded, plain_signs
from archive.domain.values import Scan, Word
from archive.rules.spoken import Token, tokens, word_set

# What people say while they look for the rest of a name; from memory.
_FILLERS = word_set("er erm um uh uhm ah eh oh hm hmm mm well you know what was his her name the old young")
_MAX_FILLERS = 4
_FIRST_KINDS = ("first", "nick", "initials", "heard_as", "pseudonym", "short")
_LAST_KINDS = ("family", "full", "heard_as")
_PARTED = re.compile(r"[\s\-'.]+")
_JOIN_LETTERS = 6  # a name of so many letters is also found where it was heard as two words


@dataclass(frozen=True, slots=True)
class PersonNames:
    """A person and every name of theirs: (text, kind, scan). Kinds and scan as in DESIGN section 6."""

    person_id: int
    names: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, slots=True)
class NameHit:
    """A name that is spoken: word indices, inclusive; whose, and which kind of name."""

    first: int
    last: int
    person_id: int
    kind: str


@dataclass(frozen=True, slots=True)
class _Form:
    joined: str  # the letters of the whole name
    breaks: frozenset[int]  # after how many letters it may go on in another token
    person_id: int
    kind: str
    as_name: bool
    text: str


_NONE: list[_Form] = []


def find_names(
    words: Sequence[Word], people: Sequence[PersonNames]
) -> list[NameHit]:
    """Every place where a person is named: possessives, plurals, initials, accents and case folded.

    `as_name` names count only where capitalised, and inside a place's name as well ("Lund's yard"): a person decides
    each time. One hit spans "Peter, er, Lund".
    """
    return NameFinder(people).find(words)


class NameFinder:
    """The names of many people, indexed once by their first letters; `find` then works on any passage."""

    def __init__(self, people: Sequence[PersonNames]) -> None:
        self._forms: dict[str, list[_Form]] = {}  # by every beginning after which a token may end
        self._starts: dict[str, list[_Form]] = {}  # by first letter, for names that were heard with a hyphen inside
        self._initials: dict[int, frozenset[str]] = {}
        for person in people:
            forms = _forms(person)
            self._initials[person.person_id] = frozenset(
                f.joined[0] for f in forms if f.kind in ("first", "full", "nick")
            )
            for form in forms:
                self._starts.setdefault(form.joined[0], []).append(form)
                for length in form.breaks:
                    self._forms.setdefault(form.joined[:length], []).append(form)

    def find(self, words: Sequence[Word]) -> list[NameHit]:
        """Hits in order; see `find_names`."""
        spoken = tokens(words)
        raw: list[tuple[int, int, int, str]] = []
        for at in range(len(spoken)):
            for form in self._candidates(spoken, at):
                end = _match(form, spoken, at)
                if end is None:
                    continue
                raw.append((at, end, form.person_id, form.kind))
        joined = self._join(spoken, raw)
        hits = {
            NameHit(spoken[s].word, spoken[e].word, person_id, kind) for s, e, person_id, kind in _longest(joined)
        }
        return sorted(hits, key=lambda h: (h.first, h.last, h.person_id, h.kind))

    def _candidates(self, spoken: Sequence[Token], at: int) -> list[_Form]:
        """The names that may begin here, without the endings that a name can have."""
        letters, text = spoken[at].letters, spoken[at].text
        if at + 1 < len(spoken) and _same_word(spoken, at + 1):
            return self._starts.get(letters[:1], [])
        found = self._forms.get(letters, _NONE)
        if letters[-1:] == "s":
            found = found + self._forms.get(letters[:-1], _NONE)
            if letters[-2:] == "es":
                found = found + self._forms.get(letters[:-2], _NONE)
        if "'" in text:
            found = found + self._forms.get(_letters(text.rpartition("'")[0]), _NONE)
        return found

    def _join(self, spoken: Sequence[Token], raw: list[tuple[int, int, int, str]]) -> list[tuple[int, int, int, str]]:
        """First and family name of one person with only fillers or initials between become one; so does "P. Lund"."""
        hits = sorted(set(raw))
        out = list(hits)
        by_person: dict[int, list[tuple[int, int, str]]] = {}
        for start, end, person_id, kind in hits:
            by_person.setdefault(person_id, []).append((start, end, kind))
        for person_id, own in by_person.items():  # in order of their starts
            starts = [start for start, _, _ in own]
            initials = self._initials.get(person_id, frozenset())
            for start, end, kind in own:
                if kind in ("family", "heard_as", "nick"):
                    begin = start
                    while begin > 0 and _is_initial(spoken[begin - 1], initials if begin == start else None):
                        begin -= 1
                    if begin < start:
                        out.append((begin, end, person_id, "full"))
                near = own[bisect_right(starts, end) : bisect_right(starts, end + 1 + _MAX_FILLERS)] if kind in _FIRST_KINDS else []
                for start2, end2, kind2 in near:
                    gap = spoken[end + 1 : start2]
                    if kind2 in _LAST_KINDS and all(t.text in _FILLERS or len(t.letters) == 1 for t in gap):
                        out.append((start, end2, person_id, "full"))
        return out


def _longest(hits: list[tuple[int, int, int, str]]) -> list[tuple[int, int, int, str]]:
    """Without those that lie inside a longer one; of equal ones of a person, the first kind."""
    kept: list[tuple[int, int, int, str]] = []
    seen: set[tuple[int, int, int]] = set()
    ends: dict[int, set[int]] = {}  # of the kept ones, by their starts
    most = max((end - start for start, end, _, _ in hits), default=0)
    for start, end, person_id, kind in sorted(set(hits), key=lambda h: (h[0] - h[1], h[0], h[2], h[3])):
        inside = any(e >= end and (s, e) != (start, end) for s in range(start - most, start + 1) for e in ends.get(s, ()))
        if not inside and (start, end, person_id) not in seen:
            kept.append((start, end, person_id, kind))
            seen.add((start, end, person_id))
            ends.setdefault(start, set()).add(end)
    return kept


def _is_initial(token: Token, allowed: frozenset[str] | None) -> bool:
    if len(token.letters) != 1 or not token.capital or token.letters == "i" and "." not in token.raw:
        return False
    return allowed is None or token.letters in allowed


def _forms(person: PersonNames) -> list[_Form]:
    """The forms to look for: the names given, and first and family name of a full name that was given alone."""
    given: dict[str, _Form] = {}
    never = {_letters(text) for text, _, scan in person.names if scan == Scan.NEVER}
    for text, kind, scan in person.names:
        # A full name of two parts is no ordinary word, however it is written; its parts may be.
        whole = kind == "full" and len(text.split()) > 1
        form = _form(text, person.person_id, kind, scan == Scan.AS_NAME and not whole)
        if form and form.joined not in never:
            known = given.get(form.joined)
            given[form.joined] = form if known is None or known.as_name else known
    for text, kind, scan in person.names:
        parts = [p for p in text.split() if _letters(p)]
        if kind != "full" or scan == Scan.NEVER or len(parts) < 2:
            continue
        naming = [(p, "first" if p == parts[0] else "family") for p in name_parts(text)]
        for part, part_kind in (*naming, (_initials_of(parts), "initials")):
            form = _form(part, person.person_id, part_kind, True)
            if form and form.joined not in never and (part_kind == "initials" or len(form.joined) > 1):
                given.setdefault(form.joined, form)
    return list(given.values())


def _initials_of(parts: Sequence[str]) -> str:
    return "".join(core(p)[0].upper() + "." for p in parts)


def _form(text: str, person_id: int, kind: str, as_name: bool) -> _Form | None:
    joined, breaks = "", set()
    for part in _PARTED.split(plain_signs(text)):
        joined += _letters(part)
        breaks.add(len(joined))
    if not joined:
        return None
    if kind == "initials":
        breaks |= {1, len(joined)}
    if not as_name and len(joined) >= _JOIN_LETTERS:
        breaks |= set(range(2, len(joined) - 1))
    return _Form(joined, frozenset(breaks), person_id, kind, as_name or kind == "initials", text)


def _letters(text: str) -> str:
    return "".join(c for c in folded(text) if c.isalnum())


def _match(form: _Form, spoken: Sequence[Token], at: int) -> int | None:
    """The last token of the form where it begins at `at`; None where it does not."""
    if form.kind == "initials":
        return _match_initials(form, spoken, at)
    done, position = "", at
    while position < len(spoken):
        token = spoken[position]
        if form.as_name and not (token.capital or (done and _same_word(spoken, position))):
            return None
        rest = form.joined[len(done) :]
        if token.letters in (rest, rest + "s", rest + "es") or _owned(token, rest):
            return position
        if not token.letters or not rest.startswith(token.letters):
            return None
        done += token.letters
        position += 1
        if len(done) not in form.breaks and not (position < len(spoken) and _same_word(spoken, position)):
            return None
    return None


def _owned(token: Token, rest: str) -> bool:
    text = token.text
    return "'" in text and _letters(text.rpartition("'")[0]) == rest and len(text.rpartition("'")[2]) <= 2


def _same_word(spoken: Sequence[Token], position: int) -> bool:
    return position > 0 and spoken[position].word == spoken[position - 1].word


def _match_initials(form: _Form, spoken: Sequence[Token], at: int) -> int | None:
    """Initials count only in capitals: "P.L.", "PL" or "P. L."."""
    token = spoken[at]
    written = core(token.raw)
    if token.letters == form.joined and len(form.joined) > 1:
        letters = "".join(c for c in written if c.isalnum())
        dotted = "." in written or form.text.replace(".", "").replace(" ", "") == letters and "." not in form.text
        return at if letters.isupper() and dotted else None
    if len(token.letters) != 1:
        return None
    for n, letter in enumerate(form.joined):
        if at + n >= len(spoken):
            return None
        one = spoken[at + n]
        if one.letters != letter or not one.capital or "." not in one.raw and n < len(form.joined) - 1:
            return None
    return at + len(form.joined) - 1
