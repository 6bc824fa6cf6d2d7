"""Make the texts that the training voices speak, and the pronunciation of every word in them.

    python -m audio_demo_synth.ear.texts OUT.json --count 40000 --seed 11 [--general FILE.txt] \
        [--unlike LABELS.csv ...]

Six kinds: sentences of the project's grammar, calls of both families, strings of random words (so
that no grammar is learned by heart), single words, one or two digits, and general sentences and
random dictionary words (so that every phone is heard). Texts that figures are taken on
(``--unlike``) stay out.
"""

import argparse
import csv
import json
import random
import re
from collections.abc import Callable, Sequence
from pathlib import Path

from audio_demo_synth.ear.sentences import make_sentence
from audio_demo_synth.ear.vocabulary import (
    COMPASS,
    DIGITS,
    LETTERS,
    OPERATOR_NAMES,
    PHRASE_WORDS,
    SIDES,
    load_dictionary,
)
from readback.errors import InputError
from readback.phraseology.grammar import Grammar, load_grammar

GROUND = """
hold short of runway {rwy}|hold short of {rwy} at {twy}|hold short of {twy}
holding short runway {rwy}|holding short of runway {rwy}|hold short of taxiway {twy}|hold position
holding position|holding|cross runway {rwy}|cross runway {rwy} at {twy}|crossing runway {rwy}
cleared to cross runway {rwy}|expedite crossing runway {rwy}|report vacated|runway vacated
vacated runway {rwy}|taxi to runway {rwy} via {route}|runway {rwy} taxi via {route}
taxi via {route}|taxi to stand {n2}|taxi to holding point {twy} runway {rwy}
taxi to holding point {twy} runway {rwy} via {route}
taxi holding point {twy} runway {rwy} via taxiway {twy}|taxi to stand {n2} via {route}|via {route}
taxi to the de icing pad via {route}|taxi to the remote pad|continue taxi|request taxi
request pushback|line up and wait runway {rwy}|runway {rwy} line up and wait
lining up and waiting runway {rwy}|line up runway {rwy}
behind the landing traffic line up and wait runway {rwy} behind
behind the departing aircraft line up runway {rwy} behind|runway {rwy} at {twy} line up and wait
backtrack runway {rwy}|backtrack approved runway {rwy}|request backtrack|vacate next {side}
push back approved|push back approved facing {compass}|pushback approved tail {compass}
pushback approved onto {twy}|pushback at own discretion|expect {n2} minutes delay|stand by for push
start up approved|start up approved q n h {qnh}|start up at {time}|expect start up at time {time}
contact ground {freq}|contact tower {freq}|monitor tower {freq}|contact ground on {freq}
contact delivery {freq}|{freq}|contact apron {freq}|stand by {freq} for ground|q n h {qnh}
altimeter {alt}|squawk {squawk}|information {letter}|time {time}|squawk ident
give way to the traffic on your {side}|give way to the company traffic|follow the company traffic
follow the {operator}|giving way|following|caution jet blast|expedite taxi|slow down|taxi slower
report ready for departure|ready for departure|ready|wilco|roger|affirm|negative|unable|say again
stop immediately|stop immediately i say again stop immediately|cancel takeoff|negative i say again
correction runway {rwy}|stand by|radio check|reading you five|read back|disregard|go ahead|correct
tow approved via {route}|proceed via {route}|runway {rwy}|taxi straight ahead|make a one eighty
wind {n3} degrees {n1} knots runway {rwy} cleared for takeoff|cleared for takeoff runway {rwy}
hold short of the intersection|take the second {side}|turn {side} at {twy}|turn {side} heading {n3}
climb flight level {n3}|number {n1} for departure|full length runway {rwy}|from intersection {twy}
""".strip().replace("\n", "|")
INTERPHONE = """
brakes released|brakes set|release brakes|set brakes|confirm brakes released|confirm brakes set
parking brake released|parking brake set|release parking brake|set parking brake|brakes off
brakes on|confirm parking brakes off|ready for pushback|are you ready for pushback|ready to push
clear to push|clear to push facing {compass}|clear for pushback facing {compass}
push back facing {compass}|cleared to push tail {compass}|commencing pushback|pushback completed
push complete set brakes|stop pushback|stop push|stop stop stop|slow down|hold the push
hold the start|hold position|bypass pin installed|bypass pin removed|steering bypass pin in
steering pin removed|pin removed|are you ready to start up|ready to start|ready to start up
starting number {e}|starting engine {e}|start number {e}|clear to start number {e}
clear to start engines {e} and {e}|clear to start|start sequence {e} followed by {e}
starting {e} followed by {e}|starting {e} {e} {e} {e}|starting engines one and two
engine {e} started|engines started|all engines started|two good starts|good start on number {e}
disconnect|disconnecting|clear to disconnect|disconnect headset
disconnecting stand by for visual at your {side}|hand signals on the {side}|see you on the {side}
stand by for hand signal on the {side}|clear to taxi|all clear|all clear on the {side}
ground cockpit|cockpit ground|flight deck ground|ground flight deck|cockpit to ground|go ahead
how do you read|reading you loud and clear|headset check|interphone check|loud and clear
doors closed|all doors closed|doors and hatches closed|cargo doors closed|holds closed
ground power connected|ground power removed|ground power disconnected|remove ground power
air start connected|air start unit removed|ready for air|chocks in place|chocks removed
remove chocks|walk round complete|walkround complete|tow bar connected|towbar connected
towbar removed|tug connected|tug disconnected|tractor and tow bar disconnected|nose wheels lifted
hydraulics pressurised|hydraulic pressure off|steering pressure off|beacon on|beacon off|area clear
area is clear|smoke engine number {e}|smoke from engine {e}|flames engine number {e}
fire engine number {e}|fuel leak engine number {e}|tailpipe fire engine {e}|abandon start
start abandoned|cut engine {e}|shut down engine {e}|lost contact|communication restored
set brakes pin removed|pin shown|thank you good day|have a good flight|goodbye|see you
push approved by ground|where nose toward|nose toward the {compass}|stand clear|hydraulic leak
stop the engine start|give way first
""".strip().replace("\n", "|")
CHAT = """
good morning how is it going|we are waiting for two passengers|the belt loader is still there
what time is your break|i have not seen the tug driver|did you watch the match last night
can you ask them about the bags|it is raining again|the captain is on the phone|coffee is ready
please tell the gate we need ten more minutes|there is a truck behind you|my radio is broken
they said the slot is cancelled|who has the keys to the van|we will be late again today
""".strip().replace("\n", "|")
TEMPLATES = {"ground": GROUND.split("|"), "interphone": INTERPHONE.split("|")}
CHATS = CHAT.split("|")


