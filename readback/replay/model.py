"""What is asked of a replay, and what came out of one recording."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict, Field

from readback.drills.events import DrillEvent
from readback.drills.model import Seat
from readback.judging.manner import Manner
from readback.judging.model import Outcome, Verdict
from readback.records.model import ToldBy
from readback.transmission import Transmission


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class ReplaySettings(_Part):
    """What one run asks, the same for each of its recordings."""

    authority: str = "icao"
    """Whose rules count."""
    callsign: str | None = None
    """The callsign addressed, where instructions have none."""
    engine: str | None = None
    """The recogniser's name; None takes the default."""
    vosk_model: Path | None = None
    local: Path | None = None
    """Directory of an operator's own wording."""
    channel: str | None = None
    """Over which the sound came: ``clean``, ``radio`` or ``interphone``; None finds it out."""
    drill: str | None = None
    """Name of a drill, or path of its file."""
    seed: int | None = None
    """Of the drill's values; None finds them from what was said."""
    seat: Seat | None = None
    """Of the trainee in the drill; None takes the drill's first."""
    stations: Mapping[str, str] = Field(default_factory=dict)
    """Who spoke, said by hand: a transmission's number, from 1, or a channel's name -> station."""


class HeardTransmission(_Part):
    """One transmission and who spoke it."""

    number: int
    """From 1, in the order spoken."""
    transmission: Transmission
    """Its ``station`` as it is shown and judged; None where nothing tells."""
    track: str | None = None
    """``left`` or ``right`` where each station has a channel of the recording."""
    told_by: ToldBy | None = None
    least_certainty: float | None = None
    """With which it is judged, by its channel; None: with that of the whole recording."""

    def spoken_by(self, station: str | None, told_by: ToldBy | None) -> "HeardTransmission":
        """Say who spoke, and how that is known."""
        spoken = self.transmission.model_copy(update={"station": station})
        return self.model_copy(update={"transmission": spoken, "told_by": told_by})


class ReplayedExchange(_Part):
    """One instruction, what answered it, and the verdict."""

    instruction: int
    """Number of the transmission."""
    readback: int | None
    """Number of the transmission; None where nothing answered."""
    verdict: Verdict
    delivery: Manner | None
    """How the readback was spoken, with the time to answer; None without one."""


class ReplayedDrill(_Part):
    """The recording laid beside its drill."""

    name: str
    seed: int
    """Of the values, or of the order of events where the values were found."""
    values: Mapping[str, str]
    found: tuple[str, ...]
    """Names of the values that were found from what was said; the rest is the seed's."""
    events: tuple[DrillEvent, ...]

    @property
    def heading(self) -> str:
        """Name it, with its values and where they are from."""
        found = ", ".join(f"{name} {value}" for name, value in self.values.items())
        how = "found from what was said" if self.found else f"of seed {self.seed}"
        return f"drill {self.name}" + (f": {found} ({how})" if found else "")

    @property
    def was_said(self) -> bool:
        """Whether anything of it was."""
        return any(one.due is not None and one.kind != "missing" for one in self.events)

    @property
    def faults(self) -> tuple[DrillEvent, ...]:
        """What was missing, late, out of order or wrong."""
        return tuple(event for event in self.events if event.is_fault)


class Replayed(_Part):
    """One recording, heard and judged."""

    file: str
    """Its path as it was given; bytes in it that are no text stand as their code."""
    content: str = ""
    """Hash of the file's content; empty where it cannot be read."""
    seconds: float = 0.0
    """Length that was heard."""
    engine: str = ""
    least_certainty: float = 0.0
    """Elements heard with less were not judged; the strictest of what its channels want."""
    transmissions: tuple[HeardTransmission, ...] = ()
    exchanges: tuple[ReplayedExchange, ...] = ()
    drill: ReplayedDrill | None = None
    error: str | None = None
    """Why it was not heard, or not to its end; what came before that counts."""

    def transmission(self, number: int) -> Transmission:
        """Give the transmission of that number."""
        return self.transmissions[number - 1].transmission

    @property
    def is_right(self) -> bool:
        """Tell whether all readbacks are correct, and nothing in the drill was a fault."""
        outcomes = {one.verdict.verdict for one in self.exchanges}
        faults = self.drill is not None and self.drill.faults
        return self.error is None and outcomes <= {Outcome.CORRECT} and not faults

    def document(self) -> dict[str, Any]:
        """Give it as the JSON of ``readback replay``."""
        return {
            "file": self.file,
            "content": self.content,
            "seconds": round(self.seconds, 3),
            "engine": self.engine,
            "transmissions": [
                {
                    "number": one.number,
                    # The other readings are long, and every one of them was judged.
                    **one.transmission.model_dump(mode="json", exclude={"alternatives"}),
                    "track": one.track,
                    "told_by": one.told_by,
                }
                for one in self.transmissions
            ],
            "exchanges": [self._exchange(one) for one in self.exchanges],
            "drill": None if self.drill is None else _drill(self.drill),
            "error": self.error,
        }

    def _exchange(self, exchange: ReplayedExchange) -> dict[str, Any]:
        answered = None if exchange.readback is None else self._place(exchange.readback)
        delivery = exchange.delivery
        return {
            "instructed": self._place(exchange.instruction),
            "answered": answered,
            "delivery": None if delivery is None else delivery.model_dump(mode="json"),
            **exchange.verdict.model_dump(mode="json"),
        }

    def _place(self, number: int) -> dict[str, Any]:
        place = self.transmission(number).model_dump(
            mode="json", include={"station", "start", "end"}
        )
        return {"number": number, **place}


def readable(path: str) -> str:
    """Write bytes of a path that are no text as their code."""
    return path.encode("utf-8", "backslashreplace").decode("utf-8")


def _drill(drill: ReplayedDrill) -> dict[str, Any]:
    # The verdicts stand with the exchanges.
    return drill.model_dump(mode="json", exclude={"events": {"__all__": {"verdict"}}})
