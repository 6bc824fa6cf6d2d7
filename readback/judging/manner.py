"""Manner of speaking: what the times of heard words tell, as figures and as advice.

None of it changes a verdict, and none of it is a measure of language proficiency.

Source: ICAO Doc 9432, 4th edition 2007, 2.2 (transmitting technique; seen as quoted by radio
courses), which ICAO Annex 10 Volume II, 5.2.1.5 has too (from memory).
"""

from itertools import pairwise

from pydantic import BaseModel, ConfigDict, Field

from readback.judging.advice import Advice
from readback.judging.model import Finding, Severity, Status
from readback.phraseology.model import Span
from readback.phraseology.words import canonical_words
from readback.transmission import Transmission, Word

FASTEST_WORDS_PER_MINUTE = 100
"""An even rate of speech does not exceed it (Doc 9432, 2.2; Annex 10 Volume II, 5.2.1.5.3 b)."""
LEAST_WORDS = 6
"""Fewer words give no rate: one short word more or less changes it by a fifth. Common practice, no
source."""
LONGEST_PAUSE_S = 1.0
"""A longer gap between two words is hesitation; the slight pause around numbers is shorter. Common
practice, no source."""
LONGEST_ANSWER_S = 3.0
"""An answer that starts later is late. Common practice, no source."""
CLIPPING_MARGIN_S = 0.05
"""A word nearer to the start or end of its transmission touches it. Of a recording 0.4 s are kept
before the first voiced sound and 0.3 s after the last, if there are. Common practice, no source."""
CLIPPED_SHARE = 0.9
"""A word that touches the edge counts as clipped if it took less than this share of the time that a
letter of the other words took: PocketSphinx draws a whole last word out to the edge. Chosen on 10
words at an edge in 5 synthetic transmissions (8 cut in half: 0.43 to 0.87; 2 whole: 0.99 and 1.52)
and tried on no others: take it as a hint."""
HESITATION_WORDS = frozenset({"er", "erm", "uh", "um", "ah", "hm", "hmm", "mm"})
"""Sounds of hesitation; Doc 9432, 2.2 names "er"."""


class Pause(BaseModel):
    """A gap between two words."""

    model_config = ConfigDict(frozen=True)

    span: Span
    """The words on both sides of it."""
    seconds: float = Field(ge=0)


class Manner(BaseModel):
    """How one transmission was spoken; None is what its times do not tell."""

    model_config = ConfigDict(frozen=True)

    span: Span | None = None
    """From the first word that has times to the last."""
    seconds: float | None = Field(default=None, ge=0)
    """From the start of the first word to the end of the last."""
    words_per_minute: float | None = Field(default=None, ge=0)
    """None for fewer than `LEAST_WORDS` words."""
    seconds_to_answer: float | None = None
    """From the end of the instruction to the first word; below zero for an answer into it."""
    pauses: tuple[Pause, ...] = ()
    """Gaps longer than `LONGEST_PAUSE_S`."""
    hesitations: tuple[Span, ...] = ()
    """Sounds such as "er"; `wording.remarks` says which to leave out."""
    first_word_clipped: bool | None = None
    last_word_clipped: bool | None = None
    sound: str | None = None
    """What is wrong with the level: ``clipped`` or ``too quiet``."""


_QUOTED = "ICAO Doc 9432, 4th edition 2007, 2.2 (seen (quoted)); ICAO Annex 10 Volume II, 5.2.1.5"
_NO_SOURCE = "common practice, no source"
_RATE = Advice(
    "The rate of speech is even and does not exceed 100 words a minute.",
    f"{_QUOTED}.3 b (from memory)",
)
_PAUSE = Advice(
    f"A transmission has no pause longer than {LONGEST_PAUSE_S:.0f} s: think first, then key.",
    _NO_SOURCE,
)
_ANSWER = Advice(f"An answer starts within {LONGEST_ANSWER_S:.0f} s.", _NO_SOURCE)
_OVERLAP = Advice("Nobody transmits while another does.", f"{_QUOTED} (from memory)")
_CLIPPING = Advice(
    "The key is down before the first word and up after the last.",
    f"{_QUOTED} (from memory)",
)

_LEVEL = Advice(
    "The voice is even, at a normal loudness, at a constant distance from the microphone.",
    f"{_QUOTED}.3 (from memory)",
)
_SOUNDS = {
    "clipped": "too loud: the sound is clipped",
    "too quiet": "too quiet: speak closer to the microphone",
}


