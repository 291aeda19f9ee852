"""Spoken times → EDTF. The narrator was born in 1942 and recorded on 1 May 2024 unless a case says otherwise.

Expected values are project choices (CHECKS section 1 and this file), each EDTF checked against the `edtf` library; the
decade forms follow HeidelTime's English rules as CHECKS section 1 quotes them.
"""

import warnings
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from archive.domain.dates import bounds
from archive.domain.values import Word
from archive.errors import BadInput
from archive.rules.dates import Event, suggest_dates

with warnings.catch_warnings():
    # edtf 5.0.2: a diagnostic warning of pyparsing at import
    warnings.filterwarnings("ignore", message="warn_multiple_tokens_in_named_alternation")
    import edtf

RECORDED = date(2024, 5, 1)

# CHECKS section 1: HeidelTime's rules (commit 4ef5002) and the project choices named there.
CHECKED = [
    ("It all changed in the 1990s.", "199X"),
    ("They were gone by the 90s.", "199X"),
    ("That was the nineties for you.", "199X"),
    ("It came in the mid-90s.", "1994~/1996~"),
    ("We moved in the late seventies.", "1977~/1979~"),
    ("It shut in the early 1990s.", "1990~/1993~"),
    ("He left in nineteen ninety-one.", "1991"),
    ("The chapel was built 1850-58, they say.", "1850/1858"),
    ("It was in '68.", "1968"),
    ("That would be the mid-seventies.", "1974~/1976~"),
    ("The winter of 62–63 was the worst.", "1962-12/1963-02"),
    ("When I was twelve we got a wireless.", "1954/1955"),
    ("That was just after the war.", "1945~/1947~"),
]

