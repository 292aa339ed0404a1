"""What the MusicXML 4.0 schema allows, as a table.

`grammar.json` is derived from the W3C schema by `tests/musicxml/derive_grammar.py`; a test
holds the one against the other. In that schema an element's name alone settles its type.
"""

from __future__ import annotations

import re
from decimal import Decimal, InvalidOperation
from functools import cache
from typing import Any

from msgspec import Struct, field

from expander.model.tables import table

_NUMBER = re.compile(r"[+-]?(\d{1,18}(\.\d*)?|\.\d+)")
_WHOLE = re.compile(r"[+-]?\d{1,18}")
_PLAIN = {
    "ID": re.compile(r"[^\W\d][\w.\-]*"),
    "IDREF": re.compile(r"[^\W\d][\w.\-]*"),
    "NMTOKEN": re.compile(r"[\w.:\-]+"),
    "language": re.compile(r"[a-zA-Z]{1,8}(-[a-zA-Z0-9]{1,8})*"),
    "date": re.compile(r"\d{4}-(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])"),
}


_TYPES_OF_GROUPS = {"measure": "in measure"}


class Kind(Struct, frozen=True):
    """What one element may hold.

    `attributes` maps names to value types, `text` is the value type of its text (None: no
    text), `content` matches its children's names, each followed by a blank, and `order` gives
    each child's place.
    """

    attributes: dict[str, str] = field(default_factory=dict)
    required: tuple[str, ...] = ()
    text: str | None = None
    content: str | None = None
    order: dict[str, int] = field(default_factory=dict)


def _table() -> dict[str, dict[str, Any]]:
    return table(__file__, "grammar.json")


@cache
def _type_names() -> dict[str, str]:
    """Element name to type name."""
    types = _table()["types"].values()
    return {tag: name for t in types for tag, name in t.get("children", {}).items()}


@cache
def kind(tag: str) -> Kind | None:
    """What an element may hold; None for names the schema does not know."""
    name = _type_names().get(tag)
    return None if name is None else kind_of_type(name)


@cache
def kind_of_type(name: str) -> Kind:
    """What elements of a named type may hold."""
    raw = _table()["types"][name]
    content = raw.get("content")
    names = re.findall(r"[A-Za-z0-9-]+(?= )", content or "")
    order: dict[str, int] = {}
    for place, child in enumerate(names):
        order.setdefault(child, place)
    return Kind(
        raw.get("attributes", {}), tuple(raw.get("required", ())), raw.get("text"), content, order
    )


@cache
def allows(group: str, tag: str) -> bool:
    """True where a `group` element may hold a `tag`."""
    return tag in kind_of_type(_TYPES_OF_GROUPS.get(group, group)).order


@cache
def content_pattern(content: str) -> re.Pattern[str]:
    """A content model, ready to match."""
    return re.compile(content)


@cache
def listed(value_type: str) -> frozenset[str]:
    """The words an enumerated value type allows; empty where it has no list."""
    return frozenset(_table()["values"][value_type].get("enum", ()))


@cache
def fitting(value_type: str, text: str) -> str | None:
    """The text as the value type has it (blanks trimmed where they mean nothing), else None."""
    rule = _table()["values"][value_type]
    return _fit(rule, text)


def _fit(rule: dict[str, Any], text: str) -> str | None:
    if "ref" in rule:
        return fitting(rule["ref"], text)
    if "any" in rule:
        found = (_fit(member, text) for member in rule["any"])
        return next((f for f in found if f is not None), None)
    based = fitting(rule["base"], text) if "base" in rule else _fit_plain(rule, text)
    if based is None or not _meets(rule, based):
        return None
    return based


def _fit_plain(rule: dict[str, Any], text: str) -> str | None:
    what = rule.get("kind", "token")
    if what == "string":
        return text
    trimmed = " ".join(text.split())
    if what == "decimal":
        return trimmed if _NUMBER.fullmatch(trimmed) else None
    if what == "integer":
        return trimmed if _WHOLE.fullmatch(trimmed) else None
    pattern = _PLAIN.get(what)
    return trimmed if pattern is None or pattern.fullmatch(trimmed) else None


def _meets(rule: dict[str, Any], text: str) -> bool:
    if "enum" in rule and text not in rule["enum"]:
        return False
    if "pattern" in rule and not re.fullmatch(rule["pattern"], text):
        return False
    if len(text) < rule.get("shortest", 0):
        return False
    if rule.keys() & {"min", "max", "above"}:
        return _within(rule, text)
    return True


def _within(rule: dict[str, Any], text: str) -> bool:
    try:
        number = Decimal(text)
    except InvalidOperation:
        return True
    return Decimal(rule.get("min", number)) <= number <= Decimal(rule.get("max", number)) and (
        "above" not in rule or number > Decimal(rule["above"])
    )
