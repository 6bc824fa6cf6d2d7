"""The aircraft watched through an exchange: its state, and the interlocks that calls break."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from readback.drills.interlocks import SaidOnRamp, cautions_at, change_ramp, judge_ramp
from readback.drills.matching import Heard, Matcher, words_of
from readback.drills.model import Setting
from readback.drills.ramp import RampState
from readback.drills.ramp_rules import RampRules
from readback.drills.signals import HandSignal, load_signals
from readback.drills.weighed import Scales
from readback.judging.model import Finding
from readback.phraseology.model import Call, Element


@dataclass(frozen=True)
class Broken:
    """The interlocks that one call broke."""

    findings: tuple[Finding, ...]

    @property
    def message(self) -> str:
        """Their rules, each once."""
        return " ".join(dict.fromkeys(finding.rule or "" for finding in self.findings))


class RampWatch:
    """Keeps the state of the aircraft.

    Args:
        state: At the start.
        setting: Of the drill.
        rules: What calls change, and what must hold before them.
        matcher: Makes the elements of signals.
        scales: A call that they doubt breaks nothing.
    """

    def __init__(
        self,
        state: RampState,
        setting: Setting,
        rules: RampRules,
        matcher: Matcher,
        scales: Scales,
    ) -> None:
        self.state = state
        self._setting = setting
        self._rules = rules
        self._matcher = matcher
        self._scales = scales

    def hear(self, heard: Heard) -> Iterator[Broken | str]:
        """Take a transmission, call by call.

        Yields:
            What it breaks, and the cautions that belong to it, in the order of its calls.
        """
        for said in self._said(heard):
            broken = judge_ramp(said, self.state, self._setting, self._rules)
            if broken and not (said.call and self._scales.doubt(heard, said.call)):
                yield Broken(broken)
            yield from cautions_at(said, self._setting, self._rules)
            self.state = change_ramp(said, self.state, self._setting, self._rules)

    def change(self, fields: Mapping[str, Any]) -> None:
        """Change the state by what nobody said."""
        self.state = self.state.model_copy(update=dict(fields))

    def _said(self, heard: Heard) -> Iterator[SaidOnRamp]:
        if heard.signal is not None:
            call = self._call_of(load_signals()[heard.signal])
            yield SaidOnRamp(heard.station, call, heard.signal, heard.text)
            return
        for place, call in enumerate(heard.reading.calls):
            words = words_of(call, heard.reading)
            yield SaidOnRamp(heard.station, call, None, heard.text, words, first=place == 0)

    def _call_of(self, signal: HandSignal) -> Call | None:
        if signal.call is None:
            return None
        elements: list[Element] = [self._matcher.element(n, v) for n, v in signal.values.items()]
        return Call(name=signal.call, family="interphone", span=(0, 0), elements=tuple(elements))
