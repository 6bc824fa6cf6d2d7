"""Measure the ear and pocketsphinx side by side, on people and on synthetic voices.

    python -m audio_demo_synth.ear.report people SPEECH --part reporting [--spelling FOLDER]
    python -m audio_demo_synth.ear.report sentences SHARD.npz
    python -m audio_demo_synth.ear.report readbacks FOLDER
    python -m audio_demo_synth.ear.report outside FOLDER --calls FOLDER --phones OUT.npz
    options: --model FILE.onnx --engines ear pocketsphinx --levels clean 20 10 i10 --json OUT.json
``--part training --source fsdd`` is for a model that was trained ``--without fsdd``.

People: single words (one of the digits, of the spelling words, of the commands) and words of
one speaker joined, three to five, in a loop over all of them; each with its own small grammar, the
same for both engines. FOLDER holds ``digits/N.wav`` and ``phonetic/X_p.wav`` (Debian
``asterisk-core-sounds-en-wav``). Sentences: the whole grammar of the project. Numbers are counts
with 95 % intervals (Wilson); noise is `readback.speech.channel`, seeded by the clip's number.
Readbacks are a folder that ``measure_set.py`` made; outside is all that is no call, with calls of
that folder played backwards. ``--phones`` measures nothing and keeps what the network names, for
`calibrate`.
"""

import argparse
import json
import math
import random
import time
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from audio_demo_synth.ear.kept import Kept, save_kept
from audio_demo_synth.ear.people import load_split, part_of, read_clip, read_manifest
from audio_demo_synth.ear.shards import SAMPLE_RATE_HZ, Clip, load_shard, trim
from audio_demo_synth.ear.vocabulary import DIGITS, LETTERS
from readback.phraseology.lexicon import load_lexicons
from readback.search import Arc, SearchGrammar
from readback.speech.channel import clean, interphone, vhf_radio
from readback.speech.ear.graph import SAME_VALUE
from readback.speech.ear.recogniser import noise_in
from readback.speech.segments import Segmenter

COMMANDS = ["up", "down", "left", "right", "go"]
DIGIT_WORDS = DIGITS[:10]


@dataclass(frozen=True)
class Task:
    """One clip to hear with one grammar."""

    kind: str
    samples: npt.NDArray[np.int16]
    text: str
    voice: str


@dataclass(frozen=True)
class Result:
    """What one engine heard of one task at one level."""

    engine: str
    level: str
    kind: str
    voice: str
    text: str
    heard: str
    certainties: tuple[float, ...]
    fits: tuple[float, ...] = ()
    posteriors: tuple[float, ...] = ()


def word_grammar(words: Sequence[str], most: int) -> SearchGrammar:
    """A grammar of one to ``most`` of these words, one or any number, said as in the lexicon."""
    lexicon = load_lexicons(())
    loop = 0 if most > 1 else 1
    arcs = [Arc(0, 1, word) for word in words]
    if most > 1:
        arcs.append(Arc(1, loop, None))
    body = " | ".join(words)
    more = "+" if most > 1 else ""
    return SearchGrammar(
        jsgf=f"#JSGF V1.0;\ngrammar words;\npublic <transmission> = ({body}){more};\n",
        pronunciations={word: lexicon[word] for word in words},
        phrases=tuple(words),
        arcs=tuple(arcs),
        final_states=frozenset({1}),
    )


def grammar_of(kind: str) -> SearchGrammar:
    """The grammar that a kind of task is heard with."""
    if kind == "sentence":
        from readback.phraseology.grammar import load_grammar

        return load_grammar().search()
    words = {
        "digit": DIGIT_WORDS,
        "letter": LETTERS,
        "command": COMMANDS,
        "digits": DIGIT_WORDS,
        "composed": [*DIGIT_WORDS, *LETTERS],
    }[kind]
    return word_grammar(words, 1 if kind in ("digit", "letter", "command") else 9)


