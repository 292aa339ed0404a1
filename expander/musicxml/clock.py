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
from expander.musicxml.tree import Element

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


def grid_of(parts: Iterable[Iterable[Element]]) -> int:
    """The grid that the durations, offsets, metres and note types of all parts ask for.

    Each part is its bars' elements in order. Tuplets are not looked at: where their notated
    values need a finer grid, `finer` tells after reading.
    """
    needed = {1}
    for part in parts:
        needed |= _denominators(part)
    return lcm(*needed)


def _denominators(bars: Iterable[Element]) -> set[int]:
    timed: set[tuple[str | None, str | None]] = set()
    types: set[str | None] = set()
    beats: set[str | None] = set()
    divisions: str | None = "1"
    for bar in bars:
        for el in bar.iter("divisions", "duration", "offset", "type", "beat-type"):
            tag = el.tag
            if tag in ("duration", "offset"):
                timed.add((el.text, divisions))
            elif tag == "type":
                types.add(el.text)
            elif tag == "divisions":
                divisions = el.text if usable_divisions(el.text) else divisions
            else:
                beats.add(el.text)
    return _of_times(timed) | _of_types(types) | _of_beats(beats)


def usable_divisions(text: str | None) -> Fraction | None:
    """A number of divisions to the quarter, if it is one."""
    found = exact(text)
    return found if found and found > 0 else None


def _of_times(timed: set[tuple[str | None, str | None]]) -> set[int]:
    found = set()
    for text, divisions in timed:
        length, unit = exact(text), usable_divisions(divisions)
        if length is not None and unit is not None:
            found.add((length / unit).denominator)
    return found


def _of_types(types: set[str | None]) -> set[int]:
    return {QUARTERS[t.strip()].denominator for t in types if t and t.strip() in QUARTERS}


def _of_beats(beats: set[str | None]) -> set[int]:
    sizes = [exact(b) for b in beats]
    return {Fraction(4 / size).denominator for size in sizes if size and size > 0}


def finer(grid: int, values: Iterable[Value]) -> int:
    """The grid in which the notated values are exact too."""
    lengths = [quarters(v) for v in values]
    return lcm(grid, *(length.denominator for length in lengths if length is not None))


class Clock:
    """Turns durations of one part into ticks. `rounded` counts those that were not exact."""

    def __init__(self, grid: int) -> None:
        self.grid = grid
        self.divisions = Fraction(1)
        self.rounded = 0
        self._ticks: dict[str | None, int | None] = {}

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
        ticks = length * self.grid / self.divisions
        if ticks.denominator != 1:
            self.rounded += 1
            return round(ticks)
        self._ticks[text] = int(ticks)
        return int(ticks)
