"""The aircraft on the ramp through a session of a drill: what was known of it, and since when."""

from dataclasses import dataclass

from readback.drills.align import align, name_stations
from readback.drills.engine import DrillRun
from readback.drills.files import find_drill, load_drill
from readback.drills.plan import Plan, make_plan
from readback.drills.ramp import RampState, describe_ramp
from readback.errors import ReadbackError
from readback.phraseology.grammar import load_grammar
from readback.records.correcting import least_certainty_of
from readback.records.model import KeptSession
from readback.records.versions import content_hash
from readback.transmission import Transmission

ROWS = ("brakes", "steering pin", "engines", "push")
"""What is drawn; `RampStep.changes` tells everything."""


@dataclass(frozen=True)
class RampStep:
    """The state after one transmission."""

    number: int
    """Of the transmission; 0 before the first."""
    state: RampState
    changes: tuple[str, ...]
    """What became other with it, in words; before the first what becomes other later."""

    @property
    def values(self) -> dict[str, str]:
        """`ROWS` in words."""
        state = self.state
        running = ", ".join(map(str, state.engines_running))
        engines = f"{running} running" if running else "none running"
        if state.engine_starting is not None:
            engines = f"{running + ' running, ' if running else ''}{state.engine_starting} starting"
        pin = "in" if state.bypass_pin == "installed" else "out"
        push = "not begun" if state.push_motion == "none" else state.push_motion
        return dict(zip(ROWS, (state.brakes, pin, engines, push), strict=True))


@dataclass(frozen=True)
class RampHistory:
    """The steps at which something changed, the start first."""

    steps: tuple[RampStep, ...]
    drill_changed: bool
    """Whether the drill's file is another than when the session was kept."""


def ramp_history(session: KeptSession) -> RampHistory | None:
    """Follow the aircraft through a session, by the words as they are after corrections.

    Returns:
        None where the session has no drill, its drill is not here any more, or nothing that was
        said changes anything on the ramp: then it is no drill of the interphone.
    """
    if session.head.drill is None:
        return None
    try:
        path = find_drill(session.head.drill)
        plan = _plan(session)
        changed = content_hash(path) != session.head.drill_hash
    except ReadbackError:
        return None
    spoken = _with_stations(session, DrillRun(plan))
    numbers_of = {id(said): number for number, said in enumerate(spoken, start=1)}

    def least_certainty(*judged: Transmission) -> float:
        return least_certainty_of(session, *(numbers_of.get(id(one)) for one in judged))

    run = DrillRun(plan, least_certainty=least_certainty)
    start = run.ramp
    steps: list[RampStep] = []
    numbers = align(run, spoken)
    for kept, said, due in zip(session.transmissions, spoken, numbers, strict=True):
        before = run.ramp
        run.hear(said.station, said, due=due)
        if run.ramp != before:
            steps.append(RampStep(kept.number, run.ramp, describe_ramp(run.ramp, before)))
    if not steps:
        return None
    # Of the start only what becomes other later: all that is known would fill half a page.
    changing = {words for step in steps for words in describe_ramp(start, step.state)}
    first = RampStep(0, start, tuple(one for one in describe_ramp(start) if one in changing))
    return RampHistory((first, *steps), changed)


def _plan(session: KeptSession) -> Plan:
    head = session.head
    assert head.drill is not None
    seed = str(head.settings.get("seed", 0))
    return make_plan(
        load_drill(find_drill(head.drill)),
        load_grammar(),
        seed=int(seed) if seed.isascii() and seed.isdigit() else 0,
        authority=head.authority,
    )


def _with_stations(session: KeptSession, run: DrillRun) -> list[Transmission]:
    """Give each transmission a station of the drill, or none where nothing tells."""
    spoken = [kept.current for kept in session.transmissions]
    stations = {due.station for due in run.plan.dues}
    channels = [one for one in spoken if one.station is not None and one.station not in stations]
    named = name_stations(run, channels) if channels else {}
    return [
        one
        if one.station in stations
        else one.model_copy(update={"station": named.get(one.station or "")})
        for one in spoken
    ]
