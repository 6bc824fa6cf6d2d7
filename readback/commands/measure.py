"""``readback measure``: the error rates of this set-up on labelled recordings."""

import argparse
import csv
import shlex
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

from readback.commands.hearing import Listener
from readback.commands.terminal import json_writer
from readback.data import data_directory
from readback.errors import InputError

if TYPE_CHECKING:
    from readback.measure.conditions import Condition
    from readback.measure.labels import Labelled
    from readback.measure.report import Report
    from readback.measure.sounds import Sound
    from readback.speech.recogniser import Recogniser

NAME = "measure"
SUMMARY = "measure how often this set-up passes wrong readbacks and rejects right ones"
DESCRIPTION = (
    "Hear labelled recordings over simulated channels and count: wrong readbacks passed, right ones"
    " rejected, say again, word errors, elements, calibration, speed. FOLDER holds labels.csv"
    " (columns file, instruction, readback; if known authority, callsign, expected, error, voice,"
    " split) and the recordings; without it, the synthetic voices that come with readback are"
    " heard. Synthetic speech is not human speech: record your own voices in your own rooms."
    " --outside also hears what is no call: chat, other languages, music, noise. --endpointing"
    " measures instead how well transmissions are found in long recordings."
)
EXAMPLE = "readback measure --quick --channel clean"

QUICK_PAIRS = 24
JOINED_RECORDINGS = 315
SHIPPED = "measure_set"
OUTSIDE = "_outside"
"""Ends the name of the folder with speech that is no call, beside that of the readbacks."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add this command's arguments."""
    parser.add_argument("folder", nargs="?", metavar="FOLDER", type=Path, help="your recordings")
    parser.add_argument(
        "--engine",
        action="append",
        metavar="NAME",
        help="recogniser to hear with, see readback doctor; may be given more than once",
    )
    parser.add_argument(
        "--vosk-model", metavar="FOLDER", type=Path, help="folder of a Vosk model of English"
    )
    parser.add_argument(
        "--channel",
        action="append",
        metavar="NAME",
        help="recorded (FOLDER's recordings as they are, its default), clean, radio or interphone;"
        " may be given more than once",
    )
    parser.add_argument(
        "--snr",
        action="append",
        type=float,
        metavar="DB",
        help="speech against noise on radio and interphone, 20 and 10; may be given more than once",
    )
    parser.add_argument(
        "--quick", action="store_true", help=f"{QUICK_PAIRS} recordings, one level of noise"
    )
    parser.add_argument(
        "--pairs", type=int, metavar="N", help="only N recordings, spread over the list"
    )
    parser.add_argument(
        "--baseline",
        action="store_true",
        help="also measure a general recogniser with a comparison word by word",
    )
    parser.add_argument("--outside", action="store_true", help="also hear sounds that are no call")
    parser.add_argument(
        "--endpointing",
        action="store_true",
        help=f"find transmissions in {JOINED_RECORDINGS} recordings joined of these; hear nothing",
    )
    parser.add_argument(
        "--least-certainty",
        type=float,
        metavar="P",
        help="judge no element heard with less, instead of the engine's own threshold",
    )
    parser.add_argument("--json", action="store_true", help="print JSON, for programs")
    parser.add_argument("--csv", metavar="FILE", type=Path, help="write every figure to a file")
    parser.add_argument("--plots", metavar="DIR", type=Path, help="draw PNG and SVG plots into it")
    parser.add_argument(
        "--tune",
        metavar="FILE",
        type=Path,
        help="write least certainties chosen on these recordings, all for tuning, and keep"
        " those of other engines",
    )


def run(arguments: argparse.Namespace) -> int:
    """Measure and show; the status is 0, as no readback of the user's is judged."""
    from readback.measure.labels import read_labels, spread

    if arguments.plots is not None:
        from readback.measure.plots import check_plots

        check_plots()
    if arguments.least_certainty is not None and not 0 <= arguments.least_certainty <= 1:
        raise InputError("--least-certainty is no probability.", "Give a number from 0 to 1.")
    folder = arguments.folder or data_directory("audio_demo_synth") / SHIPPED
    labelled = read_labels(folder)
    if arguments.tune is not None:
        refuse_reported(labelled)
    if arguments.pairs is not None and arguments.pairs < 1:
        raise InputError("--pairs is less than one recording.", "Give how many to hear.")
    labelled = spread(labelled, arguments.pairs or (QUICK_PAIRS if arguments.quick else None))
    conditions = conditions_of(arguments)
    if arguments.endpointing:
        show_endpointing(arguments, labelled, conditions)
        return 0
    with _recognisers(arguments, labelled) as (recognisers, american):
        measure_and_show(arguments, folder, labelled, conditions, recognisers, american)
    return 0


