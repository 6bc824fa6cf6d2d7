"""Fit all that is fitted after a retraining, and write it beside the model.

    python -m audio_demo_synth.ear.calibrate PHONES.npz [...] [--model FILE.onnx] [--prices]

PHONES come from `report ... --phones`: choosing people, each kind of theirs with its own small
grammar; readbacks of tuning voices and sounds that are no call, with the whole grammar, some other
name and half of the names that are said and that no grammar lists. Fitted are

- how often each phone is named anyway (`USUAL_SHARE`, on readbacks),
- with ``--prices`` those of the search (`GRID`, one after the other, on every second clip;
  `STRANGER_PHONE` and `STRANGER_ENTRY` with each of them),
- what speech that is no call costs (`STRANGER_PHONE` and `STRANGER_ENTRY`, on all clips),
- how sure a word is (logistic, on people and readbacks), and how much less in noise,
- how sure a reading as a whole is, in quiet (`sharpness`, on readbacks),
- the worth under which a transmission is refused.

Readbacks at 5 and 0 dB are there for the noise; prices of the search are chosen without them.
At most 1 % of the sounds that are no call may pass. Of the prices under which the most
transmissions of people are then heard right, give or take 0.2 %, those win under which the
readbacks have the fewest word errors, all words of a refused one among them; what was set before
stays where that gains no more than 0.2 % of the words. What a word that was heard wrong does to a
verdict is left to its certainty.
"""

import argparse
import difflib
import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import numpy.typing as npt

from audio_demo_synth.ear.kept import Kept, load_kept
from audio_demo_synth.ear.report import grammar_of, norm, word_errors
from audio_demo_synth.ear.sharpness import fit_sharpness, make_cases
from readback.phraseology.grammar import load_grammar
from readback.phraseology.pronouncing import pronounce
from readback.search import OTHER_NAME
from readback.speech.ear.calibration import (
    FIT_SHARE,
    Calibration,
    features,
    load_calibration,
    save_calibration,
)
from readback.speech.ear.decoder import Decoder, Settings, Unrefused
from readback.speech.ear.graph import PhoneGraph, compile_graph
from readback.speech.ear.network import MODEL
from readback.speech.ear.phones import BLANK
from readback.speech.ear.recogniser import MOST_READINGS

Reals = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

OUTSIDERS_PASSED = 0.01
"""Share of transmissions that are no call which may come back as one."""
ALIKE = 0.002
"""Prices under which no larger share more is heard right are as good."""
MOST_NOISE = 0.5
"""Readbacks with more of it choose no prices."""
USUAL_SHARE = 0.1
"""Share of the log-probability with which each output is named anyway that is taken off. Of 1,731
clips of choosing people 4 fewer are heard right than with none (sign test: p = 0.125) and of 2,160
readbacks 53 more; with 0.2 it is 8 fewer (p = 0.008) and 88 more."""
GRID: Mapping[str, Sequence[float]] = {
    "filler_entry": (12.0, 15.0, 18.0),
    "filler_phone": (1.0, 1.5, 2.0),
    "name_entry": (2.0, 3.0, 4.5),
    "name_phone": (1.5, 2.0, 2.5),
}
STRANGER_PHONE = (0.75, 1.0, 1.25, 1.5, 1.75, 2.0, 2.5)
STRANGER_ENTRY = (3.0, 5.0, 7.0, 9.0, 11.0, 13.0, 16.0)
WHOLE = ("sentence", "outside")
"""Kinds that are heard with the whole grammar."""