# The town's own sentences. "" means: nothing is suggested.
TOLD = [
    # years in words, digits, mixed; with and without apostrophe
    ("The water came in sixty-eight.", "1968"),
    ("The water came in 68, at night.", "1968"),
    ("The water came in ‘68, at night.", "1968"),
    ("I started on the Marigold in nineteen fifty-nine.", "1959"),
    ("I started in 1959 and never left.", "1959"),
    ("I started in nineteen 59.", "1959"),
    ("I started in fifty-nine, as a lad.", "1959"),
    ("We came here in nineteen-sixty-two.", "1962"),
    ("My father came in nineteen oh eight.", "1908"),
    ("My father came in nineteen hundred and eight.", "1908"),
    ("Back in 74 when they struck.", "1974"),
    ("By seventy-four it was all over.", "1974"),
    ("It closed in the year two thousand.", "2000"),
    ("She died in two thousand and five.", "2005"),
    ("The museum asked in twenty fifteen.", "2015"),
    ("It was sixty-eight before they came back.", "1968"),
    ("Sixty-eight, that was.", "1968"),
    ("I was born in 42 on the Ropewalk.", "1942"),
    ("It was 1968's worst night.", "1968"),
    # hedges, pairs, corrections
    ("It was about 1959.", "1959~"),
    ("Around nineteen sixty, I'd say.", "1960~"),
    ("In 1959 or so.", "1959~"),
    ("It must have been 1971.", "1971?"),
    ("Maybe 1971, I don't know.", "1971?"),
    ("It was 1959 or 1960.", "[1959, 1960]"),
    ("Was it '58 or was it '59?", "[1958, 1959]"),
    ("In sixty-seven, no, sixty-eight it was.", "1968"),
    ("In 67, no, wait, 68.", "1968"),
    # decades and parts of them
    ("It was the sixties, mind.", "196X"),
    ("In the '60s nobody had a car.", "196X"),
    ("In the nineteen-thirties my mother was in service.", "193X"),
    ("At the end of the sixties they pulled it down.", "1967~/1969~"),
    ("In the early to mid fifties.", "1950~/1953~"),
    ("At the beginning of the 1950s.", "1950~/1953~"),
    ("It was early 1974.", "1974-01~/1974-04~"),
    ("Towards the end of sixty-two.", "1962-09~/1962-12~"),
    # seasons, months, days
    ("The winter of sixty-two, you could walk across.", "1962-12/1963-02"),
    ("The winter of sixty-two, sixty-three.", "1962-12/1963-02"),
    ("The winter of sixty-two to sixty-three.", "1962-12/1963-02"),
    ("In the summer of '74.", "1974-22"),
    ("In spring 1961 they dredged it.", "1961-21"),
    ("The autumn of fifty-six.", "1956-23"),
    ("In January 1968.", "1968-01"),
    ("One night in January sixty-eight.", "1968-01"),
    ("It was the fourteenth of January 1968.", "1968-01-14"),
    ("January the fourteenth, 1968.", "1968-01-14"),
    ("On January 14 1968 it came.", "1968-01-14"),
    ("On the 9th of May '87.", "1987-05-09"),
    ("We married at Christmas 1967.", "1967-12"),
    # ages
    ("When I was ten we moved.", "1952/1953"),
    ("I was only twelve.", "1954/1955"),
    ("I was fourteen when I went into the cannery.", "1956/1957"),
    ("I was nine or ten.", "1951/1953"),
    ("I'd have been about nine.", "1951~/1952~"),
    ("At the age of ten I could row.", "1952/1953"),
    ("I was twenty-one years old.", "1963/1964"),
    ("I must have been eleven then.", "1953/1954"),
    ("On my tenth birthday.", "1952"),
    ("Until I was fifteen.", "../1957"),
    # events of the calendar
    ("That was the night of the flood.", "1968-01-14/1968-01-16"),
    ("My dad was out in the strike.", "1974-03/1974-06"),
    ("When the cannery shut we all went.", "1983-10"),
    ("I was there when the bridge opened.", "1987-05-09"),
    ("The last crossing, that was.", "1987-05-09"),
    ("The year the bridge opened.", "1987"),
    ("The year after the flood.", "1969"),
    ("It was the year before the flood.", "1967"),
    ("The winter before the flood.", "1966-12/1967-02"),
    ("The summer after the flood.", "1968-22"),
    ("The summer before the bridge opened.", "1986-22"),
    ("Two years after the strike.", "1976"),
    ("About ten years before the bridge opened.", "1977~"),
    ("The week after the strike they came.", "1974-07~"),
    ("In the long winter the chain froze.", "1962-12/1963-03"),
    ("In the flood of fifty-three.", "1953"),
    ("In the strike of seventy-four.", "1974-03/1974-06"),
    # from … to …, until, since
    ("From sixty-two to sixty-four.", "1962/1964"),
    ("From 1959 till 1974 I was deckhand.", "1959/1974"),
    ("Between 1962 and 1964.", "1962/1964"),
    ("From the strike until the bridge opened.", "1974-03/1987-05-09"),
    ("From when I was ten till I was twelve.", "1952/1954"),
    ("Until the cannery shut.", "../1983-10"),
    ("I have lived here since 1970.", "1970/.."),
    ("Not until 1974 did they pay.", "../1974"),
]

# Numbers that are no dates (and words that look like some).
NONE = [
    "It cost nineteen and six.",
    "We paid nineteen eleven for it.",
    "It was £19.59 in the shop.",
    "It was £1959 in all.",
    "Two thousand pounds they wanted.",
    "There were two thousand and five people.",
    "There were 1500 men.",
    "All 1968 of them.",
    "1,950 feet of chain.",
    "We lived at 68 Net Row.",
    "In 62 Net Row there was a lodger.",
    "Number 74 was ours.",
    "The 62 bus stopped there.",
    "It took us in 68 minutes.",
    "In sixty-eight minutes we were over.",
    "Sixty-two houses they took.",
    "About sixty men stood there.",
    "By seventy men or more.",
    "In twenty minutes.",
    "In thirty years I never saw it.",
    "In fifty-odd years.",
    "One in fifty had work.",
    "It was ten past six.",
    "Half past six in the morning.",
    "At nineteen thirty the whistle went.",
    "The whistle went at 1930 hours.",
    "He was ten.",
    "She was twelve when they moved.",
    "My brother, aged ten, was with me and he fell in.",
    "She went into service at the age of fourteen.",
    "She was in her sixties.",
    "A man in his late fifties.",
    "I was ten minutes late.",
    "I was three doors down.",
    "I was ninety per cent sure.",
    "We were ten in two rooms.",
    "I was one of twelve.",
    "Sixty-two degrees in the boiler room.",
    "That was not 1974.",
    "It wasn't in 1974.",
    "They may march on Friday.",
    "Twenty twenty vision she had.",
    "A hundred and fifty links.",
    "Between forty and fifty men.",
    "From six to ten every night.",
    "On May 20 we went.",
    "It will be closed until 2039.",
    "A flood of tears.",
    "Four miles and a half.",
    "Eighteen to twenty of us.",
]

