"""The rules files, how their mistakes are told, and the page made from them."""

import re
from itertools import product
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from readback.data import data_directory
from readback.errors import GrammarError
from readback.judging.check import check
from readback.judging.model import Severity
from readback.judging.reference import main as make_reference
from readback.judging.rules import AUTHORITIES, RuleFile, load_rule_file, load_rules
from readback.judging.yaml_text import read_yaml
from readback.phraseology.grammar import load_grammar
from readback.phraseology.parser import parse
from readback.phraseology.readable import elements_in

RULES = data_directory("grammars") / "rules"
FILES = ("icao", "easa", "faa", "uk", "interphone")
PAGE = Path(__file__).parents[2] / "docs" / "phraseology.md"
GRAMMAR = load_grammar()
EVERY_CALL = list(GRAMMAR.calls)

DOCUMENTS = (
    "ICAO Doc 4444 (PANS-ATM), 16th edition 2016",
    "ICAO Doc 9432, 4th edition 2007",
    "ICAO Doc 9870, 1st edition 2007, Appendix A",
    "ICAO Annex 10 Volume II",
    "ICAO Annex 11",
    "Regulation (EU) 923/2012 (SERA) as amended",
    "FAA JO 7110.65",
    "FAA AIM, effective 2026-07-09",
    "CAP 413, UK Radiotelephony Manual",
)
"""Publications with paragraphs; a source in one of them names the paragraph."""

# What can kill is critical under every authority (severity is the project's own scale).
CRITICAL = [
    "runway",
    "hold_short",
    "cross",
    "line_up",
    "enter_runway",
    "taxi_on_runway",
    "backtrack",
    "take_off",
    "land",
    "condition",
    "hold_position",
    "stop",
    "cancel_take_off",
    "push_back",
    "push_direction",
    "push_onto",
    "push_clearance",
    "hold_push",
    "stop_push",
    "brakes_order",
    "brakes",
    "bypass_pin",
    "start_clearance",
    "starting_engine",
    "start_sequence",
    "hold_start",
    "engine_hazard",
    "start_abandoned",
    "engine_stable",
    "disconnect",
]

# Said with what each authority's list names as always read back: ICAO Doc 4444, 4.5.7.5.1 b and c;
# SERA.8015(e)(1); FAA AIM 4-3-18 a9 and JO 7110.65 2-4-3; CAP 413, 2.68.
RUNWAY_INSTRUCTIONS = {
    "runway": "runway two seven left",
    "hold_short": "hold short of runway two seven left",
    "cross": "cross runway two seven left",
    "line_up": "line up and wait runway two seven left",
    "enter_runway": "enter runway two seven left",
    "taxi_on_runway": "taxi on runway two seven left",
    "backtrack": "backtrack runway two seven left",
    "take_off": "runway two seven left cleared for take off",
    "land": "runway two seven left cleared to land",
}

BLANKS = {
    "runway": "two seven left",
    "qnh": "one zero one three",
    "altimeter": "two nine nine two",
    "squawk": "four four zero eight",
    "frequency": "one two one decimal seven",
    "unit": "ground",
    "time": "four nine",
    "minutes": "five",
    "traffic": "landing traffic",
    "route": "alfa bravo",
    "holding_point": "charlie one",
    "crossing_point": "delta",
    "facing": "north",
    "engine": "two",
    "side": "left",
}


def _books():
    return {authority: load_rules(authority) for authority in AUTHORITIES}


# ---- what the rules say --------------------------------------------------------------------------


@pytest.mark.parametrize("authority", AUTHORITIES)
def test_every_call_has_a_rule_or_a_reason_for_silence(authority):
    book = load_rules(authority)

    book.refuse_unruled(EVERY_CALL)

    assert not book.calls.keys() & book.silent.keys()


def test_a_call_without_a_rule_is_refused():
    with pytest.raises(GrammarError, match="no rule for moonwalk"):
        load_rules("uk").refuse_unruled(["cross", "moonwalk"])


