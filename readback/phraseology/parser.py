"""Words of a transmission parsed into calls and elements.

The parse covers as much of the transmission as it can: of all ways to lay calls over the words it
takes the one that leaves the fewest words over, with the fewest pieces. Words that belong to no
call stay as unparsed spans.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from readback.phraseology.callsigns import permitted_forms, read_callsign, spoken_forms
from readback.phraseology.grammar import UNKNOWN_SIGN, Grammar, element_name
from readback.phraseology.model import Call, Element, Reading, Repair, Slip
from readback.phraseology.repair import Taken, near_misses
from readback.phraseology.spelling import DIGITS, LETTERS, TEENS, TENS
from readback.phraseology.words import (
    canonical_words,
    doubtful_sounds,
    hesitations,
    homophones,
    ordinary_words,
)
from readback.transmission import Transmission, Word

_WORD_GAIN = 10
_PIECE_COST = 4
_REPAIR_COST = 3
# A word that the grammar knows, taken for one that sounds like it: dearer than another call.
_RETAKING_COST = 5
_CALLSIGN_INSIDE_COST = 9
_UNKNOWN_CALLSIGN_COST = 6
_SECOND_CALLSIGN_COST = 100
_KNOWN_CALLSIGN_GAIN = 8
_FULL_CALLSIGN_GAIN = 12
# A flight number alone is no callsign: any other meaning of its digits comes first.
_NUMBER_ALONE_COST = 1
_REGISTRATION_LETTERS = 5
_LONGEST_SLIP = 12
_WIDEST_BEFORE = 32
_WIDEST_AFTER = 20
_AFTER_CALLSIGN = frozenset({"courtesy", "filler", "station"})
_REPEATABLE = frozenset(DIGITS) | frozenset(LETTERS) | frozenset(TEENS) | frozenset(TENS)
_SAID_TWICE = frozenset({"stop", "bye"})
# Where these end a number they may be small words after it as well.
_SMALL_WORDS = frozenset({"to", "for"})
_RUN_ON_KINDS = frozenset({"route", "taxiway", "holding_point", "stand"})
_SLIGHT_WORDS = (
    "the",
    "a",
    "of",
    "on",
    "at",
    "and",
    "is",
    "are",
    "in",
    "for",
    "to",
    "with",
    "from",
)
_LONE_REPAIRS = frozenset({"roger", "wilco", "affirm", "negative", "unable", "disconnect"})


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
    tokens, asides = _tokens(transmission.words, grammar)
    slips: list[Slip] = []
    if not _MENDING_WORDS.isdisjoint(tokens.words):
        tokens = _take_back(tokens, grammar, callsigns, transmission.words, slips)
    pieces = _lay(tokens, grammar, callsigns)
    return _reading(transmission, tokens, pieces, grammar, slips, asides)


def _tokens(words: Sequence[Word], grammar: Grammar) -> tuple[_Tokens, list[int]]:
    """Split words into the grammar's; those said while thinking are given apart, by index."""
    tokens = _Tokens([], [])
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


def _stumbled(word: str, tokens: _Tokens, grammar: Grammar) -> bool:
    """Tell a word said twice by mistake; digits, letters and STOP STOP are meant so."""
    if not tokens.words or tokens.words[-1] != word or word not in grammar.vocabulary:
        return False
    return word not in _REPEATABLE and word not in _SAID_TWICE and word not in _FORMAL


# ---- laying calls over words ---------------------------------------------------------------------