# A second set, written after the rules were first made (so it says less about them); several times in a sentence.
MORE_TOLD = [
    ("In sixty-eight, in January. But I have to begin before that.", ["1968-01"]),
    ("Nineteen seventy-four, from March to June.", ["1974-03/1974-06"]),
    ("In 1968 in the night.", ["1968"]),
    ("In 1968, in a boat.", ["1968"]),
    ("It froze in sixty-two, in the winter.", ["1962", "1962-12/1963-02"]),
    ("The 1974 strike was the worst of it.", ["1974"]),
    ("It'd be 1961, '62, something like that.", ["1961/1962"]),
    ("'61, '62, something like that.", ["1961/1962"]),
    ("It was in the late 50s, early 60s.", ["1957~/1959~", "1960~/1963~"]),
    ("From about 1950 onwards.", ["1950~/.."]),
    ("Up to 1987 we had the ferry.", ["../1987"]),
    ("By the end of 1968 it was empty.", ["1968-09~/1968-12~"]),
    ("Over the winter of 1962-63 it froze.", ["1962-12/1963-02"]),
    ("1962 into 1963 it was.", ["1962/1963"]),
    ("In the winter of 1962 and 63.", ["1962-12/1963-02"]),
    ("I left school at fifteen.", ["1957/1958"]),
    ("I went into the cannery at fourteen.", ["1956/1957"]),
    ("I was fifteen, sixteen.", ["1957/1959"]),
    ("When I was about seven or eight.", ["1949~/1951~"]),
    ("When I was in my twenties.", ["1962/1972"]),
    ("I'd just turned eighteen.", ["1960/1961"]),
    ("I was only a girl of nine.", ["1951/1952"]),
    ("I was a lad of twelve then.", ["1954/1955"]),
    ("As a ten-year-old I carried the lamps.", ["1952/1953"]),
    ("When I was five years of age.", ["1947/1948"]),
    ("I was nine the night of the flood.", ["1951/1952", "1968-01-14/1968-01-16"]),
    ("Thirty years ago.", ["1994"]),
    ("That same year, 1968, they came.", ["1968"]),
    ("I was born on the 10th of May 1942.", ["1942-05-10"]),
    ("I was born in March 1938 on Net Row.", ["1938-03"]),
    ("The ferry stopped in 1987.", ["1987"]),
    ("He died in '86.", ["1986"]),
    ("My mother died when I was six.", ["1948/1949"]),
    ("In nineteen seventy four.", ["1974"]),
    ("The January of 68.", ["1968-01"]),
    ("In the spring of the strike.", ["1974-21"]),
    ("It was sixty-seven or sixty-eight.", ["[1967, 1968]"]),
    ("It was 67, 68.", ["1967/1968"]),
    ("The end of March 1974.", ["1974-03"]),
    ("In the early part of 1974.", ["1974-01~/1974-04~"]),
    ("The middle of the seventies.", ["1974~/1976~"]),
    ("The hungry thirties.", ["193X"]),
    ("The twenties and thirties.", ["192X", "193X"]),
    ("During the fifties and sixties.", ["195X", "196X"]),
    ("In the fifties, sixties.", ["195X", "196X"]),
    ("All through the sixties.", ["196X"]),
    ("Through the sixties and into the seventies.", ["196X", "197X"]),
    ("I was there from 59 to 74.", ["1959/1974"]),
    ("From 1959 to when the bridge opened.", ["1959/1987-05-09"]),
    ("1959 to 1974.", ["1959/1974"]),
    ("Between the flood and the strike.", ["1968-01-14/1974-06"]),
    ("After the flood we moved.", ["1968-01-16/.."]),
    ("After the strike nobody spoke.", ["1974-06/.."]),
    ("Before the bridge opened you had to cross.", ["../1987-05-09"]),
    ("Since the flood I've never slept.", ["1968-01-14/.."]),
    ("A year after the flood.", ["1969"]),
    ("The day after the flood.", ["1968-01-17"]),
    ("The morning after the flood.", ["1968-01-17"]),
    ("The winter after the strike.", ["1974-12/1975-02"]),
    ("Two winters before the flood.", ["1965-12/1966-02"]),
    ("The flood year.", ["1968"]),
    ("The year of the flood.", ["1968"]),
    ("In the year of the strike.", ["1974"]),
    ("It was the summer of nineteen seventy-six.", ["1976-22"]),
    ("The hot summer of 76.", ["1976-22"]),
    ("That winter, sixty-two.", ["1962-12/1963-02"]),
    ("The winter of '62.", ["1962-12/1963-02"]),
    ("Winter of 1962 to 1963.", ["1962-12/1963-02"]),
    ("Winter, 1962.", ["1962-12/1963-02"]),
    ("Since sixty-two I've lived here.", ["1962/.."]),
    ("Since I was ten I've lived here.", ["1952/.."]),
    ("At seventy-four I still row.", ["2016/2017"]),
    ("She was built in 1897.", ["1897"]),
    ("She was built in eighteen ninety-seven.", ["1897"]),
    ("In forty-two I was born.", ["1942"]),
    ("It's 2024 now.", ["2024"]),
    ("Twenty-twenty-one it was.", ["2021"]),
    ("Twenty twenty-one, during the pandemic.", ["2021"]),
    ("In 1968, sixty-two houses were lost.", ["1968"]),
    ("In '68 we had water up to here, four foot of it.", ["1968"]),
    ("In 1968 to be exact.", ["1968"]),
    ("In the 1960's they built it.", ["196X"]),
    ("The nineteen-fifties.", ["195X"]),
    ("The 1950s and 60s.", ["195X", "196X"]),
    ("The fifties.", ["195X"]),
    ("She was in her eighties in the nineties.", ["199X"]),
    ("They were the best years, the sixties.", ["196X"]),
    ("I know it was 1974 because I was pregnant.", ["1974"]),
    ("No, it was 1975.", ["1975"]),
    ("I don't think it was 1974, more like 1975.", ["1975"]),
    ("Was it 1974?", ["1974?"]),
    ("1974, was it?", ["1974?"]),
    ("It could have been 1974.", ["1974?"]),
    ("I think it was 1974.", ["1974?"]),
    ("Sometime in the seventies.", ["197X"]),
    ("In the first week of April 1974.", ["1974-04"]),
    ("Good Friday 1974.", ["1974"]),
    ("Whitsun 1961.", ["1961"]),
    ("New Year's Eve 1962.", ["1962-12-31"]),
    ("Boxing Day 1962.", ["1962-12-26"]),
    ("Christmas Eve of 62.", ["1962-12-24"]),
    ("In 68 Maud was born.", ["1968"]),
    ("In 74, 62 men stood there.", ["1974"]),
    ("Nineteen of them in 1974.", ["1974"]),
    ("My sister was ten and I was twelve.", ["1954/1955"]),
    ("I was ten and she was twelve.", ["1952/1953"]),
    ("When I was ten, he was twelve.", ["1952/1953"]),
    ("When she was ten I was twelve.", ["1954/1955"]),
    ("He said I was ten when he left.", ["1952/1953"]),
    ("I was five minutes away in 1974.", ["1974"]),
    ("On March 4 1974.", ["1974-03-04"]),
    ("In nineteen-seventy-four's strike.", ["1974"]),
    ("The '74 strike.", ["1974"]),
    ("The strike in '74.", ["1974-03/1974-06"]),
    ("The strike of 1974 and the flood of 1968.", ["1974-03/1974-06", "1968-01-14/1968-01-16"]),
    ("The spring of sixty-two.", ["1962-21"]),
    ("The fall of '74.", ["1974-23"]),
    ("Autumn sixty-one, it was.", ["1961-23"]),
    ("In winter 1962.", ["1962-12/1963-02"]),
    ("Since the winter of 62.", ["1962-12/.."]),
    ("Until the summer of '74.", ["../1974-22"]),
    ("From the summer of 61 to the winter of 62.", ["1961-22/1963-02"]),
    ("Between the summer of '61 and May '62.", ["1961-22/1962-05"]),
    ("In the fifties and the sixties and the seventies.", ["195X", "196X", "197X"]),
    ("In nineteen fifty, fifty-one.", ["1950/1951"]),
    ("In nineteen fifty or fifty-one.", ["[1950, 1951]"]),
    ("In nineteen fifty to fifty-one.", ["1950/1951"]),
    ("In sixty-one, or was it sixty-two?", ["[1961, 1962]"]),
    ("It was either 1961 or 1962.", ["[1961, 1962]"]),
    ("Just before 1961.", ["1960~"]),
    ("Before 1961 we had nothing.", ["../1961"]),
    ("After 1961 it went quiet.", ["1961/.."]),
    ("Any time after 1961.", ["1961/.."]),
    ("It'd be the back end of 61.", ["1961-09~/1961-12~"]),
    ("Early sixties, it was.", ["1960~/1963~"]),
    ("Late sixties.", ["1967~/1969~"]),
    ("Mid-sixties, I'd say.", ["1964~/1966~"]),
    ("By the eighties they'd gone.", ["198X"]),
    ("In the eighteen-nineties.", ["189X"]),
    ("In '05 my gran came.", ["2005"]),
    ("In oh-five my gran came.", ["2005"]),
    ("In two thousand eight.", ["2008"]),
    ("The class of 1962.", ["1962"]),
    ("The 1962 winter.", ["1962"]),
    ("Nineteen-sixty eight.", ["1968"]),
    ("19 68 it was.", ["1968"]),
    ("Nineteen-eighty-seven.", ["1987"]),
    ("1987 was the year.", ["1987"]),
    ("That was 1987's doing.", ["1987"]),
    ("In 1987/88.", ["1987/1988"]),
    ("From 1987-91.", ["1987/1991"]),
    ("1960s-70s.", ["196X", "197X"]),
    ("the sixties-seventies.", ["196X", "197X"]),
    ("Sixty-eight was the year of the flood.", ["1968"]),
    ("The year was sixty-eight.", ["1968"]),
    ("The year sixty-eight.", ["1968"]),
    ("Year of our Lord 1968.", ["1968"]),
    ("The night of January the fourteenth, sixty-eight.", ["1968-01-14"]),
    ("Saturday the 9th of May 1987.", ["1987-05-09"]),
    ("Saturday, May 9th, 1987.", ["1987-05-09"]),
]

