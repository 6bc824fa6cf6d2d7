import itertools
import subprocess
import sys

import numpy as np
import pytest

from readback.errors import AudioError, InputError
from readback.speech import microphone as module
from readback.speech.devices import Device, choose_device, how_to_install
from readback.speech.microphone import Block, Microphone
from tests.live.fakes import FakeStream, broken_microphone, fake_microphone, in_blocks

DEVICES = (
    Device(0, "Headset (ALSA)", 44_100),
    Device(3, "Laptop (ALSA)", 48_000, is_default=True),
    Device(5, "Headset two (ALSA)", 16_000),
)


def record(microphone: Microphone, seconds: float) -> list[Block]:
    taken = []
    for block in microphone.blocks():
        if block is not None:
            taken.append(block)
        if block is None or sum(len(one.pcm) for one in taken) >= seconds * 16_000:
            microphone.stop()
    return taken


def joined(blocks: list[Block]) -> np.ndarray:
    return np.concatenate([block.pcm for block in blocks])


@pytest.mark.parametrize("rate", [8_000, 44_100, 48_000, 96_000])
def test_a_tone_keeps_its_pitch_level_and_length_at_any_rate_of_the_device(rate):
    tone = 0.5 * np.sin(2 * np.pi * 1_000 * np.arange(2 * rate) / rate)

    pcm = joined(record(fake_microphone(in_blocks(tone, rate // 20), sample_rate_hz=rate), 3.0))

    spectrum = np.abs(np.fft.rfft(pcm[8_000:24_000] * np.hanning(16_000)))
    assert abs(len(pcm) - 32_000) <= 16
    assert np.argmax(spectrum) == 1_000
    assert np.abs(pcm[8_000:24_000]).max() == pytest.approx(0.5 * 32_768, rel=0.01)


def test_lost_samples_are_counted_and_mark_the_block():
    blocks = in_blocks(np.full(8_000, 0.1))
    blocks[4] = (blocks[4], True)
    microphone = fake_microphone(blocks)

    taken = record(microphone, 3.0)

    assert microphone.overflows == 1
    assert sum(block.lost for block in taken) == 1


def test_a_reader_that_is_too_late_loses_sound_and_is_told():
    feed = module._Feed(lambda: 0.0)
    feed.most_blocks = 3
    for _ in range(5):
        feed.take(np.ones(800, np.float32), False)
    first = feed.read(0)

    feed.take(np.ones(800, np.float32), False)

    assert (len(first.samples), first.losses) == (2_400, 0)
    assert feed.read(0).losses == 1


def test_unplugged_in_mid_take_what_was_recorded_comes_before_the_error():
    microphone = fake_microphone(in_blocks(np.full(16_000, 0.25)), unplugged=True)
    taken = []

    with pytest.raises(AudioError, match="microphone is gone") as caught:
        taken.extend(block for block in microphone.blocks() if block is not None)

    assert len(joined(taken)) == 16_000
    assert "\n" not in str(caught.value)


def test_a_driver_that_falls_silent_has_lost_its_device():
    clock = itertools.count(0.0, 0.7)
    microphone = Microphone(
        lambda take: FakeStream(take, [], 16_000, unplugged=False), clock=lambda: next(clock)
    )

    with pytest.raises(AudioError, match="microphone is gone"):
        list(microphone.blocks())


def test_the_device_is_given_back_when_the_reader_leaves():
    streams = []

    def open_stream(take):
        streams.append(FakeStream(take, in_blocks(np.zeros(16_000)), 16_000, unplugged=False))
        return streams[-1]

    blocks = Microphone(open_stream).blocks()
    next(blocks)
    blocks.close()

    assert streams[0].closed == 1


def test_what_is_no_number_counts_as_silence():
    samples = np.full(8_000, 0.25, np.float32)
    samples[4_000:] = np.nan

    pcm = joined(record(fake_microphone([samples]), 1.0))

    assert abs(int(pcm[2_000]) - 8_192) <= 1
    assert not pcm[5_000:].any()


def test_a_device_that_cannot_be_opened_says_so_in_one_line():
    with pytest.raises(AudioError, match="cannot be opened"):
        list(broken_microphone().blocks())


@pytest.mark.parametrize(
    ("wanted", "number"),
    [(None, 3), ("5", 5), ("laptop", 3), ("headset two", 5), ("Headset (ALSA)", 0)],
)
def test_a_device_is_chosen_by_number_name_or_part_of_it(wanted, number):
    assert choose_device(DEVICES, wanted).number == number


@pytest.mark.parametrize("wanted", ["headset", "7", "", "nothing"])
def test_a_device_not_meant_alone_is_an_error_that_lists_them(wanted):
    with pytest.raises(InputError, match="5 Headset two"):
        choose_device(DEVICES, wanted)


def test_a_machine_without_microphone_says_so():
    with pytest.raises(AudioError, match="no microphone"):
        choose_device(())


def test_no_portaudio_is_one_line_that_says_what_to_install(tmp_path):
    (tmp_path / "sounddevice.py").write_text("raise OSError('PortAudio library not found')")
    program = (
        f"import sys; sys.path.insert(0, {str(tmp_path)!r})\n"
        "from readback.speech.devices import list_devices\n"
        "from readback.errors import AudioError\n"
        "try: list_devices()\n"
        "except AudioError as error: print(error)\n"
    )

    ran = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True)

    assert ran.stdout.count("\n") == 1
    assert "PortAudio" in ran.stdout
    assert "nstall" in ran.stdout


def test_importing_the_microphone_does_not_start_portaudio():
    program = (
        "import sys, readback.speech.devices, readback.speech.live, readback.speech.voice;"
        "sys.exit('sounddevice' in sys.modules)"
    )

    assert subprocess.run([sys.executable, "-c", program]).returncode == 0


@pytest.mark.parametrize(
    ("os_release", "command"),
    [
        ('ID=debian\nVERSION_ID="12"\n', "apt-get install libportaudio2"),
        ('ID=linuxmint\nID_LIKE="ubuntu debian"\n', "apt-get"),
        ('ID="opensuse-leap"\nID_LIKE="suse opensuse"\n', "zypper install"),
        ("ID=fedora\n", "dnf install portaudio"),
    ],
)
def test_each_system_is_told_its_own_way_to_install(tmp_path, os_release, command):
    (tmp_path / "os-release").write_text(os_release)

    assert command in how_to_install(tmp_path / "os-release")


@pytest.mark.parametrize("os_release", ["ID=nobodys\n", None])
def test_an_unknown_system_is_told_what_to_install(tmp_path, os_release):
    if os_release:
        (tmp_path / "os-release").write_text(os_release)

    assert how_to_install(tmp_path / "os-release") == "Install it; typing works without."
