"""Finds names to be hidden in text, however they are disguised. Pure; time grows with the length of the text alone.

A text is read in several ways (below), each a list of tokens; a name hits where its tokens stand in a row.
"""

from __future__ import annotations

import html
import re
import sys
import unicodedata
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from urllib.parse import unquote

from archive.domain.cleared import ForbiddenName

MASK = "[name withheld]"

# Drawn as nothing though no format character (Unicode, Default_Ignorable_Code_Point), and the blank Braille cell.
_BLANKS = frozenset("\u0640\u115f\u1160\u17b4\u17b5\u2800\u3164\uffa0")  # and the bar that lengthens Arabic words
# Letters that look like a Latin one (Unicode TS 39, confusables, the ones that matter for names) or do not decompose.
_LOOKALIKES = str.maketrans(
    dict(
        zip(
            "АВЕЅІЈКМНОРСТУХаеѕіјорсухһԁԛԝбгΑΒΕΖΗΙΚΜΝΟΡΤΥΧαβειικνορτυχγҮүӏɡɑıȷ",
            "ABESIJKMHOPCTYXaesijopcyxhdqw6rABEZHIKMNOPTYXabeiiknoptuxyYylgaij",
            strict=True,
        )
    )
    | {"ø": "o", "Ø": "O", "ł": "l", "Ł": "L", "đ": "d", "Đ": "D", "ð": "d", "Ð": "D", "ħ": "h", "Ħ": "H"}
    | {"æ": "ae", "Æ": "Ae", "œ": "oe", "Œ": "Oe", "þ": "th", "Þ": "Th", "ŋ": "n", "Ŋ": "N", "ſ": "s", "ß": "ss"}
    | {"ŧ": "t", "Ŧ": "T", "ƒ": "f", "ƙ": "k", "Ƙ": "K", "ɓ": "b", "Ɓ": "B", "ɗ": "d", "Ɗ": "D"}
    | {"Ø": "O", "ƚ": "l", "ɫ": "l", "Ɩ": "l", "ɩ": "i", "ɛ": "e", "Ɛ": "E", "ɔ": "o", "ʋ": "u", "ɪ": "i", "ʍ": "m"}
    | dict(zip("кмнтвпѵѡьзөҙԍҽӿ", "kmhtbnvwb3o3gex", strict=True))
    | dict(zip("ησωςμΣΩ", "nowouEO", strict=True))
    | dict(zip("ᴀʙᴄᴅᴇꜰɢʜɪᴊᴋʟᴍɴᴏᴘʀꜱᴛᴜᴠᴡʏᴢ", "abcdefghijklmnoprstuvwyz", strict=True))  # small capitals do not decompose
    | dict(zip("ᎪᏴᏟᎠᎬᏀᎻᎥᎫᏦᏞᎷᏢᏒᏚᎢᏙᏔᏃ", "ABCDEGHiJKLMPRSTVWZ", strict=True))
    | {chr(0x1F1E6 + n): chr(65 + n) for n in range(26)}  # letters of flags, then white on black, round and square
    | {chr(first + n): chr(65 + n) for first in (0x1F150, 0x1F170) for n in range(26)}
)
# Digits and signs that are written for letters; some stand for two.
_DIGITS = (str.maketrans("0345791", "oeastgl"), str.maketrans("0345798", "oeastgb") | str.maketrans("1", "i"))
_SIGNS = tuple(digits | str.maketrans("@$€£", "asel") | str.maketrans("|!", letters) for digits, letters in zip(_DIGITS, ("li", "il"), strict=True))
_WORD = re.compile(r"[^\W_]+")
_SIGNED_WORD = re.compile(r"[^\W_][\w@$|!€£]*[^\W_]|[@$|!€£][\w@$|!€£]*[^\W_]")
_DIGIT = re.compile(r"[0-9]")
_SIGN = re.compile(r"[0-9@$|!€£]")
_LETTERED = ((_WORD, _DIGIT, _DIGITS), (_SIGNED_WORD, _SIGN, _SIGNS))
_LETTER = re.compile(r"[^\W\d_]")
_TURNED = re.compile("[\u202e\u202d\u2067]([^\u202c\u2069\n]*)")
# Letters written without spaces between words: a name stands inside a run of them.
_UNSPACED = re.compile(r"[\u0e00-\u0eff\u1000-\u109f\u1780-\u17ff\u3040-\u30ff\u1100-\u11ff\u3400-\u9ffe\uac00-\ud7af\U00020000-\U0003ffff]")

