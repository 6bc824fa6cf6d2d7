"""The Practise screen with a real microphone and a real voice, through PortAudio."""

import asyncio
from collections.abc import Callable
from contextlib import asynccontextmanager

import numpy as np
import pytest
from textual.pilot import Pilot

from readback.commands.demo import Shipped, load_manifest
from readback.judging.pairs import Pair
from readback.screens.app import ReadbackApp
from readback.screens.practise import InstructionDrawn
from readback.screens.services import Services, open_services
from readback.screens.widgets.verdict import VerdictView
from tests.live.fakes import RECORDINGS, quiet, read_speech

SHIPPED = {one.file: one for one in load_manifest(RECORDINGS / "manifest.json")}
LONGEST_S = 60.0


def said(file: str) -> np.ndarray:
    return np.concatenate([quiet(0.4), read_speech(file), quiet(0.3)])


async def until(pilot: Pilot, condition: Callable[[], bool]) -> None:
    for _ in range(round(LONGEST_S / 0.05)):
        if condition():
            return
        await pilot.pause(0.05)
    raise AssertionError("It did not come to that in time.")


@asynccontextmanager
async def practising(services: Services, shipped: Shipped):
    """The Practise screen with the instruction of a recording."""
    app = ReadbackApp(services, first="practise")
    async with app.run_test(size=(100, 30)) as pilot:
        await until(pilot, lambda: getattr(app.screen, "instruction", "") != "")
        pair = Pair(instruction=shipped.instruction, readback="", authority="icao")
        app.screen.post_message(InstructionDrawn(pair, "controller", "radio"))
        await until(pilot, lambda: app.screen.instruction == shipped.instruction)
        yield app.screen, pilot
    services.close()


@pytest.fixture
def services(sound) -> Services:
    return open_services(engine="ear", device="headset_mic", hands_free=True)


@pytest.mark.parametrize("file", ["gc01_hold_short.flac", "gc02_runway_digit.flac"])
def test_a_readback_said_after_the_voice_gets_its_verdict(sound, services, file):
    """The voice plays into the same device that is listened to: an echo without loss."""
    shipped = SHIPPED[file]

    async def practise():
        async with practising(services, shipped) as (screen, pilot):
            await until(pilot, lambda: screen.doing == "listening")
            await asyncio.to_thread(sound.play, "headset", said(file))
            view = screen.query_one(VerdictView)
            await until(pilot, lambda: view.verdict is not None)
            return screen.done, view.verdict, services.voice_name

    done, verdict, voice = asyncio.run(practise())

    assert (done, voice) == (1, "espeak-ng")
    assert verdict.verdict == shipped.expected
    assert verdict.readback.text == shipped.readback


def test_unplugged_in_mid_take_another_microphone_is_chosen_in_the_same_screen(sound, services):
    file = "gc01_hold_short.flac"
    shipped = SHIPPED[file]

    async def practise():
        async with practising(services, shipped) as (screen, pilot):
            view = screen.query_one(VerdictView)
            await until(pilot, lambda: screen.doing == "listening")
            with sound.playing("headset", said(file)[:40_000]):
                await asyncio.sleep(2.0)
                await asyncio.to_thread(sound.unplug, "headset")
            await until(pilot, lambda: view.verdict is not None)
            lost = view.verdict, list(screen.told)

            sound.plug_in("second")
            services.choose_microphone("second_mic (ALSA)")
            await pilot.press("f4", "f2")
            await until(pilot, lambda: screen.doing == "listening")
            await asyncio.to_thread(sound.play, "second", said(file))
            await pilot.press("f2")
            await until(pilot, lambda: view.verdict is not None)
            return *lost, view.verdict

    first, told, second = asyncio.run(practise())

    assert first.verdict == "say again"
    assert first.readback.text.startswith("holding short")
    assert [line.startswith("The microphone is gone.") for line in told] == [True]
    assert second.verdict == "correct"
