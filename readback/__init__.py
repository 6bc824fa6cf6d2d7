"""Practise, check and debrief readbacks on the interphone and the ground frequency, offline.

Training aid only: not for operational use. Local procedures, the aerodrome's charts and
licensed instructors come first.
"""

import os
from typing import TYPE_CHECKING

# Nothing leaves this machine: from 1.29 on onnxruntime reports its use to its maker unless this is
# set before it is loaded. Source: Privacy.md in its package.
os.environ["ORT_DISABLE_TELEMETRY"] = "1"

if TYPE_CHECKING:
    from readback.judging.model import Verdict

__version__ = "0.1.0"
__all__ = ["__version__", "check"]


def check(
    instruction: str, readback: str, *, authority: str = "icao", callsign: str | None = None
) -> "Verdict":
    """Judge one readback against its instruction.

    Args:
        instruction: What was instructed: ``"Larkspur 421, hold short of runway 27L"``.
        readback: What came back.
        authority: Whose rules say what must be read back: ``icao``, ``easa``, ``faa``, ``uk``.
        callsign: The callsign addressed, where the instruction does not carry it.

    Returns:
        The verdict with one finding for each element that was compared.

    Raises:
        InputError: The authority is unknown or the callsign cannot be read.
    """
    from readback.judging.check import check as judge_texts

    return judge_texts(instruction, readback, authority=authority, callsign=callsign)
