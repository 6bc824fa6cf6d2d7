"""Each screen driven through a whole use by its keys."""

import pytest
from textual.widgets import Input, OptionList

from readback.errors import RecogniserError
from readback.judging.pairs import make_pairs
from readback.screens.app import ReadbackApp
from readback.screens.drill import DrillScreen
from readback.screens.practise import PractiseScreen
from readback.screens.start import CHOICES, StartScreen
from readback.screens.widgets.verdict import VerdictView
from tests.live.fakes import broken_microphone, fake_microphone, in_blocks, quiet, spoken
from tests.screens.conftest import Seat, drive
from tests.screens.fakes import make_services

SIZES = [(80, 24), (120, 40), (200, 60)]
INSTRUCTION = "larkspur four two one hold short of runway two seven right"
WRONG = "crossing runway two seven right larkspur four two one"
RIGHT = "holding short of runway two seven right larkspur four two one"


def outcome(seat: Seat) -> str | None:
    verdict = seat.app.screen.query_one(VerdictView).verdict
    return None if verdict is None else verdict.verdict.value


# ---- start ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", SIZES)
def test_the_start_screen_shows_every_choice_and_the_caution(size, tmp_path):
    async def use(seat: Seat) -> None:
        await seat.settle()
        seen = seat.sees()
        assert all(name in seen for name, _ in CHOICES.values())
        assert "not for operational use" in seen

    drive(ReadbackApp(make_services(records=tmp_path / "records.sqlite3")), use, size)


@pytest.mark.parametrize(
    ("key", "title"), [("1", "practise"), ("2", "drills"), ("3", "self-check"), ("4", "replay")]
)
def test_each_number_opens_its_screen_and_escape_comes_back(key, title):
    async def use(seat: Seat) -> None:
        await seat.press(key)
        assert f"readback / {title}" in seat.sees().splitlines()[0]
        await seat.press("escape")
        assert isinstance(seat.app.screen, StartScreen)

    drive(ReadbackApp(make_services()), use)


def test_without_records_there_is_no_screen_for_them():
    async def use(seat: Seat) -> None:
        await seat.press("5")
        assert isinstance(seat.app.screen, StartScreen)
        assert "Records" not in seat.sees()

    drive(ReadbackApp(make_services()), use)


def test_the_mouse_opens_a_screen():
    async def use(seat: Seat) -> None:
        await seat.settle()
        await seat.pilot.click("#choices", offset=(4, 0))
        await seat.settle()
        assert isinstance(seat.app.screen, PractiseScreen)

    drive(ReadbackApp(make_services()), use)


# ---- self-check ----------------------------------------------------------------------------------


@pytest.mark.parametrize("size", SIZES)
def test_a_typed_self_check_shows_a_large_verdict_with_mark_and_word(size):
    async def use(seat: Seat) -> None:
        await seat.press("3")
        await seat.type("hold short of runway 27L")
        await seat.type("holding short runway 27 right")
        seen = seat.sees()
        assert "✗  INCORRECT  ✗" in seen
        assert "✗ wrong" in seen
        assert "✗[27L]" in seen
        assert "✗[27 right]" in seen

    drive(ReadbackApp(make_services()), use, size)


def test_a_spoken_self_check_hears_both_sides():
    async def use(seat: Seat) -> None:
        await seat.press("3")
        await seat.press("f2")
        assert await seat.until(
            lambda: seat.app.screen.query_one("#instruction", Input).value != ""
        )
        await seat.press("f2")
        assert await seat.until(lambda: outcome(seat) is not None)
        assert outcome(seat) == "incorrect"
        assert seat.app.screen.query_one("#readback", Input).value == WRONG

    drive(ReadbackApp(make_services(INSTRUCTION, WRONG)), use)


def test_the_rule_is_shown_on_demand():
    async def use(seat: Seat) -> None:
        await seat.press("3")
        await seat.type("hold short of runway 27L")
        await seat.type("holding short runway 27 right")
        before = seat.sees()
        await seat.press("f6")
        assert "ICAO Doc 4444" not in before
        assert "ICAO Doc 4444" in seat.sees()

    drive(ReadbackApp(make_services()), use)


def test_another_readback_of_the_same_instruction_is_judged_anew():
    async def use(seat: Seat) -> None:
        await seat.press("3")
        await seat.type("hold short of runway 27L")
        await seat.type("holding short runway 27 right")
        first = outcome(seat)
        await seat.press("f4")
        assert outcome(seat) is None
        await seat.type("holding short runway 27 left")
        assert (first, outcome(seat)) == ("incorrect", "correct")

    drive(ReadbackApp(make_services()), use)


