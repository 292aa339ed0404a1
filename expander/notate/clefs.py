"""Clefs by register and habit: for whole phrases, not for single notes.

Costs are common practice, no source: a clef is changed where that saves more ledger lines than
a change of clef costs a reader.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from itertools import pairwise

from expander.model.instrument import ClefHabit
from expander.model.pitch import Drum, Written
from expander.model.score import Clef, Event
from expander.notate.spelling import WrittenEvents

CHANGE = 90
LEDGER_LINE = 1
FREE_LEDGER_LINES = 2
BEYOND = 10
"""What a note costs for the ledger lines beyond the free ones: this, times their square."""

OUTSIDE_HABIT = 120
RANK = 5
"""What a bar costs in an instrument's second clef, and again in its third."""

IN_THE_WAY = 10
"""What a bar costs in the first clef of a part, from which this clef may be left."""

_SIGN_DIATONIC = {"G": 32, "F": 24, "C": 28}  # the letter step on the clef's own line
_UNPITCHED = ("percussion", "none", "TAB", "jianpu")
HIGHEST = 1 << 30


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
        if chosen[index] == first.clef or _cost(notes, _prices(first)) >= IN_THE_WAY:
            break
        chosen[index] = first.clef
    return chosen


def _cheapest(bars: Sequence[Sequence[int]], habits: tuple[ClefHabit, ...]) -> list[Clef]:
    """The clefs with the least ledger lines and changes together."""
    prices = [_prices(habit) for habit in habits]
    known = [CHANGE // 2 if place else 0 for place in range(len(habits))]
    came: list[Sequence[int]] = []
    for notes in bars:
        cheapest = min(known)
        first, limit = known.index(cheapest), cheapest + CHANGE
        came.append([first if cost >= limit else place for place, cost in enumerate(known)])
        known = [min(cost, limit) for cost in known]
        if notes:
            known = [
                cost + RANK * place + _cost(notes, each)
                for place, (cost, each) in enumerate(zip(known, prices, strict=True))
            ]
    return _path(known, came, habits)


def _path(
    known: Sequence[int], came: Sequence[Sequence[int]], habits: tuple[ClefHabit, ...]
) -> list[Clef]:
    """The clef of each bar, from the last bar back; `came` has the clef before each."""
    place = min(range(len(habits)), key=lambda i: known[i])
    chosen: list[Clef] = []
    for origin in reversed(came):
        chosen.append(habits[place].clef)
        place = origin[place]
    return chosen[::-1]


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


class _Prices(dict[int, int]):
    """What each note costs in a clef: ledger lines, and places outside its habitual range."""

    def __init__(self, habit: ClefHabit) -> None:
        self._middle = middle_line(habit.clef)
        self._free = habit.clef.sign in _UNPITCHED
        self._low = habit.low.diatonic if habit.low else -HIGHEST
        self._high = habit.high.diatonic if habit.high else HIGHEST

    def __missing__(self, note: int) -> int:
        ledgers = max(0, (abs(note - self._middle) - 4) // 2)
        price = LEDGER_LINE * ledgers + BEYOND * max(0, ledgers - FREE_LEDGER_LINES) ** 2
        price += 0 if self._low <= note <= self._high else OUTSIDE_HABIT
        self[note] = 0 if self._free else price
        return self[note]


@cache
def _prices(habit: ClefHabit) -> _Prices:
    return _Prices(habit)


def _cost(notes: Sequence[int], prices: _Prices) -> int:
    """What the notes of a bar cost in a clef."""
    return sum([prices[note] for note in notes])


def middle_line(clef: Clef) -> int:
    """The letter step on the middle line of the staff."""
    line = clef.line or {"G": 2, "F": 4, "C": 3}.get(clef.sign, 3)
    return _SIGN_DIATONIC.get(clef.sign, 34) + 2 * (3 - line) + 7 * clef.octave


def changes(clefs: Sequence[Clef]) -> list[int]:
    """The bars at which the clef is another than in the bar before."""
    return [i + 1 for i, (before, after) in enumerate(pairwise(clefs)) if before != after]