@pytest.mark.parametrize("authority", AUTHORITIES)
def test_rules_name_only_calls_and_elements_of_the_grammar(authority):
    book = load_rules(authority)
    elements = {name.split("__")[0] for name in GRAMMAR.elements}

    for name, rule in book.calls.items():
        others = (*rule.answered_by, *rule.carried_by, *rule.stands_for, *rule.acknowledged_by)
        assert {name, *others} <= GRAMMAR.calls.keys(), name
        assert {*rule.elements, *rule.reply_elements} <= elements, name
        assert rule.answer != "reply" or rule.answered_by, name
    assert book.silent.keys() <= GRAMMAR.calls.keys()


@pytest.mark.parametrize("name", FILES)
def test_every_source_is_named_with_document_and_paragraph(name):
    sources = load_rule_file(RULES / f"{name}.yaml").sources

    for key, source in sources.items():
        practice = source.document == "common practice, no source"
        assert practice == (source.seen == "no source"), key
        cited = any(source.document.startswith(document) for document in DOCUMENTS)
        assert bool(source.paragraph) == cited, key


@pytest.mark.parametrize("name", FILES)
def test_no_source_is_without_a_rule(name):
    file = load_rule_file(RULES / f"{name}.yaml")

    used = {rule.source for rule in (*file.calls.values(), *file.silent, *file.wording)}
    assert used | file.also_in.keys() == file.sources.keys()


@pytest.mark.parametrize(("authority", "call"), list(product(AUTHORITIES, EVERY_CALL)))
def test_every_call_has_its_source(authority, call):
    book = load_rules(authority)

    assert book.source(call)
    assert book.how_seen(call) in ("seen", "seen (quoted)", "from memory", "no source")


@pytest.mark.parametrize(("authority", "call"), list(product(AUTHORITIES, CRITICAL)))
def test_what_can_kill_is_critical(authority, call):
    assert load_rules(authority).calls[call].severity is Severity.CRITICAL


@pytest.mark.parametrize(
    ("authority", "call", "word"),
    list(product(AUTHORITIES, RUNWAY_INSTRUCTIONS, ["roger", "wilco", "affirm", "okay", ""])),
)
def test_no_word_replaces_a_runway(authority, call, word):
    instruction = f"Larkspur four two one, {RUNWAY_INSTRUCTIONS[call]}"

    verdict = check(instruction, f"{word} Larkspur four two one", authority=authority)

    assert call in {item.name for item in verdict.instruction.calls}
    assert verdict.verdict == "incomplete"
    missing = [finding for finding in verdict.mistakes if finding.element == "runway"]
    assert [finding.severity for finding in missing] == [Severity.CRITICAL]


@pytest.mark.parametrize("authority", AUTHORITIES)
def test_a_runway_may_be_left_out_only_where_none_lists_it(authority):
    """Vacating and reporting are in none of the lists of what is always read back."""
    book = load_rules(authority)
    carriers = {name for name in EVERY_CALL if "runway" in elements_in(GRAMMAR, name)}

    lenient = {
        name
        for name in carriers & book.calls.keys()
        if book.calls[name].elements.get("runway") != "required"
    }
    assert lenient <= {"vacate", "report"}


# ---- where the authorities differ (sheet sections 3 and 8) ---------------------------------------


