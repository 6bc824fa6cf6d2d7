import pytest

from readback.errors import InputError
from readback.measure.certainty import (
    EngineThresholds,
    Thresholds,
    load_thresholds,
    save_thresholds,
)
from readback.transmission import Transmission


def engine(**least):
    return EngineThresholds(least_certainty=least, run={"date": "today", "voices": ["a", 'b"c']})


def test_the_shipped_thresholds_name_a_run_on_the_tuning_split_alone():
    engines = load_thresholds().engines

    assert "ear" in engines
    for own in engines.values():
        assert own.run["split"] == "tuning"
        assert own.run["date"] and own.run["command"] and own.run["version"]
        assert own.run["wrong"] < own.run["pairs"]


def test_what_is_saved_is_loaded(tmp_path):
    thresholds = Thresholds(engines={"ear": engine(any=0.9, radio=0.95), "other": engine(any=0)})

    save_thresholds(tmp_path / "own.toml", thresholds)

    assert load_thresholds(tmp_path / "own.toml") == thresholds


def test_a_channel_without_a_threshold_of_its_own_has_that_of_any():
    thresholds = Thresholds(engines={"ear": engine(any=0.9, radio=0.95)})

    assert thresholds.least_certainty("ear", "radio") == 0.95
    assert thresholds.least_certainty("ear", "clean") == 0.9


def test_an_engine_that_was_not_measured_has_the_strictest_threshold():
    thresholds = Thresholds(engines={"a": engine(any=0.7), "b": engine(any=0.9)})

    assert thresholds.least_certainty("c") == 0.9


def test_tuning_one_engine_keeps_the_others():
    kept = Thresholds(engines={"a": engine(any=0.7)}).with_engines({"b": engine(any=0.9)})

    assert (kept.least_certainty("a"), kept.least_certainty("b")) == (0.7, 0.9)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "engines = 3",
        "[engines.ear]\nrun = {}",
        "[engines.ear]\nrun = {}\nleast_certainty = {}",
        "[engines.ear]\nrun = {}\nleast_certainty = {radio = 0.5}",
        "[engines.ear]\nrun = {}\nleast_certainty = {any = 1.5}",
        "[engines.ear\n",
    ],
)
def test_a_damaged_file_is_told_in_one_line(tmp_path, text):
    path = tmp_path / "own.toml"
    path.write_text(text, encoding="utf-8")

    with pytest.raises(InputError) as caught:
        load_thresholds(path)

    assert str(path) in str(caught.value)
    assert "\n" not in str(caught.value)


def test_the_threshold_of_the_channel_that_was_found_counts():
    own = EngineThresholds(least_certainty={"any": 0.9, "radio": 0.8}, run={})
    least = Thresholds(engines={"ear": own}).judging("ear")

    assert least(Transmission(channel="radio")) == 0.8
    assert least(Transmission(channel="clean")) == least(Transmission()) == 0.9
