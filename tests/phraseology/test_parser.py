"""What holds for every text: the parser, the words and the spans."""

import hypothesis.strategies as st
import pytest
from hypothesis import given, settings

from readback.errors import GrammarError
from readback.phraseology.callsigns import compare_callsigns, read_callsign, spoken_forms
from readback.phraseology.grammar import load_grammar
from readback.phraseology.jsgf import read_jsgf
from readback.phraseology.parser import parse
from readback.phraseology.repair import near_misses
from readback.phraseology.sounds import guess_phones
from readback.phraseology.words import canonical_words
from readback.transmission import Transmission, Word

GRAMMAR = load_grammar()
SAME_GRAMMAR = load_grammar.__wrapped__()
"""Read anew: its automaton is walked in another order."""
CALLSIGNS = ((), ("LARKSPUR 421",), ("G-ABCD", "N1234A"))
known_words = st.sampled_from(sorted(GRAMMAR.vocabulary))
odd_words = st.sampled_from(
    [
        "27L",
        "A3",
        "118.7",
        "121,9",
        "G-ABCD",
        "N1234A",
        "rwy",
        "uh",
        "to",
        "for",
        "too",
        "none",
        "correction",
        "disregard",
        "sorry,",
        "I",
        "mean",
        "say",
        "again",
        "...",
        "—",
        "holdng",
        "sevn",
    ]
)
texts = st.one_of(
    st.text(max_size=80),
    st.lists(st.one_of(known_words, odd_words, st.text(max_size=8)), max_size=25).map(" ".join),
)
HEADER = "#JSGF V1.0;\ngrammar odd;\n"


def check_reading(text, reading):
    count = len(text.split())
    covered = set()
    for call in reading.calls:
        assert 0 <= call.span[0] < call.span[1] <= count
        covered.update(range(*call.span))
        for element in call.elements:
            assert call.span[0] <= element.span[0] < element.span[1] <= call.span[1]
            assert element.value
    for start, end in [*reading.unparsed, *(slip.span for slip in reading.slips)]:
        assert 0 <= start < end <= count
        covered.update(range(start, end))
    for repair in reading.repairs:
        assert repair.taken_as in GRAMMAR.vocabulary
    meaningless = {at for at, word in enumerate(text.split()) if not canonical_words(word)}
    assert covered | meaningless == set(range(count))


@settings(max_examples=400, deadline=None)
@given(text=texts, callsigns=st.sampled_from(CALLSIGNS))
def test_any_text_is_parsed_with_every_word_accounted_for(text, callsigns):
    check_reading(text, parse(text, GRAMMAR, callsigns))


@settings(max_examples=150, deadline=None)
@given(text=texts)
def test_parsing_is_deterministic(text):
    assert parse(text, GRAMMAR) == parse(text, SAME_GRAMMAR)


@settings(max_examples=100, deadline=None)
@given(words=st.lists(known_words, max_size=12))
def test_heard_words_are_parsed_as_typed_ones(words):
    heard = Transmission(
        words=tuple(
            Word(word=word, start=at, end=at + 1, certainty=0.5) for at, word in enumerate(words)
        )
    )

    typed, reading = parse(" ".join(words), GRAMMAR), parse(heard, GRAMMAR)

    assert [call.name for call in reading.calls] == [call.name for call in typed.calls]
    assert all(call.certainty == 0.5 for call in reading.calls)


@settings(max_examples=300, deadline=None)
@given(raw=st.text(alphabet=st.characters(exclude_categories=["Z", "C"]), max_size=20))
def test_any_run_of_signs_becomes_words(raw):
    for word in canonical_words(raw):
        assert word
        assert not any(sign.isspace() for sign in word)


@settings(max_examples=200, deadline=None)
@given(word=st.text(max_size=15))
def test_near_misses_are_words_of_the_grammar(word):
    taken = near_misses(word.lower(), GRAMMAR)

    assert len(taken) <= 3
    assert all(item.word in GRAMMAR.vocabulary for item in taken)


@settings(max_examples=200, deadline=None)
@given(word=st.text(max_size=15))
def test_any_word_has_a_guess_at_its_sound(word):
    assert all(phone.isupper() for phone in guess_phones(word))


@settings(max_examples=300, deadline=None)
@given(
    text=st.one_of(
        st.text(max_size=120),
        st.text(alphabet='<>=;|*+()[]{}/" ab\n', max_size=60).map(lambda body: HEADER + body),
    )
)
def test_the_jsgf_reader_raises_nothing_but_its_own_error(text):
    try:
        file = read_jsgf(text, "odd.jsgf")
    except GrammarError as error:
        assert str(error).startswith("odd.jsgf, line ")
    else:
        assert file.path == "odd.jsgf"


@settings(max_examples=200, deadline=None)
@given(words=st.lists(known_words, min_size=1, max_size=6))
def test_any_words_can_be_written_as_a_callsign(words):
    value = read_callsign(tuple(words))

    assert compare_callsigns(value, value) == "same"
    assert spoken_forms(value)


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        "...",
        "— — —",
        "\u200b",
        "🛫",
        "1" * 500,
        "A" * 500,
        "27L" * 100,
        "-",
        "G-",
        "/",
        ".",
    ],
)
def test_odd_texts_are_parsed(text):
    check_reading(text, parse(text, GRAMMAR))


@pytest.mark.parametrize(
    "words",
    [
        "one",
        "alfa",
        "to for",
        "then to",
        "correction",
        "two correction",
        "sorry",
        "I mean",
        "stop",
        "disregard one",
        "hold",
        "uh",
        "larkspur",
        "bravo to",
        "two for",
        "xqzvt",
        "not",
        "and one",
    ],
)
def test_a_thousand_times_the_same_is_parsed(words):
    text = " ".join([words] * 1000)

    check_reading(text, parse(text, GRAMMAR))
