"""A drill tried out: everything that is due said faithfully, which must find no fault."""

import random
from pathlib import Path

from readback.drills.checking import step_place
from readback.drills.engine import DrillRun
from readback.drills.files import load_drill
from readback.drills.model import Drill, Seat
from readback.drills.plan import Plan, make_plan
from readback.errors import GrammarError
from readback.judging.yaml_text import YamlText, load_yaml
from readback.phraseology.grammar import load_grammar

SEEDS = range(3)
"""Runs of each seat that a trial makes."""


def play(plan: Plan, rng: random.Random | None = None) -> DrillRun:
    """Say everything that is due, each station its own, until the end.

    Args:
        plan: What is due.
        rng: Draws the wordings; None takes the published words where there are some.

    Returns:
        The run, ended.

    Raises:
        GrammarError: A step cannot be said so that it is understood; names the step.
    """
    run = DrillRun(plan)
    while (due := run.due) is not None:
        run.hear(due.station, run.voice.say(due, rng, run.instruction_for(due)))
        if run.due is due:
            raise GrammarError(f"step {due.step}: goes round in a circle.", "Mend that step.")
    run.finish()
    return run


def try_drill(drill: Drill, text: YamlText) -> int:
    """Play a drill from each of its seats.

    Args:
        drill: Loaded.
        text: Its file, for the lines of errors.

    Returns:
        How many runs were played.

    Raises:
        GrammarError: A faithful run finds a fault, so the drill itself has one; names file, line
            and step.
    """
    runs = 0
    for seat in drill.seats:
        for seed in SEEDS:
            _try_once(drill, text, seat, seed)
            runs += 1
    return runs


def _try_once(drill: Drill, text: YamlText, seat: Seat, seed: int) -> None:
    try:
        run = play(make_plan(drill, load_grammar(), seed=seed, seat=seat))
    except GrammarError as error:
        step = error.what.removeprefix("step ").split(":")[0]
        what = error.what.partition(": ")[2].rstrip(".")
        raise text.fail(step_place(drill, step), what, error.remedy) from error
    for event in run.events:
        if event.is_fault:
            said = event.findings[0].message if event.findings else event.message
            place = step_place(drill, event.step) if event.step else ("end",)
            what = f"said as due it is a fault ({seat}, seed {seed}): {said.rstrip('.')}"
            raise text.fail(place, what, event.message)


def validate(path: Path) -> tuple[Drill, int]:
    """Load a drill file and try it out.

    Returns:
        The drill, and how many faithful runs were played.

    Raises:
        GrammarError: See `readback.drills.files.load_drill` and `try_drill`.
    """
    drill = load_drill(path)
    return drill, try_drill(drill, load_yaml(path))