def measure_manner(
    transmission: Transmission, *, instruction: Transmission | None = None
) -> Manner:
    """Measure how a transmission was spoken.

    Args:
        transmission: A heard one; a typed one gives figures of None.
        instruction: What it answers, out of the same recording: its times count from the same
            sample. None where there is none, or where its times are others.
    """
    timed = [
        (index, word.start, word.end)
        for index, word in enumerate(transmission.words)
        if word.start is not None and word.end is not None
    ]
    hesitations = tuple(
        (index, index + 1)
        for index, word in enumerate(transmission.words)
        if canonical_words(word.word) and canonical_words(word.word)[0] in HESITATION_WORDS
    )
    if not timed:
        return Manner(hesitations=hesitations, sound=transmission.sound)
    first, last = timed[0][1], max(end for _, _, end in timed)
    seconds = max(0.0, last - first)
    spoken = sum(1 for index, _, _ in timed if (index, index + 1) not in hesitations)
    ended = None if instruction is None else _end(instruction)
    return Manner(
        span=(timed[0][0], timed[-1][0] + 1),
        seconds=seconds,
        words_per_minute=spoken * 60 / seconds if spoken >= LEAST_WORDS and seconds else None,
        seconds_to_answer=None if ended is None else first - ended,
        pauses=tuple(
            Pause(span=(before[0], after[0] + 1), seconds=after[1] - before[2])
            for before, after in pairwise(timed)
            if after[1] - before[2] > LONGEST_PAUSE_S
        ),
        hesitations=hesitations,
        first_word_clipped=_clipped(transmission.start, first, transmission, timed[0][0]),
        last_word_clipped=_clipped(last, transmission.end, transmission, timed[-1][0]),
        sound=transmission.sound,
    )


def manner_findings(manner: Manner, *, side: str = "readback") -> tuple[Finding, ...]:
    """Say what could be spoken better; all ``wrong`` and advisory, ``call`` is ``"manner"``.

    Args:
        manner: From `measure_manner`.
        side: Which side spoke, ``"readback"`` or ``"instruction"``: where the spans belong.
    """
    said = _Sayer(side)
    whole = manner.span or (0, 0)
    if manner.words_per_minute and manner.words_per_minute > FASTEST_WORDS_PER_MINUTE:
        said.add(
            "speaking rate",
            f"{manner.words_per_minute:.0f} words a minute, at most {FASTEST_WORDS_PER_MINUTE} is"
            " asked for",
            _RATE,
            whole,
        )
    if manner.seconds_to_answer is not None:
        if manner.seconds_to_answer > LONGEST_ANSWER_S:
            message = f"answered after {manner.seconds_to_answer:.1f} s"
            said.add("time to answer", message, _ANSWER, None)
        elif manner.seconds_to_answer < 0:
            message = f"answered {-manner.seconds_to_answer:.1f} s before the instruction ended"
            said.add("time to answer", message, _OVERLAP, None)
    for pause in manner.pauses:
        said.add("hesitation", f"a pause of {pause.seconds:.1f} s", _PAUSE, pause.span)
    if manner.first_word_clipped:
        said.add(
            "clipped word", "the first word may be cut off", _CLIPPING, (whole[0], whole[0] + 1)
        )
    if manner.last_word_clipped:
        said.add(
            "clipped word", "the last word may be cut off", _CLIPPING, (whole[1] - 1, whole[1])
        )
    if manner.sound is not None:
        said.add("level", _SOUNDS[manner.sound], _LEVEL, None)
    return tuple(said.findings)


class _Sayer:
    def __init__(self, side: str) -> None:
        self.findings: list[Finding] = []
        self._field = f"{side}_span"

    def add(
        self,
        element: str,
        message: str,
        advice: Advice,
        span: Span | None,
    ) -> None:
        self.findings.append(
            Finding(
                call="manner",
                element=element,
                status=Status.WRONG,
                severity=Severity.ADVISORY,
                rule=advice.rule,
                source=advice.source,
                message=message,
                **{self._field: span},
            )
        )


def _end(transmission: Transmission) -> float | None:
    ends = [word.end for word in transmission.words if word.end is not None]
    return max(ends) if ends else transmission.end


def _clipped(
    before: float | None, after: float | None, transmission: Transmission, index: int
) -> bool | None:
    if before is None or after is None:
        return None
    if after - before >= CLIPPING_MARGIN_S:
        return False
    paces = [_seconds_per_letter(word) for word in transmission.words]
    others = [pace for at, pace in enumerate(paces) if at != index and pace is not None]
    own = paces[index]
    return not others or own is None or own < CLIPPED_SHARE * sum(others) / len(others)


def _seconds_per_letter(word: Word) -> float | None:
    if word.start is None or word.end is None or not word.word:
        return None
    return (word.end - word.start) / len(word.word)