def _lay(tokens: _Tokens, grammar: Grammar, callsigns: Sequence[str]) -> list[_Piece]:
    words, origin = tokens.words, tokens.origin
    count = len(words)
    signs = grammar.signs(words)
    options = _options(words, grammar)
    known = _known_callsigns(words, callsigns, grammar)
    addressed = any(whole for found in known.values() for _, _, _, whole in found)
    best = [0] * (count + 1)
    choice: list[_Piece | None] = [None] * (count + 1)
    for at in range(count - 1, -1, -1):
        best[at] = best[at + 1]
        for end, callsign, taken, whole in known.get(at, ()):
            gain = best[end] + (end - at) * _WORD_GAIN - _REPAIR_COST * len(taken)
            if _goes_on(words, origin, end):
                # "Northgate eight zero" is not Northgate 8: it competes as any other call.
                gain -= _PIECE_COST
            else:
                gain += _KNOWN_CALLSIGN_GAIN if whole else -_NUMBER_ALONE_COST
                gain += _FULL_CALLSIGN_GAIN if callsign in callsigns else 0
            if gain > best[at]:
                best[at] = gain
                choice[at] = _Piece(at, end, "callsign", signs[at:end], taken, callsign)
        if at and origin[at] == origin[at - 1]:
            continue
        for end, name, said, used in _fits(signs, at, options, grammar):
            # What was typed in one run belongs together: "121.8" is not a 1 and 21.8.
            if end < count and origin[end] == origin[end - 1]:
                continue
            gain = best[end] + (end - at) * _WORD_GAIN - _PIECE_COST
            gain -= sum(
                _retaking_cost(words[place], grammar) + taken.distance
                for place, taken in used.items()
            )
            if name == "callsign":
                gain -= _callsign_cost(words, at, end, used, choice, grammar, addressed)
            # Where two cuts are as good, what comes first takes what it can: "backtrack runway
            # two seven, line up".
            if gain > best[at] or (gain == best[at] and _ends_before(choice[at], end)):
                best[at] = gain
                choice[at] = _Piece(at, end, name, said, used)
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


def _retaking_cost(word: str, grammar: Grammar) -> int:
    return _RETAKING_COST if word in grammar.vocabulary else _REPAIR_COST


def _goes_on(words: list[str], origin: list[int], end: int) -> bool:
    """Tell whether more signs follow a callsign, which may be another's then."""
    if end == len(words):
        return False
    return words[end] in _REPEATABLE or origin[end] == origin[end - 1]


def _ends_before(piece: _Piece | None, end: int) -> bool:
    return piece is not None and piece.end < end


_Fit = tuple[int, str, str, dict[int, Taken]]
_NOTHING_TAKEN: dict[int, Taken] = {}


def _fits(
    signs: str, at: int, options: Mapping[int, Mapping[str, Taken]], grammar: Grammar
) -> list[_Fit]:
    """Find the calls that begin at a word: (end, name, signs as taken, what was taken)."""
    if not options:
        return [
            (end, names[0], signs[at:end], _NOTHING_TAKEN)
            for end, names in grammar.matches(signs, at)
        ]
    fits = []
    slight = _slight_signs(grammar)
    for end, names, said, places in grammar.matches_taking(signs, at, options):
        used = {place: options[place][said[place - at]] for place in places}
        # Some word as it was said has to be the grammar's own, and more than "the".
        sure = any(sign not in slight for i, sign in enumerate(said, at) if i not in used)
        if sure or not used or _may_stand_alone(names[0], used):
            fits.append((end, names[0], said, used))
    return fits


@lru_cache(maxsize=8)
def _slight_signs(grammar: Grammar) -> frozenset[str]:
    return frozenset(UNKNOWN_SIGN + grammar.signs(_SLIGHT_WORDS))


def _may_stand_alone(name: str, used: Mapping[int, Taken]) -> bool:
    """Tell whether a call may be found by repaired words only: a mere answer may."""
    return name in _LONE_REPAIRS and all(
        len(taken.word) >= 5 and taken.repaired and taken.distance == 1 for taken in used.values()
    )


def _callsign_cost(
    words: list[str],
    at: int,
    end: int,
    used: Mapping[int, Taken],
    choice: list[_Piece | None],
    grammar: Grammar,
    addressed: bool,
) -> int:
    """A callsign stands at the start or the end; elsewhere it is more likely something else."""
    if at == 0 and end == _REGISTRATION_LETTERS and LETTERS.keys() >= set(words[:end]):
        # It opens the transmission: the letters of a route come after a verb.
        return -_KNOWN_CALLSIGN_GAIN
    cost = 0
    if any(i not in used and words[i] not in grammar.vocabulary for i in range(at, end)):
        # Once the aircraft addressed has been heard, a strange name is not a second one.
        # Nor is one before a word that only sounds like a digit: "bicycle for forty".
        cost += _SECOND_CALLSIGN_COST if addressed or used else _UNKNOWN_CALLSIGN_COST
    # Letters after "taxi" are its route once the aircraft addressed has been heard.
    spelled = addressed and at > 0 and LETTERS.keys() >= set(words[at:end])
    if (at <= 2 or end == len(words)) and not spelled:
        return cost
    following = choice[end]
    if following is not None and following.name in _AFTER_CALLSIGN:
        return cost
    return cost + _CALLSIGN_INSIDE_COST


