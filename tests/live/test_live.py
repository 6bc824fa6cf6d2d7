import threading
import time

import numpy as np
import pytest

from readback.errors import AudioError, RecogniserError
from readback.speech.duplex import ECHO_S, HalfDuplex
from readback.speech.live import (
    LONG_HANG_S,
    SHORT_HANG_S,
    UNKNOWN_HANG_S,
    Ended,
    LiveListener,
)
from readback.speech.microphone import Microphone
from readback.speech.recogniser import ScriptedRecogniser
from readback.speech.segments import Segmenter
from readback.transmission import Transmission
from tests.live.fakes import (
    AtOnce,
    fake_microphone,
    in_blocks,
    quiet,
    read_speech,
    spoken,
    wait_until,
)


def hears_seconds(pcm: bytes) -> Transmission:
    """Say how much was fed: one word for each half second."""
    return Transmission.typed(" ".join(["word"] * (len(pcm) // 16_000)))


def listener(blocks, duplex=None, recogniser=None, **options) -> LiveListener:
    heard_by = recogniser or ScriptedRecogniser(hears_seconds)
    return LiveListener(fake_microphone(blocks, **options), heard_by, duplex)


def test_one_transmission_is_cut_out_of_the_quiet_around_it():
    speech = read_speech("gc01_hold_short.flac")

    take = listener(spoken()).hear(seconds=5.0)

    assert take.ended is Ended.PAUSE
    assert len(speech) - 16_000 < len(take.pcm) < len(speech) + 24_000
    assert take.transmission.words
    assert take.losses == 0


def test_the_first_sound_is_kept_though_speech_is_found_later():
    speech = read_speech("gc01_hold_short.flac")
    loud = np.flatnonzero(np.abs(speech) > 0.05)[0]

    take = listener(spoken()).hear(seconds=5.0)

    onset = np.flatnonzero(np.abs(take.pcm) > 0.05 * 32_768)[0]
    kept = take.pcm[onset : onset + 4_000] / 32_768.0
    assert np.allclose(kept, speech[loud : loud + 4_000], atol=2e-3)


def test_partial_results_come_at_least_five_times_a_second_of_speech():
    partials = []
    live = LiveListener(AtOnce(np.concatenate(spoken())), ScriptedRecogniser(hears_seconds))

    take = live.hear(seconds=5.0, on_partial=partials.append)

    assert len(partials) >= 5 * (len(take.pcm) / 16_000 - 0.5)
    assert [len(one.words) for one in partials] == sorted(len(one.words) for one in partials)


def paused(pause_s: float) -> np.ndarray:
    """Speech with a pause after a second of it, and quiet after it."""
    speech = read_speech("gc01_hold_short.flac")
    at = 16_000 + int(np.argmin(np.convolve(np.abs(speech[16_000:32_000]), np.ones(800), "same")))
    return np.concatenate(
        [quiet(0.5), speech[:at], quiet(pause_s, seed=1), speech[at:], quiet(1.5, seed=2)]
    )


@pytest.mark.parametrize(
    ("complete", "hang_s"),
    [(True, SHORT_HANG_S), (None, UNKNOWN_HANG_S), (False, LONG_HANG_S)],
)
def test_the_pause_that_ends_a_take_depends_on_what_is_awaited(complete, hang_s):
    samples = paused(0.0)
    segmenter = Segmenter()
    segmenter.feed(np.rint(samples * 32_767).astype(np.int16))
    microphone = AtOnce(samples)
    live = LiveListener(microphone, ScriptedRecogniser(hears_seconds))

    take = live.hear(is_complete=lambda _: complete)

    ended_s = microphone.blocks_read * 0.05
    assert take.ended is Ended.PAUSE
    assert ended_s - segmenter.voiced_until == pytest.approx(hang_s, abs=0.1)


@pytest.mark.parametrize(("complete", "whole"), [(True, False), (False, True)])
def test_a_pause_in_the_middle_ends_only_what_is_complete(complete, whole):
    samples = paused(0.5)
    live = LiveListener(AtOnce(samples), ScriptedRecogniser(hears_seconds))

    take = live.hear(is_complete=lambda _: complete)

    assert (len(take.pcm) > 3.5 * 16_000) is whole


def test_all_is_heard_in_the_pause_and_nothing_after_it():
    """The end of the pause finds the result ready: nothing is fed to the recogniser meanwhile."""

    class Counting(ScriptedRecogniser):
        fed = 0
        settled: tuple[int, ...] = ()

        def feed(self, pcm: bytes) -> Transmission:
            self.fed += len(pcm)
            return super().feed(pcm)

        def settle(self) -> Transmission:
            self.settled += (self.fed,)
            return super().settle()

    recogniser = Counting(hears_seconds)

    take = LiveListener(AtOnce(paused(0.0)), recogniser).hear()

    assert recogniser.settled[-1] == recogniser.fed == 2 * len(take.pcm)


def test_a_recogniser_that_is_slower_than_speech_is_asked_less_often():
    """Each partial result takes as long as 0.4 s of sound: none waits for those before it."""

    class Slow(ScriptedRecogniser):
        asked = 0

        def feed(self, pcm: bytes) -> Transmission:
            self.asked += 1
            time.sleep(0.4)
            return super().feed(pcm)

    recogniser = Slow(hears_seconds)
    blocks = spoken(after_s=2.0)
    paced = [part for block in blocks for part in (lambda: time.sleep(0.05), block)]
    seconds = sum(map(len, blocks)) / 16_000

    take = listener(paced, recogniser=recogniser).hear(is_complete=lambda _: True)

    assert take.ended is Ended.PAUSE
    assert recogniser.asked <= seconds / 0.4
    assert len(take.pcm) > 3.5 * 16_000


def test_what_was_said_right_after_a_take_is_in_the_next_where_it_is_kept_open():
    speech = read_speech("gc01_hold_short.flac")
    samples = np.concatenate([quiet(0.5), speech, quiet(0.5), speech, quiet(1.5)])
    live = LiveListener(AtOnce(samples), ScriptedRecogniser(hears_seconds))

    with live.kept_open():
        takes = [live.hear(is_complete=lambda _: True) for _ in range(2)]

    assert len(takes[1].pcm) == pytest.approx(len(takes[0].pcm), abs=0.2 * 16_000)


def test_push_to_talk_takes_all_from_the_press_to_the_release():
    live = listener([*in_blocks(quiet(1.0)), *spoken(), lambda: live.release()])

    take = live.hear(hands_free=False, seconds=30.0)

    whole = sum(len(block) for block in spoken()) + 16_000
    assert take.ended is Ended.KEY
    assert abs(len(take.pcm) - whole) <= 16


def test_silence_ends_after_the_time_with_no_words():
    take = listener(in_blocks(quiet(0.5))).hear(seconds=0.3)

    assert take.ended is Ended.TIME
    assert take.transmission.words == ()


def test_lost_samples_mark_the_take():
    blocks = spoken()
    blocks[len(blocks) // 2] = (blocks[len(blocks) // 2], True)

    assert listener(blocks).hear(seconds=5.0).losses == 1


def test_unplugged_in_mid_take_what_was_recorded_is_kept_and_told_in_one_line():
    blocks = spoken()

    take = listener(blocks[: len(blocks) // 2], unplugged=True).hear(seconds=5.0)

    assert take.ended is Ended.UNPLUGGED
    assert len(take.pcm) > 8_000
    assert take.transmission.words
    assert "microphone is gone" in take.problem
    assert "\n" not in take.problem


def test_after_unplugging_the_next_take_is_heard():
    blocks = spoken()
    live = listener(blocks[: len(blocks) // 2], unplugged=True)
    live.hear(seconds=5.0)

    live._microphone = fake_microphone(blocks)

    assert live.hear(seconds=5.0).ended is Ended.PAUSE


@pytest.mark.parametrize("after_s", [0.0, 0.3])
def test_a_device_that_cannot_be_opened_is_an_error_however_late(after_s):
    def open_stream(_):
        time.sleep(after_s)
        raise AudioError("The device cannot be opened.", "Choose another.")

    live = LiveListener(Microphone(open_stream), ScriptedRecogniser(hears_seconds))

    with pytest.raises(AudioError, match="cannot be opened"):
        live.hear(seconds=5.0)


def test_cancel_ends_the_take_and_nothing_of_it_is_in_the_next():
    half = len(spoken()) // 2
    blocks = [*spoken()[:half], lambda: live.cancel(), *in_blocks(quiet(2.0))]
    recogniser = ScriptedRecogniser(hears_seconds)
    live = listener(blocks, recogniser=recogniser)

    take = live.hear(hands_free=False, seconds=60.0)

    assert take.ended is Ended.CANCELLED
    assert take.transmission.words == ()
    assert recogniser.finish().words == ()


def test_cancel_works_while_nobody_speaks():
    live = listener(in_blocks(quiet(0.2)))
    takes = []
    thread = threading.Thread(target=lambda: takes.append(live.hear(seconds=60.0)), daemon=True)
    thread.start()

    live_started = wait_until(lambda: live.level_dbfs > -90.0 or not thread.is_alive())
    live.cancel()
    thread.join(5.0)

    assert live_started
    assert takes[0].ended is Ended.CANCELLED


def test_a_recogniser_that_breaks_is_told_and_the_next_take_is_heard():
    broken = [True]

    def respond(pcm: bytes) -> Transmission:
        if broken[0]:
            broken[0] = False
            raise RecogniserError("scripted: the engine broke.", "Say it again.")
        return Transmission.typed("hold short")

    live = listener(spoken(), recogniser=ScriptedRecogniser(respond))

    with pytest.raises(RecogniserError):
        live.hear(seconds=5.0)

    assert live.hear(seconds=5.0).transmission.text == "hold short"


def test_what_the_voice_says_is_never_heard():
    duplex = HalfDuplex()
    gates = []

    def begin() -> None:
        gates.append(duplex.speaking())
        gates[-1].__enter__()

    # Nothing but our own voice comes in, at full level, while we speak.
    live = listener([begin, *spoken(), *in_blocks(quiet(0.2))], duplex)

    take = live.hear(seconds=1.0)

    assert take.ended is Ended.TIME
    assert len(take.pcm) == 0


def test_what_the_voice_said_is_left_out_however_late_it_is_read():
    now = [0.0]
    duplex = HalfDuplex(lambda: now[0])
    gate = duplex.speaking()

    def at(seconds: float, action=lambda: None):
        def go() -> None:
            now[0] = seconds
            action()

        return go

    blocks = [
        at(1.0, gate.__enter__),
        *spoken(),
        at(4.0, lambda: gate.__exit__(None, None, None)),
        at(9.0),
        *in_blocks(quiet(0.5)),
    ]
    reader_waits = threading.Event()
    microphone = fake_microphone([*blocks, reader_waits.set], clock=lambda: now[0])
    live = LiveListener(microphone, ScriptedRecogniser(hears_seconds), duplex)

    take = live.hear(seconds=0.5, is_cancelled=lambda: not reader_waits.wait(5.0))

    assert take.ended is Ended.TIME
    assert len(take.pcm) == 0


def test_the_trainee_is_heard_again_after_the_echo():
    clock = [0.0]
    duplex = HalfDuplex(lambda: clock[0])

    with duplex.speaking():
        during = duplex.may_listen
    just_after = duplex.may_listen
    clock[0] += ECHO_S

    assert (during, just_after, duplex.may_listen) == (False, False, True)


def test_a_voice_that_fails_gives_the_microphone_back():
    clock = [0.0]
    duplex = HalfDuplex(lambda: clock[0])

    with pytest.raises(AudioError), duplex.speaking():
        raise AudioError("The sound cannot be played.", "Read.")
    clock[0] += ECHO_S

    assert duplex.may_listen


def test_the_event_loop_of_a_screen_is_free_while_it_listens():
    """The recogniser waits 50 ms a block in a thread; a 10 ms tick beside it goes on."""
    import asyncio

    class Slow(ScriptedRecogniser):
        def feed(self, pcm: bytes) -> Transmission:
            time.sleep(0.05)
            return super().feed(pcm)

    live = LiveListener(AtOnce(np.concatenate(spoken())), Slow(hears_seconds))

    async def main() -> int:
        task = asyncio.create_task(asyncio.to_thread(live.hear, seconds=5.0))
        ticks = 0
        while not task.done():
            await asyncio.sleep(0.01)
            ticks += 1
        return ticks

    assert asyncio.run(main()) > 10
