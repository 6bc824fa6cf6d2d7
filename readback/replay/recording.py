"""One recording replayed: heard, given to stations, paired, judged."""

from collections.abc import Callable, Sequence
from pathlib import Path

from readback.drills.files import find_drill, load_drill
from readback.errors import AudioError, InputError, ReadbackError
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
)
from readback.replay.speakers import load_speakers
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
        self._settings = settings
        self._listener = listener
        drill = None if settings.drill is None else load_drill(find_drill(settings.drill))
        self._wording = Wording(settings.authority, listener.local, settings.callsign)
        self._drill = drill

    def replay(
        self, path: Path, *, progress: Callable[[float, float], None] | None = None
    ) -> Replayed:
        """Hear and judge one recording.

        Args:
            path: The recording; read in a stream, so its length takes no memory.
            progress: Told how many seconds were read, and of how many (0: not known).

        Returns:
            What was heard and judged; where it broke on the way, with the error.
        """
        from readback.speech.audio import Recording
        from readback.speech.endings import is_cut_off

        heard: list[Transmission] = []
        read_s = 0.0
        error: str | None = None

        def on_block(seconds: float) -> None:
            nonlocal read_s
            read_s = seconds
            if progress is not None:
                progress(seconds, recording.duration_s)

        try:
            recording = Recording(path, on_block)
            for transmission in self._listener.hear_file(recording):
                heard.append(transmission)
            if is_cut_off(path):
                raise AudioError(
                    f"{path}: its end is missing.", "Copy it again from where it came."
                )
        except ReadbackError as failure:
            # What was heard before the damage still counts.
            error = str(failure)
        if not heard:
            return Replayed(file=str(path), seconds=read_s, error=error)
        return self._judge(heard).model_copy(
            update={"file": str(path), "seconds": read_s, "error": error}
        )

    def _judge(self, heard: Sequence[Transmission]) -> Replayed:
        least = self._listener.least_certainty
        spoken = self._told_by_hand(join_pauses(heard))
        result = Replayed(file="", engine=self._listener.recogniser.name, least_certainty=least)
        if self._drill is not None and self._settings.drill is not None:
            recorded = RecordedDrill(self._drill, self._wording, self._settings.seat, least)
            transmissions, exchanges, drill = judge_drilled(
                self._settings.drill, recorded, spoken, self._settings.seed
            )
            return result.model_copy(
                update={"transmissions": transmissions, "exchanges": exchanges, "drill": drill}
            )
        transmissions = self._with_stations(spoken)
        return result.model_copy(
            update={
                "transmissions": transmissions,
                "exchanges": self._exchanges(transmissions, least),
            }
        )

    # ---- who spoke -----------------------------------------------------------------------------

    def _told_by_hand(self, spoken: Sequence[Transmission]) -> tuple[HeardTransmission, ...]:
        by_hand = self._settings.stations
        numbered = []
        for number, transmission in enumerate(spoken, start=1):
            channel = transmission.station
            one = HeardTransmission(number=number, transmission=transmission, channel=channel)
            station = by_hand.get(str(number)) or by_hand.get(channel or "")
            numbered.append(one.spoken_by(station, "hand" if station else None))
        self._refuse_unknown(len(numbered))
        return tuple(numbered)

    def _refuse_unknown(self, count: int) -> None:
        for name in self._settings.stations:
            if name.isdigit() and not 1 <= int(name) <= count:
                raise InputError(
                    f"There is no transmission {name}; {count} were heard.",
                    "Give the number that stands before it.",
                )

    def _with_stations(self, spoken: Sequence[HeardTransmission]) -> tuple[HeardTransmission, ...]:
        speakers = load_speakers(self._wording.grammar)
        if any(one.channel is not None for one in spoken):
            in_channels = [
                one.transmission.model_copy(update={"station": one.channel}) for one in spoken
            ]
            stations = speakers.name_channels(in_channels)
            return tuple(
                one
                if one.told_by == "hand" or one.channel is None
                else one.spoken_by(stations.get(one.channel, one.channel), "channel")
                for one in spoken
            )
        known = {
            one.number - 1: one.transmission.station
            for one in spoken
            if one.transmission.station is not None
        }
        named = speakers.name([one.transmission for one in spoken], known)
        return tuple(
            one if one.told_by == "hand" or station is None else one.spoken_by(station, "turn")
            for one, station in zip(spoken, named, strict=True)
        )

    # ---- what was said -------------------------------------------------------------------------

    def _exchanges(
        self, heard: Sequence[HeardTransmission], least: float
    ) -> tuple[ReplayedExchange, ...]:
        spoken = [one.transmission for one in heard]
        numbers = {id(one.transmission): one.number for one in heard}
        return tuple(
            ReplayedExchange(
                instruction=numbers[id(one.instruction)],
                readback=None if one.readback is None else numbers[id(one.readback)],
                verdict=self._wording.check(one.instruction, one.readback, least),
                delivery=None
                if one.readback is None
                else measure_manner(one.readback, instruction=one.instruction),
            )
            for one in pair_transmissions(spoken, self._wording.grammar, self._wording.rules)
        )