def measure_and_show(
    arguments: argparse.Namespace,
    folder: Path,
    labelled: "Sequence[Labelled]",
    conditions: "Sequence[Condition]",
    recognisers: "Sequence[Recogniser]",
    american: "Mapping[str, Recogniser]" = MappingProxyType({}),
) -> None:
    """Measure with each recogniser in turn, then print and write what the arguments ask for."""
    from readback.measure.report import measure, run_facts, tune

    facts = run_facts(folder.resolve().name, command_line(arguments), labelled)
    report, observations = measure(
        facts,
        labelled,
        conditions,
        recognisers,
        arguments.least_certainty,
        american=american,
        outside=_outside(folder, labelled) if arguments.outside else (),
        tell=_progress,
    )
    if arguments.tune is not None:
        from readback.measure.certainty import Thresholds, load_thresholds, save_thresholds

        kept = (
            load_thresholds(arguments.tune) if arguments.tune.exists() else Thresholds(engines={})
        )
        save_thresholds(arguments.tune, kept.with_engines(tune(report, observations)))
    if arguments.csv is not None:
        _write_csv(arguments.csv, report)
    if arguments.plots is not None:
        from readback.measure.plots import save_plots

        save_plots(report, arguments.plots)
    if arguments.json:
        json_writer()(report.model_dump_json(indent=2))
        return
    from readback.commands.measure_tables import report_lines
    from readback.commands.render import CAUTION

    for line in report_lines(report):
        print(line)
    sys.stdout.flush()
    print(CAUTION, file=sys.stderr)


def show_endpointing(
    arguments: argparse.Namespace, labelled: "Sequence[Labelled]", conditions: "Sequence[Condition]"
) -> None:
    """Measure how well transmissions are found, then print."""
    from readback.commands.measure_tables import endpointing_lines
    from readback.measure.endpointing import measure_endpointing, report_json

    recordings = JOINED_RECORDINGS // (5 if arguments.quick else 1)
    files = [one.file for one in labelled]
    found = tuple(measure_endpointing(files, conditions, recordings, tell=_progress))
    if arguments.json:
        json_writer()(report_json(found))
        return
    print(command_line(arguments))
    for line in endpointing_lines(found):
        print(line)


def _outside(folder: Path, labelled: "Sequence[Labelled]") -> "Sequence[Sound]":
    """Gather what is no call: the folder's own beside it, or that which is shipped."""
    from readback.measure.outside import gather_sounds, read_outside

    own = folder.resolve().with_name(folder.resolve().name + OUTSIDE)
    shipped = data_directory("audio_demo_synth") / f"{SHIPPED}{OUTSIDE}"
    outside = read_outside(own if own.is_dir() else shipped)
    tuning = all(one.split == "tuning" for one in labelled)
    return gather_sounds(outside, [one.file for one in labelled], tuning=tuning)


def command_line(arguments: argparse.Namespace) -> str:
    """Write the command again from what was read of it, without where results go."""
    words: list[str] = ["readback", NAME]
    words += [str(arguments.folder)] if arguments.folder else []
    for name in ("engine", "channel", "snr"):
        words += [f"--{name}={value}" for value in getattr(arguments, name) or ()]
    words += [f"--pairs={arguments.pairs}"] if arguments.pairs else []
    words += ["--quick"] if arguments.quick else []
    for name in ("baseline", "outside", "endpointing"):
        words += [f"--{name}"] if getattr(arguments, name) else []
    if arguments.least_certainty is not None:
        words.append(f"--least-certainty={arguments.least_certainty}")
    return shlex.join(words)


def refuse_reported(labelled: "Sequence[Labelled]") -> None:
    """Refuse to tune on what figures are reported on.

    Raises:
        InputError: A recording is not marked as one for tuning.
    """
    for one in labelled:
        if one.split != "tuning":
            raise InputError(
                f"{one.file.name}: its split is {one.split or 'not given'}, not tuning.",
                "Tune on other voices and texts than you report on, marked so in labels.csv.",
            )


def conditions_of(arguments: argparse.Namespace) -> "Sequence[Condition]":
    """List the conditions that the arguments ask for."""
    from readback.measure.conditions import make_conditions

    usual = ["recorded"] if arguments.folder else ["clean", "radio", "interphone"]
    levels = arguments.snr or ([20.0] if arguments.quick else [20.0, 10.0])
    return make_conditions(arguments.channel or usual, levels)


@contextmanager
def _recognisers(
    arguments: argparse.Namespace, labelled: "Sequence[Labelled]"
) -> "Iterator[tuple[list[Recogniser], dict[str, Recogniser]]]":
    """Start all of them before anything is measured: one that cannot work is told at once.

    Yields:
        One of each engine, and engine -> another that listens for numbers in group form too, where
        readbacks are under rules that know such.
    """
    with ExitStack() as stack:

        def start(engine: str | None, authority: str) -> "Recogniser":
            listener = Listener(engine, arguments.vosk_model, authority=authority)
            stack.callback(listener.close)
            listener.expect_names([one.instruction for one in labelled])
            return listener.recogniser

        engines = dict.fromkeys(arguments.engine or [None])
        started = [start(engine, "icao") for engine in engines]
        american = [start(engine, "faa") for engine in engines if _has_american(labelled)]
        if arguments.baseline:
            from readback.measure.baseline import GeneralRecogniser

            general = GeneralRecogniser()
            stack.callback(general.close)
            started.append(general)
        yield started, {recogniser.name: recogniser for recogniser in american}


def _has_american(labelled: "Sequence[Labelled]") -> bool:
    return any(one.authority == "faa" for one in labelled)


def _progress(message: str) -> None:
    if sys.stderr.isatty():
        print(message, file=sys.stderr, flush=True)


def _write_csv(path: Path, report: "Report") -> None:
    from readback.measure.report import CSV_COLUMNS, csv_rows

    try:
        with path.open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, CSV_COLUMNS, lineterminator="\n")
            writer.writeheader()
            writer.writerows(csv_rows(report.figures))
    except OSError as error:
        why = f"{path}: cannot be written ({error.strerror})."
        raise InputError(why, "Name another.") from error
