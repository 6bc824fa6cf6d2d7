"""What people have today: a general large-vocabulary recogniser and a comparison word by word."""

from collections import Counter
from typing import Any

from readback.judging.model import Outcome
from readback.measure.word_errors import normal_words
from readback.speech.engine_errors import engine_errors
from readback.speech.recogniser import SAMPLE_RATE_HZ
from readback.transmission import Transmission, Word

NAME = "baseline"
MOST_DIFFERENT = 0.25
"""Share of words that may differ in a readback that is passed; our choice. A right readback
says CROSSING for CROSS and leaves words out: with none allowed to differ, almost none passes."""
_NOT_WORDS = "<[+("


class GeneralRecogniser:
    """PocketSphinx with the general language model and dictionary that its wheel carries.

    It knows none of our grammar. Kept to `readback.speech.recogniser.Recogniser` as far as
    measuring needs it: whole transmissions only.

    Raises:
        RecogniserError: The engine cannot be loaded.
    """

    name = NAME
    sample_rate_hz = SAMPLE_RATE_HZ

    def __init__(self) -> None:
        with engine_errors(self.name):
            from pocketsphinx import Decoder

            self._decoder: Any = Decoder(samprate=SAMPLE_RATE_HZ, loglevel="FATAL")

    def recognise(self, pcm: bytes) -> Transmission:
        """See `Recogniser.recognise`; words have no certainty."""
        if not pcm.strip(b"\0"):
            return Transmission()
        with engine_errors(self.name):
            self._decoder.reinit_feat()
            self._decoder.start_utt()
            self._decoder.process_raw(pcm, full_utt=True)
            self._decoder.end_utt()
            if self._decoder.hyp() is None:
                return Transmission()
            said = [segment.word.split("(")[0] for segment in self._decoder.seg() or ()]
        return Transmission(
            words=tuple(Word(word=word) for word in said if word and word[0] not in _NOT_WORDS)
        )

    def feed(self, pcm: bytes) -> Transmission:
        """Not used in measuring: hears the block alone."""
        return self.recognise(pcm)

    def settle(self) -> Transmission:
        """Not used in measuring: nothing is kept."""
        return Transmission()

    def finish(self) -> Transmission:
        """Not used in measuring: nothing is kept."""
        return Transmission()

    def close(self) -> None:
        """See `Recogniser.close`."""
        self._decoder = None


def differing_share(instruction: str, readback: str) -> float:
    """Tell how many words differ, wherever they stand, as a share of the words of both.

    Returns:
        In [0, 1]; 1.0 where nothing was heard.
    """
    issued, answered = Counter(normal_words(instruction)), Counter(normal_words(readback))
    differing = (issued - answered).total() + (answered - issued).total()
    total = issued.total() + answered.total()
    return differing / total if answered else 1.0


def judge_by_words(instruction: str, readback: str, most: float = MOST_DIFFERENT) -> Outcome:
    """Pass a readback that is like enough to the instruction.

    Returns:
        ``correct`` or ``incorrect``; ``say again`` where nothing was heard.
    """
    if not readback:
        return Outcome.SAY_AGAIN
    alike = differing_share(instruction, readback) <= most
    return Outcome.CORRECT if alike else Outcome.INCORRECT
