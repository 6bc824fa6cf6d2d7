"""Every call as people say and type it: text -> calls with their elements.

The wordings of ICAO Doc 4444 12.3.4 and 12.7.1, Doc 9432 chapter 4, FAA JO 7110.65 3-7 and CAP 413
chapter 4 stand among plain variants; the trade sheet of this project had them with their
paragraphs. The rest is common practice, no source.
"""

import pytest

from readback.phraseology.grammar import load_grammar
from readback.phraseology.parser import parse

GRAMMAR = load_grammar()
CALLS = [
    # before moving
    ("radio check one two one decimal nine", "radio_check frequency=121.900"),
    ("reading you five", "readability readability=5"),
    ("read you three", "readability readability=3"),
    ("loud and clear", "readability"),
    ("start up approved", "start_up"),
    ("start-up approved QNH 1013", "start_up; qnh qnh=1013"),
    ("starting up, QNH 1013", "start_up; qnh qnh=1013"),
    ("start up at your own discretion", "start_up"),
    ("start up at three five", "start_up_at time=35"),
    ("expect start up at four zero", "expect_start_up time=40"),
    ("expect departure 49", "expect_departure time=49"),
    ("push back approved", "push_back"),
    ("pushback is approved, facing west", "push_back; push_direction facing=west"),
    ("push back approved to face north", "push_back; push_direction facing=north"),
    ("push approved nose south", "push_back; push_direction facing=south"),
    ("pushing tail east", "push_back; push_direction tail=east"),
    (
        "push back approved facing north tail south",
        "push_back; push_direction facing=north tail=south",
    ),
    ("push and start approved", "push_and_start"),
    ("start up and push back approved", "push_and_start"),
    ("push back approved onto taxiway Lima", "push_back; push_onto taxiway=L"),
    (
        "push back approved, give way first to the company Airbus",
        "push_back; give_way traffic=company airbus",
    ),
    ("stand by for push back", "push_back_stand_by"),
    ("expect five minutes delay due to traffic", "expect_delay minutes=5 traffic=traffic"),
    ("expect a delay of ten minutes", "expect_delay minutes=10"),
    ("six minutes delay", "expect_delay minutes=6"),
    ("request push back and start up", "request"),
    ("ready for departure", "ready"),
    ("ready to taxi", "ready"),
    ("fully ready", "ready"),
    # taxi
    ("taxi to holding point runway two seven", "taxi; runway runway=27"),
    (
        "taxi holding point Charlie two runway two four via Alfa, Bravo",
        "taxi holding_point=C2; runway runway=24; taxi route=A B",
    ),
    (
        "taxi to holding point A3 rwy 09 via B, C",
        "taxi holding_point=A3; runway runway=09; taxi route=B C",
    ),
    (
        "runway three six left, taxi via Alpha, Charlie, cross runway one zero",
        "runway runway=36L; taxi route=A C; cross runway=10",
    ),
    ("taxi via taxiways Echo three, Echo one, and Echo niner", "taxi route=E3 E1 E9"),
    ("taxi to stand 25 via Kilo", "taxi stand=25; taxi route=K"),
    ("taxi to gate B12", "taxi stand=B12"),
    ("taxi to the de-icing pad via Mike", "taxi place=deicing pad; taxi route=M"),
    ("taxi to the main apron", "taxi place=apron"),
    ("taxiing via Alfa and Bravo", "taxi route=A B"),
    ("proceed via Foxtrot to stand one two left", "taxi route=F; taxi stand=12L"),
    ("continue taxi via Delta", "taxi route=D"),
    ("taxi on runway two seven", "taxi_on_runway runway=27"),
    ("taxi straight ahead", "taxi"),
    ("turn left onto Bravo", "turn side=left taxiway=B"),
    ("turn right", "turn side=right"),
    ("tow approved via Alfa", "tow_approved; taxi route=A"),
    ("tow approved from hangar 3 to stand 25", "tow_approved; taxi origin_hangar=3 stand=25"),
    ("proceed as requested", "as_requested"),
    ("follow the Boeing 737", "follow traffic=boeing seven three seven"),
    ("follow him", "follow traffic=traffic"),
    ("following company Airbus", "follow traffic=company airbus"),
    ("give way to the inbound", "give_way traffic=inbound"),
    ("give way to the Airbus passing left to right", "give_way traffic=airbus"),
    ("giving way to B747", "give_way traffic=bravo seven four seven"),
    ("caution jet blast", "caution"),
    ("expedite taxi", "expedite"),
    ("expediting", "expedite"),
    ("taxi slower", "slow"),
    ("slowing down", "slow"),
    ("you are number two for departure", "number_in_line place_in_line=2"),
    # runways
    ("hold position", "hold_position"),
    ("holding position", "hold_position"),
    ("holding", "hold_position"),
    ("hold north of stand five", "hold_position direction=north stand=5"),
    ("hold short of runway 27L", "hold_short runway=27L"),
    ("holding short of runway two seven left", "hold_short runway=27L"),
    ("hold short runway zero niner", "hold_short runway=09"),
    ("hold short of Bravo", "hold_short taxiway=B"),
    ("hold short of holding point Charlie one", "hold_short holding_point=C1"),
    ("hold at Alfa two", "hold_short holding_point=A2"),
    ("hold short of runway one four at Charlie", "hold_short runway=14 intersection=C"),
    ("short of two seven right", "hold_short runway=27R"),
    ("remaining short of runway one four", "hold_short runway=14"),
    ("cross runway two seven left", "cross runway=27L"),
    ("crossing two seven left at Charlie three", "cross runway=27L crossing_point=C3"),
    ("crossing", "cross"),
    ("expedite crossing runway two two", "expedite; cross runway=22"),
    ("across runway two two", "cross runway=22"),
    (
        "cross runway three one at Foxtrot, report vacated",
        "cross runway=31 crossing_point=F; report",
    ),
    ("line up runway two seven", "line_up runway=27"),
    ("line up and wait", "line_up"),
    ("lining up and waiting runway two seven", "line_up runway=27"),
    ("runway 24L at November 4, line up and wait", "line_up runway=24L intersection=N4"),
    (
        "behind the landing Boeing 737, line up runway two seven behind",
        "condition traffic=landing boeing seven three seven; line_up runway=27",
    ),
    ("after the departing Airbus, line up after", "condition traffic=departing airbus; line_up"),
    ("behind DC9 on short final, line up behind", "condition traffic=delta charlie nine; line_up"),
    ("backtrack runway three one", "backtrack runway=31"),
    ("entering and backtracking three two", "backtrack runway=32"),
    ("backtrack approved", "backtrack"),
    ("enter runway two seven", "enter_runway runway=27"),
    ("vacate runway two seven via Delta", "vacate runway=27 exit=D"),
    ("taking off runway two seven", "take_off runway=27"),
    ("vacate left", "vacate turn=left"),
    ("vacating left Charlie three", "vacate turn=left exit=C3"),
    ("vacating left, Bravo, Alfa to stand 12", "vacate turn=left; taxi route=B A stand=12"),
    ("take second right", "vacate turn=second right"),
    ("take the first left", "vacate turn=left"),
    ("vacating", "vacate"),
    ("runway two seven vacated", "vacated runway=27"),
    ("runway vacated", "vacated"),
    ("clear of runway two seven", "vacated runway=27"),
    ("vacated", "vacated"),
    ("report vacated", "report"),
    ("report when ready for departure", "report"),
    ("will report runway vacated", "report"),
    ("have you vacated", "vacated_question"),
    ("are you ready for immediate departure", "ready_question"),
    ("be ready for immediate departure", "be_ready"),
    ("cleared for take-off runway two seven", "take_off runway=27"),
    ("runway two seven, cleared for takeoff", "take_off runway=27"),
    (
        "cancel take-off, I say again, cancel take-off",
        "cancel_take_off; i_say_again; cancel_take_off",
    ),
    ("stop immediately", "stop"),
    ("stopping", "stop"),
    ("cleared to land runway two seven", "land runway=27"),
    # frequencies, settings
    ("contact tower 118.7", "contact unit=tower frequency=118.700"),
    ("contact tower one one eight decimal seven zero five", "contact unit=tower frequency=118.705"),
    ("contact Ellery Ground one two one decimal niner", "contact unit=ground frequency=121.900"),
    ("contact ground point seven", "contact unit=ground frequency=.7"),
    ("contact ground one twenty-one point nine", "contact unit=ground frequency=121.900"),
    ("contact tower one one eight seven", "contact unit=tower frequency=118.700"),
    ("one one eight decimal three five", "contact frequency=118.350"),
    ("one one eight three five", "contact frequency=118.350"),
    ("over to tower", "contact unit=tower"),
    ("tower one one eight decimal seven", "contact unit=tower frequency=118.700"),
    ("change to my frequency one three four point five", "contact frequency=134.500"),
    ("monitor tower one one eight decimal one zero", "monitor unit=tower frequency=118.100"),
    ("monitoring one one eight decimal one", "monitor frequency=118.100"),
    ("stand by one one eight decimal one for tower", "monitor frequency=118.100 unit=tower"),
    ("remain on this frequency", "remain_on_frequency"),
    ("QNH one zero one three", "qnh qnh=1013"),
    ("QNH 987 hectopascals", "qnh qnh=987"),
    ("QNH one thousand", "qnh qnh=1000"),
    ("altimeter two niner niner two", "altimeter altimeter=29.92"),
    ("altimeter 29.92", "altimeter altimeter=29.92"),
    ("squawk 4312", "squawk squawk=4312"),
    ("squawking seven thousand", "squawk squawk=7000"),
    ("squawk twenty-three forty-one", "squawk squawk=2341"),
    ("time three five", "time time=35"),
    ("time 1435", "time time=1435"),
    ("information Kilo", "information information_letter=K"),
    ("information Bravo received", "information information_letter=B"),
    (
        "cleared to Westhaven via Alfa five, squawk 2341",
        "route_clearance destination=westhaven airway=A5; squawk squawk=2341",
    ),
    ("cancel push back", "cancel"),
    ("push back cancelled", "cancel"),
    ("cancel my last instruction", "cancel"),
    # words
    ("roger", "roger"),
    ("copied", "roger"),
    ("wilco", "wilco"),
    ("affirm", "affirm"),
    ("affirmative", "affirm"),
    ("negative", "negative"),
    ("unable", "unable"),
    ("unable to comply", "unable"),
    ("say again", "say_again"),
    ("stand by", "stand_by"),
    ("read back hold instructions", "read_back"),
    ("correct", "correct"),
    ("go ahead", "go_ahead"),
    ("acknowledge", "acknowledge"),
    ("confirm", "confirm"),
    ("disregard", "disregard"),
    ("good morning", "courtesy"),
    ("thank you very much", "courtesy"),
    ("stand two four, request start up", "request stand=24"),
    ("stand two four, ready to taxi", "ready stand=24"),
    ("sequence two then one", "start_sequence engine_sequence=2 1"),
    ("two then one", "start_sequence engine_sequence=2 1"),
    # interphone
    ("left wing tip clear", "wing_clear"),
    ("traffic has passed", "traffic_passed"),
    ("anti-collision beacon on", "beacon light_state=on"),
    ("fuel on board seven thousand four hundred kilograms", "fuel fuel_quantity=7400"),
    ("flaps one five", "flaps flap_setting=15"),
    ("before start checklist complete", "checklist_complete"),
    ("how do you read", "headset_check"),
    ("interphone check", "headset_check"),
    ("do you hear me", "headset_check"),
    ("communication lost", "communication_lost"),
    ("I have lost you", "communication_lost"),
    ("interphone restored", "communication_restored"),
    ("back on the headset", "communication_restored"),
    ("steering bypass pin installed", "bypass_pin pin_state=installed"),
    ("bypass pin removed", "bypass_pin pin_state=removed"),
    ("pin is in", "bypass_pin pin_state=installed"),
    ("pin out", "bypass_pin pin_state=removed"),
    ("remove the bypass pin", "bypass_pin pin_state=removed"),
    ("chocks removed", "chocks chock_state=out"),
    ("wheel chocks are in place", "chocks chock_state=in"),
    ("remove the chocks", "chocks chock_state=out"),
    ("chocks on", "chocks chock_state=in"),
    ("all doors and holds closed", "doors door_state=closed"),
    ("cargo doors are open", "doors door_state=open"),
    ("ground power disconnected", "ground_power link_state=removed"),
    ("GPU removed", "ground_power link_state=removed"),
    ("disconnect the ground power", "ground_power link_state=removed"),
    ("external power off", "ground_power link_state=removed"),
    ("air start unit connected", "air_start link_state=connected"),
    ("air start removed", "air_start link_state=removed"),
    ("walk round complete", "walk_round"),
    ("walkaround completed", "walk_round"),
    ("tow bar connected", "tow_vehicle link_state=connected"),
    ("tractor and tow bar disconnected", "tow_vehicle link_state=removed"),
    ("tug disconnected", "tow_vehicle link_state=removed"),
    ("nose wheels lifted", "nose_lifted"),
    ("ready for push back", "ready_for_push"),
    ("are you ready for pushback", "ready_for_push"),
    ("ready to push", "ready_for_push_statement"),
    ("which direction", "which_direction"),
    ("which way are we pushing", "which_direction"),
    ("confirm brakes released", "brakes_order brake_state=released"),
    ("confirm parking brakes off", "brakes_order brake_state=released"),
    ("release the parking brake", "brakes_order brake_state=released"),
    ("set park brake", "brakes_order brake_state=set"),
    ("set brakes", "brakes_order brake_state=set"),
    ("brakes released", "brakes brake_state=released"),
    ("parking brake set, pressure normal", "brakes brake_state=set"),
    ("the brakes are off", "brakes brake_state=released"),
    ("released brakes", "brakes brake_state=released"),
    ("brake light off", "brakes_confirmed"),
    ("clear to push facing south east", "push_clearance facing=south east"),
    ("cleared for pushback tail left", "push_clearance tail=left"),
    ("we are cleared to push nose north", "push_clearance facing=north"),
    ("hold the push", "hold_push"),
    ("holding the push", "hold_push"),
    ("commencing pushback", "commencing_push"),
    ("starting the push", "commencing_push"),
    ("slow down the push", "slow_push"),
    ("stop push back", "stop_push"),
    ("stop pushback, obstacle", "stop_push stop_reason=obstacle"),
    ("stop stop stop", "stop_push"),
    ("stopping the push", "push_stopped"),
    ("push stopped", "push_stopped"),
    ("push back complete", "push_complete"),
    ("are you ready to start", "ready_to_start"),
    ("ready for engine start", "ready_to_start"),
    ("clear to start number one", "start_clearance engine=1"),
    ("clear to start engines", "start_clearance"),
    ("number two clear", "start_clearance engine=2"),
    ("starting number two", "starting_engine engine=2"),
    ("starting engine one", "starting_engine engine=1"),
    ("starting", "starting_engine"),
    ("start sequence two followed by one", "start_sequence engine_sequence=2 1"),
    ("starting four one two three", "start_sequence engine_sequence=4 1 2 3"),
    ("start number one then two", "start_sequence engine_sequence=1 2"),
    ("hold the start", "hold_start"),
    ("do not start", "hold_start"),
    ("engine two stable", "engine_stable engine=2"),
    ("number one stable", "engine_stable engine=1"),
    ("all engines started", "engines_started"),
    ("smoke from engine two", "engine_hazard hazard=smoke engine=2"),
    ("smoke on number one", "engine_hazard hazard=smoke engine=1"),
    ("flames at the tailpipe of number one", "engine_hazard hazard=flames engine=1"),
    ("fuel leak left side engine number one", "engine_hazard hazard=fuel leak engine=1"),
    ("engine number two on fire", "engine_hazard engine=2 hazard=fire"),
    ("tailpipe fire number two", "engine_hazard hazard=tailpipe fire engine=2"),
    ("start abandoned number one", "start_abandoned engine=1"),
    ("abandon start", "start_abandoned"),
    ("cutting number two", "start_abandoned engine=2"),
    ("shutting down engine two", "start_abandoned engine=2"),
    ("disconnect", "disconnect"),
    ("clear to disconnect", "disconnect"),
    ("disconnect tow bar", "disconnect"),
    ("disconnecting, stand by for visual on your left", "disconnecting; visual side=left"),
    ("hand signals on the right", "visual side=right"),
    ("visual at your left", "visual side=left"),
    ("right side", "visual side=right"),
    ("see you on the left", "visual side=left"),
    ("show me the pin", "show_pin"),
    ("pin in sight", "pin_shown"),
    ("all clear", "all_clear"),
    ("all clear left and right", "all_clear"),
    ("goodbye", "courtesy"),
    ("end of call", "courtesy"),
]
# Where words can be read two ways: which way is right, and why.
AMBIGUOUS = [
    # A registration after a route: the letters that were addressed are the callsign.
    (
        "taxi via alfa bravo golf charlie delta",
        ("G-ABCD",),
        "taxi route=A B; callsign callsign=G-CD",
    ),
    ("taxi via alfa charlie delta", ("G-ABCD",), "taxi route=A C D"),
    ("taxi via alfa bravo charlie delta", ("G-ABCD",), "taxi route=A B C D"),
    (
        "via charlie november one two three four alfa",
        ("N1234A",),
        "taxi route=C; callsign callsign=N1234A",
    ),
    (
        "hold short of bravo golf alfa bravo charlie delta",
        ("G-ABCD",),
        "hold_short taxiway=B; callsign callsign=G-ABCD",
    ),
    # Digits that run into each other: a runway has two, the flight number is the one addressed.
    (
        "runway two seven left four two one",
        ("LARKSPUR 421",),
        "runway runway=27L; callsign callsign=421",
    ),
    (
        "hold short runway two seven four two one",
        ("LARKSPUR 421",),
        "hold_short runway=27; callsign callsign=421",
    ),
    (
        "cross runway two four two one",
        ("LARKSPUR 421",),
        "cross runway=02; callsign callsign=421",
    ),
    (
        "contact tower one one eight decimal seven four two one",
        ("LARKSPUR 421",),
        "contact unit=tower frequency=118.700; callsign callsign=421",
    ),
    (
        "qnh one zero one three seven three",
        ("BLUEFIN 73",),
        "qnh qnh=1013; callsign callsign=73",
    ),
    (
        "squawk four three one two seven three",
        ("BLUEFIN 73",),
        "squawk squawk=4312; callsign callsign=73",
    ),
    ("time three five seven three", ("BLUEFIN 73",), "time time=35; callsign callsign=73"),
    # HOLD is a word of several calls; the longest that fits is meant.
    ("hold", (), "hold_position"),
    ("hold short of runway two seven", (), "hold_short runway=27"),
    ("holding position", (), "hold_position"),
    ("taxi to holding position bravo two", (), "taxi holding_point=B2"),
    ("hold the push", (), "hold_push"),
    ("hold the start", (), "hold_start"),
    ("hold at bravo two", (), "hold_short holding_point=B2"),
    ("hold south of stand five", (), "hold_position direction=south stand=5"),
    # HOLDING SHORT as the place of a call is no instruction (Transport Canada AIM RAC 4.2.5).
    ("contact tower holding short runway two six", (), "contact unit=tower"),
    # STAND BY is an answer, an announcement and a way to listen.
    ("stand by", (), "stand_by"),
    ("stand by for push back", (), "push_back_stand_by"),
    ("stand by for visual on your left", (), "visual side=left"),
    # CLEAR is a state, a clearance and a report.
    ("clear to push", (), "push_clearance"),
    ("clear to start number one", (), "start_clearance engine=1"),
    ("cleared to cross runway two seven", (), "cross runway=27"),
    ("all clear", (), "all_clear"),
    ("clear of runway two seven", (), "vacated runway=27"),
    # NUMBER counts engines and places in the queue.
    ("number two for departure", (), "number_in_line place_in_line=2"),
    ("number two stable", (), "engine_stable engine=2"),
    # FIRE is a hazard and a vehicle.
    ("fire two", (), "callsign callsign=FIRE 2"),
    ("fire number two", (), "engine_hazard hazard=fire engine=2"),
    # CORRECTION as a standard word, and CORRECT.
    ("that is correct", (), "correct"),
]


