from pathlib import Path

from readback.measure.conditions import make_conditions
from readback.measure.labels import Labelled
from readback.measure.observe import Observation
from readback.measure.second import measure_second
from readback.transmission import Transmission, Word

INSTRUCTION = "cross runway two seven left"
RIGHT, WRONG = "crossing runway two seven left", "crossing runway two seven right"
CLEAN, RADIO = make_conditions(["clean", "radio"], [20])


def seen(engine, said, heard, condition=CLEAN, certainty=0.9):
    words = tuple(Word(word=word, certainty=certainty) for word in heard.split())
    return Observation(
        labelled=Labelled(
            file=Path("clip"),
            instruction=INSTRUCTION,
            readback=said,
            expected="correct" if said == RIGHT else "incorrect",
        ),
        engine=engine,
        condition=condition,
        heard=Transmission(words=words),
        audio_s=2.0,
        wall_s=1.0,
        cpu_s={"ear": 0.1, "pocketsphinx": 0.4}[engine],
    )


def test_outcomes_alone_and_with_the_other_engine_are_counted_by_condition():
    # Counted by hand: what each engine hears of what is said.
    clips = [
        (RIGHT, RIGHT, RIGHT, CLEAN),
        (RIGHT, RIGHT, WRONG, CLEAN),
        (WRONG, RIGHT, WRONG, CLEAN),
        (RIGHT, WRONG, RIGHT, CLEAN),
        (RIGHT, RIGHT, RIGHT, RADIO),
    ]
    first = [seen("ear", said, heard, condition) for said, heard, _, condition in clips]
    second = [seen("pocketsphinx", said, heard, condition) for said, _, heard, condition in clips]

    clean, radio = measure_second(first, second, lambda _: 0.8, lambda _: 0.8)

    assert (clean.condition, radio.condition) == ("clean", "radio 20 dB")
    assert [share.count for share in clean.passed] == [1, 0]
    assert [share.count for share in clean.rejected] == [1, 0]
    assert [share.count for share in clean.say_again] == [0, 3]
    assert clean.passed[0].total == 1
    assert clean.rejected[0].total == 3
    assert clean.cost == 4.0
    assert radio.say_again[1].count == 0
