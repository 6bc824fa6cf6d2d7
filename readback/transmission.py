"""What was said in one go by one station, as words with times."""

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

    @property
    def text(self) -> str:
        """The words joined by single blanks."""
        return " ".join(word.word for word in self.words)

    @classmethod
    def typed(cls, text: str) -> "Transmission":
        """Make a transmission of typed text: one word for each run without white space."""
        return cls(words=tuple(Word(word=word) for word in text.split()))
