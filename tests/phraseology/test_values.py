"""Values read and said: the published rows of tests/data/trade, and what holds for all values."""

import json
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from readback.errors import InputError
from readback.phraseology import spelling
from readback.phraseology.values import (
    AUTHORITIES,
    DIGITS,
    KINDS,
    LETTERS,
    read_number,
    read_value,
    same_value,
    speak_value,
)
from readback.phraseology.words import canonical_words, homophones

TRADE = Path(__file__).parents[1] / "data" / "trade"
# Each row names its own source and jurisdiction.
NUMBERS = json.loads((TRADE / "spoken_numbers.json").read_text(encoding="utf-8"))
SPELLING = json.loads((TRADE / "spelling.json").read_text(encoding="utf-8"))
SPOKEN = [(row, spoken) for row in NUMBERS for spoken in row["spoken"]]

# Whose forms a row of another jurisdiction is among.
AUTHORITY = {"australia": "faa", "kazakhstan": "icao", "icao 25 kHz only": "icao"}
# Words that name a value's kind stand before it and are no part of it.
NAMES = {
    *("runway", "taxiway", "heading", "squawk", "qnh", "altimeter", "flight", "level"),
    *("time", "wind", "visibility", "rvr", "ground"),
}
# Said in part, each is read as far as it was said.
READ_IN_PART = {
    "two zero": "20",
    "four three": "43",
    "point seven": ".7",
    "ground point seven": ".7",
    "one one eight decimal zero two": "118.020",
    "one one eight decimal zero seven": "118.070",
    "one three five point two seven": "135.270",
}


def canonical(text: str) -> list[str]:
    words = (word for said in text.split() for word in canonical_words(said))
    return [homophones().get(word, word) for word in words]


def read_written(row: dict) -> tuple[str, str]:
    """Give a row's kind and what `read_value` should make of it."""
    kind = row["kind"].replace("plain ", "").replace(" ", "_")
    value = next(part for part in row["written"].split() if any(map(str.isdigit, part)))
    if kind == "runway":
        value = value.zfill(3 if value[-1] in "LRC" else 2)
    elif kind == "frequency":
        value = value.ljust(7, "0")
    elif row["written"] == "18 knots":
        value = "/18"
    return kind, value


def row_id(item: object) -> str | None:
    return f"{item['jurisdiction']}-{item['written']}" if isinstance(item, dict) else None


def test_the_published_rows_are_all_here():
    assert (len(NUMBERS), len(SPOKEN)) == (137, 162)
    assert (len(SPELLING["letters"]), len(SPELLING["digits"])) == (26, 14)


@pytest.mark.parametrize(("row", "spoken"), SPOKEN, ids=row_id)
def test_spoken_form_reads_as_its_source_writes_it(row, spoken):
    kind, value = read_written(row)

    read = read_value(kind, canonical(spoken))

    assert read == READ_IN_PART.get(spoken, value), row["source"]
    assert same_value(kind, read, value), row["source"]


@pytest.mark.parametrize(("row", "spoken"), SPOKEN, ids=row_id)
def test_value_is_said_as_its_source_says_it(row, spoken):
    kind, value = read_written(row)
    words = canonical(spoken)
    while words[0] in NAMES:
        words = words[1:]

    forms = speak_value(kind, value, AUTHORITY.get(row["jurisdiction"], row["jurisdiction"]))

    assert " ".join(words) in forms, row["source"]


@pytest.mark.parametrize("letter", SPELLING["letters"])
def test_letter_is_its_published_word_both_ways(letter):
    row = SPELLING["letters"][letter]  # Annex 10 5.2.1.3, AIM 4-2-7
    words = [row["word"], *row["other_spellings"]]

    assert {read_value("letter", canonical(word)) for word in words} == {letter.upper()}
    assert spelling.LETTER_WORDS[letter.upper()] in words
    assert speak_value("letter", letter.upper()) == tuple(canonical(row["word"]))