class Listener:
    """Hears kept clips with any prices.

    Args:
        clips: Their kinds say with what grammar.
    """

    def __init__(self, clips: Sequence[Kept]) -> None:
        said = {word for clip in clips if clip.kind in WHOLE for word in clip.text.split()}
        unlisted = sorted(said - set(load_grammar().vocabulary))
        self._unheard = set(unlisted[1::2])
        names = {name: pronounce(name).phones for name in unlisted[::2]}
        self._graphs: dict[str, PhoneGraph] = {}
        for kind in {"sentence" if clip.kind in WHOLE else clip.kind for clip in clips}:
            whole = kind == "sentence"
            search = load_grammar().search(names=names) if whole else grammar_of(kind)
            self._graphs[kind] = compile_graph(search)

    def hear(self, clips: Sequence[Kept], settings: Settings) -> "Table":
        """Search every clip, leaving open whether it is a call."""
        decoders = {kind: Decoder(graph, settings) for kind, graph in self._graphs.items()}
        found = []
        for clip in clips:
            decoder = decoders["sentence" if clip.kind in WHOLE else clip.kind]
            silent = Unrefused((), 0.0, 0.0, 0.0, 0)
            found.append(decoder.decode_calls(clip.phones) if len(clip.phones) else silent)
        return Table(clips, [self._meant(clip) for clip in clips], found, settings)

    def fit_sharpness(self, clips: Sequence[Kept], calibration: Calibration) -> Calibration:
        """Search the readbacks once more for all their readings, and fit how sure one is."""
        decoder = Decoder(self._graphs["sentence"], calibration.settings)
        heard = (
            (
                " ".join(self._meant(clip)),
                clip.noise,
                *decoder.decode_all(clip.phones, MOST_READINGS),
            )
            for clip in clips
            if clip.kind == "sentence" and len(clip.phones)
        )
        return fit_sharpness(list(make_cases(heard, calibration)), calibration)

    def _meant(self, clip: Kept) -> list[str]:
        """The words that should come back."""
        return norm(" ".join(OTHER_NAME if w in self._unheard else w for w in clip.text.split()))


class Table:
    """What one search left, in arrays: of clips, and of their words one after the other.

    Args:
        clips: What was searched.
        meant: The words of each that should come back.
        found: What came back, unrefused.
        settings: Of the search.
    """

    def __init__(
        self,
        clips: Sequence[Kept],
        meant: Sequence[Sequence[str]],
        found: Sequence[Unrefused],
        settings: Settings,
    ) -> None:
        self.settings = settings
        self.outside = np.array([clip.kind == "outside" for clip in clips])
        self.people = np.array([clip.kind not in WHOLE for clip in clips])
        self.noise = np.array([clip.noise for clip in clips])
        self.best = np.array([one.best for one in found])
        self.whole = np.array([one.whole for one in found])
        self.free = np.array([one.free for one in found])
        self.begun = np.array([one.begun for one in found])
        heard = [norm(" ".join(word.word for word in one.words)) for one in found]
        self.errors = np.array([word_errors(b, a) for a, b in zip(heard, meant, strict=True)])
        self.said = np.array([len(words) for words in meant])
        self.exact = self.errors == 0
        self.counts = np.array([len(words) for words in heard])
        self.clip = np.repeat(np.arange(len(clips)), self.counts)
        words = [word for one in found for word in one.words]
        self.name = np.array([word.word == OTHER_NAME for word in words], bool)
        self.probability = np.array([word.probability for word in words])
        self.fit = np.array([features(word)[1] for word in words])
        pairs = zip(heard, meant, strict=True)
        self.right = np.array([ok for pair in pairs for ok in aligned(*pair)], bool)
        self.synthetic = ~self.people & ~self.outside
        self.totals = int(self.people.sum()), int(self.said[self.synthetic].sum())
        """Transmissions of people, and words of readbacks."""


@dataclass(frozen=True)
class Outcome:
    """What one set of prices comes to, certainty and refusal fitted to it."""

    calibration: Calibration
    people: int
    """Transmissions of people heard right and passed."""
    readbacks: int
    """Of tuning voices, likewise."""
    wrong: int
    """Of either, passed with a wrong word."""
    errors: int
    """Word errors of the readbacks; a refused one has as many as words."""
    outside: int
    """Sounds that are no call and passed."""
    words: int
    mistaken: int
    """Words that were heard, and those that were not said there."""
    error: float
    """Expected calibration error of these."""


def aligned(heard: Sequence[str], meant: Sequence[str]) -> list[bool]:
    """Whether each word heard was right, by its alignment with what was said."""
    right = [False] * len(heard)
    for block in difflib.SequenceMatcher(None, meant, heard, autojunk=False).get_matching_blocks():
        right[block.b : block.b + block.size] = [True] * block.size
    return right


