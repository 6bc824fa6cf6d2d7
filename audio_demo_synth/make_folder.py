"""Make a folder of recordings of many formats, some broken, from the shipped ones.

``python audio_demo_synth/make_folder.py FOLDER --recordings 200 --broken 10``. Each holds one to
four exchanges of one family, one after the other; ``expected.json`` says which verdicts are right,
and what is wrong with a broken one. Equal seeds give equal folders.
"""

import argparse
import json
import os
import random
import struct
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
import soxr

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent))

from readback.speech.audio import Recording  # noqa: E402
from readback.speech.segments import find_segments  # noqa: E402

RATE_HZ = 16_000
PAUSE_S = 2.0
"""Between two exchanges, at least."""
FORMATS: tuple[tuple[str, int, dict[str, str]], ...] = (
    ("wav", 16_000, {"subtype": "PCM_16"}),
    ("wav", 44_100, {"subtype": "PCM_24"}),
    ("wav", 48_000, {"subtype": "FLOAT"}),
    ("flac", 16_000, {}),
    ("flac", 44_100, {}),
    ("ogg", 44_100, {"subtype": "VORBIS"}),
    ("opus", 48_000, {"format": "OGG", "subtype": "OPUS"}),
    ("mp3", 44_100, {}),
)
"""Ending, samples a second, and what `soundfile.write` takes."""

Exchange = tuple[str, str, np.ndarray]
"""Family, right verdict, and the sound: shape (samples, 2), instruction and readback."""


def load_exchanges() -> list[Exchange]:
    """Read the shipped recordings that hold instruction and readback."""
    folder = HERE / "recordings"
    entries = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
    return [
        (entry["family"], entry["expected"], apart(folder / entry["file"]))
        for entry in entries
        if entry["holds"] == "both"
    ]


def apart(path: Path) -> np.ndarray:
    """Give the instruction a channel and the readback another, a quiet line behind both."""
    samples, _ = soundfile.read(path, always_2d=True)
    if samples.shape[1] == 2:
        return samples
    first, second = find_segments(Recording(path))
    turn = round((first.end_s + second.start_s) / 2 * RATE_HZ)
    quiet = np.random.default_rng(len(samples)).normal(0, 1e-4, (len(samples), 2))
    quiet[:turn, 0], quiet[turn:, 1] = samples[:turn, 0], samples[turn:, 0]
    return quiet


def record(exchanges: list[Exchange], rng: random.Random, *, stereo: bool) -> np.ndarray:
    """Put exchanges one after the other: shape (samples, 2), or (samples, 1) with both mixed."""
    noise = np.random.default_rng(rng.randrange(2**32))
    parts = []
    for _, _, sound in exchanges:
        pause = round((PAUSE_S + rng.uniform(0, 3)) * RATE_HZ)
        parts += [sound, noise.normal(0, 1e-4, (pause, 2))]
    whole = np.concatenate(parts) * rng.uniform(0.4, 0.9)
    return whole if stereo else whole.sum(axis=1, keepdims=True)


def write(path: Path, samples: np.ndarray, rate_hz: int, how: dict[str, str]) -> None:
    """Write a recording at another rate."""
    samples = soxr.resample(samples, RATE_HZ, rate_hz)
    with soundfile.SoundFile(path, "w", rate_hz, samples.shape[1], **how) as file:
        # libsndfile 1.2.2 crashes when it is given minutes of Vorbis at a time.
        for first in range(0, len(samples), rate_hz):
            file.write(samples[first : first + rate_hz])


# ---- broken ones ---------------------------------------------------------------------------------


def wav_header(channels: int = 1, rate_hz: int = RATE_HZ, size: int = 32_000) -> bytes:
    """Write the header of a PCM WAV by hand: libsndfile writes no absurd ones."""
    form = struct.pack("<HHIIHH", 1, channels, rate_hz, rate_hz * 2 * channels, 2 * channels, 16)
    head = b"WAVEfmt " + struct.pack("<I", 16) + form + b"data" + struct.pack("<I", size)
    return b"RIFF" + struct.pack("<I", len(head) + size) + head


