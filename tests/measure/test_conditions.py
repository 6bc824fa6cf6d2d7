import numpy as np
import pytest

from readback.errors import InputError
from readback.measure.conditions import Condition, make_conditions

SPEECH = np.sin(np.arange(16_000) / 5) * np.repeat([0.0, 0.5, 0.1, 0.7], 4_000)


def test_noisy_channels_have_every_level_and_the_others_none():
    names = [one.name for one in make_conditions(["clean", "radio"], [20, 10, 20])]

    assert names == ["clean", "radio 20 dB", "radio 10 dB"]


@pytest.mark.parametrize("channel", ["clean", "radio", "interphone"])
def test_the_same_clip_sounds_the_same_in_each_run(channel):
    condition = Condition(channel=channel, snr_db=None if channel == "clean" else 10)

    first, second = condition.send(SPEECH, "a.wav"), condition.send(SPEECH, "a.wav")

    assert np.array_equal(first, second)


def test_each_clip_and_each_level_has_noise_of_its_own():
    radio_20, radio_10 = make_conditions(["radio"], [20, 10])

    seeds = {radio_20.seed("a.wav"), radio_20.seed("b.wav"), radio_10.seed("a.wav")}

    assert len(seeds) == 3


def test_a_recorded_clip_is_taken_as_it_is():
    assert Condition(channel="recorded").send(SPEECH, "a.wav") is SPEECH


@pytest.mark.parametrize("level", [float("nan"), float("inf"), 1000])
def test_a_level_that_cannot_be_made_is_told(level):
    with pytest.raises(InputError, match="cannot be made"):
        make_conditions(["radio"], [level])


def test_an_unknown_channel_is_told():
    with pytest.raises(InputError, match='no channel "telephone"'):
        make_conditions(["telephone"], [20])
