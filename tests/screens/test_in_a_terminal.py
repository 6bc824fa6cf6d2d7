"""The screens as a terminal is sent them: what is tested without one is what should be drawn."""

import signal

import pytest

from tests.screens.terminal import RealTerminal, real_terminal

TITLES = ("practise", "drills", "self-check", "replay", "records", "set-up")
LED_AWAY = """
import os, signal, sys
from readback.cli import main

nowhere = os.open(os.devnull, os.O_WRONLY)
signal.signal(signal.SIGUSR1, lambda *_: os.dup2(nowhere, 2))
sys.exit(main([]))
"""
"""The program; told to, it has its standard error led nowhere, as libraries do for a while."""


@pytest.fixture
def surroundings(tmp_path) -> dict[str, str]:
    return {
        "READBACK_RECORDS": str(tmp_path / "records.sqlite3"),
        "READBACK_SETTINGS": str(tmp_path / "settings.toml"),
    }


def test_each_screen_is_drawn_from_its_first_line_on_and_left_again(surroundings):
    with real_terminal([], surroundings) as terminal:
        assert terminal.sees("What do you want to do?")
        for number, title in enumerate(TITLES, start=1):
            terminal.forget()
            terminal.type(str(number))
            assert terminal.sees(f"readback / {title}")
            assert goes_back(terminal)
        terminal.type("q")
        assert terminal.ends() == 0


def test_what_a_library_does_to_standard_error_takes_nothing_from_the_screens(surroundings):
    with real_terminal([], surroundings, program=("-c", LED_AWAY)) as terminal:
        assert terminal.sees("What do you want to do?")
        terminal.process.send_signal(signal.SIGUSR1)
        terminal.type("2")
        assert terminal.sees("readback / drills")
        assert goes_back(terminal)
        terminal.type("q")
        assert terminal.ends() == 0


def goes_back(terminal: RealTerminal) -> bool:
    """Leave a screen. While its voice speaks the first Esc ends that, and the second leaves."""
    terminal.forget()
    terminal.type("\x1b")
    if terminal.sees("What do you want to do?", 15.0):
        return True
    terminal.type("\x1b")
    return terminal.sees("What do you want to do?")
