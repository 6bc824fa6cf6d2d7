import argparse
import json

import numpy as np
import pytest
import soxr

from readback.commands import listen
from readback.commands.demo import load_manifest
from readback.errors import AudioError, InputError
from readback.phraseology.grammar import load_grammar
from readback.speech.devices import Device
from readback.speech.engines import make_recogniser
from readback.speech.live import LiveListener
from readback.speech.recogniser import ScriptedRecogniser
from readback.transmission import Transmission
from tests.live.fakes import (
    RECORDINGS,
    broken_microphone,
    fake_microphone,
    in_blocks,
    quiet,
    spoken,
)

INSTRUCTION = "larkspur four two one hold short of runway two seven left"
RIGHT = "holding short of runway two seven left larkspur four two one"
WRONG = "holding short of runway two seven right larkspur four two one"


def live_hearing(*texts: str, blocks=None) -> LiveListener:
    """A listener to recorded speech that hears these texts, one a take."""
    waiting = list(texts)

    class Told(ScriptedRecogniser):
        def finish(self) -> Transmission:
            super().finish()
            return Transmission.typed(waiting.pop(0))

    recogniser = Told(lambda _: Transmission.typed("so far"))
    return LiveListener(fake_microphone(spoken() if blocks is None else blocks), recogniser)


@pytest.mark.parametrize(
    ("heard", "status", "word"), [(RIGHT, 0, "correct"), (WRONG, 1, "incorrect")]
)
def test_a_spoken_readback_is_judged_and_tells_its_status(capsys, heard, status, word):
    ended = listen.show_listen(live_hearing(heard), INSTRUCTION, device_name="fake")

    out, err = capsys.readouterr()
    assert ended == status
    assert out.splitlines()[0] == word
    assert "Say the readback (fake)" in err


def test_without_instruction_it_is_heard_first(capsys):
    ended = listen.show_listen(live_hearing(INSTRUCTION, WRONG), None, device_name="fake")

    out, err = capsys.readouterr()
    assert ended == 1
    assert "runway 27L, heard 27R" in out
    assert err.index("Say the instruction") < err.index("Say the readback")


def test_json_is_one_document_with_verdict_and_takes(capsys):
    listen.show_listen(live_hearing(WRONG), INSTRUCTION, device_name="fake", as_json=True)

    document = json.loads(capsys.readouterr().out)
    assert document["verdict"] == "incorrect"
    assert document["takes"]["readback"]["ended"] == "pause"
    assert document["takes"]["readback"]["seconds"] > 2.0
    assert {"findings", "instruction", "readback"} <= set(document)


def test_a_take_with_lost_samples_is_never_correct(capsys):
    blocks = spoken()
    blocks[len(blocks) // 2] = (blocks[len(blocks) // 2], True)

    ended = listen.show_listen(live_hearing(RIGHT, blocks=blocks), INSTRUCTION, device_name="fake")

    out, err = capsys.readouterr()
    assert ended == 1
    assert out.splitlines()[0] == "say again"
    assert "Samples were lost" in err


def test_unplugged_in_mid_take_is_one_line_and_no_verdict_is_certain(capsys):
    blocks = spoken()
    live = live_hearing(RIGHT)
    live._microphone = fake_microphone(blocks[: len(blocks) // 2], unplugged=True)

    ended = listen.show_listen(live, INSTRUCTION, device_name="fake")

    out, err = capsys.readouterr()
    assert (ended, out.splitlines()[0]) == (1, "say again")
    assert "hold short runway 27L" in out
    assert err.count("readback: ") == 1
    assert "readback: The microphone is gone." in err


def test_unplugged_before_anybody_spoke_is_an_error():
    live = live_hearing()
    live._microphone = fake_microphone(in_blocks(quiet(0.5)), unplugged=True)

    with pytest.raises(AudioError, match="microphone is gone"):
        listen.show_listen(live, INSTRUCTION, device_name="fake")


def test_nobody_who_speaks_is_an_error_with_advice():
    live = live_hearing(blocks=in_blocks(quiet(1.0)))

    with pytest.raises(InputError, match=r"Nobody spoke within 0.5 s\. No voice was heard"):
        listen.show_listen(live, INSTRUCTION, device_name="fake", seconds=0.5)


def test_a_device_that_cannot_be_opened_is_an_error():
    live = LiveListener(broken_microphone(), ScriptedRecogniser(lambda _: Transmission()))

    with pytest.raises(AudioError, match="cannot be opened"):
        listen.show_listen(live, INSTRUCTION, device_name="fake")


def test_inputs_are_listed_with_their_number(capsys):
    devices = (Device(2, "Headset", 44_100), Device(4, "Laptop", 48_000, is_default=True))

    listen.show_devices(devices)

    lines = capsys.readouterr().out.splitlines()
    assert lines == [
        "  2 Headset, 44100 Hz",
        "  4 Laptop, 48000 Hz, used unless another is named",
    ]


def test_the_level_check_tells_in_words_and_by_status(capsys):
    good = listen.show_level(fake_microphone(spoken()), "fake")
    noise = listen.show_level(fake_microphone(in_blocks(quiet(5.0) * 300)), "fake", as_json=True)

    out = capsys.readouterr().out
    assert (good, noise) == (0, 1)
    assert out.startswith("good: ")
    assert '"level": "noise only"' in out


def arguments(*given: str) -> argparse.Namespace:
    parser = argparse.ArgumentParser()
    listen.add_arguments(parser)
    return parser.parse_args(given)


@pytest.mark.parametrize(
    "given",
    [("--seconds", "0", INSTRUCTION), ("--seconds", "nan", INSTRUCTION), ("",)],
)
def test_bad_input_is_refused_before_anything_is_opened(given):
    with pytest.raises(InputError):
        listen.run(arguments(*given))


def test_an_unknown_authority_is_refused_before_anything_is_opened():
    with pytest.raises(InputError, match="authority"):
        listen.run(arguments(INSTRUCTION, "--authority", "nobody"))


@pytest.mark.parametrize("file", ["gc01_hold_short.flac", "gc02_runway_digit.flac"])
def test_a_recording_played_into_the_microphone_gets_its_expected_verdict(capsys, recogniser, file):
    """The whole live path with a real recogniser in its process, at 44.1 kHz; no hardware."""
    shipped = next(one for one in load_manifest(RECORDINGS / "manifest.json") if one.file == file)
    samples = soxr.resample(np.concatenate(spoken(file)), 16_000, 44_100)
    microphone = fake_microphone(in_blocks(samples, 2_205), sample_rate_hz=44_100)
    live = LiveListener(microphone, recogniser)

    listen.show_listen(live, shipped.instruction, device_name="fake", as_json=True)

    document = json.loads(capsys.readouterr().out)
    assert document["verdict"] == shipped.expected
    assert document["takes"]["readback"]["ended"] == "pause"


@pytest.fixture(scope="module")
def recogniser():
    engine = make_recogniser("pocketsphinx", load_grammar().search(grouped_numbers=False))
    yield engine
    engine.close()
