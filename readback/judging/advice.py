"""What good wording asks for, where counting or comparing finds it, each with its source."""

from typing import NamedTuple

LONGEST_INSTRUCTION = 3
"""Instructions in one transmission; see `length_advice`."""


class Advice(NamedTuple):
    """One rule of good wording."""

    rule: str
    """In one sentence."""
    source: str


_DOC_9432 = "ICAO Doc 9432, 4th edition 2007"
_NO_SOURCE = "common practice, no source"

TAKE_OFF = Advice(
    "TAKE-OFF is said only to clear a take-off or to cancel it.",
    f"{_DOC_9432}, 2.8.3.3 (seen (quoted))",
)
TO_AND_FOR = Advice(
    "TO and FOR stand before no number: they sound like TWO and FOUR.",
    "ICAO Phraseology Reference Guide, To and For (seen (quoted))",
)
GROUPED_DIGITS = Advice(
    "Every digit of a number is said by itself.",
    "ICAO Annex 10 Volume II, 5.2.1.4.1.1 (seen); FAA JO 7110.65, 2-4-17 (seen (quoted))",
)
SINGLE_DIGITS = Advice(
    "Flight numbers are said in group form.",
    "FAA AIM, effective 2026-07-09, 4-2-4 a5; FAA JO 7110.65P, 2-4-20 (seen)",
)
COURTESY = Advice(
    "Courtesies are left out.",
    f"{_DOC_9432} (from memory); a national radiotelephony guide, 2.2.1 h (seen (quoted))",
)
HESITATION = Advice(
    "Sounds of hesitation such as ER and words without meaning are left out.",
    f"{_DOC_9432}, 2.2 (seen (quoted))",
)
CALLSIGN_PLACE = Advice(
    "An answer ends with the callsign.", f"{_DOC_9432}, 2.8.3.7 (seen (quoted))"
)
ROGER = Advice(
    "ROGER and WILCO stand for an answer; with everything read back they say nothing more.",
    _NO_SOURCE,
)
REPETITION = Advice(
    "A message is said once; I SAY AGAIN goes before what is repeated for clarity.",
    "ICAO Annex 10 Volume II, 5.2.1.5.8 (seen)",
)
SLIP = Advice(
    "CORRECTION and the last right group, then the right version, mends a mistake.",
    "SERA.14075(c)(1) (seen)",
)
NEAR_MISS = Advice("Words are said as the standard has them.", _NO_SOURCE)
LEFT_OVER = Advice("Only what was understood is judged.", _NO_SOURCE)


def length_advice(authority: str) -> Advice:
    """Name what limits the instructions in one transmission; only the UK publishes a number."""
    return Advice(
        f"A transmission holds at most {LONGEST_INSTRUCTION} instructions.",
        "CAP 493, section 1 chapter 4 (from memory)" if authority == "uk" else _NO_SOURCE,
    )