_SEPARATORS = re.compile(r"[\W_]+")
# Each begins with a set of characters and looks back from there: one pass, whatever the text.
_HYPHENS = re.compile(r"[-‐‑‒–⁃−¬‧·•'’ʼ](?<=[^\W_].)\s*(?=[^\W_])")
_JOINTS = re.compile(r"[._/*~+|\"“”](?<=[^\W\d_].)(?=[^\W\d_])")
_LETTERS_AT_END = re.compile(r"[^\W\d_]{2}$")
_LETTERS_AT_START = re.compile(r"[^\W\d_]{2}")
_WORDS_OF_ONE_LETTER = frozenset("aioAIO")
_MOST_LINES = 12  # a name in pieces, one to a line
_HUMP = re.compile(r"(?<=[a-z])(?=[A-Z])|(?<=[^\W\d_])(?=\d)|(?<=\d)(?=[^\W\d_])")
_ORDINARY = re.compile(r"[A-Za-z]?[a-z]{2,}[,.;:?]?")
_SEAM = "\u9fff"  # a letter that no name has: marks the words that only a second reading makes
_FILLERS = frozenset({"er", "erm", "uh", "um", "eh", "ah", "mm", "hm"})
_MOST_BETWEEN = 2  # "Peter, er, um, Lund" and a middle initial; more is another matter


@dataclass(frozen=True, slots=True)
class Hit:
    """Where a name stands: the line of the text as it was read, from 1."""

    line: int


@dataclass(frozen=True, slots=True)
class _Name:
    tokens: tuple[str, ...]
    as_name: bool
    joined: bool = False  # the name's parts written as one word
    initials: bool = False


