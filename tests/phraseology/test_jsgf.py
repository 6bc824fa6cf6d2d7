"""JSGF files read, and their mistakes told with file and line.

The constructs are those of the JSpeech Grammar Format, W3C Note 05 June 2000.
"""

import pytest

from readback.errors import GrammarError
from readback.phraseology.grammar import GRAMMAR_FILES, Grammar, load_grammar
from readback.phraseology.jsgf import (
    Alternatives,
    Reference,
    Repeat,
    Sequence,
    Tagged,
    Token,
    load_jsgf,
    read_jsgf,
)
from readback.phraseology.parser import parse

HEADER = "#JSGF V1.0;\ngrammar local;\n"


def expansion(body):
    return read_jsgf(f"{HEADER}public <a> = {body};\n", "local.jsgf").rules[0].expansion


@pytest.mark.parametrize(
    ("body", "expected"),
    [
        ("hello", Token("hello")),
        ("Hello", Token("hello")),
        ("stand by", Sequence((Token("stand"), Token("by")))),
        ("one | two", Alternatives((Token("one"), Token("two")))),
        ("/10/ one | /2.5/ two", Alternatives((Token("one"), Token("two")))),
        ("[please]", Repeat(Token("please"), 0, once=True)),
        ("one*", Repeat(Token("one"), 0)),
        ("one+", Repeat(Token("one"), 1)),
        ("one {1}", Tagged(Token("one"), "1")),
        ("(one | two) three", None),
        ("<b>", Reference("b")),
        ("<other.b>", Reference("other.b")),
        ("<NULL>", Sequence(())),
        ('"push back"', Sequence((Token("push"), Token("back")))),
        ("one // a remark\n | two", Alternatives((Token("one"), Token("two")))),
        ("one /* a remark\n of two lines */ | two", Alternatives((Token("one"), Token("two")))),
    ],
)
def test_every_construct_is_read(body, expected):
    read = expansion(body)

    if expected is None:
        assert read == Sequence((Alternatives((Token("one"), Token("two"))), Token("three")))
    else:
        assert read == expected


@pytest.mark.parametrize(
    ("text", "line", "what"),
    [
        ("grammar a;\n", 1, "does not start with"),
        ("", 1, "does not start with"),
        ("#JSGF V1.0;\npublic <a> = b;\n", 2, "grammar is missing"),
        (f"{HEADER}public <a> = ;\n", 3, "an alternative is empty"),
        (f"{HEADER}public <a> = b |;\n", 3, "an alternative is empty"),
        (f"{HEADER}public <a> = (b;\n", 3, ") is missing"),
        (f"{HEADER}public <a> = [b;\n", 3, "] is missing"),
        (f"{HEADER}public <a> = b\n", 4, "; is missing"),
        (f"{HEADER}public a = b;\n", 3, "a reference is missing"),
        (f"{HEADER}\n\npublic <a> = b > c;\n", 5, "unexpected"),
        (f"{HEADER}public <a> = b;\npublic <a> = c;\n", 3, "written twice"),
        (f"{HEADER}public <a> = {{tag}};\n", 3, "unexpected"),
    ],
)
def test_a_mistake_is_told_with_file_and_line(text, line, what):
    with pytest.raises(GrammarError) as caught:
        read_jsgf(text, "local.jsgf")

    assert f"local.jsgf, line {line}" in str(caught.value)
    assert what in str(caught.value)


def test_a_missing_file_is_told(tmp_path):
    with pytest.raises(GrammarError, match=r"nowhere\.jsgf: cannot be read"):
        load_jsgf(tmp_path / "nowhere.jsgf")


def test_a_file_that_is_no_text_is_told(tmp_path):
    path = tmp_path / "odd.jsgf"
    path.write_bytes(b"\xff\xfe\x00\x81")

    with pytest.raises(GrammarError, match=r"odd\.jsgf: cannot be read"):
        load_jsgf(path)


def local(tmp_path, body, head="import <elements.*>;\n"):
    path = tmp_path / "local.jsgf"
    path.write_text(HEADER + head + body, encoding="utf-8")
    return load_grammar((path,))


def names(grammar, text):
    return [call.name for call in parse(text, grammar).calls]


def test_a_local_file_adds_a_call(tmp_path):
    grammar = local(tmp_path, "public <wing_walker> = wing walkers [are] in place;\n")

    assert names(grammar, "wing walkers in place") == ["wing_walker"]
    assert names(grammar, "hold position") == ["hold_position"]


def test_a_local_file_replaces_a_call(tmp_path):
    grammar = local(tmp_path, "public <hold_push> = freeze the push;\n")

    assert names(grammar, "freeze the push") == ["hold_push"]
    assert "hold_push" not in names(grammar, "hold the push")


def test_a_local_call_carries_the_elements_of_the_shipped_files(tmp_path):
    grammar = local(tmp_path, "public <push_to_spot> = push to spot <stand>;\n")

    (call,) = parse("push to spot one two left", grammar).calls

    assert [(item.name, item.value) for item in call.elements] == [("stand", "12L")]


@pytest.mark.parametrize(
    ("body", "head", "what"),
    [
        ("public <a> = <nothing>;\n", "import <elements.*>;\n", "<nothing> is used but nowhere"),
        ("public <a> = <runway>;\n", "", "<runway> is used but nowhere"),
        ("public <a> = <b>;\n<b> = x <c>;\n<c> = <b>;\n", "", "refers to itself"),
        ("public <a> = x <a>;\n", "", "refers to itself"),
    ],
)
def test_a_wrong_rule_is_told_with_its_file(tmp_path, body, head, what):
    with pytest.raises(GrammarError) as caught:
        local(tmp_path, body, head)

    assert "local.jsgf" in str(caught.value)
    assert what in str(caught.value)


def test_the_shipped_files_need_nothing_else():
    grammar = load_grammar()

    assert len(grammar.calls) > 100
    assert {call.family for call in grammar.calls.values()} == set(GRAMMAR_FILES) - {
        "elements",
        "transmission",
    }


def test_no_grammar_file_has_no_calls():
    assert Grammar([]).calls == {}
