"""The figures of a group of observations: what was passed, rejected, asked again, misheard."""

from collections import defaultdict
from collections.abc import Iterable, Sequence

from pydantic import BaseModel, ConfigDict

from readback.judging.model import Outcome
from readback.measure.certainty import LeastCertainty
from readback.measure.judged import Certainty, compare_values, judge_observation
from readback.measure.observe import Observation
from readback.measure.statistics import (
    Bin,
    Retrieval,
    Share,
    calibration_bins,
    expected_calibration_error,
)
from readback.measure.word_errors import WordErrors, align, normal_words, raw_words

_ACCUSING = (Outcome.INCORRECT, Outcome.INCOMPLETE)


class Figures(BaseModel):
    """One group: an engine under a condition, all voices or one."""

    model_config = ConfigDict(frozen=True)

    engine: str
    channel: str
    snr_db: float | None
    voice: str | None
    """None: all of them."""
    least_certainty: float | None
    """What was heard with less was not judged, the strictest where the channel was not found of
    all; None for the baseline, which has no certainty."""
    passed: Share
    """Wrong readbacks judged ``correct``: the dangerous mistake."""
    rejected: Share
    """Right readbacks judged ``incorrect`` or ``incomplete``: the annoying one."""
    say_again: Share
    """Of all readbacks."""
    say_again_right: Share
    """Of the right ones."""
    say_again_wrong: Share
    """Of the wrong ones."""
    caught: Share
    """Wrong readbacks judged ``incorrect`` or ``incomplete``."""
    words_raw: WordErrors
    words_normal: WordErrors
    elements: dict[str, Retrieval]
    """By kind of element; a call under ``(call)``."""
    values: Retrieval
    """All kinds together, calls apart."""
    calibration_error: float | None
    """Expected calibration error of the elements' certainties; None where there are none."""
    calibration: tuple[Bin, ...]
    unheard: int
    """Transmissions in which no word was heard."""
    failures: int
    """Transmissions at which the engine broke."""
    audio_s: float
    wall_s: float
    cpu_s: float | None
    """Processor time of the engine's process, seconds; None where this system does not tell."""
    cpu_audio_s: float
    """Length of the sound of which ``cpu_s`` is known: not where the engine broke."""

    @property
    def name(self) -> str:
        """``clean``, ``radio 20 dB``."""
        return self.channel if self.snr_db is None else f"{self.channel} {self.snr_db:g} dB"

    @property
    def wall_factor(self) -> float | None:
        """Real-time factor by the clock: other work on the machine counts too."""
        return self.wall_s / self.audio_s if self.audio_s else None

    @property
    def cpu_factor(self) -> float | None:
        """Real-time factor by the time of processors that the engine took."""
        return None if self.cpu_s is None else self.cpu_s / self.cpu_audio_s


def make_figures(
    observations: Sequence[Observation], least_certainty: LeastCertainty | None
) -> list[Figures]:
    """Make the figures of each engine and condition, then of each voice in it.

    Args:
        observations: Of one engine.
        least_certainty: What is heard with less is not judged; None for the baseline.
    """
    groups: dict[tuple[str, float | None], list[Observation]] = defaultdict(list)
    for seen in observations:
        groups[seen.condition.channel, seen.condition.snr_db].append(seen)
    figures: list[Figures] = []
    for members in groups.values():
        judged = [_Judged(seen, least_certainty) for seen in members]
        figures.append(_figures(judged, None))
        voices = dict.fromkeys(seen.labelled.voice for seen in members)
        for voice in voices if len(voices) > 1 else ():
            own = [one for one in judged if one.seen.labelled.voice == voice]
            figures.append(_figures(own, voice))
    return figures


class _Judged:
    """One observation with all that is counted of it."""

    def __init__(self, seen: Observation, least_certainty: LeastCertainty | None) -> None:
        self.seen = seen
        self.least = None if least_certainty is None else least_certainty(seen.heard)
        self.outcome = judge_observation(seen, self.least or 0.0)
        said, heard = seen.labelled.readback, seen.heard.text
        self.raw = align(raw_words(said), raw_words(heard))
        self.normal = align(normal_words(said), normal_words(heard))
        self.kinds, self.certainties = compare_values(seen)


def _figures(judged: Sequence[_Judged], voice: str | None) -> Figures:
    first = judged[0].seen
    right = [one.outcome for one in judged if one.seen.labelled.faithful]
    wrong = [one.outcome for one in judged if not one.seen.labelled.faithful]
    kinds = _added(one.kinds for one in judged)
    bins = _bins([certainty for one in judged for certainty in one.certainties])
    timed = [(one.seen.cpu_s, one.seen.audio_s) for one in judged if one.seen.cpu_s is not None]
    return Figures(
        engine=first.engine,
        channel=first.condition.channel,
        snr_db=first.condition.snr_db,
        voice=voice,
        least_certainty=max((one.least for one in judged if one.least is not None), default=None),
        passed=_share(wrong, Outcome.CORRECT),
        rejected=_share(right, *_ACCUSING),
        say_again=_share(right + wrong, Outcome.SAY_AGAIN),
        say_again_right=_share(right, Outcome.SAY_AGAIN),
        say_again_wrong=_share(wrong, Outcome.SAY_AGAIN),
        caught=_share(wrong, *_ACCUSING),
        words_raw=sum((one.raw for one in judged), WordErrors()),
        words_normal=sum((one.normal for one in judged), WordErrors()),
        elements=kinds,
        values=all_values(kinds),
        calibration_error=expected_calibration_error(bins),
        calibration=bins,
        unheard=sum(not one.seen.heard.words for one in judged),
        failures=sum(one.seen.failure is not None for one in judged),
        audio_s=sum(one.seen.audio_s for one in judged),
        wall_s=sum(one.seen.wall_s for one in judged),
        cpu_s=sum(cpu_s for cpu_s, _ in timed) if timed else None,
        cpu_audio_s=sum(audio_s for _, audio_s in timed),
    )


def all_values(kinds: dict[str, Retrieval]) -> Retrieval:
    """Add up the kinds of elements; calls are no elements."""
    values = (found for kind, found in kinds.items() if not kind.startswith("("))
    return sum(values, Retrieval(right=0, heard=0, said=0))


def _share(outcomes: Sequence[Outcome], *counted: Outcome) -> Share:
    return Share(count=sum(outcome in counted for outcome in outcomes), total=len(outcomes))


def _added(parts: Iterable[dict[str, Retrieval]]) -> dict[str, Retrieval]:
    nothing = Retrieval(right=0, heard=0, said=0)
    total: dict[str, Retrieval] = {}
    for part in parts:
        for kind, found in part.items():
            total[kind] = total.get(kind, nothing) + found
    return dict(sorted(total.items()))


def _bins(certainties: Sequence[Certainty]) -> tuple[Bin, ...]:
    return calibration_bins(
        [one.certainty for one in certainties], [one.right for one in certainties]
    )
