"""The screens as a terminal is sent them: what is tested without one is what should be drawn."""

from tests.screens.terminal import real_terminal

TITLES = ("practise", "drills", "self-check", "replay", "records", "set-up")


def test_each_screen_is_drawn_from_its_first_line_on_and_left_again(tmp_path):
    surroundings = {"READBACK_RECORDS": str(tmp_path / "records.sqlite3")}

    with real_terminal([], surroundings) as terminal:
        assert terminal.sees("What do you want to do?")
        for number, title in enumerate(TITLES, start=1):
            terminal.forget()
            terminal.type(str(number))
            assert terminal.sees(f"readback / {title}")
            terminal.forget()
            terminal.type("\x1b")
            assert terminal.sees("What do you want to do?")
        terminal.type("q")
        assert terminal.ends() == 0
