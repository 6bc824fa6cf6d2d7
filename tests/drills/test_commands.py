"""``readback drills`` and ``readback practise`` in a plain terminal."""

import io
from pathlib import Path

import pytest

from readback.cli import main
from readback.drills.files import drills_directory, find_drills, load_drill

from .planting import CATALOGUE, faithful, plan_of

NAME = "push_back_tow_bar"


@pytest.fixture
def practise(monkeypatch, capsys):
    """Practise a drill with typed lines; gives the status and what was shown."""

    def run(lines: list[str], *arguments: str) -> tuple[int, str]:
        monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"{line}\n" for line in lines)))
        status = main(["practise", *arguments, "--plain"])
        return status, capsys.readouterr().out

    return run


def own_lines(name: str, seed: int, seat: str) -> list[str]:
    plan = plan_of(name, seed, seat)
    return [line.text for line in faithful(plan) if line.station == seat]


SEATS = [(name, seat) for name in CATALOGUE for seat in load_drill(find_drills()[name]).seats]


@pytest.mark.parametrize(("name", "seat"), SEATS)
def test_each_drill_is_practised_from_each_seat_without_fault(practise, name, seat):
    lines = own_lines(name, 5, seat)

    status, shown = practise(lines, name, "--seat", seat, "--seed", "5")

    assert status == 0, shown
    assert ", 0 faults." in shown
    assert "--seed 5" in shown


def test_the_end_of_input_ends_the_drill_with_a_summary(practise):
    status, shown = practise([], NAME, "--seed", "1")

    assert status == 1
    assert "Summary: 0 of 36 said, 0 faults, not gone through to its end." in shown


def test_a_wrong_readback_is_told_at_once_and_asked_for_again(practise):
    lines = own_lines(NAME, 5, "headset")
    at = next(number for number, text in enumerate(lines) if text.startswith("cleared to push"))
    right = lines[at]
    wrong = "cleared to push facing " + ("north" if "north" not in right else "south")

    status, shown = practise([*lines[:at], wrong, *lines[at:]], NAME, "--seed", "5")

    assert status == 1
    assert "✗ wrong: Clear push: answer: incorrect." in shown
    assert f"flight deck: negative, i say again, {right}" in shown
    assert "1 fault." in shown


def test_a_broken_interlock_is_shown_with_the_sentence_that_broke_it(practise):
    lines = own_lines(NAME, 5, "headset")

    _, shown = practise([*lines[:3], "commencing push back"], NAME, "--seed", "5")

    assert "✗ interlock:" in shown
    assert "“commencing push back”" in shown
    assert "push: moving" in shown


def test_after_three_tries_the_words_are_told_and_it_goes_on(practise):
    _, shown = practise(["hello there"] * 3, NAME, "--seed", "5")

    assert "As it is due: how do you read" in shown
    assert "flight deck: read you five" in shown


def test_hint_and_ramp_are_shown_without_being_said(practise):
    _, shown = practise(["/hint", "/ramp", "", "/end", "how do you read"], NAME, "--seed", "5")

    assert "due: how do you read" in shown
    assert "ramp: brakes set; brake lamp not seen" in shown
    assert "Summary: 0 of 36 said" in shown


def test_a_signal_is_drawn_and_told_in_words(practise):
    _, shown = practise([], "no_headset", "--seat", "headset", "--seed", "5")

    assert "[remove chocks]" in shown
    assert "\\(O)/" in shown
    assert "move the arms outward" in shown


def test_what_controls_a_terminal_is_shown_as_its_code(practise):
    _, shown = practise(["\x1b[31mhow do you read"], NAME, "--seed", "5")

    assert "\x1b" not in shown


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["practise", "no_such_drill", "--plain"], "There is no drill 'no_such_drill'."),
        (["practise", NAME, "--plain", "--seat", "pilot"], "There is no seat 'pilot'."),
        (["practise", NAME, "--plain", "--seat", "controller"], "has no seat 'controller'"),
        (["practise", NAME, "--plain", "--authority", "nato"], "'nato' is no authority"),
        (["practise", NAME, "--plain", "--seed", "x"], "invalid int value"),
        (["drills", "show"], "show needs one drill."),
        (["drills", "show", "nowhere.yaml"], "nowhere.yaml"),
        (["drills", "validate"], "validate needs a file."),
        (["drills", "dance"], "'dance' is nothing to do."),
        pytest.param(
            ["drills", "validate", "/dev/zero"],
            "/dev/zero: is a device, not a file.",
            marks=pytest.mark.skipif(not Path("/dev/zero").exists(), reason="needs /dev/zero"),
        ),
    ],
)
def test_bad_input_gives_one_line_and_status_2(capsys, arguments, message):
    status = main(arguments)

    _, err = capsys.readouterr()
    assert status == 2
    assert message in err
    assert err.count("\n") == 1


def test_the_drills_are_listed_with_their_seats(capsys):
    status = main(["drills"])

    out, _ = capsys.readouterr()
    assert status == 0
    assert all(name in out for name in CATALOGUE)
    assert "Push-back with a tow bar (headset, flight deck)" in out


@pytest.mark.parametrize("name", CATALOGUE)
def test_each_drill_is_shown_with_the_words_of_every_step(capsys, name):
    status = main(["drills", "show", name])

    out, _ = capsys.readouterr()
    assert status == 0
    assert out.count("\n") > len(load_drill(find_drills()[name]).steps)


def test_the_whole_catalogue_is_valid(capsys):
    paths = [str(path) for path in sorted(drills_directory().glob("*.yaml"))]

    status = main(["drills", "validate", *paths])

    out, err = capsys.readouterr()
    assert (status, err) == (0, "")
    assert out.count("runs without fault") == len(CATALOGUE)


def test_a_drill_that_is_itself_at_fault_is_refused_at_its_step(tmp_path, capsys):
    text = find_drills()[NAME].read_text(encoding="utf-8")
    start = text.index("  - id: chocks_out")
    path = tmp_path / "drill.yaml"
    path.write_text(text[:start] + text[text.index("  - id: release_brakes") :], encoding="utf-8")

    status = main(["drills", "validate", str(path)])

    _, err = capsys.readouterr()
    assert status == 2
    assert "chocks away before push" in err
    assert err.count("\n") == 1
