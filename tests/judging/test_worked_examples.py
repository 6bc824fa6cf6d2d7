"""Published worked examples, and more built from printed rules, against `readback.check`.

``worked_examples.json`` carries exchanges as publications print them; ``more_examples.json``
applies rules of the same publications to our own fictional aerodrome. Every row names its source.
"""

import json
from collections import Counter, defaultdict
from pathlib import Path

import pytest

from readback.judging.check import check
from readback.phraseology.grammar import load_grammar
from readback.phraseology.words import canonical_words
from readback.search import OTHER_NAME

TRADE = Path(__file__).parents[1] / "data" / "trade"
PUBLISHED = json.loads((TRADE / "worked_examples.json").read_text(encoding="utf-8"))
MORE = json.loads((TRADE / "more_examples.json").read_text(encoding="utf-8"))

# STANDING BY is understood in writing alone.
LISTENED_FOR = [row for row in MORE if row["id"] != "standard-for-stand-by"]

# Four rules files serve all jurisdictions of the rows; each other one is judged by the nearest.
NEAREST = {
    "icao": "icao",
    "faa": "faa",
    "uk": "uk",
    # The Canadian rows rest on RAC 4.2.5: hold short must be obtained, the rest may be
    # acknowledged. That is what JO 7110.65 2-4-3 asks for; ICAO would want more.
    "canada": "faa",
    # New Zealand lists the taxi route among what must come back; of the four only CAP 413 does.
    "new zealand": "uk",
    # These states publish ICAO's list and phrase tables, translated; the rows need nothing beyond.
    "japan": "icao",
    "kazakhstan": "icao",
    "russia": "icao",
    "singapore": "icao",
    # The interphone's rules are the same under every authority.
    "common practice": "icao",
}


def _named(row):
    return f"{row['id']}: {row['source']}"


@pytest.mark.parametrize("row", PUBLISHED, ids=_named)
def test_a_published_example_gets_its_verdict(row):
    verdict = check(row["instruction"], row["readback"], authority=NEAREST[row["jurisdiction"]])

    assert verdict.verdict == row["verdict"], [finding.message for finding in verdict.findings]


@pytest.mark.parametrize("row", MORE, ids=_named)
def test_an_example_of_a_printed_rule_gets_its_verdict(row):
    verdict = check(row["instruction"], row["readback"], authority=row["authority"])

    assert verdict.verdict == row["verdict"], [finding.message for finding in verdict.findings]


@pytest.mark.parametrize("row", MORE, ids=_named)
def test_a_mistake_names_a_rule_and_its_source(row):
    mistakes = check(row["instruction"], row["readback"], authority=row["authority"]).mistakes

    assert all(finding.rule and finding.source for finding in mistakes)
    assert bool(mistakes) == (row["verdict"] in ("incorrect", "incomplete"))


def test_the_examples_cover_authorities_families_and_verdicts():
    rows = [(NEAREST[row["jurisdiction"]], row["verdict"]) for row in PUBLISHED]
    rows += [(row["authority"], row["verdict"]) for row in MORE]
    counts = Counter(rows)

    assert len(PUBLISHED) == 56
    assert len(MORE) >= 60
    assert len({row["id"] for row in [*PUBLISHED, *MORE]}) == len(PUBLISHED) + len(MORE)
    assert {authority for authority, _ in counts} == {"icao", "easa", "faa", "uk"}
    assert all(
        counts[authority, verdict]
        for authority in ("icao", "easa", "faa", "uk")
        for verdict in ("correct", "incorrect", "incomplete")
    )


@pytest.fixture(scope="module")
def said():
    """Tells whether a recogniser listens for these words; a name no grammar lists is any name."""
    search = load_grammar().search()
    known = {arc.word for arc in search.arcs}
    leaving = defaultdict(list)
    for arc in search.arcs:
        leaving[arc.source].append(arc)

    def reached(states, word):
        ends = {arc.target for at in states for arc in leaving[at] if arc.word == word}
        waiting = list(ends)
        while waiting:
            silent = {arc.target for arc in leaving[waiting.pop()] if arc.word is None} - ends
            ends |= silent
            waiting += silent
        return ends

    def accepts(text):
        states = reached({0}, None) | {0}
        for word in (word for part in text.split() for word in canonical_words(part.strip(",.;"))):
            states = reached(states, word if word in known else OTHER_NAME)
        return bool(states & search.final_states)

    return accepts


@pytest.mark.parametrize("row", LISTENED_FOR, ids=_named)
def test_an_example_of_a_printed_rule_is_listened_for(row, said):
    assert [side for side in ("instruction", "readback") if not said(row[side])] == []


def test_what_is_no_call_is_not_listened_for(said):
    assert said("holding short of runway two seven, larkspur four two one")
    assert not said("holding short of runway larkspur, two seven four two one")
