"""A transmission heard in a drill: spoken words, or the name of a hand signal."""

from dataclasses import replace

from readback.drills.matching import Heard, Matcher
from readback.drills.plan import Due, Plan
from readback.drills.signals import read_signal
from readback.judging.weighing import meanings
from readback.phraseology.grammar import Grammar
from readback.phraseology.model import Reading
from readback.phraseology.parser import parse
from readback.transmission import Transmission


class Ear:
    """Parses what is said in one run.

    Args:
        plan: Its callsigns are known, its signals may be named.
        grammar: The calls.
        matcher: Joins them for comparing.
    """

    def __init__(self, plan: Plan, grammar: Grammar, matcher: Matcher) -> None:
        self._grammar = grammar
        self._matcher = matcher
        self._callsigns = tuple(dict.fromkeys([plan.callsign, *plan.roster]))
        self._signals = frozenset(due.signal for due in plan.dues if due.signal)
        self._silent = plan.setting.headset == "none"

    def read(self, transmission: Transmission | str) -> Reading:
        """Parse spoken words."""
        return parse(transmission, self._grammar, self._callsigns)

    def spoken(self, station: str | None, transmission: Transmission) -> Heard:
        """Take a transmission as spoken words."""
        return self._matcher.hear(station, self.read(transmission), None)

    def shown(self, station: str | None, transmission: Transmission) -> Heard | None:
        """Take a transmission as the name of a signal; None where the drill has none of it."""
        if not self._signals:
            return None
        signal = read_signal(transmission.text)
        if signal is None or not (self._silent or signal in self._signals):
            return None
        reading = Reading(text=transmission.text, words=transmission.words)
        return self._matcher.hear(station, reading, signal)

    def hear(self, station: str | None, transmission: Transmission, due: Due | None) -> Heard:
        """Take a transmission as what is due: the same words can be spoken, or name a signal.

        Returns:
            What was heard, with what all readings of the sound may mean.
        """
        heard = self._taken(station, transmission, due)
        heard = replace(heard, transmission=transmission)
        if heard.signal is not None or not transmission.alternatives:
            return heard
        found = meanings(transmission, self._grammar, self._callsigns)
        best = self._matcher.hear(station, found[0].readings[0], None)
        return replace(best, transmission=transmission, meanings=found)

    def _taken(self, station: str | None, transmission: Transmission, due: Due | None) -> Heard:
        shown = self.shown(station, transmission)
        if shown is None:
            return self.spoken(station, transmission)
        if self._silent or due is None or due.signal is not None:
            return shown
        spoken = self.spoken(station, transmission)
        is_his = station in (None, due.station)
        return spoken if is_his and self._matcher.covers(due, spoken) else shown
