"""YAML texts that people edit, read as plain data with the line of every part."""

import stat
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import yaml

from readback.errors import GrammarError

_LARGEST_BYTES = 1_000_000
_DEEPEST = 12
_MOST_PARTS = 50_000
_LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_NULL = "tag:yaml.org,2002:null"
_PLAIN_KINDS = ("str", "int", "float", "bool", "null", "map", "seq", "timestamp", "merge", "value")
_PLAIN_TAGS = frozenset(f"tag:yaml.org,2002:{kind}" for kind in _PLAIN_KINDS)


@dataclass
class YamlText:
    """One text: its content, and where each part of it stands."""

    path: str
    content: Any
    """Mappings, lists, None and text; numbers and truth values are still text."""
    lines: Mapping[tuple[str | int, ...], int] = field(default_factory=dict)
    """Path of keys and places to the line, from 1."""

    def fail(self, place: tuple[str | int, ...], what: str, remedy: str) -> GrammarError:
        """Make the error for a mistake in one part; names file, line and field."""
        known = place
        while known and known not in self.lines:
            known = known[:-1]
        line = self.lines.get(known)
        where = f", line {line}" if line else ""
        name = ".".join(str(part) for part in place) or "the file"
        return GrammarError(f"{self.path}{where}: {name}: {what}.", remedy)


def load_yaml(path: Path) -> YamlText:
    """Read one YAML file (UTF-8).

    Raises:
        GrammarError: It cannot be read, is not YAML, or holds what these files never need: tags,
            the same key twice, anchors that grow without bound. Names file and line.
    """
    try:
        status = path.stat()
        if stat.S_ISCHR(status.st_mode) or stat.S_ISBLK(status.st_mode):
            raise GrammarError(f"{path}: is a device, not a file.", "Give a YAML file.")
        if status.st_size > _LARGEST_BYTES:
            raise GrammarError(f"{path}: is larger than 1 MB.", "Give a YAML file of rules.")
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise GrammarError(f"{path}: is not in UTF-8.", "Give a YAML file.") from error
    except (OSError, ValueError) as error:
        # ValueError: a zero byte in the path.
        why = getattr(error, "strerror", None) or error
        raise GrammarError(f"{path}: cannot be read ({why}).", "Give a YAML file.") from error
    return read_yaml(text, str(path))


def read_yaml(text: str, path: str) -> YamlText:
    """Read one YAML text.

    Args:
        text: The whole text.
        path: Where it came from, for the error message.

    Raises:
        GrammarError: See `load_yaml`.
    """
    try:
        _refuse_deep(text, path)
        loader = _LOADER(text)
        try:
            node = loader.get_single_node()
        finally:
            loader.dispose()
    except yaml.YAMLError as error:
        raise _not_yaml(error, path) from error
    lines: dict[tuple[str | int, ...], int] = {}
    if node is None:
        return YamlText(path, None, lines)
    _refuse_growth(node, path)
    return YamlText(path, _plain(node, (), lines, path), lines)


def _not_yaml(error: yaml.YAMLError, path: str) -> GrammarError:
    mark = getattr(error, "problem_mark", None)
    where = f", line {mark.line + 1}" if mark else ""
    problem = getattr(error, "problem", None) or getattr(error, "reason", None) or "is not YAML"
    return GrammarError(f"{path}{where}: {problem}.", "Mend that line.")


def _refuse_deep(text: str, path: str) -> None:
    """Refuse deep nesting before anything recurses: libyaml's composer has no guard of its own."""
    depth = 0
    for event in yaml.parse(text, Loader=_LOADER):
        if isinstance(event, yaml.CollectionStartEvent):
            depth += 1
        elif isinstance(event, yaml.CollectionEndEvent):
            depth -= 1
        if depth > _DEEPEST:
            mark = event.start_mark
            line = mark.line + 1 if mark else 1
            raise GrammarError(
                f"{path}, line {line}: is nested deeper than {_DEEPEST}.", "Write it flatter."
            )


def _refuse_growth(root: yaml.Node, path: str) -> None:
    """Refuse anchors that contain themselves, or that stand for more parts than a file can hold."""
    sizes: dict[int, int] = {}

    def size(node: yaml.Node, inside: frozenset[int]) -> int:
        if isinstance(node, yaml.ScalarNode):
            return 1
        known = sizes.get(id(node))
        if known is not None:
            return known
        if id(node) in inside:
            raise _anchor(node, path, "refers to itself")
        within = inside | {id(node)}
        total = 1 + sum(size(child, within) for child in _children(node))
        if total > _MOST_PARTS:
            raise _anchor(node, path, f"stands for more than {_MOST_PARTS} parts")
        sizes[id(node)] = total
        return total

    size(root, frozenset())


def _anchor(node: yaml.Node, path: str, what: str) -> GrammarError:
    line = node.start_mark.line + 1
    return GrammarError(f"{path}, line {line}: what stands here {what}.", "Write it out.")


def _children(node: yaml.Node) -> list[yaml.Node]:
    if isinstance(node, yaml.MappingNode):
        return [part for pair in node.value for part in pair]
    return list(node.value)


def _plain(
    node: yaml.Node,
    place: tuple[str | int, ...],
    lines: dict[tuple[str | int, ...], int],
    path: str,
) -> Any:
    line = node.start_mark.line + 1
    lines.setdefault(place, line)
    if node.tag not in _PLAIN_TAGS:
        raise GrammarError(f"{path}, line {line}: the tag {node.tag} is not used here.", "Omit it.")
    if isinstance(node, yaml.ScalarNode):
        return None if node.tag == _NULL else node.value
    if isinstance(node, yaml.SequenceNode):
        return [_plain(child, (*place, at), lines, path) for at, child in enumerate(node.value)]
    content: dict[str, Any] = {}
    for key, value in node.value:
        if not isinstance(key, yaml.ScalarNode):
            raise GrammarError(f"{path}, line {line}: a key is not a word.", "Mend that line.")
        at = key.start_mark.line + 1
        if key.value in content:
            name = ".".join(str(part) for part in (*place, key.value))
            raise GrammarError(
                f"{path}, line {at}: {name} is written twice.", "Remove or rename one."
            )
        lines[(*place, key.value)] = at
        content[key.value] = _plain(value, (*place, key.value), lines, path)
    return content
