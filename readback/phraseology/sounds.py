"""A guess at how an unknown word sounds, to compare it with words whose sound is known.

Source: the commonest spellings of the English phonemes, from memory; a guess that is wrong only
leaves a slip unmended.
"""

_VOWELS = frozenset("aeiouy")
_SPELLINGS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("eigh", ("EY",)),
    ("ough", ("AO",)),
    ("augh", ("AO",)),
    ("igh", ("AY",)),
    ("tch", ("CH",)),
    ("sch", ("S", "K")),
    ("tion", ("SH", "AH", "N")),
    ("ch", ("CH",)),
    ("sh", ("SH",)),
    ("th", ("TH",)),
    ("ph", ("F",)),
    ("wh", ("W",)),
    ("ck", ("K",)),
    ("kn", ("N",)),
    ("wr", ("R",)),
    ("qu", ("K", "W")),
    ("ng", ("NG",)),
    ("ee", ("IY",)),
    ("ea", ("IY",)),
    ("ie", ("IY",)),
    ("ei", ("IY",)),
    ("ai", ("EY",)),
    ("ay", ("EY",)),
    ("ey", ("IY",)),
    ("oa", ("OW",)),
    ("oo", ("UW",)),
    ("ou", ("AW",)),
    ("ow", ("OW",)),
    ("oi", ("OY",)),
    ("oy", ("OY",)),
    ("au", ("AO",)),
    ("aw", ("AO",)),
    ("ew", ("UW",)),
    ("ar", ("AA", "R")),
    ("er", ("ER",)),
    ("ir", ("ER",)),
    ("ur", ("ER",)),
    ("or", ("AO", "R")),
    ("x", ("K", "S")),
)
_SINGLE = dict(
    zip(
        "abcdefghijklmnopqrstuvwxyz",
        [
            "AE",
            "B",
            "K",
            "D",
            "EH",
            "F",
            "G",
            "HH",
            "IH",
            "JH",
            "K",
            "L",
            "M",
            "N",
            "AA",
            "P",
            "K",
            "R",
            "S",
            "T",
            "AH",
            "V",
            "W",
            "K",
            "IY",
            "Z",
        ],
        strict=True,
    )
)
_LONG = {"a": "EY", "e": "IY", "i": "AY", "o": "OW", "u": "UW", "y": "AY"}


def guess_phones(word: str) -> tuple[str, ...]:
    """Guess the phones of a word from its letters.

    Args:
        word: Lower-case letters; other signs are passed over.

    Returns:
        ARPABET phones without stress: ``"chox"`` -> ``("CH", "AA", "K", "S")``.
    """
    phones: list[str] = []
    at = 0
    while at < len(word):
        spelled, said = _longest(word, at)
        if spelled:
            phones += said
            at += spelled
            continue
        sign = word[at]
        if sign in _LONG and _is_long(word, at):
            phones.append(_LONG[sign])
        elif sign == "e" and at == len(word) - 1 and phones:
            pass
        elif sign == "y" and at == 0:
            phones.append("Y")
        elif sign == "c" and word[at + 1 : at + 2] in ("e", "i", "y"):
            phones.append("S")
        elif sign in _SINGLE and not (at and word[at - 1] == sign and sign not in _VOWELS):
            phones.append(_SINGLE[sign])
        at += 1
    return tuple(phones)


def _longest(word: str, at: int) -> tuple[int, tuple[str, ...]]:
    for spelled, said in _SPELLINGS:
        if word.startswith(spelled, at):
            return len(spelled), said
    return 0, ()


def _is_long(word: str, at: int) -> bool:
    """Tell a vowel made long by a silent e ("brake"), or one that ends the word ("kilo")."""
    rest = word[at + 1 :]
    if len(rest) == 2 and rest[0] not in _VOWELS and rest[1] == "e":
        return True
    return not rest and word[at] in "ioy" and at > 0 and word[at] != "y"
