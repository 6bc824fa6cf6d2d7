"""Names that the grammar takes as any one word: which are listened for, and how they are said."""

from collections.abc import Iterable
from pathlib import Path

from readback.errors import GrammarError
from readback.phraseology.grammar import UNKNOWN_SIGN, Grammar
from readback.phraseology.lexicon import load_lexicon
from readback.phraseology.parser import parse
from readback.phraseology.pronouncing import Pronunciation, pronounce
from readback.phraseology.words import canonical_tokens, canonical_words


def find_names(text: str, grammar: Grammar) -> tuple[str, ...]:
    """Find the names in a typed transmission.

    Args:
        text: What was typed.
        grammar: The calls.

    Returns:
        The words of its calls that no grammar file has, lower-case, each once: of ``"cleared to
        Quillford, Larkspur 23"`` ``("quillford",)``. A slip of the pen is none.
    """
    reading = parse(text, grammar)
    mended = {index for repair in reading.repairs for index in range(*repair.span)}
    inside = {index for call in reading.calls for index in range(*call.span)} - mended
    words = canonical_tokens(reading.words[index] for index in sorted(inside))
    return tuple(dict.fromkeys(word for word in words if is_name(word, grammar)))


def is_name(word: str, grammar: Grammar) -> bool:
    """Tell whether the grammar takes a word as a name: it has it nowhere, nor is it ordinary."""
    return grammar.signs((word,)) == UNKNOWN_SIGN


def load_names(path: Path) -> tuple[str, ...]:
    """Read a list of names, one word a line; ``#`` starts a comment line.

    Raises:
        GrammarError: The file cannot be read, or a line holds more than a word.
    """
    try:
        lines = path.read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        raise GrammarError(f"{path}: cannot be read ({error}).", "Save it as UTF-8.") from error
    found = []
    for number, line in enumerate(lines, start=1):
        if not line.strip() or line.startswith("#"):
            continue
        words = canonical_words(line.strip())
        if len(words) != 1 or " " in words[0]:
            raise GrammarError(f"{path}, line {number}: is not one word.", "Write a word a line.")
        found.append(words[0])
    return tuple(dict.fromkeys(found))


def pronunciations(
    names: Iterable[str], grammar: Grammar, lexicons: Iterable[Path] = ()
) -> dict[str, Pronunciation]:
    """Say how names are listened for, those in an operator's lexicons among them.

    Args:
        names: Of the run and of the operator; what is no name to the grammar is passed over.
        grammar: The calls.
        lexicons: An operator's own; every word of them that is a name is listened for.

    Raises:
        GrammarError: A lexicon holds a mistake.
        InputError: A name has no letter that can be said.
    """
    written: dict[str, tuple[str, ...]] = {}
    for path in lexicons:
        for word, phones in load_lexicon(path).items():
            written[word] = (*written.get(word, ()), *phones)
    found = {name: Pronunciation(name, said, guessed=False) for name, said in written.items()}
    found |= {name: pronounce(name) for name in names if name not in written}
    return {name: said for name, said in found.items() if is_name(name, grammar)}
