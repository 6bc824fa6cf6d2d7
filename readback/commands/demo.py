"""``readback demo``: the main job on the recordings that come with the package."""

import argparse
import json
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from readback.commands.hearing import Listener, add_engine_arguments, listening
from readback.commands.terminal import Piece, Terminal, escape, json_writer, tell
from readback.data import data_directory
from readback.errors import InputError, ReadbackError

if TYPE_CHECKING:
    from readback.judging.model import Verdict
    from readback.transmission import Transmission

NAME = "demo"
SUMMARY = "hear and judge the recordings that come with readback"
DESCRIPTION = (
    "Hear and judge the recordings that come with readback, offline and without a microphone, and"
    " compare each verdict with the expected one. Exit status 1 if any differs."
)
EXAMPLE = "readback demo"


@dataclass(frozen=True)
class Shipped:
    """One recording of the manifest."""

    file: str
    family: str
    instruction: str
    """What was instructed; also in the recording where ``holds`` is ``both``."""
    readback: str
    """What was answered, planted error included; never shown to the recogniser."""
    holds: str
    """``readback``: the answer alone. ``both``: the instruction, then the answer."""
    expected: str
    error: str | None
    """Kind of the error planted in the readback; None in a right one."""
    voice: str
    channel: str
    snr_db: float | None
    authority: str
    callsign: str | None


@dataclass(frozen=True)
class Heard:
    """One recording, heard and judged."""

    shipped: Shipped
    verdict: "Verdict"

    @property
    def agrees(self) -> bool:
        """Whether the verdict is the expected one."""
        return self.verdict.verdict == self.shipped.expected

    @property
    def passed_wrongly(self) -> bool:
        """Whether a planted error was passed as correct: the dangerous mistake."""
        return self.shipped.expected != "correct" and self.verdict.verdict == "correct"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add this command's arguments."""
    add_engine_arguments(parser)
    parser.add_argument("--json", action="store_true", help="print JSON, for programs")


def run(arguments: argparse.Namespace) -> int:
    """Hear and judge all of them; see `readback.cli.main` for the status."""
    with listening(arguments.engine, arguments.vosk_model) as listener:
        directory = data_directory("audio_demo_synth") / "recordings"
        return show_demo(directory, listener, as_json=arguments.json)


def show_demo(directory: Path, listener: Listener, *, as_json: bool = False) -> int:
    """Hear and judge the recordings of a directory.

    Args:
        directory: Holds the recordings and ``manifest.json``.
        listener: Hears them.
        as_json: Print one JSON document instead of text.

    Returns:
        0: all verdicts are the expected ones. 1: one is not. 2: one recording was not heard.
    """
    done: list[Heard] = []
    shipped = load_manifest(directory / "manifest.json")
    terminal = Terminal.of()
    engine = listener.recogniser.name
    if not as_json:
        print(f"Hearing with {engine}, offline.\n", flush=True)
    for item in shipped:
        try:
            heard = _judge(item, directory, listener)
        except ReadbackError as error:
            tell(f"{item.file}: {error}")
            continue
        done.append(heard)
        if not as_json:
            _show(heard, terminal)
    if as_json:
        json_writer()(json.dumps(_document(done), indent=2))
    else:
        _show_end(done)
    if len(done) < len(shipped):
        return 2
    return 0 if all(heard.agrees for heard in done) else 1


def load_manifest(path: Path) -> tuple[Shipped, ...]:
    """Read the list of the shipped recordings.

    Raises:
        InputError: It is not there, or is not what this version ships.
    """
    try:
        entries: list[dict[str, Any]] = json.loads(path.read_text(encoding="utf-8"))
        names = Shipped.__dataclass_fields__
        shipped = tuple(Shipped(**{name: entry[name] for name in names}) for entry in entries)
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise InputError(
            f"{path}: the list of demo recordings cannot be read ({error}).",
            "Install readback again.",
        ) from error
    if not shipped:
        raise InputError(f"{path}: lists no recordings.", "Install readback again.")
    return shipped


def _judge(item: Shipped, directory: Path, listener: Listener) -> Heard:
    from readback.judging.check import check

    instruction: str | Transmission = item.instruction
    readback: str | Transmission
    path = directory / item.file
    if item.holds == "both":
        instruction, readback = _instruction_and_readback(path, listener)
    else:
        readback = listener.hear_transmission(path)
    verdict = check(
        instruction,
        readback,
        authority=item.authority,
        callsign=item.callsign,
        least_certainty=listener.least_certainty_of(instruction, readback),
    )
    return Heard(item, verdict)


def _instruction_and_readback(
    path: Path, listener: Listener
) -> "tuple[Transmission | str, Transmission | str]":
    """Take the first two transmissions; what was not heard is empty."""
    from readback.judging.exchange import join_pauses

    heard = join_pauses(listener.hear_file(path))
    return (heard[0] if heard else ""), (heard[1] if len(heard) > 1 else "")


def _document(done: list[Heard]) -> dict[str, Any]:
    return {
        "recordings": [
            {
                "file": heard.shipped.file,
                "family": heard.shipped.family,
                "expected": heard.shipped.expected,
                "agrees": heard.agrees,
                "error": heard.shipped.error,
                **heard.verdict.model_dump(mode="json"),
            }
            for heard in done
        ],
        "agree": sum(heard.agrees for heard in done),
        "passed_wrongly": sum(heard.passed_wrongly for heard in done),
    }


def _show(heard: Heard, terminal: Terminal) -> None:
    from readback.commands.render import render_findings, render_outcome, render_sides

    for line in terminal.lines(_about(heard.shipped)):
        print(line)
    spoken = heard.shipped.holds == "both"
    names = ("instruction heard" if spoken else "instruction", "readback heard")
    for line in render_sides(heard.verdict, terminal, names):
        print(line)
    agrees = "as expected" if heard.agrees else f"NOT as expected: {heard.shipped.expected}"
    verdict = [render_outcome(heard.verdict.verdict), Piece(f"({agrees})")]
    for line in terminal.lines(verdict, "  verdict: ", " " * 11):
        print(line)
    for line in render_findings(heard.verdict, terminal, indent="    ", brief=True):
        print(line)
    print(flush=True)


def _about(item: Shipped) -> Iterator[Piece]:
    sound = item.channel.replace("_", " ")
    noise = "" if item.snr_db is None else f" at {item.snr_db:g} dB"
    yield Piece(escape(f"{item.file}: {item.family.replace('_', ' ')}, {sound}{noise}"))


def _show_end(done: list[Heard]) -> None:
    from readback.commands.render import CAUTION

    planted = [heard for heard in done if heard.shipped.expected != "correct"]
    agree = sum(heard.agrees for heard in done)
    passed = sum(heard.passed_wrongly for heard in done)
    print(f"{agree} of {len(done)} verdicts are the expected ones.")
    print(f"{passed} of {len(planted)} planted errors were passed as correct.")
    sys.stdout.flush()
    print(CAUTION, file=sys.stderr)
