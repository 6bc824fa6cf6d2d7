import re
import shutil
from pathlib import Path

import pytest

from readback.errors import GrammarError, InputError
from readback.judging.check import check
from readback.judging.local import load_local
from readback.judging.rules import load_rule_file, load_rules
from readback.phraseology.grammar import load_grammar
from readback.phraseology.jsgf import read_jsgf

ROOT = Path(__file__).parents[2]
EXAMPLE = ROOT / "docs" / "examples" / "larkspur"
PAGE = (ROOT / "docs" / "local_wording.md").read_text(encoding="utf-8")


@pytest.fixture
def directory(tmp_path):
    shutil.copytree(EXAMPLE, tmp_path / "local")
    return tmp_path / "local"


def judged(local, instruction, readback, authority="icao"):
    return check(
        instruction,
        readback,
        authority=authority,
        local_grammars=local.grammars,
        local_rules=local.rules,
    )


def write(directory, name, *lines):
    (directory / name).write_text("\n".join(lines) + "\n", encoding="utf-8")


def put(directory, name, old, new):
    text = (directory / name).read_text(encoding="utf-8")
    assert text.count(old) == 1
    (directory / name).write_text(text.replace(old, new), encoding="utf-8")


def line_of(directory, name, words):
    lines = (directory / name).read_text(encoding="utf-8").splitlines()
    (found,) = [number for number, line in enumerate(lines, start=1) if words in line]
    return found


# ---- the worked example --------------------------------------------------------------------------


@pytest.mark.parametrize("authority", ["icao", "easa", "faa", "uk"])
@pytest.mark.parametrize(
    ("instruction", "readback", "verdict"),
    [
        (
            "Larkspur standard push, tail to the red line",
            "standard push, tail to the red line",
            "correct",
        ),
        (
            "Larkspur standard push, tail to the red line",
            "standard push, tail to the blue line",
            "incorrect",
        ),
        ("standard push, tail to the red line", "roger", "incomplete"),
        ("pin and hoses clear", "pin and hoses clear", "correct"),
        ("pin and hoses clear", "roger", "correct"),
        ("pin and hoses clear", "starting number one", "incorrect"),
        ("cast off", "casting off, stand by for visual at your left", "correct"),
        ("cast off", "casting off", "incomplete"),
        # Everything shipped is there as before.
        ("confirm brakes set", "brakes set", "correct"),
        ("confirm brakes set", "brakes released", "incorrect"),
    ],
)
def test_the_worked_example_is_judged(authority, instruction, readback, verdict):
    local = load_local(EXAMPLE)

    assert judged(local, instruction, readback, authority).verdict == verdict


def test_a_local_element_is_compared():
    verdict = judged(
        load_local(EXAMPLE),
        "standard push tail to the red line",
        "standard push tail to the blue line",
    )

    (mistake,) = verdict.mistakes
    assert (mistake.call, mistake.element) == ("standard_push", "stop_line")
    assert (mistake.expected, mistake.heard) == ("red", "blue")
    assert (mistake.severity, mistake.status) == ("critical", "wrong")
    assert mistake.source == "Larkspur ramp manual (fictional), 3.2 (seen)"


def test_a_replaced_wording_is_understood_no_more_and_its_heir_is_offered():
    verdict = judged(load_local(EXAMPLE), "disconnect", "casting off")

    assert verdict.verdict == "say again"
    (remark,) = [finding for finding in verdict.findings if finding.call == "wording"]
    assert (remark.heard, remark.expected) == ("disconnect", "CAST OFF")
    assert check("disconnect", "disconnecting").verdict == "incomplete"


def test_an_old_wording_may_be_kept_beside_the_new_one(directory):
    put(directory, "calls.jsgf", "= cast off [", "= <interphone.disconnect> | cast off [")
    local = load_local(directory)

    for words in ("disconnect", "cast off"):
        found = judged(local, words, "casting off, stand by for visual at your left")
        assert found.verdict == "correct", words


def test_a_replaced_call_keeps_its_place_on_the_headset():
    local = load_local(EXAMPLE)
    grammar = load_grammar(local.grammars)

    assert grammar.calls["disconnect"].family == "interphone"
    assert grammar.calls["standard_push"].family == "larkspur"


def test_local_calls_are_listened_for():
    local = load_local(EXAMPLE)
    local.require_pronunciations()

    heard = load_grammar(local.grammars).search(local.lexicons)

    assert {"hoses", "cast", "casting", "red", "blue"} <= set(heard.pronunciations)
    assert "cast" not in load_grammar().search().pronunciations


