"""Words of a transmission parsed into calls and elements.

The parse covers as much of the transmission as it can (`laying`), after what the speaker took back
(`corrections`). Words that belong to no call stay as unparsed spans.
"""

from collections.abc import Iterable, Sequence

from readback.phraseology.callsigns import read_callsign
from readback.phraseology.corrections import FORMAL, MENDING_WORDS, take_back
from readback.phraseology.grammar import Grammar, element_name
from readback.phraseology.laying import REPEATABLE, Piece, Tokens, lay
from readback.phraseology.model import Call, Element, Reading, Repair, Slip
from readback.phraseology.words import canonical_words, hesitations
from readback.transmission import Transmission, Word

_SAID_TWICE = frozenset({"stop", "bye"})
# Where these end a number they may be small words after it as well.
_SMALL_WORDS = frozenset({"to", "for"})
_RUN_ON_KINDS = frozenset({"route", "taxiway", "holding_point", "stand"})


def parse(
    transmission: Transmission | str, grammar: Grammar, callsigns: Sequence[str] = ()
) -> Reading:
    """Parse a transmission.

    Args:
        transmission: Typed text or heard words; empty ones give a reading without calls.
        grammar: The calls to find.
        callsigns: Known callsigns as `read_callsign` writes them; found anywhere, short forms too.

    Returns:
        The calls in the order spoken, what was repaired, taken back and left over.
    """
    if isinstance(transmission, str):
        transmission = Transmission.typed(transmission)
    tokens, asides = _tokens(transmission.words, grammar)
    slips: list[Slip] = []
    if not MENDING_WORDS.isdisjoint(tokens.words):
        tokens = take_back(tokens, grammar, callsigns, transmission.words, slips)
    pieces = lay(tokens, grammar, callsigns)
    return _reading(transmission, tokens, pieces, grammar, slips, asides)


def _tokens(words: Sequence[Word], grammar: Grammar) -> tuple[Tokens, list[int]]:
    """Split words into the grammar's; those said while thinking are given apart, by index."""
    tokens = Tokens([], [])
    asides: list[int] = []
    pauses = hesitations()
    for index, word in enumerate(words):
        canonical = canonical_words(word.word)
        if len(canonical) == 1 and (
            canonical[0] in pauses or _stumbled(canonical[0], tokens, grammar)
        ):
            if canonical[0] in pauses:
                asides.append(index)
                continue
            # The second of the two is kept: what follows belongs to it. The first stays unparsed.
            tokens.origin.pop()
            tokens.words.pop()
        for part in canonical:
            tokens.words.append(part)
            tokens.origin.append(index)
    return tokens, asides


def _stumbled(word: str, tokens: Tokens, grammar: Grammar) -> bool:
    """Tell a word said twice by mistake; digits, letters and STOP STOP are meant so."""
    if not tokens.words or tokens.words[-1] != word or word not in grammar.vocabulary:
        return False
    return word not in REPEATABLE and word not in _SAID_TWICE and word not in FORMAL


def _reading(
    transmission: Transmission,
    tokens: Tokens,
    pieces: list[Piece],
    grammar: Grammar,
    slips: list[Slip],
    asides: Sequence[int],
) -> Reading:
    words = transmission.words
    calls, repairs = [], []
    covered: set[int] = set()
    for piece in pieces:
        calls.append(_call(piece, tokens, words, grammar))
        covered.update(tokens.origin[piece.start : piece.end])
        for index, taken in piece.taken.items():
            origin = tokens.origin[index]
            repairs.append(
                Repair(span=(origin, origin + 1), said=words[origin].word, taken_as=taken.word)
            )
    for slip in slips:
        covered.update(range(*slip.span))
    for index in asides:
        if index not in covered:
            calls.append(_filler(index, words, grammar))
            covered.add(index)
    if asides:
        calls.sort(key=lambda call: call.span)
    left_over = [
        index
        for index, word in enumerate(words)
        if index not in covered and canonical_words(word.word)
    ]
    return Reading(
        text=transmission.text,
        calls=tuple(calls),
        words=words,
        unparsed=tuple(index_runs(left_over)),
        repairs=tuple(repairs),
        slips=tuple(slips),
    )


def _filler(index: int, words: Sequence[Word], grammar: Grammar) -> Call:
    """A sound made while thinking, which means nothing wherever it stands."""
    return Call(
        name="filler",
        family=grammar.calls["filler"].family,
        span=(index, index + 1),
        certainty=words[index].certainty,
    )


def _call(piece: Piece, tokens: Tokens, words: Sequence[Word], grammar: Grammar) -> Call:
    said = tokens.words[piece.start : piece.end]
    for index, taken in piece.taken.items():
        said[index - piece.start] = taken.word
    doubtful = {index - piece.start for index, taken in piece.taken.items() if taken.doubtful}
    small = {index - piece.start for index in piece.taken if tokens.words[index] in _SMALL_WORDS}
    elements = []
    if piece.name == "callsign":
        value = piece.known_callsign or read_callsign(tuple(said))
        span = _span(tokens, piece.start, piece.end)
        elements.append(
            Element(
                name="callsign",
                kind="callsign",
                value=value,
                span=span,
                certainty=span_certainty(words, span),
                doubtful=bool(doubtful),
            )
        )
    else:
        for rule, start, end in grammar.elements_of(piece.name, piece.signs):
            kind, value = grammar.element_value(rule, tuple(said[start:end]))
            span = _span(tokens, piece.start + start, piece.start + end)
            elements.append(
                Element(
                    name=element_name(rule),
                    kind=kind,
                    value=value,
                    span=span,
                    certainty=span_certainty(words, span),
                    doubtful=not doubtful.isdisjoint(range(start, end))
                    or _ends_in_small_word(small, start, end, kind),
                )
            )
    span = _span(tokens, piece.start, piece.end)
    return Call(
        name=piece.name,
        family=grammar.calls[piece.name].family,
        span=span,
        elements=tuple(elements),
        certainty=span_certainty(words, span),
    )


def _ends_in_small_word(small: set[int], start: int, end: int, kind: str) -> bool:
    """Tell a value that may be shorter: TO or FOR was taken for its last digit."""
    if kind in _RUN_ON_KINDS:
        return any(start <= place < end for place in small)
    return end - 1 in small


def _span(tokens: Tokens, start: int, end: int) -> tuple[int, int]:
    return tokens.origin[start], tokens.origin[end - 1] + 1


def span_certainty(words: Sequence[Word], span: tuple[int, int]) -> float | None:
    """Give the certainty of the least certain word of a span; None where none has one."""
    known = [word.certainty for word in words[span[0] : span[1]] if word.certainty is not None]
    return min(known) if known else None


def index_runs(indices: Iterable[int]) -> list[tuple[int, int]]:
    """Put rising numbers that follow one another together into spans."""
    runs: list[tuple[int, int]] = []
    for index in indices:
        if runs and runs[-1][1] == index:
            runs[-1] = (runs[-1][0], index + 1)
        else:
            runs.append((index, index + 1))
    return runs
