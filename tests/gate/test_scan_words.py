"""Matching alone: 200 innocent words that resemble names, names in other scripts, and disguises that no file format brings along."""

from __future__ import annotations

import re
import unicodedata
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from archive.domain.cleared import ForbiddenName
from archive.gate.scan import matcher_for, scan_with
from tests.gate.innocent import AS_NAME_WORDS, ORDINARY

FULL = (
    *("Maud Ellery", "Joseph Tandy", "Irena Volk", "Bernard Pask", "Lena Marsh", "Samuel Reeve", "Agnes Coyle", "Peter Lund", "Dot Fenn"),
    *("Colin Ashby", "Ines Marsh", "Carol Pask", "Ruth Calder", "Marek Sobel", "Ida Bell"),
)
# Families and first names that are words or places as well are noted so (SCENARIO: Marsh, Lund's yard); the rest always count.
WORDS_TOO = ("Marsh", "Lund", "Bell", "Fenn", "Ash", "Ashby", "Reeve", "Volk", "Pask", "Dot", "Tandy", "Quill", "Brine", "Tarrow", "Wren", "Dane", "Holm")
ALWAYS = ("Coyle", "Lena", "Ellery", "Sobel", "Calder", "Irena")
NAMES = (*map(ForbiddenName, FULL), *(ForbiddenName(n, as_name=True) for n in WORDS_TOO), *map(ForbiddenName, ALWAYS))
MATCHER = matcher_for(NAMES)


def test_there_are_two_hundred_innocent_words() -> None:
    assert len(set(AS_NAME_WORDS)) + len(set(ORDINARY)) >= 200
    assert len(AS_NAME_WORDS) == len(set(AS_NAME_WORDS)) and len(ORDINARY) == len(set(ORDINARY))


@pytest.mark.parametrize("words", AS_NAME_WORDS)
def test_words_that_are_names_too_may_stand_as_words(words: str) -> None:
    for text in (words, f"We saw {words}, and so on.", f"x\n{words}\ny", f"“{words}”"):
        assert MATCHER.first_hit(text) is None


@pytest.mark.parametrize("words", ORDINARY)
def test_ordinary_words_are_no_names(words: str) -> None:
    """Every one beside the full names and the names that always count; families that are words too are out of it here."""
    matcher = matcher_for([n for n in NAMES if not n.as_name])
    for text in (words, f"We saw {words}, and so on.", f"x\n{words}\ny"):
        assert matcher.first_hit(text) is None
    assert matcher.first_hit("All the Coyles") is not None


def test_two_hundred_innocent_words_in_one_file(tmp_path: Path) -> None:
    path = tmp_path / "words.txt"
    path.write_text("\n".join(f"{number}. {words}." for number, words in enumerate(AS_NAME_WORDS, 1)), encoding="utf-8")
    assert scan_with(MATCHER, path) == []


# A name on record in its own script, and how it may stand in a text of that script.
SCRIPTS = {
    "Cyrillic": ("Олена Крук", "сказала Олена Крук на пароме"),
    "Cyrillic capitals": ("Олена Крук", "ОЛЕНА КРУК"),
    "Cyrillic decomposed": ("Андрій Йович", unicodedata.normalize("NFD", "говорив Андрій Йович")),
    "Cyrillic with a Latin letter": ("Соколова", "Cоколовa"),
    "Greek": ("Νίκος Δήμος", "ο ΝΙΚΟΣ ΔΗΜΟΣ είπε"),
    "Greek final letter": ("Νίκος", "ΝΊΚΟΣ"),
    "Arabic": ("ليلى حداد", "قالت ليلى حداد"),
    "Arabic lengthened": ("ليلى حداد", "ليـلى حـداد"),
    "Arabic with vowels": ("محمد", "مُحَمَّد"),
    "Hebrew with points": ("שרה", "שָׂרָה"),
    "Hebrew with marks of direction": ("שרה לוי", "\u200fשרה\u200e \u202bלוי\u202c"),
    "Devanagari": ("लीना शर्मा", "कहा लीना शर्मा ने"),
    "Chinese": ("王芳", "昨天王芳说过"),
    "Chinese over a line": ("王芳", "昨天王\n芳说过"),
    "Japanese": ("さくら", "昨日さくらは言った"),
    "Japanese half width": ("サクラ", "昨日ｻｸﾗは言った"),
    "Korean": ("김민수", "어제 김민수가 말했다"),
    "Korean decomposed": ("김민수", unicodedata.normalize("NFD", "어제 김민수가 말했다")),
    "Thai": ("สมชาย", "เมื่อวานสมชายพูด"),
    "Armenian": ("Անի Սարգսյան", "ԱՆԻ ՍԱՐԳՍՅԱՆ"),
    "Polish": ("Żofia Łęcka", "ZOFIA LECKA"),
    "Vietnamese": ("Nguyễn Thị Hạnh", unicodedata.normalize("NFD", "bà Nguyễn Thị Hạnh")),
    "Turkish": ("Işıl Çınar", "IŞIL ÇINAR"),
    "German": ("Groß", "GROSS"),
    "Icelandic": ("Þóra", "Thora"),
}


