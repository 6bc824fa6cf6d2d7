"""Measure everything that docs/accuracy.md tells, and write that page.

In a checkout, with ``pip install -e '.[plots]'``:

    python -m audio_demo_synth.accuracy all        measure, then write the page
    python -m audio_demo_synth.accuracy measure    run all of RUNS and save them
    python -m audio_demo_synth.accuracy page       write the page, its plots and a debrief's figures

``measure ear`` runs the named ones only; ``--jobs`` says how many programs run at once. The slow
runs are made condition by condition: one that was interrupted goes on with what is left. The saved
runs are the reports of ``readback measure --json``, packed, in docs/accuracy/runs/; the page is
docs/accuracy/text.md with tables put in, so that no figure on it is typed by hand.
"""

import argparse
import csv
import gzip
import hashlib
import json
import re
import shlex
import subprocess
import sys
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from pydantic import TypeAdapter

from readback.cli import make_parser
from readback.commands.measure import command_line, conditions_of
from readback.commands.measure_tables import (
    endpointing_lines,
    rejection_lines,
    report_lines,
    share_text,
)
from readback.measure.digest import digest
from readback.measure.endpointing import Endpointing
from readback.measure.figures import Figures
from readback.measure.plots import save_plots
from readback.measure.report import Report, join_reports
from readback.measure.statistics import Share, expected_calibration_error
from readback.speech.ear.network import MODEL

ROOT = Path(__file__).resolve().parent.parent
FOLDER = ROOT / "docs" / "accuracy"
LABELS = ROOT / "audio_demo_synth" / "measure_set" / "labels.csv"
PARTS = ROOT / "build" / "accuracy"
"""Conditions of slow runs that are done while others are not; ignored by git."""
LEVELS = ("20", "15", "10", "5", "0")
NOISE = [part for level in LEVELS for part in ("--snr", level)]
RUNS = {
    "ear": ["--engine", "ear", *NOISE],
    "rejection": ["--engine", "ear", "--outside", "--pairs", "48"],
    "pocketsphinx": ["--engine", "ear", "--engine", "pocketsphinx", *NOISE],
    "baseline": ["--engine", "ear", "--baseline"],
    "endpointing": ["--endpointing", "--snr", "20", "--snr", "10", "--snr", "5"],
}
"""Name -> options of ``readback measure``."""
SLOW = frozenset({"pocketsphinx", "baseline"})
"""Made condition by condition: they take hours, the ear minutes."""
PLOTTED = ("clean", "radio 20 dB", "radio 10 dB", "radio 0 dB", "interphone 10 dB")
"""More lines than these cannot be told apart in a plot."""
MOST_PASSED, MOST_REJECTED, MOST_CALIBRATION = 0.005, 0.02, 0.05
MOST_AGAIN = {
    "clean": 0.04,
    "radio 20 dB": 0.08,
    "radio 10 dB": 0.15,
    "interphone 20 dB": 0.08,
    "interphone 10 dB": 0.15,
}
"""Share of readbacks that may be asked for again, where there is an aim."""


def measure(names: Sequence[str], jobs: int = 2) -> None:
    """Run the named measurements and save what they print.

    Args:
        names: Of `RUNS`.
        jobs: How many programs run at once.
    """
    (FOLDER / "runs").mkdir(parents=True, exist_ok=True)
    PARTS.mkdir(parents=True, exist_ok=True)
    commands = {name: parts_of(name) for name in names}
    with ThreadPoolExecutor(jobs) as pool:
        done = {name: pool.map(_run_once, parts) for name, parts in commands.items()}
        for name, printed in done.items():
            _save(name, list(printed))
    for parts in commands.values():
        for options in parts:
            _kept(options).unlink()


def parts_of(name: str) -> list[list[str]]:
    """List the options of the commands that a run is made of, one for each condition if slow."""
    if name not in SLOW:
        return [RUNS[name]]
    arguments = make_parser().parse_args(["measure", *RUNS[name]])
    conditions = conditions_of(arguments)
    arguments.channel = arguments.snr = None
    whole = shlex.split(command_line(arguments))[2:]
    return [
        [
            *(*whole, "--channel", one.channel),
            *(() if one.snr_db is None else ("--snr", f"{one.snr_db:g}")),
        ]
        for one in conditions
    ]


def _run_once(options: Sequence[str]) -> str:
    """Run one command, or take what it printed before the rest was interrupted."""
    kept = _kept(options)
    if not kept.exists():
        kept.write_text(run_measure(options), encoding="utf-8")
        print(shlex.join(options), flush=True)
    return kept.read_text(encoding="utf-8")


def run_measure(options: Sequence[str]) -> str:
    """Give what ``readback measure --json`` prints; the end of the program where it fails."""
    command = [sys.executable, "-m", "readback", "measure", "--json", *options]
    done = subprocess.run(command, capture_output=True, text=True, cwd=ROOT, check=False)
    if done.returncode:
        sys.exit(f"{shlex.join(options)}: {done.stderr.strip()}")
    return done.stdout


def _kept(options: Sequence[str]) -> Path:
    """Name what one command printed by what it heard with: a model of before does not count."""
    heard_with = [MODEL, MODEL.with_suffix(".json"), ROOT / "grammars" / "certainty.toml"]
    digest = hashlib.sha256(shlex.join(options).encode())
    for path in heard_with:
        digest.update(path.read_bytes())
    return PARTS / f"{digest.hexdigest()[:16]}.json"


