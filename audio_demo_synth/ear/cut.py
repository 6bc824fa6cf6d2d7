"""Cut words and short runs of words out of recorded people's sentences, into training shards.

    python -m audio_demo_synth.ear.cut SPEECH OUT

Digits and other words of the calls are said alone by few people; inside sentences many say them.
The shipped ear finds where each word of a training clip is (CTC forced alignment: the most probable
path through the text's phones and blanks; Graves et al., ICML 2006), a word ends at the quietest
10 ms before the next, and writes ``people_cut_N.npz``: single words, runs of two to four words, and
single words of one speaker joined. The text comes from the transcript, never from what is heard.
"""

import argparse
import random
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from audio_demo_synth.ear.people import (
    Row,
    load_split,
    read_clip,
    read_manifest,
    select,
    splice,
)
from audio_demo_synth.ear.shards import SAMPLE_RATE_HZ, Clip, save_shards
from audio_demo_synth.ear.vocabulary import DIGITS, LETTERS, PHRASE_WORDS, SIDES, load_dictionary
from readback.speech.ear.network import Network
from readback.speech.ear.phones import PHONES

SOURCES = ("speechocean762", "coffee_orders", "ljspeech")
"""Those with sentences; the speakers of coffee orders are not named, so theirs are never joined."""
CALL_WORDS = frozenset([*DIGITS, *LETTERS, *SIDES, *PHRASE_WORDS])
MOST_OF_A_WORD = 100
"""No more single clips of a word that is no digit: `with` and `this` would drown the others."""
LEAST_PHONES = 3
"""In a word that is no digit: shorter ones are swallowed inside a sentence."""
LEAST_WORTH = -1.2
"""Mean log-probability of a word's phones under which it was said otherwise than transcribed."""
LEAST_FALL_DB = 10.0
"""How far under the word's loudest the sound falls at both ends of a word that is cut out alone."""
FRAME = SAMPLE_RATE_HZ // 100
JOINED = 1200
"""Utterances joined from single digits, and as many from any single words."""

Samples = npt.NDArray[np.int16]


@dataclass(frozen=True)
class Word:
    """A word in a clip: samples ``start`` to ``end``, and whether its ends are quiet."""

    text: str
    start: int
    end: int
    phones: int
    worth: float
    stands_alone: bool


def align(phones: npt.NDArray[np.float32], label: Sequence[int]) -> list[int]:
    """Step of each phone of a text on the most probable path.

    Args:
        phones: (steps, phones) log-probabilities; column 0 is the blank.
        label: The text's phones.

    Returns:
        The step at which each phone is most probable while the path says it; none where the sound
        is too short for the text.
    """
    states = np.zeros(2 * len(label) + 1, int)
    states[1::2] = label
    skips = np.zeros(len(states), bool)
    skips[3::2] = states[3::2] != states[1:-2:2]
    score = np.full(len(states), -np.inf)
    score[:2] = phones[0, states[:2]]
    before = np.zeros((len(phones), len(states)), np.int8)
    for step in range(1, len(phones)):
        ways = np.stack([score, np.r_[-np.inf, score[:-1]], np.r_[-np.inf, -np.inf, score[:-2]]])
        ways[2, ~skips] = -np.inf
        before[step] = ways.argmax(0)
        score = ways.max(0) + phones[step, states]
    at = len(states) - 1 if score[-1] > score[-2] else len(states) - 2
    if not np.isfinite(score[at]):
        return []
    path = np.empty(len(phones), int)
    for step in range(len(phones) - 1, -1, -1):
        path[step] = at
        at -= int(before[step, at])
    said = [np.flatnonzero(path == 2 * place + 1) for place in range(len(label))]
    return [int(steps[phones[steps, p].argmax()]) for steps, p in zip(said, label, strict=True)]


