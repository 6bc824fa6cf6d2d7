"""The rules: what an authority wants read back, each with its source (``grammars/rules``)."""

from collections.abc import Iterable, Mapping
from functools import cache, lru_cache
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator
from pydantic_core import ErrorDetails

from readback.data import data_directory
from readback.errors import GrammarError, InputError
from readback.judging.model import Severity
from readback.judging.yaml_text import load_yaml
from readback.phraseology.words import DIGIT_WORD, canonical_words

AUTHORITIES = ("icao", "easa", "faa", "uk")

_ANY_DIGIT = "<digit>"

Answer = Literal["readback", "acknowledge", "reply", "none"]
Need = Literal["required", "optional", "free"]
WordingStatus = Literal["accepted", "tolerated", "wrong"]


class Source(BaseModel):
    """Where a rule is published."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    document: str = Field(min_length=1)
    """With edition: ``ICAO Doc 4444 (PANS-ATM), 16th edition 2016``."""
    paragraph: str = ""
    seen: Literal["seen", "seen (quoted)", "from memory", "no source"]

    def __str__(self) -> str:
        if self.seen == "no source":
            return self.document
        paragraph = f", {self.paragraph}" if self.paragraph else ""
        return f"{self.document}{paragraph} ({self.seen})"


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
    acknowledged_by: tuple[str, ...] = ("roger", "wilco", "affirm", "okay", "callsign")
    """Calls that acknowledge it, where ``answer`` is ``acknowledge``. With ``callsign`` among them
    the callsign alone, or an answer to the rest, is enough."""
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
    standard: str | None = None
    """The published words for it: elements in round brackets, what may be left out in square ones;
    None where none are known."""
    standard_answer: str | None = None
    """The authority's words for the answer, likewise."""
    says: str = Field(min_length=1)
    """The rule in one sentence."""
    source: str
    """Key of the file's ``sources``."""


class Silence(BaseModel):
    """Calls that want no answer and may be said freely."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    calls: tuple[str, ...]
    says: str = Field(min_length=1)
    """Why, in one sentence."""
    source: str
    """Key of the file's ``sources``."""


class Wording(BaseModel):
    """One way of saying, and what an authority holds of it; never part of the verdict."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    words: str = Field(min_length=1)
    """Canonical words, one blank between, to be found in a transmission: ``position and hold``. In
    a file ``<digit>`` stands for any digit; in a rule book it is written out."""
    status: WordingStatus
    """``accepted``: as good as the standard, no remark. ``tolerated``: understood, not standard.
    ``wrong``: not to be said."""
    offer: str | None = None
    """The standard words to say instead, in capitals; None where nothing replaces them."""
    says: str = Field(min_length=1)
    """Why, in one sentence."""
    source: str
    """Key of the file's ``sources``; in a rule book the source itself."""
    where: Literal["any", "instruction", "readback"] = "any"
    """In which side's transmission it counts."""
    family: Literal["ground_control", "interphone"] | None = None
    """On the radio or on the interphone only; None: on both."""

    @field_validator("words")
    @classmethod
    def _canonical(cls, words: str) -> str:
        said = words.replace(_ANY_DIGIT, "zero")
        canonical = " ".join(word for part in said.split() for word in canonical_words(part))
        if canonical != said:
            raise ValueError(f"write the words as the grammar has them: {canonical!r}")
        return words


class RuleFile(BaseModel):
    """One rules file."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    authority: str
    title: str
    base: str | None = None
    """Rules file that these rules change; theirs count where these say nothing."""
    sources: Mapping[str, Source] = Field(default_factory=dict)
    calls: Mapping[str, CallRule] = Field(default_factory=dict)
    also_in: Mapping[str, tuple[str, ...]] = Field(default_factory=dict)
    """Key of ``sources`` to calls of the base whose rules this authority publishes there."""
    silent: tuple[Silence, ...] = ()
    wording: tuple[Wording, ...] = ()


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
                for words in _written_out(item.words):
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
        raise text.fail(place, _what_is_wrong(first), _what_is_allowed(first, place)) from error
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


def _written_out(words: str) -> list[str]:
    """Write a wording once for each digit that ``<digit>`` may stand for."""
    if _ANY_DIGIT not in words:
        return [words]
    return [
        ending
        for digit in DIGIT_WORD.values()
        for ending in _written_out(words.replace(_ANY_DIGIT, digit, 1))
    ]


def _what_is_wrong(error: ErrorDetails) -> str:
    kind, given = error["type"], error["input"]
    if kind == "missing":
        return "is missing"
    if kind == "extra_forbidden":
        return "is no field here"
    if kind in ("literal_error", "enum", "bool_parsing"):
        return f"{given!r} is not allowed"
    message = error["msg"].removeprefix("Value error, ")
    return message[:1].lower() + message[1:]


def _what_is_allowed(error: ErrorDetails, place: tuple[str | int, ...]) -> str:
    if error["type"] in ("literal_error", "enum"):
        return f"Use {error['ctx']['expected']}."
    if error["type"] == "bool_parsing":
        return "Use true or false."
    if error["type"] == "extra_forbidden":
        return f"Use {_fields_of(_model_at(place))}."
    return "Mend that field."


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
