"""Corrections inside a transmission: what a speaker took back himself."""

from collections.abc import Iterable, Mapping, Sequence

from readback.phraseology.grammar import Grammar
from readback.phraseology.laying import Piece, Tokens, lay
from readback.phraseology.model import Slip
from readback.transmission import Word

_LONGEST_SLIP = 12
_WIDEST_BEFORE = 32
_WIDEST_AFTER = 20
FORMAL = ("correction", "disregard")
# What people say in place of CORRECTION: common practice, no source. It counts only where what
# follows can replace what was said.
_COLLOQUIAL: tuple[tuple[str, ...], ...] = (
    ("i", "mean"),
    ("i", "meant"),
    ("make", "that"),
    ("no", "wait"),
    ("no",),
    ("negative",),
    ("scratch", "that"),
    ("strike", "that"),
    ("or", "rather"),
    ("my", "mistake"),
    ("sorry",),
    ("rather",),
)
MENDING_WORDS = frozenset(FORMAL) | frozenset(words[-1] for words in _COLLOQUIAL)
"""Without one of these a transmission takes nothing back."""


def take_back(
    tokens: Tokens,
    grammar: Grammar,
    callsigns: Sequence[str],
    spoken: Sequence[Word],
    slips: list[Slip],
) -> Tokens:
    """Apply "correction": what follows replaces the last words that it can replace.

    Args:
        tokens: The words.
        grammar: The calls.
        callsigns: Known callsigns as `read_callsign` writes them.
        spoken: The words of the transmission.
        slips: Gets what was taken back, in the order spoken.

    Returns:
        The words that count.

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
    if words[at] in FORMAL:
        return 1
    for said in _COLLOQUIAL:
        if words[at] == said[0] and tuple(words[at : at + len(said)]) == said:
            return len(said)
    return 0


def _take_one_back(
    tokens: Tokens,
    at: int,
    size: int,
    grammar: Grammar,
    callsigns: Sequence[str],
    spoken: Sequence[Word],
    slips: list[Slip],
) -> Tokens:
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
    before: Tokens, after: Tokens, grammar: Grammar, callsigns: Sequence[str], *, formal: bool
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
    for piece in lay(near, grammar, callsigns):
        for place in range(piece.start, piece.end):
            said[place] = piece
    starts = _value_starts(said.values(), grammar)
    best, best_cut = None, None
    for cut in range(size - 1, max(-1, size - _LONGEST_SLIP - 1), -1):
        pieces = lay(near.part(0, cut) + coming, grammar, callsigns)
        covered = sum(piece.end - piece.start for piece in pieces)
        left_over = cut + len(coming.words) - covered
        fits = _replaces(cut, pieces, said)
        if not fits and _leaves_half(cut, pieces, said):
            continue
        cost = (not fits, left_over, cut not in starts, size - cut, len(pieces))
        if (fits or formal) and (best is None or cost < best):
            best, best_cut = cost, cut
    if best_cut is None:
        return hidden + size if formal else None
    return hidden + best_cut


def _value_starts(pieces: Iterable[Piece], grammar: Grammar) -> set[int]:
    """Where a call or one of its values starts: people take back whole values."""
    starts = set()
    for piece in pieces:
        starts.add(piece.start)
        starts.update(piece.start + at for _, at, _ in grammar.elements_of(piece.name, piece.signs))
    return starts


def _replaces(cut: int, pieces: Sequence[Piece], said: Mapping[int, Piece]) -> bool:
    """Tell whether the call at the joint is one of the kind that was said there before."""
    old = said.get(cut)
    for piece in pieces:
        if piece.start <= cut < piece.end:
            if old is None or piece.name != old.name:
                return False
            # Either the new words go on with the old call's beginning, or a whole one replaces it.
            return piece.start < cut or old.start == cut
    return False


def _leaves_half(cut: int, pieces: Sequence[Piece], said: Mapping[int, Piece]) -> bool:
    """Tell whether the cut leaves the beginning of a call, or takes a callsign for another call.

    CROSS RUNWAY 27, CORRECTION, HOLD SHORT takes back the crossing, verb and all.
    """
    old = said.get(cut)
    if old is None:
        return False
    across = any(piece.start < cut < piece.end for piece in pieces)
    if old.name == "callsign":
        return not across
    return old.start != cut and not across