MORE_NONE = [
    "In twenty years' time it'll be gone.",
    "For fifty years I did it.",
    "He was fifty-nine.",
    "We were sixty-two on the roll.",
    "A sixty-two inch chain.",
    "In 68 of the houses there was mud.",
    "In 62 of them.",
    "In 40 foot of water.",
    "By 60 votes to 40.",
    "It was 62 to 58 against.",
    "From 60 to 75 shillings a week.",
    "Between 1500 and 2000 people.",
    "Since sixty of us were there.",
    "In seventy different ways.",
    "In sixty-two pieces.",
    "About 1500 we had our tea.",
    "It was sixty-eight of us.",
    "It was seventy that day in the engine room.",
    "I had fifty-nine, sixty tins to do.",
    "It weighed nineteen hundredweight.",
    "The nineteen men.",
    "Eighteen or nineteen.",
    "Eighteen, nineteen I was.",
    "Fourteen ninety-nine it cost.",
    "Nineteen ninety-nine it cost.",
    "It was on special at nineteen ninety-nine.",
    "Twelve fifty a week.",
    "It cost nineteen fifty.",
    "At twenty fifteen sharp.",
    "Twenty ten was the last boat.",
    "The twenty-ten boat.",
    "She left at twenty thirty.",
    "Two thousand.",
    "Two thousand links.",
    "Over two thousand of them.",
    "I was ten times worse off.",
    "I was first, she was second.",
    "I was eighty yards off.",
    "I was fifty feet up.",
    "I was twelve hours on shift.",
    "I was seven months gone.",
    "I was six weeks in hospital.",
    "They told me at sixteen hundred hours.",
    "When I was at number ten.",
    "I was on the 62.",
    "I was in number 62.",
    "I was born in 62 Net Row.",
    "I was fourteen pounds when I was born.",
    "May was a good month.",
    "We may sixty of us go.",
    "March to the slip, sixty of us.",
    "On 4 March.",
    "The spring of sixty-two men.",
    "The fall of sixty-two men.",
    "The summer of our lives.",
    "In my sixties now.",
    "Eighteen hundred men.",
    "Reg number 1962.",
    "January came.",
    "The fourteenth.",
    "I'm eighty-two now.",
    "The Marigold weighed sixty-two tons.",
    "Ninety years she ran.",
    "Number 62, Net Row.",
    "We were at 74 Ropewalk.",
    "The chain had 1,974 links.",
    "Forty-two of us in the shed.",
    "My pay was 1968 shillings.",
    "In 2030 they'll close it.",
    "We got nineteen pounds ten.",
    "I was ten stone.",
    "I was ten foot away.",
    "I was twelve weeks out of work.",
    "It was never 1974.",
    "Room 1974.",
    "He lived to ninety.",
    "She's eighty-five.",
    "From nine to five.",
    "Page 62.",
    "The 9:30 ferry.",
    "The six o'clock ferry.",
    "At quarter past seven.",
    "The half past ten.",
    "It was eleven below.",
    "On the 62.",
    "On the first of the month.",
]


