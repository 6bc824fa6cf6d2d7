"""Measure everything that docs/accuracy.md tells, and write that page.

In a checkout, with ``pip install -e '.[plots]'``:

    python -m audio_demo_synth.accuracy measure    run all of RUNS, two at a time, and save them
    python -m audio_demo_synth.accuracy page       write the page, its plots and a debrief's figures

``measure ear`` runs the named ones only. The saved runs are the reports of ``readback measure
--json``, packed, in docs/accuracy/runs/; the page is docs/accuracy/text.md with tables put in, so
that no figure on it is typed by hand.
"""

import argparse
import gzip
import json
import re
import subprocess
import sys
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from pydantic import TypeAdapter

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
from readback.measure.report import Report
from readback.measure.statistics import Share

ROOT = Path(__file__).resolve().parent.parent
FOLDER = ROOT / "docs" / "accuracy"
LEVELS = ("20", "15", "10", "5", "0")
NOISE = [part for level in LEVELS for part in ("--snr", level)]
RUNS = {
    "ear": ["--engine", "ear", *NOISE],
    "rejection": ["--engine", "ear", "--outside", "--pairs", "48"],
    # It takes twenty times as long as the ear: a sample of the same recordings.
    "pocketsphinx": ["--engine", "ear", "--engine", "pocketsphinx", "--pairs", "24"],
    "baseline": [
        *("--engine", "ear", "--baseline", "--pairs", "24"),
        *("--channel", "clean", "--channel", "radio", "--snr", "20"),
    ],
    "endpointing": ["--endpointing", "--snr", "20", "--snr", "10", "--snr", "5"],
}
"""Name -> options of ``readback measure``."""
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


def measure(names: Sequence[str]) -> None:
    """Run the named measurements, two at a time, and save what they print."""
    (FOLDER / "runs").mkdir(parents=True, exist_ok=True)
    with ThreadPoolExecutor(2) as pool:
        list(pool.map(_measure_one, names))


def _measure_one(name: str) -> None:
    command = [sys.executable, "-m", "readback", "measure", "--json", *RUNS[name]]
    done = subprocess.run(command, capture_output=True, text=True, cwd=ROOT, check=False)
    if done.returncode:
        sys.exit(f"{name}: {done.stderr.strip()}")
    # Equal runs make equal files: no time stamp.
    packed = gzip.compress(json.dumps(json.loads(done.stdout)).encode(), mtime=0)
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
    elif kind == "outside":
        lines = _outside(load_report(name))
    else:
        return "\n".join(aim_lines(load_report(name), kind))
    return "\n".join(["```", *lines, "```"])


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
    for one in report.figures:
        if one.voice is None and one.engine == engine:
            yield f"| {one.name} | {' | '.join(_held(one))} |"


def _held(one: Figures) -> Iterator[str]:
    yield _against(one.passed, MOST_PASSED)
    yield _against(one.rejected, MOST_REJECTED)
    yield _against(one.say_again, MOST_AGAIN.get(one.name))
    error = one.calibration_error
    if error is None:
        yield "-"
    else:
        yield f"{error:.3f}{'' if error <= MOST_CALIBRATION else ', missed'}"


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
    """Run one of the two steps."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("step", choices=["measure", "page"])
    parser.add_argument("runs", nargs="*", help=f"of {', '.join(RUNS)}; all if none is named")
    options = parser.parse_args()
    unknown = set(options.runs) - set(RUNS)
    if unknown:
        parser.error(f"no run {', '.join(sorted(unknown))}: take of {', '.join(RUNS)}")
    if options.step == "measure":
        measure(options.runs or list(RUNS))
    else:
        write_page()


if __name__ == "__main__":
    main()
