"""How long things last in seconds, from metronome marks, sounds and tempo words."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterator
from fractions import Fraction

from msgspec import Struct

from expander.checks.figures import figures, folded
from expander.model.metre import QUARTERS
from expander.model.score import Direction, Document, Mark
from expander.model.words import is_system_mark

_UNIT = r"<beat-unit>\s*([\w-]+)\s*</beat-unit>((?:\s*<beat-unit-dot\s*/>)*)"
_MINUTE = r"<per-minute[^>]*>[^<\d]*(\d+(?:\.\d+)?)"


class Clock(Struct, frozen=True):
    """Seconds of every tick. `ticks` where the tempo changes, `times` there, seconds a tick after.

    `given` is False where no tempo is said anywhere and an ordinary one was taken.
    """

    ticks: tuple[int, ...]
    times: tuple[float, ...]
    each: tuple[float, ...]
    given: bool

    def at(self, tick: int) -> float:
        """Seconds from the start of the piece to an absolute tick."""
        place = max(0, bisect_right(self.ticks, tick) - 1)
        return self.times[place] + (tick - self.ticks[place]) * self.each[place]

    def pace(self, tick: int) -> float:
        """Seconds per tick at a tick."""
        return self.each[max(0, bisect_right(self.ticks, tick) - 1)]


class Moments(dict[int, float]):
    """Seconds of the ticks that are asked for, each worked out once."""

    def __init__(self, clock: Clock) -> None:
        super().__init__()
        self.clock = clock

    def __missing__(self, tick: int) -> float:
        """The seconds from the start of the piece to an absolute tick."""
        found = self[tick] = self.clock.at(tick)
        return found


def clock_of(score: Document) -> Clock:
    """The clock of a score, played through once without repeats."""
    found = dict(sorted(_tempos(score)))
    usual = float(figures()["tempo"]["usual"])
    ticks, each = [0], [60 / (found.pop(0, usual) * score.grid)]
    times = [0.0]
    given = bool(found) or each[0] != 60 / (usual * score.grid)
    for tick, quarters in found.items():
        times.append(times[-1] + (tick - ticks[-1]) * each[-1])
        ticks.append(tick)
        each.append(60 / (quarters * score.grid))
    return Clock(tuple(ticks), tuple(times), tuple(each), given)


def _tempos(score: Document) -> Iterator[tuple[int, float]]:
    """Ticks with quarters a minute; of several at one place a number wins over words."""
    marks = [
        (bar.start + one.at, one)
        for part in score.parts
        for bar, mine in zip(score.bars, part.bars, strict=True)
        if mine.directions
        for one in mine.directions
    ]
    for read in (_worded, _numbered):
        told = ((tick, read(one)) for tick, one in marks)
        yield from ((tick, quarters) for tick, quarters in told if quarters)


def _numbered(one: Direction) -> float:
    """Quarters a minute that a direction states, 0 for none."""
    for mark in one.marks:
        if mark.name == "metronome":
            return metronome(mark)
    text = one.sound.get("tempo") if one.sound else ""
    try:
        return max(0.0, float(text)) if text else 0.0
    except ValueError:
        return 0.0


def metronome(mark: Mark) -> float:
    """Quarters a minute of a metronome mark; 0 where it states none, as in "quarter = eighth"."""
    unit, minute = re.search(_UNIT, mark.inner), re.search(_MINUTE, mark.inner)
    if not unit or not minute:
        return 0.0
    dots = unit[2].count("<")
    quarters = QUARTERS.get(unit[1], Fraction(1)) * (2 - Fraction(1, 2**dots))
    return float(quarters) * float(minute[1])


def _worded(one: Direction) -> float:
    words = one.first("words")
    if words is None or not is_system_mark(one):
        return 0.0
    plain = folded(words.text)
    for name, quarters in figures()["tempo"]["words"].items():
        if plain.startswith(name):
            return float(quarters)
    return 0.0
