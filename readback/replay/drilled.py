"""A recording laid beside its drill: each transmission placed, named and judged."""

from collections.abc import Iterator, Sequence

from readback.drills.align import align, name_stations
from readback.drills.engine import DrillRun
from readback.drills.plan import Due
from readback.judging.manner import measure_manner
from readback.replay.drill_plan import RecordedDrill
from readback.replay.model import HeardTransmission, ReplayedDrill, ReplayedExchange
from readback.replay.naming import in_tracks, name_by_track

Judged = tuple[tuple[HeardTransmission, ...], tuple[ReplayedExchange, ...], ReplayedDrill]


def judge_drilled(
    name: str, recorded: RecordedDrill, heard: Sequence[HeardTransmission], seed: int | None
) -> Judged:
    """Judge a whole recording against its drill.

    Args:
        name: The drill's, for the result.
        recorded: The drill.
        heard: What was said; with a station only where a person told it.
        seed: Of the drill's values and events; None finds both from what was said.

    Returns:
        The transmissions with their stations, the answers with their verdicts in the order of the
        calls, and all that the drill has to tell.
    """
    found: tuple[str, ...] = ()
    if seed is None:
        plan, found = recorded.find_plan([one.transmission for one in heard])
    else:
        plan = recorded.plan(seed)
    heard = name_by_track(heard, name_stations(recorded.run(plan), in_tracks(heard)))
    run = recorded.run(plan)
    numbers = align(run, [one.transmission for one in heard])
    exchanges = [*_answered(run, heard, numbers)]
    run.finish()
    exchanges += _unanswered(run, recorded, heard, numbers)
    named = [
        _named_by(None if number is None else plan.dues[number], one)
        for one, number in zip(heard, numbers, strict=True)
    ]
    drill = ReplayedDrill(
        name=name, seed=plan.seed, values=plan.values, found=found, events=tuple(run.events)
    )
    return tuple(named), tuple(sorted(exchanges, key=lambda one: one.instruction)), drill


def _named_by(due: Due | None, one: HeardTransmission) -> HeardTransmission:
    if one.transmission.station is not None or due is None:
        return one
    return one.spoken_by(due.station, "drill")


def _answered(
    run: DrillRun, heard: Sequence[HeardTransmission], numbers: Sequence[int | None]
) -> Iterator[ReplayedExchange]:
    said: dict[int | None, HeardTransmission] = {}
    for one, number in zip(heard, numbers, strict=True):
        spoken = one.transmission
        asked = None if number is None else said.get(run.plan.dues[number].answers)
        for event in run.hear(spoken.station, spoken, spoken.start, due=number):
            if asked is not None and event.verdict is not None:
                yield ReplayedExchange(
                    instruction=asked.number,
                    readback=one.number,
                    verdict=event.verdict,
                    delivery=measure_manner(spoken, instruction=asked.transmission),
                )
        if number is not None:
            said[number] = one


def _unanswered(
    run: DrillRun,
    recorded: RecordedDrill,
    heard: Sequence[HeardTransmission],
    numbers: Sequence[int | None],
) -> Iterator[ReplayedExchange]:
    """Judge the calls whose answer never came."""
    said = {number: one for one, number in zip(heard, numbers, strict=True) if number is not None}
    for due in run.plan.dues:
        asked = None if due.answers is None else said.get(due.answers)
        if asked is not None and due.signal is None and run.state_of(due.number) == "missing":
            least = recorded.least_certainty(asked.transmission)
            verdict = recorded.wording.check(asked.transmission, None, least)
            yield ReplayedExchange(
                instruction=asked.number, readback=None, verdict=verdict, delivery=None
            )
