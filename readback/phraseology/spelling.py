"""Letters, digits and numbers: the words for them, read and said.

Words are canonical tokens: lower case, one spelling each (``grammars/spellings.toml`` has others).

Sources: the spelling alphabet and the digit words of ICAO Annex 10 Vol II, 5.2.1.3 and 5.2.1.4.3;
FAA AIM 4-2-7 and 4-2-8; group form of FAA Order 7110.65P, 2-4-20 and AIM 4-2-4 a5.
"""

from collections.abc import Sequence

LETTERS: dict[str, str] = {
    "alfa": "A",
    "bravo": "B",
    "charlie": "C",
    "delta": "D",
    "echo": "E",
    "foxtrot": "F",
    "golf": "G",
    "hotel": "H",
    "india": "I",
    "juliett": "J",
    "kilo": "K",
    "lima": "L",
    "mike": "M",
    "november": "N",
    "oscar": "O",
    "papa": "P",
    "quebec": "Q",
    "romeo": "R",
    "sierra": "S",
    "tango": "T",
    "uniform": "U",
    "victor": "V",
    "whiskey": "W",
    "xray": "X",
    "yankee": "Y",
    "zulu": "Z",
}
"""Word -> letter: ``"alfa"`` -> ``"A"``."""

DIGITS: dict[str, str] = {
    "zero": "0",
    "one": "1",
    "two": "2",
    "three": "3",
    "four": "4",
    "five": "5",
    "six": "6",
    "seven": "7",
    "eight": "8",
    "nine": "9",
}
"""Word -> digit: ``"nine"`` -> ``"9"``."""

TEENS: dict[str, str] = {
    "ten": "10",
    "eleven": "11",
    "twelve": "12",
    "thirteen": "13",
    "fourteen": "14",
    "fifteen": "15",
    "sixteen": "16",
    "seventeen": "17",
    "eighteen": "18",
    "nineteen": "19",
}
"""Word -> its two digits: ``"ten"`` -> ``"10"``."""

TENS: dict[str, str] = {
    "twenty": "2",
    "thirty": "3",
    "forty": "4",
    "fifty": "5",
    "sixty": "6",
    "seventy": "7",
    "eighty": "8",
    "ninety": "9",
}
"""Word -> its first digit: ``"twenty"`` -> ``"2"``."""

REPEATS: dict[str, int] = {"double": 2, "triple": 3}
"""Word -> how often the next digit stands. Common practice, no source."""

LETTER_WORDS: dict[str, str] = {letter: word for word, letter in LETTERS.items()}
DIGIT_WORDS: dict[str, str] = {digit: word for word, digit in DIGITS.items()}
_CHARACTER_WORDS = LETTER_WORDS | DIGIT_WORDS
_TEEN_WORDS = {number: word for word, number in TEENS.items()}
_TENS_WORDS = {digit: word for word, digit in TENS.items()}


def read_number(words: Sequence[str]) -> str | None:
    """Read a number said by digits, in groups, or in thousands and hundreds.

    Args:
        words: Canonical tokens: ``["four", "fifty", "two"]``.

    Returns:
        The digits in spoken order, leading zeros kept: ``"452"``. None if ``words`` is empty, any
        of them is no part of a number, or hundreds and thousands stand where they make none.

    Source: ICAO Annex 10 Vol II, 5.2.1.4.1; FAA Order 7110.65P, 2-4-18 and 2-4-20.
    """
    thousands = hundreds = None
    digits = ""
    repeat = 0
    after_tens = False
    for word in words:
        digit = DIGITS.get(word)
        if digit is not None:
            if repeat:
                digits += digit * repeat
                repeat = 0
            elif after_tens and digit != "0":
                digits = digits[:-1] + digit
            else:
                digits += digit
            after_tens = False
            continue
        if repeat:
            return None
        after_tens = word in TENS
        if after_tens:
            digits += TENS[word] + "0"
        elif word in TEENS:
            digits += TEENS[word]
        elif word in REPEATS:
            repeat = REPEATS[word]
        elif word == "hundred" and digits and hundreds is None:
            hundreds, digits = digits, ""
        elif word == "thousand" and thousands is None:
            thousands = _join(hundreds, digits, 2)
            if not thousands:
                return None
            hundreds, digits = None, ""
        else:
            return None
    if repeat:
        return None
    return _join(thousands, _join(hundreds, digits, 2), 3) or None


def _join(head: str | None, tail: str | None, places: int) -> str | None:
    """Put ``tail`` into the last ``places`` digits after ``head``; None if it does not fit."""
    if head is None or tail is None:
        return tail
    return head + tail.rjust(places, "0") if len(tail) <= places else None


def speak_characters(text: str) -> str:
    """Say letters and digits one by one: ``"E3"`` -> ``"echo three"``.

    Args:
        text: Upper-case letters and digits; a KeyError names any other character.

    Source: ICAO Annex 10 Vol II, 5.2.1.3 and 5.2.1.4.1.1.
    """
    return " ".join([_CHARACTER_WORDS[character] for character in text])


def speak_group(digits: str) -> str:
    """Say a number in group form: ``"1004"`` -> ``"ten zero four"``.

    Args:
        digits: One to four digits; a longer number, or one that starts with zero, is said by
            digits.

    Source: FAA Order 7110.65P, 2-4-20 and AIM 4-2-4 a5. That whole thousands are one thousand and
    whole hundreds twelve hundred is common practice, no source.
    """
    if len(digits) > 4 or len(digits) < 2 or digits[0] == "0":
        return speak_characters(digits)
    if len(digits) == 2:
        return _speak_pair(digits)
    if digits.endswith("000"):
        return f"{DIGIT_WORDS[digits[0]]} thousand"
    head = _speak_pair(digits[:2]) if len(digits) == 4 else DIGIT_WORDS[digits[0]]
    return f"{head} hundred" if digits.endswith("00") else f"{head} {_speak_pair(digits[-2:])}"


def _speak_pair(digits: str) -> str:
    if digits[0] == "0":
        return speak_characters(digits)
    if digits[0] == "1":
        return _TEEN_WORDS[digits]
    tens = _TENS_WORDS[digits[0]]
    return tens if digits[1] == "0" else f"{tens} {DIGIT_WORDS[digits[1]]}"


def speak_hundreds(digits: str, *, grouped: bool = False) -> str | None:
    """Say a whole number of hundreds: ``"12500"`` -> ``"one two thousand five hundred"``.

    Args:
        digits: The number in figures.
        grouped: Say the thousands in group form, ``"twelve thousand five hundred"``, as a US
            controller may when restating them.

    Returns:
        The words; None if the number is not whole hundreds or starts with zero.

    Source: ICAO Annex 10 Vol II, 5.2.1.4.1.2; FAA Order 7110.65P, 2-4-18 for the group form.
    """
    if len(digits) < 3 or digits[0] == "0" or not digits.endswith("00"):
        return None
    words = []
    if thousands := digits[:-3]:
        speak = speak_group if grouped else speak_characters
        words = [speak(thousands), "thousand"]
    if digits[-3] != "0":
        words += [DIGIT_WORDS[digits[-3]], "hundred"]
    return " ".join(words)
