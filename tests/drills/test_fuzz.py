"""Any drill file gives a drill or one line that says what is wrong, never a traceback."""

import copy
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from readback.cli import main
from readback.commands.terminal import escape
from readback.drills.files import find_drills, load_drill
from readback.drills.trial import validate
from readback.errors import GrammarError
from readback.judging.yaml_text import load_yaml

TEXTS = tuple(path.read_text(encoding="utf-8") for path in find_drills().values())
CONTENTS = tuple(load_yaml(path).content for path in find_drills().values())
ODD = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-5, 10**20),
    st.floats(),
    st.text(max_size=20),
    st.sampled_from(
        ["$nose", "$", "$x", "27L", "headset", "resume", "end", "set", "brakes", "callsign", "1 1"]
    ),
    st.lists(st.text(max_size=5), max_size=3),
    st.dictionaries(st.text(max_size=5), st.text(max_size=5), max_size=3),
)


def places(content, path=()):
    """List the paths of every part."""
    yield path
    items = content.items() if isinstance(content, dict) else ()
    items = enumerate(content) if isinstance(content, list) else items
    for key, value in items:
        yield from places(value, (*path, key))


def changed(content, path, what, value):
    content = copy.deepcopy(content)
    if not path:
        return value
    here = content
    for key in path[:-1]:
        here = here[key]
    if what == "replace":
        here[path[-1]] = value
    elif what == "delete":
        del here[path[-1]]
    elif isinstance(here, dict):
        here[str(value)[:12] or "x"] = here[path[-1]]
    else:
        here.append(here[path[-1]])
    return content


@st.composite
def mutated(draw):
    content = draw(st.sampled_from(CONTENTS))
    for _ in range(draw(st.integers(1, 2))):
        path = draw(st.sampled_from(list(places(content))))
        what = draw(st.sampled_from(["replace", "delete", "add"]))
        content = changed(content, path, what, draw(ODD))
    return yaml.safe_dump(content, allow_unicode=True)


@st.composite
def scrambled(draw):
    text = draw(st.sampled_from(TEXTS))
    start = draw(st.integers(0, len(text)))
    end = min(len(text), start + draw(st.integers(0, 40)))
    return text[:start] + draw(st.text(max_size=12)) + text[end:]


def refused_in_one_line(text: str, read) -> bool:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "drill.yaml"
        path.write_text(text, encoding="utf-8", errors="surrogatepass")
        try:
            read(path)
        except GrammarError as error:
            assert str(error).startswith(str(path))
            # As it is told: what would break a line is shown as its code.
            assert len(escape(str(error)).splitlines()) == 1
            return True
    return False


@settings(max_examples=300, deadline=None)
@given(mutated())
def test_a_drill_file_with_a_field_changed_loads_or_is_refused(text):
    assert refused_in_one_line(text, load_drill) in (True, False)


@settings(max_examples=300, deadline=None)
@given(scrambled())
def test_any_text_loads_or_is_refused(text):
    assert refused_in_one_line(text, load_drill) in (True, False)


@settings(max_examples=25, deadline=None)
@given(mutated())
def test_what_loads_can_be_tried_out_or_is_refused(text):
    assert refused_in_one_line(text, validate) in (True, False)


@pytest.mark.parametrize("number", range(5))
def test_a_wrong_file_gives_one_line_and_status_2(tmp_path, capsys, number):
    texts = ["", "[]", "title: x", "steps: [1", TEXTS[0].replace("aircraft:", "aeroplane:")]
    path = tmp_path / "drill.yaml"
    path.write_text(texts[number], encoding="utf-8")

    status = main(["drills", "validate", str(path)])

    out, err = capsys.readouterr()
    assert (status, out) == (2, "")
    assert err.count("\n") == 1
    assert str(path) in err