class Matcher:
    """The names of one export, prepared once. `allowed`: wordings that may stand (attributions, names kept)."""

    def __init__(self, forbidden: Sequence[ForbiddenName], allowed: Sequence[str] = ()) -> None:
        self._by_first: dict[str, list[_Name]] = defaultdict(list)
        for name in forbidden:
            for made in _forms(name):
                if made not in self._by_first[made.tokens[0]]:
                    self._by_first[made.tokens[0]].append(made)
        self._vocabulary = frozenset(self._by_first)
        self._whole_words = [
            made for forms in self._by_first.values() for made in forms if len(made.tokens) == 1 and len(made.tokens[0]) > 2
        ]
        self._other_scripts = any(not name.text.isascii() for name in forbidden)
        squeezed = ((n.text, "".join(_tokens(_bare(n.text))[1])) for n in forbidden if _UNSPACED.search(_bare(n.text)))
        self._unspaced = frozenset(plain for _, plain in squeezed if len(plain) > 1)
        self._allowed_unspaced = [
            "".join(_tokens(_bare(w))[1]) for w in sorted(allowed, key=len, reverse=True) if _UNSPACED.search(_bare(w))
        ]
        self._allowed = frozenset(
            tuple(wanted) for wording in (MASK, *allowed) for wanted in _wordings(wording) if wanted
        )

    def first_hit(self, text: str, *, any_case: bool = False) -> Hit | None:
        """The first place where a name stands that nothing allows. `any_case`: lower case counts as a name too."""
        if not self._vocabulary or not text:
            return None
        for variant in _decoded(text):
            plains = [_folded(variant)]
            if self._other_scripts and not variant.isascii() and (bare := _bare(variant)) != plains[0]:
                plains.append(bare)  # "СОКОЛОВА" and "Соколова" are one name, though only the capitals look Latin
            for plain in plains:
                hit = self._in_reading(plain, any_case=any_case)
                if hit is not None:
                    return hit
                for reading in _second_readings(variant, plain):
                    hit = self._in_reading(reading, any_case=any_case, seams=True)
                    if hit is not None:
                        return hit
            if self._unspaced and (hit := self._within_a_run(variant)) is not None:
                return hit
        return None

    def _within_a_run(self, text: str) -> Hit | None:
        """Names in letters that are written without spaces, anywhere in a run of them."""
        if text.isascii():
            return None
        bare = _bare(text)
        squeezed = _SEPARATORS.sub("", bare).casefold()
        for wording in self._allowed_unspaced:
            squeezed = squeezed.replace(wording, "\n" * len(wording))
        at = min((place for name in self._unspaced if (place := squeezed.find(name)) >= 0), default=-1)
        if at < 0:
            return None
        letters = (m.start() for m in re.finditer(r"[^\W_]", bare))
        start = next((place for number, place in enumerate(letters) if number == at), 0)
        return Hit(bare.count("\n", 0, start) + 1)

    def places(self, words: Sequence[str]) -> list[tuple[int, int]]:
        """Where a name stands among spoken words: (first, last), in one word, in two or three, or spelled letter by letter."""
        found: set[tuple[int, int]] = set()
        singles = [len(_SEPARATORS.sub("", word)) == 1 for word in words]
        # Such a word reads in one way only, beside others like it too: where it begins no name, none stands among them.
        ordinary = [bool(_ORDINARY.fullmatch(word)) and not self._possible(_tokens(word)[1]) for word in words]
        for size in (1, 2, 3):
            for at in range(len(words) - size + 1):
                if all(ordinary[at : at + size]):
                    continue
                inside = any((first, last) in found for first in range(at, at + size) for last in range(first, at + size))
                if not inside and self.first_hit(" ".join(words[at : at + size])):
                    found.add((at, at + size - 1))
        for run in re.finditer(b"\x01{3,}", bytes(singles)):
            if self.first_hit(" ".join(words[run.start() : run.end()])):
                found.add((run.start(), run.end() - 1))
        return sorted(found)

    def _in_reading(self, reading: str, *, any_case: bool, seams: bool = False) -> Hit | None:
        """`seams`: only words that this reading made count; the others were looked at before."""
        raw, tokens, made = _seamed_tokens(reading) if seams else (*_tokens(reading), None)
        if not seams and (spelled := self._spelled_out(raw, any_case)) is not None:
            return Hit(_line_of(reading, spelled))
        if not self._possible(tokens):
            return None
        allowed: set[int] | None = None
        for at, token in enumerate(tokens):
            for start in _stems(token) & self._vocabulary:
                for name in self._by_first[start]:
                    covered = _covered(name, raw, tokens, at, any_case=any_case)
                    if covered is None or (made is not None and made.isdisjoint(covered)):
                        continue
                    if allowed is None:
                        allowed = self._allowed_places(tokens)
                    if not allowed.issuperset(covered):
                        return Hit(_line_of(reading, at))
        return None

    def _spelled_out(self, raw: Sequence[str], any_case: bool) -> int | None:
        """Where a name stands in a run of three or more single letters ("M a r s h", "M.A.R.S.H.")."""
        singles = bytes(len(word) == 1 for word in raw)
        if singles.find(b"\x01\x01\x01") < 0:
            return None
        for run in re.finditer(b"\x01{3,}", singles):
            letters = "".join(raw[run.start() : run.end()])
            plain = letters.casefold()
            for name in self._whole_words if len(plain) == len(letters) else ():
                at = plain.find(name.tokens[0])
                if at >= 0 and (any_case or not name.as_name or letters[at].isupper()):
                    return run.start() + at
        return None

    def _possible(self, tokens: Sequence[str]) -> bool:
        """A quick no for nearly every text: none of its words begins a name."""
        words = set(tokens)
        if not words.isdisjoint(self._vocabulary):
            return True
        return any(not self._vocabulary.isdisjoint(_stems(word)) for word in words if word.endswith("s"))

    def _allowed_places(self, tokens: Sequence[str]) -> set[int]:
        places: set[int] = set()
        at_word: dict[str, list[int]] = defaultdict(list)
        for at, token in enumerate(tokens):
            at_word[token].append(at)
        for wanted in self._allowed:
            more = [wanted[0] + "s"] if len(wanted) == 1 else []  # "Peter Lund" allows "Peter Lund’s"
            for at in (place for first in (wanted[0], *more) for place in at_word.get(first, ())):
                found = tuple(tokens[at : at + len(wanted)])
                if found == wanted or (found[:-1] == wanted[:-1] and found[-1:] == (wanted[-1] + "s",)):
                    places.update(range(at, at + len(wanted)))
        return places


def _forms(name: ForbiddenName) -> list[_Name]:
    """The ways one name may be written: in order, family name first, in one word."""
    written = dict.fromkeys((_folded(name.text), _bare(name.text)))
    return [form for plain in written for form in _forms_of(name, tuple(_tokens(plain)[1]))]


def _forms_of(name: ForbiddenName, tokens: tuple[str, ...]) -> list[_Name]:
    if not tokens:
        return []
    initials = all(len(token) == 1 for token in tokens)
    forms = [_Name(tokens, name.as_name, initials=initials)]
    if len(tokens) > 1:
        forms.append(_Name(("".join(tokens),), name.as_name or initials, joined=True, initials=initials))
    if len(tokens) > 1 and not initials:
        forms.append(_Name((tokens[-1], *tokens[:-1]), name.as_name))
    return forms


