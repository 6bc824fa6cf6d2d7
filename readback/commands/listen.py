"""``readback listen``: a live self-check in a plain terminal or a script."""

import argparse
import json
import sys
from collections.abc import Callable
from contextlib import ExitStack
from functools import partial
from typing import TYPE_CHECKING, Any

from readback.commands.enter_key import EnterKey
from readback.commands.hearing import add_hearing_arguments, expect_names, listening_as
from readback.commands.microphones import prompt, show_devices, show_level
from readback.commands.pairs import checked_instruction
from readback.commands.terminal import Piece, Terminal, escape, json_writer, tell
from readback.errors import AudioError, InputError
from readback.settings import Settings, load_settings, save_settings

if TYPE_CHECKING:
    from readback.judging.model import Verdict
    from readback.listener import Listener
    from readback.speech.devices import Device
    from readback.speech.live import LiveListener, Take
    from readback.speech.microphone import Microphone
    from readback.transmission import Transmission

    Judge = Callable[["str | Transmission", Transmission], Verdict]

NAME = "listen"
SUMMARY = "say a readback into the microphone and have it judged"
DESCRIPTION = (
    "Say a readback into the microphone; it is judged against INSTRUCTION. Without INSTRUCTION"
    " the instruction is heard first, then the readback. A transmission begins with a voice and"
    " ends with a pause, a short one as soon as nothing more is awaited.\n\n"
    "Exit status: 0 the readback is correct; 1 it is not, or the microphone lost part of it;"
    " 2 nothing could be judged: nobody spoke, no microphone, bad input; 130 stopped with Ctrl-C."
    " With --level: 0 the level is good, 1 it is not."
)
EXAMPLE = 'readback listen "Larkspur 421, hold short of runway two seven left"'
DEFAULT_SECONDS = 30.0


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add this command's arguments."""
    parser.add_argument("instruction", nargs="?", metavar="INSTRUCTION", help="what was instructed")
    parser.add_argument(
        "--device", metavar="NAME", help="the input: its number, or a part of its name"
    )
    parser.add_argument(
        "--hands-free",
        action=argparse.BooleanOptionalAction,
        help="begin with a voice, end with a pause (default); with --no-hands-free Enter does both",
    )
    parser.add_argument(
        "--remember", action="store_true", help="keep --device and --hands-free in the settings"
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
    add_hearing_arguments(parser)
    parser.add_argument("--json", action="store_true", help="print JSON, for programs")


def run(arguments: argparse.Namespace) -> int:
    """Listen and judge; see `DESCRIPTION` for the status."""
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
    settings = load_settings()
    device = choose_device(devices, arguments.device or settings.device)
    key = None if _is_hands_free(arguments.hands_free, settings) else EnterKey(sys.stdin)
    if arguments.remember:
        save_settings(device=device.name, hands_free=key is None)
    microphone = _microphone(device)
    if arguments.level:
        return show_level(microphone, device.name, as_json=arguments.json)
    with listening_as(arguments) as listener:
        if instruction is not None:
            expect_names(listener, [instruction])
        prompt("Starting the recogniser.")
        return show_listen(
            _live(microphone, listener.recogniser),
            instruction,
            _judge(listener, arguments.authority, arguments.callsign),
            device_name=device.name,
            seconds=arguments.seconds,
            key=key,
            as_json=arguments.json,
        )


def show_listen(
    live: "LiveListener",
    instruction: str | None,
    judge: "Judge",
    *,
    device_name: str,
    seconds: float = DEFAULT_SECONDS,
    key: EnterKey | None = None,
    as_json: bool = False,
) -> int:
    """Hear a readback, and the instruction before it where none is given, and judge it.

    Args:
        live: Hears.
        instruction: Typed; None: it is heard.
        judge: Judges a readback against its instruction.
        device_name: What is listened to, for the prompt.
        seconds: Longest wait for somebody to speak.
        key: Begins and ends each take; None: a voice and a pause do.
        as_json: Print one JSON document instead of text.

    Returns:
        0: the readback is correct. 1: it is not.

    Raises:
        InputError: Nobody spoke.
        AudioError: The microphone does not work.
    """
    from readback.judging.completeness import is_complete
    from readback.judging.doubtful import hold_back

    hear = partial(_hear, live, device_name=device_name, seconds=seconds, key=key)
    takes = {}
    instructed: str | Transmission | None = instruction
    with ExitStack() as stack:
        if instructed is None:
            # A readback often follows at once: the microphone stays open between the two.
            stack.enter_context(live.kept_open())
            takes["instruction"] = hear("the instruction")
            instructed = takes["instruction"].transmission
        said = instructed
        takes["readback"] = hear(
            "the readback", is_complete=lambda heard: is_complete(judge(said, heard))
        )
    verdict = judge(instructed, takes["readback"].transmission)
    if any(take.losses for take in takes.values()):
        verdict = hold_back(verdict)
    if as_json:
        json_writer()(json.dumps(_document(verdict, takes), indent=2))
    else:
        _show(verdict)
    return 0 if verdict.verdict == "correct" else 1


def _is_hands_free(wanted: bool | None, settings: Settings) -> bool:
    """What is said in the command counts first; what is remembered needs somebody at a key."""
    if wanted is not None:
        return wanted
    return settings.hands_free is not False or not sys.stdin.isatty()


def _microphone(device: "Device") -> "Microphone":
    from readback.speech.devices import device_opener
    from readback.speech.microphone import Microphone

    return Microphone(device_opener(device))


def _live(microphone: "Microphone", recogniser: Any) -> "LiveListener":
    from readback.speech.live import LiveListener

    return LiveListener(microphone, recogniser)


def _judge(listener: "Listener", authority: str, callsign: str | None) -> "Judge":
    from readback.judging.check import check

    def judge(instruction: "str | Transmission", readback: "Transmission") -> "Verdict":
        return check(
            instruction,
            readback,
            authority=authority,
            callsign=callsign,
            local_grammars=listener.local.grammars if listener.local else (),
            local_rules=listener.local.rules if listener.local else (),
            least_certainty=listener.least_certainty_of(instruction, readback),
        )

    return judge


def _hear(
    live: "LiveListener",
    what: str,
    *,
    device_name: str,
    seconds: float,
    key: EnterKey | None,
    is_complete: "Callable[[Transmission], bool | None] | None" = None,
) -> "Take":
    if key is not None:
        prompt(f"Press Enter to say {what} ({device_name}); Ctrl-C ends.")
        key.wait()
    prompt(f"Say {what} ({device_name}); {'Ctrl-C ends' if key is None else 'then press Enter'}.")
    show, clear = _partial_shower()
    take = live.hear(
        hands_free=key is None,
        seconds=seconds,
        on_partial=show,
        is_complete=is_complete,
        is_released=(lambda: False) if key is None else key.was_pressed,
    )
    clear()
    return _checked(take, live, seconds)


def _checked(take: "Take", live: "LiveListener", seconds: float) -> "Take":
    """Refuse a take in which nobody spoke; tell what is wrong with another."""
    from readback.speech.level import check_level

    if take.problem is not None and not len(take.pcm):
        raise AudioError("The microphone is gone.", "Plug it in again, or choose another.")
    if not len(take.pcm):
        raise InputError(f"Nobody spoke within {seconds:g} s.", check_level(live.recent).advice)
    if take.problem is not None:
        tell(f"{take.problem} The verdict is not certain.")
    elif take.losses:
        tell("Samples were lost while it was recorded: the verdict is not certain, say it again.")
    return take


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
