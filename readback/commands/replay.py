"""``readback replay``: recorded drills, who said what and a verdict for each exchange."""

import argparse
import json
import sys
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from readback.commands.hearing import (
    Listener,
    add_engine_arguments,
    add_judging_arguments,
    add_local_argument,
    listening,
)
from readback.commands.terminal import Piece, Terminal, escape, json_writer, tell
from readback.errors import InputError, ReadbackError

if TYPE_CHECKING:
    from readback.judging.model import Verdict
    from readback.transmission import Transmission

NAME = "replay"
SUMMARY = "judge the exchanges in recorded drills"
DESCRIPTION = (
    "Hear recorded drills: who said what, and a verdict for each exchange. A recording with one"
    " station in each of two channels tells the stations apart; in any other, transmissions"
    " answer one another in turn."
)
EXAMPLE = "readback replay audio_demo_synth/recordings/gc04_cross_for_hold_short.flac"


@dataclass
class _Drill:
    """One recording, heard and judged."""

    file: str
    transmissions: list["Transmission"] = field(default_factory=list)
    verdicts: list[tuple["Transmission", "Transmission | None", "Verdict"]] = field(
        default_factory=list
    )
    error: ReadbackError | None = None
    """Why it could not be heard to its end."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add this command's arguments."""
    parser.add_argument("files", nargs="+", metavar="FILE", help="recordings")
    add_judging_arguments(parser)
    add_local_argument(parser)
    add_engine_arguments(parser)
    parser.add_argument("--json", action="store_true", help="print JSON, for programs")


def run(arguments: argparse.Namespace) -> int:
    """Hear and judge the recordings; see `readback.cli.main` for the status."""
    with listening(
        arguments.engine, arguments.vosk_model, arguments.authority, arguments.local
    ) as listener:
        return show_replay(
            arguments.files,
            listener,
            authority=arguments.authority,
            callsign=arguments.callsign,
            as_json=arguments.json,
        )


def show_replay(
    files: Sequence[str],
    listener: Listener,
    *,
    authority: str = "icao",
    callsign: str | None = None,
    as_json: bool = False,
) -> int:
    """Hear and judge the exchanges of recordings.

    Args:
        files: Paths of recordings.
        listener: Hears them.
        authority: Whose rules count.
        callsign: The callsign addressed, where instructions have none.
        as_json: Print one JSON document instead of text.

    Returns:
        0: all readbacks are correct. 1: one is not. 2: a recording was not heard to its end, or
        holds no instruction.
    """
    drills = []
    terminal = Terminal.of()
    for file in files:
        drill = _replay(file, listener, authority, callsign)
        drills.append(drill)
        if not as_json:
            _show(drill, terminal)
        if drill.error is not None:
            tell(str(drill.error))
    if as_json:
        json_writer()(json.dumps({"recordings": [_document(drill) for drill in drills]}, indent=2))
    else:
        _show_caution()
    return _status(drills)


def _replay(file: str, listener: Listener, authority: str, callsign: str | None) -> _Drill:
    from readback.judging.check import check
    from readback.judging.exchange import find_exchanges, join_pauses
    from readback.judging.rules import load_rules
    from readback.phraseology.grammar import load_grammar

    grammars = listener.local.grammars if listener.local else ()
    own_rules = listener.local.rules if listener.local else ()
    rules = load_rules(authority, own_rules)
    drill = _Drill(file)
    heard: list[Transmission] = []
    try:
        for transmission in listener.hear_file(Path(file)):
            heard.append(transmission)
    except ReadbackError as error:
        # What was heard before the damage still counts.
        drill.error = error
    drill.transmissions = list(join_pauses(heard))
    for exchange in find_exchanges(drill.transmissions, load_grammar(grammars), rules):
        instruction, readback = exchange.instruction, exchange.readback
        verdict = check(
            instruction,
            readback or "",
            authority=authority,
            callsign=callsign,
            local_grammars=grammars,
            local_rules=own_rules,
            least_certainty=listener.least_certainty,
        )
        drill.verdicts.append((instruction, readback, verdict))
    if drill.error is None and not drill.verdicts:
        drill.error = InputError(
            f"{file}: no instruction that wants an answer was heard.",
            "Give a recording of instructions and their readbacks.",
        )
    return drill


def _status(drills: list[_Drill]) -> int:
    if any(drill.error is not None for drill in drills):
        return 2
    outcomes = {verdict.verdict for drill in drills for _, _, verdict in drill.verdicts}
    return 0 if outcomes == {"correct"} else 1


def _document(drill: _Drill) -> dict[str, Any]:
    return {
        "file": drill.file,
        "transmissions": [item.model_dump(mode="json") for item in drill.transmissions],
        "exchanges": [
            {
                "instructed": _interval(instruction),
                "answered": None if readback is None else _interval(readback),
                **verdict.model_dump(mode="json"),
            }
            for instruction, readback, verdict in drill.verdicts
        ],
        "error": None if drill.error is None else str(drill.error),
    }


def _interval(transmission: "Transmission") -> dict[str, Any]:
    return transmission.model_dump(mode="json", include={"station", "start", "end"})


def _show(drill: _Drill, terminal: Terminal) -> None:
    from readback.commands.render import render_findings, render_outcome, render_sides

    print(escape(drill.file))
    for transmission in drill.transmissions:
        head = f"  {_time(transmission.start)}  "
        if transmission.station:
            head += f"{escape(transmission.station)}: "
        text = escape(transmission.text) or "(not understood)"
        for line in terminal.lines([Piece(text)], head, " " * len(head)):
            print(line)
    for number, (instruction, _, verdict) in enumerate(drill.verdicts, start=1):
        at = Piece(f"exchange {number}, {_time(instruction.start)}:")
        for line in terminal.lines([at, render_outcome(verdict.verdict)], "  ", "  "):
            print(line)
        for line in render_findings(verdict, terminal, indent="    ", brief=True):
            print(line)
        for line in render_sides(verdict, terminal, indent="    "):
            print(line)


def _show_caution() -> None:
    from readback.commands.render import CAUTION

    sys.stdout.flush()
    print(CAUTION, file=sys.stderr)


def _time(seconds: float | None) -> str:
    tenths = round((seconds or 0.0) * 10)
    return f"{tenths // 600:02}:{tenths // 10 % 60:02}.{tenths % 10}"
