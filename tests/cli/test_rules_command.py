"""``readback rules``: what must be read back, printed as text and as JSON."""

import argparse
import json

import pytest

from readback.commands import rules
from readback.errors import InputError
from readback.judging.rules import AUTHORITIES
from readback.phraseology.grammar import load_grammar


def _run(*arguments):
    parser = argparse.ArgumentParser()
    rules.add_arguments(parser)
    return rules.run(parser.parse_args(arguments))


def test_one_call_is_shown_with_rule_and_source(capsys):
    assert _run("--authority", "faa", "hold short") == 0

    shown = capsys.readouterr().out
    assert "hold_short: read back (critical)." in shown
    assert "must come back: runway" in shown
    assert "source: FAA JO 7110.65, 2-4-3 b (seen)" in shown


def test_all_calls_are_shown_and_the_ways_of_saying(capsys):
    assert _run() == 0

    shown = capsys.readouterr().out
    assert all(f"  {call}: " in shown for call in load_grammar().calls)
    assert "POSITION AND HOLD: wrong; say LINE UP AND WAIT." in shown


def test_the_authorities_are_compared(capsys):
    assert _run("--authority", "all", "taxi", "--json") == 0

    books = json.loads(capsys.readouterr().out)
    assert [book["authority"] for book in books] == list(AUTHORITIES)
    answers = [book["calls"][0]["answer"] for book in books]
    assert answers == ["acknowledge", "acknowledge", "acknowledge", "readback"]


@pytest.mark.parametrize("authority", AUTHORITIES)
def test_json_has_every_call_with_its_source(authority, capsys):
    assert _run("--authority", authority, "--json") == 0

    book = json.loads(capsys.readouterr().out)
    assert [item["call"] for item in book["calls"]] == list(load_grammar().calls)
    assert all(item["source"] and item["seen"] and item["says"] for item in book["calls"])
    assert {item["status"] for item in book["wording"]} == {"accepted", "tolerated", "wrong"}


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["hold_shot"], "Did you mean hold_short"),
        (["moonwalking"], '"readback rules" lists them all'),
        (["--authority", "mars"], "Use one of icao, easa, faa, uk"),
    ],
)
def test_what_is_not_known_is_told(arguments, told):
    with pytest.raises(InputError, match=told):
        _run(*arguments)
