"""Engines named beside a start, in words that the grammar does not lay to it."""

from collections.abc import Sequence

from readback.phraseology.model import Call, Element, Reading, Span
from readback.phraseology.parser import index_runs, span_certainty
from readback.phraseology.words import canonical_tokens, canonical_words

_STARTS = frozenset({"start_clearance", "starting_engine", "ready_to_start"})
_ENGINES = {"one": "1", "two": "2", "three": "3", "four": "4"}
_BETWEEN = frozenset(
    "a and beginning by engine engines first followed in no number of on order sequence the then up"
    " with".split()
)
"""Words that may stand between a start and its engines."""
_LINKS = frozenset({"and", "first", "followed", "then"})
_BARE = frozenset({"filler", "negative", "number_in_line"})
"""Calls that such words are taken for: NO. 2, THE NUMBER TWO."""


def with_engines(reading: Reading) -> Reading:
    """Lay the engines to the start before them: CLEAR TO START ENGINES TWO, TWO THEN ONE.

    The parser passes over words that it does not know; without this the start that names an engine
    would be one that names none, which STARTING answers.

    Args:
        reading: An instruction or a readback.

    Returns:
        The same, where a start has its engine, or is the start sequence of several. What may be
        another number stays as it was: IN TWO MINUTES.
    """
    if all(call.name not in _STARTS for call in reading.calls):
        return reading
    calls: list[Call] = []
    for index, call in enumerate(reading.calls):
        if calls and calls[-1].span[1] > call.span[0]:
            continue  # Its words belong to the start before it.
        places = _engines_after(reading, index) if call.name in _STARTS else []
        calls.append(_joined(reading, call, places) if places else call)
    taken = {place for call in calls for place in range(*call.span)}
    left = (at for span in reading.unparsed for at in range(*span) if at not in taken)
    return reading.model_copy(update={"calls": tuple(calls), "unparsed": tuple(index_runs(left))})


def _engines_after(reading: Reading, index: int) -> list[int]:
    """Give the places of the words that name an engine after a start, beside that in it."""
    call = reading.calls[index]
    named = call.element("engine") is not None
    inside = {place: other for other in reading.calls[index + 1 :] for place in range(*other.span)}
    places: list[int] = []
    for place in range(call.span[1], len(reading.words)):
        word = _word(reading, place)
        other = inside.get(place)
        if other is not None and not _is_bare(reading, other):
            break
        if named and place == call.span[1] and word not in _LINKS:
            break
        if word in _ENGINES:
            places.append(place)
        elif word not in _BETWEEN:
            # Whose number it is can only be told by what comes after it.
            if other is None and places and places[-1] == place - 1:
                places.pop()
            break
    return places


def _is_bare(reading: Reading, call: Call) -> bool:
    words = canonical_tokens(reading.words[slice(*call.span)])
    return call.name in _BARE and set(words) <= _BETWEEN | _ENGINES.keys()


def _word(reading: Reading, place: int) -> str:
    return " ".join(canonical_words(reading.words[place].word))


def _joined(reading: Reading, call: Call, places: Sequence[int]) -> Call:
    """Make one call of a start and the engines named after it."""
    own = call.element("engine")
    order = [*([own.value] if own else []), *(_ENGINES[_word(reading, at)] for at in places)]
    span = (call.span[0], places[-1] + 1)
    if len(set(order)) == 1:
        engine = own or _element(reading, "engine", order[0], (places[-1], span[1]))
        return call.model_copy(update={"span": span, "elements": (engine,)})
    first = own.span[0] if own else places[0]
    value = " ".join(dict.fromkeys(order))
    # As the grammar has CLEAR TO START ENGINES TWO AND ONE; a question stays one.
    name = call.name if call.name == "ready_to_start" else "start_sequence"
    elements = (_element(reading, "engine_sequence", value, (first, span[1])),)
    return call.model_copy(update={"name": name, "span": span, "elements": elements})


def _element(reading: Reading, name: str, value: str, span: Span) -> Element:
    certainty = span_certainty(reading.words, span)
    return Element(name=name, kind=name, value=value, span=span, certainty=certainty)
