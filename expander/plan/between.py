"""Dynamics, hairpins and the like ("cresc.") written between two staves of one instrument.

Where one stave of a keyboard or harp has all of them, they are for all its staves. Where several
have some, one that stands between two staves is for both, but not in a bar in which the other
stave has its own; one above the upper stave or below the lower is for that stave alone. A hairpin
is for the other stave as a whole or not at all. (Common practice, no source.)
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from msgspec import Struct

from expander.model.dynamics import is_loud
from expander.model.pitch import Sounding
from expander.model.score import Direction, PartBar
from expander.model.words import is_system_mark, swells
from expander.plan.meant import BY_LAYER

_GOING_ON = frozenset({"stop", "continue"})


class _Loud(Struct, frozen=True):
    """A mark of loudness with the bars it is about: those of its hairpin, or its own."""

    bar: int
    direction: Direction
    begun: Direction
    bars: range


def lent(bars: Sequence[PartBar[Sounding]], staff: int) -> dict[int, list[Direction]]:
    """The marks of other staves of a part, by bar, that are for this stave (from 1) too."""
    marks = [(index, d) for index, bar in enumerate(bars) for d in bar.directions]
    if any(BY_LAYER in d.marks for _, d in marks):
        return {}
    loud = [(i, d) for i, d in marks if _is_of_loudness(d)]
    one_for_all = len({_staff(d) for _, d in loud}) == 1
    found: dict[int, list[Direction]] = {}
    spoken: set[int] = set()
    others: list[_Loud] = []
    for mark in _spans(loud):
        if _staff(mark.direction) == staff:
            spoken.update(mark.bars)
        else:
            others.append(mark)
    for mark in others:
        if one_for_all or (_faces(mark.begun, staff) and spoken.isdisjoint(mark.bars)):
            found.setdefault(mark.bar, []).append(mark.direction)
    return found


def _spans(loud: Sequence[tuple[int, Direction]]) -> Iterator[_Loud]:
    """Each mark with the bars of the hairpin that begins, goes on or ends with it."""
    last: dict[int, int] = {}
    begun: dict[int, int] = {}
    opened: dict[tuple[int, str], int] = {}
    for place, (bar, direction) in enumerate(loud):
        begun[place], last[place] = place, bar
        for mark in direction.marks:
            key = (_staff(direction), mark.get("number", "1"))
            if mark.name == "wedge" and mark.get("type") in _GOING_ON:
                begun[place] = opened.get(key, place)
                last[begun[place]] = max(last[begun[place]], bar if direction.at else bar - 1)
            elif mark.name == "wedge":
                opened[key] = place
    for place, (bar, direction) in enumerate(loud):
        first = begun[place]
        yield _Loud(bar, direction, loud[first][1], range(loud[first][0], last[first] + 1))


def _faces(direction: Direction, staff: int) -> bool:
    """True where a mark stands on the side of its stave that looks at the other.

    Where the document names no side, a dynamic stands below its stave.
    """
    return staff - _staff(direction) == (-1 if direction.placement == "above" else 1)


def _is_of_loudness(direction: Direction) -> bool:
    return (is_loud(direction) or swells(direction)) and not is_system_mark(direction)


def _staff(direction: Direction) -> int:
    return direction.staff or 1
