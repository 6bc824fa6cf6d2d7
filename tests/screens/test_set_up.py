"""Set-up: a microphone chosen, checked, lost and replaced, and whose practice is kept."""

import pytest
from textual.widgets import Checkbox, Input, OptionList, Static

from readback.errors import AudioError
from readback.screens.app import ReadbackApp
from readback.screens.drill import DrillScreen
from readback.screens.set_up import SetUpScreen
from readback.settings import load_settings
from readback.speech.devices import Device
from tests.live.fakes import fake_microphone, in_blocks, quiet, read_speech, spoken
from tests.screens.conftest import Seat, drive
from tests.screens.fakes import make_services
from tests.screens.test_screens import drill_is_ready

DEVICES = (
    Device(0, "Built-in (ALSA)", 48_000, is_default=True),
    Device(3, "Headset (ALSA)", 16_000),
)


def services_with(*texts: str, **microphones):
    """Services whose microphone is the one that was chosen, by its name."""
    services = make_services(*texts)
    services.list_microphones = lambda: DEVICES

    def make_microphone():
        name = services.device or DEVICES[0].name
        return microphones[name.split()[0].replace("-", "_")], name

    services.make_microphone = make_microphone
    return services


def shown(seat: Seat) -> str:
    return str(seat.app.screen.query_one("#call", Static).visual)


@pytest.mark.parametrize("size", [(80, 24), (200, 60)])
def test_a_microphone_is_chosen_from_the_list_and_kept_in_the_settings(size):
    services = services_with("brakes released", Headset=fake_microphone(spoken()))

    async def use(seat: Seat) -> None:
        await seat.press("6")
        assert await seat.until(lambda: seat.app.screen.query_one(OptionList).option_count == 2)
        await seat.settle()
        assert "✓ chosen Built-in (ALSA), 48000 Hz" in seat.sees()
        await seat.press("down", "enter")
        assert "✓ chosen Headset (ALSA), 16000 Hz" in seat.sees()
        assert "mic: Headset" in seat.sees()

    drive(ReadbackApp(services), use, size)

    assert load_settings().device == "Headset (ALSA)"


@pytest.mark.parametrize(
    ("loudness", "advice"), [(1.0, "The level is good"), (0.01, "Too quiet"), (40.0, "Too loud")]
)
def test_the_level_is_checked_and_what_was_understood_is_shown(loudness, advice):
    speech = (read_speech("gc01_hold_short.flac") * loudness).clip(-1, 1)
    blocks = [*in_blocks(quiet(0.5)), *in_blocks(speech), *in_blocks(quiet(0.5))]
    services = services_with("hold short", Built_in=fake_microphone(blocks))

    async def use(seat: Seat) -> None:
        await seat.press("6")
        await seat.pilot.press("f2")
        assert await seat.until(lambda: seat.app.screen.doing == "listening")
        await seat.pilot.pause(0.5)
        await seat.press("f2")
        assert await seat.until(lambda: "dBFS" in shown(seat))
        assert advice in shown(seat)
        assert "understood: hold short" in shown(seat)

    drive(ReadbackApp(services), use)


def test_a_microphone_lost_in_mid_drill_is_replaced_without_a_restart():
    blocks = spoken()
    lost = fake_microphone(blocks[: len(blocks) // 2], unplugged=True)
    services = services_with(
        "lovely weather", "lovely weather", Built_in=lost, Headset=fake_microphone(blocks)
    )

    async def use(seat: Seat) -> None:
        assert await drill_is_ready(seat)
        drill = seat.app.screen
        await seat.press("f2")
        assert await seat.until(lambda: any("microphone is gone" in line for line in seat.told))
        assert any("F12: another microphone" in line for line in seat.told)
        assert await seat.until(lambda: "headset (you): lovely weather" in seat.sees())
        await seat.press("f12")
        assert isinstance(seat.app.screen, SetUpScreen)
        await seat.press("down", "enter", "escape")
        assert seat.app.screen is drill
        await seat.pilot.press("f2")
        assert await seat.until(lambda: drill.doing == "listening")
        await seat.pilot.pause(0.3)
        await seat.press("f2")
        assert await seat.until(lambda: seat.sees().count("headset (you): lovely weather") == 2)

    drive(ReadbackApp(services, drill="push_back_tow_bar", seat="headset"), use, (120, 40))


def test_whose_practice_is_kept_is_remembered_and_consent_is_of_one_person():
    services = make_services()

    async def use(seat: Seat) -> None:
        await seat.press("6")
        seat.app.screen.query_one("#trainee", Input).focus()
        await seat.settle()
        await seat.type("Ann")
        seat.app.screen.query_one("#consent", Checkbox).value = True
        await seat.settle()
        assert (load_settings().trainee, load_settings().consent) == ("Ann", True)
        await seat.type("Ben")
        assert (load_settings().trainee, load_settings().consent) == ("Ben", False)
        await seat.type(" ")

    drive(ReadbackApp(services), use)

    assert services.trainee is None
    assert load_settings().trainee is None


def test_hands_free_is_remembered_and_said_above_the_status():
    services = make_services()

    async def use(seat: Seat) -> None:
        await seat.press("6")
        await seat.press("f9")
        assert "hands-free: listens after each call" in seat.sees()
        assert load_settings().hands_free is True
        await seat.press("f9")
        assert "hands-free: listens" not in seat.sees().splitlines()[-3]

    drive(ReadbackApp(services), use)

    assert load_settings().hands_free is False


def test_without_portaudio_one_line_says_what_to_install_and_the_rest_works():
    services = make_services()

    def none():
        raise AudioError("The PortAudio library is not there.", "Install it.")

    services.list_microphones = none

    async def use(seat: Seat) -> None:
        await seat.press("6")
        assert await seat.until(lambda: "PortAudio library is not there" in shown(seat))
        await seat.press("f3")
        assert await seat.until(lambda: "Nothing can be played here" in shown(seat))

    drive(ReadbackApp(services), use)


def test_set_up_comes_back_to_the_drill_it_was_opened_from():
    async def use(seat: Seat) -> None:
        assert await drill_is_ready(seat)
        await seat.press("f12", "f12", "escape")
        assert isinstance(seat.app.screen, DrillScreen)

    drive(ReadbackApp(make_services(), drill="push_back_tow_bar", seat="headset"), use)