@pytest.mark.parametrize(("name", "text"), SCRIPTS.values(), ids=SCRIPTS.keys())
def test_a_name_in_its_own_script_is_found(name: str, text: str) -> None:
    matcher = matcher_for([ForbiddenName(name)])
    assert matcher.first_hit(text) is not None
    assert matcher.first_hit("We stood on the Ferry Slip.") is None


OTHER_PEOPLE = {
    "Cyrillic": ("Олена Крук", "сказала Олена Крукова на пароме"),
    "Chinese": ("王芳", "昨天王小芳说过"),
    "Japanese": ("さくら", "昨日さく、くらは言った"),
    "Greek": ("Νίκος", "Νικολέτα"),
}


@pytest.mark.parametrize(("name", "text"), OTHER_PEOPLE.values(), ids=OTHER_PEOPLE.keys())
def test_another_name_in_that_script_is_not(name: str, text: str) -> None:
    assert matcher_for([ForbiddenName(name)]).first_hit(text) is None


def test_an_allowed_wording_in_letters_without_spaces() -> None:
    matcher = matcher_for([ForbiddenName("王芳")], ["王芳华"])
    assert matcher.first_hit("昨天王芳华说过") is None
    assert matcher.first_hit("昨天王芳说过").line == 1  # type: ignore[union-attr]
    assert matcher.first_hit("昨天\n王芳说过").line == 2  # type: ignore[union-attr]


DISGUISES = {
    "digits": "C0yle", "digits for three letters": "4gn35 C0y13", "a bar": "Coy|e", "signs": "@gne$ Coyle", "escaped twice": "%2543oyle", "references twice": "&amp;#67;oyle",
    "letters turned round": "\u202eelyoC\u202c", "two words turned round": "\u202eelyoC sengA\u202c", "points": "C.o.y.l.e", "a point within": "Co.yle", "underscores": "C_o_y_l_e",
    "a stroke": "Co/yle", "stars": "Co*yle", "a quotation mark": 'Co"yle', "a letter a line": "C\no\ny\nl\ne", "three pieces": "Co\nyl\ne", "one letter and the rest": "C\noyle",
    "small capitals": "ᴄᴏʏʟᴇ", "flags": "🇨🇴🇾🇱🇪", "white on black": "🅲🅾🆈🅻🅴", "in circles": "Ⓒⓞⓨⓛⓔ", "script": "𝒞ℴ𝓎𝓁ℯ", "Cherokee": "ᏟOYᏞᎬ", "Greek": "Cογle", "Cyrillic": "Соуӏе",
    "after other single letters": "| a | C.o.y.l.e | b |", "soft hyphen at a line's end": "Co\u00ad\nyle", "not sign at a line's end": "Coy¬\nle",
}  # fmt: skip


@pytest.mark.parametrize("text", DISGUISES.values(), ids=DISGUISES.keys())
def test_further_disguises(text: str) -> None:
    matcher = matcher_for([ForbiddenName("Coyle"), ForbiddenName("Agnes Coyle")])
    assert matcher.first_hit(f"We stood there. {text}") is not None
    assert matcher.first_hit(text) is not None


@pytest.mark.parametrize("text", ["EX-1 and M4A in 1974", "mp3 at 44.1 kHz", "W3C", "10 o'clock", "a1 b2 c3", "N-05", "TW-01.1@1:16-1:25", "3:4:5", "100% | 50%", "a | b | c"])
def test_codes_and_figures_are_no_names(text: str) -> None:
    assert MATCHER.first_hit(text) is None


PIECES = st.sampled_from([
    "Lena", "lena", "Marsh", "Marsh's", "marsh,", "Mar", "sh", "Mar-", "-sh", "L.", "E.", "N.", "A.", "M", "a", "r", "s", "h", "Lund,", "Peter", "er", "um,", "LenaMarsh", "Lena_Marsh",
    "the", "boats.", "Rope", "Walk", "it’s", "L3na", "Märsh", "Lena&Marsh", "&amp;", "%4Dar", "Marshes", "I", "x", "O'Marsh", "…", "mid-Lund",
])  # fmt: skip


@settings(max_examples=300, deadline=None)
@given(words=st.lists(PIECES, max_size=8))
def test_words_that_are_passed_over_at_once_would_not_be_found(words: list[str]) -> None:
    """Every window of one, two or three words looked at, and every run of single letters, is what `places` does quicker."""
    found: list[tuple[int, int]] = []
    for size in (1, 2, 3):
        for at in range(len(words) - size + 1):
            inside = any(at <= first and last < at + size for first, last in found)
            if not inside and MATCHER.first_hit(" ".join(words[at : at + size])):
                found.append((at, at + size - 1))
    quick = set(MATCHER.places(words))
    assert set(found) <= quick
    for first, last in quick - set(found):
        assert last - first > 1 and all(len(re.sub(r"[\W_]+", "", w)) == 1 for w in words[first : last + 1]), "a run of single letters"
