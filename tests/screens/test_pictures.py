"""How each screen looks: held by snapshots, readable in every terminal, nothing by colour alone."""

import itertools
from functools import cache
from pathlib import Path

import pytest
from rich.color import Color, ColorSystem
from rich.segment import Segment
from rich.style import Style
from textual.color import Color as Shade
from textual.filter import Monochrome

from readback.screens.themes import DARK, DARK_PAIR, LIGHT, LIGHT_PAIR
from readback.screens.widgets.verdict import MARKS
from tests.screens.draw import DOCUMENTED, SNAPSHOTS, USES, Picture, draw

DOCUMENTS = Path(__file__).parents[2] / "docs" / "screens"
LEAST_CONTRAST = 4.5
"""WCAG 2.2, success criterion 1.4.3, for text."""
DIMMED = {"keys", "correct"}
"""What lies under a dialogue is dimmed: it is not read then."""


@pytest.fixture(scope="module", params=USES)
def pictures(request) -> list[Picture]:
    return draw(request.param)


def runs(picture: Picture) -> list[Segment]:
    """All that can be read, run by run; a bar that scrolls is no text."""
    found = itertools.chain.from_iterable(picture.strips)
    return [
        one
        for one in found
        if one.text.strip() and one.style is not None and "@mouse.down" not in one.style.meta
    ]


def test_each_screen_looks_as_it_was_accepted(pictures, tmp_path):
    for picture in pictures:
        accepted = (SNAPSHOTS / f"{picture.name}.txt").read_text(encoding="utf-8")
        (tmp_path / f"{picture.name}.svg").write_text(picture.svg, encoding="utf-8")

        told = f"look at {tmp_path}; python -m tests.screens.draw docs/screens accepts it"
        assert picture.text == accepted, told


def test_the_pictures_in_the_documents_are_those_of_today(pictures):
    for picture in pictures:
        path = DOCUMENTS / f"{picture.name}.svg"
        if picture.name in DOCUMENTED:
            assert path.read_text(encoding="utf-8") == picture.svg
        else:
            assert not path.exists()


def test_no_line_is_wider_than_its_terminal_and_none_is_missing(pictures):
    for picture in pictures:
        assert {strip.cell_length for strip in picture.strips} == {picture.size[0]}
        assert len(picture.strips) == picture.size[1]


def test_all_text_has_contrast(pictures):
    for picture in pictures:
        if picture.use not in DIMMED:
            faint = [one for one in runs(picture) if _contrast(one.style) < LEAST_CONTRAST]
            assert faint == [], picture.name


def test_what_is_coloured_right_or_wrong_says_it_with_a_sign(pictures):
    signs = [mark for mark, _ in MARKS.values()]
    for picture in pictures:
        pair = {shade.lower() for shade in (LIGHT_PAIR if picture.light else DARK_PAIR).values()}
        for run in runs(picture):
            if run.style.color.name in pair or run.style.bgcolor.name in pair:
                assert any(sign in run.text for sign in signs), (picture.name, run.text)


def test_in_sixteen_colours_no_text_has_the_colour_of_its_ground(pictures):
    for picture in pictures:
        lost = [one for one in runs(picture) if _in_sixteen(one.style)]
        assert lost == [], picture.name


def test_without_colour_all_text_can_be_read(pictures):
    for picture in pictures:
        if picture.use in DIMMED:
            continue
        grey = Monochrome().apply(runs(picture), _ground(picture))
        assert [one for one in grey if _contrast(one.style) < LEAST_CONTRAST] == []


@cache
def _in_sixteen(style: Style) -> bool:
    """Tell whether both colours become one of the sixteen."""
    front, back = (one.downgrade(ColorSystem.STANDARD) for one in _colours(style))
    return front == back


def _ground(picture: Picture) -> Shade:
    return Shade.parse(LIGHT.background if picture.light else DARK.background)


def _colours(style: Style) -> tuple[Color, Color]:
    assert style.color is not None
    assert style.bgcolor is not None
    return (style.bgcolor, style.color) if style.reverse else (style.color, style.bgcolor)


@cache
def _contrast(style: Style) -> float:
    """Relative luminance and contrast as WCAG 2.2 defines them."""
    light, dark = sorted(map(_luminance, _colours(style)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def _luminance(colour: Color) -> float:
    parts = [value / 255 for value in colour.get_truecolor()]
    linear = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