@pytest.mark.parametrize("digit", [d for d in SPELLING["digits"] if d.isdecimal()])
def test_digit_is_its_published_word_both_ways(digit):
    row = SPELLING["digits"][digit]  # Annex 10 5.2.1.4.3.1, CAP 413 ed. 20 Table 2
    words = [row["word"], *row["other_spellings"]]
    if " " not in row["icao_pronunciation"]:
        words.append(row["icao_pronunciation"])

    assert {read_number(canonical(word)) for word in words} == {digit}
    assert speak_value("number", digit) == (row["word"],)


@pytest.mark.parametrize("name", [d for d in SPELLING["digits"] if not d.isdecimal()])
def test_other_number_word_has_one_token(name):
    row = SPELLING["digits"][name]  # Annex 10 5.2.1.4.3.1, AIM 4-2-8 e

    assert {*map(tuple, map(canonical, [row["word"], *row["other_spellings"]]))} == {(name,)}


def test_no_variant_is_itself_a_token():
    tokens = {*LETTERS, *DIGITS, "decimal", "thousand", "centre", "metres"}

    assert {canonical_words(token) for token in tokens} == {(token,) for token in tokens}
    assert not tokens & homophones().keys()


@pytest.mark.parametrize(
    ("words", "number"),
    [
        # FAA AIM 4-2-4 a5, 7110.65P 2-4-20; Annex 10 5.2.1.4.1.2
        ("four fifty two", "452"),
        ("ten zero four", "1004"),
        ("thirty fifteen", "3015"),
        ("three thousand four hundred", "3400"),
        ("seventeen thousand nine hundred", "17900"),
        # common practice, no source
        ("zero nine hundred", "0900"),
        ("twelve hundred", "1200"),
        ("two thousand five", "2005"),
        ("one hundred twenty five", "125"),
        ("two hundred thousand", "200000"),
        ("twenty zero five", "2005"),
        ("double two one", "221"),
        ("triple seven", "777"),
    ],
)
def test_number_reads_in_spoken_order(words, number):
    assert read_number(words.split()) == number


@pytest.mark.parametrize(
    "words",
    [
        "",
        "four alfa",
        "hundred",
        "thousand two",
        "one hundred two hundred",
        "one thousand two thousand",
        "one thousand twelve hundred",
        "one hundred two zero zero",
        "double",
        "double twenty",
        "one triple",
    ],
)
def test_words_that_are_no_number_are_none(words):
    assert read_number(words.split()) is None


# The first value of each is the sheet's rule or the shape a chart gives it: 7110.65 2-4-3, 2-4-17,
# 3-10-9; AIM 4-3-18 d3; Annex 10 5.2.1.4.1. Stands and engines: common practice, no source.
@pytest.mark.parametrize(
    ("kind", "words", "value"),
    [
        ("runway", "two seven centre", "27C"),
        ("runway", "nine", "09"),
        ("runway", "thirty three left", "33L"),
        ("taxiway", "alfa alfa", "AA"),
        ("taxiway", "one three bravo", "13B"),
        ("holding_point", "holding point charlie five", "C5"),
        ("route", "alfa bravo charlie one", "A B C1"),
        ("route", "taxiways alfa and then bravo one two", "A B12"),
        ("stand", "two four left", "24L"),
        ("stand", "alfa one two", "A12"),
        ("stand", "five", "5"),
        ("frequency", "one two one decimal seven", "121.700"),
        ("frequency", "one three five point two seven", "135.270"),
        ("frequency", "one one eight seven", "118.700"),
        ("frequency", "one one eight seven two five", "118.725"),
        ("frequency", "two zero decimal two", "20.2"),
        ("qnh", "one thousand", "1000"),
        ("altimeter", "two nine decimal nine two", "29.92"),
        ("squawk", "one thousand", "1000"),
        ("squawk", "two eight zero zero", "2800"),
        ("time", "one six hundred hours", "1600"),
        ("engine", "number two", "2"),
        ("engine_sequence", "number two followed by number one", "2 1"),
        ("engine_sequence", "four one two three", "4 1 2 3"),
        ("flight_level", "nine zero", "FL090"),
        ("wind", "two two zero at five", "220/05"),
        ("wind", "two two zero one five knots", "220/15"),
        ("degrees", "nine zero degrees", "90"),
    ],
)
def test_value_reads_as_a_chart_writes_it(kind, words, value):
    assert read_value(kind, words.split()) == value


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("runway", "two seven zero"),
        ("runway", "left"),
        ("runway", "two seven left right"),
        ("taxiway", "north"),
        ("route", "alfa hotel decimal"),
        ("stand", "left"),
        ("frequency", "one two one"),
        ("frequency", "one two one decimal"),
        ("frequency", "one two decimal one decimal two"),
        ("frequency", "one decimal seven"),
        ("qnh", "one zero"),
        ("altimeter", "nine nine two"),
        ("squawk", "two four zero"),
        ("time", "nine"),
        ("engine", "one two"),
        ("engine_sequence", "twelve"),
        ("flight_level", "one eight zero zero"),
        ("heading", "nine zero"),
        ("letter", "kilo lima"),
        ("wind", "knots"),
        ("wind", "two zero"),
        ("wind", "two two zero gusting three zero"),
    ],
)
def test_value_of_another_shape_is_none(kind, words):
    assert read_value(kind, words.split()) is None