@pytest.mark.parametrize(
    ("call", "answers"),
    [
        # Annex 11 3.7.3.1.1; SERA.8015(e)(2); AIM 4-3-18 d1; CAP 413 2.68.
        ("taxi", ("acknowledge", "acknowledge", "acknowledge", "readback")),
        ("tow_approved", ("acknowledge", "acknowledge", "acknowledge", "readback")),
        # Doc 9432 2.8.2.1; SERA.8015(e)(1)(iii); AIM 4-2-3 d; CAP 413 2.68.
        ("contact", ("readback", "readback", "acknowledge", "readback")),
        # Doc 4444 4.5.7.5.1 c; SERA.8015(e)(1); JO 7110.65 2-4-3 note 1a; CAP 413 2.68.
        ("qnh", ("readback", "readback", "acknowledge", "readback")),
        ("squawk", ("readback", "readback", "acknowledge", "readback")),
        ("route_clearance", ("readback", "readback", "acknowledge", "readback")),
        # Doc 4444 12.3.4.8 note; JO 7110.65 2-4-3 note 1a.
        ("hold_position", ("readback", "readback", "acknowledge", "readback")),
        # Doc 4444 4.5.7.5.1 b and its like: the same everywhere.
        ("hold_short", ("readback",) * 4),
        ("condition", ("readback",) * 4),
    ],
)
def test_authorities_differ_as_published(call, answers):
    books = _books()

    assert tuple(books[name].calls[call].answer for name in AUTHORITIES) == answers


@pytest.mark.parametrize("authority", AUTHORITIES)
def test_each_authority_cites_its_own_list_for_a_hold_short(authority):
    own = {"icao": "ICAO", "easa": "Regulation (EU)", "faa": "FAA", "uk": "CAP 413"}

    assert (load_rules(authority).source("hold_short") or "").startswith(own[authority])


@pytest.mark.parametrize("call", [name for name in EVERY_CALL if name != "callsign"])
def test_the_interphone_is_the_same_everywhere(call):
    if GRAMMAR.calls[call].family == "interphone":
        sources = {book.source(call) for book in _books().values()}
        assert len(sources) == 1
    else:
        assert call not in load_rule_file(RULES / "interphone.yaml").calls


# ---- standard words and wordings -----------------------------------------------------------------


def _standard_words():
    for authority, book in _books().items():
        for name, rule in book.calls.items():
            if rule.standard:
                yield pytest.param(name, rule.standard, id=f"{authority} {name}")


@pytest.mark.parametrize(("call", "standard"), list(_standard_words()))
def test_standard_words_parse_as_their_call(call, standard):
    filled = re.sub(r"\((\w+)\)", lambda blank: BLANKS[blank[1]], standard)

    for text in (re.sub(r"\[.*?\] ?", "", filled), filled.replace("[", "").replace("]", "")):
        reading = parse(text.lower(), GRAMMAR)
        assert call in [item.name for item in reading.calls], text
        assert not reading.unparsed, text


def _wording(authority, words):
    return [item for item in load_rules(authority).wording if item.words == words]


@pytest.mark.parametrize(
    ("authority", "words", "status", "offer"),
    [
        # Doc 9432 2.6; Pilot/Controller Glossary.
        ("icao", "affirmative", "tolerated", "AFFIRM"),
        ("faa", "affirmative", "accepted", "AFFIRMATIVE"),
        ("faa", "affirm", "tolerated", "AFFIRMATIVE"),
        ("faa", "verify", "accepted", "VERIFY"),
        ("easa", "verify", "tolerated", "CONFIRM"),
        # Annex 10 5.2.1.4; AIM 4-2-8 e.
        ("uk", "one point", "tolerated", "DECIMAL"),
        ("faa", "nine point", "accepted", "POINT"),
        # AIM 5-2-5; FAA notice of June 2010.
        ("faa", "position and hold", "wrong", "LINE UP AND WAIT"),
        ("uk", "position and hold", "wrong", "LINE UP AND WAIT"),
        # Doc 9432 2.8.3.3.
        ("icao", "ready for take off", "wrong", "READY FOR DEPARTURE"),
        # JO 7110.65 3-7-1.
        ("faa", "cleared to taxi", "wrong", "TAXI"),
        ("icao", "cleared to taxi", "tolerated", "TAXI TO"),
        # CAP 413 4.12.
        ("uk", "taxi to holding point", "tolerated", "TAXI HOLDING POINT"),
    ],
)
def test_a_way_of_saying_is_held_as_published(authority, words, status, offer):
    found = [item for item in _wording(authority, words) if item.family != "interphone"]

    assert [(item.status, item.offer) for item in found] == [(status, offer)]


