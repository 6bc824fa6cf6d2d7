"""Make the labelled recordings that `readback measure` is tuned and reported on.

Run in this directory, in the environment that make_recordings.py needs, with the Debian packages
flite, festival and festvox-kdlpc16k:

    python measure_set.py texts                  write the labels of both splits
    python measure_set.py speak reporting        speak them into measure_set/ (shipped)
    python measure_set.py speak tuning FOLDER    speak them into FOLDER (not shipped)

measure_split.json says which voices and which texts belong to which split. The texts stand in the
label files: the grammar that made them moves on, and a figure must stay tied to what was said.
"""

import argparse
import csv
import json
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
import soxr

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent))

from readback.speech.channel import clean  # noqa: E402

RATE_HZ = 16_000
MARGIN_S = 0.25
OPUS_LEVEL = 0.8
"""libsndfile's scale from 0, least compressed, to 1: about 59 kbit/s of Opus at this rate."""
COLUMNS = (
    *("file", "instruction", "readback", "authority", "callsign"),
    *("expected", "error", "voice", "split"),
)
LONGEST_WORDS = 24
BRITISH = {"bm_daniel"}
FESTIVAL = {"kdlpc16k": "voice_ked_diphone"}
RESPELL = {"qnh": "q n h"}


def load_split() -> dict[str, Any]:
    """Read which voices and texts are for tuning and which for reporting."""
    split: dict[str, Any] = json.loads((HERE / "measure_split.json").read_text(encoding="utf-8"))
    return split


def make_labels(part: str, taken: set[str]) -> Iterator[dict[str, str]]:
    """Make the labels of one split, half of them faithful, each voice as often as the next.

    Args:
        part: ``tuning`` or ``reporting``.
        taken: Texts that must not come; those of this split are added.
    """
    from readback.judging.pairs import make_pairs

    own = load_split()[part]
    number = 0
    for texts in own["texts"]:
        wanted = {False: texts["count"] // 2, True: texts["count"] // 2}
        for pair in make_pairs(texts["count"] * 3, texts["seed"], texts["authority"]):
            erring = pair.error is not None
            said = {pair.instruction, pair.readback}
            long = len(pair.readback.split()) > LONGEST_WORDS
            if not wanted[erring] or said & taken or long:
                continue
            taken |= said
            wanted[erring] -= 1
            yield {
                "file": f"{part[0]}{number:03}.{'opus' if part == 'reporting' else 'flac'}",
                "instruction": pair.instruction,
                "readback": pair.readback,
                "authority": pair.authority,
                "callsign": "",
                "expected": str(pair.verdict),
                "error": str(pair.error or ""),
                # Pairs come right and wrong in turn: two of them to a voice give it both.
                "voice": own["voices"][number // 2 % len(own["voices"])],
                "split": part,
            }
            number += 1


def write_labels() -> None:
    """Write the label files; the reporting one first, so that tuning never moves it."""
    taken: set[str] = set()
    for part in ("reporting", "tuning"):
        path = HERE / load_split()[part]["labels"]
        rows = list(make_labels(part, taken))
        path.parent.mkdir(exist_ok=True)
        save_labels(path, rows)
        print(f"{path.name}: {len(rows)} pairs")


def save_labels(path: Path, rows: Sequence[dict[str, str]]) -> None:
    """Write rows as a label file."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, COLUMNS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def say(text: str, voice: str, speaker: Any) -> np.ndarray:
    """Return spoken text at 16 kHz, a margin of quiet around it.

    Args:
        text: The words, commas where the voice is to pause.
        voice: ``SYNTHESISER:VOICE``.
        speaker: `make_recordings.Speaker`, for ``kokoro``.
    """
    text = " ".join(RESPELL.get(word, word) for word in text.split())
    synthesiser, _, name = voice.partition(":")
    if synthesiser == "kokoro":
        spoken: np.ndarray = speaker.say(text, name, 1.1)
        return spoken
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "spoken.wav"
        if synthesiser == "flite":
            command = ["flite", "-voice", name, "-t", text, "-o", str(path)]
            subprocess.run(command, check=True)
        else:
            command = ["text2wave", "-eval", f"({FESTIVAL[name]})", "-o", str(path)]
            subprocess.run(command, input=text, text=True, check=True)
        samples, rate_hz = soundfile.read(path, dtype="float32")
    loud = np.flatnonzero(np.abs(samples) > 0.01 * np.abs(samples).max())
    samples = soxr.resample(samples[loud[0] : loud[-1] + 1], rate_hz, RATE_HZ, quality="VHQ")
    return np.pad(samples, round(MARGIN_S * RATE_HZ))


def speak(part: str, folder: Path, archive: Path) -> None:
    """Speak every text of a split that has no recording yet, and put its labels beside them."""
    from make_recordings import Speaker

    speaker = Speaker(archive, BRITISH, {"ellery": "ˈɛləɹi"})
    with (HERE / load_split()[part]["labels"]).open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    folder.mkdir(parents=True, exist_ok=True)
    for row in rows:
        path = folder / row["file"]
        if not path.exists():
            samples = clean(say(row["readback"], row["voice"], speaker))
            save_recording(path, samples)
            print(path.name, row["voice"], f"{len(samples) / RATE_HZ:.1f} s", flush=True)
    save_labels(folder / "labels.csv", rows)


def save_recording(path: Path, samples: np.ndarray) -> None:
    """Write Opus where the name says so, else FLAC of 16 bit."""
    if path.suffix == ".opus":
        options = {"format": "OGG", "subtype": "OPUS", "compression_level": OPUS_LEVEL}
    else:
        options = {"format": "FLAC", "subtype": "PCM_16"}
    soundfile.write(path, samples, RATE_HZ, **options)


def main() -> None:
    """Run one of the two steps."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("step", choices=["texts", "speak"])
    parser.add_argument("part", nargs="?", choices=["tuning", "reporting"])
    parser.add_argument("folder", nargs="?", type=Path)
    parser.add_argument("--voices", type=Path, default=HERE / "kokoro-js-1.2.1.tgz")
    options = parser.parse_args()
    if options.step == "texts":
        write_labels()
        return
    if options.part is None or (options.part == "tuning" and options.folder is None):
        parser.error("speak needs reporting, or tuning and a folder")
    if not options.voices.is_file():
        sys.exit(f"{options.voices}: no such file. Run: npm pack kokoro-js@1.2.1")
    speak(options.part, options.folder or HERE / "measure_set", options.voices)


if __name__ == "__main__":
    main()