@pytest.mark.parametrize(
    ("kind", "a", "b"),
    [
        ("runway", "4L", "04L"),  # 7110.65 2-4-3
        ("frequency", "135.27", "135.275"),  # 7110.65 2-4-17
        ("frequency", "121.7", "121.700"),  # Doc 9432 2.4.4
        ("frequency", ".7", "121.700"),  # 7110.65 3-10-9
        ("frequency", ".27", "121.275"),
        ("frequency", "20.2", "120.200"),  # common practice, no source
        ("time", "20", "0920"),  # Annex 10 5.2.1.4.2
        ("flight_level", "FL90", "FL090"),
        ("route", "AA B", "A A B"),
    ],
)
def test_values_one_to_a_controller_are_the_same(kind, a, b):
    assert same_value(kind, a, b)
    assert same_value(kind, b, a)


@pytest.mark.parametrize(
    ("kind", "a", "b"),
    [
        ("runway", "04L", "04R"),
        ("runway", "04", "40"),
        ("runway", "27", "27L"),
        ("frequency", "118.000", "118.005"),
        ("frequency", "118.020", "118.075"),
        ("frequency", "118.700", "121.700"),
        ("frequency", ".7", "121.750"),
        ("frequency", "20.2", "220.200"),
        ("frequency", "20.2", "121.200"),
        ("time", "20", "0921"),
        ("time", "0920", "1020"),
        ("flight_level", "FL100", "FL110"),
        ("route", "A B", "B A"),
        ("route", "A B", "A"),
        ("qnh", "1013", "1003"),
        ("squawk", "2400", "2401"),
        ("altitude", "0800", "800"),
    ],
)
def test_values_apart_to_a_controller_differ(kind, a, b):
    assert not same_value(kind, a, b)
    assert not same_value(kind, b, a)


