import pytest

from readback.judging.manner import (
    CLIPPING_MARGIN_S,
    FASTEST_WORDS_PER_MINUTE,
    LEAST_WORDS,
    LONGEST_ANSWER_S,
    LONGEST_PAUSE_S,
    manner_findings,
    measure_manner,
)
from readback.judging.model import Severity, Status
from readback.transmission import Transmission, Word


def spoken(text, *, start=0.4, word_s=0.3, gap_s=0.1, gaps=None, before_s=0.4, after_s=0.3):
    """Words of equal length, ``gaps`` by the index of the word after them."""
    words, at = [], start
    for index, word in enumerate(text.split()):
        at += (gaps or {}).get(index, gap_s) if index else 0.0
        words.append(Word(word=word, start=at, end=at + word_s))
        at += word_s
    return Transmission(words=tuple(words), start=max(0.0, start - before_s), end=at + after_s)


READBACK = "holding short runway two seven left larkspur four two one"


def kinds(transmission, **others):
    return [finding.element for finding in manner_findings(measure_manner(transmission, **others))]


@pytest.mark.parametrize(
    ("word_s", "gap_s", "words_per_minute"),
    # 10 words from the first start to the last end: 10 word_s and 9 gap_s.
    [(0.6, 0.0, 100.0), (0.42, 0.2, 100.0), (0.3, 0.1, 153.846), (1.0, 0.0, 60.0)],
)
def test_the_rate_counts_words_from_the_first_to_the_last(word_s, gap_s, words_per_minute):
    manner = measure_manner(spoken(READBACK, word_s=word_s, gap_s=gap_s))

    assert manner.words_per_minute == pytest.approx(words_per_minute, abs=0.001)


def test_the_published_rate_is_the_limit():
    # ICAO Doc 9432, 2.2: not exceeding 100 words per minute (seen as quoted by radio courses).
    assert FASTEST_WORDS_PER_MINUTE == 100
    assert kinds(spoken(READBACK, word_s=0.61, gap_s=0.0)) == []
    assert kinds(spoken(READBACK, word_s=0.59, gap_s=0.0)) == ["speaking rate"]


def test_a_few_words_have_no_rate():
    text = " ".join(READBACK.split()[: LEAST_WORDS - 1])

    assert measure_manner(spoken(text, word_s=0.1)).words_per_minute is None
    assert kinds(spoken(text, word_s=0.1)) == []


def test_sounds_of_hesitation_are_no_words_of_the_rate():
    text = "er holding short runway two seven uh left larkspur four two one"

    manner = measure_manner(spoken(text, word_s=0.5, gap_s=0.0))

    assert manner.hesitations == ((0, 1), (6, 7))
    assert manner.words_per_minute == pytest.approx(10 * 60 / 6.0)


@pytest.mark.parametrize(("gap_s", "found"), [(0.99, False), (1.01, True)])
def test_a_long_pause_is_hesitation(gap_s, found):
    manner = measure_manner(spoken(READBACK, word_s=0.6, gap_s=0.1, gaps={3: gap_s}))

    assert LONGEST_PAUSE_S == 1.0
    assert [pause.span for pause in manner.pauses] == ([(2, 4)] if found else [])
    assert [f.element for f in manner_findings(manner)] == (["hesitation"] if found else [])
    if found:
        assert manner.pauses[0].seconds == pytest.approx(gap_s)


@pytest.mark.parametrize(
    ("start", "seconds", "found"),
    [(3.0, 1.5, []), (4.49, 2.99, []), (4.6, 3.1, ["time to answer"])],
)
def test_a_late_answer_is_told(start, seconds, found):
    instruction = spoken("hold position", start=0.8)  # Ends at 1.5 s.
    answer = spoken("holding", start=start)

    assert LONGEST_ANSWER_S == 3.0
    assert measure_manner(answer, instruction=instruction).seconds_to_answer == pytest.approx(
        seconds
    )
    assert kinds(answer, instruction=instruction) == found


