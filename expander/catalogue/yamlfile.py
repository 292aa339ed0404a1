"""YAML text as plain data, with the place of everything in it.

Two habits of YAML would surprise a musician, so they are left out: `no`, `on` and `1:30` stay
words (only `true`, `false`, `null` and plain decimal numbers are anything else), and a key that
stands twice is a mistake instead of silently winning.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import yaml
from msgspec import Struct

from expander.errors import BadRules, ExpanderError, Spot

Step = str | int
PathInFile = tuple[Step, ...]

LARGEST_TEXT = 2_000_000
"""Characters; a rule file of an evening's music has some thousands."""
MOST_VALUES = 200_000
"""Values after aliases are written out."""
DEEPEST = 60

_Base: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)

_RESOLVED: tuple[tuple[str, str, str], ...] = (
    ("bool", r"^(?:true|True|TRUE|false|False|FALSE)$", "tTfF"),
    ("int", r"^[-+]?[0-9]+$", "-+0123456789"),
    ("float", r"^[-+]?(?:[0-9]+\.[0-9]*|\.[0-9]+)(?:[eE][-+]?[0-9]+)?$", "-+.0123456789"),
    ("null", r"^(?:~|null|Null|NULL|)$", "~nN\0"),
)


class _Loader(_Base):  # type: ignore[misc]
    """The safe loader with a short list of what is not text."""

    yaml_implicit_resolvers: dict[str, list[tuple[str, re.Pattern[str]]]] = {}  # noqa: RUF012


for _tag, _pattern, _firsts in _RESOLVED:
    for _first in _firsts:
        _entry = (f"tag:yaml.org,2002:{_tag}", re.compile(_pattern))
        _Loader.yaml_implicit_resolvers.setdefault(_first.strip("\0"), []).append(_entry)

_SCALARS: dict[str, Any] = {
    "tag:yaml.org,2002:str": str,
    "tag:yaml.org,2002:bool": lambda text: text.lower() == "true",
    "tag:yaml.org,2002:int": int,
    "tag:yaml.org,2002:float": float,
    "tag:yaml.org,2002:null": lambda text: None,
}

_COLLECTIONS = ("tag:yaml.org,2002:map", "tag:yaml.org,2002:seq")

# What the parser says, and what to tell a musician: (its words, fault, hint).
_TOLD: tuple[tuple[str, str, str], ...] = (
    (
        "mapping values are not allowed",
        "a colon where none was expected",
        "Check the indentation of this line and the one above; put text that holds a colon "
        'in quotes: "like: this".',
    ),
    (
        "could not find expected ':'",
        "a line without the colon that a name needs",
        "Write 'name: value', with a blank after the colon.",
    ),
    (
        "did not find expected key",
        "the indentation does not match the lines above",
        "Lines of one list or group start in the same column.",
    ),
    (
        "expected <block end>",
        "the indentation does not match the lines above",
        "Lines of one list or group start in the same column.",
    ),
    (
        "did not find expected '-' indicator",
        "a line of a list does not begin with '-'",
        "Lines of one list start in the same column, each with '- '.",
    ),
    (
        "did not find expected ',' or ']'",
        "a list in [ ] that is not closed, or lacks a comma",
        "Write [first, second].",
    ),
    ("expected ',' or ']'", "a list in [ ] that is not closed, or lacks a comma", "Write [a, b]."),
    (
        "did not find expected ',' or '}'",
        "a group in { } that is not closed, or lacks a comma",
        "Write {name: value, name: value}.",
    ),
    ("expected ',' or '}'", "a group in { } that is not closed, or lacks a comma", "Write {a: b}."),
    ("quoted scalar", "a quotation mark that is never closed", "Close it on the same line."),
    ("undefined alias", "a '*' name without the '&' name it repeats", "Quote text that begins *."),
    (
        "while scanning an alias",
        "a '*' that begins no name",
        'Put text that begins with * in quotes: "*".',
    ),
    (
        "cannot start any token",
        "a character that cannot begin a value",
        "Put the value in quotes.",
    ),
    ("maximum nesting depth", "too much inside one another", ""),
    (
        "block sequence entries are not allowed",
        "a '-' where none was expected",
        "Start each entry of a list on a line of its own, or write '-' in quotes.",
    ),
    ("<document start>", "the indentation does not match the lines above", "Start at the margin."),
    ("expected a single document", "a second document in the file ('---')", "Use one file each."),
)


class Places(Struct, frozen=True):
    """Where each value and each key of a file stands, by its path such as `("plan", "all", 0)`."""

    file: str
    values: dict[PathInFile, tuple[int, int]]
    keys: dict[PathInFile, tuple[int, int]]

    def __call__(self, path: Iterable[Step]) -> tuple[int, int]:
        """Line and column, from 1, of a value; of the nearest group around it if it is not there.

        Steps the file does not have are passed over, so a validator's own path may be given.
        """
        return self.values.get(self._known(path), (0, 0))

    def spot(self, path: Iterable[Step]) -> Spot:
        """The place of a value, as `__call__` finds it, with the file's name."""
        return Spot(self.file, *self(path))

    def key_spot(self, path: Iterable[Step]) -> Spot:
        """The place of the key that names the value at `path`; of the value where it has none."""
        known = self._known(path)
        return Spot(self.file, *self.keys.get(known, self.values.get(known, (0, 0))))

    def _known(self, path: Iterable[Step]) -> PathInFile:
        found: PathInFile = ()
        for step in path:
            if (*found, step) in self.values:
                found = (*found, step)
        return found


