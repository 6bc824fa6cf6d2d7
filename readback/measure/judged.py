"""Observations judged at one threshold, and what of each readback's values came through."""

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

from readback.judging.check import check, prepare
from readback.judging.model import Outcome, Said, Verdict
from readback.measure.baseline import NAME, judge_by_words
from readback.measure.labels import Labelled
from readback.measure.observe import Observation
from readback.measure.statistics import Retrieval

CALL = "(call)"
"""The kind under which a call's own name is counted."""

Value = tuple[str, str]
"""Kind of element and its value: ``("runway", "27L")``."""


@dataclass(frozen=True)
class Certainty:
    """One value that was heard."""

    certainty: float
    right: bool


def judge_observation(seen: Observation, least_certainty: float) -> Outcome:
    """Judge what was heard; the baseline by its words, anything else by `check`.

    Args:
        seen: What was heard.
        least_certainty: Elements heard with less are not judged; no meaning for the baseline.
    """
    if seen.engine == NAME:
        return judge_by_words(seen.labelled.instruction, seen.heard.text)
    return check_heard(seen, least_certainty).verdict


def check_heard(seen: Observation, least_certainty: float = 0.0) -> Verdict:
    """Check what was heard of a readback against its instruction."""
    one = seen.labelled
    return check(
        one.instruction,
        seen.heard,
        authority=one.authority,
        callsign=one.callsign,
        least_certainty=least_certainty,
    )


def judge_at(seen: Observation) -> Callable[[float], Outcome]:
    """Judge at every point of a curve: a least certainty, for the baseline how alike it must be."""
    one = seen.labelled
    if seen.engine == NAME:
        return lambda point: judge_by_words(one.instruction, seen.heard.text, 1 - point)
    judged = prepare(one.instruction, seen.heard, authority=one.authority, callsign=one.callsign)
    return lambda point: judged(point).verdict


def compare_values(seen: Observation) -> tuple[dict[str, Retrieval], tuple[Certainty, ...]]:
    """Compare the values that were heard with those that were said.

    Returns:
        By kind of element how many were right, heard and said (a call counts under `CALL`), and the
        certainty of each heard value that has one. A value is right if the same element has the
        same value in what was said, wherever it stands.
    """
    said = Counter(_values(_typed(seen.labelled)))
    left, heard = Counter(said), Counter[Value]()
    right, certainties = Counter[str](), list[Certainty]()
    for value, certainty in _heard_values(seen):
        heard[value] += 1
        hit = left[value] > 0
        if hit:
            left[value] -= 1
            right[value[0]] += 1
        if certainty is not None:
            certainties.append(Certainty(certainty, hit))
    kinds = dict.fromkeys(kind for kind, _ in [*said, *heard])
    found = {
        kind: Retrieval(right=right[kind], heard=_of(heard, kind), said=_of(said, kind))
        for kind in kinds
    }
    return found, tuple(certainties)


def _of(values: Counter[Value], kind: str) -> int:
    return sum(count for value, count in values.items() if value[0] == kind)


@lru_cache(maxsize=4096)
def _typed(one: Labelled) -> Said:
    return check(
        one.instruction, one.readback, authority=one.authority, callsign=one.callsign
    ).readback


def _values(said: Said) -> list[Value]:
    calls = [(CALL, call.name) for call in said.calls]
    return calls + [(e.name, e.value) for call in said.calls for e in call.elements]


def _heard_values(seen: Observation) -> list[tuple[Value, float | None]]:
    heard = check_heard(seen).readback
    found: list[tuple[Value, float | None]] = [((CALL, call.name), None) for call in heard.calls]
    for call in heard.calls:
        found += [((e.name, e.value), e.certainty) for e in call.elements]
    return found