def test_an_answer_into_the_instruction_is_told():
    instruction = spoken("hold position", start=0.8)
    manner = measure_manner(spoken("holding", start=1.2), instruction=instruction)

    (finding,) = manner_findings(manner)

    assert manner.seconds_to_answer == pytest.approx(-0.3)
    assert finding.message == "answered 0.3 s before the instruction ended"


@pytest.mark.parametrize("instruction", [None, Transmission.typed("hold position")])
def test_without_times_of_the_instruction_there_is_no_time_to_answer(instruction):
    assert measure_manner(spoken("holding"), instruction=instruction).seconds_to_answer is None


def edged(before_s, after_s, first_s, last_s):
    """Three words of five letters, the middle one 0.5 s long."""
    lengths = [first_s, 0.5, last_s]
    at, words = 1.0, []
    for word, length in zip(["cross", "short", "alpha"], lengths, strict=True):
        words.append(Word(word=word, start=at, end=at + length))
        at += length
    return Transmission(words=tuple(words), start=1.0 - before_s, end=at + after_s)


@pytest.mark.parametrize(
    ("before_s", "after_s", "first_s", "last_s", "spans"),
    [
        (0.4, 0.3, 0.2, 0.2, []),
        (0.06, 0.06, 0.2, 0.2, []),
        (0.04, 0.3, 0.2, 0.5, [(0, 1)]),
        (0.4, 0.0, 0.5, 0.2, [(2, 3)]),
        (0.0, 0.01, 0.2, 0.2, [(0, 1), (2, 3)]),
        # Drawn out to the edge, not cut off at it.
        (0.0, 0.01, 0.5, 0.55, []),
    ],
)
def test_a_word_cut_at_the_edge_of_its_transmission_is_clipped(
    before_s, after_s, first_s, last_s, spans
):
    manner = measure_manner(edged(before_s, after_s, first_s, last_s))

    found = manner_findings(manner)

    assert CLIPPING_MARGIN_S == 0.05
    assert [finding.readback_span for finding in found] == spans
    assert {finding.element for finding in found} <= {"clipped word"}


@pytest.mark.parametrize(("after_s", "clipped"), [(0.3, False), (0.0, True)])
def test_a_word_alone_is_clipped_where_it_touches_the_edge(after_s, clipped):
    assert measure_manner(spoken("holding", after_s=after_s)).last_word_clipped is clipped


def test_without_the_edges_nothing_is_said_of_clipping():
    transmission = spoken("holding short alfa", before_s=0.0).model_copy(
        update={"start": None, "end": None}
    )

    manner = measure_manner(transmission)

    assert (manner.first_word_clipped, manner.last_word_clipped) == (None, None)
    assert manner_findings(manner) == ()


@pytest.mark.parametrize("transmission", [Transmission(), Transmission.typed(READBACK)])
def test_typed_words_and_silence_have_no_manner(transmission):
    manner = measure_manner(transmission)

    assert manner.span is None
    assert manner.seconds is None
    assert manner_findings(manner) == ()


def test_what_is_found_is_advice_with_a_rule_and_its_source():
    instruction = spoken("hold position", start=0.4)
    text = "going " + READBACK
    fast = spoken(text, start=9.0, word_s=0.1, gaps={4: 1.2}, before_s=0.0, after_s=0.0)

    found = manner_findings(measure_manner(fast, instruction=instruction), side="instruction")

    assert {finding.element for finding in found} == {
        "speaking rate",
        "time to answer",
        "hesitation",
        "clipped word",
    }
    for finding in found:
        assert (finding.call, finding.status) == ("manner", Status.WRONG)
        assert finding.severity is Severity.ADVISORY
        assert finding.rule and finding.source and finding.readback_span is None


@pytest.mark.parametrize(
    ("sound", "told"), [("clipped", "too loud"), ("too quiet", "too quiet"), (None, None)]
)
def test_a_level_that_is_wrong_is_advice(sound, told):
    heard = Transmission(words=(Word(word="roger", start=0.5, end=0.9),), sound=sound)

    found = [f for f in manner_findings(measure_manner(heard)) if f.element == "level"]

    assert [f.message.split(":")[0] for f in found] == ([told] if told else [])
    assert all(f.severity is Severity.ADVISORY for f in found)
