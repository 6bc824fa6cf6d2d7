"""Transmissions found in long recordings: how many are missed, false, cut, split or merged."""

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import numpy as np
from pydantic import BaseModel, ConfigDict, TypeAdapter

from readback.errors import InputError
from readback.measure.conditions import Condition
from readback.measure.joined import Joined, join_clips
from readback.measure.observe import read_samples
from readback.measure.statistics import Share
from readback.speech.recogniser import SAMPLE_RATE_HZ
from readback.speech.segments import RECORDING_HANG_S, Segmenter

TOLERANCE_S = 0.1
"""Speech that may be lost at an end before it counts as cut: about one phone; our choice."""
_EACH = 3
"""Transmissions in a joined recording."""
_FULL_SCALE = 32767

Span = tuple[float, float]


class Endpointing(BaseModel):
    """How the transmissions of some joined recordings were found."""

    model_config = ConfigDict(frozen=True)

    condition: str
    """``all`` for all of them."""
    recordings: int
    missed: Share
    """Transmissions of which less than half was found."""
    cut: Share
    """Those found but for more than `TOLERANCE_S` at their start or end."""
    split: Share
    """Those found as two or more."""
    merged: Share
    """Those found together with the one before."""
    false: int
    """Finds in which nobody speaks."""
    stepped_on: Share
    """Of the transmissions, those that were two stations at once; right is to find them as one."""


class Faults(BaseModel):
    """The same of one recording, counted."""

    model_config = ConfigDict(frozen=True)

    missed: int = 0
    cut: int = 0
    split: int = 0
    merged: int = 0
    false: int = 0


def measure_endpointing(
    files: Sequence[Path],
    conditions: Sequence[Condition],
    recordings: int,
    *,
    tell: Callable[[str], None] = lambda _: None,
) -> Iterator[Endpointing]:
    """Join clips, find the transmissions again, and count.

    Args:
        files: Clean recordings of one transmission each, at least three.
        conditions: Over what they are sent, each as often as the next.
        recordings: How many joined recordings to make in all.
        tell: Takes a line on how far it is.

    Yields:
        All together, then each condition.

    Raises:
        AudioError: A recording cannot be used.
        InputError: There are fewer than three.
    """
    if len(files) < _EACH:
        raise InputError(f"{len(files)} recordings cannot be joined.", f"Give {_EACH} or more.")
    clips = [read_samples(file) for file in files]
    made: list[tuple[str, Joined, Faults]] = []
    for number in range(recordings):
        condition = conditions[number % len(conditions)]
        rng = np.random.default_rng(number)
        chosen = [clips[at] for at in rng.choice(len(clips), _EACH, replace=False)]
        joined = join_clips(chosen, condition, number)
        made.append((condition.name, joined, compare_spans(joined.spans, find_spans(joined))))
        if (number + 1) % 50 == 0:
            tell(f"endpointing: {number + 1} of {recordings}")
    for name in ("all", *dict.fromkeys(condition.name for condition in conditions)):
        yield _count(name, [(j, f) for condition, j, f in made if name in ("all", condition)])


def report_json(found: Sequence[Endpointing]) -> str:
    """Write what was measured as one JSON list."""
    return TypeAdapter(list[Endpointing]).dump_json(list(found), indent=2).decode()


def find_spans(joined: Joined) -> list[Span]:
    """Find the transmissions of a joined recording; start and end of each, seconds."""
    segmenter = Segmenter(hang_s=RECORDING_HANG_S)
    pcm = np.round(joined.samples * _FULL_SCALE).astype(np.int16)
    found = []
    for start in range(0, len(pcm), SAMPLE_RATE_HZ):
        found += segmenter.feed(pcm[start : start + SAMPLE_RATE_HZ])
    found += segmenter.finish()
    return [(segment.start_s, segment.end_s) for segment in found]


def compare_spans(said: Sequence[Span], found: Sequence[Span]) -> Faults:
    """Count the faults of one recording.

    Args:
        said: Where each transmission's speech starts and ends.
        found: The same of each find, in order.
    """
    missed = cut = split = merged = 0
    taken: set[int] = set()
    for first, last in said:
        own = [n for n, (start, end) in enumerate(found) if min(end, last) > max(start, first)]
        covered = sum(min(found[n][1], last) - max(found[n][0], first) for n in own)
        if covered < (last - first) / 2:
            missed += 1
            continue
        late = found[own[0]][0] > first + TOLERANCE_S
        early = found[own[-1]][1] < last - TOLERANCE_S
        cut += late or early
        split += len(own) > 1
        merged += bool(taken & set(own))
        taken |= set(own)
    heard = {
        n
        for n, (start, end) in enumerate(found)
        if any(min(end, last) > max(start, first) for first, last in said)
    }
    false = len(found) - len(heard)
    return Faults(missed=missed, cut=cut, split=split, merged=merged, false=false)


def _count(name: str, made: Sequence[tuple[Joined, Faults]]) -> Endpointing:
    total = sum(len(joined.spans) for joined, _ in made)

    def share(count: int) -> Share:
        return Share(count=count, total=total)

    return Endpointing(
        condition=name,
        recordings=len(made),
        missed=share(sum(faults.missed for _, faults in made)),
        cut=share(sum(faults.cut for _, faults in made)),
        split=share(sum(faults.split for _, faults in made)),
        merged=share(sum(faults.merged for _, faults in made)),
        false=sum(faults.false for _, faults in made),
        stepped_on=share(sum(joined.stepped_on for joined, _ in made)),
    )