def people_tasks(speech: Path, part: str, source: str | None = None) -> Iterator[Task]:
    """Single words and digit strings of one part's speakers, and words of a speaker joined."""
    split = load_split()
    singles: dict[str, list[Task]] = defaultdict(list)
    for row in read_manifest(speech):
        if part_of(row, split) != part or source not in (None, row["source"]):
            continue
        words = row["text"].split()
        if all(word in DIGIT_WORDS for word in words):
            kind = "digit" if len(words) == 1 else "digits"
        elif row["text"] in COMMANDS:
            kind = "command"
        else:
            continue
        task = Task(kind, read_clip(speech / row["file"]), row["text"], row["speaker"])
        yield task
        if kind == "digit":
            singles[row["speaker"]].append(task)
    yield from joined(singles, 120)


def spelling_tasks(folder: Path) -> Iterator[Task]:
    """Digits and spelling words of one woman (Debian asterisk-core-sounds-en-wav, CC-BY-SA-3.0)."""
    names = [(folder / f"digits/{n}.wav", "digit", DIGITS[n]) for n in range(10)]
    names += [(folder / f"phonetic/{w[0]}_p.wav", "letter", w) for w in LETTERS]
    singles: dict[str, list[Task]] = defaultdict(list)
    for path, kind, text in names:
        task = Task(kind, read_wav(path), text, "allison")
        yield task
        singles["allison"].append(task)
    yield from joined(singles, 60)


def read_wav(path: Path) -> npt.NDArray[np.int16]:
    """Read a WAV file of any rate at 16 kHz, trimmed."""
    import soundfile
    import soxr

    samples, rate = soundfile.read(path, dtype="float32")
    samples = trim(soxr.resample(samples, rate, SAMPLE_RATE_HZ))
    return (samples / np.abs(samples).max() * 16_000).astype(np.int16)


def joined(singles: dict[str, list[Task]], count: int) -> Iterator[Task]:
    """Join three to five words of one speaker, 40 ms to 100 ms apart."""
    rng = random.Random(9)
    voices = sorted(voice for voice, tasks in singles.items() if len(tasks) >= 3)
    for number in range(count if voices else 0):
        voice = voices[number % len(voices)]
        words = [rng.choice(singles[voice]) for _ in range(rng.randint(3, 5))]
        pieces = []
        for word in words:
            near = trim(word.samples.astype(np.float32), margin_s=0.03)
            gap = np.zeros(int(rng.uniform(0.04, 0.1) * SAMPLE_RATE_HZ), np.int16)
            pieces += [near.astype(np.int16), gap]
        yield Task("composed", np.concatenate(pieces), " ".join(w.text for w in words), voice)


def sentence_tasks(clips: Iterable[Clip]) -> Iterator[Task]:
    """Sentences for the whole grammar."""
    for samples, text, voice in clips:
        yield Task("sentence", samples, text, voice)


def readback_tasks(folder: Path) -> Iterator[Task]:
    """Recordings of whole calls with their labels, see `readback.measure.labels`."""
    from readback.measure.labels import read_labels
    from readback.measure.observe import read_samples

    for one in read_labels(folder):
        words = " ".join(word.strip(",.;:!?") for word in one.readback.split())
        yield Task("sentence", to_steps(read_samples(one.file)), words, one.voice)


def outside_tasks(folder: Path, calls: Path | None) -> Iterator[Task]:
    """All that `readback measure --tune` takes for no call: speech, backwards too, made sounds."""
    from readback.measure.labels import read_labels
    from readback.measure.outside import gather_sounds, read_outside

    paths = [one.file for one in read_labels(calls)] if calls else []
    for sound in gather_sounds(read_outside(folder), paths, tuning=True):
        yield Task("outside", to_steps(sound.samples), "", sound.kind)


def to_steps(samples: npt.NDArray[np.floating]) -> npt.NDArray[np.int16]:
    """Bring samples within -1 and 1 to 16 bits."""
    return (np.clip(samples, -1, 1) * 32767).astype(np.int16)


