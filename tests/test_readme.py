"""What the README prints is what happens."""

import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

README = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```console\n\$ readback (check \".*?)\n(.*?)```", README, re.DOTALL)
PYTHON = re.findall(r"```python\n(.*?)```", README, re.DOTALL)
COMMANDS = dict(re.findall(r"<!-- command: (\w+) -->\n```sh\n(.*)\n```", README))


@pytest.mark.parametrize(("command", "printed"), BLOCKS)
def test_each_check_prints_what_the_readme_shows(command, printed):
    done = subprocess.run(
        [sys.executable, "-m", "readback", *shlex.split(command)],
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )

    assert done.stdout == printed


def test_there_are_checks_with_their_output_in_the_readme():
    assert len(BLOCKS) >= 2


def test_the_python_example_runs_and_finds_the_mistake(capsys):
    (code,) = PYTHON

    exec(code, {})

    assert capsys.readouterr().out.startswith("incorrect\nhold_short runway wrong 27L 27R ICAO")


def test_the_two_commands_of_the_readme_are_single_lines():
    assert set(COMMANDS) == {"demo", "test"}
    assert COMMANDS["demo"].endswith("readback demo")
    assert COMMANDS["test"].endswith("pytest")
