"""What the README prints is what happens.

``python tests/test_readme.py`` writes into it what the commands print now.
"""

import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

PATH = Path(__file__).parents[1] / "README.md"
README = PATH.read_text(encoding="utf-8")
SHOWN = re.compile(r"```console\n\$ readback ((?:check|rules) [^\n]*)\n([^$].*?)```", re.DOTALL)
BLOCKS = SHOWN.findall(README)
PYTHON = re.findall(r"```python\n(.*?)```", README, re.DOTALL)
COMMANDS = dict(re.findall(r"<!-- command: (\w+) -->\n```sh\n(.*)\n```", README))


def output_of(command: str) -> str:
    return subprocess.run(
        [sys.executable, "-m", "readback", *shlex.split(command)],
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    ).stdout


@pytest.mark.parametrize(("command", "printed"), BLOCKS)
def test_each_command_prints_what_the_readme_shows(command, printed):
    assert output_of(command) == printed


def test_the_readme_shows_commands_with_their_output():
    assert len(BLOCKS) >= 3


def test_the_python_example_runs_and_finds_the_mistake(capsys):
    (code,) = PYTHON

    exec(code, {})

    assert capsys.readouterr().out == "incorrect\nhold_short runway wrong 27L 27R\n"


def test_the_two_commands_of_the_readme_are_single_lines():
    assert set(COMMANDS) == {"demo", "test"}
    assert COMMANDS["demo"].endswith("readback demo")
    assert COMMANDS["test"].endswith("pytest")


def _refresh() -> None:
    fresh = SHOWN.sub(
        lambda found: f"```console\n$ readback {found[1]}\n{output_of(found[1])}```", README
    )
    PATH.write_text(fresh, encoding="utf-8")


if __name__ == "__main__":
    _refresh()