def weigh(table: Table, phone: float, entry: float) -> Outcome:
    """Refuse strangers at these prices, then fit certainty and refusal to what is left."""
    stranger = table.free - phone * table.begun - entry
    called = (stranger < table.best) & (table.counts > 0)
    share = 1 / (1 + np.exp(np.clip(stranger - table.whole, -700, 700)))
    posterior = np.clip(table.probability * share[table.clip], 1e-6, 1 - 1e-6)
    odds, noise = np.log(posterior / (1 - posterior)), table.noise[table.clip]
    quiet = np.column_stack([np.ones(len(odds)), odds, table.fit])
    rows = np.column_stack([quiet, noise, noise * odds])
    fitted = (called & ~table.outside)[table.clip] & ~table.name
    weights = fit_odds(rows[fitted], table.right[fitted].astype(float))
    certainty = certainties(rows, weights)
    # See `Calibration.worth`: noise refuses no call.
    heard = np.where(table.name, 0.0, certainties(quiet, weights[:3]))
    each = np.bincount(table.clip, heard + FIT_SHARE * table.fit, len(table.counts))
    worth = np.where(called, each / np.maximum(table.counts, 1), -np.inf)
    least = refuse_below(worth[table.outside])
    passed = worth >= least
    right = passed & table.exact & ~table.outside
    bias, slope, fit, noise_bias, noise_slope = map(float, weights)
    settings = replace(table.settings, stranger_phone=phone, stranger_entry=entry)
    return Outcome(
        calibration=Calibration(
            settings,
            bias=bias,
            posterior=slope,
            fit=fit,
            noise=noise_bias,
            posterior_noise=noise_slope,
            least_worth=least,
        ),
        people=int((right & table.people).sum()),
        readbacks=int((right & table.synthetic).sum()),
        wrong=int((passed & ~table.exact & ~table.outside).sum()),
        errors=int(np.where(passed, table.errors, table.said)[table.synthetic].sum()),
        outside=int((passed & table.outside).sum()),
        words=int(fitted.sum()),
        mistaken=int((~table.right[fitted]).sum()),
        error=expected_calibration_error(certainty[fitted], table.right[fitted].astype(float)),
    )


def fit_odds(rows: Reals, right: Reals) -> Reals:
    """Logistic regression by Newton's method, with a weak prior that keeps it finite.

    Args:
        rows: (words, features), the first of them 1.
        right: (words) 1 where a word was right.

    Returns:
        (features) Weights.
    """
    weights: Reals = np.zeros(rows.shape[1])
    for _ in range(50):
        chance = 1 / (1 + np.exp(-np.clip(rows @ weights, -30, 30)))
        gradient = rows.T @ (right - chance) - 0.01 * weights
        curve = (rows * (chance * (1 - chance))[:, None]).T @ rows + 0.01 * np.eye(len(weights))
        change = np.linalg.solve(curve, gradient)
        weights = weights + change
        if np.abs(change).max() < 1e-6:
            break
    return weights


def certainties(rows: Reals, weights: Reals) -> Reals:
    """(words) The probability that each word is right."""
    return np.asarray(1 / (1 + np.exp(-np.clip(rows @ weights, -50, 50))))


def expected_calibration_error(certainties: Reals, right: Reals, bins: int = 10) -> float:
    """Mean distance of certainty and share right over equal bins. Source: Guo et al., ICML 2017."""
    places = np.minimum((certainties * bins).astype(int), bins - 1)
    gaps = [
        abs(certainties[places == b].mean() - right[places == b].mean()) * (places == b).mean()
        for b in range(bins)
        if (places == b).any()
    ]
    return float(sum(gaps))


def refuse_below(outside: Reals) -> float:
    """The least worth that lets at most `OUTSIDERS_PASSED` of the sounds through.

    Args:
        outside: Worth of each sound that is no call, minus infinity where no word was heard.
    """
    ranked = np.sort(outside)[::-1]
    allowed = int(len(outside) * OUTSIDERS_PASSED)
    if len(ranked) <= allowed or ranked[allowed] == -np.inf:
        return -100.0
    return (math.floor(1000 * ranked[allowed]) + 1) / 1000


def choose(outcomes: Sequence[Outcome], people: int, words: int) -> Outcome:
    """The best by the rule above.

    Args:
        outcomes: Of the same clips, that of the prices until now first.
        people: Transmissions of people among these.
        words: Words of the readbacks of tuning voices.
    """
    enough = max(outcome.people for outcome in outcomes) - ALIKE * people
    alike = [outcome for outcome in outcomes if outcome.people >= enough]
    best = min(alike, key=lambda outcome: outcome.errors)
    stays = outcomes[0] in alike and outcomes[0].errors - best.errors <= ALIKE * words
    return outcomes[0] if stays else best


