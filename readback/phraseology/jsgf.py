"""JSGF texts read into rules.

Source: JSpeech Grammar Format, W3C Note 05 June 2000 (header, imports, rules, sequences,
alternatives with weights, grouping, optional parts, ``*`` and ``+``, tags, comments).
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from readback.errors import GrammarError


@dataclass(frozen=True, slots=True)
class Token:
    """One word to be said."""

    word: str


@dataclass(frozen=True, slots=True)
class Reference:
    """A rule named in angle brackets, its grammar's name in front where it is another's."""

    name: str


@dataclass(frozen=True, slots=True)
class Sequence:
    """Parts said one after the other; an empty one says nothing."""

    parts: tuple["Expansion", ...]


@dataclass(frozen=True, slots=True)
class Alternatives:
    """One of the parts is said."""

    parts: tuple["Expansion", ...]


@dataclass(frozen=True, slots=True)
class Repeat:
    """The part said at least ``least`` times, at most once where ``once`` is set."""

    part: "Expansion"
    least: int
    once: bool = False


@dataclass(frozen=True, slots=True)
class Tagged:
    """A part with its tag: what the words of it mean."""

    part: "Expansion"
    tag: str


Expansion = Token | Reference | Sequence | Alternatives | Repeat | Tagged


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule of a grammar file."""

    name: str
    public: bool
    expansion: Expansion
    line: int
    """Line of the file in which the rule starts, from 1."""


@dataclass(frozen=True, slots=True)
class GrammarFile:
    """One JSGF text."""

    name: str
    imports: tuple[str, ...]
    rules: tuple[Rule, ...]
    path: str


def words_of(part: Expansion) -> Iterator[str]:
    """The words written in an expansion, those of rules it refers to left out."""
    if isinstance(part, Token):
        yield part.word
    elif isinstance(part, Sequence | Alternatives):
        for child in part.parts:
            yield from words_of(child)
    elif isinstance(part, Repeat | Tagged):
        yield from words_of(part.part)


_LEXEME = re.compile(
    r"""(?P<blank>\s+|//[^\n]*|/\*.*?\*/)
      | (?P<weight>/\s*[0-9.eE+-]+\s*/)
      | (?P<reference><[^<>\s]+>)
      | (?P<tag>\{(?:\\.|[^{}\\])*\})
      | (?P<quoted>"(?:\\.|[^"\\])*")
      | (?P<mark>[=;|*+()\[\]])
      | (?P<word>[^\s=;|*+()\[\]<>{}/"]+)
    """,
    re.VERBOSE | re.DOTALL,
)


class _Reader:
    """Reads one text by recursive descent; every complaint names file and line."""

    def __init__(self, text: str, path: str) -> None:
        self._path = path
        self._text = text
        self._lexemes = list(self._split())
        self._next = 0

    def fail(self, what: str, offset: int | None = None) -> GrammarError:
        if offset is None:
            offset = (
                self._lexemes[self._next][2] if self._next < len(self._lexemes) else len(self._text)
            )
        line = self._text.count("\n", 0, offset) + 1
        return GrammarError(f"{self._path}, line {line}: {what}.", "Mend that line.")

    def _split(self) -> Iterator[tuple[str, str, int]]:
        at = self._text.find("\n") + 1 or len(self._text)
        while at < len(self._text):
            match = _LEXEME.match(self._text, at)
            if match is None:
                raise self.fail(f"unexpected {self._text[at]!r}", at)
            kind = str(match.lastgroup)
            if kind not in ("blank", "weight"):
                yield kind, match.group(), at
            at = match.end()

    def _peek(self) -> tuple[str, str]:
        if self._next >= len(self._lexemes):
            return "end", ""
        kind, text, _ = self._lexemes[self._next]
        return kind, text

    def _take(self, text: str | None = None, kind: str | None = None) -> str:
        found_kind, found = self._peek()
        if (text is not None and found != text) or (kind is not None and found_kind != kind):
            wanted = text or f"a {kind}"
            raise self.fail(f"{wanted} is missing before {found or 'the end of the file'!r}")
        self._next += 1
        return found

    def read(self) -> GrammarFile:
        first = self._text.split("\n", 1)[0].lstrip("\ufeff")
        if not first.startswith("#JSGF V1.0"):
            raise self.fail("the file does not start with '#JSGF V1.0;'", 0)
        self._take("grammar")
        name = self._take(kind="word")
        self._take(";")
        imports = []
        while self._peek()[1] == "import":
            self._take("import")
            imports.append(self._take(kind="reference")[1:-1])
            self._take(";")
        rules = []
        while self._peek()[0] != "end":
            rules.append(self._rule())
        names = [rule.name for rule in rules]
        for rule in rules:
            if names.count(rule.name) > 1:
                what = f"line {rule.line}: rule <{rule.name}> is written twice"
                raise GrammarError(f"{self._path}, {what}.", "Remove or rename one.")
        return GrammarFile(name, tuple(imports), tuple(rules), self._path)

    def _rule(self) -> Rule:
        line = self._text.count("\n", 0, self._lexemes[self._next][2]) + 1
        public = self._peek()[1] == "public"
        if public:
            self._take("public")
        name = self._take(kind="reference")[1:-1]
        self._take("=")
        expansion = self._alternatives()
        self._take(";")
        return Rule(name, public, expansion, line)

    def _alternatives(self) -> Expansion:
        parts = [self._sequence()]
        while self._peek()[1] == "|":
            self._take("|")
            parts.append(self._sequence())
        return parts[0] if len(parts) == 1 else Alternatives(tuple(parts))

    def _sequence(self) -> Expansion:
        parts: list[Expansion] = []
        while True:
            kind, text = self._peek()
            if kind == "end" or text in ("|", ")", "]", ";"):
                break
            parts.append(self._item())
        if not parts:
            raise self.fail("an alternative is empty (write <NULL> to say nothing)")
        return parts[0] if len(parts) == 1 else Sequence(tuple(parts))

    def _item(self) -> Expansion:
        kind, text = self._peek()
        item: Expansion
        if text == "(":
            self._take("(")
            item = self._alternatives()
            self._take(")")
        elif text == "[":
            self._take("[")
            item = Repeat(self._alternatives(), 0, once=True)
            self._take("]")
        elif kind == "reference":
            name = self._take()[1:-1]
            item = Sequence(()) if name == "NULL" else Reference(name)
        elif kind == "quoted":
            words = self._take()[1:-1].lower().split()
            item = Sequence(tuple(Token(word) for word in words))
        elif kind == "word":
            item = Token(self._take().lower())
        elif text == "=":
            raise self.fail("the rule before this one does not end with ';'")
        else:
            raise self.fail(f"unexpected {text!r}")
        while True:
            kind, text = self._peek()
            if text in ("*", "+"):
                self._take()
                item = Repeat(item, 0 if text == "*" else 1)
            elif kind == "tag":
                item = Tagged(item, self._take()[1:-1].strip())
            else:
                return item


def read_jsgf(text: str, path: str) -> GrammarFile:
    """Read one JSGF text.

    Args:
        text: The whole text, its ``#JSGF V1.0;`` header first.
        path: Where it came from, for the error message.

    Raises:
        GrammarError: Something is not JSGF; the message names file and line.
    """
    return _Reader(text, path).read()


def load_jsgf(path: Path) -> GrammarFile:
    """Read one JSGF file (UTF-8).

    Raises:
        GrammarError: The file cannot be read or is not JSGF.
    """
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise GrammarError(
            f"{path}: cannot be read ({error}).", "Give a UTF-8 text file."
        ) from error
    return read_jsgf(text, str(path))
