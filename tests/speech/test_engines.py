"""The recogniser that is asked for, or the best there is."""

import subprocess
import sys

import pytest

from readback.errors import InputError, RecogniserError
from readback.speech import engines
from readback.speech.engines import available_engines, default_engine, make_recogniser
from readback.speech.pocketsphinx_engine import PocketSphinxRecogniser
from readback.speech.vosk_engine import MODEL_VARIABLE
from readback.speech.worker import RecogniserProcess
from tests.speech.test_vosk_engine import folder, no_model  # noqa: F401 - fixtures


def test_a_named_one_is_made_in_this_process_or_its_own(grammar):
    here = make_recogniser("pocketsphinx", grammar, in_process=True)
    aside = make_recogniser("pocketsphinx", grammar)

    assert isinstance(here, PocketSphinxRecogniser)
    assert isinstance(aside, RecogniserProcess)
    assert here.name == aside.name == "pocketsphinx"
    aside.close()


def test_an_unknown_name_is_refused_with_the_known_ones(grammar):
    with pytest.raises(InputError, match=r'no recogniser "parrot".*vosk, ear, pocketsphinx'):
        make_recogniser("parrot", grammar)


def test_vosk_without_a_model_says_where_to_put_one(no_model, grammar):  # noqa: F811
    with pytest.raises(RecogniserError, match=f"vosk: no model. Set {MODEL_VARIABLE}") as error:
        make_recogniser("vosk", grammar, in_process=True)

    assert "vosk-model" in error.value.remedy


def test_a_model_that_is_found_makes_vosk_the_default(
    no_model,  # noqa: F811
    folder,  # noqa: F811
):
    assert default_engine() == "ear"
    assert default_engine(folder) == "vosk"
    assert engines.ENGINES == ("vosk", "ear", "pocketsphinx")


def test_a_broken_model_is_an_error_and_no_other_engine_in_silence(grammar, tmp_path):
    with pytest.raises(RecogniserError, match="holds no Vosk model"):
        make_recogniser("vosk", grammar, vosk_model=tmp_path)


def test_the_status_of_each_engine_is_one_line(no_model):  # noqa: F811
    statuses = available_engines()

    assert [status.name for status in statuses] == list(engines.ENGINES)
    assert all("\n" not in status.detail for status in statuses)
    by_name = {status.name: status for status in statuses}
    assert by_name["pocketsphinx"].works
    assert "model" in by_name["pocketsphinx"].detail
    assert not by_name["vosk"].works
    assert MODEL_VARIABLE in by_name["vosk"].detail


def test_the_status_of_a_damaged_model_names_the_damage(folder):  # noqa: F811
    (folder / "graph/Gr.fst").unlink()

    status = {engine.name: engine for engine in available_engines(folder)}["vosk"]

    assert not status.works
    assert "lacks graph/Gr.fst" in status.detail


@pytest.mark.parametrize("module", ["engines", "hearing", "audio", "segments", "worker"])
def test_importing_loads_no_engine(module):
    heavy = {"vosk", "pocketsphinx", "onnxruntime", "soundfile", "soxr", "requests"}
    code = f"import sys, readback.speech.{module}; print(*(set(sys.modules) & {heavy!r}))"

    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)

    assert done.stdout.split() == []
