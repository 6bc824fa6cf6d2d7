from readback.records.training import choose_drills, what_drills_train

CROSS, HOLD, PUSH = ("cross", "runway"), ("hold_short", "runway"), ("push_clearance", "facing")
DRILLS = {
    "big": frozenset({CROSS, HOLD}),
    "small": frozenset({CROSS}),
    "push": frozenset({PUSH, CROSS}),
}


def test_the_drill_that_trains_most_of_it_comes_first():
    assert choose_drills([PUSH, CROSS, HOLD], DRILLS) == [("big", [CROSS, HOLD]), ("push", [PUSH])]


def test_of_equals_the_drill_that_trains_the_least_besides_is_chosen():
    assert choose_drills([CROSS], DRILLS) == [("small", [CROSS])]


def test_what_no_drill_trains_names_none():
    assert choose_drills([("engine_fire", None)], DRILLS) == []
    assert choose_drills([CROSS], {}) == []


def test_no_more_drills_are_named_than_asked_for():
    assert len(choose_drills([PUSH, CROSS, HOLD], DRILLS, most=1)) == 1


def test_a_drill_trains_what_its_seats_say_and_read_back():
    drills = what_drills_train()

    push, taxi = drills["push_back_tow_bar"], drills["taxi_cross_and_hold"]
    assert {("brakes", "brake_state"), ("push_clearance", "facing"), ("bypass_pin", None)} <= push
    assert {("cross", "runway"), ("callsign", "callsign")} <= taxi
    assert ("cross", "runway") not in push


def test_every_drill_of_the_catalogue_trains_something():
    assert all(what_drills_train().values())
