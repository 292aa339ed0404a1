"""Those who double come in where the music gets loud enough for them, not where its bar begins."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec.structs import replace

from expander.model.dynamics import LEVELS, level_after
from expander.model.plan import Events
from expander.revoice.chairs import joins_at
from expander.revoice.lines import FullScore, Line
from expander.revoice.seats import Seated


def come_in(
    score: FullScore, lines: Sequence[Line], seats: Sequence[Seated], homes: Mapping[int, int]
) -> None:
    """Silence what comes before the louder level in the bar in which a player joins others.

    `homes` are the parts that chairs have had themselves; these play what they had.
    """
    for seat in seats:
        for bar in sorted(seat.cells):
            given = seat.given[bar]
            line = lines[given.line]
            own = homes.get(seat.chair.number) == line.owner.part
            if own or not given.doubling or bar - 1 in seat.cells:
                continue
            tick = _louder(score, line, bar, joins_at(seat.chair.instrument))
            if tick:
                seat.cells[bar] = _from(seat.cells[bar], tick)
        for bar in [b for b, cell in seat.cells.items() if not any(e.notes for e in cell)]:
            del seat.cells[bar]


def _louder(score: FullScore, line: Line, bar: int, least: int) -> int:
    """The tick of a bar at which a line becomes that loud; 0 where it is from the start."""
    level, tick = score.said[line.owner.part][bar], 0
    directions = score.sketch.parts[line.owner.part].bars[bar].directions
    for direction in sorted(directions, key=lambda d: d.at):
        if not level or LEVELS.index(level) >= least:
            break
        level = _lasting(level_after(direction)) or level
        tick = direction.at
    return tick if level and LEVELS.index(level) >= least else 0


def _lasting(level: str) -> str:
    return level if level in LEVELS else ""


def _from(cell: Events, tick: int) -> Events:
    return tuple(
        replace(e, notes=(), lyrics=(), marks=(), beams=())
        if e.notes and e.at < tick
        else replace(e, beams=())
        for e in cell
    )
