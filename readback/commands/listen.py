"""``readback listen``: a live self-check in a plain terminal or a script."""

import argparse
import json
import sys
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from readback.commands.hearing import add_engine_arguments, add_judging_arguments, listening
from readback.commands.pairs import checked_instruction
from readback.commands.terminal import Piece, Terminal, escape, json_writer, tell
from readback.errors import AudioError, InputError
from readback.settings import load_settings

if TYPE_CHECKING:
    from readback.judging.model import Verdict
    from readback.speech.devices import Device
    from readback.speech.live import LiveListener, Take
    from readback.speech.microphone import Microphone
    from readback.transmission import Transmission

NAME = "listen"
SUMMARY = "say a readback into the microphone and have it judged"
DESCRIPTION = (
    "Say a readback into the microphone; it is judged against INSTRUCTION. Without INSTRUCTION the"
    " instruction is heard first, then the readback. A transmission begins with a voice and ends"
    " with a pause."
)
EXAMPLE = 'readback listen "Larkspur 421, hold short of runway two seven left"'
DEFAULT_SECONDS = 30.0
_LEVEL_S = 4.0


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add this command's arguments."""
    parser.add_argument("instruction", nargs="?", metavar="INSTRUCTION", help="what was instructed")
    parser.add_argument(
        "--device", metavar="NAME", help="the input: its number, or a part of its name"
    )
    parser.add_argument("--devices", action="store_true", help="list the inputs, record nothing")
    parser.add_argument(
        "--level", action="store_true", help="check the level of the microphone, judge nothing"
    )
    parser.add_argument(
        "--seconds",
        type=float,
        default=DEFAULT_SECONDS,
        metavar="N",
        help="how long to wait for somebody to speak; 30 if left out",
    )
    add_judging_arguments(parser)
    add_engine_arguments(parser)
    parser.add_argument("--json", action="store_true", help="print JSON, for programs")


def run(arguments: argparse.Namespace) -> int:
    """Listen and judge; see `readback.cli.main` for the status."""
    from readback.judging.rules import load_rules
    from readback.speech.devices import choose_device, list_devices

    if not 0 < arguments.seconds <= 3600:
        raise InputError(f"--seconds {arguments.seconds:g} cannot be.", "Give 1 to 3600.")
    instruction = arguments.instruction
    if instruction is not None:
        instruction = checked_instruction(instruction)
    load_rules(arguments.authority)  # A wrong name is told before anybody speaks.
    devices = list_devices()
    if arguments.devices:
        return show_devices(devices, as_json=arguments.json)
    device = choose_device(devices, arguments.device or load_settings().device)
    microphone = _microphone(device)
    if arguments.level:
        return show_level(microphone, device.name, as_json=arguments.json)
    with listening(arguments.engine, arguments.vosk_model, arguments.authority) as listener:
        return show_listen(
            _live(microphone, listener.recogniser),
            instruction,
            device_name=device.name,
            seconds=arguments.seconds,
            authority=arguments.authority,
            callsign=arguments.callsign,
            least_certainty=listener.least_certainty,
            as_json=arguments.json,
        )


def show_devices(devices: "tuple[Device, ...]", *, as_json: bool = False) -> int:
    """List the inputs; the default one is marked in words."""
    if as_json:
        inputs = [vars(device) for device in devices]
        json_writer()(json.dumps({"inputs": inputs}, indent=2))
        return 0
    for device in devices:
        default = ", used unless another is named" if device.is_default else ""
        print(escape(f"{device.number:>3} {device.name}, {device.sample_rate_hz} Hz{default}"))
    if not devices:
        raise AudioError("This machine has no microphone.", "Plug one in, or type instead.")
    return 0


def show_level(microphone: "Microphone", device_name: str, *, as_json: bool = False) -> int:
    """Record some seconds and tell whether the level is good.

    Returns:
        0: it is good. 1: it is not.
    """
    from readback.speech.level import Level, check_level
    from readback.speech.microphone import record

    _prompt(f"Speak for {_LEVEL_S:.0f} seconds as you do at work ({device_name}).")
    report = check_level(record(microphone, _LEVEL_S))
    if as_json:
        json_writer()(json.dumps({**vars(report), "advice": report.advice}, indent=2))
    else:
        speech = "none" if report.speech_dbfs is None else f"{report.speech_dbfs:.0f} dB"
        print(f"{report.level}: {report.advice}")
        print(f"  speech {speech}, noise {report.noise_dbfs:.0f} dB under full scale")
    return 0 if report.level is Level.GOOD else 1


