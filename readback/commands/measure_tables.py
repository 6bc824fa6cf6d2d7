"""The report of ``readback measure`` as lines of text."""

from collections.abc import Iterable, Iterator, Sequence

from readback.commands.terminal import escape
from readback.measure.baseline import MOST_DIFFERENT, NAME
from readback.measure.endpointing import TOLERANCE_S, Endpointing
from readback.measure.figures import Figures, all_values
from readback.measure.outside import Rejection
from readback.measure.report import Engine, Report
from readback.measure.second import SecondOpinion
from readback.measure.statistics import Retrieval, Share

_VERDICTS = ("", "wrong passed", "right rejected", "say again")
_HEARING = ("", "words raw", "words", "elements", "calibration", "speed")


def report_lines(report: Report) -> Iterator[str]:
    """Give the report, at most 96 columns wide."""
    run = report.run
    yield escape(run.command)
    yield f"{run.date}; {run.machine}"
    yield escape(
        f"{run.recordings}: {run.pairs} readbacks, {run.wrong} of them wrong in {run.error_kinds}"
        f" ways; split: {', '.join(run.splits)}; voices: {', '.join(run.voices)}"
    )
    if run.misjudged:
        yield escape(
            f"Judged otherwise than labelled even when typed: {len(run.misjudged)}"
            f" ({', '.join(run.misjudged)})"
        )
    for engine in report.engines:
        own = [one for one in report.figures if one.engine == engine.name]
        yield ""
        yield from _engine_lines(engine, own)
        rejection = [one for one in report.rejection if one.engine == engine.name]
        if rejection:
            yield ""
            yield from rejection_lines(rejection)
    for second in dict.fromkeys(one.second for one in report.second_opinions):
        yield ""
        yield from _second_lines([o for o in report.second_opinions if o.second == second])
    yield ""
    yield "Shares with their 95 % interval (Wilson 1927), as if clips were independent."
    yield "words raw: word error rate as written; words: spellings and pronunciations made one."
    yield "elements: F1. calibration: expected calibration error of the elements' certainty."
    yield "speed: processor time for the length of the sound; by the clock where marked *."


def endpointing_lines(found: Sequence[Endpointing]) -> Iterator[str]:
    """Give how well transmissions were found, at most 110 columns wide."""
    head = ("", "recordings", "missed", "cut", "split", "merged", "false")
    yield from table_lines([head, *map(_endpointing_row, found)])
    both = found[0].stepped_on
    yield ""
    yield f"{both.count} of {both.total} transmissions are of two stations at once: one is right."
    yield f"cut: more than {TOLERANCE_S:g} s of speech lost at an end. false: finds without speech."
    yield "Shares with their 95 % interval (Wilson 1927), as if transmissions were independent."


def _endpointing_row(one: Endpointing) -> tuple[str, ...]:
    shares = (one.missed, one.cut, one.split, one.merged)
    return (one.condition, str(one.recordings), *map(share_text, shares), str(one.false))


def rejection_lines(rejection: Sequence[Rejection]) -> Iterator[str]:
    """Give what came back of sounds that are no call, at most 96 columns wide."""
    yield "Sounds that are no call"
    head = ("", "any word heard", "words that make a call", "a call certain enough")
    whole = [one for one in rejection if one.kind == "all"]
    yield from table_lines([head, *(_rejection_row(one.condition, [one]) for one in whole)])
    kinds = dict.fromkeys(one.kind for one in rejection if one.kind != "all")
    rows = (
        _rejection_row(f"  {kind}", [one for one in rejection if one.kind == kind])
        for kind in kinds
    )
    yield ""
    yield from table_lines([("all conditions", *head[1:]), *rows, _rejection_row("  all", whole)])


def _rejection_row(name: str, group: Sequence[Rejection]) -> tuple[str, ...]:
    return (
        name,
        share_text(_pooled([one.worded for one in group])),
        share_text(_pooled([one.called for one in group])),
        share_text(_pooled([one.accepted for one in group])),
    )


def _pooled(shares: Sequence[Share]) -> Share:
    return Share(
        count=sum(share.count for share in shares), total=sum(share.total for share in shares)
    )


def _second_lines(opinions: Sequence[SecondOpinion]) -> Iterator[str]:
    first = opinions[0]
    yield f"{first.engine} with the second opinion of {first.second}: alone, then with it"
    head = ("", "wrong passed", "right rejected", "say again", "time beside it")
    yield from table_lines([head, *map(_second_row, opinions)])


