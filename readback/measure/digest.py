"""What a debrief shows of a run of ``readback measure``, written for those who use the program.

readback measure --engine ear --engine pocketsphinx --json > report.json
python -m readback.measure.digest report.json grammars/measured.json
"""

import sys
from pathlib import Path

from readback.measure.rates import ConditionRates, EngineRates, Measured
from readback.measure.report import Report


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


def _main(report: str, file: str) -> None:
    measured = digest(Report.model_validate_json(Path(report).read_bytes()))
    Path(file).write_text(measured.model_dump_json(indent=2) + "\n", encoding="utf-8")


if __name__ == "__main__":
    _main(*sys.argv[1:])