def keep_phones(tasks: Sequence[Task], levels: Sequence[str], model: Path | None) -> Iterator[Kept]:
    """Run every task at every level through the ear's network alone."""
    ear = make_engine("ear", word_grammar(DIGIT_WORDS, 1), model)
    for level in levels:
        for number, task in enumerate(tasks):
            pcm = spoil(task.samples, level, seed=number)
            noise = noise_in(speech_in(pcm))
            yield Kept(task.kind, level, task.voice, task.text, ear.phones(pcm), noise)


def speech_in(pcm: bytes) -> bytes:
    """Cut away what is before and after speech, as it is where noise is measured in use."""
    segmenter = Segmenter()
    found = [*segmenter.feed(np.frombuffer(pcm, "<i2")), *segmenter.finish()]
    return b"".join(segment.pcm.tobytes() for segment in found) or pcm


def spoil(samples: npt.NDArray[np.int16], level: str, seed: int) -> bytes:
    """Send a clip through a channel: ``clean``, ``20`` (radio, dB) or ``i10`` (interphone, dB)."""
    silence = np.zeros(int(0.2 * SAMPLE_RATE_HZ), np.float32)
    sound = np.concatenate([silence, samples.astype(np.float32) / 32768, silence])
    if level == "clean":
        out = clean(sound)
    elif level.startswith("i"):
        out = interphone(sound, float(level[1:]), seed)
    else:
        out = vhf_radio(sound, float(level), seed)
    return bytes((np.clip(out, -1, 1) * 32767).astype("<i2").tobytes())


def make_engine(engine: str, grammar: SearchGrammar, model: Path | None) -> Any:
    """Make a recogniser in this process."""
    if engine == "ear":
        from readback.speech.ear.network import MODEL
        from readback.speech.ear.recogniser import EarRecogniser

        return EarRecogniser(grammar, model=model or MODEL)
    from readback.speech.pocketsphinx_engine import PocketSphinxRecogniser

    return PocketSphinxRecogniser(grammar)


def measure(
    tasks: Sequence[Task], engines: Sequence[str], levels: Sequence[str], model: Path | None
) -> list[Result]:
    """Hear every task with every engine at every level."""
    results = []
    for kind in sorted({task.kind for task in tasks}):
        grammar = grammar_of(kind)
        for engine in engines:
            recogniser = make_engine(engine, grammar, model)
            spent = sound = 0.0
            for level in levels:
                for number, task in enumerate(tasks):
                    if task.kind != kind:
                        continue
                    pcm = spoil(task.samples, level, seed=number)
                    began = time.process_time()
                    facts = hear(recogniser, engine, pcm)
                    spent += time.process_time() - began
                    sound += len(pcm) / 2 / SAMPLE_RATE_HZ
                    results.append(Result(engine, level, kind, task.voice, task.text, *facts))
            print(f"{kind} {engine}: {spent / sound:.4f} of real time", flush=True)
    return results


def hear(recogniser: Any, engine: str, pcm: bytes) -> tuple[Any, ...]:
    """Words, certainties, and for the ear what the certainty was made of."""
    if engine != "ear":
        words = recogniser.recognise(pcm).words
        return " ".join(w.word for w in words), tuple(w.certainty or 0.0 for w in words)
    heard = recogniser.hear(pcm)
    certainty = recogniser.calibration.certainty
    return (
        " ".join(word.word for word in heard),
        tuple(certainty(word) for word in heard),
        tuple(word.fit for word in heard),
        tuple(word.probability for word in heard),
    )


def norm(text: str) -> list[str]:
    """Words by what they mean: ``niner`` as ``nine``."""
    return [SAME_VALUE.get(word, word) for word in text.split()]


def scored(text: str) -> list[str]:
    """Words among which errors are counted: ``back track`` is the one word that it sounds like."""
    return norm(text.replace("back track", "backtrack"))


