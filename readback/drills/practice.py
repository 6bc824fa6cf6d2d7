"""A drill practised by one trainee: whose turn it is, what the others say, another try.

What is shown, spoken or typed is not its business; see `readback.screens` and, for a plain
terminal, `readback.commands.practise`.
"""

from collections.abc import Callable
from dataclasses import dataclass

from readback.drills.engine import DrillRun
from readback.drills.events import DrillEvent
from readback.drills.plan import Due
from readback.errors import GrammarError
from readback.transmission import Transmission

MOST_TRIES = 3
"""After so many wrong tries the words that are due are told, and the drill goes on."""


@dataclass(frozen=True)
class Line:
    """One transmission of the exchange, as it goes into the list of what was said."""

    station: str
    text: str
    radio: bool
    """On the radio; else on the interphone, or a hand signal."""
    signal: bool = False
    due: int = 0
    """Number of what it was said for."""


@dataclass(frozen=True)
class Reply:
    """What follows a transmission."""

    events: tuple[DrillEvent, ...] = ()
    said: tuple[Line, ...] = ()
    """By the other stations, because of it."""
    as_due: str | None = None
    """The words that were due, told after too many tries."""
    once_more: bool = False
    """Whether the same is due again."""


class Practice:
    """One run through a drill.

    Args:
        run: The engine, at its start.
        clock: Gives seconds; None: how long something takes is not judged.
    """

    def __init__(self, run: DrillRun, clock: Callable[[], float] | None = None) -> None:
        self.run = run
        self._clock = clock
        self._began = clock() if clock else 0.0
        self._tries: dict[int, int] = {}

    @property
    def turn(self) -> Due | None:
        """What is due of the trainee now; None: of another, or nothing is."""
        due = self.run.due
        return due if due is not None and due.station == self.run.plan.seat else None

    def advance(self) -> tuple[Line, Reply] | None:
        """Have the next other station speak; None where the trainee's turn or the end has come."""
        due = self.run.due
        if due is None or due.station == self.run.plan.seat:
            return None
        try:
            text = self.run.voice.say(due, instruction=self.run.instruction_for(due))
        except GrammarError:
            # The trainee said something else than the drill wants: the planned answer is given.
            text = self.run.voice.say(due)
        events = self.run.hear(due.station, text, self._now())
        return line_of(due, text), Reply(events)

    def answer(self, said: Transmission | str) -> Reply:
        """Take what the trainee said, typed or heard."""
        due = self.turn
        events = self.run.hear(self.run.plan.seat, said, self._now())
        if due is None:
            return Reply(events)
        kinds = {event.kind for event in events if event.due == due.number}
        wrong, unclear = "wrong" in kinds, "not certain" in kinds
        still_due = self.run.due is due
        if not wrong and not unclear and not still_due:
            return Reply(events)
        tries = self._tries[due.number] = self._tries.get(due.number, 0) + 1
        if tries >= MOST_TRIES:
            return self._told(due, still_due, events)
        if wrong and due.is_answer and due.signal is None:
            return Reply(events, (self._ask_again(due),), once_more=True)
        if wrong or unclear:
            self.run.retry(due.number)
        return Reply(events, once_more=True)

    def hint(self) -> str:
        """Give the words that are due of the trainee; empty where nothing is."""
        due = self.turn
        return "" if due is None else self.run.voice.say(due)

    def finish(self) -> Reply:
        """End the drill, broken off where something is still due."""
        return Reply(self.run.finish(broken_off=self.run.due is not None))

    def _told(self, due: Due, still_due: bool, events: tuple[DrillEvent, ...]) -> Reply:
        words = self.run.voice.say(due)
        if still_due:
            # What the program says for the trainee is no merit to be shown.
            self.run.hear(due.station, words, self._now(), due=due.number)
        return Reply(events, as_due=words)

    def _ask_again(self, due: Due) -> Line:
        asked = self.run.plan.dues[due.answers or 0]
        words = f"negative, i say again, {self.run.voice.say(asked)}"
        self.run.hear(asked.station, words, self._now())
        return line_of(asked, words)

    def _now(self) -> float | None:
        return self._clock() - self._began if self._clock else None


def line_of(due: Due, text: str) -> Line:
    """Give the line of what was said for a due."""
    radio = "controller" in (due.station, due.to)
    return Line(due.station, text, radio, signal=due.signal is not None, due=due.number)
