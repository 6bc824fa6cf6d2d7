import gzip
import re
from pathlib import Path

import pytest

from audio_demo_synth import accuracy
from audio_demo_synth.accuracy import (
    FOLDER,
    RUNS,
    aim_lines,
    heard_line,
    load_report,
    measure,
    parts_of,
    plotted,
    write_page,
)
from readback.cli import make_parser
from readback.commands.measure import conditions_of
from readback.measure.report import Report, join_reports

SAVED = [path for path in (FOLDER / "runs").glob("*.json.gz") if path.name != "endpointing.json.gz"]


def test_every_table_of_the_text_is_of_a_run_that_is_measured():
    text = (FOLDER / "text.md").read_text(encoding="utf-8")

    tables = re.findall(r"^\{\{(\w+) (\w+)\}\}$", text, flags=re.MULTILINE)
    kinds = {"run", "outside", "endpointing", "ear", "pocketsphinx", "heard"}
    assert {kind for kind, _ in tables} == kinds
    assert {name for _, name in tables} == set(RUNS)


@pytest.mark.parametrize("name", RUNS)
def test_every_run_is_a_command_that_measure_understands(name):
    arguments = make_parser().parse_args(["measure", *RUNS[name]])

    assert arguments.endpointing == (name == "endpointing")


def _conditions(options):
    return conditions_of(make_parser().parse_args(["measure", *options]))


@pytest.mark.parametrize("name", RUNS)
def test_the_parts_of_a_run_hear_each_condition_once(name):
    heard = [one for options in parts_of(name) for one in _conditions(options)]

    assert heard == list(_conditions(RUNS[name]))


def test_pocketsphinx_and_the_baseline_hear_every_recording():
    for name in ("pocketsphinx", "baseline"):
        for options in parts_of(name):
            arguments = make_parser().parse_args(["measure", *options])
            assert (arguments.pairs, arguments.quick) == (None, False)


def _cut(report, condition):
    """What a run over one condition alone would have told."""
    figures = tuple(one for one in report.figures if one.name == condition)
    curves = tuple(one for one in report.curves if one.condition == condition)
    seconds = tuple(one for one in report.second_opinions if one.condition == condition)
    return report.model_copy(
        update={"figures": figures, "curves": curves, "second_opinions": seconds}
    )


def test_the_parts_of_a_run_joined_are_the_run():
    whole = load_report("pocketsphinx")
    conditions = dict.fromkeys(one.name for one in whole.figures)

    joined = join_reports([_cut(whole, one) for one in conditions], whole.run.command)

    assert joined == whole


def test_an_interrupted_run_goes_on_with_what_is_left(tmp_path, monkeypatch):
    whole = load_report("baseline")
    conditions = ("clean", "radio 20 dB")
    ran = []

    def run(options):
        condition = _conditions(options)[0].name
        ran.append(condition)
        if ran == ["clean", "radio 20 dB"]:
            raise SystemExit("the lights went out")
        return _cut(whole, condition).model_dump_json()

    options = ["--engine", "ear", "--baseline", "--channel", "clean", "--channel", "radio"]
    monkeypatch.setitem(RUNS, "baseline", [*options, "--snr", "20"])
    monkeypatch.setattr(accuracy, "FOLDER", tmp_path)
    monkeypatch.setattr(accuracy, "PARTS", tmp_path / "parts")
    monkeypatch.setattr(accuracy, "run_measure", run)

    with pytest.raises(SystemExit, match="the lights went out"):
        measure(["baseline"], jobs=1)
    measure(["baseline"], jobs=1)

    assert ran == [*conditions, "radio 20 dB"]
    heard = [one for one in whole.figures if one.name in conditions]
    assert list(load_report("baseline").figures) == heard
    assert not list((tmp_path / "parts").iterdir())


def test_how_much_was_heard_is_said_by_the_run():
    report = load_report("baseline")
    part = _cut(report, "clean")

    said = heard_line(part.model_copy(update={"run": part.run.model_copy(update={"pairs": 24})}))

    assert said == "24 of the 160 recordings, over clean."


def test_an_aim_that_is_missed_says_so():
    report = load_report("ear")

    whole = [one for one in report.figures if one.voice is None]

    rows = list(aim_lines(report, "ear"))[2 : 2 + len(whole)]

    assert len(rows) == len(whole)
    for row, one in zip(rows, whole, strict=True):
        passed, rejected, again, _ = row.split("|")[2:6]
        assert ("missed" in passed) == (one.passed.count > 0.005 * one.passed.total)
        assert ("missed" in rejected) == (one.rejected.count > 0.02 * one.rejected.total)
        if one.name == "clean":
            assert ("missed" in again) == (one.say_again.count > 0.04 * one.say_again.total)


def test_calibration_is_told_of_a_channel_as_a_whole():
    report = load_report("ear")
    whole = [one for one in report.figures if one.voice is None]

    rows = list(aim_lines(report, "ear"))[2 + len(whole) :]

    assert [row.split("|")[1].strip() for row in rows] == [
        "radio, all levels",
        "interphone, all levels",
    ]
    for row, channel in zip(rows, ("radio", "interphone"), strict=True):
        bins = [part for one in whole if one.channel == channel for part in one.calibration]
        gap = sum(part.count * abs(part.certainty - part.right) for part in bins)
        told = float(row.split("|")[5].split(",")[0])
        assert told == pytest.approx(gap / sum(part.count for part in bins), abs=5e-4)


def test_plots_show_only_what_can_be_told_apart():
    shown = plotted(load_report("ear"))

    assert {curve.condition for curve in shown.curves} <= set(accuracy.PLOTTED)
    assert shown.figures


@pytest.mark.parametrize("path", SAVED, ids=lambda path: path.name)
def test_saved_runs_are_of_the_reporting_split_alone(path):
    report = Report.model_validate_json(gzip.decompress(path.read_bytes()))

    assert report.run.splits == ("reporting",)


def test_the_page_is_what_its_saved_runs_say(tmp_path, monkeypatch):
    """So no figure on the page can be typed by hand."""
    root = Path(accuracy.__file__).parent.parent
    for name in ("docs/accuracy/runs", "grammars"):
        (tmp_path / name).mkdir(parents=True)
    for path in (FOLDER / "runs").iterdir():
        (tmp_path / "docs/accuracy/runs" / path.name).write_bytes(path.read_bytes())
    (tmp_path / "docs/accuracy/text.md").write_bytes((FOLDER / "text.md").read_bytes())
    monkeypatch.setattr(accuracy, "ROOT", tmp_path)
    monkeypatch.setattr(accuracy, "FOLDER", tmp_path / "docs/accuracy")

    write_page()

    for name in ("docs/accuracy.md", "grammars/measured.json"):
        assert (tmp_path / name).read_bytes() == (root / name).read_bytes()
