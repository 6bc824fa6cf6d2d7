"""The timeline of a session as shapes: a lane a station, sound as outlines, verdicts as marks."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from readback.records.audio import MARGIN_S, decode_flac, envelope
from readback.records.describing import describe_time
from readback.records.model import KeptSession, KeptTransmission
from readback.records.ramp import ROWS, RampHistory

WIDTH = 960
"""Units across one strip."""
STRIP_S = 60.0
"""Seconds that one strip shows; a strip in which nobody speaks is left out."""
LANE = 70
TOP = 24
RAMP_ROW = 22
LEFT = 150
"""Units kept for the names of the stations."""

_UNTIMED_S = 4.0
"""What a typed transmission takes in the picture."""
_POINTS_A_SECOND = 12
_TICK_S = 10
_LETTER = 8.6
"""Units that a letter takes, at most on average."""
NOBODY = "station not known"


def name_station(station: str | None) -> str:
    """Name a station in words."""
    return station.replace("_", " ") if station else NOBODY


@dataclass(frozen=True)
class Block:
    """One transmission, or the part of it that lies in a strip."""

    x: float
    y: float
    width: float
    number: int
    label: str
    outline: str
    """Points of an SVG polygon; empty where no sound is kept."""


@dataclass(frozen=True)
class Mark:
    """The verdict on an exchange, at its answer."""

    x: float
    y: float
    outcome: str
    label: str


@dataclass(frozen=True)
class Span:
    """How long one thing on the ramp stayed as it was."""

    x: float
    width: float
    value: str
    label: str
    """What is shown: empty where it has no room."""
    fresh: bool
    """Whether it became so here; else it was so before."""


@dataclass
class Strip:
    """Up to `STRIP_S` seconds of all lanes."""

    start_s: float
    end_s: float
    lanes: list[tuple[str, float]]
    """Name and middle of each."""
    ticks: list[tuple[float, str]]
    timed: bool
    blocks: list[Block] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    ramp: list[tuple[str, float, list[Span]]] = field(default_factory=list)
    """Name, top and spans of each thing on the ramp."""

    @property
    def height(self) -> float:
        """Units from top to bottom."""
        return TOP + LANE * len(self.lanes) + RAMP_ROW * len(self.ramp) + 10


@dataclass(frozen=True)
class _Placed:
    kept: KeptTransmission
    start_s: float
    end_s: float
    loudness: tuple[float, ...]
    """In [0, 1] of the loudest in the session."""

    @property
    def station(self) -> str:
        return name_station(self.kept.current.station)


def draw_timeline(
    session: KeptSession,
    audio: Callable[[int], bytes | None],
    ramp: RampHistory | None = None,
) -> list[Strip]:
    """Lay out a session.

    Args:
        session: What to draw. Transmissions without times stand side by side in their order.
        audio: Gives the FLAC of a transmission by its number; None where none is kept.
        ramp: The aircraft through the session, drawn under the stations.
    """
    placed = _place(session, audio)
    lanes = list(dict.fromkeys(one.station for one in placed))
    middles = {name: TOP + LANE * (index + 0.5) for index, name in enumerate(lanes)}
    timed = any(one.kept.current.start is not None for one in placed)
    strips = []
    for number in range(1 + int(max((one.end_s for one in placed), default=0.0) // STRIP_S)):
        start, end = number * STRIP_S, (number + 1) * STRIP_S
        there = [one for one in placed if one.start_s < end and one.end_s > start]
        if there:
            ticks = [
                (_x(start + offset, start), f"{int(start + offset) // 60}:{int(offset) % 60:02}")
                for offset in range(0, int(STRIP_S), _TICK_S)
            ]
            strip = Strip(start, end, list(middles.items()), ticks if timed else [], timed)
            strip.blocks = [_block(one, start, end, middles) for one in there]
            strip.marks = _marks(session, there, start, middles)
            strip.ramp = _ramp_rows(ramp, placed, start, end, TOP + LANE * len(lanes))
            strips.append(strip)
    return strips


def _place(session: KeptSession, audio: Callable[[int], bytes | None]) -> list[_Placed]:
    placed = []
    free_from = 0.0
    sounds = {one.number: _loudness(one, audio) for one in session.transmissions}
    loudest = max((max(sound, default=0.0) for sound in sounds.values()), default=0.0) or 1.0
    for kept in session.transmissions:
        said = kept.current
        start = free_from if said.start is None else said.start
        end = start + _UNTIMED_S if said.end is None else max(said.end, start)
        free_from = end + 1.0
        scaled = tuple(value / loudest for value in sounds[kept.number])
        placed.append(_Placed(kept, start, end, scaled))
    return placed


def _loudness(kept: KeptTransmission, audio: Callable[[int], bytes | None]) -> tuple[float, ...]:
    flac = audio(kept.number) if kept.audio_bytes else None
    if flac is None:
        return ()
    pcm, rate = decode_flac(flac)
    margin = round(MARGIN_S * rate)
    # The picture shows the transmission without what was kept around it.
    inner = pcm[margin:-margin] if len(pcm) > 4 * margin else pcm
    points = max(2, round(len(inner) / rate * _POINTS_A_SECOND))
    return tuple(map(float, envelope(inner, points)))


def _x(seconds: float, strip_start_s: float) -> float:
    return LEFT + (seconds - strip_start_s) / STRIP_S * (WIDTH - LEFT)


def _block(one: _Placed, start: float, end: float, middles: Mapping[str, float]) -> Block:
    left, right = _x(max(one.start_s, start), start), _x(min(one.end_s, end), start)
    middle = middles[one.station]
    when = f" at {describe_time(one.start_s)}" if one.kept.current.start is not None else ""
    return Block(
        x=left,
        y=middle - 20,
        width=max(right - left, 2.0),
        number=one.kept.number,
        label=f"Transmission {one.kept.number}, {one.station}{when}: {one.kept.current.text}",
        outline=_outline(one, start, end, middle),
    )


def _outline(one: _Placed, start: float, end: float, middle: float) -> str:
    count = len(one.loudness)
    if not count:
        return ""
    step = (one.end_s - one.start_s) / count
    points = [
        (_x(at, start), value * 18)
        for index, value in enumerate(one.loudness)
        if start <= (at := one.start_s + (index + 0.5) * step) <= end
    ]
    upper = [f"{x:.1f},{middle - height:.1f}" for x, height in points]
    lower = [f"{x:.1f},{middle + height:.1f}" for x, height in reversed(points)]
    return " ".join(upper + lower)


def _marks(
    session: KeptSession, there: list[_Placed], start: float, middles: Mapping[str, float]
) -> list[Mark]:
    by_number = {one.kept.number: one for one in there}
    marks = []
    for exchange in session.exchanges:
        at = by_number.get(exchange.readback or exchange.instruction)
        if at is not None and at.start_s >= start:
            outcome = exchange.outcome.value
            marks.append(
                Mark(
                    x=max(_x(at.start_s, start), LEFT + 9),
                    y=middles[at.station] - 28,
                    outcome=outcome,
                    label=f"Exchange {exchange.number}: {outcome}",
                )
            )
    return marks


def _ramp_rows(
    ramp: RampHistory | None, placed: Sequence[_Placed], start: float, end: float, top: float
) -> list[tuple[str, float, list[Span]]]:
    if ramp is None:
        return []
    ends = {one.kept.number: one.end_s for one in placed}
    rows = []
    for number, name in enumerate(ROWS):
        # What was said is so from the end of its transmission.
        known = [(ends.get(step.number, 0.0), step.values[name]) for step in ramp.steps]
        changes = [
            one for one, before in zip(known, [None, *known], strict=False)
            if before is None or before[1] != one[1]
        ]  # fmt: skip
        untils = [*(at for at, _ in changes[1:]), max(ends.values())]
        spans = [
            _span(max(since, start), min(until, end), start, value, since >= start and since > 0)
            for (since, value), until in zip(changes, untils, strict=True)
            if since < end and until > start
        ]
        rows.append((name, top + RAMP_ROW * number, spans))
    return rows


def _span(since: float, until: float, start: float, value: str, fresh: bool) -> Span:
    left = _x(since, start)
    width = max(_x(until, start) - left, 1.0)
    return Span(left, width, value, value if len(value) * _LETTER < width else "", fresh)