_Known = tuple[int, str, dict[int, Taken], bool]


def _known_callsigns(
    words: list[str], callsigns: Sequence[str], grammar: Grammar
) -> dict[int, list[_Known]]:
    """Find known callsigns: start -> (end, value, what was repaired, whether a rule permits it)."""
    found: dict[int, list[_Known]] = {}
    for callsign in callsigns:
        permitted = permitted_forms(callsign)
        for form in spoken_forms(callsign):
            whole = form in permitted
            value = read_callsign(form)
            for at in range(len(words) - len(form) + 1):
                edge = at == 0 or at + len(form) == len(words)
                if not (edge or whole):
                    continue
                taken = _said_as(words, at, form, grammar)
                if taken is not None:
                    found.setdefault(at, []).append((at + len(form), value, taken, whole))
    return found


def _said_as(
    words: list[str], at: int, form: tuple[str, ...], grammar: Grammar
) -> dict[int, Taken] | None:
    """Match the words of a form; a name that no grammar knows may be one or two letters off."""
    taken: dict[int, Taken] = {}
    for place, wanted in enumerate(form, start=at):
        if words[place] == wanted:
            continue
        if wanted in _REPEATABLE or not _near_name(words[place], wanted, grammar):
            return None
        taken[place] = Taken(wanted, False)
    return taken


def _near_name(word: str, wanted: str, grammar: Grammar) -> bool:
    if len(word) < 4 or word in grammar.vocabulary or word in ordinary_words():
        return False
    if abs(len(word) - len(wanted)) > 2:
        return False
    from rapidfuzz.distance import OSA

    reach = 1 if len(wanted) <= 5 else 2
    return OSA.distance(word, wanted, score_cutoff=reach) <= reach


def _options(words: list[str], grammar: Grammar) -> dict[int, dict[str, Taken]]:
    """For words the grammar may not mean: sign -> what the word may be taken for."""
    options: dict[int, dict[str, Taken]] = {}
    sounds, perhaps = homophones(), doubtful_sounds()
    vocabulary = grammar.vocabulary
    for index, word in enumerate(words):
        target = sounds.get(word) or perhaps.get(word)
        if target is not None:
            if target != word and target in vocabulary:
                options[index] = {vocabulary[target]: Taken(target, word in perhaps, False)}
        elif word not in vocabulary:
            misses = near_misses(word, grammar)
            if misses:
                options[index] = {vocabulary[taken.word]: taken for taken in misses}
    return options


# ---- corrections inside a transmission -----------------------------------------------------------

_FORMAL = ("correction", "disregard")
# What people say in place of CORRECTION: common practice, no source. It counts only where what
# follows can replace what was said.
_COLLOQUIAL: tuple[tuple[str, ...], ...] = (
    ("i", "mean"),
    ("i", "meant"),
    ("make", "that"),
    ("no", "wait"),
    ("scratch", "that"),
    ("strike", "that"),
    ("or", "rather"),
    ("my", "mistake"),
    ("sorry",),
    ("rather",),
)
_MENDING_WORDS = frozenset(_FORMAL) | frozenset(words[-1] for words in _COLLOQUIAL)
"""Without one of these a transmission takes nothing back."""


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
    # From the last to the first: what replaces may itself have been replaced.
    at = len(tokens.words) - 1
    while at >= 0:
        size = _mending(tokens.words, at)
        if size:
            tokens = _take_one_back(tokens, at, size, grammar, callsigns, spoken, slips)
        at = min(at, len(tokens.words)) - 1
    slips.reverse()
    return tokens


