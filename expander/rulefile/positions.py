"""A YAML text as a tree of words, each with its line and column.

Everything is kept as the words that were typed, so that a rehearsal mark `N`, a bar `01` and a
version `1.10` stay what they are; what is a number or yes/no is for the reader of the tree to say.
Mistakes that do not stop the reading (a key that stands twice) are gathered, not raised.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator, Mapping
from typing import NoReturn

import yaml
from msgspec import Struct, field

from expander.errors import BadRules, ExpanderError, Spot
from expander.rulefile import syntax

MOST_VALUES = 50_000
"""Values once aliases are written out; a rule file of an evening's music has some thousands."""
DEEPEST = 12
"""Levels inside one another; a rule file needs five."""

_NOTHING = frozenset({"", "~", "null", "Null", "NULL"})

Place = tuple[int, int]


class Item(Struct, frozen=True):
    """One value of the file: words, None (nothing written), a list or a mapping.

    `place` is its line and column; `keys` the places of a mapping's keys. `size` counts the
    values in it, itself included.
    """

    value: str | list[Item] | dict[str, Item] | None
    place: Place
    keys: Mapping[str, Place] = field(default_factory=dict)
    size: int = 1

    def plain(self) -> object:
        """The value without places."""
        if isinstance(self.value, dict):
            return {key: item.plain() for key, item in self.value.items()}
        if isinstance(self.value, list):
            return [item.plain() for item in self.value]
        return self.value

    def child(self, step: str | int) -> Item | None:
        """What stands under a key or at an index; None where nothing does."""
        if isinstance(self.value, dict):
            return self.value.get(str(step))
        if isinstance(self.value, list) and isinstance(step, int):
            return self.value[step] if step < len(self.value) else None
        return None

    def entries(self) -> Mapping[str, Item]:
        """The entries of a mapping; none for anything else."""
        return self.value if isinstance(self.value, dict) else {}

    def items(self) -> list[Item]:
        """The values of a list; none for anything else."""
        return self.value if isinstance(self.value, list) else []

    @property
    def text(self) -> str:
        """The words; "" for anything else."""
        return self.value if isinstance(self.value, str) else ""


def read_tree(text: str, name: str) -> tuple[Item | None, list[ExpanderError]]:
    """The tree of a YAML text (None for an empty one) and the mistakes that did not stop it.

    `name` is the file's name for messages. Raises `BadRules` where the text stops being YAML.
    """
    tabs = syntax.tab_mistakes(text, name)
    if tabs:
        raise BadRules(tabs)
    try:
        return _Builder(text, name).document()
    except yaml.YAMLError as error:
        raise BadRules([syntax.told(error, text, name)]) from None


class _Builder:
    """Builds the tree from the parser's events, one value after the other."""

    def __init__(self, text: str, name: str) -> None:
        # The pure Python parser: its columns and words are the same on every machine.
        self.events: Iterator[yaml.Event] = yaml.parse(text, Loader=yaml.SafeLoader)
        self.name = name
        self.anchors: dict[str, Item | None] = {}
        self.count = 0
        self.mistakes: list[ExpanderError] = []

    def document(self) -> tuple[Item | None, list[ExpanderError]]:
        root: Item | None = None
        for event in self.events:
            if isinstance(event, yaml.DocumentStartEvent):
                if root is not None:
                    self._note(
                        event, 'A second document begins here ("---").', "Use one file each."
                    )
                    break
                root = self._value(next(self.events), 0)
        return (None if root is None or root.value is None else root), self.mistakes

    def _value(self, event: yaml.Event, depth: int) -> Item:
        if depth > DEEPEST:
            self._stop(event, f"Lists and groups stand more than {DEEPEST} deep in one another.")
        if isinstance(event, yaml.AliasEvent):
            return self._alias(event)
        self._grow(event, 1)
        self._refuse_tag(event)
        anchor: str | None = getattr(event, "anchor", None)
        if anchor:
            self.anchors[anchor] = None
        item = self._fresh(event, depth)
        if anchor:
            self.anchors[anchor] = item
        return item

    def _fresh(self, event: yaml.Event, depth: int) -> Item:
        if isinstance(event, yaml.ScalarEvent):
            empty = event.implicit[0] and event.value in _NOTHING
            return Item(None if empty else _words(event.value), _place(event))
        if isinstance(event, yaml.SequenceStartEvent):
            return self._list(event, depth)
        return self._mapping(event, depth)

    def _list(self, start: yaml.Event, depth: int) -> Item:
        found = [self._value(event, depth + 1) for event in self._until(yaml.SequenceEndEvent)]
        return Item(found, _place(start), size=1 + sum(item.size for item in found))

    def _mapping(self, start: yaml.Event, depth: int) -> Item:
        found: dict[str, Item] = {}
        keys: dict[str, Place] = {}
        for event in self._until(yaml.MappingEndEvent):
            key = self._key(event, depth)
            item = self._value(next(self.events), depth + 1)
            if key in keys:
                first = keys[key][0]
                self._note(event, f'"{key}" stands twice here; it is already in line {first}.')
            elif key is not None:
                found[key], keys[key] = item, _place(event)
        return Item(found, _place(start), keys, 1 + sum(item.size for item in found.values()))

    def _key(self, event: yaml.Event, depth: int) -> str | None:
        item = self._value(event, depth + 1)
        if isinstance(event, yaml.ScalarEvent):
            item = Item(_words(event.value), item.place)  # a section may well be called null
        if isinstance(item.value, list | dict):
            self._note(event, "A list or group stands where a name was expected.")
            return None
        if item.value == "<<":
            hint = "Write the lines out where they are needed."
            self._note(event, 'The merge key "<<" is not used in rule files.', hint)
            return None
        return item.value or ""

    def _alias(self, event: yaml.AliasEvent) -> Item:
        if event.anchor not in self.anchors:
            self._stop(event, f'"*{event.anchor}" repeats nothing: no "&{event.anchor}" before it.')
        item = self.anchors[event.anchor]
        if item is None:
            self._stop(event, f'"*{event.anchor}" stands inside what it repeats.')
        self._grow(event, item.size)
        return item

    def _until(self, end: type[yaml.Event]) -> Iterator[yaml.Event]:
        while not isinstance(event := next(self.events), end):
            yield event

    def _grow(self, event: yaml.Event, size: int) -> None:
        self.count += size
        if self.count > MOST_VALUES:
            self._stop(event, f"The file holds more than {MOST_VALUES} values, repeats included.")

    def _refuse_tag(self, event: yaml.Event) -> None:
        tag: str | None = getattr(event, "tag", None)
        if tag and tag != "!":
            shown = tag.replace("tag:yaml.org,2002:", "!!")
            self._note(event, f'"{shown}" is not used in rule files.', "Put the text in quotes.")

    def _note(self, event: yaml.Event, fault: str, hint: str = "") -> None:
        spot = Spot(self.name, *_place(event))
        self.mistakes.append(ExpanderError(fault, at=spot, hint=hint))

    def _stop(self, event: yaml.Event, fault: str) -> NoReturn:
        self._note(event, fault)
        raise BadRules(self.mistakes)


def _place(event: yaml.Event) -> Place:
    mark = event.start_mark
    return (mark.line + 1, mark.column + 1) if mark else (0, 0)


def _words(text: str) -> str:
    """One spelling for what looks the same: no blanks at the ends, accents composed."""
    return unicodedata.normalize("NFC", text.strip())