def _second_row(one: SecondOpinion) -> tuple[str, ...]:
    measures = (one.passed, one.rejected, one.say_again)
    counts = (f"{alone.count}, {both.count} of {alone.total}" for alone, both in measures)
    return (one.condition, *counts, "-" if one.cost is None else f"{one.cost:.1f} times")


def _engine_lines(engine: Engine, figures: Sequence[Figures]) -> Iterator[str]:
    memory = engine.peak_memory_mb
    most = "" if memory is None else f", at most {memory:.0f} MiB"
    yield f"{engine.name} {engine.version}{most}; {_rule(engine, figures)}"
    whole = [one for one in figures if one.voice is None]
    yield ""
    yield from table_lines([_VERDICTS, *map(_verdict_row, figures)])
    yield ""
    yield from table_lines([_HEARING, *map(_hearing_row, whole)])
    broken, unheard = sum(o.failures for o in whole), sum(o.unheard for o in whole)
    yield f"nothing heard: {unheard} times; the engine broke: {broken} times"
    yield ""
    yield from table_lines(
        [("element", "said", "precision", "recall", "F1"), *_element_rows(whole)]
    )


def _rule(engine: Engine, figures: Sequence[Figures]) -> str:
    if engine.name == NAME:
        return f"general language model; passed if at most {MOST_DIFFERENT:.0%} of the words differ"
    least = sorted({one.least_certainty for one in figures if one.least_certainty is not None})
    return f"least certainty {', '.join(f'{value:g}' for value in least)}"


def _verdict_row(one: Figures) -> tuple[str, ...]:
    name = one.name if one.voice is None else f"  {one.voice}"
    return (name, share_text(one.passed), share_text(one.rejected), share_text(one.say_again))


def _hearing_row(one: Figures) -> tuple[str, ...]:
    error = one.calibration_error
    speed = one.wall_factor if one.cpu_factor is None else one.cpu_factor
    return (
        one.name,
        f"{_percent(one.words_raw.rate)} of {one.words_raw.reference}",
        f"{_percent(one.words_normal.rate)} of {one.words_normal.reference}",
        f"{_number(one.values.f1)} of {one.values.said}",
        "-" if error is None else f"{error:.3f}",
        "-" if speed is None else f"{speed:.3f}{'*' if one.cpu_factor is None else ''}",
    )


def _element_rows(whole: Sequence[Figures]) -> Iterator[tuple[str, ...]]:
    nothing = Retrieval(right=0, heard=0, said=0)
    kinds = sorted({kind for one in whole for kind in one.elements})
    pooled = {
        kind: sum((one.elements.get(kind, nothing) for one in whole), nothing) for kind in kinds
    }
    rows = {**pooled, "all elements": all_values(pooled)}
    for kind, found in rows.items():
        precision, recall = found.precision.share, found.recall.share
        yield (kind, str(found.said), _percent(precision), _percent(recall), _number(found.f1))


def share_text(share: Share) -> str:
    """Give counts, share and 95 % interval: ``2/48 4.2 % (1.2-14.0)``; ``-`` of nothing."""
    low, high = share.interval
    if not share.total:
        return "-"
    return f"{share.count}/{share.total} {_percent(share.share)} ({100 * low:.1f}-{100 * high:.1f})"


def _percent(share: float | None) -> str:
    return "-" if share is None else f"{100 * share:.1f} %"


def _number(value: float | None) -> str:
    return "-" if value is None else f"{value:.3f}"


def table_lines(rows: Iterable[Sequence[str]], width: int | None = None) -> Iterator[str]:
    """Set rows in columns: the first flush left, the others right; text from outside is escaped.

    Args:
        rows: The first one is the heads; all of one length.
        width: Columns of the terminal: what does not fit beside the first column comes in a further
            table below. None sets no limit.
    """
    cells = [list(map(escape, row)) for row in rows]
    widths = [max(map(len, column)) for column in zip(*cells, strict=True)]
    for number, columns in enumerate(_fitting(widths, width)):
        if number:
            yield ""
        for row in cells:
            first = row[0].ljust(widths[0])
            rest = (row[column].rjust(widths[column]) for column in columns)
            yield "  ".join((first, *rest)).rstrip()


def _fitting(widths: Sequence[int], width: int | None) -> Iterator[list[int]]:
    """Divide the columns after the first into those that fit beside it together."""
    columns: list[int] = []
    used = widths[0]
    for column in range(1, len(widths)):
        if columns and width is not None and used + 2 + widths[column] > width:
            yield columns
            columns, used = [], widths[0]
        columns.append(column)
        used += 2 + widths[column]
    yield columns
