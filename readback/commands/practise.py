"""``readback practise``: the screens, or a whole drill by typing in a plain terminal."""

import argparse
import random
import sys
import time
from collections.abc import Callable
from typing import TYPE_CHECKING

from readback.commands.drills import describe_setting, show_words
from readback.commands.hearing import add_engine_arguments
from readback.commands.terminal import Piece, Terminal, escape
from readback.errors import InputError

if TYPE_CHECKING:
    from readback.drills.events import DrillEvent
    from readback.drills.plan import Due
    from readback.drills.practice import Line, Practice

NAME = "practise"
SUMMARY = "practise calls and drills: screens, or a plain terminal"
DESCRIPTION = (
    "Practise by voice or by typing, in the screens; with --plain a drill by typing alone."
    " The program plays the other seats, judges at once and keeps the state of the aircraft. There"
    " /hint shows what is due, /ramp the aircraft, /end ends it."
)
EXAMPLE = "readback practise push_back_tow_bar --plain --seed 7"
SEATS = ("flight_deck", "headset", "controller", "tow_driver", "instructor")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add this command's arguments."""
    parser.add_argument(
        "drill", nargs="?", metavar="DRILL", help='its name in "readback drills", or a file'
    )
    parser.add_argument("--plain", action="store_true", help="type in a plain terminal")
    parser.add_argument(
        "--browser", action="store_true", help="the screens in a browser on this machine alone"
    )
    parser.add_argument("--port", type=int, metavar="N", help="for --browser")
    parser.add_argument("--seat", metavar="NAME", help=f"yours: {', '.join(SEATS)}")
    parser.add_argument(
        "--seed", type=int, metavar="N", help="draws the values; the same again gives the same"
    )
    parser.add_argument(
        "--authority", metavar="NAME", help="whose rules count: icao, easa, faa or uk"
    )
    parser.add_argument("--trainee", metavar="NAME", help="keep the practice in NAME's records")
    parser.add_argument(
        "--consent", action="store_true", help="the trainee agreed that the voice is kept as well"
    )
    parser.add_argument("--records", metavar="PATH|URL", help='as with "readback records"')
    parser.add_argument(
        "--device", metavar="NAME", help='microphone, of "readback listen --devices"'
    )
    add_engine_arguments(parser)
    parser.add_argument(
        "--timed", action="store_true", help="judge too how long you take; answers are due in 10 s"
    )


def run(arguments: argparse.Namespace) -> int:
    """Practise; with --plain 0: no fault was found, 1: one was, or the drill was not ended."""
    if arguments.seat is not None and arguments.seat not in SEATS:
        raise InputError(f"There is no seat {arguments.seat!r}.", f"Use one of {', '.join(SEATS)}.")
    if arguments.plain:
        return _practise_plain(arguments)
    if arguments.browser:
        from readback.screens.browser import DEFAULT_PORT, serve_screens

        serve_screens(["practise", *_screen_options(arguments)], arguments.port or DEFAULT_PORT)
        return 0
    from readback.commands.screens import open_screens

    return open_screens(
        first=None if arguments.drill else "practise",
        drill=arguments.drill,
        seat=arguments.seat,
        seed=arguments.seed,
        authority=arguments.authority or "icao",
        engine=arguments.engine,
        vosk_model=arguments.vosk_model,
        device=arguments.device,
        trainee=arguments.trainee,
        consent=arguments.consent,
        timed=arguments.timed,
        records=arguments.records,
    )


def _screen_options(arguments: argparse.Namespace) -> list[str]:
    """Write the options of the screens as typed, for the program behind each page."""
    names = (
        "seat",
        "seed",
        "authority",
        "trainee",
        "records",
        "device",
        "engine",
        "vosk_model",
    )
    options = [] if arguments.drill is None else [arguments.drill]
    for name in names:
        value = getattr(arguments, name)
        if value is not None:
            options += [f"--{name.replace('_', '-')}", str(value)]
    flags = [name for name in ("consent", "timed") if getattr(arguments, name)]
    return [*options, *(f"--{name}" for name in flags)]


def _practise_plain(arguments: argparse.Namespace) -> int:
    from readback.drills.engine import DrillRun
    from readback.drills.files import find_drill, load_drill
    from readback.drills.plan import make_plan
    from readback.drills.practice import Practice
    from readback.phraseology.grammar import load_grammar

    if arguments.drill is None:
        raise InputError("No drill is named.", 'Name one of "readback drills".')
    seed = random.SystemRandom().randrange(10_000) if arguments.seed is None else arguments.seed
    drill = load_drill(find_drill(arguments.drill))
    plan = make_plan(
        drill, load_grammar(), seed=seed, seat=arguments.seat, authority=arguments.authority
    )
    clock = time.monotonic if arguments.timed else None
    practice = PlainPractice(Practice(DrillRun(plan), clock), Terminal.of(), sys.stdin.readline)
    return practice.run(drill.purpose)