@lru_cache(maxsize=4096)
def _stems(token: str) -> frozenset[str]:
    """The token, and without a possessive or plural ending ("Lunds", "Joneses")."""
    stems = {token}
    if len(token) > 2 and token.endswith("s"):
        stems.add(token[:-1])
        if len(token) > 4 and token.endswith(("ses", "xes", "zes", "shes", "ches")):
            stems.add(token[:-2])
    return frozenset(stems)


def _covered(name: _Name, raw: Sequence[str], tokens: Sequence[str], at: int, *, any_case: bool) -> list[int] | None:
    """The places of the name's tokens where it stands at `at`; None where it does not."""
    places: list[int] = []
    for number, wanted in enumerate(name.tokens):
        is_last = number == len(name.tokens) - 1
        place = at if number == 0 else _next_place(tokens, places[-1], wanted, is_last, between=not name.initials)
        if place is None or place >= len(tokens):
            return None
        token = tokens[place]
        if token != wanted and not (is_last and wanted in _stems(token)):
            return None
        if name.as_name and not any_case and number == 0 and not raw[place][:1].isupper():
            return None
        if token not in (wanted, wanted + "s") and not raw[place][:1].isupper():
            return None  # "the Marshes" are the family, "marshes" are wet
        places.append(place)
    if name.initials and not any_case and not all(raw[p].isupper() for p in places):
        return None
    return places


def _next_place(tokens: Sequence[str], after: int, wanted: str, is_last: bool, *, between: bool) -> int | None:
    """Where the name goes on: at once, after a sound of hesitation, or after an initial."""
    place = after + 1
    if between:
        while place < len(tokens) and place - after <= _MOST_BETWEEN and tokens[place] != wanted:
            if tokens[place] not in _FILLERS and not (len(tokens[place]) == 1 and tokens[place].isalpha()):
                break
            place += 1
    return place if place < len(tokens) else None


def _decoded(text: str) -> Iterable[str]:
    """The text, and as it reads once character references and percent escapes are undone, also where both were done twice."""
    yield text
    for _ in range(3):
        loose = html.unescape(text) if "&" in text else text
        loose = unquote(loose, errors="replace") if "%" in loose else loose
        loose = _unescaped(loose) if "\\" in loose else loose
        if loose == text:
            return
        yield loose
        text = loose


def _unescaped(text: str) -> str:
    """Backslash escapes of JSON and of programs, undone (\\u004d, \\x4d); `\\n` and its like become spaces."""
    text = re.sub(r"\\u\{?([0-9a-fA-F]{4,6})\}?", _character, text)
    text = re.sub(r"\\x([0-9a-fA-F]{2})", _character, text)
    return re.sub(r"\\[nrtbf]", " ", text)


def _character(match: re.Match[str]) -> str:
    code = int(match.group(1), 16)
    return chr(code) if code <= sys.maxunicode and not 0xD800 <= code <= 0xDFFF else " "


def _is_ignorable(char: str) -> bool:
    """Invisible: format characters (soft hyphen, zero-width space and joiners, …) and blanks."""
    return char in _BLANKS or unicodedata.category(char) == "Cf"


@lru_cache(maxsize=8192)
def _bare_character(char: str) -> str:
    if _is_ignorable(char):
        return ""
    parts = unicodedata.normalize("NFKD", char)
    return "".join(p for p in parts if unicodedata.category(p) not in ("Mn", "Me", "Mc") and p not in _BLANKS)


@lru_cache(maxsize=8192)
def _folded_character(char: str) -> str:
    return _bare_character(char).translate(_LOOKALIKES)


def _folded(text: str) -> str:
    """Without accents, composition, invisible characters and look-alike letters; case and separators kept."""
    if text.isascii():
        return text
    return text.translate({ord(char): _folded_character(char) for char in set(text) if not char.isascii()})


def _bare(text: str) -> str:
    """As `_folded`, in its own script: look-alike letters stay what they are."""
    if text.isascii():
        return text
    return text.translate({ord(char): _bare_character(char) for char in set(text) if not char.isascii()})


