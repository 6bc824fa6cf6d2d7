"""The rules: what an authority wants read back, each with its source (``grammars/rules``)."""

from collections.abc import Iterable
from functools import cache, lru_cache
from pathlib import Path

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from readback.data import data_directory
from readback.errors import GrammarError, InputError
from readback.field_errors import what_is_allowed, what_is_wrong
from readback.judging.rule_model import (
    Answer,
    CallRule,
    Need,
    RuleFile,
    Silence,
    Source,
    Wording,
    WordingStatus,
    written_out,
)
from readback.judging.yaml_text import load_yaml

__all__ = [
    "AUTHORITIES",
    "Answer",
    "CallRule",
    "Need",
    "RuleBook",
    "RuleFile",
    "Silence",
    "Source",
    "Wording",
    "WordingStatus",
    "load_rule_file",
    "load_rules",
]

AUTHORITIES = ("icao", "easa", "faa", "uk")


class RuleBook:
    """The rules in force for one judgement.

    Args:
        authority: Whose rules they are.
        files: Later ones replace the calls, and the wordings of the same words, of earlier ones.
    """

    def __init__(self, authority: str, files: tuple[RuleFile, ...]) -> None:
        self.authority = authority
        self.title = files[0].title
        self.calls: dict[str, CallRule] = {}
        self.silent: dict[str, Silence] = {}
        self._sources: dict[str, Source] = {}
        wording: dict[tuple[str, str, str | None], Wording] = {}
        for file in files:
            for silence in file.silent:
                for name in silence.calls:
                    self.calls.pop(name, None)
                    self.silent[name] = silence
                    self._sources[name] = file.sources[silence.source]
            for key, names in file.also_in.items():
                self._sources.update(dict.fromkeys(names, file.sources[key]))
            for name, rule in file.calls.items():
                self.silent.pop(name, None)
                self.calls[name] = rule
                # Each file names its sources as it likes: a key counts in its own file only.
                self._sources[name] = file.sources[rule.source]
            for item in file.wording:
                source = str(file.sources[item.source])
                for words in written_out(item.words):
                    changes = {"words": words, "source": source}
                    wording[words, item.where, item.family] = item.model_copy(update=changes)
        self.wording: tuple[Wording, ...] = tuple(wording.values())
        """What is held of ways of saying; each ``source`` written out."""

    def rule(self, call: str) -> CallRule | None:
        """The rule for a call; None where it wants nothing and may be said freely."""
        return self.calls.get(call)

    @cache  # noqa: B019 - a rule book lives as long as the program
    def source(self, call: str) -> str | None:
        """Name the source of the rule for a call, or of its wanting none; None without either."""
        source = self._sources.get(call)
        return str(source) if source else None

    def refuse_unruled(self, calls: Iterable[str]) -> None:
        """Refuse a call that has neither a rule nor a reason for wanting no answer.

        Raises:
            GrammarError: Names the calls.
        """
        unruled = [name for name in calls if name not in self.calls and name not in self.silent]
        if unruled:
            raise GrammarError(
                f"{self.authority}: no rule for {', '.join(unruled)}.",
                "Write one under calls, or name the call under silent.",
            )

    def how_seen(self, call: str) -> str | None:
        """Tell how that source was seen: ``seen``, ``from memory``; None without one."""
        source = self._sources.get(call)
        return source.seen if source else None


def load_rule_file(path: Path) -> RuleFile:
    """Read one rules file.

    Raises:
        GrammarError: It cannot be read, is not YAML, or a field is wrong; names file, line and
            field, and what is allowed.
    """
    text = load_yaml(path)
    if not isinstance(text.content, dict):
        raise text.fail((), "holds no fields", f"Write {_fields_of(RuleFile)}.")
    try:
        file = RuleFile.model_validate(text.content)
    except ValidationError as error:
        first = error.errors()[0]
        place = first["loc"]
        raise text.fail(place, what_is_wrong(first), _what_is_allowed(first, place)) from error
    cited: list[tuple[tuple[str | int, ...], str]] = [
        *((("calls", name, "source"), rule.source) for name, rule in file.calls.items()),
        *((("also_in", key), key) for key in file.also_in),
        *((("silent", at, "source"), item.source) for at, item in enumerate(file.silent)),
        *((("wording", at, "source"), item.source) for at, item in enumerate(file.wording)),
    ]
    for where, key in cited:
        if key not in file.sources:
            known = ", ".join(file.sources) or "none"
            raise text.fail(where, f"no source is named {key!r}", f"Known here: {known}.")
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
    own = load_rule_file(directory / f"{authority}.yaml")
    chain = [own]
    while chain[0].base is not None:
        if len(chain) > len(AUTHORITIES):
            raise GrammarError(f"{directory}: a base refers to itself.", "Mend base.")
        chain.insert(0, load_rule_file(directory / f"{chain[0].base}.yaml"))
    chain.append(load_rule_file(directory / "interphone.yaml"))
    chain += [load_rule_file(path) for path in local]
    book = RuleBook(authority, tuple(chain))
    book.title = own.title
    return book


def _what_is_allowed(error: ErrorDetails, place: tuple[str | int, ...]) -> str:
    if error["type"] == "extra_forbidden":
        return f"Use {_fields_of(_model_at(place))}."
    return what_is_allowed(error)


def _model_at(place: tuple[str | int, ...]) -> type[BaseModel]:
    models: dict[str, type[BaseModel]] = {
        "sources": Source,
        "calls": CallRule,
        "silent": Silence,
        "wording": Wording,
    }
    return models.get(str(place[0]), RuleFile) if len(place) > 1 else RuleFile


def _fields_of(model: type[BaseModel]) -> str:
    return ", ".join(model.model_fields)
