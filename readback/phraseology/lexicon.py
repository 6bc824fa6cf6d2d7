"""The lexicon: how every word of the grammar is pronounced (``grammars/lexicon.dict``)."""

import re
from collections.abc import Iterable, Mapping
from functools import lru_cache
from pathlib import Path

from readback.data import data_directory
from readback.errors import GrammarError

PHONES = frozenset(
    "AA AE AH AO AW AY B CH D DH EH ER EY F G HH IH IY JH K L M N NG OW OY P R S SH T TH UH UW V W"
    " Y Z ZH".split()
)
"""ARPABET without stress, as CMUdict uses it."""
_ENTRY = re.compile(r"(?P<word>\S+?)(?:\(\d+\))?\s+(?P<phones>.+)")


def load_lexicon(path: Path) -> dict[str, tuple[str, ...]]:
    """Read a pronunciation dictionary in CMUdict's form.

    Args:
        path: Lines ``word PH PH``, further pronunciations as ``word(2) PH PH``; ``#`` starts a
            comment line.

    Returns:
        Word -> its pronunciations in the order written, phones joined by blanks.

    Raises:
        GrammarError: The file cannot be read, or a line is not an entry; names the line.
    """
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise GrammarError(f"{path}: cannot be read ({error}).", "Restore the file.") from error
    found: dict[str, list[str]] = {}
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip() or line.startswith("#"):
            continue
        entry = _ENTRY.fullmatch(line.strip())
        unknown = entry and [phone for phone in entry["phones"].split() if phone not in PHONES]
        if entry is None or unknown:
            wrong = f"{unknown[0]!r} is no phone" if unknown else "not 'word PH PH ...'"
            raise GrammarError(f"{path}, line {number}: {wrong}.", "Use ARPABET without stress.")
        found.setdefault(entry["word"], []).append(" ".join(entry["phones"].split()))
    return {word: tuple(dict.fromkeys(phones)) for word, phones in found.items()}


@lru_cache(maxsize=8)
def load_lexicons(local: tuple[Path, ...] = ()) -> Mapping[str, tuple[str, ...]]:
    """Read the shipped lexicon and an operator's own, whose entries come first."""
    lexicon: dict[str, tuple[str, ...]] = load_lexicon(data_directory("grammars") / "lexicon.dict")
    for path in local:
        for word, phones in load_lexicon(path).items():
            lexicon[word] = tuple(dict.fromkeys((*phones, *lexicon.get(word, ()))))
    return lexicon


def require_pronunciations(words: Iterable[str], lexicon: Mapping[str, tuple[str, ...]]) -> None:
    """Check that every word can be listened for.

    Raises:
        GrammarError: Some cannot; names each and says how to add it.
    """
    missing = sorted(word for word in set(words) if word not in lexicon)
    if missing:
        raise GrammarError(
            f"No pronunciation for {', '.join(missing)}.",
            "Add a line 'word PH PH ...' (ARPABET) for each to lexicon.dict or to your lexicon.",
        )
