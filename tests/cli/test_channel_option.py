"""What --channel and the sound's own channel do to the least certainty."""

import pytest

from readback.cli import main
from readback.listener import Listener
from readback.measure.certainty import load_thresholds
from readback.speech.recogniser import ScriptedRecogniser
from readback.transmission import Transmission


class _Ear(ScriptedRecogniser):
    name = "ear"


def listener(channel=None):
    return Listener(recogniser=_Ear(lambda pcm: Transmission()), channel=channel)


def least(channel):
    return load_thresholds().least_certainty("ear", channel)


@pytest.mark.parametrize("channel", ["clean", "radio", "interphone"])
def test_sound_is_judged_at_the_threshold_of_its_channel(channel):
    assert listener().least_certainty_of(Transmission(channel=channel)) == least(channel)


def test_strictest_of_several_channels_counts():
    heard = [Transmission(channel=name) for name in ("clean", "radio", "interphone")]

    found = listener().least_certainty_of(*heard)

    assert found == max(map(least, ("clean", "radio", "interphone")))


def test_unknown_channel_has_the_threshold_of_any():
    assert listener().least_certainty_of(Transmission(), "typed", None) == least("any")


def test_what_the_user_says_counts_more_than_the_sound():
    assert listener("radio").least_certainty_of(Transmission(channel="clean")) == least("radio")


def test_unknown_name_of_a_channel_is_told(capsys):
    status = main(["check", "hold short", "--heard", "a.wav", "--channel", "telephone"])

    assert status == 2
    assert capsys.readouterr().err.strip().endswith("Use clean, radio, interphone.")


def test_channel_is_refused_where_nothing_is_heard(capsys):
    assert main(["check", "hold short", "hold short", "--channel", "radio"]) == 2
    assert "--channel" in capsys.readouterr().err