def load(text: str, name: str) -> tuple[Any, Places]:
    """The data of a YAML text and the places in it; `name` is the file's name for messages.

    Data are dict (keys are always str), list, str, int, float, bool and None; an empty text is
    None. Raises `BadRules` with every duplicate key, unknown tag or unusable key found, or with
    the one place where the text stops being YAML.
    """
    if len(text) > LARGEST_TEXT:
        raise BadRules([ExpanderError("the file is too large for a rule file", at=Spot(name))])
    node = _compose(text, name)
    builder = _Builder(name)
    data = None if node is None else builder.value(node, ())
    if builder.mistakes:
        raise BadRules(builder.mistakes)
    return data, Places(name, builder.values, builder.keys)


def load_file(path: Path, name: str = "") -> tuple[Any, Places]:
    """`load` on a UTF-8 file. Raises `BadRules` where it cannot be read."""
    shown = name or str(path)
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        fault = ExpanderError(
            "the file is not UTF-8 text", at=Spot(shown), hint="Save it as UTF-8."
        )
        raise BadRules([fault]) from None
    except OSError as error:
        reason = error.strerror or "it cannot be read"
        raise BadRules([ExpanderError(f"cannot open it: {reason}", at=Spot(shown))]) from None
    return load(text, shown)


def _compose(text: str, name: str) -> yaml.Node | None:
    try:
        return yaml.compose(text, Loader=_Loader)
    except yaml.MarkedYAMLError as error:
        raise BadRules([_told(error, text, name)]) from None
    except yaml.YAMLError as error:  # the reader's: a character that is no text
        raise BadRules([_unreadable(error, text, name)]) from None
    except RecursionError:
        raise BadRules([ExpanderError("lists inside lists too deep", at=Spot(name))]) from None


def _told(error: yaml.MarkedYAMLError, text: str, name: str) -> ExpanderError:
    mark = error.problem_mark or error.context_mark
    line, column = (mark.line + 1, mark.column + 1) if mark else (0, 0)
    spot = Spot(name, line, column)
    if _has_tab(text, line):
        hint = "Indent with blanks."
        return ExpanderError(
            "a tab in the indentation, which YAML does not allow", at=spot, hint=hint
        )
    said = f"{error.problem or ''} {error.context or ''}"
    for words, fault, hint in _TOLD:
        if words in said:
            return ExpanderError(fault, at=spot, hint=hint)
    return ExpanderError(f"this is not YAML: {said.strip()}", at=spot)


def _has_tab(text: str, line: int) -> bool:
    lines = text.splitlines()
    near = lines[max(line - 1, 0) : line + 1]
    return any("\t" in row[: len(row) - len(row.lstrip())] for row in near)


def _unreadable(error: yaml.YAMLError, text: str, name: str) -> ExpanderError:
    position = getattr(error, "position", 0)
    before = text[:position] if isinstance(position, int) else ""
    line, column = before.count("\n") + 1, len(before) - before.rfind("\n")
    fault = "a character that is not text (a control character)"
    return ExpanderError(fault, at=Spot(name, line, column), hint="Delete it.")


class _Builder:
    """Turns composed nodes into data and notes every place and mistake on the way."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.values: dict[PathInFile, tuple[int, int]] = {}
        self.keys: dict[PathInFile, tuple[int, int]] = {}
        self.mistakes: list[ExpanderError] = []

    def value(self, node: yaml.Node, path: PathInFile) -> object:
        self.values[path] = _place(node)
        self._limit(node, path)
        if isinstance(node, yaml.ScalarNode):
            return self._scalar(node)
        if node.tag not in _COLLECTIONS:
            self._unknown_tag(node)
        if isinstance(node, yaml.SequenceNode):
            return [self.value(item, (*path, i)) for i, item in enumerate(node.value)]
        return self._mapping(node, path)

    def _mapping(self, node: yaml.Node, path: PathInFile) -> dict[str, Any]:
        data: dict[str, Any] = {}
        for key_node, value_node in node.value:
            if not isinstance(key_node, yaml.ScalarNode):
                self._add(key_node, "a list or group where a name was expected")
                continue
            key = key_node.value
            inner = (*path, key)
            if key in data:
                first = self.keys[inner][0]
                self._add(key_node, f"'{key}' stands twice here (first in line {first})")
                continue
            self.keys[inner] = _place(key_node)
            data[key] = self.value(value_node, inner)
        return data

    def _scalar(self, node: yaml.Node) -> object:
        make = _SCALARS.get(node.tag)
        if make is None:
            self._unknown_tag(node)
            return node.value
        if make is int and len(node.value) > 18:
            return node.value
        return make(node.value)

    def _unknown_tag(self, node: yaml.Node) -> None:
        tag = node.tag.replace("tag:yaml.org,2002:", "!!")
        self._add(node, f"'{tag}' is not understood", "Put text that begins with ! in quotes.")

    def _limit(self, node: yaml.Node, path: PathInFile) -> None:
        if len(path) <= DEEPEST and len(self.values) <= MOST_VALUES:
            return
        self._add(node, "too much inside one another", "Write repeated passages out once.")
        raise BadRules(self.mistakes)

    def _add(self, node: yaml.Node, fault: str, hint: str = "") -> None:
        self.mistakes.append(ExpanderError(fault, at=Spot(self.name, *_place(node)), hint=hint))


def _place(node: yaml.Node) -> tuple[int, int]:
    return node.start_mark.line + 1, node.start_mark.column + 1
