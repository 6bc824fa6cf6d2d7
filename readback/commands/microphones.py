"""The microphones of this machine, as ``readback listen`` shows them: which there are, how loud."""

import json
import sys
from typing import TYPE_CHECKING

from readback.commands.terminal import escape, json_writer
from readback.errors import AudioError

if TYPE_CHECKING:
    from readback.speech.devices import Device
    from readback.speech.microphone import Microphone

LEVEL_S = 4.0
"""How long a level check records."""


def prompt(text: str) -> None:
    """Say to the user what is to be done now, on standard error."""
    sys.stdout.flush()
    print(escape(text), file=sys.stderr, flush=True)


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

    prompt(f"Speak for {LEVEL_S:.0f} seconds as you do at work ({device_name}).")
    report = check_level(record(microphone, LEVEL_S))
    if as_json:
        json_writer()(json.dumps({**vars(report), "advice": report.advice}, indent=2))
    else:
        speech = "none" if report.speech_dbfs is None else f"{report.speech_dbfs:.0f} dBFS"
        print(f"{report.level}: {report.advice}")
        print(f"  speech {speech}, noise {report.noise_dbfs:.0f} dBFS")
    return 0 if report.level is Level.GOOD else 1
