import gzip
import re
from pathlib import Path

import pytest

from audio_demo_synth import accuracy
from audio_demo_synth.accuracy import FOLDER, RUNS, aim_lines, load_report, plotted, write_page
from readback.cli import make_parser
from readback.measure.report import Report

SAVED = [path for path in (FOLDER / "runs").glob("*.json.gz") if path.name != "endpointing.json.gz"]


def test_every_table_of_the_text_is_of_a_run_that_is_measured():
    text = (FOLDER / "text.md").read_text(encoding="utf-8")

    tables = re.findall(r"^\{\{(\w+) (\w+)\}\}$", text, flags=re.MULTILINE)
    kinds = {"run", "outside", "endpointing", "ear", "pocketsphinx"}
    assert {kind for kind, _ in tables} == kinds
    assert {name for _, name in tables} == set(RUNS)


@pytest.mark.parametrize("name", RUNS)
def test_every_run_is_a_command_that_measure_understands(name):
    arguments = make_parser().parse_args(["measure", *RUNS[name]])

    assert arguments.endpointing == (name == "endpointing")


def test_an_aim_that_is_missed_says_so():
    report = load_report("ear")

    rows = list(aim_lines(report, "ear"))[2:]

    whole = [one for one in report.figures if one.voice is None]
    assert len(rows) == len(whole)
    for row, one in zip(rows, whole, strict=True):
        passed, rejected, again, _ = row.split("|")[2:6]
        assert ("missed" in passed) == (one.passed.count > 0.005 * one.passed.total)
        assert ("missed" in rejected) == (one.rejected.count > 0.02 * one.rejected.total)
        if one.name == "clean":
            assert ("missed" in again) == (one.say_again.count > 0.04 * one.say_again.total)


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
