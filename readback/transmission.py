"""What was said in one go by one station, as words with times."""

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field


class Word(BaseModel):
    """One word as heard or typed."""

    model_config = ConfigDict(frozen=True)

    word: str
    """Lower-case for heard words, as typed for typed ones."""
    start: float | None = Field(default=None, ge=0)
    """Seconds from the first sample of the recording; None for typed words."""
    end: float | None = Field(default=None, ge=0)
    """Seconds from the first sample of the recording; None for typed words."""
    certainty: float | None = Field(default=None, ge=0, le=1)
    """Probability that the word was heard right, from the audio; None where nothing measured it."""


class Alternative(BaseModel):
    """One way to read the sound of a transmission."""

    model_config = ConfigDict(frozen=True)

    words: tuple[str, ...]
    probability: float = Field(ge=0, le=1)
    """Of these sounds among all that were found, by the engine's own measure."""
    same_sound: tuple[tuple[str, ...], ...] = ()
    """Other words with the same sounds, "for runway" and "four, runway": nobody can tell them apart
    by listening."""
    unheard: bool = False
    """Whether speech is left over that is in no word."""


class Transmission(BaseModel):
    """The words of one transmission in the order spoken.

    An empty ``words`` means that nothing was said, or nothing that the recogniser could place.
    """

    model_config = ConfigDict(frozen=True)

    words: tuple[Word, ...] = ()
    station: str | None = None
    """Who spoke, where the recording tells: a channel name or a station."""
    start: float | None = Field(default=None, ge=0)
    """Seconds from the start of the recording to the start of the transmission."""
    end: float | None = Field(default=None, ge=0)
    """Seconds from the start of the recording to the end of the transmission."""
    channel: str | None = None
    """Over which channel it came, by its sound: ``clean``, ``radio`` or ``interphone``; ``noisy``
    where speech hardly stands above the noise; None where it is like none of them."""
    sound: Literal["clipped", "too quiet"] | None = None
    """What is wrong with its sound; None where nothing is, or nothing was heard."""
    alternatives: tuple[Alternative, ...] = Field(default=(), repr=False)
    """The readings of the sound that differ in their words, most probable first, ``words`` among
    them; empty for typed words, and for an engine that lists none."""

    @property
    def text(self) -> str:
        """The words joined by single blanks."""
        return " ".join(word.word for word in self.words)

    def followed_by(self, other: "Transmission") -> "Transmission":
        """Join what the same station said after a pause."""
        return self.model_copy(
            update={
                "words": self.words + other.words,
                "end": other.end,
                "alternatives": _joined(self, other),
            }
        )

    @classmethod
    def typed(cls, text: str) -> "Transmission":
        """Make a transmission of typed text: one word for each run without white space."""
        return cls(words=tuple(Word(word=word) for word in text.split()))


_MOST_JOINED = 60
"""As many readings as an engine lists of one sound."""


def _joined(before: Transmission, after: Transmission) -> tuple[Alternative, ...]:
    """Join each reading of one transmission with each of the other, most probable first."""
    if not before.alternatives and not after.alternatives:
        return ()
    joined = [
        Alternative(
            words=a.words + b.words,
            probability=a.probability * b.probability,
            same_sound=tuple(
                first + second
                for first in (a.words, *a.same_sound)
                for second in (b.words, *b.same_sound)
                if (first, second) != (a.words, b.words)
            ),
            unheard=a.unheard or b.unheard,
        )
        for a in _readings(before)
        for b in _readings(after)
    ]
    return tuple(sorted(joined, key=lambda one: -one.probability)[:_MOST_JOINED])


def _readings(said: Transmission) -> tuple[Alternative, ...]:
    words = tuple(word.word for word in said.words)
    return said.alternatives or (Alternative(words=words, probability=1.0),)
