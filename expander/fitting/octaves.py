"""The octave for each phrase of a line: the cheapest row of octaves, counting jumps on the way.

Costs are common practice, no source: they order the possibilities and mean nothing else.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from expander.fitting.compass import OUT_OF_RANGE, Compass
from expander.fitting.phrases import Phrase

SHIFTS = (0, -1, 1, -2, 2, -3, 3, -4, 4)
"""Octaves tried, the likelier first."""

JUMP = 12.0  # change of octave from one phrase to the next
FAR_APART = 4  # quarter notes of rest after which a change of octave is not heard as a jump

_DISTANCES = [[abs(one - other) for one in SHIFTS] for other in SHIFTS]

_ROUNDING = 1.0
"""Far more than adding costs can be wrong by."""

Costs = tuple[tuple[int, float], ...]
"""Places in `SHIFTS`, in order, and what each costs."""


class Octaves:
    """What phrases cost in one compass, by octave; like phrases are counted once."""

    def __init__(self, reach: Compass, grid: int) -> None:
        self._reach = reach
        self._grid = grid
        self._known: dict[tuple[tuple[float, ...], tuple[int, ...]], Costs] = {}

    def costs(self, phrase: Phrase) -> Costs:
        """The octaves worth trying for a phrase."""
        key = (phrase.heights, phrase.weights)
        found = self._known.get(key)
        if found is None:
            found = self._known[key] = self._counted(phrase)
        return found

    def _counted(self, phrase: Phrase) -> Costs:
        """Where some octave is in range, none that is not can be on the cheapest way."""
        reach = self._reach
        inside = [place for place, shift in enumerate(SHIFTS) if reach.holds(phrase, shift)]
        found = self._hopeful(phrase, inside)
        if found and found[0][1] < OUT_OF_RANGE / 2:
            return found
        return self._hopeful(phrase, range(len(SHIFTS)))

    def _hopeful(self, phrase: Phrase, places: Sequence[int]) -> Costs:
        found = [(p, self._reach.cost(phrase, SHIFTS[p], self._grid)) for p in places]
        return _hopeful(found, 2 * JUMP) if found else ()


def best_shifts(units: Sequence[Phrase], octaves: Octaves, grid: int) -> list[int]:
    """The cheapest octave for each unit, counting jumps between neighbours.

    Only octaves that may still be on the cheapest way are carried from unit to unit.
    """
    live = octaves.costs(units[0])
    came: list[dict[int, int]] = []
    for before, unit in pairwise(units):
        rest = max(0, unit.start - before.end) / grid
        jump = JUMP * max(0.0, 1 - rest / FAR_APART)
        grown: list[tuple[int, float]] = []
        origins: dict[int, int] = {}
        for place, cost in octaves.costs(unit):
            so_far, origins[place] = _cheapest(live, jump, place)
            grown.append((place, so_far + cost))
        came.append(origins)
        live = _hopeful(grown, JUMP)
    chosen = [min(live, key=lambda step: step[1])[0]]
    for step in reversed(came):
        chosen.append(step[chosen[-1]])
    return [SHIFTS[place] for place in reversed(chosen)]


def _cheapest(live: Costs, jump: float, to: int) -> tuple[float, int]:
    """The cheapest way to an octave: its cost, and where it comes from; of equals the first."""
    if len(live) == 1:
        place, cost = live[0]
        return cost + jump * _DISTANCES[to][place], place
    distances = _DISTANCES[to]
    return min([(cost + jump * distances[place], place) for place, cost in live])


def _hopeful(costs: Sequence[tuple[int, float]], jump: float) -> Costs:
    """Those that are not dearer than going by way of the cheapest."""
    if len(costs) == 1:
        return tuple(costs)
    least, best = min([(cost, place) for place, cost in costs])
    far = _DISTANCES[best]
    limit = least + _ROUNDING
    return tuple([(place, cost) for place, cost in costs if cost <= limit + jump * far[place]])