def said(text, callsigns=()):
    calls = parse(text, GRAMMAR, callsigns).calls
    return "; ".join(
        " ".join([call.name, *(f"{item.name}={item.value}" for item in call.elements)])
        for call in calls
    )


@pytest.mark.parametrize(("text", "expected"), CALLS, ids=[text for text, _ in CALLS])
def test_a_call_is_parsed(text, expected):
    assert said(text) == expected
    assert parse(text, GRAMMAR).unparsed == ()


@pytest.mark.parametrize(("text", "callsigns", "expected"), AMBIGUOUS)
def test_ambiguous_words_are_read_one_way(text, callsigns, expected):
    assert said(text, callsigns) == expected


def test_every_call_of_the_grammar_has_a_row():
    rows = " ".join(expected for _, expected in CALLS).replace(";", "").split()
    # These stand in the tests of callsigns, talk and old wording.
    elsewhere = {"callsign", "station", "filler", "okay", "position_and_hold"}

    assert set(GRAMMAR.calls) - set(rows) == elsewhere


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("position and hold runway two seven", "position_and_hold; runway runway=27"),
        ("okay", "okay"),
        ("no worries", "okay"),
        ("uh hold um short of er runway two seven", "filler; hold_short runway=27; filler; filler"),
        ("Ellery Ground", "station"),
        ("ground, flight deck", "station; station"),
    ],
)
def test_talk_and_old_wording_are_known(text, expected):
    assert said(text) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("runway two seven correction two six", "runway runway=26"),
        ("hold short runway two seven right correction left", "hold_short runway=27L"),
        ("taxi to holding point bravo one correction bravo two", "taxi holding_point=B2"),
        ("squawk 4321, sorry, 4312", "squawk squawk=4312"),
        ("ground 121.9, make that 121.8", "contact unit=ground frequency=121.800"),
        ("via bravo to stand five, I mean stand nine", "taxi route=B; taxi stand=9"),
        (
            "larkspur 412 correction larkspur 421 hold position",
            "callsign callsign=LARKSPUR 421; hold_position",
        ),
        (
            "cross runway one eight correction I say again hold short of runway one eight",
            "hold_short runway=18",
        ),
        ("taxi via alfa disregard hold position", "hold_position"),
        ("brakes set correction brakes released", "brakes brake_state=released"),
        ("runway two seven correction two six correction two five", "runway runway=25"),
        # Sorry takes nothing back that what follows cannot replace.
        (
            "hold short of runway two seven, sorry about that, larkspur 421",
            "hold_short runway=27; courtesy; callsign callsign=LARKSPUR 421",
        ),
        ("sorry, say again", "courtesy; say_again"),
    ],
)
def test_the_last_of_a_corrected_value_counts(text, expected):
    """CORRECTION: ICAO Annex 10 Vol II 5.2.1.5.8, SERA.14075(c); other words: common practice."""
    assert said(text) == expected


def test_what_was_taken_back_is_a_slip():
    reading = parse("runway two seven, correction, two six", GRAMMAR)

    assert [(slip.span, slip.said) for slip in reading.slips] == [
        ((1, 4), "two seven, correction,")
    ]