def test_an_operators_name_is_added_in_four_lines(tmp_path):
    write(
        tmp_path,
        "names.jsgf",
        "#JSGF V1.0;",
        "grammar callsigns;",
        "<operator> = larkspur | northgate | bluefin | heronry;",
    )
    local = load_local(tmp_path)

    verdict = judged(local, "hold position, Heronry 42", "holding position, Heronry 42")

    assert verdict.verdict == "correct"
    assert load_grammar(local.grammars).vocabulary["heronry"]


def test_a_file_of_rules_alone_changes_a_shipped_call(tmp_path):
    write(
        tmp_path,
        "rules.yaml",
        "authority: larkspur",
        "title: Larkspur",
        "sources: {manual: {document: Larkspur ramp manual, seen: no source}}",
        "calls:",
        "  chocks:",
        "    answer: readback",
        "    elements: {chock_state: required}",
        "    severity: critical",
        "    says: Chocks are read back.",
        "    source: manual",
    )
    local = load_local(tmp_path)

    assert check("chocks removed", "roger").verdict == "correct"
    assert judged(local, "chocks removed", "roger").verdict == "incomplete"


def test_elements_are_read_before_the_calls_that_carry_them():
    assert [path.name for path in load_local(EXAMPLE).grammars] == ["elements.jsgf", "calls.jsgf"]


def test_other_and_hidden_files_do_not_count(directory):
    write(directory, "README.md", "# Larkspur")
    write(directory, "._calls.jsgf", "no grammar")

    assert load_local(directory).grammars == load_local(directory).grammars
    assert len(load_local(directory).grammars) == 2


# ---- mistakes: file, line and what is wrong ------------------------------------------------------


def mistake(directory):
    with pytest.raises(GrammarError) as raised:
        load_local(directory)
    return str(raised.value)


@pytest.mark.parametrize(
    ("file", "old", "new", "where", "what"),
    [
        # The grammar.
        ("calls.jsgf", "#JSGF V1.0;", "JSGF;", "line 1", "does not start with '#JSGF V1.0;'"),
        ("calls.jsgf", "are] clear;", "are] clear", "<disconnect>", "does not end with ';'"),
        ("calls.jsgf", "[(headset | interphone)]", "[(headset | )]", "cast off", "is empty"),
        ("calls.jsgf", "[the] <stop_line>", "[the] <stopline>", "<standard_push>", "<stopline>"),
        ("calls.jsgf", "<stop_line>", "<elements.line>", "<standard_push>", "<elements.line>"),
        ("calls.jsgf", "casting off", "casting-off", "<disconnecting>", "Write 'casting off'."),
        ("calls.jsgf", "cast off [", "castoff rwy [", "<disconnect>", "Write 'runway'."),
        (
            "calls.jsgf",
            "public <pin_and_hoses>",
            "public <hose> = hose clear;\npublic <pin_and_hoses>",
            "<hose>",
            "call <hose> has no rule under icao",
        ),
        ("calls.jsgf", "<disconnecting>", "<disconnect>", "cast off [", "is written twice"),
        ("elements.jsgf", "red line {red}", "<stop_line>", "<stop_line> |", "refers to itself"),
        ("elements.jsgf", "red line {red}", "red line {red", "red line", "unexpected '{'"),
        # The rules.
        ("rules.yaml", "  standard_push:", "  standart_push:", "standart", "'standart_push'"),
        ("rules.yaml", "answer: readback", "answer: repeat", "answer: repeat", "'repeat'"),
        ("rules.yaml", "stop_line: required", "line: required", "line: req", "but stop_line"),
        ("rules.yaml", "{stop_line: required}", "{}", "elements: {}", "nothing of stop_line"),
        ("rules.yaml", "unissued: critical", "weight: critical", "weight:", "is no field here"),
        ("rules.yaml", "answer: acknowledge", "answer: [", "answer: [", ""),
        ("rules.yaml", "offer: CAST OFF", "ofer: CAST OFF", "ofer", "is no field here"),
        (
            "rules.yaml",
            "unissued: critical",
            "answered_by: [standart_push]",
            "answered_by",
            "no grammar has a call 'standart_push'",
        ),
        (
            "rules.yaml",
            "unissued: critical",
            "reply_elements: [line]",
            "reply_elements",
            "no grammar has an element 'line'",
        ),
        (
            "rules.yaml",
            "title: Larkspur ramp procedures",
            "base: icao\ntitle: Larkspur ramp procedures",
            "base: icao",
            "is not used in local rules",
        ),
        # The lexicon.
        ("lexicon.dict", "line L AY N", "line L EYE N", "L EYE N", "'EYE' is no phone"),
        ("lexicon.dict", "red R EH D", "red", "\nred", "not 'word PH PH ...'"),
    ],
)
def test_a_mistake_is_told_with_file_and_line(directory, file, old, new, where, what):
    put(directory, file, old, new)

    told = mistake(directory)

    text = (directory / file).read_text(encoding="utf-8")
    if where.startswith("line "):
        line = where
    else:
        line = f"line {text[: text.index(where) + len(where)].count(chr(10)) + 1}"
    # libyaml tells an open bracket where it finds that nothing closes it.
    assert told.startswith(f"{directory / file}, "), told
    assert f"{line}:" in told or (new == "answer: [" and ", line " in told), told
    assert what in told, told


