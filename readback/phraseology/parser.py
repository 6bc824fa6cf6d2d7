"""Words of a transmission parsed into calls and elements.

The parse covers as much of the transmission as it can: of all ways to lay calls over the words it
takes the one that leaves the fewest words over, with the fewest pieces. Words that belong to no
call stay as unparsed spans.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from readback.phraseology.callsigns import read_callsign, spoken_forms
from readback.phraseology.grammar import Grammar, element_name
from readback.phraseology.model import Call, Element, Reading, Repair, Slip
from readback.phraseology.repair import Taken, near_misses
from readback.phraseology.words import canonical_words, homophones
from readback.transmission import Transmission, Word

_WORD_GAIN = 10
_PIECE_COST = 4
_REPAIR_COST = 3
_CALLSIGN_INSIDE_COST = 9
_UNKNOWN_CALLSIGN_COST = 6
_KNOWN_CALLSIGN_GAIN = 8
_LONGEST_SLIP = 12
_START_CALLS = frozenset({"courtesy", "filler", "okay", "roger", "negative", "affirm", "station"})
_AFTER_CALLSIGN = frozenset({"courtesy", "filler", "station"})


@dataclass(slots=True)
class _Tokens:
    """Grammar words, each with the index of the word of the transmission it comes from."""

    words: list[str]
    origin: list[int]

    def part(self, start: int, end: int | None = None) -> "_Tokens":
        return _Tokens(self.words[start:end], self.origin[start:end])

    def __add__(self, other: "_Tokens") -> "_Tokens":
        return _Tokens(self.words + other.words, self.origin + other.origin)


@dataclass(slots=True)
class _Piece:
    """One call laid over tokens [start, end)."""

    start: int
    end: int
    name: str
    signs: str
    taken: dict[int, Taken]
    known_callsign: str | None = None


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
    tokens = _Tokens([], [])
    for index, word in enumerate(transmission.words):
        for canonical in canonical_words(word.word):
            tokens.words.append(canonical)
            tokens.origin.append(index)
    slips: list[Slip] = []
    if not _MENDING_WORDS.isdisjoint(tokens.words):
        tokens = _take_back(tokens, grammar, callsigns, transmission.words, slips)
    pieces = _lay(tokens, grammar, callsigns)
    return _reading(transmission, tokens, pieces, grammar, slips)


# ---- laying calls over words ---------------------------------------------------------------------


def _lay(tokens: _Tokens, grammar: Grammar, callsigns: Sequence[str]) -> list[_Piece]:
    words = tokens.words
    count = len(words)
    signs = grammar.signs(words)
    options = _options(words, grammar)
    known = _known_callsigns(words, callsigns)
    best = [0] * (count + 1)
    choice: list[_Piece | None] = [None] * (count + 1)
    for at in range(count - 1, -1, -1):
        best[at] = best[at + 1]
        for end, callsign in known.get(at, ()):
            gain = best[end] + (end - at) * _WORD_GAIN + _KNOWN_CALLSIGN_GAIN
            if gain > best[at]:
                best[at] = gain
                choice[at] = _Piece(at, end, "callsign", signs[at:end], {}, callsign)
        for variant, taken in _variants(signs, at, options):
            for end, names in grammar.matches(variant, at):
                used = {i: options[i][variant[i]] for i in taken if i < end}
                if taken and not used:
                    continue
                gain = best[end] + (end - at) * _WORD_GAIN - _PIECE_COST
                gain -= _REPAIR_COST * len(used)
                name = names[0]
                if name == "callsign":
                    gain -= _callsign_cost(words, at, end, choice, grammar)
                if gain > best[at]:
                    best[at] = gain
                    choice[at] = _Piece(at, end, name, variant[at:end], used)
    pieces = []
    at = 0
    while at < count:
        piece = choice[at]
        if piece is None or best[at] == best[at + 1]:
            at += 1
        else:
            pieces.append(piece)
            at = piece.end
    return pieces


def _callsign_cost(
    words: list[str], at: int, end: int, choice: list[_Piece | None], grammar: Grammar
) -> int:
    """A callsign stands at the start or the end; elsewhere it is more likely something else."""
    cost = 0
    if any(word not in grammar.vocabulary for word in words[at:end]):
        cost += _UNKNOWN_CALLSIGN_COST
    if at <= 2 or end == len(words):
        return cost
    following = choice[end]
    if following is not None and following.name in _AFTER_CALLSIGN:
        return cost
    return cost + _CALLSIGN_INSIDE_COST


def _known_callsigns(
    words: list[str], callsigns: Sequence[str]
) -> dict[int, list[tuple[int, str]]]:
    found: dict[int, list[tuple[int, str]]] = {}
    for callsign in callsigns:
        for form in spoken_forms(callsign):
            size = len(form)
            for at in range(len(words) - size + 1):
                edge = at == 0 or at + size == len(words)
                full = form is spoken_forms(callsign)[0]
                if words[at] == form[0] and tuple(words[at : at + size]) == form and (edge or full):
                    found.setdefault(at, []).append((at + size, read_callsign(form)))
    return found


def _options(words: list[str], grammar: Grammar) -> dict[int, dict[str, Taken]]:
    """For words the grammar may not mean: sign -> what the word may be taken for."""
    options: dict[int, dict[str, Taken]] = {}
    sounds = homophones()
    for index, word in enumerate(words):
        if word in sounds:
            target = sounds[word]
            if target != word and target in grammar.vocabulary:
                options[index] = {grammar.vocabulary[target]: Taken(target, False)}
        elif word not in grammar.vocabulary:
            misses = near_misses(word, grammar)
            if misses:
                options[index] = {grammar.vocabulary[taken.word]: taken for taken in misses}
    return options


def _variants(
    signs: str, at: int, options: dict[int, dict[str, Taken]]
) -> list[tuple[str, tuple[int, ...]]]:
    """The words as they are, and with those near ``at`` replaced that may be something else."""
    variants: list[tuple[str, tuple[int, ...]]] = [(signs, ())]
    if not options:
        return variants
    for index in options:
        if index < at or index >= at + 8:
            continue
        for sign in options[index]:
            if len(variants) > 16:
                break
            variants += [
                (variant[:index] + sign + variant[index + 1 :], (*taken, index))
                for variant, taken in variants
                if index not in taken
            ]
    return variants


# ---- corrections inside a transmission -------------------------------------------------------------

_MENDING_WORDS = frozenset({"correction", "disregard"})


def _take_back(
    tokens: _Tokens,
    grammar: Grammar,
    callsigns: Sequence[str],
    spoken: Sequence[Word],
    slips: list[Slip],
) -> _Tokens:
    """Apply "correction": what follows replaces the last words that it can replace.

    Source: ICAO Annex 10 Volume II, 5.2.1.5.8; SERA.14075(c)(1)-(2).
    """
    for at, word in enumerate(tokens.words):
        if word not in _MENDING_WORDS:
            continue
        before, after = tokens.part(0, at), tokens.part(at + 1)
        if word == "disregard" and not before.words:
            continue
        if word == "disregard" or after.words[:3] == ["i", "say", "again"]:
            kept = _Tokens([], [])
            if after.words[:3] == ["i", "say", "again"]:
                after = after.part(3)
        elif not after.words or not before.words:
            continue
        else:
            after = _take_back(after, grammar, callsigns, spoken, slips)
            kept = before.part(0, _cut(before, after, grammar, callsigns))
        dropped = before.origin[len(kept.words)] if len(kept.words) < at else tokens.origin[at]
        end = tokens.origin[at] + 1
        said = " ".join(item.word for item in spoken[dropped:end])
        slips.append(Slip(span=(dropped, end), said=said))
        return kept + after
    return tokens


def _cut(before: _Tokens, after: _Tokens, grammar: Grammar, callsigns: Sequence[str]) -> int:
    """Find how many words of ``before`` stay: as many as parse whole with what follows."""
    best, best_cut = None, len(before.words)
    total = len(before.words) + len(after.words)
    for cut in range(len(before.words), max(-1, len(before.words) - _LONGEST_SLIP - 1), -1):
        joined = before.part(0, cut) + after
        pieces = _lay(joined, grammar, callsigns)
        covered = sum(piece.end - piece.start for piece in pieces)
        left_over = len(joined.words) - covered
        # A piece that lies across the joint shows that what follows replaces what was cut.
        across = any(piece.start < cut < piece.end for piece in pieces)
        cost = (left_over, not across, total - len(joined.words), len(pieces))
        if cut < len(before.words) and (best is None or cost < best):
            best, best_cut = cost, cut
    return best_cut


# ---- from pieces to a reading ----------------------------------------------------------------------


def _reading(
    transmission: Transmission,
    tokens: _Tokens,
    pieces: list[_Piece],
    grammar: Grammar,
    slips: list[Slip],
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
    spoken = set(tokens.origin)
    left_over = [index for index in range(len(words)) if index in spoken and index not in covered]
    return Reading(
        text=transmission.text,
        calls=tuple(calls),
        words=words,
        unparsed=tuple(_runs(left_over)),
        repairs=tuple(repairs),
        slips=tuple(slips),
    )


def _call(piece: _Piece, tokens: _Tokens, words: Sequence[Word], grammar: Grammar) -> Call:
    said = tokens.words[piece.start : piece.end]
    for index, taken in piece.taken.items():
        said[index - piece.start] = taken.word
    doubtful = {index - piece.start for index, taken in piece.taken.items() if taken.doubtful}
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
                certainty=_certainty(words, span),
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
                    certainty=_certainty(words, span),
                    doubtful=not doubtful.isdisjoint(range(start, end)),
                )
            )
    span = _span(tokens, piece.start, piece.end)
    return Call(
        name=piece.name,
        family=grammar.calls[piece.name].family,
        span=span,
        elements=tuple(elements),
        certainty=_certainty(words, span),
    )


def _span(tokens: _Tokens, start: int, end: int) -> tuple[int, int]:
    return tokens.origin[start], tokens.origin[end - 1] + 1


def _certainty(words: Sequence[Word], span: tuple[int, int]) -> float | None:
    known = [word.certainty for word in words[span[0] : span[1]] if word.certainty is not None]
    return min(known) if known else None


def _runs(indices: list[int]) -> list[tuple[int, int]]:
    runs: list[tuple[int, int]] = []
    for index in indices:
        if runs and runs[-1][1] == index:
            runs[-1] = (runs[-1][0], index + 1)
        else:
            runs.append((index, index + 1))
    return runs
