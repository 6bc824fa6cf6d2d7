import subprocess
import sys
from pathlib import Path

import pytest

from readback.log import LARGEST_BYTES, log_path

ENGINE_DIES = """
import os, signal, threading
from readback.errors import RecogniserError
from readback.log import keep_log
from readback.phraseology.grammar import load_grammar
from readback.speech.engines import make_recogniser
keep_log()
recogniser = make_recogniser("ear", load_grammar().search())
os.kill(recogniser.pid, signal.SIGKILL)
try:
    recogniser.recognise(bytes(32000))
except RecogniserError as error:
    print(error)
print(recogniser.recognise(bytes(32000)).words)
recogniser.close()
"""
WARN = """
import logging
from readback.log import keep_log
keep_log()
keep_log()
for number in range({count}):
    logging.getLogger("readback.speech").warning("line %d " + "x" * 1000, number)
"""


@pytest.fixture
def home(tmp_path, monkeypatch):
    for variable in ("XDG_DATA_HOME", "LOCALAPPDATA", "HOME"):
        monkeypatch.setenv(variable, str(tmp_path))
    return tmp_path


def run(script):
    return subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, timeout=120, check=True
    )


def test_an_engine_that_dies_leaves_one_line_and_the_session_goes_on(home):
    done = run(ENGINE_DIES)

    heard = done.stdout.splitlines()
    assert "the engine ended (SIGKILL)" in heard[0]
    assert heard[1] == "()"
    assert done.stderr == ""
    (line,) = log_path().read_text(encoding="utf-8").splitlines()
    assert line.endswith("ear: the engine ended (SIGKILL) while it listened; it is started anew")


def test_without_a_warning_there_is_no_file(home):
    run(WARN.format(count=0))

    assert not log_path().exists()


def test_a_line_is_written_once_however_often_the_log_is_kept(home):
    run(WARN.format(count=2))

    lines = log_path().read_text(encoding="utf-8").splitlines()
    assert [line.split()[3:5] for line in lines] == [["line", "0"], ["line", "1"]]


def test_it_never_grows_beyond_two_files(home):
    run(WARN.format(count=3 * LARGEST_BYTES // 1000))

    files = list(log_path().parent.iterdir())
    assert len(files) == 2
    assert all(file.stat().st_size <= LARGEST_BYTES for file in files)


def test_a_log_that_cannot_be_written_is_done_without(home):
    Path(home / "readback").write_text("a file where the folder should be")

    done = run(WARN.format(count=2))

    assert (done.stdout, done.stderr) == ("", "")
