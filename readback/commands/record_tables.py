"""Progress, practice and trust as lines of text, in the form of ``readback measure``."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from textwrap import wrap

from readback.commands.measure_tables import share_text, table_lines
from readback.commands.terminal import escape
from readback.judging.model import Status
from readback.measure.rates import Measured
from readback.measure.statistics import Share
from readback.records.describing import describe_element
from readback.records.practice import Practice
from readback.records.progress import Progress
from readback.records.training import Trained, choose_drills
from readback.records.trust import EngineTrust

_MOST_ROWS = 12
NARROW = 80
"""Columns of a terminal that has not been made wider."""
_MISTAKES = (Status.WRONG, Status.MISSING, Status.NOT_ISSUED, Status.NOT_CERTAIN)
INTERVALS = "Shares with their 95 % interval (Wilson 1927), as if exchanges were independent."


def progress_lines(progress: Progress) -> Iterator[str]:
    """Tell how one trainee or a group gets on."""
    yield from _summary(progress)
    if len(progress.trainees) > 1:
        yield ""
        yield from _trainees(progress)
    yield ""
    yield from _elements(progress)
    for title, groups in (("authority", progress.authorities), ("noise", progress.noises)):
        if len(groups) > 1:
            yield ""
            yield from table_lines(
                [(title, "right"), *((n, share_text(s)) for n, s in groups.items())]
            )
    yield ""
    yield from _trend(progress)
    yield INTERVALS


def _summary(progress: Progress) -> Iterator[str]:
    names = progress.trainees
    who = escape(names[0].trainee) if len(names) == 1 else f"{len(names)} trainees"
    count = sum(one.sessions for one in names)
    first, last = progress.trend[0].training_date, progress.trend[-1].training_date
    days = f"{first}" if first == last else f"{first} to {last}"
    yield f"{who}: {count} session{'' if count == 1 else 's'}, {days}"
    yield f"right: {share_text(progress.exchanges)}"
    kinds = [f"{kind} {count}" for kind, count in progress.error_kinds.items() if count]
    yield f"errors: {', '.join(kinds) or 'none'}"
    if progress.seconds_to_answer is not None:
        yield f"time to answer: {progress.seconds_to_answer:.1f} s (median)"
    if progress.change is not None:
        low, high = (100 * bound for bound in progress.change.interval)
        yield (
            f"later half of the days against the earlier: {100 * progress.change.difference:+.0f}"
            f" points (95 %: {low:+.0f} to {high:+.0f}; Newcombe 1998)"
        )


def _trainees(progress: Progress) -> Iterator[str]:
    rows = [
        (
            one.trainee,
            str(one.sessions),
            one.last.isoformat(),
            share_text(one.right),
            describe_element(*one.worst) if one.worst else "-",
        )
        for one in progress.trainees
    ]
    yield from table_lines([("trainee", "sessions", "last", "right", "most often wrong"), *rows])


def _elements(progress: Progress) -> Iterator[str]:
    faulty = [one for one in progress.elements if one.statuses]
    rows = [
        (
            describe_element(one.call, one.element),
            share_text(one.right),
            *(str(one.statuses.get(status.value) or "-") for status in _MISTAKES),
        )
        for one in faulty[:_MOST_ROWS]
    ]
    if rows:
        yield from table_lines([("element", "right", *map(str, _MISTAKES)), *rows])
    if len(faulty) > _MOST_ROWS:
        yield f"{len(faulty) - _MOST_ROWS} more went wrong less often; --json gives all."
    always = len(progress.elements) - len(faulty)
    if always:
        yield f"always right: {always} of {len(progress.elements)} elements"


def _trend(progress: Progress) -> Iterator[str]:
    rows = [
        (
            day.training_date.isoformat(),
            _sessions(day.sessions),
            share_text(day.right),
            "-" if day.seconds_to_answer is None else f"{day.seconds_to_answer:.1f} s",
        )
        for day in progress.trend
    ]
    yield from table_lines([("day", "session", "right", "time to answer"), *rows])


def _sessions(numbers: Sequence[int]) -> str:
    return ", ".join(map(str, numbers)) if len(numbers) <= 3 else f"{len(numbers)} sessions"


def practice_lines(plan: Sequence[Practice], today: date) -> Iterator[str]:
    """Tell what one trainee practises when."""
    if not plan:
        return
    rows = [
        (
            describe_element(one.call, one.element),
            f"{'missed' if one.missed else 'right'} {one.last}",
            "now" if one.due <= today else one.due.isoformat(),
            f"{one.recall:.0%}",
        )
        for one in plan[:_MOST_ROWS]
    ]
    yield ""
    yield from table_lines([("to practise", "last time", "again", "chance today"), *rows])
    if len(plan) > _MOST_ROWS:
        yield f"{len(plan) - _MOST_ROWS} more are less urgent; --json gives all."
    yield "By FSRS, made for flash cards: an order of urgency, not measured on readbacks."


def missed_lines(missed: Mapping[Trained, Sequence[str]]) -> Iterator[str]:
    """Tell what trainees of a group missed the last time."""
    if not missed:
        return
    shown = list(missed.items())[:_MOST_ROWS]
    width = max(len(_names(names)) for _, names in shown)
    rows = [
        (describe_element(*key), str(len(names)), _names(names).ljust(width))
        for key, names in shown
    ]
    yield ""
    yield from table_lines([("missed the last time", "trainees", ""), *rows])
    if len(missed) > _MOST_ROWS:
        yield f"{len(missed) - _MOST_ROWS} more were missed by fewer; --json gives all."


def _names(names: Sequence[str]) -> str:
    more = f" and {len(names) - 3} more" if len(names) > 3 else ""
    return ", ".join(names[:3]) + more


def drill_lines(
    missed: Iterable[Trained], drills: Mapping[str, frozenset[Trained]]
) -> Iterator[str]:
    """Name the fewest drills that train what was missed, with what each trains of it."""
    for name, trained in choose_drills(missed, drills):
        what = ", ".join(describe_element(*one) for one in trained)
        yield f"readback practise {name}  trains {what}"


def trust_lines(
    trust: Mapping[str, EngineTrust], measured: Measured, width: int = NARROW
) -> Iterator[str]:
    """Tell how often each recogniser was corrected, beside what was measured of it."""
    for name, one in trust.items():
        count = f"{one.sessions} session{'' if one.sessions == 1 else 's'}"
        yield f"{escape(name)}, {count}, {one.sessions_corrected} of them corrected"
        yield ""
        rows = [("by people's corrections", *_rates(one.passed, one.rejected, one.say_again))]
        rates = measured.engines.get(name)
        for found in rates.conditions if rates else ():
            shares = _rates(found.passed, found.rejected, found.say_again)
            rows.append((f"measured, {found.condition}", *shares))
        yield from table_lines([("", "wrong passed", "right rejected", "say again"), *rows], width)
        yield ""
        yield from table_lines(
            [
                ("", "words corrected", "stations corrected", "verdicts changed"),
                (
                    "by people",
                    *_rates(one.words_corrected, one.stations_corrected, one.verdicts_changed),
                ),
            ],
            width,
        )
        if rates:
            yield f"Measured {measured.date} on synthetic voices, {rates.version}:"
            yield from wrap(measured.command, width, initial_indent="  ", subsequent_indent="    ")
        yield ""
    yield "Corrections are a lower bound: what nobody looked at counts as right."
    yield INTERVALS


def _rates(*shares: Share) -> tuple[str, ...]:
    return tuple(map(share_text, shares))
