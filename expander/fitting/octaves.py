"""The octave for each unit of a line: the cheapest row of octaves, counting changes on the way.

What is out of reach goes into the nearest octave in which it can be played with ease: the whole
phrase where it moves by step, a note or two by themselves where they are reached by leap. Such a
leap turns over (a fifth down becomes a fourth up), which a line stands better than a step that
becomes a seventh; a slur is to stay whole, and so is a tune rather than what goes with it.

Costs are common practice, no source: they order the possibilities and mean nothing else.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from itertools import pairwise

from expander.fitting.compass import Compass
from expander.fitting.phrases import Phrase

SHIFTS = (0, -1, 1, -2, 2, -3, 3, -4, 4)
"""Octaves tried, the likelier first."""

OCTAVE = 12.0
MOVED = 4.0  # per phrase that is not where the sketch has it
MOVED_FOR_LONG = 1.0  # per quarter note of it, where that is more
FURTHER = 0.25  # per quarter note and octave more, where that is more

CHANGED = 3.0  # per octave between neighbours
WIDENED = 1.5  # per semitone by which their interval gets wider
LEAP = 12.0  # where that makes it wider than an octave
IN_SLUR = 30.0  # times as much within a slur
IN_TUNE = 1.5
AT_BAR = 0.75
FAR_APART = 4  # quarter notes of rest after which a change of octave is not heard as one

_MOST = SHIFTS[-1] - SHIFTS[-2]
_DISTANCES = [[_MOST + to - origin for origin in SHIFTS] for to in SHIFTS]
"""From one place in `SHIFTS` to another: where `Prices` has the octaves between them."""

Costs = tuple[tuple[int, float], ...]
"""Places in `SHIFTS`, in order, and what each costs."""

Prices = tuple[float, ...]
"""What going so many octaves up costs, from `-_MOST` on."""


class Octaves:
    """What units of a line cost in one compass, by octave; like units are counted once."""

    def __init__(self, reach: Compass, grid: int) -> None:
        self._reach = reach
        self._grid = grid
        self._known: dict[tuple[tuple[float, ...], tuple[int, ...], int, int], Costs] = {}

    def costs(self, unit: Phrase) -> Costs:
        """The octaves worth trying for a unit: those in range, else all."""
        key = (unit.heights, unit.weights, unit.end - unit.start, unit.whole)
        found = self._known.get(key)
        if found is None:
            found = self._known[key] = self._counted(unit)
        return found

    def _counted(self, unit: Phrase) -> Costs:
        reach, grid = self._reach, self._grid
        inside = [place for place, shift in enumerate(SHIFTS) if reach.holds(unit, shift)]
        return tuple(
            [
                (place, reach.cost(unit, SHIFTS[place], grid) + self._away(unit, SHIFTS[place]))
                for place in inside or range(len(SHIFTS))
            ]
        )

    def _away(self, unit: Phrase, shift: int) -> float:
        """What not being at the sketch's own height costs: its share of the phrase's."""
        if not shift:
            return 0.0
        quarters = unit.whole / self._grid
        share = (unit.end - unit.start) / unit.whole if unit.whole else 1.0
        further = max(MOVED, FURTHER * quarters) * (abs(shift) - 1)
        return share * (max(MOVED, MOVED_FOR_LONG * quarters) + further)


def best_shifts(units: Sequence[Phrase], octaves: Octaves, grid: int, tune: bool) -> list[int]:
    """The cheapest octave for each unit, counting changes between neighbours."""
    rows = _between_the_best([octaves.costs(unit) for unit in units])
    live = rows[0]
    came: list[dict[int, int]] = []
    for (before, unit), row in zip(pairwise(units), rows[1:], strict=True):
        prices = change(before, unit, grid, tune)
        grown: list[tuple[int, float]] = []
        origins: dict[int, int] = {}
        for place, own in row:
            far = _DISTANCES[place]
            least, origin = live[0][1] + prices[far[live[0][0]]], live[0][0]
            for other, cost in live[1:]:
                total = cost + prices[far[other]]
                if total < least:
                    least, origin = total, other
            origins[place] = origin
            grown.append((place, least + own))
        came.append(origins)
        live = tuple(grown)
    chosen = [min(live, key=lambda step: step[1])[0]]
    for step in reversed(came):
        chosen.append(step[chosen[-1]])
    return [SHIFTS[place] for place in reversed(chosen)]


def _between_the_best(rows: Sequence[Costs]) -> list[Costs]:
    """The octaves that lie between those that are best for some unit.

    No row of octaves gets cheaper by going beyond: a unit costs more the further it is from its
    best octave, a change the more octaves it spans.
    """
    known = {id(row): row for row in rows}
    best = [SHIFTS[min(row, key=lambda step: step[1])[0]] for row in known.values()]
    low, high = min(best), max(best)
    near = {
        key: tuple([step for step in row if low <= SHIFTS[step[0]] <= high])
        for key, row in known.items()
    }
    return [near[id(row)] for row in rows]


def change(before: Phrase, unit: Phrase, grid: int, tune: bool) -> Prices:
    """What going from one octave to another between two units costs."""
    factor = IN_SLUR if before.slurred else 1.0
    if unit.start > before.end:
        factor *= max(0.0, 1 - (unit.start - before.end) / grid / FAR_APART)
    if unit.at_bar:
        factor *= AT_BAR
    return _prices(unit.first - before.last, factor * IN_TUNE if tune else factor)


@cache
def _prices(interval: float, factor: float) -> Prices:
    return tuple(factor * _price(interval, octaves) for octaves in range(-_MOST, _MOST + 1))


def _price(interval: float, octaves: int) -> float:
    if not octaves:
        return 0.0
    wide, wider = abs(interval), abs(interval + OCTAVE * octaves)
    leap = LEAP if wider > max(OCTAVE, wide) else 0.0
    return CHANGED * abs(octaves) + WIDENED * max(0.0, wider - wide) + leap