def test_letters_typed_go_into_the_field_and_start_no_command():
    async def use(seat: Seat) -> None:
        await seat.press("3")
        await seat.press(*"q 12")
        assert seat.app.screen.query_one("#instruction", Input).value == "q 12"

    drive(ReadbackApp(make_services()), use)


def test_text_like_markup_is_shown_as_it_is():
    async def use(seat: Seat) -> None:
        await seat.press("3")
        await seat.type("[unk] hold short of runway 27L")
        await seat.type("[/b] holding short")
        seen = seat.sees()
        assert "[unk] hold short" in seen
        assert "[/b] holding short" in seen

    drive(ReadbackApp(make_services()), use)


# ---- practise ------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", SIZES)
def test_practice_shows_an_instruction_and_judges_what_is_typed(size):
    pair = next(one for one in make_pairs(100, 7) if one.error is None)

    async def use(seat: Seat) -> None:
        await seat.press("1")
        assert pair.instruction.split()[0] in seat.sees()
        await seat.type("roger")
        wrong = outcome(seat)
        await seat.press("f4")
        await seat.type(pair.readback)
        assert wrong != "correct"
        assert outcome(seat) == "correct"
        assert "judged 2, correct 1" in seat.sees()

    drive(ReadbackApp(make_services()), use, size)


def test_practice_is_answered_by_voice_and_partial_words_appear():
    pair = next(one for one in make_pairs(100, 7) if one.error is None)

    async def use(seat: Seat) -> None:
        await seat.press("1")
        await seat.pilot.press("f2")
        assert await seat.until(lambda: "so far" in seat.sees())
        assert "listening" in seat.sees()
        await seat.press("f2")
        assert await seat.until(lambda: outcome(seat) is not None)
        assert outcome(seat) == "correct"
        assert seat.app.screen.doing == "ready"

    drive(ReadbackApp(make_services(pair.readback)), use)


def test_next_draws_another_instruction_and_the_same_seed_the_same_ones():
    drawn: list[list[str]] = []

    async def use(seat: Seat) -> None:
        await seat.press("1")
        drawn.append([])
        for _ in range(3):
            drawn[-1].append(seat.app.screen.instruction)
            await seat.press("f5")

    drive(ReadbackApp(make_services(seed=3)), use)
    drive(ReadbackApp(make_services(seed=3)), use)

    assert drawn[0] == drawn[1]
    assert len(set(drawn[0])) == 3


def test_the_words_of_an_instruction_can_be_hidden():
    async def use(seat: Seat) -> None:
        await seat.press("1")
        instruction = seat.app.screen.instruction.split(",")[0]
        await seat.press("f7")
        assert instruction not in seat.sees()
        await seat.press("f7")
        assert instruction in seat.sees()

    drive(ReadbackApp(make_services()), use)


def test_the_station_speaks_each_instruction_and_again_on_demand():
    services = make_services()

    async def use(seat: Seat) -> None:
        await seat.press("1")
        await seat.press("f3")
        said = services.speaker().said
        assert [text for _, text, _ in said] == [seat.app.screen.instruction] * 2
        assert said[0][2] in ("radio", "interphone")

    drive(ReadbackApp(services), use)


def test_a_right_readback_is_shown_on_demand():
    pair = next(one for one in make_pairs(100, 7) if one.error is None)

    async def use(seat: Seat) -> None:
        await seat.press("1")
        await seat.press("f8")
        assert pair.readback in seat.sees()

    drive(ReadbackApp(make_services()), use, (120, 40))


def test_hands_free_listens_by_itself_after_the_call():
    pair = next(one for one in make_pairs(100, 7) if one.error is None)
    services = make_services(pair.readback)
    services.hands_free = True

    async def use(seat: Seat) -> None:
        await seat.pilot.press("1")
        assert await seat.until(lambda: outcome(seat) is not None)
        assert outcome(seat) == "correct"

    drive(ReadbackApp(services), use)


def test_escape_cancels_listening_and_nothing_is_judged():
    async def use(seat: Seat) -> None:
        await seat.press("1")
        await seat.pilot.press("f2")
        assert await seat.until(lambda: seat.app.screen.doing == "listening")
        await seat.press("escape")
        assert seat.app.screen.doing == "ready"
        assert outcome(seat) is None
        assert isinstance(seat.app.screen, PractiseScreen)

    drive(ReadbackApp(make_services("roger")), use)


# ---- what does not work --------------------------------------------------------------------------


def test_no_microphone_is_one_line_and_typing_still_works():
    async def use(seat: Seat) -> None:
        await seat.press("3")
        await seat.press("f2")
        assert [line for line in seat.told if "cannot be opened" in line]
        await seat.type("brakes released")
        await seat.type("brakes released")
        assert outcome(seat) is not None

    drive(ReadbackApp(make_services(microphone=broken_microphone())), use)