def fillings(rng: random.Random) -> dict[str, Callable[[], str]]:
    """What a blank of a template may hold, one maker each."""

    def digit() -> str:
        return rng.choice(DIGITS[:11] if rng.random() < 0.9 else DIGITS)

    def number(least: int, most: int) -> str:
        return " ".join(digit() for _ in range(rng.randint(least, most)))

    def runway() -> str:
        side = f" {rng.choice(SIDES)}" if rng.random() < 0.6 else ""
        return number(1, 2) + side if rng.random() < 0.1 else f"{digit()} {digit()}{side}"

    def taxiway() -> str:
        return rng.choice(LETTERS) + (f" {number(1, 2)}" if rng.random() < 0.45 else "")

    def route() -> str:
        names = [taxiway() for _ in range(rng.randint(1, 4))]
        if len(names) > 1 and rng.random() < 0.2:
            names.insert(-1, "and")
        return " ".join(names)

    def frequency() -> str:
        point = "decimal" if rng.random() < 0.7 else "point"
        return f"one {rng.choice(['one', 'two', 'three'])} {digit()} {point} {number(1, 3)}"

    return {
        "rwy": runway,
        "twy": taxiway,
        "route": route,
        "freq": frequency,
        "n1": lambda: number(1, 1),
        "n2": lambda: number(1, 2) + (f" {rng.choice(LETTERS)}" if rng.random() < 0.2 else ""),
        "n3": lambda: number(3, 3),
        "e": lambda: rng.choice(["one", "two", "three", "four"]),
        "qnh": lambda: rng.choice([f"one zero {number(2, 2)}", f"nine {number(2, 2)}"]),
        "alt": lambda: rng.choice(["two nine", "three zero"]) + " " + number(2, 2),
        "squawk": lambda: number(4, 4),
        "time": lambda: number(2, 4),
        "letter": lambda: rng.choice(LETTERS),
        "side": lambda: rng.choice(SIDES[:2]),
        "compass": lambda: rng.choice(COMPASS),
        "operator": lambda: rng.choice(OPERATOR_NAMES),
    }


