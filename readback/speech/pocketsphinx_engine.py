"""PocketSphinx, whose wheel carries its English model, behind `Recogniser`."""

import math
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from readback.errors import RecogniserError
from readback.search import SearchGrammar
from readback.speech.engine_errors import engine_errors, grammar_words
from readback.speech.recogniser import SAMPLE_RATE_HZ
from readback.transmission import Transmission, Word

DECODER_SETTINGS: dict[str, Any] = {
    "samprate": SAMPLE_RATE_HZ,
    "lm": None,
    "dict": None,
    "beam": 1e-60,
    "wbeam": 1e-40,
    "pbeam": 1e-60,
    "bestpath": False,
    "cmninit": "45,4,1,10,-4,-2,1,-4,-4,0,0,1,0",
    "loglevel": "FATAL",
}
"""Over the whole grammar these beams have 4.1 % word errors on 60 clean phrases of four flite
voices, at 0.16 of real time with as many over radio at 20 dB; beams of 1e-40 and 1e-25 have 11.8 %
at 0.055. The second pass is off: it more than doubled the time and mended nothing. Fillers stay on:
off, 80 % of words are wrong.
``cmninit`` is the mean of usual speech: partial results start from it. The dictionary is given
word by word: a path to it could hold letters with which the engine cannot open it on Windows."""

CERTAINTY_AT_ZERO = 6.6
CERTAINTY_SLOPE = 1.32
"""Logistic fit of "this word is right" to its acoustic score per frame: 4,718 words, 381 of them
wrong, of four flite voices over the tests' small grammar with beams of 1e-40, clean and at 20 and
10 dB of radio and interphone. Fitted on every other transmission, AUC 0.905 on the rest; there,
1,450 words at 0.95 or more were right in 99.8 %, 276 at 0.8 to 0.9 in 85 %, 64 at 0.3 to 0.6 in
64 %. Synthetic voices only; a word that was left out has no certainty."""

_FRAME_S = 0.01
_NOT_WORDS = ("<", "[", "+", "(")
"""First letters of the decoder's silences, noises and empty steps."""
_VARIANT = re.compile(r"\(\d+\)$")
_SCORE_SHIFT = 1024
"""Grammar segments give acoustic scores divided by 2 to the power of 10."""


