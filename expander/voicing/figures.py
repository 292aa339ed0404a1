"""The figures of `polyphony.json`: which tables there are, and where each begins in the row of all.

What speaks for a note is named by its place in one long row of figures, so that the sum is quickly
made; `START` tells where the table of a name begins. Two voices have figures of their own.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from itertools import accumulate
from typing import Any

from expander.model.tables import table

SIZES: Mapping[str, int] = {
    "near register": 4 * 19, "wide register": 4 * 19, "own register": 4 * 19, "first entry": 4,
    "leap": 4 * 16, "rest": 10 * 4, "length": 2 * 9, "step and length": 4 * 2 * 4,
    "equal lengths": 6 * 2 * 2, "to and fro": 16, "pace": 2 * 4 * 2, "after a leap": 5 * 3 * 5,
    "after a step": 3 * 3 * 7, "figure": 16, "crossing depth": 2 * 4 * 4 * 2 * 10,
    "crossing": 5 * 4 * 2 * 2, "unison": 2 * 4 * 4 * 5, "distance": 4 * 4 * 2 * 9,
    "in order": 5 * 4 * 2 * 2, "past a resting voice": 4 * 6 * 5, "together": 2, "parallels": 4,
    "same direction": 2, "apart": 4, "silence": 10 * 4 * 5, "not yet heard": 4,
    "move": 4 * 27, "degrees": 4 * 2 * 144, "move on the beat": 2 * 6 * 2, "two moves": 4 * 7 * 13,
    "own register of a kind": 4 * 4 * 19, "height": 4 * 14, "length of a kind": 4 * 8,
    "which is longer": 3 * 3 * 6 * 2, "fifths and octaves": 2 * 2 * 2, "intervals": 144 * 2 * 2,
    "which repeats": 2 * 3 * 6 * 2, "resolution": 12 * 7 * 2 * 2 * 2,
    "who rests": 16 * 2 * 2,
}  # fmt: skip
"""The tables and how many figures each has."""

_BEGINS = list(accumulate(SIZES.values(), initial=0))

START: Mapping[str, int] = dict(zip(SIZES, _BEGINS, strict=False))

TOTAL = _BEGINS[-1]

Tables = Mapping[str, Sequence[int]]
"""Figures by the name of their table; tables left out count nothing."""


def _facts() -> Mapping[str, Any]:
    return table(__file__, "polyphony.json")


def set_for(voices: int) -> str:
    """The name of the set of tables for so many voices."""
    return "two voices" if voices <= 2 else "more voices"


@cache
def shipped(name: str) -> tuple[int, ...]:
    """The shipped figures of a set (`set_for`), in a row."""
    return flat(_facts()[name])


def flat(tables: Tables) -> tuple[int, ...]:
    """Tables as one row."""
    row: list[int] = []
    for name, size in SIZES.items():
        row += tables.get(name, (0,) * size)
    return tuple(row)


def named(row: Sequence[int]) -> dict[str, list[int]]:
    """A row as tables."""
    return {name: list(row[START[name] : START[name] + size]) for name, size in SIZES.items()}


def strains() -> tuple[int, int]:
    """What each semitone out of range, and each out of comfort, speaks against a voice."""
    return _facts()["out of range"], _facts()["out of comfort"]
