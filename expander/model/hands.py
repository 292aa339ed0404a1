"""Which marks mean something to whose hands."""

from __future__ import annotations

from functools import cache

from expander.model.tables import table


def suits(mark: str, family: str) -> bool:
    """Whether a mark of MusicXML ("up-bow") means something to a family of instruments."""
    known = _families().get(mark)
    return known is None or family in known


def is_personal(mark: str) -> bool:
    """Whether a mark is for the hand it was written for, and for no other family's."""
    return mark in _personal()


@cache
def _families() -> dict[str, frozenset[str]]:
    return {name: frozenset(row) for name, row in table(__file__, "hands.toml")["families"].items()}


@cache
def _personal() -> frozenset[str]:
    return frozenset(table(__file__, "hands.toml")["personal"]["marks"])