def test_taxi_to_is_remarked_only_in_the_united_kingdom():
    held = [name for name in AUTHORITIES if _wording(name, "taxi to holding point")]

    assert held == ["uk"]


@pytest.mark.parametrize("authority", AUTHORITIES)
def test_every_wording_says_why_and_where_from(authority):
    for item in load_rules(authority).wording:
        assert item.says.endswith(".")
        assert "(" in item.source or item.source == "common practice, no source"
        assert "<" not in item.words


# ---- files with mistakes -------------------------------------------------------------------------

GOOD = """\
authority: local
title: Port Ellery
sources:
  book: {document: Ramp handbook, paragraph: "3", seen: seen}
calls:
  chocks:
    answer: acknowledge
    says: It is acknowledged.
    source: book
silent:
  - {calls: [doors], says: Nothing is due., source: book}
wording:
  - {words: chocks gone, status: wrong, offer: CHOCKS REMOVED, says: Say removed., source: book}
"""


def _load(tmp_path, text):
    path = tmp_path / "local.yaml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    return load_rule_file(path)


def test_a_local_file_adds_and_replaces(tmp_path):
    path = tmp_path / "local.yaml"
    path.write_text(GOOD, encoding="utf-8")

    book = load_rules("uk", (path,))

    assert book.source("chocks") == "Ramp handbook, 3 (seen)"
    assert "doors" in book.silent
    assert "doors" not in book.calls
    assert "chocks gone" in [item.words for item in book.wording]
    assert book.title == "United Kingdom"


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("answer: acknowledge", "answer: shout", ("line 7", "calls.chocks.answer", "'readback'")),
        ("answer: acknowledge", "anwser: none", ("calls.chocks.answer", "missing")),
        ("says: It is", "sais: It is", ("line 6", "calls.chocks.says: is missing")),
        (
            "answer: acknowledge",
            "answer: acknowledge\n    tone: loud",
            ("line 8", "calls.chocks.tone", "no field", "answered_by"),
        ),
        (
            "answer: acknowledge",
            "answer: acknowledge\n    severity: grave",
            ("line 8", "'grave'", "'critical'"),
        ),
        (
            "answer: acknowledge",
            "answer: acknowledge\n    echo: perhaps",
            ("line 8", "echo", "true or false"),
        ),
        (
            "answer: acknowledge",
            "answer: acknowledge\n    elements: {chock_state: maybe}",
            ("line 8", "chock_state", "'optional'"),
        ),
        ("    source: book", "    source: bok", ("line 9", "'bok'", "Known here: book")),
        ("seen: seen", "seen: heard", ("line 4", "sources.book.seen", "'from memory'")),
        ("status: wrong", "status: awful", ("line 13", "wording.0.status", "'tolerated'")),
        ("chocks gone", "Pushback gone", ("line 13", "wording.0.words", "'push back gone'")),
        ("title: Port Ellery", "titel: Port Ellery", ("title", "is missing")),
        ("  chocks:", "  chocks:\n    answer: none\n  chocks:", ("line 8", "written twice")),
        ("title: Port Ellery", "title: [Port", ("line",)),
        ("title: Port Ellery", "title: !!python/name:os.system", ("line 2", "tag")),
        ("title: Port Ellery", "title:\tPort\n\tEllery", ("line",)),
        ("title: Port Ellery", "? [a, b]\n: c", ("line", "not a word")),
        ("calls:\n", "also_in: {bok: [chocks]}\ncalls:\n", ("line 5", "also_in.bok", "'bok'")),
    ],
)
def test_a_mistake_is_told_with_file_line_and_what_is_allowed(tmp_path, old, new, told):
    assert old in GOOD

    with pytest.raises(GrammarError) as caught:
        _load(tmp_path, GOOD.replace(old, new, 1))

    message = str(caught.value)
    assert "local.yaml" in message
    assert "\n" not in message
    for part in told:
        assert part in message, message


