"""Training clips in the memory of the device that trains, drawn by weight and length."""

from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np
import torch
from torch import Tensor

from audio_demo_synth.ear.shards import SAMPLE_RATE_HZ, load_shard
from readback.speech.ear.phones import PHONES

WEIGHTS = {
    "flite": 1.0,
    "espeak": 0.6,
    "kokoro": 1.6,
    "people:speechocean762": 1.0,
    "people:speech_commands": 0.8,
    "people:fsdd": 1.0,
    "people:coffee_orders": 2.0,
    "people:wake_words": 0.5,
    "people:precise_community": 0.5,
    "people:custom_keywords": 0.5,
    "people:art4apps_words": 0.6,
    "people:ljspeech": 2.0,
    "people:cut": 0.6,
    "people:cut_digit": 2.0,
}
"""Source -> how often a clip of it is drawn against the others of its kind."""
BATCH_SECONDS = 400
"""Sound in one batch on a large card."""

BATCH_SIZES = (160, 112, 80, 56, 40, 28, 16, 8, 4, 2)
"""Few sizes: every new shape costs a search for kernels and FFT plans (76 ms a step, else 30)."""

Batch = tuple[Tensor, Tensor, list[list[int]]]
"""Sound (batch, samples), lengths, phones of each clip."""


class Pool:
    """Clips of the shards that match; grows as shards appear.

    Args:
        folder: Where the shards are.
        patterns: Globs of file names.
        lexicon: Word -> ARPABET; a clip with another word is left out.
        people: Share of people in a batch; None takes the weights as they are.
        device: Where the sound is kept.
        without: Sources of people that are left out.
    """

    def __init__(
        self,
        folder: Path,
        patterns: Sequence[str],
        lexicon: Mapping[str, str],
        people: float | None,
        device: torch.device,
        *,
        without: Sequence[str] = (),
    ) -> None:
        self._folder, self._patterns, self._people, self.device = folder, patterns, people, device
        self._phones = {w: [PHONES.index(p) for p in s.split()] for w, s in lexicon.items()}
        self._without = {f"people:{source}" for source in without}
        self._seen: set[Path] = set()
        self._flat = torch.zeros(0, dtype=torch.int16, device=device)
        self._starts: list[int] = []
        self._lengths: list[int] = []
        self.labels: list[list[int]] = []
        self.texts: list[str] = []
        self.voices: list[str] = []

    def __len__(self) -> int:
        return len(self.labels)

    @property
    def hours(self) -> float:
        """Sound held."""
        return len(self._flat) / SAMPLE_RATE_HZ / 3600

    def scan(self, most: int = 60) -> int:
        """Load up to ``most`` new shards; return how many."""
        found = sorted({p for glob in self._patterns for p in self._folder.glob(glob)} - self._seen)
        sounds: list[np.ndarray] = []
        size = len(self._flat)
        for path in found[:most]:
            self._seen.add(path)
            for samples, text, voice in load_shard(path):
                label = self.label(text)
                # CTC needs a step for every phone; 50 steps a second at up to 1.3 times the pace.
                left_out = source_of(voice) in self._without
                if label and not left_out and len(samples) / 320 > 1.15 * len(label):
                    self._starts.append(size)
                    self._lengths.append(len(samples))
                    self.labels.append(label)
                    self.texts.append(text)
                    self.voices.append(voice)
                    sounds.append(samples)
                    size += len(samples)
        if found:
            fresh = torch.from_numpy(np.concatenate([np.zeros(0, np.int16), *sounds]))
            self._flat = torch.cat([self._flat, fresh.to(self.device)])
            self._order = np.argsort(self._lengths, kind="stable")
            self._chances = np.cumsum(self._weigh()[self._order])
            self._chances /= self._chances[-1]
        return len(found)

    def label(self, text: str) -> list[int]:
        """Phones of a text; none if a word of it is unknown."""
        words = text.split()
        if any(word not in self._phones for word in words):
            return []
        return [phone for word in words for phone in self._phones[word]]

    def _weigh(self) -> np.ndarray:
        weights = np.array([WEIGHTS.get(source_of(voice), 1.0) for voice in self.voices])
        human = np.array([voice.startswith("people") for voice in self.voices])
        if self._people is not None and human.any() and not human.all():
            share = self._people / (1 - self._people)
            weights[human] *= share * weights[~human].sum() / weights[human].sum()
        return weights

    def draw(self, rng: np.random.Generator, seconds: float = BATCH_SECONDS) -> Batch:
        """Draw clips of like length, by weight, up to ``seconds`` of sound."""
        low = rng.random() * 0.88
        middle = self._order[np.searchsorted(self._chances, low + 0.06)]
        count = seconds / (self._lengths[middle] / SAMPLE_RATE_HZ + 0.5)
        count = next((size for size in BATCH_SIZES if size <= count), BATCH_SIZES[-1])
        places = np.searchsorted(self._chances, rng.uniform(low, low + 0.12, count))
        return self.take(self._order[np.minimum(places, len(self) - 1)])

    def take(self, which: Sequence[int] | np.ndarray) -> Batch:
        """Take the named clips."""
        starts = torch.tensor([self._starts[i] for i in which], device=self.device)
        lengths = torch.tensor([self._lengths[i] for i in which], device=self.device)
        at = torch.arange(int(lengths.max()), device=self.device)[None]
        sound = self._flat[(starts[:, None] + at).clamp(max=len(self._flat) - 1)].float() / 32768
        return sound * (at < lengths[:, None]), lengths, [self.labels[i] for i in which]


def source_of(voice: str) -> str:
    """``kokoro`` of ``kokoro:af_bella``, ``people:fsdd`` of ``people:fsdd:jackson``."""
    parts = voice.split(":")
    return ":".join(parts[:2]) if parts[0] == "people" else parts[0]
