"""What a second engine brings: verdicts by two that heard the same clips."""

from collections import defaultdict
from collections.abc import Iterator, Sequence

from pydantic import BaseModel, ConfigDict

from readback.judging.model import Outcome
from readback.judging.second_opinion import RELAXED, heed
from readback.measure.certainty import LeastCertainty
from readback.measure.judged import check_heard
from readback.measure.observe import Observation
from readback.measure.statistics import Share


class SecondOpinion(BaseModel):
    """Outcomes of one engine alone and with another, under one condition."""

    model_config = ConfigDict(frozen=True)

    engine: str
    second: str
    condition: str
    passed: tuple[Share, Share]
    """Wrong readbacks judged ``correct``: alone, with the other."""
    rejected: tuple[Share, Share]
    """Right readbacks judged ``incorrect`` or ``incomplete``."""
    say_again: tuple[Share, Share]
    """Of all readbacks."""
    cost: float | None
    """The other's time for the first's, of the processors; None where it is not known."""


def measure_second(
    first: Sequence[Observation],
    second: Sequence[Observation],
    least_first: LeastCertainty,
    least_second: LeastCertainty,
) -> Iterator[SecondOpinion]:
    """Judge what two engines heard of the same clips.

    Args:
        first: Of the engine in use.
        second: Of the other, clip by clip and condition by condition the same.
        least_first: What the certainty of the first's verdict must be.
        least_second: The same of the other.

    Yields:
        By condition.
    """
    groups: dict[str, list[tuple[Observation, Observation]]] = defaultdict(list)
    for one, other in zip(first, second, strict=True):
        groups[one.condition.name].append((one, other))
    for condition, pairs in groups.items():
        alone: list[Outcome] = []
        both: list[Outcome] = []
        for one, other in pairs:
            verdict = check_heard(one, least_first(one.heard))
            heeded = heed(
                verdict, check_heard(one, RELAXED), check_heard(other, least_second(other.heard))
            )
            alone.append(verdict.verdict)
            both.append(heeded.verdict)
        right = [one.labelled.faithful for one, _ in pairs]
        wrong = [not faithful for faithful in right]
        accusing = (Outcome.INCORRECT, Outcome.INCOMPLETE)
        yield SecondOpinion(
            engine=first[0].engine,
            second=second[0].engine,
            condition=condition,
            passed=(
                _share(alone, wrong, (Outcome.CORRECT,)),
                _share(both, wrong, (Outcome.CORRECT,)),
            ),
            rejected=(_share(alone, right, accusing), _share(both, right, accusing)),
            say_again=(
                _share(alone, [True] * len(pairs), (Outcome.SAY_AGAIN,)),
                _share(both, [True] * len(pairs), (Outcome.SAY_AGAIN,)),
            ),
            cost=_cost(pairs),
        )


def _share(outcomes: Sequence[Outcome], of: Sequence[bool], counted: tuple[Outcome, ...]) -> Share:
    members = [outcome for outcome, member in zip(outcomes, of, strict=True) if member]
    return Share(count=sum(outcome in counted for outcome in members), total=len(members))


def _cost(pairs: Sequence[tuple[Observation, Observation]]) -> float | None:
    times = [
        (one.cpu_s, other.cpu_s)
        for one, other in pairs
        if one.cpu_s is not None and other.cpu_s is not None
    ]
    spent = sum(one for one, _ in times)
    return sum(other for _, other in times) / spent if spent else None
