"""``readback check``: readbacks, typed or recorded, judged against their instructions."""

import argparse
import sys
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from readback.commands.hearing import (
    Listener,
    add_hearing_arguments,
    expect_names,
    listening_as,
)
from readback.commands.pairs import (
    BadLine,
    Pair,
    checked_instruction,
    checked_text,
    read_pairs,
)
from readback.commands.terminal import Piece, Terminal, json_writer, tell
from readback.errors import InputError, ReadbackError, RecogniserBroke

if TYPE_CHECKING:
    from readback.judging.model import Verdict
    from readback.transmission import Transmission

NAME = "check"
SUMMARY = "judge a readback, typed or recorded, or a file of them"
DESCRIPTION = "Judge a readback against its instruction, element by element."
EXAMPLE = (
    'readback check "hold short of runway two seven left" "holding short runway two seven right"'
)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add this command's arguments."""
    parser.add_argument("instruction", nargs="?", metavar="INSTRUCTION", help="what was instructed")
    parser.add_argument("readback", nargs="?", metavar="READBACK", help="what came back")
    parser.add_argument("--heard", metavar="FILE", type=Path, help="recording of the readback")
    parser.add_argument(
        "--pairs",
        metavar="FILE",
        help='many of them, one a line: {"instruction": "...", "readback": "..."}, or "heard" with'
        ' the path of a recording; "authority" and "callsign" may stand beside; - reads standard'
        " input",
    )
    add_hearing_arguments(parser)
    parser.add_argument("--json", action="store_true", help="print JSON, for programs")


def run(arguments: argparse.Namespace) -> int:
    """Judge what the arguments name; see `readback.cli.main` for the status."""
    with listening_as(arguments) as listener:
        if arguments.pairs is not None:
            _refuse(arguments, "instruction", "readback", "heard")
            return _check_pairs(arguments, listener)
        return _check_one(arguments, listener)


def _refuse(arguments: argparse.Namespace, *names: str) -> None:
    if any(getattr(arguments, name) is not None for name in names):
        raise InputError(
            "--pairs brings its own instructions and readbacks.", "Leave the others out."
        )


def _check_one(arguments: argparse.Namespace, listener: Listener) -> int:
    if arguments.instruction is None:
        raise InputError(
            "No instruction is given.", "Give INSTRUCTION and READBACK, or --pairs FILE."
        )
    if (arguments.readback is None) == (arguments.heard is None):
        raise InputError(
            "One readback is needed.", "Give READBACK, typed, or --heard FILE, a recording."
        )
    if arguments.heard is None and (arguments.engine or arguments.vosk_model or arguments.channel):
        remedy = "Leave --engine, --vosk-model and --channel out."
        raise InputError("Nothing is to be heard.", remedy)
    readback = arguments.readback
    verdict = _judge(
        Pair(
            line=1,
            instruction=checked_instruction(arguments.instruction),
            readback=None if readback is None else checked_text(readback, "The readback"),
            heard=arguments.heard,
            authority=arguments.authority,
            callsign=arguments.callsign,
        ),
        arguments,
        listener,
    )
    if arguments.json:
        json_writer()(verdict.model_dump_json(indent=2))
    else:
        _show(verdict, Terminal.of())
    return 0 if verdict.verdict == "correct" else 1


def _check_pairs(arguments: argparse.Namespace, listener: Listener) -> int:
    counts: Counter[str] = Counter()
    bad = False
    show = _json_shower() if arguments.json else _text_shower()
    if Path(arguments.pairs).is_file():
        # A pipe can be read only once: its names come as it goes.
        expect_names(listener, _to_be_heard(arguments.pairs))
    for pair in read_pairs(arguments.pairs):
        if isinstance(pair, BadLine):
            tell(str(pair.error))
            bad = True
            continue
        try:
            verdict = _judge(pair, arguments, listener)
        except ReadbackError as error:
            tell(f"{arguments.pairs}: line {pair.line}: {error}")
            bad = True
            continue
        counts[verdict.verdict] += 1
        show(pair, verdict)
    if not arguments.json:
        _show_counts(counts)
    if bad:
        return 2
    return 0 if set(counts) == {"correct"} else 1


def _to_be_heard(path: str) -> list[str]:
    """Instructions whose readback is a recording, all of a file's: what is listened for is one."""
    pairs = (pair for pair in read_pairs(path) if isinstance(pair, Pair))
    return [pair.instruction for pair in pairs if pair.heard is not None]


def _judge(pair: Pair, arguments: argparse.Namespace, listener: Listener) -> "Verdict":
    from readback.judging.second_opinion import RELAXED, heed

    if pair.heard is None:
        return _verdict(pair, pair.readback or "", 0.0, arguments, listener)
    expect_names(listener, [pair.instruction])
    heard = _hear(pair.heard, pair.authority, listener)
    first = _verdict(pair, heard, listener.least_certainty_of(heard), arguments, listener)
    second = listener.second
    if second is None:
        return first
    other = _hear(pair.heard, pair.authority, second)
    return heed(
        first,
        _verdict(pair, heard, RELAXED, arguments, listener),
        _verdict(pair, other, second.least_certainty_of(other), arguments, listener),
    )


def _verdict(
    pair: Pair,
    readback: "str | Transmission",
    least_certainty: float,
    arguments: argparse.Namespace,
    listener: Listener,
) -> "Verdict":
    from readback.judging.check import check

    return check(
        pair.instruction,
        readback,
        authority=pair.authority or arguments.authority,
        callsign=pair.callsign or arguments.callsign,
        local_grammars=listener.local.grammars if listener.local else (),
        local_rules=listener.local.rules if listener.local else (),
        least_certainty=least_certainty,
    )


def _hear(path: Path, authority: str | None, listener: Listener) -> "Transmission":
    """Hear one readback; where the engine breaks on it, nothing: that is to be said again."""
    from readback.transmission import Transmission

    try:
        return listener.hear_transmission(path, authority)
    except RecogniserBroke as error:
        tell(f"{path}: {error}")
        return Transmission()


def _show(verdict: "Verdict", terminal: Terminal) -> None:
    from readback.commands.render import CAUTION, render_findings, render_outcome, render_sides

    for line in terminal.lines([render_outcome(verdict.verdict)]):
        print(line)
    for line in render_findings(verdict, terminal):
        print(line)
    for line in render_sides(verdict, terminal):
        print(line)
    sys.stdout.flush()
    print(CAUTION, file=sys.stderr)


def _json_shower() -> Callable[[Pair, "Verdict"], None]:
    write = json_writer()

    def show(_: Pair, verdict: "Verdict") -> None:
        write(verdict.model_dump_json())

    return show


def _text_shower() -> Callable[[Pair, "Verdict"], None]:
    from readback.commands.render import render_findings, render_outcome, render_sides

    terminal = Terminal.of()

    def show(pair: Pair, verdict: "Verdict") -> None:
        head = [Piece(f"line {pair.line}:"), render_outcome(verdict.verdict)]
        for line in terminal.lines(head):
            print(line)
        if verdict.verdict == "correct":
            return
        for line in render_findings(verdict, terminal, brief=True):
            print(line)
        for line in render_sides(verdict, terminal):
            print(line)

    return show


def _show_counts(counts: Counter[str]) -> None:
    from readback.commands.render import CAUTION

    parts = ", ".join(f"{count} {word}" for word, count in counts.items())
    total = counts.total()
    print(f"{total} pair{'' if total == 1 else 's'}: {parts}" if total else "No pair was judged.")
    sys.stdout.flush()
    if total:
        print(CAUTION, file=sys.stderr)