@pytest.mark.parametrize(
    ("kind", "value", "authority", "first"),
    [
        ("runway", "04L", "icao", "zero four left"),  # Annex 10 5.2.1.4.1.1
        ("runway", "04L", "faa", "four left"),  # 7110.65 2-4-3
        ("frequency", "118.025", "icao", "one one eight decimal zero two five"),  # 9432 2.4.4
        ("frequency", "118.025", "faa", "one one eight point zero two"),  # 7110.65 2-4-17
        ("qnh", "1000", "icao", "one zero zero zero"),  # Annex 10 5.2.1.4.1.1
        ("qnh", "1000", "easa", "one thousand"),  # SERA.14035
        ("squawk", "1000", "uk", "one thousand"),  # CAP 413 Table 5
        ("squawk", "1000", "faa", "one zero zero zero"),  # 7110.65 2-4-17
        ("flight_level", "FL200", "icao", "two zero zero"),  # Annex 10 5.2.1.4.1.1
        ("flight_level", "FL200", "uk", "two hundred"),  # CAP 413 ch. 2, 1.4.2
        ("callsign_number", "452", "faa", "four fifty two"),  # AIM 4-2-4 a5
        ("callsign_number", "452", "icao", "four five two"),  # Annex 10 5.2.1.4.1.1
        ("time", "0920", "icao", "two zero"),  # Annex 10 5.2.1.4.2
        ("time", "0920", "faa", "zero nine two zero"),  # AIM 4-2-12
        ("altitude", "17900", "faa", "one seven thousand nine hundred"),  # 7110.65 2-4-17
    ],
)
def test_standard_form_stands_first(kind, value, authority, first):
    assert speak_value(kind, value, authority)[0] == first


@pytest.mark.parametrize("authority", ["easa", "uk"])
def test_five_digit_frequency_is_not_said_where_channels_are_closer(authority):
    # Doc 9432 2.4.5 allows it only where all channels are 25 kHz apart; SERA.14035 does not.
    assert speak_value("frequency", "118.025", authority) == (
        "one one eight decimal zero two five",
    )


def round_trips(kind: str, value: str) -> list[str]:
    """Give what every form of every authority reads back to."""
    return [
        read_value(kind, form.split()) or ""
        for authority in AUTHORITIES
        for form in speak_value(kind, value, authority)
    ]


RUNWAYS = [f"{number:02}{side}" for number in range(1, 37) for side in ("", "L", "R", "C")]
HEADINGS = [f"{degrees:03}" for degrees in range(1, 361)]
QNHS = [str(hpa) for hpa in range(900, 1051)]
SQUAWKS = [f"{code:04o}" for code in range(0o10000)]
LEVELS = [f"FL{level:03}" for level in range(5, 605, 5)]
ALTITUDES = [str(feet) for feet in range(100, 60_001, 50)]
CALLSIGN_NUMBERS = [str(number) for number in range(10_000)]
ALTIMETERS = [f"{inches / 100:.2f}" for inches in range(2800, 3101)]


@pytest.mark.parametrize(
    ("kind", "values"),
    [
        ("runway", RUNWAYS),
        ("heading", HEADINGS),
        ("qnh", QNHS),
        ("squawk", SQUAWKS),
        ("flight_level", LEVELS),
        ("altitude", ALTITUDES),
        ("callsign_number", CALLSIGN_NUMBERS),
        ("altimeter", ALTIMETERS),
    ],
)
def test_every_form_of_every_value_reads_back_to_it(kind, values):
    wrong = [value for value in values if {*round_trips(kind, value)} != {value}]

    assert wrong == []


def test_every_channel_reads_back_to_itself_and_to_no_neighbour():
    # The names between two 25 kHz steps are 5, 10 and 15 above the lower: Annex 10 Vol V,
    # table 4-1, from memory.
    channels = [
        f"{(118_000 + step * 25 + name) // 1000}.{(118_000 + step * 25 + name) % 1000:03}"
        for step in range(760)
        for name in (0, 5, 10, 15)
    ]
    wrong = []

    for at, channel in enumerate(channels):
        for read in round_trips("frequency", channel):
            near = channels[max(0, at - 8) : at + 9]
            wrong += [
                (channel, read, other)
                for other in near
                if other[:3] == channel[:3]
                and same_value("frequency", read, other) != (other == channel)
            ]

    assert (len(channels), channels[-1]) == (3040, "136.990")
    assert wrong == []


designators = st.from_regex(r"[A-Z]{1,2}[0-9]{0,2}", fullmatch=True)
one_letter_designators = st.from_regex(r"[A-Z][0-9]{0,2}", fullmatch=True)


@given(designators)
@example("AA")
def test_designator_reads_back_to_itself(value):
    assert {*round_trips("taxiway", value)} == {value}
    assert {*round_trips("holding_point", value)} == {value}


