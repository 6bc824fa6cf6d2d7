import argparse
import io
import json
import threading

import numpy as np
import pytest
import soxr

from readback.commands import listen, microphones
from readback.commands.demo import load_manifest
from readback.commands.enter_key import EnterKey
from readback.errors import AudioError, InputError
from readback.judging.check import check
from readback.phraseology.grammar import load_grammar
from readback.settings import Settings
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
    read_speech,
    spoken,
    wait_until,
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
    ended = listen.show_listen(live_hearing(heard), INSTRUCTION, check, device_name="fake")

    out, err = capsys.readouterr()
    assert ended == status
    assert out.splitlines()[0] == word
    assert "Say the readback (fake)" in err


def test_without_instruction_it_is_heard_first(capsys):
    live = live_hearing(INSTRUCTION, WRONG, blocks=[*spoken(), *spoken()])

    ended = listen.show_listen(live, None, check, device_name="fake")

    out, err = capsys.readouterr()
    assert ended == 1
    assert "runway 27L, heard 27R" in out
    assert err.index("Say the instruction") < err.index("Say the readback")


def test_json_is_one_document_with_verdict_and_takes(capsys):
    listen.show_listen(live_hearing(WRONG), INSTRUCTION, check, device_name="fake", as_json=True)

    document = json.loads(capsys.readouterr().out)
    assert document["verdict"] == "incorrect"
    assert document["takes"]["readback"]["ended"] == "pause"
    assert document["takes"]["readback"]["seconds"] > 2.0
    assert {"findings", "instruction", "readback"} <= set(document)


def test_a_take_with_lost_samples_is_never_correct(capsys):
    blocks = spoken()
    blocks[len(blocks) // 2] = (blocks[len(blocks) // 2], True)

    ended = listen.show_listen(
        live_hearing(RIGHT, blocks=blocks), INSTRUCTION, check, device_name="fake"
    )

    out, err = capsys.readouterr()
    assert ended == 1
    assert out.splitlines()[0] == "say again"
    assert "Samples were lost" in err


def test_unplugged_in_mid_take_is_one_line_and_no_verdict_is_certain(capsys):
    blocks = spoken()
    live = live_hearing(RIGHT)
    live._microphone = fake_microphone(blocks[: len(blocks) // 2], unplugged=True)

    ended = listen.show_listen(live, INSTRUCTION, check, device_name="fake")

    out, err = capsys.readouterr()
    assert (ended, out.splitlines()[0]) == (1, "say again")
    assert "hold short runway 27L" in out
    assert err.count("readback: ") == 1
    assert "readback: The microphone is gone." in err


def test_unplugged_before_anybody_spoke_is_an_error():
    live = live_hearing()
    live._microphone = fake_microphone(in_blocks(quiet(0.5)), unplugged=True)

    with pytest.raises(AudioError, match="microphone is gone"):
        listen.show_listen(live, INSTRUCTION, check, device_name="fake")


def test_nobody_who_speaks_is_an_error_with_advice():
    live = live_hearing(blocks=in_blocks(quiet(1.0)))

    with pytest.raises(InputError, match=r"Nobody spoke within 0.5 s\. No voice was heard"):
        listen.show_listen(live, INSTRUCTION, check, device_name="fake", seconds=0.5)


def test_a_device_that_cannot_be_opened_is_an_error():
    live = LiveListener(broken_microphone(), ScriptedRecogniser(lambda _: Transmission()))

    with pytest.raises(AudioError, match="cannot be opened"):
        listen.show_listen(live, INSTRUCTION, check, device_name="fake")


def test_inputs_are_listed_with_their_number(capsys):
    devices = (Device(2, "Headset", 44_100), Device(4, "Laptop", 48_000, is_default=True))

    microphones.show_devices(devices)

    lines = capsys.readouterr().out.splitlines()
    assert lines == [
        "  2 Headset, 44100 Hz",
        "  4 Laptop, 48000 Hz, used unless another is named",
    ]


def test_the_level_check_tells_in_words_and_by_status(capsys):
    good = microphones.show_level(fake_microphone(spoken()), "fake")
    noise = microphones.show_level(
        fake_microphone(in_blocks(quiet(5.0) * 300)), "fake", as_json=True
    )

    out = capsys.readouterr().out
    assert (good, noise) == (0, 1)
    assert out.startswith("good: ")
    assert '"level": "noise only"' in out


class Typist:
    """Standard input on which Enter is pressed when its time has come."""

    def __init__(self, *presses):
        self._presses = list(presses)

    def readline(self) -> str:
        if not self._presses:
            return ""
        self._presses.pop(0)()
        return "\n"


def test_with_a_key_enter_begins_and_ends_the_take(capsys):
    live = live_hearing(RIGHT, blocks=[*spoken(), *in_blocks(quiet(0.5))])
    began = threading.Event()
    presses = (began.set, lambda: wait_until(lambda: live.level_dbfs > -90.0))
    key = EnterKey(Typist(*presses, lambda: wait_until(lambda: False, 1.0)))

    ended = listen.show_listen(live, INSTRUCTION, check, device_name="fake", key=key, as_json=True)

    out, err = capsys.readouterr()
    assert ended == 0
    assert json.loads(out)["takes"]["readback"]["ended"] == "key"
    assert err.index("Press Enter to say the readback") < err.index("then press Enter")


def test_a_key_that_nobody_can_press_is_an_error():
    with pytest.raises(InputError, match="input has ended"):
        listen.show_listen(
            live_hearing(), INSTRUCTION, check, device_name="fake", key=EnterKey(Typist())
        )


def test_what_is_remembered_waits_for_a_key_only_where_there_is_one(monkeypatch):
    remembered = Settings(hands_free=False)
    monkeypatch.setattr("sys.stdin", io.StringIO())

    assert listen._is_hands_free(None, remembered)
    assert not listen._is_hands_free(False, Settings())


def test_what_follows_the_instruction_at_once_is_the_readback(capsys):
    """The microphone stays open between the two: 0.9 s apart, nothing of the second is lost."""
    first, second = read_speech("gc01_hold_short.flac"), read_speech("gc02_runway_digit.flac")
    blocks = in_blocks(np.concatenate([quiet(1.0), first, quiet(0.9), second, quiet(1.2)]))
    live = live_hearing(INSTRUCTION, RIGHT, blocks=blocks)

    listen.show_listen(live, None, check, device_name="fake", as_json=True)

    takes = json.loads(capsys.readouterr().out)["takes"]
    assert takes["instruction"]["seconds"] == pytest.approx(len(first) / 16_000, abs=0.8)
    assert takes["readback"]["seconds"] == pytest.approx(len(second) / 16_000, abs=0.8)


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

    listen.show_listen(live, shipped.instruction, check, device_name="fake", as_json=True)

    document = json.loads(capsys.readouterr().out)
    assert document["verdict"] == shipped.expected
    assert document["takes"]["readback"]["ended"] == "pause"


@pytest.fixture(scope="module")
def recogniser():
    engine = make_recogniser("pocketsphinx", load_grammar().search(grouped_numbers=False))
    yield engine
    engine.close()
