"""Speak sentences of the project's grammar with voices that training never heard.

    python -m audio_demo_synth.ear.sentences OUT.npz --voices flite:rms kokoro:bm_daniel \
        --count 60 --seed 71 --kokoro DIR [--unlike TEXTS.json]

Each voice speaks its own sentences, none of which stands in the training texts.
"""

import argparse
import json
import random
from collections import defaultdict
from pathlib import Path

import numpy as np

from audio_demo_synth.ear.shards import Clip, save_shard
from audio_demo_synth.ear.speak import Kokoro, Samples, finish, resample, run_program
from readback.errors import InputError
from readback.phraseology.generator import element_sets, say_call
from readback.phraseology.grammar import Grammar, load_grammar
from readback.phraseology.samples import random_callsign, random_value
from readback.search import SearchGrammar


def make_sentence(grammar: Grammar, rng: random.Random) -> str:
    """Make one call of the grammar with random values, mostly with a callsign after it."""
    name = rng.choice(sorted(name for name in grammar.calls if name != "callsign"))
    wanted = rng.choice(element_sets(grammar, name))
    values = {element: random_value(grammar, element, rng) for element in wanted}
    words = say_call(grammar, name, values, rng, rng.choice(["icao", "faa", "uk"]))
    if "callsign" not in values and rng.random() < 0.7:
        words += say_call(grammar, "callsign", {"callsign": random_callsign(rng)}, rng)
    return " ".join(words)


def is_sentence(search: SearchGrammar, text: str) -> bool:
    """Whether the word graph has the text as a whole transmission."""
    silent: dict[int, set[int]] = defaultdict(set)
    spoken: dict[tuple[int, str], set[int]] = defaultdict(set)
    for arc in search.arcs:
        if arc.word is None:
            silent[arc.source].add(arc.target)
        else:
            spoken[arc.source, arc.word].add(arc.target)

    def reached(states: set[int]) -> set[int]:
        waiting = list(states)
        while waiting:
            fresh = silent[waiting.pop()] - states
            states = states | fresh
            waiting += fresh
        return states

    states = reached({0})
    for word in text.split():
        states = reached({s for state in states for s in spoken[state, word]})
    return bool(states & search.final_states)


def make_sentences(count: int, seed: int, unlike: set[str]) -> list[str]:
    """Make different sentences, every word of which the lexicon can say."""
    grammar, rng = load_grammar(), random.Random(seed)
    search = grammar.search()
    found: dict[str, None] = {}
    while len(found) < count:
        try:
            sentence = make_sentence(grammar, rng)
        except InputError:
            continue
        # A callsign may follow a call on the radio, none on the interphone.
        fits = 1 < len(sentence.split()) < 22 and is_sentence(search, sentence)
        if fits and sentence not in unlike:
            found[sentence] = None
    return list(found)


class Speaker:
    """Speaks with any of the voices, each engine loaded once."""

    def __init__(self, kokoro: Path | None) -> None:
        self._folder = kokoro
        self._kokoro: Kokoro | None = None

    def speak(self, text: str, voice: str, speed: float) -> Samples:
        """Speak a text; ``voice`` is ``engine:name``."""
        engine, name = voice.split(":")
        if engine == "flite":
            stretch = f"duration_stretch={1 / speed:.3f}"
            command = ["flite", "-voice", name, "--setf", stretch, "-t", text, "-o", "/dev/stdout"]
            return run_program(command)
        if engine == "espeak":
            rate = str(int(150 * speed))
            return run_program(["espeak-ng", "-v", name, "-s", rate, "--stdout", text])
        from hibari import Hibari

        hibari = Hibari()
        if engine == "hibari":
            audio, rate_hz = np.asarray(hibari(text, speed=speed)), 24_000
            return resample(audio.astype(np.float32), rate_hz)
        if self._kokoro is None:
            self._kokoro = Kokoro(self._folder or Path())
        return self._kokoro.speak(" ".join(hibari.phonemize(text)), name, speed)


def main() -> None:
    """Write one shard."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("out", type=Path)
    parser.add_argument("--voices", nargs="+", required=True)
    parser.add_argument("--count", type=int, default=60, help="sentences of each voice")
    parser.add_argument("--seed", type=int, default=71)
    parser.add_argument("--kokoro", type=Path)
    parser.add_argument("--unlike", type=Path)
    options = parser.parse_args()
    heard = set(json.loads(options.unlike.read_text("utf-8"))["texts"]) if options.unlike else set()
    texts = make_sentences(options.count * len(options.voices), options.seed, heard)
    rng, speaker = random.Random(options.seed), Speaker(options.kokoro)
    clips: list[Clip] = []
    for number, text in enumerate(texts):
        voice = options.voices[number % len(options.voices)]
        samples = finish(speaker.speak(text, voice, rng.uniform(0.9, 1.15)))
        if samples is not None:
            clips.append((samples, text, voice))
    save_shard(options.out, clips)
    print(f"{options.out}: {len(clips)} clips of {len(options.voices)} voices")


if __name__ == "__main__":
    main()
