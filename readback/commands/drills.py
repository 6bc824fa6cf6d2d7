"""``readback drills``: the catalogue of drills, one in full, or drill files checked."""

import argparse
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from readback.commands.terminal import Piece, Terminal, escape, tell
from readback.errors import GrammarError, InputError

if TYPE_CHECKING:
    from readback.drills.engine import DrillRun
    from readback.drills.model import Drill
    from readback.drills.plan import Due, Plan

NAME = "drills"
SUMMARY = "list the drills, show one, or check drill files"
DESCRIPTION = (
    "List the drills. show DRILL gives one in full, with the words that the program says; validate"
    " FILE... checks drill files and plays each from every seat, which must find no fault."
)
EXAMPLE = "readback drills show push_back_tow_bar"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add this command's arguments."""
    parser.add_argument("action", nargs="?", metavar="show|validate", help="all without it")
    parser.add_argument("names", nargs="*", metavar="DRILL|FILE", help="the drill, or its file")
    parser.add_argument(
        "--seed", type=int, default=0, metavar="N", help="of the values that are drawn; 0 if left"
    )


def run(arguments: argparse.Namespace) -> int:
    """List, show or check; see `readback.cli.main` for the status."""
    if arguments.action is None:
        return _list(Terminal.of())
    if arguments.action == "show":
        if len(arguments.names) != 1:
            raise InputError("show needs one drill.", 'See "readback drills" for their names.')
        return _show(arguments.names[0], arguments.seed, Terminal.of())
    if arguments.action == "validate":
        if not arguments.names:
            raise InputError("validate needs a file.", "Give drill files (.yaml).")
        return _validate(arguments.names)
    raise InputError(f"{arguments.action!r} is nothing to do.", "Use show or validate.")


def _list(terminal: Terminal) -> int:
    from readback.drills.files import find_drills, load_drill

    names = find_drills()
    column = max(map(len, names), default=0) + 2
    for name, path in names.items():
        drill = load_drill(path)
        seats = ", ".join(seat.replace("_", " ") for seat in drill.seats)
        text = [Piece(f"{drill.title} ({seats})")]
        for line in terminal.lines(text, f"{name:<{column}}", " " * column):
            print(line)
    return 0


def _validate(names: Sequence[str]) -> int:
    from readback.drills.trial import validate

    bad = False
    for name in names:
        try:
            drill, runs = validate(Path(name))
        except GrammarError as error:
            tell(str(error))
            bad = True
            continue
        print(f"{escape(name)}: {drill.title}: {len(drill.steps)} steps, {runs} runs without fault")
    return 2 if bad else 0


def _show(name: str, seed: int, terminal: Terminal) -> int:
    from readback.drills.engine import DrillRun
    from readback.drills.files import find_drill, load_drill
    from readback.drills.plan import make_plan
    from readback.phraseology.grammar import load_grammar

    drill = load_drill(find_drill(name))
    plan = make_plan(drill, load_grammar(), seed=seed)
    for indent, text in (*_head(drill, plan), *_exchange(plan, DrillRun(plan)), *_foot(drill)):
        for line in terminal.lines([Piece(escape(text))], indent, indent + "    "):
            print(line)
    return 0


def _head(drill: "Drill", plan: "Plan") -> Iterator[tuple[str, str]]:
    yield "", drill.title
    yield "  ", drill.purpose
    for line in describe_setting(plan):
        yield "  ", line
    for station, title in drill.stations.items():
        seat = ", a seat" if station in drill.seats else ""
        yield "  ", f"{station.replace('_', ' ')}{seat}: {title}"


def describe_setting(plan: "Plan") -> Iterator[str]:
    """Say where and with what a drill is flown."""
    setting = plan.setting
    parts = [
        setting.aircraft.replace("_", " "),
        f"stand {setting.stand}",
        setting.weather.replace("_", " "),
        "tow bar" if setting.tow_bar else "no tow bar",
        f"headset {setting.headset}",
    ]
    if setting.slope != "level":
        parts.append(setting.slope)
    parts += [one.replace("_", " ") for one in setting.nearby]
    if setting.start_order:
        parts.append(f"engines in the order {setting.start_order}")
    if setting.turn:
        parts.append(f"first turn to the {setting.turn}")
    yield f"setting: {', '.join(parts)}"
    yield f"callsigns: {', '.join(plan.roster)}; own: {plan.callsign}"
    yield f"authority: {setting.authority}; seed: {plan.seed}"


def _exchange(plan: "Plan", run: "DrillRun") -> Iterator[tuple[str, str]]:
    happenings = {happening.after: happening for happening in plan.happenings}
    for due in plan.dues:
        yield "  ", f"{due.number + 1:>2} {due.station.replace('_', ' ')}: {show_words(due, run)}"
        if due.number in happenings:
            yield "     ", f"event: {happenings[due.number].announce}"


def show_words(due: "Due", run: "DrillRun") -> str:
    """Give the words in which the program says what is due; a signal in brackets."""
    words = run.voice.say(due)
    if due.signal is not None:
        words = f"[{words}]"
    return f"{words} (wrong: {due.fault})" if due.faulty else words


def _foot(drill: "Drill") -> Iterator[tuple[str, str]]:
    yield "  ", f"end: {drill.end.says}"
    for source in drill.sources.values():
        yield "  ", f"source: {source}"
