"""What was heard against what was said, word by word."""

from collections.abc import Sequence

from pydantic import BaseModel, ConfigDict, computed_field
from rapidfuzz.distance import Levenshtein

from readback.phraseology.words import canonical_words

_EDGE = ".,;:!?\"'()[]"


class WordErrors(BaseModel):
    """Counts of one alignment, or of many added up."""

    model_config = ConfigDict(frozen=True)

    hits: int = 0
    substitutions: int = 0
    deletions: int = 0
    insertions: int = 0

    @property
    def reference(self) -> int:
        """Words that were said."""
        return self.hits + self.substitutions + self.deletions

    @property
    def errors(self) -> int:
        """All errors."""
        return self.substitutions + self.deletions + self.insertions

    @computed_field  # type: ignore[prop-decorator]
    @property
    def rate(self) -> float | None:
        """Errors for each word said; can pass 1; None where nothing was said."""
        return self.errors / self.reference if self.reference else None

    def __add__(self, other: "WordErrors") -> "WordErrors":
        return WordErrors(
            hits=self.hits + other.hits,
            substitutions=self.substitutions + other.substitutions,
            deletions=self.deletions + other.deletions,
            insertions=self.insertions + other.insertions,
        )


def align(reference: Sequence[str], hypothesis: Sequence[str]) -> WordErrors:
    """Count the errors of the alignment that has the fewest.

    Args:
        reference: Words that were said.
        hypothesis: Words that were heard.

    Source: the definitions of word error rate, hits, substitutions, deletions and insertions are
    those of the package jiwer (Morris, Maier, Green 2004, Interspeech).
    """
    counts = {"equal": 0, "replace": 0, "delete": 0, "insert": 0}
    for step in Levenshtein.opcodes(reference, hypothesis):
        counts[step.tag] += max(step.src_end - step.src_start, step.dest_end - step.dest_start)
    return WordErrors(
        hits=counts["equal"],
        substitutions=counts["replace"],
        deletions=counts["delete"],
        insertions=counts["insert"],
    )


def raw_words(text: str) -> tuple[str, ...]:
    """Split at blanks; only case and the punctuation at a word's edges do not count."""
    words = (word.strip(_EDGE).lower() for word in text.split())
    return tuple(word for word in words if word)


def normal_words(text: str) -> tuple[str, ...]:
    """Bring spellings and pronunciations to the grammar's words: NINER is NINE, 27 TWO SEVEN."""
    return tuple(word for raw in text.split() for word in canonical_words(raw))
