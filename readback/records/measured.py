"""How often each recogniser was wrong when it was measured: figures that come with the program.

They are a digest of one run of ``readback measure``, written anew by::

    readback measure --engine ear --engine pocketsphinx --json > report.json
    python -m readback.records.measured report.json grammars/measured.json
"""

import sys
from functools import cache
from pathlib import Path

from pydantic import BaseModel, ConfigDict, ValidationError

from readback.data import data_directory
from readback.errors import InputError
from readback.measure.report import Report
from readback.measure.statistics import Share

FILE = "measured.json"


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True)


class ConditionRates(_Part):
    """One recogniser under one condition, all voices together."""

    condition: str
    """``clean``, ``radio 10 dB``."""
    passed: Share
    """Wrong readbacks judged correct, of the wrong ones: the dangerous mistake."""
    rejected: Share
    """Right readbacks judged incorrect or incomplete, of the right ones."""
    say_again: Share
    """Of all readbacks."""


class EngineRates(_Part):
    """One recogniser."""

    version: str
    least_certainty: float | None
    conditions: tuple[ConditionRates, ...]


class Measured(_Part):
    """The digest of one run."""

    date: str
    command: str
    recordings: str
    voices: tuple[str, ...]
    pairs: int
    engines: dict[str, EngineRates]


def digest(report: Report) -> Measured:
    """Keep of a report what a debrief shows."""
    run = report.run
    return Measured(
        date=run.date,
        command=run.command,
        recordings=run.recordings,
        voices=run.voices,
        pairs=run.pairs,
        engines={engine.name: _rates(report, engine.name, engine.version)
                 for engine in report.engines},
    )  # fmt: skip


def _rates(report: Report, name: str, version: str) -> EngineRates:
    own = [one for one in report.figures if one.engine == name and one.voice is None]
    return EngineRates(
        version=version,
        least_certainty=own[0].least_certainty if own else None,
        conditions=tuple(
            ConditionRates(
                condition=one.name,
                passed=one.passed,
                rejected=one.rejected,
                say_again=one.say_again,
            )
            for one in own
        ),
    )


@cache
def load_measured() -> Measured:
    """Read the figures that come with the program.

    Raises:
        InputError: The file is damaged.
    """
    path = data_directory("grammars") / FILE
    try:
        return Measured.model_validate_json(path.read_bytes())
    except (OSError, ValidationError) as error:
        raise InputError(f"{path}: cannot be read.", "Install readback anew.") from error


def _main(report: str, file: str) -> None:
    measured = digest(Report.model_validate_json(Path(report).read_bytes()))
    Path(file).write_text(measured.model_dump_json(indent=2) + "\n", encoding="utf-8")


if __name__ == "__main__":
    _main(*sys.argv[1:])
