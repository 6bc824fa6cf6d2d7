"""Hand signals, and the tables made of the rules of the ramp."""

from pathlib import Path

import pytest

from readback.data import data_directory
from readback.drills.ramp_rules import load_ramp_rules
from readback.drills.reference import render_interlocks
from readback.drills.signals import load_signals, read_signal, read_signals
from readback.drills.wording import read_wording
from readback.errors import GrammarError
from readback.phraseology.generator import element_sets
from readback.phraseology.grammar import load_grammar

SIGNALS = load_signals()
ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize("key", SIGNALS)
def test_a_signal_is_read_by_each_of_its_names_and_drawn(key):
    signal = SIGNALS[key]

    assert [read_signal(name) for name in (signal.name, *signal.other_names)] == [key] * (
        1 + len(signal.other_names)
    )
    assert len(signal.drawing) >= 4
    assert len({len(line) for line in signal.drawing}) == 1
    assert all(line.isascii() for line in signal.drawing)


@pytest.mark.parametrize("key", [key for key, signal in SIGNALS.items() if signal.call])
def test_the_call_that_a_signal_stands_for_carries_its_values(key):
    signal = SIGNALS[key]

    assert tuple(sorted(signal.values)) in element_sets(load_grammar(), signal.call)


def test_no_two_signals_share_a_name():
    names = [name for one in SIGNALS.values() for name in (one.name, *one.other_names)]

    assert len(names) == len(set(names))


# ICAO Annex 2, Appendix 1, 5.1 and 5.2: the signals of a departure (as quoted in public texts).
@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("Set brakes", "set_brakes"),
        ("RELEASE BRAKES", "release_brakes"),
        ("brakes engaged", "brakes_engaged"),
        ("brakes released", "brakes_released"),
        ("remove chocks", "remove_chocks"),
        ("start engine", "start_engine"),
        ("emergency stop", "emergency_stop"),
        ("wing clear", "wing_clear"),
        ("dispatch aircraft", "dispatch"),
    ],
)
def test_the_published_signals_are_there(text, key):
    assert read_signal(text) == key


@pytest.mark.parametrize("text", ["", "brakes", "wave", "set brakes now please"])
def test_other_words_are_no_signal(text):
    assert read_signal(text) is None


@pytest.mark.parametrize(
    ("name", "read", "old", "new", "message"),
    [
        (
            "hand_signals",
            read_signals,
            "who: headset",
            "who: nobody",
            "'nobody' is not allowed. Use",
        ),
        ("hand_signals", read_signals, "meaning:", "means:", "meaning: is missing"),
        ("hand_signals", read_signals, "call:", "cal:", "cal: is no field here"),
        ("hand_signals", read_signals, "name: set brakes", "name: ''", "name: is empty"),
        ("drill_wording", read_wording, "said:", "says:", "said: is missing"),
    ],
)
def test_a_mistake_in_a_file_of_the_drills_is_told_in_our_words(
    tmp_path, name, read, old, new, message
):
    text = (data_directory("grammars") / f"{name}.yaml").read_text(encoding="utf-8")
    path = tmp_path / f"{name}.yaml"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")

    with pytest.raises(GrammarError, match=message):
        read(path)


def test_the_table_in_docs_is_that_of_the_rules():
    written = (ROOT / "docs" / "interlocks.md").read_text(encoding="utf-8")

    made = render_interlocks(load_ramp_rules())
    assert written == made, "run python -m readback.drills.reference docs/interlocks.md"


def test_each_interlock_is_in_the_table_with_its_source():
    rows = render_interlocks(load_ramp_rules()).splitlines()

    for name, interlock in load_ramp_rules().interlocks.items():
        (row,) = [line for line in rows if line.startswith(f"| {name} |")]
        assert interlock.says in row
        assert load_ramp_rules().source(interlock.source) in row