def test_unplugged_in_mid_take_is_told_and_what_was_said_is_judged():
    blocks = spoken()
    microphone = fake_microphone(blocks[: len(blocks) // 2], unplugged=True)

    async def use(seat: Seat) -> None:
        await seat.press("3")
        await seat.type(INSTRUCTION)
        await seat.press("f2")
        assert await seat.until(lambda: outcome(seat) is not None)
        assert [line for line in seat.told if "microphone is gone" in line]

    drive(ReadbackApp(make_services(RIGHT, microphone=microphone)), use)


def test_a_take_with_lost_samples_is_never_correct():
    blocks = spoken()
    blocks[len(blocks) // 2] = (blocks[len(blocks) // 2], True)

    async def use(seat: Seat) -> None:
        await seat.press("3")
        await seat.type(INSTRUCTION)
        await seat.press("f2")
        assert await seat.until(lambda: outcome(seat) is not None)
        assert outcome(seat) == "say again"
        assert [line for line in seat.told if "Samples were lost" in line]

    drive(ReadbackApp(make_services(RIGHT, microphone=fake_microphone(blocks))), use)


def test_a_recogniser_that_cannot_start_is_one_line_and_the_app_lives():
    services = make_services()

    def none():
        raise RecogniserError("ear: is not in this version.", "Use pocketsphinx or vosk.")

    services.make_recogniser = none

    async def use(seat: Seat) -> None:
        await seat.press("3")
        await seat.press("f2")
        assert [line for line in seat.told if "ear: is not in this version" in line]
        assert seat.app.screen.doing == "ready"

    drive(ReadbackApp(services), use)


def test_noise_alone_is_told_with_advice():
    microphone = fake_microphone([*in_blocks(quiet(2.0) * 300)])

    async def use(seat: Seat) -> None:
        await seat.press("1")
        await seat.pilot.press("f2")
        assert await seat.until(lambda: seat.app.screen.doing == "listening")
        await seat.pilot.pause(0.5)
        await seat.press("f2")
        assert await seat.until(lambda: bool(seat.told))
        assert any("No voice was heard" in line for line in seat.told)

    drive(ReadbackApp(make_services(microphone=microphone)), use)


# ---- drills --------------------------------------------------------------------------------------


async def drill_is_ready(seat: Seat) -> bool:
    ready = await seat.until(
        lambda: (
            isinstance(seat.app.screen, DrillScreen)
            and seat.app.screen.practice is not None
            and seat.app.screen.practice.turn is not None
            and seat.app.screen.doing == "ready"
        )
    )
    await seat.settle()
    return ready


def test_a_drill_is_chosen_with_a_seat_from_the_list():
    async def use(seat: Seat) -> None:
        await seat.press("2")
        assert await seat.until(lambda: seat.app.screen.query_one(OptionList).option_count > 0)
        await seat.press("down", "enter")
        assert await drill_is_ready(seat)

    drive(ReadbackApp(make_services()), use)


@pytest.mark.parametrize("size", SIZES)
def test_a_drill_keeps_the_ramp_in_sight_and_tells_what_is_wrong_at_once(size):
    async def use(seat: Seat) -> None:
        assert await drill_is_ready(seat)
        ramp = seat.sees().splitlines()[1]
        assert all(word in ramp for word in ("brakes", "pin", "push", "engines"))
        before = seat.app.screen.practice.turn
        await seat.type("brakes released")
        assert "+ not due" in seat.sees()
        assert seat.app.screen.practice.turn is before
        await seat.type(seat.app.screen.practice.hint())
        assert await drill_is_ready(seat)
        assert seat.app.screen.practice.turn is not before
        assert "✓ came" in seat.sees()

    drive(ReadbackApp(make_services(), drill="push_back_tow_bar", seat="headset"), use, size)


def test_a_drill_said_as_due_goes_to_its_end_without_fault():
    async def use(seat: Seat) -> None:
        assert await drill_is_ready(seat)
        screen = seat.app.screen
        for _ in range(60):
            if screen.practice.run.ended:
                break
            assert await drill_is_ready(seat)
            screen.query_one("#answer", Input).value = screen.practice.hint()
            await seat.press("enter")
            await seat.until(lambda: screen.practice.run.ended or screen.practice.turn is not None)
        assert screen.practice.run.ended
        assert "0 faults." in seat.sees()

    drive(ReadbackApp(make_services(), drill="push_back_tow_bar", seat="headset"), use)


@pytest.mark.parametrize("timed", [False, True])
def test_how_long_the_trainee_takes_is_judged_only_where_that_is_asked_for(timed):
    services = make_services()
    services.timed = timed

    async def use(seat: Seat) -> None:
        assert await drill_is_ready(seat)
        await seat.type(seat.app.screen.practice.hint())
        events = seat.app.screen.practice.run.events
        assert {event.at_s is not None for event in events} == {timed}

    drive(ReadbackApp(services, drill="push_back_tow_bar", seat="flight_deck"), use)


def test_a_drill_broken_off_is_summed_up_and_begins_again_on_demand():
    async def use(seat: Seat) -> None:
        assert await drill_is_ready(seat)
        await seat.type("brakes released")
        await seat.press("f10")
        assert "1 fault, not gone through to its end" in seat.sees()
        await seat.press("f4")
        assert await drill_is_ready(seat)
        assert seat.app.screen.practice.run.events == [] or not any(
            event.is_fault for event in seat.app.screen.practice.run.events
        )

    drive(ReadbackApp(make_services(), drill="push_back_tow_bar", seat="headset"), use)


def test_a_drill_that_does_not_exist_is_told_and_the_start_screen_stays():
    async def use(seat: Seat) -> None:
        assert await seat.until(
            lambda: isinstance(seat.app.screen, StartScreen) and bool(seat.told)
        )
        assert "There is no drill" in seat.told[0]

    drive(ReadbackApp(make_services(), drill="nowhere"), use)


# ---- keys, palette, colours ----------------------------------------------------------------------


def test_help_lists_every_key_of_the_screen_it_was_opened_over():
    async def use(seat: Seat) -> None:
        await seat.press("1")
        wanted = {
            entry.binding.key
            for entry in seat.app.screen.active_bindings.values()
            if entry.node is seat.app.screen
        }
        await seat.press("f1")
        seen = seat.sees()
        assert {
            key
            for key in wanted
            if key not in seen and key not in ("tab", "shift+tab", "ctrl+c", "super+c")
        } == set()
        await seat.press("escape")
        assert isinstance(seat.app.screen, PractiseScreen)

    drive(ReadbackApp(make_services()), use, (120, 40))


@pytest.mark.parametrize("opened", ["practise", "self_check", "replay"])
def test_every_key_is_also_a_palette_command(opened):
    from readback.screens.commands import KeyCommands

    async def use(seat: Seat) -> None:
        await seat.settle()
        screen = seat.app.screen
        offered = [str(hit.display) async for hit in KeyCommands(screen).discover()]
        wanted = {
            entry.binding.tooltip or entry.binding.description
            for entry in screen.active_bindings.values()
            if entry.node in (screen, seat.app)
        }
        assert wanted - {""} <= set(offered)
        assert len(wanted) >= 5

    drive(ReadbackApp(make_services(), first=opened), use)


def test_a_palette_command_does_what_its_key_does():
    async def use(seat: Seat) -> None:
        await seat.press("1")
        first = seat.app.screen.instruction
        await seat.pilot.press("ctrl+p")
        await seat.pilot.pause()
        await seat.pilot.press(*"next instruction")
        await seat.pilot.pause(0.5)
        await seat.pilot.press("enter")
        await seat.settle()
        assert await seat.until(lambda: seat.app.screen.instruction not in ("", first))

    drive(ReadbackApp(make_services()), use)


def test_light_and_dark_can_be_changed():
    async def use(seat: Seat) -> None:
        dark = seat.app.theme_variables["correct"]
        await seat.press("ctrl+t")
        assert seat.app.theme_variables["correct"] != dark

    drive(ReadbackApp(make_services()), use)


def test_without_colour_marks_and_words_say_it_all(monkeypatch):
    monkeypatch.setenv("NO_COLOR", "1")

    async def use(seat: Seat) -> None:
        await seat.press("3")
        await seat.type("hold short of runway 27L")
        await seat.type("holding short runway 27 right")
        assert "✗  INCORRECT  ✗" in seat.sees()
        assert "✗ wrong" in seat.sees()

    drive(ReadbackApp(make_services()), use)


# WCAG 2.2, 1.4.3: text has a contrast of 4.5 at least.
@pytest.mark.parametrize("name", ["readback-dark", "readback-light"])
def test_right_and_wrong_have_contrast_on_their_background(name):
    from textual.color import Color

    from readback.screens.themes import DARK, LIGHT

    theme = {one.name: one for one in (DARK, LIGHT)}[name]
    background = Color.parse(theme.background)
    for colour in ("correct", "wrong"):
        assert _contrast(Color.parse(theme.variables[colour]), background) >= 4.5


def _contrast(one, other) -> float:
    """Relative luminance and contrast as WCAG 2.2 defines them."""

    def luminance(colour) -> float:
        parts = [value / 255 for value in (colour.r, colour.g, colour.b)]
        linear = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)
