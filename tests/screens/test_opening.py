"""What must be right before the screens take the terminal."""

import io
import sys

import pytest

from readback.cli import main
from readback.commands.screens import check_terminal, open_screens
from readback.errors import InputError
from readback.measure.certainty import load_thresholds
from readback.screens import browser
from readback.screens.services import open_services
from readback.screens.widgets.status import level_bar
from readback.speech.duplex import HalfDuplex
from readback.transmission import Transmission
from tests.screens.fakes import make_services


def test_without_a_terminal_one_line_says_what_works(monkeypatch):
    monkeypatch.delenv("TEXTUAL_DRIVER", raising=False)
    monkeypatch.setattr(sys, "stdin", io.StringIO())

    with pytest.raises(InputError, match=r"need a terminal.*--plain"):
        check_terminal()


@pytest.mark.parametrize(
    ("wanted", "message"),
    [
        ({"authority": "nobody"}, "authority"),
        ({"drill": "nowhere"}, "no drill"),
        ({"drill": "push_back_tow_bar", "seat": "wing"}, "no seat"),
    ],
)
def test_what_cannot_be_opened_is_told_before_the_screen_is_taken(monkeypatch, wanted, message):
    monkeypatch.setenv("TEXTUAL_DRIVER", "served")

    with pytest.raises(InputError, match=message):
        open_screens(**wanted)


def test_a_real_recogniser_is_started_at_first_use_and_ended():
    services = open_services(engine="pocketsphinx")
    before = services.recogniser_name

    process = services.recogniser().pid
    services.close()

    assert before == "not started"
    assert process is not None
    assert services.recogniser_name == "pocketsphinx"


def test_a_machine_without_sound_still_has_a_voice_that_is_text():
    services = open_services()
    services.make_speaker = lambda duplex: _mute(duplex)

    assert services.speaker().say("headset", "brakes released").by == "text"
    assert services.voice_name == "text only"


def _mute(duplex: HalfDuplex):
    from readback.speech.voice import Speaker

    return Speaker(None, None, duplex)


@pytest.mark.parametrize(
    ("dbfs", "full", "word"), [(-90.0, 0, " low"), (-30.0, 5, ""), (0.0, 8, " loud")]
)
def test_the_level_is_drawn_with_a_word_where_it_is_not_right(dbfs, full, word):
    drawn = level_bar(dbfs)

    assert drawn.count("▮") == full
    assert drawn.endswith(word or "▯")


def test_the_program_behind_each_page_gets_the_options_as_typed(monkeypatch):
    served = []
    monkeypatch.setattr(browser, "serve_screens", lambda *arguments: served.append(arguments))
    options = "push_back_tow_bar --seat headset --seed 7 --trainee Ann --consent --timed".split()

    assert main(["practise", "--browser", "--port", "8500", *options]) == 0

    assert served == [(["practise", *options], 8500)]


def test_noise_asks_for_as_much_on_the_screens_as_elsewhere():
    services = open_services(engine="ear")

    least = services.least_certainty_of(Transmission(channel="noisy"))

    assert least == load_thresholds().least_certainty("ear", "noisy")


@pytest.mark.parametrize(
    ("channels", "least"),
    [((), 0.8), ((None,), 0.8), (("clean",), 0.6), (("clean", "radio"), 0.7), (("other",), 0.8)],
)
def test_how_certain_a_verdict_must_be_is_told_by_the_strictest_channel(channels, least):
    services = make_services()
    services.least_certainty, services.by_channel = 0.8, {"clean": 0.6, "radio": 0.7}

    heard = [Transmission(channel=channel) for channel in channels]

    assert services.least_certainty_of("typed", *heard) == least
