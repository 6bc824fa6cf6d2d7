"""Standard error led away by several threads at once."""

import os
import threading
from pathlib import Path

import pytest

from readback.speech.devices import OpenStreams
from readback.speech.quiet import quiet_standard_error


def standard_error() -> tuple[int, int, int]:
    status = os.fstat(2)
    return status.st_dev, status.st_ino, status.st_rdev


NOWHERE = Path(os.devnull).stat().st_rdev


@pytest.fixture(autouse=True)
def _standard_error_that_is_not_nowhere(tmp_path):
    saved = os.dup(2)
    with (tmp_path / "told").open("wb") as told:
        os.dup2(told.fileno(), 2)
    yield
    os.dup2(saved, 2)
    os.close(saved)


def test_the_first_to_leave_does_not_end_it_for_the_other():
    before = standard_error()
    first, second = quiet_standard_error(), quiet_standard_error()

    first.__enter__()
    second.__enter__()
    first.__exit__(None, None, None)
    between = standard_error()
    second.__exit__(None, None, None)

    assert between[2] == NOWHERE
    assert standard_error() == before


def test_an_error_inside_leads_it_back():
    before = standard_error()

    with pytest.raises(OSError, match="no PortAudio"), quiet_standard_error():
        raise OSError("no PortAudio")

    assert standard_error() == before


def test_many_threads_leave_standard_error_as_it_was():
    before = standard_error()
    ready = threading.Barrier(8)

    def work() -> None:
        ready.wait()
        for _ in range(50):
            with quiet_standard_error():
                pass

    threads = [threading.Thread(target=work) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert standard_error() == before


class LikeSounddevice:
    """Leads standard error away on its own while it starts, as sounddevice 0.5.6 does."""

    def __init__(self, meanwhile) -> None:
        self._meanwhile = meanwhile

    def _terminate(self) -> None:
        pass

    def _initialize(self) -> None:
        saved = os.dup(2)
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 2)
        os.close(nowhere)
        self._meanwhile()
        os.dup2(saved, 2)
        os.close(saved)


def test_another_thread_that_leaves_while_portaudio_starts_or_stays_longer_changes_nothing():
    before = standard_error()
    other = quiet_standard_error()

    OpenStreams().find_new_devices(LikeSounddevice(other.__enter__))
    other.__exit__(None, None, None)

    assert standard_error() == before

    other = quiet_standard_error()
    other.__enter__()
    OpenStreams().find_new_devices(LikeSounddevice(lambda: other.__exit__(None, None, None)))

    assert standard_error() == before