def fit_prices(listener: Listener, clips: Sequence[Kept], begin: Settings) -> Settings:
    """Try the prices one after the other, each with all prices of strangers."""
    table = listener.hear(clips, begin)
    best = choose_strangers(table)
    tell("begin", best)
    for price, values in GRID.items():
        tried = [best]
        for value in values:
            settings = replace(best.calibration.settings, **{price: value})
            if value != getattr(best.calibration.settings, price):
                tried.append(choose_strangers(listener.hear(clips, settings)))
                tell(f"{price} {value:g}", tried[-1])
        best = choose(tried, *table.totals)
    return best.calibration.settings


def how_usual(clips: Sequence[Kept]) -> Reals:
    """Log-probability with which each output is named in readbacks, (outputs), the blank 0.

    Raises:
        ValueError: No readback is among the clips.
    """
    phones = [clip.phones for clip in clips if clip.kind == "sentence" and len(clip.phones)]
    mean = np.log(np.exp(np.concatenate(phones).astype(np.float64)).mean(axis=0))
    return np.asarray(mean - mean[BLANK])


def choose_strangers(table: Table) -> Outcome:
    """Weigh one search with all prices of strangers, those that it had first; give the best."""
    prices = [(phone, entry) for phone in STRANGER_PHONE for entry in STRANGER_ENTRY]
    own = table.settings.stranger_phone, table.settings.stranger_entry
    found = [weigh(table, phone, entry) for phone, entry in dict.fromkeys([own, *prices])]
    return choose(found, *table.totals)


def tell(what: str, outcome: Outcome) -> None:
    """Print what a set of prices comes to."""
    fitted = outcome.calibration
    settings = fitted.settings
    print(
        f"{what}: strangers {settings.stranger_phone:g} {settings.stranger_entry:g}, refused under"
        f" {fitted.least_worth:.3f}: people {outcome.people} right, readbacks {outcome.readbacks}"
        f" right, {outcome.errors} word errors; {outcome.wrong} wrong passed, {outcome.outside}"
        " outsiders passed",
        flush=True,
    )


def main() -> None:
    """Fit, print what was fitted, write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("phones", type=Path, nargs="+")
    parser.add_argument("--model", type=Path, default=MODEL)
    parser.add_argument("--prices", action="store_true", help="try other prices of the search")
    options = parser.parse_args()
    clips = [clip for path in options.phones for clip in load_kept(path)]
    counts = {kind: sum(c.kind == kind for c in clips) for kind in sorted({c.kind for c in clips})}
    if not counts.get("outside") or not counts.get("sentence"):
        parser.error("give readbacks and clips that are no call, see report --phones")
    path = options.model.with_suffix(".json")
    listener = Listener(clips)
    usual = tuple((USUAL_SHARE * how_usual(clips)).tolist())
    settings = replace(load_calibration(path).settings, usual=usual)
    if options.prices:
        clear = [clip for clip in clips if clip.kind != "sentence" or clip.noise < MOST_NOISE]
        settings = fit_prices(listener, clear[::2], settings)
    found = choose_strangers(listener.hear(clips, settings))
    tell("all clips", found)
    fitted = listener.fit_sharpness(clips, found.calibration)
    print(f"{found.words} words, {found.mistaken} wrong, calibration error {found.error:.4f}")
    print(
        f"bias {fitted.bias:.3f}, posterior {fitted.posterior:.3f}, fit {fitted.fit:.3f}; in noise"
        f" {fitted.noise:+.3f}, {fitted.posterior_noise:+.3f}; readings {fitted.sharp}"
    )
    card = json.loads(path.read_text("utf-8")) if path.is_file() else {}
    card.pop("calibration", None)
    card["fitted_on"] = {
        "clips": counts,
        "people_right": found.people,
        "readbacks_right": found.readbacks,
        "readbacks_word_errors": found.errors,
        "passed_wrong": found.wrong,
        "outside_passed": found.outside,
        "words": found.words,
        "wrong": found.mistaken,
        "expected_calibration_error": round(found.error, 4),
        "files": [path.name for path in options.phones],
    }
    save_calibration(path, fitted, card)


if __name__ == "__main__":
    main()
