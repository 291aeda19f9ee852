"""How people are called and what then stays hidden, for SCENARIO's people. Rules: DESIGN §4, 5 and §5 (Attribution)."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive.domain.attribution import WITHHELD, PersonName, attribution_line, hidden_names, shown_names
from archive.domain.values import Attribution, Scan

MAUD = [PersonName("Maud Ellery", "full"), PersonName("Maud", "first"), PersonName("Ellery", "family")]
DOT = [PersonName("Dot Fenn", "full"), PersonName("Dot", "first"), PersonName("Fenn", "family", Scan.AS_NAME)]
AGNES = [PersonName("Agnes Coyle", "full"), PersonName("Agnes", "first"), PersonName("Coyle", "family")]
IRENA = [PersonName("Irena Volk", "full"), PersonName("Ruta", "pseudonym"), PersonName("Erena", "heard_as")]
LENA = [PersonName("Lena Marsh", "full"), PersonName("Marsh", "family", Scan.AS_NAME)]
PETER = [PersonName("Peter Lund", "full"), PersonName("Pete", "nick"), PersonName("the", "heard_as", Scan.NEVER)]


@pytest.mark.parametrize(
    ("names", "wish", "line"),
    [
        (MAUD, Attribution.FULL, "Maud Ellery"),
        (DOT, Attribution.FIRST, "Dot"),
        (AGNES, Attribution.INITIALS, "A. C."),
        ([*AGNES, PersonName("A. M. C.", "initials")], Attribution.INITIALS, "A. M. C."),
        (IRENA, Attribution.PSEUDONYM, "“Ruta”"),
        (LENA, Attribution.UNNAMED, WITHHELD),
        (MAUD, Attribution.PSEUDONYM, WITHHELD),
        (LENA, Attribution.FIRST, WITHHELD),  # never guessed from the full name
        ([], Attribution.FULL, WITHHELD),
        ([PersonName(" ", "full")], Attribution.FULL, WITHHELD),
    ],
)
def test_the_line_under_a_quote(names: list[PersonName], wish: Attribution, line: str) -> None:
    """Each kind of attribution, and "Name withheld" wherever the record does not hold what is wished."""
    assert attribution_line(names, wish) == line


def texts(names: list[PersonName], wish: Attribution) -> set[str]:
    """The hidden texts alone."""
    return {text for text, _ in hidden_names(names, wish)}


def test_what_stays_hidden() -> None:
    """Each wish shows only its own kind of name."""
    assert texts(MAUD, Attribution.FULL) == set()
    assert texts(DOT, Attribution.FIRST) == {"Dot Fenn", "Fenn"}
    assert texts(AGNES, Attribution.INITIALS) == {"Agnes Coyle", "Agnes", "Coyle"}
    assert texts(IRENA, Attribution.PSEUDONYM) == {"Irena Volk", "Irena", "Volk", "Erena"}
    assert texts(IRENA, Attribution.UNNAMED) == {"Irena Volk", "Irena", "Volk", "Erena", "Ruta"}
    assert texts(IRENA, Attribution.FULL) == {"Ruta"}
    assert texts(PETER, Attribution.UNNAMED) == {"Peter Lund", "Peter", "Lund", "Pete"}


def test_how_the_scan_takes_them() -> None:
    """As the record says; the parts of a full name that it does not spell out only where written as names."""
    assert hidden_names(LENA, Attribution.UNNAMED) == {
        ("Lena Marsh", Scan.ALWAYS),
        ("Marsh", Scan.AS_NAME),
        ("Lena", Scan.AS_NAME),
    }
    twice = [PersonName("Coy", "nick", Scan.AS_NAME), PersonName("coy", "family", Scan.ALWAYS)]
    assert hidden_names(twice, Attribution.UNNAMED) == {("coy", Scan.ALWAYS)}  # the stricter of two


def test_a_shown_name_is_not_hidden_under_another_kind() -> None:
    """Dot is her first name and her nickname; composed and decomposed letters are one name."""
    assert "Dot" not in texts([*DOT, PersonName("Dot", "nick")], Attribution.FIRST)
    ines = [PersonName("Inés", "first"), PersonName(unicodedata.normalize("NFD", "Inés"), "nick")]
    assert texts(ines, Attribution.FIRST) == set()


names = st.lists(
    st.builds(
        PersonName,
        st.sampled_from(["Maud", "Ellery", "Maud Ellery", "M. E.", "Mo", "Ruta"]),
        st.sampled_from(["full", "first", "family", "nick", "initials", "heard_as", "pseudonym"]),
        st.sampled_from(Scan),
    ),
    max_size=6,
)


@given(names, st.sampled_from(Attribution))
def test_shown_and_hidden_never_meet_and_leave_nothing_out(known: list[PersonName], wish: Attribution) -> None:
    """Every name that the scan looks for is either shown or hidden; the line under a quote is never hidden."""
    shown = {text.casefold() for text in shown_names(known, wish)}
    hidden = {text.casefold() for text in texts(known, wish)}
    assert not shown & hidden
    spared = {n.text.casefold() for n in known if n.scan == Scan.NEVER}
    left_out = {n.text.casefold() for n in known} - shown - hidden - spared
    assert not left_out
    assert attribution_line(known, wish).strip("“”").casefold() not in hidden
