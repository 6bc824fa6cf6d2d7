"""Everything that one run measured, as one document."""

import hashlib
import importlib.metadata
import os
import platform
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import UTC, datetime
from types import MappingProxyType
from typing import Any

from pydantic import BaseModel, ConfigDict

from readback.judging.check import check
from readback.measure.baseline import NAME as BASELINE
from readback.measure.certainty import EngineThresholds, LeastCertainty, load_thresholds
from readback.measure.conditions import Condition
from readback.measure.figures import Figures, make_figures
from readback.measure.labels import Labelled
from readback.measure.observe import Observation, observe, peak_memory_mb
from readback.measure.outside import Rejection, measure_rejection
from readback.measure.second import SecondOpinion, measure_second
from readback.measure.sounds import Sound
from readback.measure.statistics import Share
from readback.measure.sweep import Point, choose_thresholds, sweep
from readback.speech.recogniser import Recogniser

_PACKAGES = {"pocketsphinx": "pocketsphinx", BASELINE: "pocketsphinx", "vosk": "vosk"}


class Engine(BaseModel):
    """One engine of the run."""

    model_config = ConfigDict(frozen=True)

    name: str
    version: str
    peak_memory_mb: float | None
    """Most memory that its process had, MiB; None where this system does not tell."""


class Curve(BaseModel):
    """One engine under one condition, at many thresholds."""

    model_config = ConfigDict(frozen=True)

    engine: str
    condition: str
    points: tuple[Point, ...]


class Facts(BaseModel):
    """What a run was."""

    model_config = ConfigDict(frozen=True)

    date: str
    """UTC."""
    command: str
    machine: str
    recordings: str
    """The folder's name."""
    splits: tuple[str, ...]
    voices: tuple[str, ...]
    pairs: int
    wrong: int
    """Wrong readbacks among them."""
    error_kinds: int
    misjudged: tuple[str, ...]
    """Recordings whose typed words are judged otherwise than the labels expect: the judge's own
    mistakes, or the labels', which no engine can mend."""


class Report(BaseModel):
    """What a run was, and what it measured."""

    model_config = ConfigDict(frozen=True)

    run: Facts
    engines: tuple[Engine, ...]
    figures: tuple[Figures, ...]
    """Of each engine and condition, all voices and then each."""
    curves: tuple[Curve, ...]
    rejection: tuple[Rejection, ...] = ()
    """Of sounds that are no call, by engine, condition and kind; empty where none were heard."""
    second_opinions: tuple[SecondOpinion, ...] = ()
    """Of the first engine with each other one, the baseline apart; empty where there is but one."""


def run_facts(recordings: str, command: str, labelled: Sequence[Labelled]) -> Facts:
    """Tell what is going to be measured, when and where."""
    return Facts(
        date=datetime.now(UTC).strftime("%Y-%m-%d %H:%M UTC"),
        command=command,
        machine=describe_machine(os.cpu_count()),
        recordings=recordings,
        splits=tuple(sorted({one.split or "none" for one in labelled})),
        voices=tuple(dict.fromkeys(one.voice for one in labelled)),
        pairs=len(labelled),
        wrong=sum(not one.faithful for one in labelled),
        error_kinds=len({one.error for one in labelled if one.error}),
        misjudged=misjudged(labelled),
    )


