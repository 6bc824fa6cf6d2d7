import json
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from readback.cli import main
from readback.judging.model import Verdict

RIGHT = ("hold short of runway two seven left", "holding short of runway two seven left")
WRONG = ("hold short of runway two seven left", "holding short runway two seven right")


def test_a_right_readback_exits_with_0(run):
    ran = run("check", *RIGHT)

    assert (ran.status, ran.out.splitlines()[0]) == (0, "correct")


def test_a_wrong_readback_exits_with_1_and_is_marked_in_both_lines_and_in_words(run):
    ran = run("check", *WRONG)

    assert ran.status == 1
    assert ran.out.splitlines()[0] == "incorrect"
    assert "✗ wrong: " in ran.out
    assert "27L, heard 27R" in ran.out
    assert "hold short of runway ✗[two seven left]" in ran.out
    assert "holding short runway ✗[two seven right]" in ran.out


def test_a_verdict_names_the_rule_and_its_source(run):
    ran = run("check", *WRONG)

    # ICAO Doc 4444, 16th edition, 4.5.7.5.1 b): what is always to be read back.
    assert "4.5.7.5.1" in ran.out


def test_a_verdict_comes_with_one_line_of_caution(run):
    assert run("check", *RIGHT).err.count("not for operational use") == 1


@pytest.mark.parametrize(
    ("readback", "mark"),
    [
        ("roger", "–[two seven left]"),
        ("holding short of runway two seven left crossing runway one four", "one four]"),
        ("holding short of runway two seven right", "✗[two seven right]"),
    ],
)
def test_each_kind_of_mismatch_has_its_sign(run, readback, mark):
    assert mark in run("check", RIGHT[0], readback).out


def test_the_callsign_given_must_be_read_back(run):
    ran = run("check", *RIGHT, "--callsign", "Larkspur 421")

    assert ran.status == 1
    assert "LARKSPUR 421" in ran.out


def test_an_answer_of_nothing_is_say_again(run):
    ran = run("check", RIGHT[0], "")

    assert (ran.status, ran.out.splitlines()[0]) == (1, "say again")


def test_json_is_the_verdict_and_nothing_else(run):
    ran = run("check", *WRONG, "--json")

    assert ran.err == ""
    verdict = Verdict.model_validate_json(ran.out)
    assert verdict.verdict == "incorrect"
    content = json.loads(ran.out)
    assert content["findings"][0]["expected"] == "27L"
    assert content["readback"]["words"][0] == {
        "word": "holding",
        "start": None,
        "end": None,
        "certainty": None,
    }


def test_json_findings_have_the_fields_of_the_contract(run):
    finding = json.loads(run("check", *WRONG, "--json").out)["findings"][0]

    assert set(finding) == {
        "call",
        "element",
        "status",
        "severity",
        "expected",
        "heard",
        "instruction_span",
        "readback_span",
        "certainty",
        "rule",
        "source",
        "message",
    }


def test_a_typed_check_imports_nothing_heavy():
    code = (
        "import sys; from readback.cli import main; main(sys.argv[1:]);"
        "import json; print(json.dumps([name.split('.')[0] for name in sys.modules]))"
    )

    done = subprocess.run(
        [sys.executable, "-c", code, "check", *WRONG], capture_output=True, text=True, check=True
    )

    loaded = set(json.loads(done.stdout.splitlines()[-1]))
    heavy = {"numpy", "rich", "textual", "soundfile", "soxr", "sounddevice", "vosk", "pocketsphinx"}
    assert "pydantic" in loaded
    assert not loaded & (heavy | {"onnxruntime", "requests", "asyncio", "multiprocessing"})


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["check"], "No instruction"),
        (["check", "hold short"], "One readback"),
        (["check", "hold short", "holding", "--heard", "x.wav"], "One readback"),
        (["check", "hold short", "--heard", "nowhere.wav"], "nowhere.wav: no such file."),
        (["check", "hold short", "--heard", "."], ".: is a folder."),
        (["check", " ", "holding short"], "The instruction is empty."),
        (["check", *RIGHT, "--pairs", "x.jsonl"], "--pairs brings its own"),
        (["check", *RIGHT, "--authority", "moon"], "'moon' is no authority"),
        (["check", *RIGHT, "--callsign", "!"], "is no callsign"),
        (["check", *RIGHT, "--callsign", "heavy"], "is no callsign"),
        (["check", *RIGHT, "--callsign", "\x08"], "is no callsign"),
        (["check", *RIGHT, "--engine", "vosk"], "Nothing is to be heard."),
        (["check", *RIGHT, "--auth", "uk"], "unrecognized arguments"),
        (["check", "--nonsense"], "unrecognized arguments"),
        (["check", RIGHT[0], "caf\udce9"], "no text"),
        (["check", RIGHT[0], "cross " * 20_000], "longer than"),
        (["check", "--pairs"], "expected one argument"),
        (["chek"], "invalid choice"),
        ([], "No command is given."),
    ],
)
def test_bad_input_is_told_in_one_line_and_exits_with_2(run, arguments, told):
    ran = run(*arguments)

    assert ran.status == 2
    assert ran.out == ""
    assert told in ran.err
    assert ran.err.startswith("readback: ")
    assert ran.err.count("\n") == 1