@given(st.lists(one_letter_designators, min_size=1, max_size=8).map(" ".join))
def test_route_reads_back_to_itself(value):
    assert {*round_trips("route", value)} == {value}


@given(st.from_regex(r"[A-Z]?[0-9]{1,3}[A-Z]?", fullmatch=True))
@example("24C")
def test_stand_reads_back_to_itself(value):
    assert {*round_trips("stand", value)} == {value}


@given(
    st.integers(1, 360),
    st.integers(0, 99),
    st.none() | st.integers(10, 99),
)
def test_wind_reads_back_to_itself(direction, speed, gust):
    value = f"{direction:03}/{speed:02}" + (f"G{gust}" if gust else "")

    assert {*round_trips("wind", value)} == {value}


@given(st.integers(0, 23), st.integers(0, 59))
def test_time_reads_back_to_itself_or_its_minutes(hour, minute):
    value = f"{hour:02}{minute:02}"

    assert {*round_trips("time", value)} == {value, value[2:]}


@given(st.permutations("1234"), st.integers(1, 4))
def test_engine_sequence_reads_back_in_its_order(engines, count):
    value = " ".join(engines[:count])

    assert {*round_trips("engine_sequence", value)} == {value}


TOKENS = st.sampled_from(
    [
        *(*LETTERS, *DIGITS, *spelling.TEENS, *spelling.TENS, *spelling.REPEATS, *NAMES),
        *("hundred", "thousand", "decimal", "point", "left", "right", "centre", "and", "then"),
        *("degrees", "knots", "at", "gusting", "zulu", "hours", "followed", "by", "engine"),
    ]
)


@given(st.sampled_from(KINDS), st.lists(TOKENS | st.text(max_size=3), max_size=12))
def test_what_reads_can_be_said_and_reads_the_same(kind, words):
    value = read_value(kind, words)

    assert value is None or all(same_value(kind, r, value) for r in round_trips(kind, value))


@given(st.sampled_from([*KINDS, "callsign"]), st.text(max_size=8), st.text(max_size=8))
def test_comparing_any_two_texts_is_symmetric(kind, a, b):
    assert same_value(kind, a, b) == same_value(kind, b, a)
    assert same_value(kind, a, a)


@pytest.mark.parametrize(
    ("kind", "value", "authority", "message"),
    [
        ("runaway", "27L", "icao", "No kind of value 'runaway'. Use one of runway,"),
        ("runway", "27X", "icao", "'27X' is no runway. Write one like '27L'."),
        ("flight_level", "180", "icao", "'180' is no flight level. Write one like 'FL180'."),
        ("runway", "27L", "caa", "No authority 'caa'. Use one of icao, easa, faa, uk."),
    ],
)
def test_value_that_cannot_be_said_is_told_in_one_line(kind, value, authority, message):
    with pytest.raises(InputError) as error:
        speak_value(kind, value, authority)

    assert str(error.value).startswith(message)
    assert "\n" not in str(error.value)


def test_unknown_kind_cannot_be_read():
    with pytest.raises(InputError, match="No kind of value 'runaway'"):
        read_value("runaway", ["two", "seven"])


EXAMPLES = {
    **{"runway": "27L", "taxiway": "E3", "holding_point": "C5", "route": "A B C1", "stand": "24L"},
    **{"frequency": "121.700", "qnh": "1013", "altimeter": "29.92", "squawk": "2400"},
    **{"time": "0920", "engine": "2", "engine_sequence": "2 1", "flight_level": "FL180"},
    **{"altitude": "3400", "heading": "100", "speed": "250", "letter": "K", "number": "75"},
    **{"degrees": "90", "callsign_number": "452", "serial_number": "11495", "wind": "200/70"},
    **{"cloud_height": "2200", "visibility": "700", "rvr": "1700"},
}


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_that_is_read_is_said(kind):
    assert EXAMPLES[kind] in round_trips(kind, EXAMPLES[kind])
