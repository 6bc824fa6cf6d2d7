"""Replayed recordings on a terminal: one in full, or many in a table."""

from collections import Counter
from collections.abc import Iterator, Sequence
from statistics import median

from readback.commands.render import render_findings, render_outcome, render_sides
from readback.commands.terminal import Piece, Terminal, cells, escape
from readback.judging.manner import Manner
from readback.judging.model import Outcome
from readback.records.describing import describe_time
from readback.replay.model import (
    HeardTransmission,
    Replayed,
    ReplayedDrill,
    ReplayedExchange,
)

_LONGEST_NAME = 40
_SHORTEST_NAME = 12


def render_recording(replayed: Replayed, terminal: Terminal) -> Iterator[str]:
    """Show one recording: who said what, then each exchange with its verdict, and their sum."""
    if not replayed.transmissions:
        # What is wrong with it is told elsewhere.
        return
    yield escape(replayed.file)
    digits = len(str(len(replayed.transmissions)))
    for one in replayed.transmissions:
        head = f"  {one.number:>{digits}}  {describe_time(one.transmission.start)}  {_who(one)}"
        text = escape(one.transmission.text) or "(not understood)"
        yield from terminal.lines([Piece(text)], head, " " * cells(head))
    for number, exchange in enumerate(replayed.exchanges, start=1):
        verdict = exchange.verdict
        asked = replayed.transmission(exchange.instruction)
        answer = "nothing" if exchange.readback is None else str(exchange.readback)
        who = f"{exchange.instruction} answered by {answer}"
        pieces = [
            Piece(f"exchange {number}, {describe_time(asked.start)}, {who}:"),
            render_outcome(verdict.verdict),
            Piece(_delivery(exchange.delivery)),
        ]
        yield from terminal.lines(pieces, "  ", "  ")
        yield from render_findings(verdict, terminal, indent="    ", brief=True)
        yield from render_sides(verdict, terminal, indent="    ")
    if replayed.drill is not None:
        yield from _drill(replayed.drill, terminal)
    if len(replayed.exchanges) > 1:
        yield from terminal.lines([Piece(_sum(replayed.exchanges))], "  ", "  ")


def render_table(recordings: Sequence[Replayed], width: int | None = None) -> Iterator[str]:
    """Show many recordings, a line each, and their sum; those that broke are left out.

    Args:
        recordings: In their order.
        width: Columns of the terminal; None where lines may be as long as they are.
    """
    heard = [one for one in recordings if one.error is None]
    rows = [_row(escape(one.file), [one]) for one in heard]
    rows.append(_row(f"{len(heard)} recordings", heard))
    heads = [("recording", "length", "exchanges", *map(str, Outcome), "answered after")]
    longest = max(map(cells, (row[0] for row in rows)))
    if width is not None and _table_width(heads + rows, min(longest, _LONGEST_NAME), 2) > width:
        split = [head.rpartition(" ") for head in heads[0]]
        heads = [tuple(first for first, _, _ in split), tuple(last for _, _, last in split)]
        gap, most = 1, width - _table_width(heads + rows, 0, 1)
    else:
        gap, most = 2, _LONGEST_NAME
    rows = heads + rows
    names = [_shortened(row[0], max(most, _SHORTEST_NAME)) for row in rows]
    widths = _widths(rows)
    first = max(map(cells, names))
    for name, row in zip(names, rows, strict=True):
        numbers = (f"{cell:>{size}}" for cell, size in zip(row[1:], widths, strict=True))
        line = (" " * gap).join([f"{name}{' ' * (first - cells(name))}", *numbers])
        yield line.rstrip()


def _widths(rows: Sequence[tuple[str, ...]]) -> list[int]:
    return [max(map(cells, column)) for column in zip(*(row[1:] for row in rows), strict=True)]


def _table_width(rows: Sequence[tuple[str, ...]], name: int, gap: int) -> int:
    return name + sum(gap + size for size in _widths(rows))


def _row(name: str, recordings: Sequence[Replayed]) -> tuple[str, ...]:
    exchanges = [exchange for one in recordings for exchange in one.exchanges]
    outcomes = Counter(exchange.verdict.verdict for exchange in exchanges)
    wait = _wait(exchanges)
    return (
        name,
        describe_time(sum(one.seconds for one in recordings)),
        str(len(exchanges)),
        *(str(outcomes[outcome]) for outcome in Outcome),
        "" if wait is None else f"{wait:.1f} s",
    )


def _wait(exchanges: Sequence[ReplayedExchange]) -> float | None:
    """Give the median time to answer; None where nothing was answered."""
    waits = [
        exchange.delivery.seconds_to_answer
        for exchange in exchanges
        if exchange.delivery is not None and exchange.delivery.seconds_to_answer is not None
    ]
    return median(waits) if waits else None


def _sum(exchanges: Sequence[ReplayedExchange]) -> str:
    outcomes = Counter(exchange.verdict.verdict for exchange in exchanges)
    counts = ", ".join(f"{outcomes[one]} {one}" for one in Outcome if outcomes[one])
    wait = _wait(exchanges)
    answered = "" if wait is None else f"; answered after {wait:.1f} s (median)"
    return f"{len(exchanges)} exchanges: {counts}{answered}"


def _shortened(name: str, most: int) -> str:
    """Leave the start of a long name out: the end tells files of one folder apart."""
    return name if len(name) <= most else f"...{name[3 - most :]}"


def _who(one: HeardTransmission) -> str:
    station = one.transmission.station
    if station is None:
        return ""
    doubt = "?" if one.told_by == "turn" else ""
    return f"{escape(station.replace('_', ' '))}{doubt}: "


def _delivery(manner: Manner | None) -> str:
    parts = []
    if manner is not None and manner.seconds_to_answer is not None:
        parts.append(f"answered after {manner.seconds_to_answer:.1f} s")
    if manner is not None and manner.words_per_minute is not None:
        parts.append(f"{manner.words_per_minute:.0f} words a minute")
    return f"({', '.join(parts)})" if parts else ""


def _drill(drill: ReplayedDrill, terminal: Terminal) -> Iterator[str]:
    yield from terminal.lines([Piece(escape(drill.heading))], "  ", "  ")
    if not drill.was_said:
        wrong = 'Nothing of this drill was said. For the others see "readback drills".'
        yield from terminal.lines([Piece(wrong)], "    ", "    ")
        return
    for event in drill.faults:
        at = "" if event.at_s is None else f"{describe_time(event.at_s)}  "
        kind = Piece(f"{event.kind}:", "wrong")
        yield from terminal.lines([kind, Piece(escape(event.message))], f"    {at}", " " * 8)
    if not drill.faults:
        yield "    everything came as it was due"