def half(path: Path, sound: np.ndarray) -> None:
    """Write a recording and lose its second half."""
    soundfile.write(path, sound, RATE_HZ)
    os.truncate(path, path.stat().st_size // 2)


def locked(path: Path, sound: np.ndarray) -> None:
    """Take the permission to read away; who may read everything gets a link to nowhere."""
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        path.symlink_to("nowhere.wav")
    else:
        soundfile.write(path, sound, RATE_HZ)
        path.chmod(0)


BROKEN: dict[str, Callable[[Path, np.ndarray], Any]] = {
    "empty.wav": lambda path, _: path.write_bytes(b""),
    "text.flac": lambda path, _: path.write_text("hold short of runway two seven left\n" * 99),
    "truncated.flac": half,
    "truncated.wav": half,
    "no_samples.wav": lambda path, _: path.write_bytes(wav_header(size=0)),
    "wrong_header.wav": lambda path, _: path.write_bytes(b"RIFF" + random.Random(1).randbytes(999)),
    "folder.wav": lambda path, _: path.mkdir(),
    "no_numbers.wav": lambda path, sound: soundfile.write(
        path, np.full(len(sound), np.nan, np.float32), RATE_HZ, subtype="FLOAT"
    ),
    "no_channels.wav": lambda path, _: path.write_bytes(wav_header(channels=0) + bytes(32_000)),
    "not_permitted.wav": locked,
    "six_channels.wav": lambda path, sound: soundfile.write(
        path, np.repeat(sound[:, :1], 6, axis=1), RATE_HZ
    ),
    "absurd_rate.wav": lambda path, _: path.write_bytes(wav_header(rate_hz=1) + bytes(32_000)),
}
"""File name to what makes it; each is broken in another way."""


def make_folder(folder: Path, recordings: int, broken: int, seed: int = 0) -> dict[str, Any]:
    """Make the folder.

    Args:
        folder: A new one.
        recordings: How many files, the broken ones included; one of them holds silence only.
        broken: How many are broken: at most as many as there are ways.
        seed: Draws the rest.

    Returns:
        File name to the verdicts that are right in their order, or None where it is broken; as
        ``expected.json`` has it.
    """
    folder.mkdir(parents=True)
    rng = random.Random(seed)
    exchanges = load_exchanges()
    expected: dict[str, Any] = {}
    for name in list(BROKEN)[:broken]:
        BROKEN[name](folder / name, exchanges[0][2][:, 0])
        expected[name] = None
    for number in range(recordings - broken - 1):
        ending, rate_hz, how = FORMATS[number % len(FORMATS)]
        family = rng.choice(("ground_control", "interphone"))
        own = [one for one in exchanges if one[0] == family]
        drawn = [rng.choice(own) for _ in range(rng.randint(1, 4))]
        name = f"drill_{number:03}.{ending}"
        stereo = rng.random() < 0.5
        write(folder / name, record(drawn, rng, stereo=stereo), rate_hz, how)
        expected[name] = [verdict for _, verdict, _ in drawn]
    soundfile.write(folder / "silence.wav", np.zeros(3 * RATE_HZ), RATE_HZ)
    expected["silence.wav"] = []
    text = json.dumps(expected, indent=2)
    (folder / "expected.json").write_text(f"{text}\n", encoding="utf-8")
    return expected


def main() -> None:
    """Make the folder that is named."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--recordings", type=int, default=200)
    parser.add_argument("--broken", type=int, default=10, help=f"at most {len(BROKEN)}")
    parser.add_argument("--seed", type=int, default=0)
    options = parser.parse_args()
    made = make_folder(options.folder, options.recordings, options.broken, options.seed)
    print(f"{options.folder}: {len(made)} recordings")


if __name__ == "__main__":
    main()
