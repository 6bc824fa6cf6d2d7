import json
import os
import signal
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

from readback import cli, entry
from readback.cli import COMMANDS, main
from readback.judging.rules import AUTHORITIES
from tests.signals import control_c_heeded

ROOT = Path(__file__).parents[2]
READBACK = [sys.executable, "-m", "readback"]
POSIX = os.name == "posix"


def in_a_shell(command: str, **options) -> subprocess.CompletedProcess[str]:
    program = f'"{sys.executable}" -m readback'
    return subprocess.run(
        command.replace("readback", program, 1),
        shell=True,
        capture_output=True,
        text=True,
        encoding="utf-8",
        cwd=ROOT,
        timeout=600,
        check=False,
        **options,
    )


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: command.NAME)
def test_the_example_in_a_commands_help_works_as_printed(run, command):
    shown = run(command.NAME, "--help")
    example = shown.out.rstrip().splitlines()[-1].strip()

    done = in_a_shell(example)

    assert (shown.status, example) == (0, command.EXAMPLE)
    if command is cli.listen and done.returncode == 2:
        # A machine without PortAudio or without a microphone: one line that says so.
        assert "PortAudio" in done.stderr or "microphone" in done.stderr
        assert done.stderr.count("\n") == 1
        return
    assert done.returncode in (0, 1)
    assert done.stdout
    assert "Traceback" not in done.stderr
    assert "readback: " not in done.stderr


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: command.NAME)
def test_every_command_is_in_the_help_and_in_the_readme(run, command):
    readme = (ROOT / "README.md").read_text(encoding="utf-8")

    assert f"    {command.NAME} " in run("--help").out
    assert f"readback {command.NAME}" in readme


def test_the_help_names_every_authority(run):
    shown = run("check", "--help").out

    assert all(authority in shown for authority in AUTHORITIES)


def test_the_version_is_the_packages(run):
    assert run("--version").out == f"readback {cli.__version__}\n"


def test_an_interrupt_is_told_in_one_line_and_exits_as_shells_expect(capsys, monkeypatch):
    def interrupted(_):
        raise KeyboardInterrupt

    monkeypatch.setattr(cli.check, "run", interrupted)

    status = main(["check", "hold short", "holding short"])

    assert (status, capsys.readouterr().err) == (130, "readback: stopped.\n")


def test_a_bug_stays_a_traceback(monkeypatch):
    def broken(_):
        raise RuntimeError("a bug")

    monkeypatch.setattr(cli.check, "run", broken)

    with pytest.raises(RuntimeError, match="a bug"):
        main(["check", "hold short", "holding short"])


def many_pairs(tmp_path: Path) -> str:
    path = tmp_path / "pairs.jsonl"
    pair = {"instruction": "cross runway one four", "readback": "crossing runway one four"}
    path.write_text((json.dumps(pair) + "\n") * 2000, encoding="utf-8")
    return str(path)


def test_a_reader_that_wants_no_more_gets_no_traceback(tmp_path):
    with subprocess.Popen(
        [*READBACK, "check", "--json", "--pairs", many_pairs(tmp_path)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    ) as process:
        process.stdout.readline()
        process.stdout.close()
        errors = process.stderr.read()

    assert errors == b""
    assert process.returncode == 2


@pytest.mark.skipif(not POSIX, reason="signals as on POSIX systems")
def test_control_c_in_the_middle_gets_no_traceback(tmp_path):
    path = tmp_path / "pairs.fifo"
    os.mkfifo(path)
    command = [*READBACK, "check", "--pairs", str(path)]
    with control_c_heeded():
        started = subprocess.Popen(command, stderr=subprocess.PIPE, text=True)
    with started as process, path.open("w"):
        # Opening waited until the program read, so it is in its work when the signal comes.
        process.send_signal(signal.SIGINT)
        errors = process.stderr.read()

    assert errors == "readback: stopped.\n"
    assert process.returncode == 130


def test_control_c_while_the_program_loads_gets_no_traceback(monkeypatch, capsys):
    def stop():
        raise KeyboardInterrupt

    monkeypatch.setitem(sys.modules, "readback.cli", SimpleNamespace(main=stop))

    assert entry.main() == cli.STOPPED
    assert capsys.readouterr().err == "readback: stopped.\n"


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: command.NAME)
def test_help_fits_a_narrow_terminal(command, monkeypatch, capsys):
    monkeypatch.setenv("COLUMNS", "80")

    assert main([command.NAME, "--help"]) == 0

    text = capsys.readouterr().out.partition("example:")[0]
    assert [line for line in text.splitlines() if len(line) > 80] == []


def test_help_of_an_action_fits_a_narrow_terminal(monkeypatch, capsys):
    monkeypatch.setenv("COLUMNS", "80")

    assert main(["records", "correct", "--help"]) == 0

    text = capsys.readouterr().out
    assert [line for line in text.splitlines() if len(line) > 80] == []
    usage = " ".join(text.partition("\n\n")[0].split())
    assert "(--words TEXT | --station NAME | --answered-by N|nobody|none | --verdict" in usage
    assert "| --set FIELD=VALUE) --by NAME --why TEXT SESSION" in usage


def test_an_unknown_argument_points_to_the_help_of_its_command(capsys):
    assert main(["check", "a", "b", "c"]) == 2

    assert 'readback check --help".' in capsys.readouterr().err


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs /dev/full")
def test_a_full_disk_is_told_in_one_line():
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [*READBACK, "check", "--json", "cross runway one four", "crossing one four"],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )

    assert done.returncode == 2
    assert done.stderr.startswith("readback: the output cannot be written")
    assert done.stderr.count("\n") == 1


@pytest.mark.skipif(not POSIX, reason="a shell that closes streams")
@pytest.mark.parametrize(
    ("command", "status"),
    [
        ('readback check "cross runway one four" "crossing runway one four" >&-', 0),
        ('readback check "cross runway one four" "crossing runway one four" 2>&-', 0),
        ("readback check --pairs - <&-", 2),
    ],
)
def test_closed_streams_get_no_traceback(command, status):
    done = in_a_shell(command)

    assert done.returncode == status
    assert "Traceback" not in done.stderr


def test_pairs_come_from_standard_input():
    done = in_a_shell(
        "readback check --pairs -",
        input='{"instruction": "cross runway one four", "readback": "crossing runway one four"}\n',
    )

    assert (done.returncode, done.stdout) == (0, "line 1: correct\n1 pair: 1 correct\n")


@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "latin-1"])
def test_output_in_an_old_encoding_has_ascii_signs_and_no_error(encoding):
    done = subprocess.run(
        [*READBACK, "check", "cross runway one four", "crossing runway one five 跑道"],
        capture_output=True,
        env=os.environ | {"PYTHONIOENCODING": encoding},
        check=False,
    )

    assert done.returncode == 1
    assert b"x[one five]" in done.stdout
    assert rb"\u8dd1\u9053" in done.stdout


def test_json_is_utf_8_whatever_the_encoding_of_the_terminal():
    done = subprocess.run(
        [*READBACK, "check", "--json", "cross runway one four", "crossing runway one five 跑道"],
        capture_output=True,
        env=os.environ | {"PYTHONIOENCODING": "cp1252"},
        check=False,
    )

    assert json.loads(done.stdout.decode("utf-8"))["readback"]["text"].endswith("跑道")


def test_escape_sequences_in_a_readback_do_not_reach_the_terminal(run):
    ran = run("check", "cross runway one four", "crossing \x1b]0;owned\x07runway one \u202efive")

    assert "\x1b" not in ran.out
    assert "\u202e" not in ran.out
    assert r"\x1b]0;owned\x07" in ran.out