def _mending(words: list[str], at: int) -> int:
    """Count the words of the correction that begins at a word; 0 where none does."""
    if words[at] in _FORMAL:
        return 1
    for said in _COLLOQUIAL:
        if words[at] == said[0] and tuple(words[at : at + len(said)]) == said:
            return len(said)
    return 0


def _take_one_back(
    tokens: _Tokens,
    at: int,
    size: int,
    grammar: Grammar,
    callsigns: Sequence[str],
    spoken: Sequence[Word],
    slips: list[Slip],
) -> _Tokens:
    before, after = tokens.part(0, at), tokens.part(at + size)
    word = tokens.words[at]
    if not before.words or (word not in ("disregard",) and not after.words):
        return tokens
    anew = after.words[:3] == ["i", "say", "again"]
    if word == "disregard" or (word == "correction" and anew):
        cut = 0
        after = after.part(3) if anew else after
    else:
        found = _cut(before, after, grammar, callsigns, formal=word == "correction")
        if found is None:
            return tokens
        cut = found
    first = before.origin[cut] if cut < at else tokens.origin[at]
    end = tokens.origin[at + size - 1] + 1
    slips.append(Slip(span=(first, end), said=" ".join(item.word for item in spoken[first:end])))
    return before.part(0, cut) + after


def _cut(
    before: _Tokens, after: _Tokens, grammar: Grammar, callsigns: Sequence[str], *, formal: bool
) -> int | None:
    """Find how many words of ``before`` stay: as many as parse whole with what follows.

    Returns:
        The count; None where nothing that was said can be what the speaker replaces.
    """
    # Only the words around the joint matter, which keeps a long transmission cheap.
    hidden = max(0, len(before.words) - _WIDEST_BEFORE)
    near, coming = before.part(hidden), after.part(0, _WIDEST_AFTER)
    size = len(near.words)
    said = {}
    for piece in _lay(near, grammar, callsigns):
        for place in range(piece.start, piece.end):
            said[place] = piece
    starts = _value_starts(said.values(), grammar)
    best, best_cut = None, None
    for cut in range(size - 1, max(-1, size - _LONGEST_SLIP - 1), -1):
        pieces = _lay(near.part(0, cut) + coming, grammar, callsigns)
        covered = sum(piece.end - piece.start for piece in pieces)
        left_over = cut + len(coming.words) - covered
        fits = _replaces(cut, pieces, said)
        cost = (not fits, left_over, cut not in starts, size - cut, len(pieces))
        if (fits or formal) and (best is None or cost < best):
            best, best_cut = cost, cut
    return None if best_cut is None else hidden + best_cut


def _value_starts(pieces: Iterable[_Piece], grammar: Grammar) -> set[int]:
    """Where a call or one of its values starts: people take back whole values."""
    starts = set()
    for piece in pieces:
        starts.add(piece.start)
        starts.update(piece.start + at for _, at, _ in grammar.elements_of(piece.name, piece.signs))
    return starts


def _replaces(cut: int, pieces: Sequence[_Piece], said: Mapping[int, _Piece]) -> bool:
    """Tell whether the call at the joint is one of the kind that was said there before."""
    old = said.get(cut)
    for piece in pieces:
        if piece.start <= cut < piece.end:
            if old is None or piece.name != old.name:
                return False
            # Either the new words go on with the old call's beginning, or a whole one replaces it.
            return piece.start < cut or old.start == cut
    return False


# ---- from pieces to a reading --------------------------------------------------------------------


def _reading(
    transmission: Transmission,
    tokens: _Tokens,
    pieces: list[_Piece],
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
        unparsed=tuple(_runs(left_over)),
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


def _call(piece: _Piece, tokens: _Tokens, words: Sequence[Word], grammar: Grammar) -> Call:
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
        certainty=_certainty(words, span),
    )


def _ends_in_small_word(small: set[int], start: int, end: int, kind: str) -> bool:
    """Tell a value that may be shorter: TO or FOR was taken for its last digit."""
    if kind in _RUN_ON_KINDS:
        return any(start <= place < end for place in small)
    return end - 1 in small


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
