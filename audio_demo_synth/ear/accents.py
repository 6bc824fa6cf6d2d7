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
_PURE: Rules = (("A", "e"), ("O", "o"), ("ɪ", "i"), ("ʊ", "u"), ("æ", "a"), ("ʌ", "a"))
"""Few vowels, and none that glides."""
_ROLLED: Rules = (("ɜɹ", "ɛɹ"), ("ɹ", "ɾ|r"), ("T", "t"))
INDIAN: Rules = (
    *(("θ", "t"), ("ð", "d"), ("v", "w|ʋ"), ("t", "ʈ"), ("d", "ɖ"), ("O", "o"), ("A", "e")),
    ("ɹ", "ɾ"),
)
JAPANESE: Rules = (
    *(("ɜɹ", "ɑː"), ("l|ɹ", "ɾ"), ("θ", "s"), ("ð", "z"), ("v", "b"), ("æ|ʌ", "a")),
    *(("([td])$", r"\1o"), ("([kpsfɡbz])$", r"\1u")),
)
SPANISH: Rules = (
    *(("v", "b"), ("z", "s"), ("ʃ", "ʧ"), ("ʤ", "j|ʝ"), (r"\b(?=s[ptkl])", "ɛ"), ("ŋ$", "n")),
    *(*_ROLLED, *_PURE, ("h", "x"), ("ə", "e|a")),
)
PORTUGUESE: Rules = (
    ("θ", "s|t"),
    ("ð", "d"),
    ("l$", "w"),
    *_PURE,
    ("ɹ", "ɾ|x"),
    ("([tdk])$", r"\1i"),
)
FRENCH: Rules = (
    *(("h", ""), ("θ", "s|t|f"), ("ð", "z"), ("ɜɹ", "œɹ"), ("ɹ", "ʁ"), ("ʧ", "ʃ"), ("ʤ", "ʒ")),
    *(("A", "ɛj|e"), *_PURE, ("ə", "œ"), ("T", "t")),
)
ITALIAN: Rules = (("h", ""), ("θ", "t"), ("ð", "d"), *_ROLLED, *_PURE, ("([ptkdɡvsmn])$", r"\1ə"))
CHINESE: Rules = (
    *(("θ", "s"), ("ð", "d|z"), ("v", "w"), ("z", "s"), ("ɪ", "i"), ("l$", "ɔ|w"), ("æ", "a")),
    *(("[tdkɡ]$", ""), ("n$", "ŋ")),
)
GERMAN: Rules = (
    *(("w", "v"), ("θ", "s"), ("ð", "z|d"), ("z$", "s"), ("d$", "t"), ("v$", "f"), ("æ", "ɛ")),
    *(("ʤ", "ʧ"), ("ɹ", "ʁ"), ("O", "oː"), ("A", "eː"), ("ʌ", "a"), ("T", "t")),
)
SLAVIC: Rules = (
    *(("w", "v"), ("θ", "s|f|t"), ("ð", "z|d"), ("h", "x"), *_ROLLED, *_PURE, ("ə", "e|a")),
    *(("z$", "s"), ("d$", "t"), ("v$", "f"), ("ŋ$", "nk")),
)
GREEK: Rules = (
    *(("h", "x"), ("ʃ", "s"), ("ʧ", "ʦ"), ("ʤ", "ʣ"), ("ʒ", "z"), *_ROLLED, *_PURE, ("ə", "e|a")),
)
NORDIC: Rules = (("θ", "t"), ("ð", "d"), ("w", "ʋ"), ("z", "s"), ("ʤ", "j"), ("ʧ", "ɕ"), *_ROLLED)
ARABIC: Rules = (
    ("p", "b"),
    ("v", "f"),
    ("θ", "s|t"),
    ("ð", "z"),
    *_ROLLED,
    ("ɪ", "i|e"),
    ("O", "oː"),
)

FOREIGN = (
    *(INDIAN, JAPANESE, SPANISH, PORTUGUESE, FRENCH, ITALIAN, CHINESE, GERMAN, SLAVIC, GREEK),
    *(NORDIC, ARABIC),
)
ACCENTS: Mapping[str, Sequence[Rules]] = {
    "a": (BRITISH, *FOREIGN),
    "b": (*(BRITISH,) * 20, *FOREIGN),
    "e": (SPANISH,),
    "f": (FRENCH,),
    "h": (INDIAN,),
    "i": (ITALIAN,),
    "j": (JAPANESE,),
    "p": (PORTUGUESE, SPANISH),
    "z": (CHINESE,),
}
"""First letter of a Kokoro voice (its language) -> accents it may speak with."""
SHARES = {"a": 0.4, "b": 0.85}
"""First letter -> share of utterances with an accent; two in three for the others."""


def speak_with_accent(phonemes: str, voice: str, rng: random.Random) -> str:
    """Apply an accent that suits a voice, or none; each rule of it four times in five.

    ``|`` in what is said parts choices; ``$`` in a pattern is the end of a word.
    """
    language = voice[0]
    if rng.random() >= SHARES.get(language, 2 / 3):
        return phonemes
    words = phonemes.split(" ")
    for pattern, said in rng.choice(ACCENTS[language]):
        if rng.random() < 0.8:
            chosen = rng.choice(said.split("|"))
            words = [re.sub(pattern, chosen, word) for word in words]
    return " ".join(words)