def dates_in(text, said, calendar, born="1942", recorded=RECORDED):  # type: ignore[no-untyped-def]
    return suggest_dates(said(text), born, recorded, calendar)


@pytest.mark.parametrize(("text", "wanted"), CHECKED + TOLD)
def test_a_told_time(text, wanted, said, calendar) -> None:  # type: ignore[no-untyped-def]
    found = dates_in(text, said, calendar)
    assert [s.value for s in found] == [wanted]
    assert edtf.is_valid_edtf(wanted)
    assert found[0].evidence.strip(".,") in text
    words = said(text)
    assert found[0].start_ms == words[found[0].first_word].start_ms
    assert found[0].end_ms == words[found[0].last_word].end_ms


@pytest.mark.parametrize(("text", "wanted"), MORE_TOLD)
def test_times_in_a_sentence(text, wanted, said, calendar) -> None:  # type: ignore[no-untyped-def]
    assert [s.value for s in dates_in(text, said, calendar)] == wanted
    assert all(edtf.is_valid_edtf(w) for w in wanted)


@pytest.mark.parametrize("text", NONE + MORE_NONE)
def test_a_number_that_is_no_date(text, said, calendar) -> None:  # type: ignore[no-untyped-def]
    assert [s.value for s in dates_in(text, said, calendar)] == []


