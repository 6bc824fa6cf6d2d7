"""How speakers of other kinds of English say its phones, roughly: rules over Kokoro's phonemes.

The labels stay those of the dictionary, so that the network learns that `sree` may be `three`.
The rules are common knowledge of phonetics, from memory; nobody's speech was measured for them.
"""

import random
import re
from collections.abc import Mapping, Sequence

Rules = Sequence[tuple[str, str]]

VOWEL = "[AIOQWYaeiouæɑɒɔəɛɜɪʊʌᵻ]"

BRITISH: Rules = (
    (f"([ɑɔɜ])ɹ(?!{VOWEL})", r"\1ː"),
    (f"əɹ(?!{VOWEL})", "ə"),
    (f"iɹ(?!{VOWEL})", "ɪə"),
    (f"ɛɹ(?!{VOWEL})", "ɛː"),
    (f"ɹ(?!ˈ?ˌ?{VOWEL})", ""),
    ("ɑ(?!ː|ɹ)", "ɒ"),
    ("O", "Q"),
    ("æ", "a"),
    ("T", "t"),
)
INDIAN: Rules = (("θ", "t"), ("ð", "d"), ("v", "w"), ("t", "ʈ"), ("d", "ɖ"), ("O", "o"), ("A", "e"))
JAPANESE: Rules = (("l", "ɹ"), ("θ", "s"), ("ð", "z"), ("v", "b"), ("æ", "a"), ("ɜɹ", "ɑː"))
SPANISH: Rules = (("v", "b"), ("z", "s"), ("ɪ", "i"), ("[æʌ]", "a"), (r"\b(?=s[ptk])", "ɛ"))
FRENCH: Rules = (("h", ""), ("θ", "s"), ("ð", "z"), ("ɪ", "i"), ("ɹ", "ʁ"), ("ʧ", "ʃ"), ("ʤ", "ʒ"))
ITALIAN: Rules = (("h", ""), ("θ", "t"), ("ð", "d"), ("ɪ", "i"), ("æ", "ɛ"), ("ʌ", "a"))
CHINESE: Rules = (("θ", "s"), ("ð", "d"), ("v", "w"), ("z", "s"), ("ɪ", "i"), (r"l\b", "ɔ"))
GERMAN: Rules = (("w", "v"), ("θ", "s"), ("ð", "z"), (r"z\b", "s"), (r"d\b", "t"), ("æ", "ɛ"))
SLAVIC: Rules = (("w", "v"), ("θ", "f"), ("ð", "z"), ("h", "x"), ("ɪ", "i"), ("æ", "ɛ"), ("ɹ", "r"))

ACCENTS: Mapping[str, Sequence[Rules]] = {
    "b": (BRITISH,),
    "e": (SPANISH,),
    "f": (FRENCH,),
    "h": (INDIAN,),
    "i": (ITALIAN,),
    "j": (JAPANESE,),
    "p": (SPANISH,),
    "z": (CHINESE,),
    "a": (BRITISH, GERMAN, SLAVIC, INDIAN, SPANISH),
}
"""First letter of a Kokoro voice (its language) -> accents it may speak with."""
SHARES = {"a": 0.2, "b": 0.85}
"""First letter -> share of utterances with an accent; half for the others."""


def speak_with_accent(phonemes: str, voice: str, rng: random.Random) -> str:
    """Apply an accent that suits a voice, or none; each rule of it four times in five."""
    language = voice[0]
    if rng.random() >= SHARES.get(language, 0.5):
        return phonemes
    for pattern, said in rng.choice(ACCENTS[language]):
        if rng.random() < 0.8:
            phonemes = re.sub(pattern, said, phonemes)
    return phonemes