def _save(name: str, printed: Sequence[str]) -> None:
    if len(printed) > 1:
        command = command_line(make_parser().parse_args(["measure", *RUNS[name]]))
        reports = [Report.model_validate_json(one) for one in printed]
        printed = [join_reports(reports, command).model_dump_json()]
    # Equal runs make equal files: no time stamp.
    packed = gzip.compress(json.dumps(json.loads(printed[0])).encode(), mtime=0)
    _saved(name).write_bytes(packed)
    print(f"{name}: {len(packed)} bytes", flush=True)


def _saved(name: str) -> Path:
    return FOLDER / "runs" / f"{name}.json.gz"


def load_report(name: str) -> Report:
    """Read a saved run."""
    return Report.model_validate_json(gzip.decompress(_saved(name).read_bytes()))


def load_endpointing() -> tuple[Endpointing, ...]:
    """Read the saved run of finding transmissions."""
    found: TypeAdapter[tuple[Endpointing, ...]] = TypeAdapter(tuple[Endpointing, ...])
    return found.validate_json(gzip.decompress(_saved("endpointing").read_bytes()))


def write_page() -> None:
    """Put the saved runs' tables into the text, draw the plots, and write the debrief's digest."""
    text = (FOLDER / "text.md").read_text(encoding="utf-8")
    page = re.sub(r"^\{\{(\w+) (\w+)\}\}$", _table_for, text, flags=re.MULTILINE)
    (ROOT / "docs" / "accuracy.md").write_text(page, encoding="utf-8")
    ear = load_report("ear")
    save_plots(plotted(ear), FOLDER)
    for png in FOLDER.glob("*.png"):
        png.unlink()
    shown = digest(ear)
    engines = digest(load_report("pocketsphinx")).engines | shown.engines
    shown = shown.model_copy(update={"engines": engines})
    path = ROOT / "grammars" / "measured.json"
    path.write_text(shown.model_dump_json(indent=2) + "\n", encoding="utf-8")


def _table_for(found: "re.Match[str]") -> str:
    kind, name = found.groups()
    if kind == "endpointing":
        lines = _endpointing(name)
    elif kind == "run":
        lines = report_lines(load_report(name))
    elif kind == "heard":
        return heard_line(load_report(name))
    elif kind == "outside":
        lines = _outside(load_report(name))
    else:
        return "\n".join(aim_lines(load_report(name), kind))
    return "\n".join(["```", *lines, "```"])


def heard_line(report: Report) -> str:
    """Say how much of the measuring set a run heard, over what."""
    with LABELS.open(encoding="utf-8") as file:
        whole = sum(1 for _ in csv.DictReader(file))
    conditions = ", ".join(dict.fromkeys(one.name for one in report.figures))
    return f"{report.run.pairs} of the {whole} recordings, over {conditions}."


def _outside(report: Report) -> Iterator[str]:
    yield report.run.command
    yield f"{report.run.date}; {report.run.machine}; {report.engines[0].version}"
    yield ""
    yield from rejection_lines(report.rejection)


def _endpointing(name: str) -> Iterator[str]:
    yield " ".join(["readback measure", *RUNS[name]])
    yield ""
    yield from endpointing_lines(load_endpointing())


def aim_lines(report: Report, engine: str) -> Iterator[str]:
    """Hold an engine in each condition, all voices together, to the aims; a table in Markdown."""
    yield "| | wrong passed | right rejected | say again | calibration |"
    yield "| --- | --- | --- | --- | --- |"
    whole = [one for one in report.figures if one.voice is None and one.engine == engine]
    for one in whole:
        yield f"| {one.name} | {' | '.join(_held(one))} |"
    for channel in dict.fromkeys(one.channel for one in whole):
        own = [one for one in whole if one.channel == channel]
        if len(own) > 1:
            bins = [part for one in own for part in one.calibration]
            error = _calibration(expected_calibration_error(bins))
            yield f"| {channel}, all levels | | | | {error} |"


def _held(one: Figures) -> Iterator[str]:
    yield _against(one.passed, MOST_PASSED)
    yield _against(one.rejected, MOST_REJECTED)
    yield _against(one.say_again, MOST_AGAIN.get(one.name))
    yield _calibration(one.calibration_error)


def _calibration(error: float | None) -> str:
    if error is None:
        return "-"
    return f"{error:.3f}{'' if error <= MOST_CALIBRATION else ', missed'}"


def _against(share: Share, most: float | None) -> str:
    missed = most is not None and (share.share or 0.0) > most
    return f"{share_text(share)}{', missed' if missed else ''}"


def plotted(report: Report) -> Report:
    """Keep of a report what can be told apart in a plot."""
    return report.model_copy(
        update={
            "figures": tuple(one for one in report.figures if one.name in PLOTTED),
            "curves": tuple(one for one in report.curves if one.condition in PLOTTED),
        }
    )


def main() -> None:
    """Run one of the steps, or both."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("step", choices=["measure", "page", "all"])
    parser.add_argument("runs", nargs="*", help=f"of {', '.join(RUNS)}; all if none is named")
    parser.add_argument("--jobs", type=int, default=2, help="programs at once, 2")
    options = parser.parse_args()
    unknown = set(options.runs) - set(RUNS)
    if unknown:
        parser.error(f"no run {', '.join(sorted(unknown))}: take of {', '.join(RUNS)}")
    if options.step != "page":
        measure(options.runs or list(RUNS), options.jobs)
    if options.step != "measure":
        write_page()


if __name__ == "__main__":
    main()
