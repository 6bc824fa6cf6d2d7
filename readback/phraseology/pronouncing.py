"""How a name is said: by a dictionary, else guessed from its letters for the user to confirm."""

import importlib.util
import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from readback.data import data_directory
from readback.errors import InputError

Phones = tuple[str, ...]
LETTERS = data_directory("grammars") / "letters.txt"
"""3,781 of 36,631 phones of 5,800 words held out are wrong, 3,204 of the words are right."""
CONTEXTS = ((0, 0), (0, 1), (1, 1), (1, 2), (2, 2), (2, 3), (3, 3))
"""Letters before and after that decide together, the fewest first."""
SHORT = 3
"""So many of `CONTEXTS` make the second guess: long contexts hold what is odd in English."""


@dataclass(frozen=True)
class Pronunciation:
    """How one name is listened for."""

    name: str
    phones: tuple[str, ...]
    """Ways to say it, each ARPABET phones without stress joined by blanks."""
    guessed: bool
    """Whether its letters alone said so."""


@dataclass(frozen=True)
class Letters:
    """What a letter says among its neighbours, learnt from a dictionary.

    ``audio_demo_synth.ear.letters`` makes it; the file says how good it is.
    """

    table: Mapping[str, Phones]
    """``before|letter|after`` -> phones, none where it is silent; ``#`` stands for the edge."""

    def say(self, word: str) -> tuple[Phones, ...]:
        """Guess how a word is said, the likeliest way first; one or two ways."""
        ways = (self._phones(word, CONTEXTS), self._phones(word, CONTEXTS[:SHORT]))
        return tuple(dict.fromkeys(ways))

    def _phones(self, word: str, contexts: Sequence[tuple[int, int]]) -> Phones:
        said: list[str] = []
        for at in range(len(word)):
            keys = (around(word, at, context) for context in reversed(contexts))
            said += next((self.table[key] for key in keys if key in self.table), ())
        return tuple(said)

    def save(self, path: Path) -> None:
        """Write the table, a line each."""
        lines = (f"{key} {' '.join(phones)}".rstrip() for key, phones in sorted(self.table.items()))
        path.write_text("\n".join(lines) + "\n", "utf-8")


@lru_cache(maxsize=1)
def load_letters(path: Path = LETTERS) -> Letters:
    """Read the shipped table."""
    lines = (line.split(" ") for line in path.read_text("utf-8").splitlines())
    return Letters({key: tuple(phones) for key, *phones in lines})


def around(word: str, at: int, context: tuple[int, int]) -> str:
    """Write a letter of a word among so many before and after as a key of the table."""
    padded = "#" * 3 + word + "#" * 3
    place, (before, after) = at + 3, context
    return f"{padded[place - before : place]}|{word[at]}|{padded[place + 1 : place + 1 + after]}"


def pronounce(name: str) -> Pronunciation:
    """Say how a name that no lexicon of ours has is listened for.

    Args:
        name: One word, lower-case.

    Raises:
        InputError: It holds no letter that can be said.
    """
    letters = re.sub("[^a-z]", "", unicodedata.normalize("NFKD", name))
    known = look_up(letters)
    if known:
        return Pronunciation(name, known, guessed=False)
    guessed = tuple(" ".join(phones) for phones in load_letters().say(letters) if phones)
    if not guessed:
        raise InputError(
            f'The name "{name}" cannot be listened for: its letters say nothing.',
            "Add a line 'name PH PH ...' (ARPABET) to a lexicon of your own.",
        )
    return Pronunciation(name, guessed, guessed=True)


@lru_cache(maxsize=1024)
def look_up(word: str) -> tuple[str, ...]:
    """Find a word in the dictionary that pocketsphinx brings (CMUdict, BSD); empty: not there."""
    said = re.findall(rf"^{re.escape(word)}(?:\(\d+\))? (.+)$", _dictionary(), re.MULTILINE)
    return tuple(dict.fromkeys(said))


@lru_cache(maxsize=1)
def _dictionary() -> str:
    package = importlib.util.find_spec("pocketsphinx")
    if package is None or package.origin is None:
        return ""
    path = Path(package.origin).parent / "model" / "en-us" / "cmudict-en-us.dict"
    return path.read_text("utf-8") if path.is_file() else ""
