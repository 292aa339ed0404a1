"""Exact time: from the divisions of a file to ticks of one grid.

The grid is the smallest number of ticks to a quarter in which every duration, offset, notated
value and beat of the file is a whole number; it depends on the music only, not on how finely
the file happened to count.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from fractions import Fraction
from functools import lru_cache
from math import lcm

from expander.model.score import Time, Value

LARGEST_GRID = 10_000_000
COARSE_GRID = 10_080
_DECIMAL = re.compile(r"[+-]?(\d{1,15}(\.\d{0,9})?|\.\d{1,9})")

QUARTERS: dict[str, Fraction] = {
    "maxima": Fraction(32),
    "long": Fraction(16),
    "breve": Fraction(8),
    "whole": Fraction(4),
    "half": Fraction(2),
    "quarter": Fraction(1),
    "eighth": Fraction(1, 2),
    "16th": Fraction(1, 4),
    "32nd": Fraction(1, 8),
    "64th": Fraction(1, 16),
    "128th": Fraction(1, 32),
    "256th": Fraction(1, 64),
    "512th": Fraction(1, 128),
    "1024th": Fraction(1, 256),
}
"""Length of each note type in quarters (MusicXML 4.0, note-type-value)."""


@lru_cache(maxsize=4096)
def exact(text: str | None) -> Fraction | None:
    """A decimal number of the file; None where it is none."""
    trimmed = (text or "").strip()
    return Fraction(trimmed) if _DECIMAL.fullmatch(trimmed) else None


def quarters(value: Value) -> Fraction | None:
    """What a notated value lasts, in quarters; None for no type."""
    plain = QUARTERS.get(value.type)
    if plain is None:
        return None
    dotted = plain * (2 - Fraction(1, 2**value.dots))
    return dotted * value.normal / value.actual


@lru_cache(maxsize=1024)
def nominal_quarters(time: Time) -> Fraction | None:
    """What a bar of this metre lasts, in quarters; None for senza misura or no readable metre."""
    total = Fraction(0)
    for beats, unit in time.beats:
        counted = [exact(b) for b in beats.split("+")]
        size = exact(unit)
        if not size or any(c is None for c in counted):
            return None
        total += sum((c for c in counted if c), Fraction(0)) * 4 / size
    return total if total > 0 else None


def usable_divisions(text: str | None) -> Fraction | None:
    """A number of divisions to the quarter, if it is one."""
    found = exact(text)
    return found if found and found > 0 else None


def guessed_grid(divisions: Iterable[bytes]) -> int:
    """A grid in which whole numbers of all these divisions are exact."""
    found = [usable_divisions(text.decode()) for text in set(divisions)]
    return lcm(1, *(number.numerator for number in found if number is not None))


def notated_grid(values: Iterable[Value], times: Iterable[Time]) -> int:
    """The grid in which notated values and beats are exact."""
    lengths = [quarters(value) for value in values]
    lengths += [_beat(unit) for time in times for _, unit in time.beats]
    return lcm(1, *(length.denominator for length in lengths if length is not None))


def _beat(unit: str) -> Fraction | None:
    size = exact(unit)
    return 4 / size if size and size > 0 else None


class Clock:
    """Turns the durations of a file into ticks of a grid.

    `needed` holds the denominators of all of them in quarters: their least common multiple is
    the grid the file needs. `rounded` counts those that are not whole in the grid in hand.
    """

    def __init__(self, grid: int) -> None:
        self.grid = grid
        self.divisions = Fraction(1)
        self.rounded = 0
        self.needed: set[int] = set()
        self._ticks: dict[str | None, int | None] = {}

    def begin_part(self) -> None:
        """A part counts in quarters until it says otherwise."""
        self.set_divisions(Fraction(1))

    def set_divisions(self, divisions: Fraction) -> None:
        """From here on, durations count in `divisions` to the quarter."""
        if divisions != self.divisions:
            self.divisions = divisions
            self._ticks = {}

    def ticks(self, text: str | None) -> int | None:
        """A duration of the file in ticks; None where it is no number."""
        try:
            return self._ticks[text]
        except KeyError:
            return self._new_ticks(text)

    def _new_ticks(self, text: str | None) -> int | None:
        length = exact(text)
        if length is None:
            return None
        before = self.rounded
        ticks = self.of_quarters(length / self.divisions)
        if self.rounded == before:
            self._ticks[text] = ticks
        return ticks

    def of_quarters(self, length: Fraction) -> int:
        """A length in quarters in ticks, to the nearest."""
        self.needed.add(length.denominator)
        ticks = length * self.grid
        self.rounded += ticks.denominator != 1
        return round(ticks)
