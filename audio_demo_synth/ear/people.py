"""Recorded people: who is for training, choosing and reporting, and clips packed into shards.

    python -m audio_demo_synth.ear.people split SPEECH           writes split.json beside this file
    python -m audio_demo_synth.ear.people pack SPEECH OUT        training and choosing shards
    python -m audio_demo_synth.ear.people list SPEECH            files that `pack` reads, one a line

SPEECH is a folder with ``manifest.csv`` (file, text, speaker, seconds, source, licence,
text_source) and the clips that it names. Only named speakers choose or report; a speaker is in
one part alone.
"""

import argparse
import csv
import hashlib
import json
import random
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np
import numpy.typing as npt

from audio_demo_synth.ear.shards import SAMPLE_RATE_HZ, Clip, save_shard, save_shards, trim

SPLIT_FILE = Path(__file__).with_name("split.json")
SHARES = {"speech_commands": (0.12, 0.10), "speechocean762": (0.10, 0.10)}
"""Source -> shares of its speakers that report and that choose; the rest trains."""
REPORTING_SPEAKERS = ["fsdd-nicolas"]
"""Of three FSDD speakers two train; the one with the strongest accent reports."""
MOST_CLIPS = {"wake_words": 1200, "precise_community": 600}
"""Six wake words 2,293 times teach little but many voices: no more than these."""
SPLICED = {"fsdd": 1600, "speech_commands": 2400, "custom_keywords": 0}
"""Source -> utterances joined from single words of one speaker."""

Row = Mapping[str, str]


def read_manifest(speech: Path) -> list[Row]:
    """Read the rows that have a text and whose clip is there."""
    with (speech / "manifest.csv").open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["text"]]
    return [row for row in rows if (speech / row["file"]).exists()]


def split_speakers(rows: Iterable[Row]) -> dict[str, list[str]]:
    """Part -> its speakers, by a hash of the name, so that more clips move nobody."""
    parts: dict[str, set[str]] = {"reporting": set(REPORTING_SPEAKERS), "choosing": set()}
    for row in rows:
        report, choose = SHARES.get(row["source"], (0.0, 0.0))
        place = int(hashlib.sha256(row["speaker"].encode()).hexdigest()[:8], 16) / 2**32
        if place < report:
            parts["reporting"].add(row["speaker"])
        elif place < report + choose:
            parts["choosing"].add(row["speaker"])
    return {part: sorted(speakers) for part, speakers in parts.items()}


def load_split() -> dict[str, list[str]]:
    """Read the committed split: ``reporting`` and ``choosing`` speakers."""
    split: dict[str, list[str]] = json.loads(SPLIT_FILE.read_text("utf-8"))
    return split


def part_of(row: Row, split: Mapping[str, Sequence[str]]) -> str:
    """Which part a clip belongs to: ``training``, ``choosing`` or ``reporting``."""
    for part, speakers in split.items():
        if row["speaker"] in speakers:
            return part
    return "training"


def select(rows: Sequence[Row], split: Mapping[str, Sequence[str]], part: str) -> list[Row]:
    """The clips of one part, crowded sources thinned."""
    rng = random.Random(5)
    chosen = [row for row in rows if part_of(row, split) == part]
    for source, most in MOST_CLIPS.items():
        crowd = [row for row in chosen if row["source"] == source]
        drop = {row["file"] for row in rng.sample(crowd, max(0, len(crowd) - most))}
        chosen = [row for row in chosen if row["file"] not in drop]
    return chosen


def read_clip(path: Path) -> npt.NDArray[np.int16]:
    """Read one clip at 16 kHz, trimmed, its loudest sample at half scale."""
    import soundfile

    samples, rate = soundfile.read(path, dtype="float32")
    if rate != SAMPLE_RATE_HZ or samples.ndim != 1:
        raise ValueError(f"{path}: {rate} Hz, {samples.ndim} channels; 16 kHz mono is read.")
    samples = trim(samples)
    return (samples / (np.abs(samples).max() + 1e-6) * 16_000).astype(np.int16)


def splice(clips: Sequence[Clip], count: int, seed: int) -> Iterator[Clip]:
    """Join two to five words of one speaker, 0 to 0.15 s apart."""
    rng = random.Random(seed)
    by_voice = defaultdict(list)
    for clip in clips:
        by_voice[clip[2]].append(clip)
    voices = sorted(voice for voice, own in by_voice.items() if len(own) > 1)
    for _ in range(count if voices else 0):
        voice = rng.choice(voices)
        words = [rng.choice(by_voice[voice]) for _ in range(rng.randint(2, 5))]
        pieces: list[npt.NDArray[np.int16]] = []
        for samples, _, _ in words:
            near = trim(samples.astype(np.float32), margin_s=rng.uniform(0.0, 0.06))
            gap = np.zeros(int(rng.uniform(0, 0.15) * SAMPLE_RATE_HZ), np.int16)
            pieces += [near.astype(np.int16), gap]
        yield np.concatenate(pieces), " ".join(text for _, text, _ in words), f"{voice}+"


def pack(speech: Path, out: Path) -> None:
    """Write ``people_N.npz`` (training) and ``choose_SOURCE.npz`` (choosing)."""
    rows, split = read_manifest(speech), load_split()
    out.mkdir(parents=True, exist_ok=True)
    packed: dict[tuple[str, str], list[Clip]] = defaultdict(list)
    with ProcessPoolExecutor() as pool:
        for part in ("training", "choosing"):
            chosen = select(rows, split, part)
            paths = [speech / row["file"] for row in chosen]
            for row, samples in zip(chosen, pool.map(read_clip, paths, chunksize=64), strict=True):
                voice = f"people:{row['source']}:{row['speaker']}"
                if len(samples) > SAMPLE_RATE_HZ // 8:
                    packed[part, row["source"]].append((samples, row["text"], voice))
    training: list[Clip] = []
    for (part, source), clips in sorted(packed.items()):
        if part == "choosing":
            save_shard(out / f"choose_{source}.npz", clips)
        else:
            training += [
                *clips,
                *splice(clips, min(SPLICED.get(source, 0), 2 * len(clips)), seed=7),
            ]
        print(part, source, len(clips), "clips", flush=True)
    random.Random(3).shuffle(training)
    save_shards(out, "people", training)


def main() -> None:
    """Run one of the three steps."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("step", choices=["split", "pack", "list"])
    parser.add_argument("speech", type=Path)
    parser.add_argument("out", type=Path, nargs="?")
    options = parser.parse_args()
    if options.step == "split":
        split = split_speakers(read_manifest(options.speech))
        SPLIT_FILE.write_text(json.dumps(split, indent=1) + "\n", "utf-8")
        print({part: len(speakers) for part, speakers in split.items()})
    elif options.step == "list":
        rows, split = read_manifest(options.speech), load_split()
        for part in ("training", "choosing"):
            print("\n".join(row["file"] for row in select(rows, split, part)))
    else:
        pack(options.speech, options.out)


if __name__ == "__main__":
    main()
