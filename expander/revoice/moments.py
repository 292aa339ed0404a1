"""What sounds when, bar by bar: the grid of beginnings on which lines are compared.

Heights are sounding semitones. The *top* and *bottom* of a moment are the pitch classes of the
highest and the lowest note of the whole score there.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec import Struct

from expander.model.pitch import Drum
from expander.model.plan import Events
from expander.revoice.lines import Line

Heights = tuple[int | None, ...]
"""What a cell sounds at each moment of its bar; None in silence."""


class Moments(Struct, frozen=True):
    """A bar's moments: ticks at which any line begins a note, with the outer pitch classes.

    `sounding` has each line's heights by its number.
    """

    ticks: tuple[int, ...]
    tops: tuple[int, ...]
    bottoms: tuple[int, ...]
    sounding: Mapping[int, Heights]


def moments_of(lines: Sequence[Line], bars: int) -> tuple[Moments, ...]:
    """The moments of every bar, from lines of single notes."""
    by_bar: list[list[Line]] = [[] for _ in range(bars)]
    for line in lines:
        for bar in line.cells:
            if not line.unpitched:
                by_bar[bar].append(line)
    return tuple(_moments(bar, playing) for bar, playing in enumerate(by_bar))


def _moments(bar: int, playing: Sequence[Line]) -> Moments:
    begun = {e.at for line in playing for e in line.cells[bar] if e.notes and e.duration}
    ticks = tuple(sorted(begun))
    sounding = {line.number: heights_at(line.cells[bar], ticks) for line in playing}
    columns = [[h[i] for h in sounding.values() if h[i] is not None] for i in range(len(ticks))]
    tops = tuple(max(c, default=0) % 12 for c in columns)  # type: ignore[type-var,operator]
    bottoms = tuple(min(c, default=0) % 12 for c in columns)  # type: ignore[type-var,operator]
    return Moments(ticks, tops, bottoms, sounding)


def heights_at(events: Events, ticks: Sequence[int]) -> Heights:
    """The height of a line of single notes at each tick."""
    spans = [
        (e.at, e.end, int(n.pitch.semitone))
        for e in events
        if e.duration
        for n in e.notes[:1]
        if not isinstance(n.pitch, Drum)
    ]
    return tuple(
        next((h for start, end, h in spans if start <= tick < end), None) for tick in ticks
    )


def outer_shares(moments: Moments, numbers: Sequence[int]) -> tuple[float, float]:
    """At which share of a bar's moments some of these lines has the top, and the bottom."""
    count = max(1, len(moments.ticks))
    rows = [moments.sounding[n] for n in numbers if n in moments.sounding]
    top = bottom = 0
    for index in range(len(moments.ticks)):
        everybody = [h[index] for h in moments.sounding.values() if h[index] is not None]
        mine = [row[index] for row in rows if row[index] is not None]
        if mine and everybody:
            top += max(mine) == max(everybody)  # type: ignore[type-var]
            bottom += min(mine) == min(everybody)  # type: ignore[type-var]
    return top / count, bottom / count
