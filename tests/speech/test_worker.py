"""An engine that crashes or hangs takes nobody along."""

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from readback.errors import InputError, RecogniserError
from readback.speech.worker import RecogniserProcess
from tests.speech.conftest import read_pcm

LONG = read_pcm("instruction") * 60
"""Nearly four minutes: seconds of decoding."""


@pytest.fixture
def process(grammar) -> Iterator[RecogniserProcess]:
    recogniser = RecogniserProcess("pocketsphinx", grammar)
    yield recogniser
    recogniser.close()


def runs(pid: int) -> bool:
    """Whether a process is there and no zombie."""
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return False
    return state != "Z"


def ends(pid: int, within_s: float = 10.0) -> bool:
    deadline = time.monotonic() + within_s
    while runs(pid) and time.monotonic() < deadline:
        time.sleep(0.02)
    return not runs(pid)


def kill_soon(pid: int) -> None:
    threading.Timer(0.5, os.kill, (pid, signal.SIGKILL)).start()


def leave_memory(pid: int, size: int) -> None:
    """Let a process take no more than so many bytes of address space beside what it has."""
    import resource

    pages = int(Path(f"/proc/{pid}/statm").read_text().split()[0])
    limit = pages * resource.getpagesize() + size
    resource.prlimit(pid, resource.RLIMIT_AS, (limit, limit))


def test_it_runs_in_another_process(process):
    assert process.pid not in (None, os.getpid())
    assert runs(process.pid)


def test_killed_while_it_decodes_is_an_error_and_the_next_is_heard(process):
    killed = process.pid
    kill_soon(killed)

    with pytest.raises(RecogniserError, match=r"pocketsphinx: the engine ended \(SIGKILL\)"):
        process.recognise(LONG)

    assert process.recognise(read_pcm("cross")).text == "cross runway zero niner"
    assert process.pid != killed


def test_killed_while_it_is_fed_is_an_error_and_the_next_is_heard(process):
    process.feed(read_pcm("instruction")[:50_000])
    os.kill(process.pid, signal.SIGKILL)

    with pytest.raises(RecogniserError, match="the engine ended"):
        process.feed(read_pcm("instruction")[50_000:])

    process.feed(read_pcm("cross"))
    assert process.finish().text == "cross runway zero niner"


def test_an_engine_that_hangs_is_an_error_and_the_next_is_heard(grammar):
    process = RecogniserProcess("pocketsphinx", grammar, timeout_s=1.0)
    os.kill(process.pid, signal.SIGSTOP)
    hung = process.pid

    with pytest.raises(RecogniserError, match="gave no answer for 3 s"):
        process.recognise(read_pcm("cross"))

    assert process.recognise(read_pcm("cross")).text == "cross runway zero niner"
    assert ends(hung)
    process.close()


@pytest.mark.parametrize("engine", ["pocketsphinx", "ear"])
def test_out_of_memory_is_an_error_without_a_traceback_and_the_next_is_heard(
    grammar, engine, capfd
):
    process = RecogniserProcess(engine, grammar)
    leave_memory(process.pid, 2**20)

    with pytest.raises(RecogniserError, match="no memory was left"):
        process.recognise(LONG)

    assert process.recognise(read_pcm("cross")).text == "cross runway zero niner"
    assert capfd.readouterr() == ("", "")
    process.close()


def test_what_ended_an_engine_is_one_line_in_the_log(process, caplog):
    kill_soon(process.pid)

    with pytest.raises(RecogniserError):
        process.recognise(LONG)

    (line,) = caplog.messages
    assert line == "pocketsphinx: the engine ended (SIGKILL) while it listened; it is started anew"


def test_close_ends_the_process_even_while_it_decodes(process):
    pid = process.pid
    errors = []

    def listen() -> None:
        with pytest.raises(RecogniserError) as error:
            process.recognise(LONG)
        errors.append(error.value)

    waiting = threading.Thread(target=listen)
    waiting.start()
    time.sleep(0.3)

    process.close()
    process.close()

    assert ends(pid)
    waiting.join(10)
    assert "the engine ended" in str(errors[0])


def test_a_closed_one_says_so(process):
    process.close()

    with pytest.raises(RecogniserError, match="closed"):
        process.recognise(read_pcm("cross"))
    with pytest.raises(RecogniserError, match="closed"):
        process.feed(b"")


@pytest.mark.parametrize("how", ["sys.exit()", "os.kill(os.getpid(), 9)"])
def test_no_process_is_left_when_its_parent_ends(tmp_path, how):
    """The parent is a plain script without a main guard, as people write them."""
    script = tmp_path / "parent.py"
    script.write_text(
        f"import os, sys\nsys.path[:0] = {[str(Path(__file__).parent), *sys.path]!r}\n"
        "from conftest import read_pcm, small_grammar\n"
        "from readback.speech.engines import make_recogniser\n"
        "recogniser = make_recogniser('pocketsphinx', small_grammar())\n"
        "print(recogniser.pid, recogniser.recognise(read_pcm('cross')).text, flush=True)\n"
        f"{how}\n"
    )

    done = subprocess.run([sys.executable, script], capture_output=True, text=True, timeout=60)

    pid, text = done.stdout.split(maxsplit=1)
    assert text == "cross runway zero niner\n"
    assert done.stderr == ""
    assert ends(int(pid))


def test_a_grammar_that_is_refused_is_the_engines_own_error(grammar):
    from dataclasses import replace

    with pytest.raises(RecogniserError, match="pocketsphinx: the grammar has no words"):
        RecogniserProcess("pocketsphinx", replace(grammar, arcs=()))


def test_an_unknown_engine_is_an_input_error(grammar):
    with pytest.raises(InputError, match='no recogniser "parrot"'):
        RecogniserProcess("parrot", grammar)


def test_an_interrupt_of_the_terminal_does_not_end_it(process):
    os.kill(process.pid, signal.SIGINT)
    time.sleep(0.1)

    assert process.recognise(read_pcm("cross")).text == "cross runway zero niner"