def word_errors(reference: Sequence[str], hypothesis: Sequence[str]) -> int:
    """Substitutions, deletions and insertions."""
    row = list(range(len(hypothesis) + 1))
    for i, word in enumerate(reference, 1):
        before, row[0] = row[0], i
        for j, other in enumerate(hypothesis, 1):
            changed = before + (word != other)
            before, row[j] = row[j], min(row[j] + 1, row[j - 1] + 1, changed)
    return row[-1]


def wilson(hits: int, total: int) -> tuple[float, float]:
    """95 % interval of a share. Source: Wilson, JASA 22 (1927)."""
    if not total:
        return 0.0, 1.0
    z, share = 1.96, hits / total
    middle = share + z * z / 2 / total
    width = z * math.sqrt(share * (1 - share) / total + z * z / 4 / total / total)
    return (middle - width) / (1 + z * z / total), (middle + width) / (1 + z * z / total)


def summarise(results: Sequence[Result], by_voice: bool) -> Iterator[str]:
    """One line for each kind, engine and level."""
    groups: dict[tuple[str, ...], list[Result]] = defaultdict(list)
    for result in results:
        source = (result.voice if by_voice else result.voice.split("-")[0]) if by_voice else "all"
        groups[result.kind, result.engine, result.level, source].append(result)
    for (kind, engine, level, voice), found in sorted(groups.items()):
        pairs = [(scored(r.text), scored(r.heard)) for r in found]
        whole = sum(text == heard for text, heard in pairs)
        words = sum(len(text) for text, _ in pairs)
        errors = sum(word_errors(text, heard) for text, heard in pairs)
        low, high = wilson(whole, len(found))
        low_e, high_e = wilson(min(errors, words), words)
        yield (
            f"{kind:9s} {engine:12s} {level:6s} {voice:18s} whole right {whole}/{len(found)}"
            f" {100 * whole / len(found):.1f} % ({100 * low:.1f}-{100 * high:.1f}),"
            f" word errors {errors}/{words} {100 * errors / words:.1f} %"
            f" ({100 * low_e:.1f}-{100 * high_e:.1f})"
        )


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", choices=["people", "sentences", "readbacks", "outside"])
    parser.add_argument("data", type=Path)
    parser.add_argument(
        "--part", choices=["training", "choosing", "reporting"], default="reporting"
    )
    parser.add_argument("--source", help="people of this source alone")
    parser.add_argument("--spelling", type=Path)
    parser.add_argument("--model", type=Path)
    parser.add_argument("--engines", nargs="+", default=["ear", "pocketsphinx"])
    parser.add_argument("--levels", nargs="+", default=["clean", "20", "10"])
    parser.add_argument("--by-voice", action="store_true")
    parser.add_argument("--json", type=Path)
    parser.add_argument("--calls", type=Path)
    parser.add_argument("--phones", type=Path)
    options = parser.parse_args()
    if options.what == "people":
        tasks = list(people_tasks(options.data, options.part, options.source))
        if options.spelling:
            tasks += spelling_tasks(options.spelling)
    elif options.what == "readbacks":
        tasks = list(readback_tasks(options.data))
    elif options.what == "outside":
        tasks = list(outside_tasks(options.data, options.calls))
    else:
        tasks = list(sentence_tasks(load_shard(options.data)))
    if options.phones:
        save_kept(options.phones, keep_phones(tasks, options.levels, options.model))
        print(f"{options.phones}: {len(tasks)} clips at {len(options.levels)} levels")
        return
    if options.what == "outside":
        parser.error("outside is measured by readback measure; give --phones FILE.npz")
    results = measure(tasks, options.engines, options.levels, options.model)
    print("\n".join(summarise(results, options.by_voice)))
    if options.json:
        options.json.write_text(json.dumps([asdict(result) for result in results]), "utf-8")


if __name__ == "__main__":
    main()
