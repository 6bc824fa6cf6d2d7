"""What one forward pass over the phone graph leaves for the way back."""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from readback.speech.ear.graph import Ints

Reals = npt.NDArray[np.float64]


@dataclass
class Trace:
    """Values of each step, scaled anew in every one."""

    live: list[Ints] = field(default_factory=list)
    """Nodes that are alive after the step."""
    scales: list[float] = field(default_factory=list)
    """By what the step's values were divided."""
    entries: list[Reals] = field(default_factory=list)
    """Summed value with which each live node's chain was entered in the step."""
    reach: list[Reals] = field(default_factory=list)
    """(states) Best value at each state before the step."""
    ends: list[tuple[Ints, Reals, Ints]] = field(default_factory=list)
    """Last nodes of chains, their best values after the step, the steps that entered the chains."""
    filler: list[tuple[float, int, int]] = field(default_factory=list)
    """Value of the filler after the step, the step that entered it, the state that it was entered
    from (-1: the start)."""
    silence: list[float] = field(default_factory=list)
    """Value of having said nothing yet."""
