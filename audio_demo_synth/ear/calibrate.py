"""Fit how sure a word is, and when a transmission is refused, on people and voices not trained on.

    python -m audio_demo_synth.ear.calibrate RESULTS.json [...] --outside RESULTS.json [...]

RESULTS come from `report ... --json` with the choosing people and choosing voices, for the ear
alone; ``--outside`` names those of speech that is in no grammar. Writes the JSON beside the model.
"""

import argparse
import difflib
import json
import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from audio_demo_synth.ear.report import norm
from readback.speech.ear.calibration import (
    Calibration,
    features,
    load_calibration,
    save_calibration,
)
from readback.speech.ear.decoder import Heard
from readback.speech.ear.network import MODEL

Reals = npt.NDArray[np.float64]

OUTSIDERS_PASSED = 0.01
"""Share of transmissions that are no call which may come back as one."""


def words_of(results: Iterable[dict[str, Any]]) -> list[tuple[Heard, bool]]:
    """Every word heard, and whether it was right by the alignment with what was said."""
    found = []
    for result in results:
        heard, said = norm(result["heard"]), norm(result["text"])
        right = np.zeros(len(heard), bool)
        matcher = difflib.SequenceMatcher(None, said, heard, autojunk=False)
        for block in matcher.get_matching_blocks():
            right[block.b : block.b + block.size] = True
        numbers = zip(heard, result["posteriors"], result["fits"], right, strict=True)
        found += [(Heard(w, 0, 0, p, f), bool(ok)) for w, p, f, ok in numbers]
    return found


def fit_odds(words: Sequence[tuple[Heard, bool]]) -> Calibration:
    """Logistic regression by Newton's method, with a weak prior that keeps it finite."""
    rows = np.array([[1.0, *features(heard)] for heard, _ in words])
    right = np.array([ok for _, ok in words], float)
    weights: Reals = np.zeros(rows.shape[1])
    for _ in range(50):
        chance = 1 / (1 + np.exp(-np.clip(rows @ weights, -30, 30)))
        gradient = rows.T @ (right - chance) - 0.01 * weights
        curve = (rows * (chance * (1 - chance))[:, None]).T @ rows + 0.01 * np.eye(len(weights))
        weights = weights + np.linalg.solve(curve, gradient)
    bias, posterior, fit = map(float, weights)
    return replace(
        load_calibration(MODEL.with_suffix(".json")), bias=bias, posterior=posterior, fit=fit
    )


def expected_calibration_error(certainties: Reals, right: Reals, bins: int = 10) -> float:
    """Mean distance of certainty and share right over equal bins. Source: Guo et al., ICML 2017."""
    places = np.minimum((certainties * bins).astype(int), bins - 1)
    gaps = [
        abs(certainties[places == b].mean() - right[places == b].mean()) * (places == b).mean()
        for b in range(bins)
        if (places == b).any()
    ]
    return float(sum(gaps))


def worth_of(calibration: Calibration, result: dict[str, Any]) -> float:
    """What `Calibration.accept` weighs of a transmission."""
    numbers = zip(norm(result["heard"]), result["posteriors"], result["fits"], strict=True)
    return calibration.worth([Heard(word, 0, 0, p, fit) for word, p, fit in numbers])


def refuse_below(
    calibration: Calibration, inside: Sequence[dict[str, Any]], outside: Sequence[dict[str, Any]]
) -> float:
    """The least worth that lets at most `OUTSIDERS_PASSED` of the outsiders through."""
    strangers = sorted((worth_of(calibration, r) for r in outside if r["heard"]), reverse=True)
    allowed = int(len(outside) * OUTSIDERS_PASSED)
    least = math.ceil(1000 * strangers[allowed]) / 1000 if len(strangers) > allowed else -100.0
    right = [r for r in inside if r["heard"] and norm(r["heard"]) == norm(r["text"])]
    lost = sum(worth_of(calibration, result) < least for result in right)
    passed = sum(value >= least for value in strangers)
    print(
        f"refused under {least:.3f}: {passed} of {len(outside)} outsiders pass,"
        f" {lost} of {len(right)} heard right are lost"
    )
    return least


def main() -> None:
    """Fit, print what was fitted, write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("results", type=Path, nargs="+")
    parser.add_argument("--outside", type=Path, nargs="*", default=[])
    options = parser.parse_args()
    inside = [row for path in options.results for row in json.loads(path.read_text("utf-8"))]
    outside = [row for path in options.outside for row in json.loads(path.read_text("utf-8"))]
    words = words_of(inside)
    fitted = fit_odds(words)
    certainties = np.array([fitted.certainty(heard) for heard, _ in words])
    right = np.array([ok for _, ok in words], float)
    error = expected_calibration_error(certainties, right)
    print(f"{len(words)} words, {int(right.sum())} right; expected calibration error {error:.4f}")
    print(f"bias {fitted.bias:.3f}, posterior {fitted.posterior:.3f}, fit {fitted.fit:.3f}")
    fitted = replace(fitted, least_worth=refuse_below(fitted, inside, outside))
    path = MODEL.with_suffix(".json")
    card = json.loads(path.read_text("utf-8")) if path.is_file() else {}
    card.pop("calibration", None)
    card["fitted_on"] = {
        "words": len(words),
        "wrong": int(len(words) - right.sum()),
        "outside": len(outside),
        "expected_calibration_error": round(error, 4),
        "files": [path.name for path in [*options.results, *options.outside]],
    }
    assert math.isfinite(fitted.bias)
    save_calibration(path, fitted, card)


if __name__ == "__main__":
    main()
