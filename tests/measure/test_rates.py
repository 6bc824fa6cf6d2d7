import json
import subprocess
import sys

from readback.measure.rates import Measured, load_measured
from tests.measure.test_command import folder, measured

__all__ = ["folder"]


def test_a_report_becomes_the_figures_of_a_debrief(folder, capsys, tmp_path):
    report, file = tmp_path / "report.json", tmp_path / "measured.json"
    report.write_text(json.dumps(measured(folder, capsys)), encoding="utf-8")

    command = [sys.executable, "-m", "readback.measure.digest", str(report), str(file)]
    subprocess.run(command, check=True)

    digested = Measured.model_validate_json(file.read_bytes())
    (clean,) = digested.engines["scripted"].conditions
    assert clean.condition == "clean"
    assert (clean.passed.count, clean.passed.total) == (1, 3)
    assert (clean.rejected.count, clean.rejected.total) == (1, 3)
    assert (clean.say_again.count, clean.say_again.total) == (2, 6)
    assert (digested.pairs, digested.voices) == (6, ("v0", "v1"))


def test_the_shipped_figures_are_of_the_ear_and_name_their_run():
    shipped = load_measured()

    assert shipped.command.startswith("readback measure")
    assert shipped.date.endswith("UTC")
    ear = shipped.engines["ear"]
    assert {"clean", "radio 10 dB", "interphone 10 dB"} <= {one.condition for one in ear.conditions}
    assert all(one.passed.total > 0 for one in ear.conditions)
