"""The verdict over all readings of a sound, not over its best one alone.

A recogniser that lists several readings of a sound says how probable each of them is. Readings that
differ in "the" or in "cross" for "crossing" mean the same and count together; what the verdict does
not depend on need not be certain. So each meaning is judged, and the verdict is the one that is
probable enough, or SAY AGAIN.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher

from readback.judging.findings import make_remark
from readback.judging.hearing import SLIGHT_WORDS
from readback.judging.judge import judge
from readback.judging.messages import describe
from readback.judging.model import Finding, Outcome, Said, Severity, Status, Verdict
from readback.judging.rules import RuleBook
from readback.phraseology.grammar import Grammar
from readback.phraseology.model import Element, Reading
from readback.phraseology.parser import parse
from readback.search import OTHER_NAME
from readback.transmission import Transmission, Word

MOST_MEANINGS = 12
"""Meanings of one side that are judged; what is left is improbable."""
SHARE_WRONG = 0.05
"""Part of the doubt that a verdict may have with which a finding may accuse: right readbacks are
many, wrong ones few, so most of what looks wrong in noise is misheard."""
SHARE_WORDS = 0.5
"""Part of the doubt that a verdict may have with which each word of an accusation may be heard."""
SHARE_CRITICAL = 0.5
"""Part of the doubt that a verdict may have with which a critical call may be passed."""
LEAST_DUE = 0.5
"""`correct` is never less probable, whatever the threshold."""

_Value = tuple[str, str]
_CORRECT = Outcome.CORRECT
_Key = tuple[str, str | None, Status, str | None]


@dataclass(frozen=True)
class Meaning:
    """What the same sounds may mean, and how probable all sounds that mean it are together."""

    readings: tuple[Reading, ...]
    """More than one where words sound the same: "hotel six, for runway", "hotel six four"."""
    probability: float
    unheard: bool = False
    """Whether speech is left over that is in no word: what is missing may be there."""


def least_heard(least_certainty: float) -> float:
    """Tell how certain a word must be for somebody to be accused by it."""
    return 1 - (1 - least_certainty) * SHARE_WORDS if least_certainty else 0.0


def least_accusing(least_certainty: float) -> float:
    """Tell how probable it must be that something is wrong for somebody to be accused of it."""
    return 1 - (1 - least_certainty) * SHARE_WRONG


def meanings(said: Transmission, grammar: Grammar, known: Sequence[str]) -> tuple[Meaning, ...]:
    """Parse the readings of a transmission and put those together that mean the same.

    Args:
        said: With alternatives.
        grammar: Reads the calls.
        known: Callsigns that are expected, as `parse` takes them.

    Returns:
        The most probable meanings, the best first.
    """
    shares: dict[object, float] = defaultdict(float)
    readings: dict[object, tuple[Reading, ...]] = {}
    unheard: dict[object, bool] = {}
    for alternative in said.alternatives:
        spellings = (alternative.words, *alternative.same_sound)
        parsed = [parse(_as_spoken(words, said), grammar, tuple(known)) for words in spellings]
        distinct = {_meaning(reading): reading for reading in reversed(parsed)}
        meaning = frozenset(distinct)
        shares[meaning] += alternative.probability
        readings.setdefault(meaning, tuple(reversed(distinct.values())))
        unheard.setdefault(meaning, alternative.unheard)
    ranked = sorted(shares, key=lambda meaning: -shares[meaning])[:MOST_MEANINGS]
    values: dict[_Value, float] = defaultdict(float)
    for key, share in shares.items():
        for value in {_value(e) for call in readings[key][0].calls for e in call.elements}:
            values[value] += share
    return tuple(
        Meaning(tuple(_with_certainty(r, values) for r in readings[m]), shares[m], unheard[m])
        for m in ranked
    )


def _with_certainty(reading: Reading, values: Mapping[_Value, float]) -> Reading:
    """Make no element more certain than its value over all readings."""

    def weighed(element: Element) -> Element:
        heard = 1.0 if element.certainty is None else element.certainty
        return element.model_copy(
            update={"certainty": min(heard, values.get(_value(element), 1.0))}
        )

    calls = tuple(
        call.model_copy(update={"elements": tuple(map(weighed, call.elements))})
        for call in reading.calls
    )
    return reading.model_copy(update={"calls": calls})


def _value(element: Element) -> _Value:
    return element.name, element.value


def _meaning(reading: Reading) -> object:
    return tuple(
        (call.name, tuple((e.name, e.value, e.doubtful) for e in call.elements))
        for call in reading.calls
    )


def _as_spoken(words: Sequence[str], said: Transmission) -> Transmission:
    """Give the words of a reading the times and certainties of the same words as heard."""
    heard = [word.word for word in said.words]
    spoken: list[Word] = [Word(word=word) for word in words]
    for at, there, size in SequenceMatcher(None, heard, words, False).get_matching_blocks():
        spoken[there : there + size] = said.words[at : at + size]
    return said.model_copy(update={"words": tuple(spoken), "alternatives": ()})


def weigh(
    instructed: Sequence[Meaning],
    answered: Sequence[Meaning],
    rules: RuleBook,
    *,
    callsign: str | None,
) -> "Weighing":
    """Judge every meaning of a readback against every one of its instruction.

    Args:
        instructed: Of the instruction, the best first; a typed one has one.
        answered: Of the readback.
        rules: Whose rules count.
        callsign: As `judge` takes it.
    """
    verdicts = [
        (issued.probability * answer.probability, _judge(issued, answer, rules, callsign))
        for issued in instructed
        for answer in answered
    ]
    return Weighing(verdicts, complete=not answered[0].unheard)


class Weighing:
    """The verdicts on all meanings of what was said, weighed.

    `correct` needs a probability of the least certainty, and half as much doubt where a critical
    call is in it. `incorrect` and `incomplete` need one finding that is certain: probable over all
    readings, and heard in words that are certain. Anything else is `say again`.

    Args:
        verdicts: Each with its probability; that on the best meanings first.
        complete: Whether all speech of the best meaning is in words.
        critical: Whether a critical call is in it, where no finding tells.
    """

    def __init__(
        self,
        verdicts: Sequence[tuple[float, Verdict]],
        *,
        complete: bool = True,
        critical: bool = False,
    ) -> None:
        self._best = verdicts[0][1]
        self._ranked = sorted(verdicts, key=lambda pair: -pair[0])
        self._complete = complete
        self._critical = critical
        # What was said where a name belongs, and is none that is listened for, may be wrong.
        self._right = [
            (share, verdict)
            for share, verdict in verdicts
            if verdict.verdict is _CORRECT and OTHER_NAME not in _words(verdict.readback)
        ]
        self._shares: dict[_Key, float] = defaultdict(float)
        for share, verdict in verdicts:
            for key in {_key(finding) for finding in verdict.findings}:
                self._shares[key] += share

    def verdict(self, least_certainty: float) -> Verdict:
        """Give the verdict that is certain enough; 0 takes the best reading as it is."""
        if least_certainty == 0:
            return self._best
        right = sum(share for share, _ in self._right)
        if self._right and right >= self._due(least_certainty):
            return max(self._right, key=lambda pair: pair[0])[1]
        return self._doubted(1 - least_certainty)

    def _due(self, least_certainty: float) -> float:
        """Give how probable it must be that nothing is wrong."""
        critical = self._critical or any(
            finding.severity is Severity.CRITICAL
            for _, verdict in self._right
            for finding in verdict.findings
        )
        due = 1 - (1 - least_certainty) * (SHARE_CRITICAL if critical else 1.0)
        return max(due, LEAST_DUE)

    def _doubted(self, doubt: float) -> Verdict:
        """Keep what is certain, doubt the rest, and make the verdict of what is certain."""
        accused = self._best.verdict in (Outcome.INCORRECT, Outcome.INCOMPLETE)
        certain = [f for f in self._best.mistakes if accused and self._accuses(f, doubt)]
        findings = [
            finding if finding in certain or self._stands(finding, doubt) else _doubted(finding)
            for finding in self._best.findings
        ]
        statuses = {finding.status for finding in certain}
        if statuses & {Status.WRONG, Status.NOT_ISSUED}:
            outcome = Outcome.INCORRECT
        elif Status.MISSING in statuses:
            outcome = Outcome.INCOMPLETE
        else:
            outcome = Outcome.SAY_AGAIN
            if not any(finding.status is Status.NOT_CERTAIN for finding in findings):
                findings += self._unclear()
        return self._best.model_copy(update={"verdict": outcome, "findings": tuple(findings)})

    def _unclear(self) -> list[Finding]:
        """Name what is wrong in the most probable reading that is not right."""
        others = (verdict for _, verdict in self._ranked if verdict.verdict is not _CORRECT)
        wrong = next((verdict.mistakes for verdict in others), ())
        # It stands in another reading than the one that is shown.
        spanless = {"readback_span": None, "instruction_span": None}
        named = [_doubted(finding).model_copy(update=spanless) for finding in wrong]
        return named or [make_remark("readback", "it was not heard with certainty")]

    def _accuses(self, finding: Finding, doubt: float) -> bool:
        if finding.status is Status.MISSING and not self._complete:
            return False
        probable = self._shares[_key(finding)] >= least_accusing(1 - doubt)
        return probable and self._heard(finding) >= least_heard(1 - doubt)

    def _stands(self, finding: Finding, doubt: float) -> bool:
        """Tell whether a finding that accuses nobody is certain enough to be shown as it is."""
        if finding.severity is Severity.ADVISORY or finding.status is Status.NOT_CERTAIN:
            return True
        return finding.status is Status.CORRECT and self._shares[_key(finding)] >= 1 - doubt

    def _heard(self, finding: Finding) -> float:
        """Certainty of the least certain word that a finding rests on: all, if it misses some."""
        answered, issued = self._best.readback.words, self._best.instruction.words
        if finding.status is not Status.MISSING and finding.readback_span is not None:
            answered = answered[slice(*finding.readback_span)]
        if finding.instruction_span is not None:
            issued = issued[slice(*finding.instruction_span)]
        return min(_certainties((*answered, *issued)), default=1.0)


def _judge(issued: Meaning, answer: Meaning, rules: RuleBook, callsign: str | None) -> Verdict:
    """Judge as a controller would: what sounds like the right words is taken for them."""
    verdicts = [
        judge(instruction, readback, rules, callsign=callsign, unheard=answer.unheard)
        for instruction in issued.readings
        for readback in answer.readings
    ]
    right = (verdict for verdict in verdicts if verdict.verdict is _CORRECT)
    return next(right, verdicts[0])


def _key(finding: Finding) -> _Key:
    return finding.call, finding.element, finding.status, finding.heard


def _words(said: Said) -> set[str]:
    return {word.word for word in said.words}


def _certainties(words: Iterable[Word]) -> list[float]:
    return [
        word.certainty
        for word in words
        if word.certainty is not None and word.word not in SLIGHT_WORDS
    ]


def _doubted(finding: Finding) -> Finding:
    """The same finding, not certain."""
    status = Status.NOT_CERTAIN
    message = describe(finding.call, finding.element, status, finding.expected, finding.heard)
    return finding.model_copy(update={"status": status, "message": message})
