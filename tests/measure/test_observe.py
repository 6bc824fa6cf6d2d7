from pathlib import Path

import pytest

from readback.measure.conditions import make_conditions
from readback.measure.labels import Labelled
from readback.measure.observe import observe, read_samples, write_samples
from readback.speech.recogniser import ScriptedRecogniser
from readback.transmission import Transmission

CLIP = Path(__file__).parents[2] / "audio_demo_synth" / "measure_set" / "r001.opus"


def hears(text):
    return ScriptedRecogniser(lambda _: Transmission.typed(text))


@pytest.mark.parametrize(
    ("authority", "american", "heard"),
    [
        ("icao", hears("twenty two"), "two two"),
        ("uk", hears("twenty two"), "two two"),
        ("faa", hears("twenty two"), "twenty two"),
        ("faa", None, "two two"),
    ],
)
def test_numbers_in_group_form_are_listened_for_where_the_rules_know_them(
    authority, american, heard
):
    labelled = Labelled(
        file=CLIP,
        instruction="cross runway two two",
        readback="crossing two two",
        authority=authority,
        expected="correct",
    )

    (seen,) = observe([labelled], make_conditions(["clean"], []), hears("two two"), american)

    assert seen.heard.text == heard


def test_what_is_written_is_read_again_to_16_bit(tmp_path):
    samples = read_samples(CLIP)

    write_samples(tmp_path / "clip.wav", samples)

    assert read_samples(tmp_path / "clip.wav") == pytest.approx(samples, abs=1 / 32_768)
