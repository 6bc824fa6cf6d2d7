"""Published worked examples, and more built from printed rules, against `readback.check`.

``worked_examples.json`` carries exchanges as publications print them; ``more_examples.json``
applies rules of the same publications to our own fictional aerodrome. Every row names its source.
"""

import json
from collections import Counter
from pathlib import Path

import pytest

from audio_demo_synth.ear.sentences import is_sentence
from readback.judging.check import check
from readback.phraseology.grammar import load_grammar
from readback.phraseology.words import canonical_words

TRADE = Path(__file__).parents[1] / "data" / "trade"
PUBLISHED = json.loads((TRADE / "worked_examples.json").read_text(encoding="utf-8"))
MORE = json.loads((TRADE / "more_examples.json").read_text(encoding="utf-8"))

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
    """Tells whether a recogniser listens for these words as a whole transmission."""
    search = load_grammar().search()
    return lambda text: is_sentence(
        search, " ".join(w for part in text.split() for w in canonical_words(part.strip(",.;")))
    )


@pytest.mark.parametrize("row", MORE, ids=_named)
def test_an_example_of_a_printed_rule_is_listened_for(row, said):
    assert [side for side in ("instruction", "readback") if not said(row[side])] == []


@pytest.mark.parametrize(  # common practice, no source
    "words",
    [
        "all engines started clear to disconnect interphone and show me the pin",
        "line up and wait runway two seven larkspur four two one number one",
        "standing by for push back larkspur four two one",
    ],
)
def test_a_call_in_other_words_is_listened_for(words, said):
    assert said(words)


def test_what_is_no_call_is_not_listened_for(said):
    assert said("holding short of runway two seven, larkspur four two one")
    assert not said("holding short of runway larkspur, two seven four two one")
