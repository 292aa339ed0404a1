"""What was moved to be in range, passage by passage, and how it is told."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import islice

from msgspec import Struct

from expander.fitting.compass import Compass
from expander.fitting.phrases import Phrase
from expander.model.finding import Finding, Severity
from expander.model.score import Bar


class Move(Struct, frozen=True):
    """Units of neighbouring phrases that went the same number of octaves up.

    `folded` where other notes of their phrases did not go along.
    """

    units: tuple[Phrase, ...]
    octaves: int
    folded: bool = False


def moves_of(parted: Sequence[Sequence[Phrase]], shifts: Sequence[int]) -> tuple[Move, ...]:
    """The moves of a line from its phrases' units and the octaves of each in turn."""
    found: list[Move] = []
    open_ones: dict[tuple[int, bool], int] = {}
    rest = iter(shifts)
    for units in parted:
        here = _moves_in(units, list(islice(rest, len(units))))
        going_on = {(m.octaves, m.folded): m for m in here}
        places: dict[tuple[int, bool], int] = {}
        for key, move in going_on.items():
            place = places[key] = open_ones.get(key, len(found))
            before = found[place].units if place < len(found) else ()
            found[place : place + 1] = [Move((*before, *move.units), *key)]
        open_ones = places
    return tuple(found)


def _moves_in(units: Sequence[Phrase], shifts: Sequence[int]) -> list[Move]:
    folded = len(set(shifts)) > 1
    return [
        Move(
            tuple([u for u, s in zip(units, shifts, strict=True) if s == octaves]), octaves, folded
        )
        for octaves in dict.fromkeys(shifts)
        if octaves
    ]


def told(move: Move, name: str, reach: Compass, bars: Sequence[Bar]) -> Finding:
    """One finding for a move of the player of that name."""
    first, last = move.units[0].places[0].bar, move.units[-1].places[-1].bar
    bar, end = bars[first].number, bars[last].number
    where = f"bar {bar}" if first == last else f"bars {bar} to {end}"
    what = f"some notes of {where}" if move.folded else where
    way = "up" if move.octaves > 0 else "down"
    count = "an octave" if abs(move.octaves) == 1 else f"{abs(move.octaves)} octaves"
    return Finding(
        check="moved-by-octave",
        severity=Severity.NOTE,
        message=f"{name}: {what} moved {count} {way} ({_reason(move.units, reach)}).",
        part=name,
        bar=bar,
        index=first,
    )


def _reason(units: Sequence[Phrase], reach: Compass) -> str:
    if min(unit.low for unit in units) < reach.low:
        return "too low as it stood"
    if max(unit.high for unit in units) > reach.high:
        return "too high as it stood"
    if any(unit.low < reach.soft_low or unit.high > reach.soft_high for unit in units):
        return "to lie in a comfortable register"
    return "to go on level with its neighbours"