class PlainPractice:
    """One drill in a plain terminal.

    Args:
        practice: At its start.
        terminal: What it is shown on.
        read: Gives one typed line, empty at the end of input.
    """

    def __init__(self, practice: "Practice", terminal: Terminal, read: Callable[[], str]) -> None:
        self._practice = practice
        self._run = practice.run
        self._terminal = terminal
        self._read = read
        self._ramp = self._run.ramp

    def run(self, purpose: str) -> int:
        """Go through the drill; see `run` for the status."""
        self._show_head(purpose)
        while (due := self._run.due) is not None:
            if self._practice.turn is None:
                self._play(due)
            elif not self._take_turn(due):
                break
        complete = self._run.due is None
        self._show_events(self._practice.finish().events)
        return self._show_summary(complete)

    # ---- the program's seats -------------------------------------------------------------------

    def _play(self, due: "Due") -> None:
        said = self._practice.advance()
        if said is None:
            return
        line, reply = said
        self._show_said(line)
        if due.signal is not None:
            self._show_drawn(due.signal)
        self._show_events(reply.events)

    # ---- the trainee's seat --------------------------------------------------------------------

    def _take_turn(self, due: "Due") -> bool:
        """Take one typed line; False at the end of input."""
        self._show_prompt(due)
        line = self._read()
        if not sys.stdin.isatty():
            # A terminal shows what is typed and its line break; of a file nothing is seen.
            print(escape(line.rstrip()))
        text = line.strip()
        if not line or text == "/end":
            return False
        if text == "/ramp":
            self._show_ramp()
        elif text == "/hint":
            self._line(f"due: {show_words(due, self._run)}")
        elif text:
            self._answer(due, text)
        return True

    def _answer(self, due: "Due", text: str) -> None:
        reply = self._practice.answer(text)
        self._show_events(reply.events)
        if due.signal is not None and self._run.due is not due:
            self._show_drawn(due.signal)
        if reply.as_due is not None:
            self._line(f"As it is due: {reply.as_due}")
        for line in reply.said:
            self._show_said(line)
        if reply.once_more and not reply.said:
            self._line("Once more.")

    # ---- showing -------------------------------------------------------------------------------

    def _show_said(self, line: "Line") -> None:
        shown = f"[{line.text}]" if line.signal else line.text
        self._line(f"{line.station.replace('_', ' ')}: {shown}", indent="")

    def _line(self, text: str, *, indent: str = "  ", mark: Piece | None = None) -> None:
        pieces = [*([mark] if mark else []), Piece(escape(text))]
        for line in self._terminal.lines(pieces, indent, indent + "    "):
            print(line)

    def _show_head(self, purpose: str) -> None:
        plan = self._run.plan
        self._line(plan.title, indent="")
        self._line(purpose)
        for text in describe_setting(plan):
            self._line(text)
        self._line(f"Your seat: {plan.seat.replace('_', ' ')}. /hint, /ramp, /end.")
        self._show_start()

    def _show_start(self) -> None:
        from readback.drills.ramp import RampState, describe_ramp

        state = self._run.ramp
        parts = [f"brakes {state.brakes}", f"chocks {state.chocks}"]
        parts += describe_ramp(state, RampState(brakes=state.brakes, chocks=state.chocks))
        self._line(f"ramp: {'; '.join(parts)}")

    def _show_ramp(self) -> None:
        from readback.drills.ramp import describe_ramp

        self._line(f"ramp: {'; '.join(describe_ramp(self._run.ramp))}")

    def _show_prompt(self, due: "Due") -> None:
        if due.prompt and not due.is_answer:
            self._line(due.prompt)
        elif due.prompt:
            self._line(f"Answer. {due.prompt}")
        elif due.is_answer:
            self._line("Answer.")
        elif due.part == "catch":
            self._line("Go on, or put it right.")
        else:
            self._line(f"Next: {due.step.replace('_', ' ')}.")
        if due.signal is not None:
            self._show_signal(due.signal)
        print(f"{due.station.replace('_', ' ')} (you): ", end="", flush=True)

    def _show_signal(self, key: str) -> None:
        from readback.drills.signals import load_signals

        self._line(f"A hand signal; type its name. It says: {load_signals()[key].meaning}")

    def _show_drawn(self, key: str) -> None:
        from readback.drills.signals import load_signals

        signal = load_signals()[key]
        for line in signal.drawing:
            print(f"      {line.rstrip()}")
        self._line(f"{signal.name}: {signal.says}")

    def _show_events(self, events: tuple["DrillEvent", ...]) -> None:
        from readback.commands.drill_render import render_event

        for event in events:
            # That the program says what is due tells the trainee nothing.
            if event.kind == "came" and event.station != self._run.plan.seat:
                continue
            for line in render_event(event, self._terminal):
                print(line)
        self._show_changes()

    def _show_changes(self) -> None:
        from readback.drills.ramp import describe_ramp

        changes = describe_ramp(self._run.ramp, self._ramp)
        if changes:
            self._line(f"ramp: {'; '.join(changes)}")
        self._ramp = self._run.ramp

    def _show_summary(self, complete: bool) -> int:
        from readback.commands.drill_render import render_summary
        from readback.commands.render import CAUTION

        print()
        for line in render_summary(self._run, self._terminal, complete=complete):
            print(line)
        seed = self._run.plan.seed
        print(f"Seed {seed}: the same drill again with --seed {seed}.")
        sys.stdout.flush()
        print(CAUTION, file=sys.stderr)
        faulty = any(event.is_fault for event in self._run.events)
        return 0 if complete and not faulty else 1