@pytest.mark.parametrize("text", ["", "- a list", "just words", "null", b"\xff\xfe\x00", b"\x00"])
def test_what_is_no_rules_file_is_told_in_one_line(tmp_path, text):
    with pytest.raises(GrammarError) as caught:
        _load(tmp_path, text)

    assert "\n" not in str(caught.value)


def test_a_missing_file_and_a_directory_are_told(tmp_path):
    for path in (tmp_path / "nowhere.yaml", tmp_path):
        with pytest.raises(GrammarError, match="cannot be read"):
            load_rule_file(path)


LAUGHS = "a0: &a0 [x, x, x, x, x, x, x, x, x, x]\n" + "".join(
    f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 10)}]\n" for n in range(1, 30)
)
MERGES = "a0: &a0 {k: v}\n" + "".join(
    f"a{n}: &a{n} {{<<: [{', '.join([f'*a{n - 1}'] * 10)}]}}\n" for n in range(1, 30)
)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (LAUGHS, "stands for more than"),  # would be 10 to the 30th parts
        (MERGES, "stands for more than"),
        ("a: &a [*a]", "refers to itself"),
        ("[" * 500, "nested deeper"),
        ("{a: " * 500, "nested deeper"),
        ("[" * 500_000, "nest"),
        ("\n".join(" " * n + f"k{n}:" for n in range(400)), "nested deeper"),
        ("title: " + "x" * 1_000_001, "larger than 1 MB"),
    ],
)
def test_a_file_that_grows_without_bound_is_refused(tmp_path, text, told):
    with pytest.raises(GrammarError, match=told):
        _load(tmp_path, text)


SHIPPED = [(RULES / f"{name}.yaml").read_text(encoding="utf-8") for name in FILES]
BITS = st.one_of(
    st.text(max_size=12),
    st.sampled_from(
        ["&a", "*a", "<<:", "!!int", "- ", "{", "}", "[", "]", ": ", "\n", "null", "\t"]
    ),
)


@settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    text=st.sampled_from([GOOD, *SHIPPED]),
    edits=st.lists(st.tuples(st.floats(0, 1), st.integers(0, 40), BITS), max_size=4),
)
def test_a_damaged_file_raises_nothing_but_a_grammar_error(tmp_path, text, edits):
    for place, dropped, added in edits:
        at = int(place * len(text))
        text = text[:at] + added + text[at + dropped :]

    try:
        result = _load(tmp_path, text.encode("utf-8", "surrogatepass"))
    except GrammarError as error:
        result = error

    assert isinstance(result, RuleFile | GrammarError)


@settings(max_examples=200, deadline=None)
@given(st.lists(BITS, max_size=30).map("".join))
def test_any_text_reads_or_is_refused(text):
    try:
        read = read_yaml(text, "any.yaml")
    except GrammarError as error:
        assert str(error).startswith("any.yaml")
    else:
        assert read.content is None or isinstance(read.content, str | list | dict)


# ---- the reference page --------------------------------------------------------------------------


def test_the_reference_page_is_made_from_grammar_and_rules_as_they_are():
    assert make_reference([str(PAGE), "--check"]) == 0


def test_a_stale_reference_page_is_told(tmp_path, capsys):
    page = tmp_path / "phraseology.md"
    assert make_reference([str(page), "--check"]) == 1
    assert make_reference([str(page)]) == 0
    assert make_reference([str(page), "--check"]) == 0

    page.write_text(page.read_text(encoding="utf-8") + "by hand\n", encoding="utf-8")

    assert make_reference([str(page), "--check"]) == 1
    assert "is stale" in capsys.readouterr().err


@pytest.mark.parametrize("call", EVERY_CALL)
def test_the_reference_page_has_every_call(call):
    page = PAGE.read_text(encoding="utf-8")

    assert f"\n`{call}`. **" in page
