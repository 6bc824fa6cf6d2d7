"""``readback listen`` as a user runs it: its own process, PortAudio, the ear, the verdict."""

import json
import os
import signal
import subprocess
import sys
import threading
from contextlib import contextmanager

import numpy as np
import pytest

from readback.settings import load_settings
from tests.live.fakes import quiet, read_speech
from tests.signals import control_c_heeded

RIGHT = ("ip05_bypass_pin.flac", "steering bypass pin installed")
WRONG = ("ip11_pin_installed_for_removed.flac", "steering bypass pin removed")
LONG = ("gc01_hold_short.flac", "larkspur four two one hold short of runway two seven left")


def said(file: str) -> np.ndarray:
    return np.concatenate([quiet(0.4), read_speech(file), quiet(0.3)])


class Listening:
    """A running ``readback listen`` and what it has written to standard error."""

    def __init__(self, *arguments: str) -> None:
        with control_c_heeded():
            self._process = subprocess.Popen(
                [sys.executable, "-m", "readback", "listen", "--device", "headset_mic", *arguments],
                stdin=subprocess.DEVNULL,
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
                text=True,
                # As in a terminal, Ctrl-C reaches all of its processes.
                start_new_session=True,
            )
        self.told: list[str] = []
        self._news = threading.Condition()
        self._reader = threading.Thread(target=self._read)
        self._reader.start()

    def _read(self) -> None:
        for line in self._process.stderr:
            with self._news:
                self.told.append(line)
                self._news.notify()

    def wait_for(self, text: str) -> None:
        with self._news:
            assert self._news.wait_for(lambda: text in "".join(self.told), 60.0), self.told

    def interrupt(self) -> None:
        os.killpg(self._process.pid, signal.SIGINT)

    def end(self) -> tuple[int, str, str]:
        """Wait for it: its status, its output, what it told."""
        output = self._process.stdout.read()
        status = self._process.wait(60.0)
        self._reader.join(10.0)
        return status, output, "".join(self.told)

    def close(self) -> None:
        self._process.kill()
        self._process.wait()


def readback(*arguments: str) -> subprocess.CompletedProcess:
    return subprocess.run(
        [sys.executable, "-m", "readback", *arguments], capture_output=True, text=True, timeout=60
    )


@contextmanager
def listening(*arguments: str):
    running = Listening(*arguments)
    try:
        yield running
    finally:
        running.close()


@pytest.mark.parametrize(
    ("recording", "verdict", "status"), [(RIGHT, "correct", 0), (WRONG, "incorrect", 1)]
)
def test_a_readback_said_into_the_microphone_gets_its_verdict(sound, recording, verdict, status):
    file, instruction = recording

    with listening(instruction, "--json") as running:
        running.wait_for("Say the readback")
        sound.play("headset", said(file))
        ended, output, _ = running.end()

    document = json.loads(output)
    assert (ended, document["verdict"]) == (status, verdict), document["readback"]
    assert document["takes"]["readback"]["ended"] == "pause"
    assert document["takes"]["readback"]["losses"] == 0


def test_the_instruction_is_heard_first_where_none_is_typed(sound):
    with listening("--json") as running:
        running.wait_for("Say the instruction")
        # 0.9 s after it, by another voice, comes the readback.
        sound.play("headset", said("gc03_cross.flac"))
        _, output, told = running.end()

    document = json.loads(output)
    assert "Say the readback" in told
    assert document["instruction"]["text"].startswith("bluefin one five eight cross runway")
    assert document["readback"]["text"].startswith("crossing runway one four")


def test_nobody_who_speaks_is_one_line_and_status_two(sound):
    with listening(RIGHT[1], "--seconds", "1") as running:
        ended, output, told = running.end()

    assert (ended, output) == (2, "")
    assert told.splitlines()[-1].startswith("readback: Nobody spoke within 1 s.")


def test_the_device_that_was_chosen_is_remembered(sound):
    chosen = readback("listen", "--device", "headset_mic", "--hands-free", "--remember", "--level")

    later = readback("listen", RIGHT[1], "--seconds", "0.3")

    assert (chosen.returncode, chosen.stdout.splitlines()[0][:5]) == (1, "muted")
    assert load_settings().device == "headset_mic (ALSA)"
    assert load_settings().hands_free is True
    assert "Say the readback (headset_mic (ALSA))" in later.stderr


def test_unplugged_in_mid_take_what_was_said_is_kept_after_one_line(sound):
    with listening(LONG[1], "--json") as running:
        running.wait_for("Say the readback")
        with sound.playing("headset", said(LONG[0])[:40_000]):
            threading.Event().wait(2.0)
            sound.unplug("headset")
        ended, output, told = running.end()

    document = json.loads(output)
    assert document["takes"]["readback"]["ended"] == "unplugged"
    assert document["readback"]["text"].startswith("holding short")
    assert (ended, document["verdict"]) == (1, "say again")
    assert told.count("The microphone is gone.") == 1
    assert "Traceback" not in told


@pytest.mark.parametrize("moment", ["while nobody speaks", "in mid-take"])
def test_ctrl_c_ends_it_at_any_time(sound, moment):
    played = said(LONG[0])[:40_000] * (moment == "in mid-take")

    with listening(LONG[1]) as running:
        running.wait_for("Say the readback")
        with sound.playing("headset", played):
            threading.Event().wait(1.5)
            running.interrupt()
            ended, output, told = running.end()

    assert (ended, output) == (130, "")
    assert told.splitlines()[-1] == "readback: stopped."


def test_ctrl_c_ends_it_while_the_recogniser_starts(sound):
    with listening(RIGHT[1]) as running:
        running.wait_for("Starting")
        running.interrupt()
        ended, _, told = running.end()

    assert ended == 130
    assert "Traceback" not in told
