"""Clefs by register and habit: for whole phrases, not for single notes.

Costs are common practice, no source: a clef is changed where that saves more ledger lines than
a change of clef costs a reader.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise

from expander.model.instrument import ClefHabit
from expander.model.pitch import Drum, Written
from expander.model.score import Clef, Event
from expander.notate.spelling import WrittenEvents

CHANGE = 9.0
FREE_LEDGER_LINES = 2
OUTSIDE_HABIT = 12.0
RANK = 0.5
"""What a bar costs in an instrument's second clef, and again in its third."""

_SIGN_DIATONIC = {"G": 32, "F": 24, "C": 28}  # the letter step on the clef's own line
_UNPITCHED = ("percussion", "none", "TAB", "jianpu")


def chosen(rows: Sequence[Sequence[WrittenEvents]], habits: tuple[ClefHabit, ...]) -> list[Clef]:
    """`choose` for the layers of each bar."""
    if len(habits) == 1:
        return [habits[0].clef] * len(rows)
    return choose([heights([e for layer in row for e in layer]) for row in rows], habits)


def choose(bars: Sequence[Sequence[int]], habits: tuple[ClefHabit, ...]) -> list[Clef]:
    """A clef for each bar, given the written notes in it as letter steps (see `heights`).

    The first habit is the instrument's default and is where it begins and rests.
    """
    if len(habits) == 1:
        return [habits[0].clef] * len(bars)
    return _from_the_default(_cheapest(bars, habits), bars, habits[0])


def _from_the_default(
    chosen: list[Clef], bars: Sequence[Sequence[int]], first: ClefHabit
) -> list[Clef]:
    """A part begins in its usual clef and leaves it only where that clef gets in the way."""
    for index, notes in enumerate(bars):
        if chosen[index] == first.clef or _cost(tuple(notes), first) >= 1.0:
            break
        chosen[index] = first.clef
    return chosen


def _cheapest(bars: Sequence[Sequence[int]], habits: tuple[ClefHabit, ...]) -> list[Clef]:
    """The clefs with the least ledger lines and changes together."""
    table: list[list[float]] = []
    came: list[list[int]] = []
    for notes in bars:
        rank = RANK if notes else 0.0
        costs = [_cost(tuple(notes), h) + rank * place for place, h in enumerate(habits)]
        if not table:
            table.append([c + (CHANGE / 2 if i else 0.0) for i, c in enumerate(costs)])
            continue
        known = table[-1]
        origin = [_best(known, i) for i in range(len(habits))]
        table.append([known[o] + _move(o, i) + costs[i] for i, o in enumerate(origin)])
        came.append(origin)
    return _path(table, came, habits)


def _path(
    table: list[list[float]], came: list[list[int]], habits: tuple[ClefHabit, ...]
) -> list[Clef]:
    if not table:
        return []
    chosen = [min(range(len(habits)), key=lambda i: table[-1][i])]
    for origin in reversed(came):
        chosen.append(origin[chosen[-1]])
    return [habits[i].clef for i in reversed(chosen)]


def _best(known: Sequence[float], target: int) -> int:
    return min(range(len(known)), key=lambda i: (known[i] + _move(i, target), i == target))


def _move(before: int, after: int) -> float:
    return CHANGE if before != after else 0.0


def heights(events: Sequence[Event[Written]]) -> tuple[int, ...]:
    """The written notes of a bar as letter steps above C0."""
    return tuple(
        [
            note.pitch.diatonic
            for event in events
            for note in event.notes
            if not isinstance(note.pitch, Drum)
        ]
    )


@lru_cache(maxsize=65536)
def _cost(notes: tuple[int, ...], habit: ClefHabit) -> float:
    """Ledger lines beyond the first two, and notes outside the clef's habitual range."""
    clef = habit.clef
    if clef.sign in _UNPITCHED:
        return 0.0
    middle = middle_line(clef)
    low = habit.low.diatonic if habit.low else None
    high = habit.high.diatonic if habit.high else None
    total = 0.0
    for note in notes:
        ledgers = max(0, (abs(note - middle) - 4) // 2)
        total += max(0, ledgers - FREE_LEDGER_LINES) ** 2 + 0.1 * ledgers
        total += OUTSIDE_HABIT * (
            (low is not None and note < low) or (high is not None and note > high)
        )
    return total


def middle_line(clef: Clef) -> int:
    """The letter step on the middle line of the staff."""
    line = clef.line or {"G": 2, "F": 4, "C": 3}.get(clef.sign, 3)
    return _SIGN_DIATONIC.get(clef.sign, 34) + 2 * (3 - line) + 7 * clef.octave


def changes(clefs: Sequence[Clef]) -> list[int]:
    """The bars at which the clef is another than in the bar before."""
    return [i + 1 for i, (before, after) in enumerate(pairwise(clefs)) if before != after]
