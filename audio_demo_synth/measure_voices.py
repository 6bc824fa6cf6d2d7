"""The voices of the measuring set.

Beside the packages of requirements.txt they need the Debian packages flite, festival, espeak-ng,
festvox-kdlpc16k, festvox-kallpc16k and festvox-us-slt-hts.
"""

import subprocess
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
import soxr

RATE_HZ = 16_000
MARGIN_S = 0.25
OPUS_LEVEL = 0.8
"""libsndfile's scale from 0, least compressed, to 1: about 59 kbit/s of Opus at this rate."""
BRITISH = {"bm_daniel", "bf_emma"}
FESTIVAL = {
    "kdlpc16k": "voice_ked_diphone",
    "kallpc16k": "voice_kal_diphone",
    "us-slt-hts": "voice_cmu_us_slt_arctic_hts",
}
RESPELL = {"qnh": "q n h"}
PROGRAMS = {
    "flite": ["flite", "-voice", "{voice}", "-t", "{text}", "-o", "{path}"],
    "hibari": ["hibari", "--voice", "{voice}", "--speed", "1.1", "--seed", "1", "-o", "{path}"],
    "espeak": ["espeak-ng", "-v", "{voice}", "-s", "150", "-w", "{path}", "{text}"],
    "festival": ["text2wave", "-eval", "({voice})", "-o", "{path}"],
}
"""festival and hibari read the text from their standard input."""


def make_speaker(archive: Path) -> Any:
    """Make `make_recordings.Speaker`, which speaks kokoro's voices."""
    from make_recordings import Speaker

    return Speaker(archive, BRITISH, {"ellery": "ˈɛləɹi"})


def say(text: str, voice: str, speaker: Any) -> np.ndarray:
    """Return spoken text at 16 kHz, a margin of quiet around it.

    Args:
        text: The words, commas where the voice is to pause.
        voice: ``SYNTHESISER:VOICE``; for espeak the voice is a language.
        speaker: `make_speaker`'s, for ``kokoro``.
    """
    text = " ".join(RESPELL.get(word, word) for word in text.split())
    synthesiser, _, name = voice.partition(":")
    if synthesiser == "kokoro":
        spoken: np.ndarray = speaker.say(text, name, 1.1)
        return spoken
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "spoken.wav"
        filled = {"voice": FESTIVAL.get(name, name), "text": text, "path": path}
        command = [part.format(**filled) for part in PROGRAMS[synthesiser]]
        subprocess.run(command, input=text, text=True, check=True, capture_output=True)
        samples, rate_hz = soundfile.read(path, dtype="float32")
    loud = np.flatnonzero(np.abs(samples) > 0.01 * np.abs(samples).max())
    samples = soxr.resample(samples[loud[0] : loud[-1] + 1], rate_hz, RATE_HZ, quality="VHQ")
    return np.pad(samples, round(MARGIN_S * RATE_HZ))


def save_recording(path: Path, samples: np.ndarray) -> None:
    """Write Opus where the name says so, else FLAC of 16 bit."""
    if path.suffix == ".opus":
        options = {"format": "OGG", "subtype": "OPUS", "compression_level": OPUS_LEVEL}
    else:
        options = {"format": "FLAC", "subtype": "PCM_16"}
    soundfile.write(path, samples, RATE_HZ, **options)