def make_call(rng: random.Random) -> str:
    """Make one or two calls of one family, mostly with a callsign at either end."""
    blanks = fillings(rng)
    family = rng.choice(["ground", "ground", "interphone"])
    parts = [rng.choice(TEMPLATES[family])]
    if rng.random() < 0.4:
        parts.append(rng.choice(TEMPLATES[family]))
    if rng.random() < (0.6 if family == "ground" else 0.1):
        if rng.random() < 0.8:
            tail = " ".join(rng.choice(DIGITS[:11]) for _ in range(rng.randint(1, 4)))
            sign = f"{rng.choice(OPERATOR_NAMES)} {tail}"
        else:
            sign = " ".join(rng.choice(LETTERS) for _ in range(rng.randint(2, 5)))
        parts.insert(rng.choice([0, len(parts), len(parts)]), sign)
    text = re.sub(r"\{(\w+)\}", lambda blank: blanks[blank[1]](), " ".join(parts))
    return " ".join(text.split())


def make_words(rng: random.Random) -> str:
    """Make a string of random words of the vocabulary."""
    pools = [
        DIGITS[:11],
        DIGITS,
        LETTERS,
        OPERATOR_NAMES,
        PHRASE_WORDS,
        PHRASE_WORDS,
        SIDES + COMPASS,
    ]
    return " ".join(rng.choice(rng.choice(pools)) for _ in range(rng.randint(2, 10)))


def grammar_sentence(rng: random.Random, grammar: Grammar) -> str:
    """Make a call of the project's grammar, its abbreviations spelled as they are said."""
    while True:
        try:
            return make_sentence(grammar, rng).lower().replace("qnh", "q n h")
        except InputError:  # some sets of values have no wording
            continue


def make_text(
    rng: random.Random, general: Sequence[str], rare: Sequence[str], grammar: Grammar
) -> str:
    """Make one text of any kind."""
    kind = rng.random()
    if kind < 0.22:
        return grammar_sentence(rng, grammar)
    if kind < 0.32:
        return " ".join(rng.choice(DIGITS[:11]) for _ in range(rng.randint(1, 2)))
    kind = rng.random()
    if kind < 0.2:
        pools = [DIGITS, DIGITS[:11], LETTERS, OPERATOR_NAMES, PHRASE_WORDS]
        return rng.choice(rng.choice(pools))
    if kind < 0.50:
        return make_call(rng)
    if kind < 0.72:
        return make_words(rng)
    if kind < 0.80:
        return " ".join(rng.choice(rare) for _ in range(rng.randint(1, 6)))
    if kind < 0.83:
        return rng.choice(CHATS)
    return rng.choice(general) if general else make_words(rng)


def read_general(path: Path, lexicon: dict[str, str]) -> list[str]:
    """Read sentences, one a line, of 3 to 16 words that all stand in the lexicon."""
    found = set()
    for line in path.read_text("utf-8").splitlines():
        words = re.sub(r"[^a-z' ]+", " ", line.lower()).split()
        if 3 <= len(words) <= 16 and all(word in lexicon for word in words):
            found.add(" ".join(words))
    return sorted(found)


def read_said(paths: Sequence[Path]) -> set[str]:
    """Read the columns ``instruction`` and ``readback`` of labels."""
    rows = [row for path in paths for row in csv.DictReader(path.open(encoding="utf-8"))]
    said = (row[column].lower() for row in rows for column in ("instruction", "readback"))
    return {" ".join(re.sub(r"[^a-z' ]+", " ", text).split()) for text in said}


def main() -> None:
    """Write ``{"lexicon": word -> phones, "texts": [...]}``."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("out", type=Path)
    parser.add_argument("--count", type=int, default=40_000)
    parser.add_argument("--seed", type=int, default=11)
    parser.add_argument("--general", type=Path)
    parser.add_argument("--unlike", type=Path, nargs="*", default=[])
    options = parser.parse_args()
    rng = random.Random(options.seed)
    dictionary = load_dictionary()
    rare = sorted(word for word in dictionary if re.fullmatch(r"[a-z]{3,9}", word))
    general = read_general(options.general, dictionary) if options.general else []
    grammar, reported = load_grammar(), read_said(options.unlike)
    made = (make_text(rng, general, rare, grammar) for _ in range(options.count))
    texts = [
        text
        for text in made
        if text not in reported and all(word in dictionary for word in text.split())
    ]
    words = sorted({word for text in texts + general for word in text.split()})
    lexicon = {word: dictionary[word] for word in words}
    options.out.write_text(json.dumps({"lexicon": lexicon, "texts": texts}), "utf-8")
    print(f"{len(texts)} texts of {options.count}, {len(general)} general, {len(words)} words")


if __name__ == "__main__":
    main()
