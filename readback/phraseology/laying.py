"""Calls laid over words: the way that leaves the fewest words over, with the fewest pieces."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from readback.phraseology.callsigns import permitted_forms, read_callsign, spoken_forms
from readback.phraseology.grammar import UNKNOWN_SIGN, Grammar
from readback.phraseology.repair import Taken, near_misses
from readback.phraseology.spelling import DIGITS, LETTERS, TEENS, TENS
from readback.phraseology.words import doubtful_sounds, homophones, ordinary_words

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
_AFTER_CALLSIGN = frozenset({"courtesy", "filler", "station"})
REPEATABLE = frozenset(DIGITS) | frozenset(LETTERS) | frozenset(TEENS) | frozenset(TENS)
_SLIGHT = "the a of on at and is are in for to with from"
_LONE_REPAIRS = frozenset({"roger", "wilco", "affirm", "negative", "unable", "disconnect"})


@dataclass(slots=True)
class Tokens:
    """Grammar words, each with the index of the word of the transmission it comes from."""

    words: list[str]
    origin: list[int]

    def part(self, start: int, end: int | None = None) -> "Tokens":
        """Take the words [start, end) with their origins."""
        return Tokens(self.words[start:end], self.origin[start:end])

    def __add__(self, other: "Tokens") -> "Tokens":
        return Tokens(self.words + other.words, self.origin + other.origin)


@dataclass(slots=True)
class Piece:
    """One call laid over tokens [start, end)."""

    start: int
    end: int
    name: str
    signs: str
    taken: dict[int, Taken]
    known_callsign: str | None = None


def lay(tokens: Tokens, grammar: Grammar, callsigns: Sequence[str]) -> list[Piece]:
    """Lay calls over words.

    Args:
        tokens: The words; what was typed in one run stays in one call.
        grammar: The calls.
        callsigns: Known callsigns as `read_callsign` writes them.

    Returns:
        The pieces in the order spoken, none over another; words between them belong to no call.
    """
    words, origin = tokens.words, tokens.origin
    count = len(words)
    signs = grammar.signs(words)
    options = _options(words, grammar)
    known = _known_callsigns(words, callsigns, grammar)
    addressed = any(whole for found in known.values() for _, _, _, whole in found)
    best = [0] * (count + 1)
    choice: list[Piece | None] = [None] * (count + 1)
    for at in range(count - 1, -1, -1):
        best[at] = best[at + 1]
        # "121.8" is one run: no call starts or ends inside it.
        if at and origin[at] == origin[at - 1]:
            continue
        for end, callsign, taken, whole in known.get(at, ()):
            gain = best[end] + (end - at) * _WORD_GAIN - _REPAIR_COST * len(taken)
            gain += _known_gain(tokens, end, whole, callsign in callsigns)
            if gain > best[at]:
                best[at] = gain
                choice[at] = Piece(at, end, "callsign", signs[at:end], taken, callsign)
        for end, name, said, used in _fits(signs, at, options, grammar):
            if end < count and origin[end] == origin[end - 1]:
                continue
            gain = best[end] + (end - at) * _WORD_GAIN - _PIECE_COST
            if used:
                gain -= _repair_cost(words, used, grammar)
            if name == "callsign":
                gain -= _callsign_cost(words, at, end, used, choice, grammar, addressed)
            # Where two cuts are as good, what comes first takes what it can: "backtrack runway
            # two seven, line up".
            if gain > best[at] or (gain == best[at] and _ends_before(choice[at], end)):
                best[at] = gain
                choice[at] = Piece(at, end, name, said, used)
    return _chosen(best, choice)


def _chosen(best: Sequence[int], choice: Sequence[Piece | None]) -> list[Piece]:
    pieces = []
    at = 0
    while at < len(best) - 1:
        piece = choice[at]
        if piece is None or best[at] == best[at + 1]:
            at += 1
        else:
            pieces.append(piece)
            at = piece.end
    return pieces


def _known_gain(tokens: Tokens, end: int, whole: bool, full: bool) -> int:
    if _goes_on(tokens.words, tokens.origin, end):
        # "Northgate eight zero" is not Northgate 8: it competes as any other call.
        return -_PIECE_COST
    gain = _KNOWN_CALLSIGN_GAIN if whole else -_NUMBER_ALONE_COST
    return gain + _FULL_CALLSIGN_GAIN if full else gain


def _repair_cost(words: list[str], used: Mapping[int, Taken], grammar: Grammar) -> int:
    return sum(
        taken.distance + (_RETAKING_COST if words[place] in grammar.vocabulary else _REPAIR_COST)
        for place, taken in used.items()
    )


def _goes_on(words: list[str], origin: list[int], end: int) -> bool:
    """Tell whether more signs follow a callsign, which may be another's then."""
    if end == len(words):
        return False
    return words[end] in REPEATABLE or origin[end] == origin[end - 1]


def _ends_before(piece: Piece | None, end: int) -> bool:
    return piece is not None and piece.end < end


_Fit = tuple[int, str, str, dict[int, Taken]]
_NOTHING_TAKEN: dict[int, Taken] = {}


def _fits(
    signs: str, at: int, options: Mapping[int, Mapping[str, Taken]], grammar: Grammar
) -> list[_Fit]:
    """Find the calls that begin at a word: (end, name, signs as taken, what was taken)."""
    if not options or at > max(options):
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
    return frozenset(UNKNOWN_SIGN + grammar.signs(_SLIGHT.split()))


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
    choice: list[Piece | None],
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
            first = form[0]
            for at in range(len(words) - len(form) + 1):
                if words[at] != first and words[at] in grammar.vocabulary:
                    continue
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
        if wanted in REPEATABLE or not _near_name(words[place], wanted, grammar):
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
