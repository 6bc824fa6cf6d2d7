"""The rules: what an authority wants read back, each with its source (``grammars/rules``)."""

from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal

import yaml
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from readback.data import data_directory
from readback.errors import GrammarError, InputError
from readback.judging.model import Severity

AUTHORITIES = ("icao", "easa", "faa", "uk")

Answer = Literal["readback", "acknowledge", "reply", "none"]
Need = Literal["required", "optional", "free"]


class Source(BaseModel):
    """Where a rule is published."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    document: str
    """With edition: ``ICAO Doc 4444 (PANS-ATM), 16th edition 2016``."""
    paragraph: str = ""
    seen: Literal["seen", "seen (quoted)", "from memory", "no source"]

    def __str__(self) -> str:
        if self.seen == "no source":
            return self.document
        return f"{self.document}, {self.paragraph} ({self.seen})".replace(",  (", " (")


class CallRule(BaseModel):
    """What one call wants for an answer."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    answer: Answer
    """``readback``: the same comes back. ``acknowledge``: a readback or a word such as ROGER.
    ``reply``: one of ``answered_by``. ``none``: nothing is due."""
    answered_by: tuple[str, ...] = ()
    """Calls that answer it beside the same call."""
    echo: bool = True
    """Whether the same call answers it."""
    elements: Mapping[str, Need] = Field(default_factory=dict)
    """``required``: must come back. ``optional``: may be left out, not added. ``free``: either.
    What is said must always agree."""
    reply_elements: tuple[str, ...] = ()
    """Elements that the answering call must carry of its own."""
    carried_by: tuple[str, ...] = ()
    """Calls of a single element that may bring it apart from the verb: a bare runway."""
    stands_for: tuple[str, ...] = ()
    """Calls that it is judged as."""
    severity: Severity = Severity.REQUIRED
    unissued: Severity | None = None
    """How it weighs in a readback where it was not instructed; None: it does not."""
    says: str
    """The rule in one sentence."""
    source: str
    """Key of the file's ``sources``."""


class RuleFile(BaseModel):
    """One rules file."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    authority: str
    title: str
    base: str | None = None
    """Rules file that these rules change; theirs count where these say nothing."""
    sources: Mapping[str, Source] = Field(default_factory=dict)
    calls: Mapping[str, CallRule] = Field(default_factory=dict)
    silent: tuple[str, ...] = ()
    """Calls that want no answer and may be said freely."""


class RuleBook:
    """The rules in force for one judgement.

    Args:
        files: Later ones replace the calls of earlier ones.
    """

    def __init__(self, authority: str, files: tuple[RuleFile, ...]) -> None:
        self.authority = authority
        self.title = files[0].title
        self.sources: dict[str, Source] = {}
        self.calls: dict[str, CallRule] = {}
        for file in files:
            self.sources.update(file.sources)
            for name in file.silent:
                self.calls.pop(name, None)
            self.calls.update(file.calls)

    def rule(self, call: str) -> CallRule | None:
        """The rule for a call; None where it wants nothing and may be said freely."""
        return self.calls.get(call)

    @lru_cache(maxsize=None)  # noqa: B019 - a rule book lives as long as the program
    def source(self, call: str) -> str | None:
        """Name the source of a call's rule."""
        rule = self.calls.get(call)
        return str(self.sources[rule.source]) if rule else None


def load_rule_file(path: Path) -> RuleFile:
    """Read one rules file.

    Raises:
        GrammarError: It cannot be read, is not YAML, or a field is wrong; names file and field.
    """
    loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    try:
        content: Any = yaml.load(path.read_text(encoding="utf-8"), Loader=loader)  # noqa: S506
    except (OSError, UnicodeDecodeError) as error:
        raise GrammarError(f"{path}: cannot be read ({error}).", "Give a YAML file.") from error
    except yaml.YAMLError as error:
        mark = getattr(error, "problem_mark", None)
        where = f", line {mark.line + 1}" if mark else ""
        problem = getattr(error, "problem", None) or "not YAML"
        raise GrammarError(f"{path}{where}: {problem}.", "Mend that line.") from error
    try:
        file = RuleFile.model_validate(content)
    except ValidationError as error:
        first = error.errors()[0]
        field = ".".join(str(part) for part in first["loc"]) or "the file"
        raise GrammarError(f"{path}: {field}: {first['msg']}.", "Mend that field.") from error
    for name, rule in file.calls.items():
        if rule.source not in file.sources:
            raise GrammarError(
                f"{path}: calls.{name}.source: no source is named {rule.source!r}.",
                "Add it under sources, or name one of them.",
            )
    return file


@lru_cache(maxsize=32)
def load_rules(authority: str, local: tuple[Path, ...] = ()) -> RuleBook:
    """Load the rules of an authority, of the interphone, and an operator's own.

    Args:
        authority: ``icao``, ``easa``, ``faa`` or ``uk``.
        local: Rules files read last.

    Raises:
        InputError: No such authority.
        GrammarError: A file is wrong.
    """
    if authority not in AUTHORITIES:
        known = ", ".join(AUTHORITIES)
        raise InputError(f"{authority!r} is no authority known here.", f"Use one of {known}.")
    directory = data_directory("grammars") / "rules"
    file = load_rule_file(directory / f"{authority}.yaml")
    chain = [file]
    while file.base is not None:
        file = load_rule_file(directory / f"{file.base}.yaml")
        chain.insert(0, file)
    chain.append(load_rule_file(directory / "interphone.yaml"))
    chain += [load_rule_file(path) for path in local]
    book = RuleBook(authority, tuple(chain))
    book.title = load_rule_file(directory / f"{authority}.yaml").title
    return book