def words_in(
    samples: Samples, text: str, network: Network, lexicon: Mapping[str, str]
) -> list[Word]:
    """Find the words of a text in a clip; none if a word is unknown or the clip too short."""
    words = text.split()
    if any(word not in lexicon for word in words):
        return []
    spelled = [[PHONES.index(phone) for phone in lexicon[word].split()] for word in words]
    heard = network.hear(samples.astype(np.float32) / 32768)
    label = [phone for word in spelled for phone in word]
    steps = align(heard, label)
    if not steps:
        return []
    count = len(samples) // FRAME
    power = (samples[: count * FRAME].astype(float).reshape(count, FRAME) ** 2).mean(1) + 1.0
    firsts = np.cumsum([0, *map(len, spelled)])
    cuts = [0]
    for place in firsts[1:-1]:
        low, high = steps[place - 1] * 2 + 1, steps[place] * 2 + 1  # a step is two frames
        cuts.append((low + int(power[low : high + 1].argmin())) * FRAME)
    cuts.append(len(samples))
    found = []
    for number, word in enumerate(words):
        own = range(firsts[number], firsts[number + 1])
        worth = float(np.mean([heard[steps[place], label[place]] for place in own]))
        start, end = cuts[number], cuts[number + 1]
        within = power[start // FRAME : max(end // FRAME, start // FRAME + 1)]
        edges = max(within[0], within[-1])
        fall = 10 * np.log10(within.max() / edges)
        found.append(Word(word, start, end, len(own), worth, bool(fall > LEAST_FALL_DB)))
    return found


def pieces(
    samples: Samples, words: Sequence[Word], rng: random.Random
) -> Iterator[tuple[Samples, str]]:
    """Single words of the calls, and one run of two to four words, of one clip."""
    good = [word.worth > LEAST_WORTH for word in words]
    for word, kept in zip(words, good, strict=True):
        long_enough = word.end - word.start > SAMPLE_RATE_HZ * 0.15
        clear = word.text in DIGITS or (
            word.stands_alone and word.phones >= LEAST_PHONES and word.text in CALL_WORDS
        )
        if kept and long_enough and clear:
            yield samples[word.start : word.end], word.text
    length = rng.randint(2, 4)
    if len(words) > length:
        first = rng.randrange(len(words) - length + 1)
        run = words[first : first + length]
        if all(good[first : first + length]):
            yield samples[run[0].start : run[-1].end], " ".join(word.text for word in run)


def cut_share(speech: Path, rows: Sequence[Row], seed: int) -> list[Clip]:
    """Cut one job's clips."""
    rng, network, lexicon = random.Random(seed), Network(), load_dictionary()
    clips = []
    for row in rows:
        samples = read_clip(speech / row["file"])
        speaker = f"{row['source']}-{row['speaker']}"
        words = words_in(samples, row["text"], network, lexicon)
        for cut, text in pieces(samples, words, rng):
            kind = "cut_digit" if text in DIGITS else "cut"
            clips.append((cut, text, f"people:{kind}:{speaker}"))
    return clips


def thin(clips: Sequence[Clip]) -> list[Clip]:
    """Leave out single clips of a word beyond `MOST_OF_A_WORD`."""
    seen: Counter[str] = Counter()
    kept = []
    for clip in clips:
        seen[clip[1]] += 1
        if clip[1] in DIGITS or " " in clip[1] or seen[clip[1]] <= MOST_OF_A_WORD:
            kept.append(clip)
    return kept


def main() -> None:
    """Cut every training sentence."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("speech", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--jobs", type=int, default=2)
    options = parser.parse_args()
    rows = select(read_manifest(options.speech), load_split(), "training")
    rows = [row for row in rows if row["source"] in SOURCES and " " in row["text"]]
    shares = [rows[job :: options.jobs] for job in range(options.jobs)]
    speech = [options.speech] * options.jobs
    with ProcessPoolExecutor(options.jobs) as pool:
        found = pool.map(cut_share, speech, shares, range(options.jobs))
        clips = [clip for share in found for clip in share]
    random.Random(4).shuffle(clips)
    clips = thin(clips)
    singles = [clip for clip in clips if " " not in clip[1]]
    named = [clip for clip in singles if "coffee_orders" not in clip[2]]
    digits = [clip for clip in named if clip[1] in DIGITS]
    for seed, words in ((8, digits), (9, named)):
        clips += splice(words, min(JOINED, 2 * len(words)), seed=seed)
    random.Random(5).shuffle(clips)
    options.out.mkdir(parents=True, exist_ok=True)
    save_shards(options.out, "people_cut", clips)
    print(
        f"{len(rows)} clips: {len(singles)} single words, {len(digits)} of them digits of named"
        f" speakers; {len(clips)} in all"
    )


if __name__ == "__main__":
    main()