def measure(
    facts: Facts,
    labelled: Sequence[Labelled],
    conditions: Sequence[Condition],
    recognisers: Sequence[Recogniser],
    least_certainty: float | None = None,
    *,
    american: Mapping[str, Recogniser] = MappingProxyType({}),
    outside: Sequence[Sound] = (),
    tell: Callable[[str], None] = lambda _: None,
) -> tuple[Report, Mapping[str, Sequence[Observation]]]:
    """Hear everything with every recogniser and count.

    Args:
        facts: What the run is.
        labelled: The recordings.
        conditions: Over what they are heard.
        recognisers: One after the other.
        least_certainty: None takes each engine's threshold for the channel that is found, as the
            other commands do.
        american: Engine -> the one that hears the readbacks under the FAA's rules; see `observe`.
        outside: Sounds that are no call, to be heard too.
        tell: Takes a line on how far it is.

    Returns:
        The report, and engine -> its observations.
    """
    observations: dict[str, list[Observation]] = {}
    engines: list[Engine] = []
    rejection: list[Rejection] = []
    for recogniser in recognisers:
        seen: list[Observation] = []
        for one in observe(labelled, conditions, recogniser, american.get(recogniser.name)):
            seen.append(one)
            tell(f"{recogniser.name}: {len(seen)} of {len(labelled) * len(conditions)}")
        observations[recogniser.name] = seen
        engines.append(
            Engine(
                name=recogniser.name,
                version=engine_version(recogniser.name),
                peak_memory_mb=peak_memory_mb(recogniser),
            )
        )
        least = _judging(recogniser.name, least_certainty)
        if least is not None:
            rejection += measure_rejection(outside, conditions, recogniser, least, tell=tell)
    report = report_on(facts, engines, observations, rejection, least_certainty)
    return report, observations


def join_reports(parts: Sequence[Report], command: str) -> Report:
    """Join the reports of one run that was made condition by condition.

    Args:
        parts: The same engines and recordings, in the order of their conditions.
        command: That of the whole run.

    Returns:
        The report that one run would have made: the most memory of any part, the date of the first.
    """
    engines = [
        engine.model_copy(update={"peak_memory_mb": _most(place, parts)})
        for place, engine in enumerate(parts[0].engines)
    ]
    names = [engine.name for engine in engines]
    return Report(
        run=parts[0].run.model_copy(update={"command": command}),
        engines=tuple(engines),
        figures=tuple(sorted(_all("figures", parts), key=lambda one: names.index(one.engine))),
        curves=tuple(sorted(_all("curves", parts), key=lambda one: names.index(one.engine))),
        rejection=tuple(sorted(_all("rejection", parts), key=lambda one: names.index(one.engine))),
        second_opinions=tuple(_all("second_opinions", parts)),
    )


def _all(field: str, parts: Sequence[Report]) -> list[Any]:
    return [one for part in parts for one in getattr(part, field)]


def _most(place: int, parts: Sequence[Report]) -> float | None:
    known = [part.engines[place].peak_memory_mb for part in parts]
    return max((one for one in known if one is not None), default=None)


def report_on(
    facts: Facts,
    engines: Sequence[Engine],
    observations: Mapping[str, Sequence[Observation]],
    rejection: Sequence[Rejection] = (),
    least_certainty: float | None = None,
) -> Report:
    """Count what was heard.

    Args:
        facts: What the run is.
        engines: Those of the run.
        observations: Engine -> what it heard.
        rejection: Of sounds that are no call.
        least_certainty: As in `measure`.
    """
    figures: list[Figures] = []
    curves: list[Curve] = []
    for name, seen in observations.items():
        figures += make_figures(seen, _judging(name, least_certainty))
        curves += _curves(seen)
    return Report(
        run=facts,
        engines=tuple(engines),
        figures=tuple(figures),
        curves=tuple(curves),
        rejection=tuple(rejection),
        second_opinions=tuple(_second_opinions(observations, least_certainty)),
    )


def _second_opinions(
    observations: Mapping[str, Sequence[Observation]], given: float | None
) -> Iterator[SecondOpinion]:
    heard = [
        (seen, least)
        for name, seen in observations.items()
        if (least := _judging(name, given)) is not None
    ]
    for seen, least in heard[1:]:
        yield from measure_second(heard[0][0], seen, heard[0][1], least)


def tune(
    report: Report, observations: Mapping[str, Sequence[Observation]]
) -> dict[str, EngineThresholds]:
    """Choose the thresholds of every engine of a run; the recordings must be for tuning."""
    run = report.run
    facts = {
        "date": run.date,
        "command": run.command,
        "machine": run.machine,
        "recordings": run.recordings,
        "split": ", ".join(run.splits),
        "voices": list(run.voices),
        "pairs": run.pairs,
        "wrong": run.wrong,
        "conditions": list(dict.fromkeys(curve.condition for curve in report.curves)),
    }
    return {
        engine.name: EngineThresholds(
            least_certainty=choose_thresholds(observations[engine.name]),
            run={**facts, "version": f"{engine.name} {engine.version}"},
        )
        for engine in report.engines
        if engine.name != BASELINE
    }


