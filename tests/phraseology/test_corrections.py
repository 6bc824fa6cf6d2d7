"""What a correction takes back: the value, or the whole call, and never the callsign before it.

Source: ICAO Annex 10 Volume II, 5.2.1.5.8 (CORRECTION); SERA.14075(c)(1): the last right group is
said again first. Which words a speaker means is common practice, no source.
"""

import pytest

from readback.phraseology.grammar import load_grammar
from readback.phraseology.parser import parse


@pytest.mark.parametrize(
    ("text", "said", "taken_back"),
    [
        (
            "cross runway 27 correction hold short of runway 27",
            ["hold_short 27"],
            "cross runway 27 correction",
        ),
        (
            "hold short runway 27 correction cross runway 27 at B",
            ["cross 27 B"],
            "hold short runway 27 correction",
        ),
        (
            "Larkspur 421 correction hold short of runway 27",
            ["callsign LARKSPUR 421", "hold_short 27"],
            "correction",
        ),
        (
            "Larkspur 421 correction Larkspur 431 taxi via A",
            ["callsign LARKSPUR 431", "taxi A"],
            "Larkspur 421 correction",
        ),
        ("taxi via A B correction A C", ["taxi A C"], "A B correction"),
        (
            "push back approved facing east correction west",
            ["push_back", "push_direction west"],
            "east correction",
        ),
    ],
)
def test_a_correction_takes_back_a_whole_value_or_a_whole_call(text, said, taken_back):
    reading = parse(text, load_grammar())

    calls = [
        " ".join([call.name, *(element.value for element in call.elements)])
        for call in reading.calls
    ]
    assert calls == said
    assert [slip.said for slip in reading.slips] == [taken_back]
