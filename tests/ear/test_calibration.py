"""How sure a word is, and the fit of it."""

import json

import numpy as np
import pytest

from audio_demo_synth.ear.calibrate import (
    expected_calibration_error,
    fit_odds,
    refuse_below,
    words_of,
)
from audio_demo_synth.ear.report import wilson, word_errors
from readback.speech.ear.calibration import (
    Calibration,
    load_calibration,
    save_calibration,
)
from readback.speech.ear.decoder import Heard, Settings
from readback.speech.ear.network import MODEL


def word(probability, fit=0.0, phones=3):
    return Heard("one", 0, 5, probability, fit, phones)


def test_more_probable_words_are_surer():
    shipped = load_calibration(MODEL.with_suffix(".json"))
    sure = [shipped.certainty(word(p)) for p in (0.2, 0.5, 0.9, 0.99, 0.9999)]

    assert sure == sorted(sure)
    assert sure[-1] > 0.98
    assert shipped.certainty(word(0.9999, fit=-3)) < shipped.certainty(word(0.9999))


def test_words_that_fit_badly_refuse_the_transmission():
    calibration = Calibration(Settings(), posterior=1.0, least_worth=0.6)

    assert calibration.accept([word(0.9), word(0.8)]) != ()
    assert calibration.accept([word(0.9, fit=-2), word(0.8)]) == ()
    assert calibration.accept([word(0.3), word(0.6)]) == ()
    assert calibration.accept([]) == ()


def test_numbers_come_back_as_they_were_saved(tmp_path):
    calibration = Calibration(Settings(beam=1e-4), 0.5, 0.7, 0.2, 0.4)
    save_calibration(tmp_path / "ear.json", calibration, {"steps": 7})

    assert load_calibration(tmp_path / "ear.json") == calibration
    assert json.loads((tmp_path / "ear.json").read_text())["steps"] == 7


def results(count, truth, seed=3):
    """Words whose chance to be right is ``truth`` of their posterior."""
    rng = np.random.default_rng(seed)
    posteriors = rng.uniform(0.05, 0.95, count)
    right = rng.random(count) < truth(posteriors)
    return [
        {
            "text": "one" if ok else "two",
            "heard": "one",
            "posteriors": [float(p)],
            "fits": [0.0],
        }
        for p, ok in zip(posteriors, right, strict=True)
    ]


def test_fit_finds_odds_that_are_half_as_sure_as_the_posterior():
    rows = results(6000, lambda p: 1 / (1 + ((1 - p) / p) ** 0.5))

    fitted = fit_odds(words_of(rows))

    assert fitted.posterior == pytest.approx(0.5, abs=0.08)
    assert fitted.bias == pytest.approx(0.0, abs=0.1)
    certainties = np.array([fitted.certainty(heard) for heard, _ in words_of(rows)])
    right = np.array([ok for _, ok in words_of(rows)], float)
    assert expected_calibration_error(certainties, right) < 0.03


def test_calibration_error_is_the_distance_from_the_share_right():
    assert expected_calibration_error(np.full(10, 0.95), np.ones(10)) == pytest.approx(0.05)
    assert expected_calibration_error(np.full(10, 0.95), np.zeros(10)) == pytest.approx(0.95)


def test_refusal_lets_one_outsider_in_a_hundred_pass():
    calibration = Calibration(Settings(), posterior=1.0)
    outside = results(200, lambda p: p)

    least = refuse_below(calibration, [], outside)

    passed = [calibration.certainty(word(row["posteriors"][0])) >= least for row in outside]
    assert sum(passed) == 2


@pytest.mark.parametrize(
    ("hits", "total", "low", "high"),
    # Newcombe, Statistics in Medicine 17 (1998) 857, table I, method 3.
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_wilson_intervals_are_the_published_ones(hits, total, low, high):
    assert wilson(hits, total) == pytest.approx((low, high), abs=2e-4)


@pytest.mark.parametrize(
    ("reference", "hypothesis", "errors"),
    [
        ("a b c", "a b c", 0),
        ("a b c", "a x c", 1),
        ("a b c", "a c", 1),
        ("a", "x a y", 2),
        ("", "a", 1),
    ],
)
def test_word_errors_count_each_change(reference, hypothesis, errors):
    assert word_errors(reference.split(), hypothesis.split()) == errors
