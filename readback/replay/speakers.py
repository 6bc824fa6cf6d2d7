"""Who spoke, where the channel does not tell: from turns, callsigns and the kind of call.

A hidden Markov model: what is hidden is who speaks to whom and whether it is a call or an answer;
what is seen are the calls said and where the callsign stands. The likeliest sequence is found with
the algorithm of Viterbi, "Error bounds for convolutional codes and an asymptotically optimum
decoding algorithm", IEEE Transactions on Information Theory 13 (1967), 260-269. How likely each
station says each call is counted in the drills of the catalogue.
"""

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from itertools import permutations
from typing import NamedTuple

from readback.drills.checking import steps_of
from readback.drills.files import find_drills, load_drill
from readback.drills.model import Drill
from readback.phraseology.grammar import Grammar
from readback.phraseology.model import Reading
from readback.phraseology.parser import parse
from readback.transmission import Transmission

STATIONS = ("controller", "flight_deck", "headset")
"""Those that are told apart; any other is named by a drill or by hand."""


class Role(NamedTuple):
    """One thing that a transmission can be."""

    station: str
    to: str
    answers: bool


ROLES = tuple(
    Role(*pair, answers)
    for pair in (
        ("controller", "flight_deck"),
        ("flight_deck", "controller"),
        ("headset", "flight_deck"),
        ("flight_deck", "headset"),
    )
    for answers in (False, True)
)

# Our choice, as are the other weights here; chosen on the drills of the catalogue whose names begin
# with a to h, each with the calls of the other drills.
_ANSWERED = 0.85
"""How often a call is answered by whom it was said to."""
_UNASKED = 0.02
_CALL_UNANSWERED = 0.15
_SAME_AGAIN = 0.3
_OTHER_LINE = 0.2
_UNSEEN = 0.2
"""Added to each count."""
_CALLSIGN_PLACE = 0.9
"""How often a callsign stands where the standard wants it: first from the controller and in no
answer of his, last in an answer to him."""
_NO_RADIO_CALLSIGN = 0.1
_INTERPHONE_CALLSIGN = 0.02


class Speakers:
    """Tells speakers apart by what they say.

    Args:
        drills: Whose calls are counted.
        grammar: The calls.
    """

    def __init__(self, drills: Iterable[Drill], grammar: Grammar) -> None:
        self._grammar = grammar
        self._said: dict[Role, Counter[str]] = {role: Counter() for role in ROLES}
        for drill in drills:
            for _, step in steps_of(drill):
                self._count(Role(step.station, step.to, False), [one.call for one in step.say])
                answer = step.answer
                if answer is not None and answer.signal is None:
                    calls = [one.call for one in answer.say or step.say]
                    self._count(Role(answer.station, step.station, True), calls)

    def name(
        self, transmissions: Sequence[Transmission], known: Mapping[int, str] | None = None
    ) -> list[str | None]:
        """Find who spoke each transmission of a recording in one channel.

        Args:
            transmissions: In the order spoken.
            known: Index -> station, where somebody knows.

        Returns:
            One station each; None for what was not understood and nobody knows.
        """
        known = known or {}
        scores = [self._scores(parse(one, self._grammar)) for one in transmissions]
        for index, station in known.items():
            own = [
                score if role.station == station else -math.inf
                for role, score in zip(ROLES, scores[index], strict=True)
            ]
            # A station that the model does not have leaves the turn open.
            scores[index] = own if max(own) > -math.inf else [0.0] * len(ROLES)
        path = _viterbi(scores)
        return [
            known.get(index) or (role.station if transmissions[index].words else None)
            for index, role in enumerate(path)
        ]

    def name_channels(self, transmissions: Sequence[Transmission]) -> dict[str, str]:
        """Find which station spoke in each channel of a recording.

        Args:
            transmissions: Each ``station`` is the name of its channel.

        Returns:
            Channel to station, no two the same; empty where there are more channels than stations.
        """
        channels = sorted({one.station for one in transmissions if one.station is not None})
        best: dict[str, str] = {}
        best_score = -math.inf
        readings = [parse(one, self._grammar) for one in transmissions]
        for stations in permutations(STATIONS, len(channels)):
            named = dict(zip(channels, stations, strict=True))
            present = {*stations} if len(stations) > 1 else {*STATIONS}
            score = 0.0
            for one, reading in zip(transmissions, readings, strict=True):
                if one.station is not None and reading.calls:
                    score += self._as_station(reading, named[one.station], present)
            if score > best_score:
                best, best_score = named, score
        return best if best_score > -math.inf else {}

    def _count(self, role: Role, calls: Sequence[str]) -> None:
        if role in self._said:
            self._said[role].update(calls)

    def _as_station(self, reading: Reading, station: str, present: set[str]) -> float:
        """Score a transmission as this station's, said to one that is there."""
        scores = [
            score
            for role, score in zip(ROLES, self._scores(reading), strict=True)
            if role.station == station and role.to in present
        ]
        return max(scores, default=-1e3)

    def _scores(self, reading: Reading) -> list[float]:
        calls = [call.name for call in reading.calls]
        if not calls:
            return [0.0] * len(ROLES)
        return [self._score(role, calls) for role in ROLES]

    def _score(self, role: Role, calls: Sequence[str]) -> float:
        score = math.log(_callsign_likelihood(role, calls))
        for call in calls:
            counts = [self._said[other][call] + _UNSEEN for other in ROLES]
            score += math.log((self._said[role][call] + _UNSEEN) / sum(counts))
        return score


