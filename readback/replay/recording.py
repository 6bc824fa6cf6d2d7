"""One recording replayed: heard, given to stations, paired, judged."""

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from readback.drills.files import find_drill, load_drill
from readback.errors import AudioError, ReadbackError
from readback.judging.exchange import join_pauses, pair_transmissions
from readback.judging.manner import measure_manner
from readback.listener import Listener
from readback.replay.drill_plan import RecordedDrill
from readback.replay.drilled import judge_drilled
from readback.replay.model import (
    HeardTransmission,
    Replayed,
    ReplayedExchange,
    ReplaySettings,
    readable,
)
from readback.replay.naming import name_by_hand, name_by_talk
from readback.replay.wording import Wording
from readback.transmission import Transmission


class Replayer:
    """Replays recordings, all with the same settings.

    Args:
        settings: What is asked.
        listener: Hears; made for these settings.

    Raises:
        InputError: There is no such authority, or no such drill.
        GrammarError: The drill's file holds a mistake.
    """

    def __init__(self, settings: ReplaySettings, listener: Listener) -> None:
        self.settings = settings
        self._listener = listener
        drill = None if settings.drill is None else load_drill(find_drill(settings.drill))
        self._wording = Wording(settings.authority, listener.local, settings.callsign)
        self._drill = drill

    def replay(
        self,
        path: Path,
        *,
        name: str | None = None,
        progress: Callable[[float, float], None] | None = None,
    ) -> Replayed:
        """Hear and judge one recording.

        Args:
            path: The recording; read in a stream, so its length takes no memory.
            name: What it is called in the result; None: its path.
            progress: Told how many seconds were read, and of how many (0: not known); the whole
                while it is judged. What it raises gives the recording up, and comes out of here.

        Returns:
            What was heard and judged; where it broke on the way, with the error.

        Raises:
            ReadbackError: The recogniser cannot work at all.
        """
        stream = _Stream(path, self._listener, progress)
        heard = stream.hear()
        result = self._judge(heard, stream.tell) if heard else Replayed(file="")
        called = name or str(path)
        error = None if stream.error is None else str(stream.error).replace(str(path), called)
        return result.model_copy(
            update={
                "file": readable(called),
                "seconds": stream.read_s,
                "error": None if error is None else readable(error),
            }
        )

    def _judge(self, heard: Sequence[Transmission], going_on: Callable[[], None]) -> Replayed:
        least = self._listener.least_certainty_of(*heard)
        spoken = [
            one.model_copy(
                update={"least_certainty": self._listener.least_certainty_of(one.transmission)}
            )
            for one in name_by_hand(join_pauses(heard), self.settings.stations)
        ]
        result = Replayed(file="", engine=self._listener.recogniser.name, least_certainty=least)
        if self._drill is not None and self.settings.drill is not None:
            recorded = RecordedDrill(
                self._drill,
                self._wording,
                self.settings.seat,
                self._listener.least_certainty_of,
            )
            transmissions, exchanges, drill = judge_drilled(
                self.settings.drill, recorded, spoken, self.settings.seed
            )
            return result.model_copy(
                update={"transmissions": transmissions, "exchanges": exchanges, "drill": drill}
            )
        transmissions = name_by_talk(spoken, self._wording.grammar)
        return result.model_copy(
            update={
                "transmissions": transmissions,
                "exchanges": tuple(self._exchanges(transmissions, going_on)),
            }
        )

    def _exchanges(
        self, heard: Sequence[HeardTransmission], going_on: Callable[[], None]
    ) -> Iterator[ReplayedExchange]:
        spoken = [one.transmission for one in heard]
        numbers = {id(one.transmission): one.number for one in heard}
        for one in pair_transmissions(spoken, self._wording.grammar, self._wording.rules):
            going_on()
            yield ReplayedExchange(
                instruction=numbers[id(one.instruction)],
                readback=None if one.readback is None else numbers[id(one.readback)],
                verdict=self._wording.check(
                    one.instruction,
                    one.readback,
                    self._listener.least_certainty_of(one.instruction, one.readback),
                ),
                delivery=None
                if one.readback is None
                else measure_manner(one.readback, instruction=one.instruction),
            )


class _Stream:
    """One recording while it is heard.

    Args:
        path: The recording.
        listener: Hears it.
        progress: As `Replayer.replay` takes it.
    """

    def __init__(
        self, path: Path, listener: Listener, progress: Callable[[float, float], None] | None
    ) -> None:
        self.read_s = 0.0
        self.error: ReadbackError | None = None
        self._path = path
        self._listener = listener
        self._progress = progress
        self._whole_s = 0.0

    def hear(self) -> list[Transmission]:
        """Hear it to its end, or to where it breaks: what came before counts."""
        from readback.speech.audio import Recording
        from readback.speech.endings import is_cut_off

        heard: list[Transmission] = []
        try:
            recording = Recording(self._path, self._on_block)
        except AudioError as error:
            self.error = error
            return heard
        self._whole_s = recording.duration_s
        # Started here: one that cannot work is no fault of the recording.
        _ = self._listener.recogniser
        try:
            for transmission in self._listener.hear_file(recording):
                heard.append(transmission)
            if is_cut_off(self._path):
                raise AudioError(
                    f"{self._path}: its end is missing.", "Copy it again from where it came."
                )
        except ReadbackError as error:
            self.error = error
        return heard

    def _on_block(self, read_s: float) -> None:
        self.read_s = read_s
        self.tell()

    def tell(self) -> None:
        """Tell how far it is."""
        if self._progress is not None:
            self._progress(self.read_s, self._whole_s)