def test_birth_dates_and_ages(said, calendar) -> None:  # type: ignore[no-untyped-def]
    """CHECKS section 1: born 1942-05-10, twelve → 1954-05-10/1955-05-09; nothing without a birth date."""
    exact = dates_in("When I was twelve.", said, calendar, born="1942-05-10")
    assert [s.value for s in exact] == ["1954-05-10/1955-05-09"]
    assert exact[0].reckoning == "born 1942-05-10, aged 12 → 1954-05-10/1955-05-09"
    assert [s.value for s in dates_in("On my tenth birthday.", said, calendar, born="1942-05-10")] == ["1952-05-10"]
    assert dates_in("When I was twelve.", said, calendar, born=None) == []
    assert dates_in("When I was ninety.", said, calendar) == []  # not yet, when it was recorded
    with pytest.raises(BadInput):
        dates_in("When I was twelve.", said, calendar, born="long ago")


def test_no_year_after_the_recording_and_none_before_the_birth_where_another_fits(said, calendar) -> None:  # type: ignore[no-untyped-def]
    """CHECKS section 1: "in '68", born 1942, recorded 2024 → 1968; the traps read it as 2068."""
    [told] = dates_in("in '68", said, calendar)
    assert told.value == "1968" and told.decades == (1960,) and "born 1942, recorded 2024" in told.reckoning
    assert [s.value for s in dates_in("in '24", said, calendar)] == ["2024"]
    assert [s.value for s in dates_in("in '25", said, calendar)] == ["1925"]
    assert [s.value for s in dates_in("in '15", said, calendar, born="2011")] == ["2015"]
    assert [s.value for s in dates_in("in '68", said, calendar, born=None)] == ["1968"]
    assert [s.value for s in dates_in("in '80", said, calendar, recorded=date(1975, 1, 1))] == ["1880"]