def engine_version(name: str) -> str:
    """Name what was measured: the package's version, or the ear's model by its first digits."""
    if name == "ear":
        from readback.speech.ear.network import MODEL

        digest = hashlib.sha256(MODEL.read_bytes()).hexdigest()
        return f"model sha256 {digest[:12]}"
    try:
        return importlib.metadata.version(_PACKAGES.get(name, name))
    except importlib.metadata.PackageNotFoundError:
        return "of unknown version"


def _judging(engine: str, given: float | None) -> LeastCertainty | None:
    if engine == BASELINE:
        return None
    return load_thresholds().judging(engine) if given is None else lambda _: given


def _curves(seen: Sequence[Observation]) -> Iterator[Curve]:
    groups: dict[str, list[Observation]] = defaultdict(list)
    for one in seen:
        groups[one.condition.name].append(one)
    for condition, own in groups.items():
        yield Curve(engine=own[0].engine, condition=condition, points=sweep(own))


def misjudged(labelled: Iterable[Labelled]) -> tuple[str, ...]:
    """Name the recordings whose typed words get another verdict than the one expected."""
    return tuple(
        one.file.name
        for one in labelled
        if check(
            one.instruction, one.readback, authority=one.authority, callsign=one.callsign
        ).verdict
        != one.expected
    )


def describe_machine(processors: int | None) -> str:
    """Name the kind of machine, as far as Python knows it."""
    count = "unknown number of" if processors is None else str(processors)
    kind = f"{platform.system()} {platform.machine()}, {count} processors"
    return f"{kind}, Python {platform.python_version()}"


CSV_COLUMNS = (
    *("engine", "channel", "snr_db", "voice", "element"),
    *("measure", "count", "total", "value", "low", "high"),
)


def csv_rows(figures: Sequence[Figures]) -> Iterator[dict[str, Any]]:
    """Give every figure as one row: counts, value, and the bounds of its 95 % interval."""
    for one in figures:
        group = {
            "engine": one.engine,
            "channel": one.channel,
            "snr_db": one.snr_db,
            "voice": one.voice or "all",
            "element": "",
        }
        for measure in ("passed", "rejected", "say_again", "say_again_right", "say_again_wrong"):
            yield group | _share(measure, getattr(one, measure))
        yield group | _share("caught", one.caught)
        for measure, words in (("words_raw", one.words_raw), ("words_normal", one.words_normal)):
            yield group | {
                "measure": f"{measure}_error_rate",
                "count": words.errors,
                "total": words.reference,
                "value": words.rate,
            }
            for kind in ("hits", "substitutions", "deletions", "insertions"):
                count = getattr(words, kind)
                yield group | {"measure": f"{measure}_{kind}", "count": count}
        for kind, found in {"all": one.values, **one.elements}.items():
            own = group | {"element": kind}
            yield own | _share("precision", found.precision)
            yield own | _share("recall", found.recall)
            yield own | {"measure": "f1", "value": found.f1}
        yield group | {"measure": "calibration_error", "value": one.calibration_error}
        yield group | {"measure": "unheard", "count": one.unheard}
        yield group | {"measure": "failures", "count": one.failures}
        yield group | {"measure": "real_time_factor_wall", "value": one.wall_factor}
        yield group | {"measure": "real_time_factor_cpu", "value": one.cpu_factor}
        yield group | {"measure": "least_certainty", "value": one.least_certainty}


def _share(measure: str, share: Share) -> dict[str, Any]:
    low, high = share.interval
    return {
        "measure": measure,
        "count": share.count,
        "total": share.total,
        "value": share.share,
        "low": low,
        "high": high,
    }