def test_a_file_that_is_no_recording_is_told_in_one_line(run, tmp_path):
    path = tmp_path / "notes.wav"
    path.write_text("no sound at all, only text")

    ran = run("check", RIGHT[0], "--heard", str(path))

    assert (ran.status, ran.err.count("\n")) == (2, 1)
    assert "notes.wav" in ran.err


def test_an_unknown_recogniser_is_told_with_the_known_ones(run, recording):
    ran = run("check", RIGHT[0], "--heard", str(recording), "--engine", "nosuch")

    assert ran.status == 2
    assert "pocketsphinx" in ran.err


TEXTS = st.text(max_size=60)
VOCABULARY = (
    "hold short of runway two seven left cross 27L roger correction larkspur 421 taxi via A brakes"
    " set released push back approved facing north start engine number one"
)
WORDS = st.lists(st.sampled_from(VOCABULARY.split()), max_size=12).map(" ".join)
OPTIONS = st.sampled_from(
    ["--json", "--authority", "uk", "--callsign", "--engine", "--pairs", "--heard", "--help", "--"]
)


@given(st.one_of(TEXTS, WORDS), st.one_of(TEXTS, WORDS))
def test_any_two_texts_get_a_verdict_or_one_line(instruction, readback):
    assert main(["check", "--", instruction, readback]) in (0, 1, 2)


@given(st.lists(st.one_of(OPTIONS, TEXTS), max_size=6))
def test_any_arguments_get_a_status(arguments):
    assert main(["check", *arguments]) in (0, 1, 2)


@given(st.lists(TEXTS, max_size=4))
def test_any_command_gets_a_status(arguments):
    assert main(arguments) in (0, 2)


SPOKEN = Path(__file__).parents[1] / "ear" / "data"


def test_a_name_that_is_guessed_is_shown_for_the_user_to_confirm(run):
    ran = run("check", "larkspur 23 cleared to brixham", "--heard", str(SPOKEN / "to_kelso.opus"))

    assert ran.status == 1
    assert ran.out.startswith("say again")
    assert ran.err.startswith('readback: the name "brixham" is listened for as B R IH')
    assert ".dict" in ran.err


def test_names_of_all_pairs_of_a_file_are_listened_for(run, tmp_path):
    said = [("kelso", "to_marlow"), ("marlow", "to_harlow"), ("harlow", "to_harlow")]
    lines = [
        json.dumps(
            {
                "instruction": f"larkspur 23 cleared to {name}",
                "heard": str(SPOKEN / f"{clip}.opus"),
            }
        )
        for name, clip in said
    ]
    path = tmp_path / "pairs.jsonl"
    path.write_text("\n".join(lines), "utf-8")

    ran = run("check", "--pairs", str(path), "--json")

    heard = [json.loads(line)["readback"]["text"] for line in ran.out.splitlines()]
    assert [text.split()[2] for text in heard] == ["marlow", "harlow", "harlow"]