def test_a_recording_without_its_date(said, calendar) -> None:  # type: ignore[no-untyped-def]
    """Nothing is reckoned from a day that nobody wrote down."""
    [told] = dates_in("in '68", said, calendar, recorded=date.max)
    assert told.value == "1968" and "9999" not in told.reckoning
    assert dates_in("thirty years ago", said, calendar, recorded=date.max) == []


def test_an_event_whose_names_hold_a_time_word(said) -> None:  # type: ignore[no-untyped-def]
    """A sheet may list "the year the bridge opened" among an event's names: spoken, it still is the year."""
    opening = Event(
        "the bridge opening",
        "1987-05-09",
        ("when the bridge opened", "the year the bridge opened", "until the bridge opened"),
    )
    for text, wanted in (
        ("The year the bridge opened.", "1987"),
        ("Until the bridge opened.", "../1987-05-09"),
        ("The bridge opened.", "1987-05-09"),
    ):
        assert [s.value for s in suggest_dates(said(text), "1942", RECORDED, [opening])] == [wanted]


@pytest.mark.parametrize("short", range(100))
@pytest.mark.parametrize("born", [None, "1929", "1942", "2011"])
def test_two_digits_never_lie_in_the_future(short, born, said) -> None:  # type: ignore[no-untyped-def]
    for told in suggest_dates(said(f"in '{short:02d}"), born, RECORDED):
        upper = bounds(told.value)[1]
        assert upper is not None and upper.year <= RECORDED.year


def test_after_the_war_is_only_offered(said, calendar) -> None:  # type: ignore[no-untyped-def]
    [offered] = dates_in("just after the war", said, calendar)
    assert offered.decades == () and offered.sure <= 0.2


def test_several_times_in_one_passage(said, calendar) -> None:  # type: ignore[no-untyped-def]
    text = (
        "I was born in 1942, and when I was ten we moved to Net Row. Then the flood came, in January sixty-eight, and "
        "the year after the flood they emptied it. Sixty-two houses. From 1970 to 1974 we were in the new houses."
    )
    found = dates_in(text, said, calendar)
    assert [s.value for s in found] == ["1942", "1952/1953", "1968-01-14/1968-01-16", "1968-01", "1969", "1970/1974"]
    assert all(a.last_word < b.first_word for a, b in zip(found, found[1:], strict=False))


CALENDAR = (Event("the Sallow flood", "1968-01-14/1968-01-16", ("the flood",)), Event("the bridge opening", "1987-05-09", ("the bridge opened",)))


@given(st.lists(st.sampled_from(
    ["in", "the", "of", "to", "and", "from", "between", "until", "since", "when", "I", "was", "ten", "nineteen", "sixty-eight", "'68", "1959", "winter", "January", "flood", "year", "after", "before", "no,", "or,", "twenty", "oh", "hundred", "two", "thousand", "early", "mid-seventies", "aged", "14th", "May", "62-63", "£5", "-", "—", ".", "the,", "war", "my", "birthday", "bridge", "opened",
     "later", "ago", "last", "this", "next", "following", "born", "she", "brother", "a", "couple", "years", "months", "spring,", "that", "now", "it's",
     "today", "I", "think", "about", "maybe", "sorry,", "wasn't", "in the army", "started", "school", "teens", "or", "was,", "it", "71,", "72,"]
), max_size=16))  # fmt: skip
def test_whatever_is_said_gives_valid_dates_without_overlaps(texts: list[str]) -> None:
    words = [Word(t, n * 300, n * 300 + 250) for n, t in enumerate(texts)]
    found = suggest_dates(words, "1942-05-10", RECORDED, CALENDAR)
    for told in found:
        assert edtf.is_valid_edtf(told.value)
        lower, _ = bounds(told.value)
        assert lower is None or lower <= RECORDED
        assert 0 <= told.first_word <= told.last_word < len(words) and 0 < told.sure <= 1
    assert all(a.last_word <= b.first_word for a, b in zip(found, found[1:], strict=False))