def _second_readings(text: str, plain: str) -> Iterable[str]:
    """Invisible characters as breaks, turned text; hyphens and apostrophes closed; humps opened; signs as letters; lines
    joined. Seams are marked."""
    if not text.isascii():
        invisible = [char for char in set(text) if not char.isascii() and _is_ignorable(char)]
        if invisible:
            yield _folded(text.translate({ord(char): f"{_SEAM} {_SEAM}" for char in invisible}))
            if turned := [_folded(m.group(1))[::-1] for m in _TURNED.finditer(text)]:
                yield _SEAM + re.sub(r"\s+", f"{_SEAM} {_SEAM}", "\n".join(turned)) + _SEAM
    closed = _HYPHENS.sub(_SEAM, plain)
    closed = _JOINTS.sub(_SEAM, closed)
    if closed != plain:
        yield closed
    opened = _with_humps_open(plain)
    if opened != plain:
        yield opened
    yield from _with_signs_as_letters(plain)
    if "\n" in plain:
        yield _line_ends(plain)


def _with_signs_as_letters(plain: str) -> Iterable[str]:
    """`C0y|e` → `Coyle`, with a seam; each different word is looked at once."""
    for word, sign, tables in _LETTERED:
        if not sign.search(plain):
            continue
        mixed = {w for w in set(word.findall(plain)) if sign.search(w) and _LETTER.search(w)}
        if not mixed:
            continue
        for table in tables:
            yield word.sub(_replaced({w: w.translate(table) + _SEAM for w in mixed}), plain)


def _replaced(made: dict[str, str]) -> Callable[[re.Match[str]], str]:
    return lambda match: made.get(match.group(), match.group())


def _line_ends(plain: str) -> str:
    """Each line's last words with the next line's first ones, the break closed: "Coy" / "le" on two lines, or on more."""
    lines = [line.split() for line in plain.splitlines() if line and not line.isspace()]
    seams = []
    for at, above in enumerate(lines[:-1]):
        joined, end = above[-1], at
        while end + 1 < len(lines) and end - at < _MOST_LINES and _may_go_on(joined, lines[end], lines[end + 1]):
            end += 1
            joined += _SEAM + lines[end][0]
            seams.append(" ".join([*above[-3:-1], joined, *lines[end][1:3]]))
            if len(lines[end]) > 1:
                break
    return "\n".join(seams)


def _may_go_on(so_far: str, above: Sequence[str], below: Sequence[str]) -> bool:
    """Could these be two pieces of one word? Letters meet; a letter on its own may be a word ("a", "I") unless its line has no other."""
    end = _LETTERS_AT_END.search(so_far[-2:]) or _is_piece(above, so_far)
    return bool(end and (_LETTERS_AT_START.match(below[0]) or _is_piece(below, below[0])))


def _is_piece(line: Sequence[str], word: str) -> bool:
    return len(word) == 1 and word.isalpha() and (len(line) == 1 or word not in _WORDS_OF_ONE_LETTER)


def _with_humps_open(plain: str) -> str:
    """`LenaMarsh07` → `Lena Marsh 07`, with seams; each different word is looked at once."""
    humped = {word for word in set(_SEPARATORS.split(plain)) if _HUMP.search(word)}
    if not humped:
        return plain
    return re.sub(
        r"[^\W_]+",
        lambda m: _HUMP.sub(f"{_SEAM} {_SEAM}", m.group()) if m.group() in humped else m.group(),
        plain,
    )


def _wordings(wording: str) -> Iterable[list[str]]:
    """The tokens of an allowed wording in every reading, so that a second reading does not find what the first allows."""
    plain = _folded(wording)
    yield _tokens(plain)[1]
    for reading in _second_readings(wording, plain):
        yield _seamed_tokens(reading)[1]


def _tokens(folded: str) -> tuple[list[str], list[str]]:
    """Words as written and in folded case, in step."""
    raw = [part for part in _SEPARATORS.split(folded) if part]
    return raw, [part.casefold() for part in raw]


def _seamed_tokens(reading: str) -> tuple[list[str], list[str], set[int]]:
    """Tokens with their seams taken out, and the places of those that had one."""
    raw = [part for part in _SEPARATORS.split(reading) if part and part.strip(_SEAM)]
    made = {at for at, part in enumerate(raw) if _SEAM in part}
    for at in made:
        raw[at] = raw[at].replace(_SEAM, "")
    return raw, [part.casefold() for part in raw], made


def _line_of(reading: str, at: int) -> int:
    """The line on which token number `at` stands; the last line for words that were put together."""
    for number, match in enumerate(re.finditer(r"[^\W_]+", reading)):
        if number == at:
            return reading.count("\n", 0, match.start()) + 1
    return reading.count("\n") + 1
