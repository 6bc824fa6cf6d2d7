"""What a transmission was said for, among all that is due in a drill."""

from collections.abc import Sequence
from collections.abc import Set as AbstractSet
from typing import Literal

from readback.drills.ear import Ear
from readback.drills.matching import FITS, Heard, Matcher
from readback.drills.plan import Due, Plan
from readback.transmission import Transmission

State = Literal["open", "said", "missing", "not needed"]
"""What became of one due: ``missing`` was passed over, ``not needed`` need not be said."""
# Our choice: what is due now comes first, then what is near; see `Matcher.score` for the scale.
_PLACED = 1.0
_PLACED_OTHER = 0.55
_ACKNOWLEDGED = 0.6
_WHOLE_BY_OTHER = 0.95
_UNASKED = 0.8
_SAID_BEFORE = 0.35
_EACH_STEP_AHEAD = 0.04
_EACH_STEP_BACK = 0.02
_FURTHEST = 0.4


class Placer:
    """Finds the due of a transmission.

    Args:
        plan: What is due.
        matcher: Scores.
        ear: Parses.
    """

    def __init__(self, plan: Plan, matcher: Matcher, ear: Ear) -> None:
        self._plan = plan
        self._matcher = matcher
        self._ear = ear
        self._fits: dict[tuple[str | None, str], list[float]] = {}

    def fits(self, station: str | None, transmission: Transmission) -> list[float]:
        """Score a transmission with everything that is due in the plan, whatever was said."""
        key = (station, transmission.text)
        if key not in self._fits:
            scores = self._scores(self._ear.spoken(station, transmission))
            shown = self._ear.shown(station, transmission)
            if shown is not None:
                scores = list(map(max, scores, self._scores(shown)))
            self._fits[key] = scores
        return self._fits[key]

    def _scores(self, heard: Heard) -> list[float]:
        return [self._score(due, heard) for due in self._plan.dues]

    def find(
        self, heard: Heard, due: Due | None, states: Sequence[State], at_fault: AbstractSet[int]
    ) -> int | None:
        """Find what was said for.

        Args:
            heard: What was said.
            due: What is due now; None after the last.
            states: Of all that is due.
            at_fault: The answers that were wrong.

        Returns:
            The number of the due; None where it belongs to none.
        """
        here = due.number if due else len(self._plan.dues)
        best, best_number = FITS, None
        for other in self._plan.dues:
            score = self._placed_score(other, heard, here, states)
            if states[other.number] == "said" and other.number not in at_fault:
                score -= _SAID_BEFORE
            if score > best:
                best, best_number = score, other.number
        if best_number is not None or due is None:
            return best_number
        # Whoever has to answer has answered, with whatever words.
        spoke = heard.station in (None, due.station)
        return due.number if spoke and due.is_answer and heard.signal is None else None

    def _placed_score(self, due: Due, heard: Heard, here: int, states: Sequence[State]) -> float:
        """Score a fit, less the further it is from what is due now."""
        if states[due.number] == "not needed":
            return 0.0
        score = self._score(due, heard)
        if score <= 0:
            return score
        if due.answers is not None and states[due.answers] == "open":
            score -= _UNASKED
        if states[due.number] == "said":
            return score
        if due.number == here:
            return score + self._here_bonus(due, heard, score)
        each = _EACH_STEP_AHEAD if due.number > here else _EACH_STEP_BACK
        return score - min(each * abs(due.number - here), _FURTHEST)

    def _here_bonus(self, due: Due, heard: Heard, score: float) -> float:
        """Prefer what is due now: its calls with whatever values, or all of it by another."""
        spoke = heard.station in (None, due.station)
        if not self._matcher.covers(due, heard):
            return _ACKNOWLEDGED if due.is_answer and spoke and heard.only_acknowledges else 0.0
        if spoke:
            return _PLACED
        return _PLACED_OTHER if score >= _WHOLE_BY_OTHER else 0.0

    def _score(self, due: Due, heard: Heard) -> float:
        asked = None if due.answers is None else self._plan.dues[due.answers]
        return self._matcher.score(due, heard, asked=asked)
