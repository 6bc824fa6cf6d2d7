"""Words cut out of sentences: where they are, and which are kept."""

import csv
import itertools
import random
from pathlib import Path

import numpy as np
import pytest

from audio_demo_synth.ear.cut import Word, align, pieces, thin, words_in
from audio_demo_synth.ear.people import read_clip
from readback.phraseology.lexicon import load_lexicons
from readback.speech.ear.network import Network

RATE = 16_000
MEASURE_SET = Path(__file__).parents[2] / "audio_demo_synth/measure_set"


def collapse(path):
    """What a CTC path says: repeats joined, blanks left out (Graves et al., ICML 2006)."""
    return [p for p, before in zip(path, [0, *path[:-1]], strict=True) if p and p != before]


@pytest.mark.parametrize("label", [[1], [1, 2], [1, 1], [2, 1, 2]])
def test_a_text_is_aligned_on_its_most_probable_path(label):
    rng = np.random.default_rng(len(label))
    for _ in range(20):
        phones = np.log(rng.dirichlet(np.ones(3), 6)).astype(np.float32)
        paths = [p for p in itertools.product(range(3), repeat=6) if collapse(p) == label]
        best = max(paths, key=lambda path: sum(phones[t, p] for t, p in enumerate(path)))

        steps = align(phones, label)

        assert [best[step] for step in steps] == label
        assert steps == sorted(set(steps))


def test_a_sound_too_short_for_its_text_is_not_aligned():
    assert align(np.zeros((2, 3), np.float32), [1, 1]) == []


def test_a_word_ends_in_the_pause_after_it():
    lexicon = {word: said[0] for word, said in load_lexicons(()).items()}
    network = Network()
    with (MEASURE_SET / "labels.csv").open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["voice"] == "flite:rms"]
    rows = [r for r in rows if set(r["readback"].replace(",", "").split()) <= set(lexicon)][:6]
    assert len(rows) == 6
    pause = np.zeros(RATE // 2, np.int16)
    for one, other in itertools.pairwise(rows):
        sounds = [read_clip(MEASURE_SET / row["file"]) for row in (one, other)]
        texts = [row["readback"].replace(",", "") for row in (one, other)]

        words = words_in(
            np.concatenate([sounds[0], pause, sounds[1]]), " ".join(texts), network, lexicon
        )

        assert [word.text for word in words] == " ".join(texts).split()
        assert all(a.end == b.start for a, b in itertools.pairwise(words))
        last = words[len(texts[0].split()) - 1]
        margin = RATE // 10  # what `read_clip` leaves of silence at either end
        assert len(sounds[0]) - margin <= last.end <= len(sounds[0]) + len(pause) + margin
        assert last.worth > -1.2


def test_a_word_that_the_dictionary_lacks_leaves_its_clip_out():
    assert words_in(np.zeros(RATE, np.int16), "hold zzyzx", Network(), {"hold": "HH OW L D"}) == []


def word(text, start, *, worth=-0.1, alone=True, phones=3):
    return Word(text, start, start + RATE // 2, phones, worth, alone)


def test_digits_are_cut_out_always_and_other_words_where_their_ends_are_quiet():
    samples = np.arange(3 * RATE, dtype=np.int32).astype(np.int16)
    words = [
        word("two", 0, alone=False),
        word("left", 8000, alone=False),
        word("hold", 16000),
        word("elephant", 24000),
        word("nine", 32000, worth=-3.0),
        word("to", 40000, phones=2),
    ]

    cut = list(pieces(samples, words, random.Random(1)))

    assert [text for _, text in cut if " " not in text] == ["two", "hold"]
    np.testing.assert_array_equal(cut[0][0], samples[:8000])


def test_a_run_holds_only_words_that_were_said_as_written():
    samples = np.zeros(3 * RATE, np.int16)
    words = [word(f"w{n}", 8000 * n, worth=-3.0 if n == 3 else -0.1) for n in range(6)]

    runs = [text for seed in range(60) for _, text in pieces(samples, words, random.Random(seed))]

    assert len(runs) > 10
    assert all(2 <= len(text.split()) <= 4 and "w3" not in text for text in runs)


def test_single_words_are_thinned_but_digits_and_runs_are_not():
    clips = [(np.zeros(1, np.int16), text, "v") for text in ["hold"] * 120 + ["two"] * 120]

    kept = [text for _, text, _ in thin([*clips, (np.zeros(1, np.int16), "hold two", "v")])]

    assert (kept.count("hold"), kept.count("two"), kept.count("hold two")) == (100, 120, 1)
