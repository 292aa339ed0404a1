"""Putting music on another grid."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from fractions import Fraction
from math import gcd

from msgspec.structs import replace

from expander.model.score import Carried
from expander.musicxml.raw import RawMusic

DURATION = re.compile("<duration>([^<]*)</duration>")


def needed_grid(music: Iterable[RawMusic], grid: int) -> int:
    """The coarsest grid in which every time of some bars is whole; `grid` is the one it is in."""
    times: set[int] = set()
    for bar in music:
        times.add(bar.reach)
        for event in bar.events:
            times.add(event.at)
            times.add(event.duration)
        if bar.changes or bar.directions or bar.harmonies or bar.barlines or bar.carried:
            times |= _times_of_marks(bar)
    return grid // gcd(grid, *times)


def _times_of_marks(bar: RawMusic) -> set[int]:
    times = {c.at for c in bar.changes} | {d.at for d in bar.directions}
    times |= {h.at for h in bar.harmonies} | {b.at for b in bar.barlines}
    times |= {c.at for c in bar.carried}
    figures = [c.mark.inner for c in bar.carried if c.mark.name == "figured-bass"]
    return times | {int(t) for text in figures for t in DURATION.findall(text)}


def rescale(music: Iterable[RawMusic], factor: Fraction) -> None:
    """Multiplies every time of some bars, each given once; all of them stay whole numbers."""
    if factor == 1:
        return
    num, den = factor.numerator, factor.denominator

    def scaled(ticks: int) -> int:
        return ticks * num // den

    for bar in music:
        _rescale_bar(bar, scaled)


def _rescale_bar(bar: RawMusic, scaled: Callable[[int], int]) -> None:
    bar.reach = scaled(bar.reach)
    for event in bar.events:
        event.at = scaled(event.at)
        event.duration = scaled(event.duration)
    bar.changes = [replace(c, at=scaled(c.at)) if c.at else c for c in bar.changes]
    bar.directions = [replace(d, at=scaled(d.at)) if d.at else d for d in bar.directions]
    bar.harmonies = [replace(h, at=scaled(h.at)) if h.at else h for h in bar.harmonies]
    bar.barlines = [replace(b, at=scaled(b.at)) if b.at else b for b in bar.barlines]
    bar.carried = [_carried(c, scaled) for c in bar.carried]


def _carried(carried: Carried, scaled: Callable[[int], int]) -> Carried:
    """Figures under the bass last a time of their own."""
    mark = carried.mark

    def in_ticks(found: re.Match[str]) -> str:
        return f"<duration>{scaled(int(found[1]))}</duration>"

    if mark.name == "figured-bass" and "<duration>" in mark.inner:
        mark = replace(mark, inner=DURATION.sub(in_ticks, mark.inner))
    return Carried(scaled(carried.at), mark)