def test_a_call_of_two_files_is_told(directory):
    write(
        directory,
        "more.jsgf",
        "#JSGF V1.0;",
        "grammar more;",
        "public <pin_and_hoses> = hoses off;",
    )

    told = mistake(directory)

    assert told.startswith(f"{directory / 'more.jsgf'}, line 3: <pin_and_hoses> is written in ")


def test_a_word_without_pronunciation_is_told_before_listening(directory):
    put(directory, "lexicon.dict", "hoses HH OW Z AH Z\n", "")
    local = load_local(directory)

    with pytest.raises(GrammarError, match="no pronunciation for hoses") as raised:
        local.require_pronunciations()

    line = line_of(directory, "calls.jsgf", "<pin_and_hoses>")
    assert f"calls.jsgf, line {line}: " in str(raised.value)
    # Typed checks need no pronunciation.
    assert judged(local, "pin and hoses clear", "roger").verdict == "correct"


@pytest.mark.parametrize(
    ("name", "what"),
    [("nowhere", "no such directory"), ("empty", "holds no local wording"), ("file", "is no dir")],
)
def test_a_directory_without_local_wording_is_told(tmp_path, name, what):
    (tmp_path / "empty").mkdir()
    write(tmp_path, "file", "text")

    with pytest.raises(InputError, match=what):
        load_local(tmp_path / name)


def test_a_file_that_is_no_text_is_told(directory):
    (directory / "calls.jsgf").write_bytes(b"#JSGF V1.0;\n\xff\xfe")

    assert mistake(directory).startswith(f"{directory / 'calls.jsgf'}: cannot be read")


def test_shipped_rules_hold_to_what_is_asked_of_local_ones():
    # The checks would be wrong if they refused what the shipped files do.
    grammar = load_grammar()

    for authority in ("icao", "easa", "faa", "uk"):
        book = load_rules(authority)
        assert set(book.calls) <= set(grammar.calls)
        assert set(grammar.calls) <= set(book.calls) | set(book.silent)


# ---- the page ------------------------------------------------------------------------------------


def blocks(language):
    fenced = re.findall(r"^```(\w*)\n(.*?)^```$", PAGE, re.MULTILINE | re.DOTALL)
    return [text for named, text in fenced if named == language]


def test_the_python_of_the_page_runs(monkeypatch):
    monkeypatch.chdir(ROOT)
    (code,) = blocks("python")
    names = {}

    exec(code, names)

    assert names["verdict"].verdict == "incorrect"


def test_the_grammars_of_the_page_are_read():
    grammars = [text for text in blocks("") if text.startswith("#JSGF")]

    names = [read_jsgf(text, "page").name for text in grammars]

    assert names == ["larkspur", "elements", "callsigns"]


def test_the_rules_of_the_page_are_read(tmp_path):
    (rules,) = blocks("yaml")
    write(tmp_path, "rules.yaml", rules)

    file = load_rule_file(tmp_path / "rules.yaml")

    assert list(file.calls) == ["standard_push"]
    assert [item.offer for item in file.wording] == ["CAST OFF"]


def test_the_mistakes_of_the_page_are_told_so(directory):
    (told,) = [text for text in blocks("") if text.startswith("calls.jsgf, line")]
    changes = [
        ("calls.jsgf", "casting off", "casting-off"),
        ("calls.jsgf", "casting off [now];", "casting off [now];\npublic <hose> = hose clear;"),
        ("rules.yaml", "stop_line: required", "line: required"),
        ("lexicon.dict", "line L AY N", "line L EYE N"),
    ]

    found = []
    for file, old, new in changes:
        put(directory, file, old, new)
        found.append(mistake(directory).removeprefix(f"{directory}/"))
        put(directory, file, new, old)

    assert found == told.splitlines()