@lru_cache(maxsize=1)
def load_speakers(grammar: Grammar) -> Speakers:
    """Count the calls of the catalogue's drills."""
    return Speakers([load_drill(path) for path in find_drills().values()], grammar)


def _callsign_likelihood(role: Role, calls: Sequence[str]) -> float:
    radio = "controller" in (role.station, role.to)
    if "callsign" not in calls:
        return _NO_RADIO_CALLSIGN if radio else 1 - _INTERPHONE_CALLSIGN
    if not radio:
        return _INTERPHONE_CALLSIGN
    first, last = calls[0] == "callsign", calls[-1] == "callsign"
    standard = last if role.answers and role.station != "controller" else first
    if not role.answers and role.station != "controller":
        # Whoever calls the ground names it first, and himself then.
        standard = "station" in calls or not last
    place = _CALLSIGN_PLACE if standard else 1 - _CALLSIGN_PLACE
    return (1 - _NO_RADIO_CALLSIGN) * place


def _follows(before: Role, after: Role) -> float:
    """Give the logarithm of how likely one role follows another; they need not sum up to 1."""
    if after.answers:
        answered = not before.answers and (after.station, after.to) == (before.to, before.station)
        return math.log(_ANSWERED if answered else _UNASKED)
    likely = _CALL_UNANSWERED if not before.answers else 1.0
    if {after.station, after.to} != {before.station, before.to}:
        likely *= _OTHER_LINE
    if after.station == before.station and not before.answers:
        likely *= _SAME_AGAIN
    return math.log(likely / 2)


_FOLLOWS = tuple(tuple(_follows(before, after) for after in ROLES) for before in ROLES)


def _viterbi(scores: Sequence[Sequence[float]]) -> list[Role]:
    if not scores:
        return []
    best = list(scores[0])
    came_from: list[list[int]] = []
    for row in scores[1:]:
        options = [
            max((best[before] + _FOLLOWS[before][after], before) for before in range(len(ROLES)))
            for after in range(len(ROLES))
        ]
        came_from.append([before for _, before in options])
        best = [value + row[after] for after, (value, _) in enumerate(options)]
    state = best.index(max(best))
    path = [state]
    for row_from in reversed(came_from):
        state = row_from[state]
        path.append(state)
    return [ROLES[state] for state in reversed(path)]