def show_listen(
    live: "LiveListener",
    instruction: str | None,
    *,
    device_name: str,
    seconds: float = DEFAULT_SECONDS,
    authority: str = "icao",
    callsign: str | None = None,
    least_certainty: float = 0.0,
    as_json: bool = False,
) -> int:
    """Hear a readback, and the instruction before it where none is given, and judge it.

    Args:
        live: Hears.
        instruction: Typed; None: it is heard.
        device_name: What is listened to, for the prompt.
        seconds: Longest wait for somebody to speak.
        authority: Whose rules count.
        callsign: The callsign addressed, where the instruction does not carry it.
        least_certainty: What is heard with less is not judged.
        as_json: Print one JSON document instead of text.

    Returns:
        0: the readback is correct. 1: it is not.

    Raises:
        InputError: Nobody spoke.
        AudioError: The microphone does not work.
    """
    from readback.judging.check import check
    from readback.judging.doubtful import hold_back

    takes = {}
    if instruction is None:
        takes["instruction"] = _hear(live, "Say the instruction", device_name, seconds)
    takes["readback"] = _hear(live, "Say the readback", device_name, seconds)
    instructed = instruction if instruction is not None else takes["instruction"].transmission
    verdict = check(
        instructed,
        takes["readback"].transmission,
        authority=authority,
        callsign=callsign,
        least_certainty=least_certainty,
    )
    if any(take.losses for take in takes.values()):
        verdict = hold_back(verdict)
    if as_json:
        json_writer()(json.dumps(_document(verdict, takes), indent=2))
    else:
        _show(verdict)
    return 0 if verdict.verdict == "correct" else 1


def _microphone(device: "Device") -> "Microphone":
    from readback.speech.devices import device_opener
    from readback.speech.microphone import Microphone

    return Microphone(device_opener(device))


def _live(microphone: "Microphone", recogniser: Any) -> "LiveListener":
    from readback.speech.live import LiveListener

    return LiveListener(microphone, recogniser)


def _hear(live: "LiveListener", what: str, device_name: str, seconds: float) -> "Take":
    from readback.speech.level import check_level

    _prompt(f"{what} ({device_name}); Ctrl-C ends.")
    show, clear = _partial_shower()
    take = live.hear(seconds=seconds, on_partial=show)
    clear()
    if take.problem is not None:
        if not len(take.pcm):
            raise AudioError("The microphone is gone.", "Plug it in again, or choose another.")
        tell(f"{take.problem} The verdict is not certain.")
    elif take.losses:
        tell("Samples were lost while it was recorded: the verdict is not certain, say it again.")
    if not len(take.pcm):
        report = check_level(live.recent)
        raise InputError(f"Nobody spoke within {seconds:g} s.", report.advice)
    return take


def _prompt(text: str) -> None:
    sys.stdout.flush()
    print(escape(text), file=sys.stderr, flush=True)


def _partial_shower() -> "tuple[Callable[[Transmission], None], Callable[[], None]]":
    """Show what is understood so far on one line that is written over, on a terminal alone."""
    if not sys.stderr.isatty():
        return (lambda _: None), (lambda: None)
    width = max((Terminal.of(sys.stderr).width or 80) - 6, 10)

    def show(heard: "Transmission") -> None:
        print(f"\r\x1b[K  ... {escape(heard.text)[-width:]}", end="", file=sys.stderr, flush=True)

    def clear() -> None:
        print("\r\x1b[K", end="", file=sys.stderr, flush=True)

    return show, clear


def _document(verdict: "Verdict", takes: "dict[str, Take]") -> dict[str, Any]:
    from readback.speech.recogniser import SAMPLE_RATE_HZ

    return {
        **verdict.model_dump(mode="json"),
        "takes": {
            name: {
                "seconds": round(len(take.pcm) / SAMPLE_RATE_HZ, 3),
                "ended": take.ended.value,
                "losses": take.losses,
                "problem": take.problem,
            }
            for name, take in takes.items()
        },
    }


def _show(verdict: "Verdict") -> None:
    from readback.commands.render import CAUTION, render_findings, render_outcome, render_sides

    terminal = Terminal.of()
    pieces: list[Piece] = [render_outcome(verdict.verdict)]
    for line in terminal.lines(pieces):
        print(line)
    for line in render_findings(verdict, terminal):
        print(line)
    for line in render_sides(verdict, terminal, ("instruction", "heard")):
        print(line)
    sys.stdout.flush()
    print(CAUTION, file=sys.stderr)