class PocketSphinxRecogniser:
    """Hears with PocketSphinx over the word graph of a grammar.

    The graph, not the JSGF text: from the whole grammar's text the engine takes 10.7 s to make its
    search and 0.8 of real time to decode, from the graph 0.1 s and a fifth of that or less.

    Partial results come from decoding block by block; a final result always decodes the whole
    transmission at once, as only that normalises the channel over all of it (word errors 0.5 %
    against 2.3 %). No result depends on what was heard before.

    Args:
        grammar: All that may be said.

    Raises:
        RecogniserError: The engine cannot be loaded, or a word cannot be said.
    """

    name = "pocketsphinx"
    sample_rate_hz = SAMPLE_RATE_HZ

    def __init__(self, grammar: SearchGrammar) -> None:
        _check_grammar(grammar)
        with engine_errors(self.name):
            self._decoder: Any = _make_decoder(grammar)
        self._fed = bytearray()
        self._taken = 0
        self._live = False

    def recognise(self, pcm: bytes) -> Transmission:
        """See `Recogniser.recognise`."""
        with engine_errors(self.name):
            decoder = self._open_decoder()
            self._stop_live()
            samples = pcm[: len(pcm) // 2 * 2]
            # 5.1.1 raises IndexError on empty audio and decodes digital silence to a sure word.
            if not samples.strip(b"\0"):
                return Transmission()
            decoder.reinit_feat()  # Else the last speaker's channel mean moves scores and times.
            decoder.start_utt()
            try:
                decoder.process_raw(samples, full_utt=True)
            finally:
                decoder.end_utt()
            return self._result()

    def feed(self, pcm: bytes) -> Transmission:
        """See `Recogniser.feed`."""
        with engine_errors(self.name):
            decoder = self._open_decoder()
            self._fed += pcm
            if not self._live:
                decoder.reinit_feat()
                decoder.start_utt()
                self._live, self._taken = True, 0
            whole = len(self._fed) // 2 * 2
            block = bytes(self._fed[self._taken : whole])
            if block:
                decoder.process_raw(block)
                self._taken = whole
            if not self._fed.strip(b"\0"):
                return Transmission()
            return self._result()

    def settle(self) -> Transmission:
        """See `Recogniser.settle`; as `feed`, since hearing all of it anew takes too long."""
        return self.feed(b"") if self._fed else Transmission()

    def finish(self) -> Transmission:
        """See `Recogniser.finish`; the same as `recognise` of all that was fed."""
        fed, self._fed = bytes(self._fed), bytearray()
        return self.recognise(fed)

    def close(self) -> None:
        """See `Recogniser.close`."""
        self._decoder = None
        self._live = False

    def _open_decoder(self) -> Any:
        if self._decoder is None:
            raise RecogniserError(f"{self.name}: the recogniser is closed.", "Make a new one.")
        return self._decoder

    def _stop_live(self) -> None:
        if self._live:
            self._live = False
            self._decoder.end_utt()

    def _result(self) -> Transmission:
        # Either is None where no path through the grammar reached the end of the audio.
        if self._decoder.hyp() is None:
            return Transmission()
        return Transmission(words=_words(self._decoder.seg() or ()))


def _make_decoder(grammar: SearchGrammar) -> Any:
    from pocketsphinx import Decoder

    decoder = Decoder(**DECODER_SETTINGS)
    entries = list(_dictionary(grammar))
    for entry, phones in entries[:-1]:
        _add_word(decoder, entry, phones, update=False)
    _add_word(decoder, *entries[-1], update=True)
    end = 1 + max(max(arc.source, arc.target) for arc in grammar.arcs)
    graph = decoder.create_fsg("readback", 0, end, list(_transitions(grammar, end)))
    decoder.add_fsg("readback", graph)
    decoder.activate_search("readback")
    return decoder


def _transitions(
    grammar: SearchGrammar, end: int
) -> Iterator[tuple[int, int, float, str] | tuple[int, int, float]]:
    """Give the word graph as the decoder wants it: one end state, each silent path in one step.

    What leaves a state is equally likely; a silent step costs nothing. The decoder follows one
    silent step but not two in a row.
    """
    leaving = Counter(arc.source for arc in grammar.arcs)
    silent: dict[int, set[int]] = {state: {end} for state in grammar.final_states}
    for arc in grammar.arcs:
        if arc.word is not None:
            yield arc.source, arc.target, 1 / leaving[arc.source], arc.word
        elif arc.source != arc.target:
            silent.setdefault(arc.source, set()).add(arc.target)
    for state in silent:
        for target in _reached(silent, state):
            yield state, target, 1.0


def _reached(silent: Mapping[int, set[int]], state: int) -> set[int]:
    reached: set[int] = set()
    waiting = [state]
    while waiting:
        fresh = silent.get(waiting.pop(), set()) - reached
        reached |= fresh
        waiting += fresh
    return reached - {state}


def _dictionary(grammar: SearchGrammar) -> Iterable[tuple[str, str]]:
    """Give entries as the decoder wants them: ``five`` and ``five(2)``."""
    for word, pronunciations in grammar.pronunciations.items():
        for number, phones in enumerate(pronunciations, start=1):
            yield (word if number == 1 else f"{word}({number})"), phones


def _add_word(decoder: Any, entry: str, phones: str, *, update: bool) -> None:
    try:
        decoder.add_word(entry, phones, update)
    except RuntimeError as error:
        raise RecogniserError(
            f'pocketsphinx: refuses the pronunciation "{phones}" of "{entry}".',
            "Use the 39 ARPABET phones without stress marks.",
        ) from error


def _check_grammar(grammar: SearchGrammar) -> None:
    """Find what makes 5.1.1 crash, hear nonsense or fail without saying why."""
    if not grammar.pronunciations or not grammar_words(grammar) or not grammar.final_states:
        raise RecogniserError("pocketsphinx: the grammar has no words.", "Give it some.")
    for word, pronunciations in grammar.pronunciations.items():
        # An empty one is a segmentation fault.
        if not pronunciations or not all(phones.strip() for phones in pronunciations):
            raise RecogniserError(
                f'pocketsphinx: "{word}" has an empty pronunciation.', "Add one to the lexicon."
            )
    unsaid = sorted(grammar_words(grammar) - set(grammar.pronunciations))
    if unsaid:
        raise RecogniserError(
            f"pocketsphinx: no pronunciation for: {', '.join(unsaid)}.", "Add it to the lexicon."
        )


def _words(segments: Iterable[Any]) -> tuple[Word, ...]:
    return tuple(
        Word(
            word=_VARIANT.sub("", segment.word),
            start=segment.start_frame * _FRAME_S,
            end=(segment.end_frame + 1) * _FRAME_S,
            certainty=_certainty(segment),
        )
        for segment in segments
        if not segment.word.startswith(_NOT_WORDS)
    )


def _certainty(segment: Any) -> float:
    """Give the probability that the word is right; free, as the decoder has the score anyway."""
    frames = segment.end_frame - segment.start_frame + 1
    # A score is exp() of what the decoder adds up, and may have fallen to zero.
    score = math.log(max(segment.ascore, 1e-300)) * _SCORE_SHIFT / frames
    odds = CERTAINTY_AT_ZERO + CERTAINTY_SLOPE * score
    return round(1 / (1 + math.exp(-max(odds, -50.0))), 3)
