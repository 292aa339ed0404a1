"""Positions of the trombone's slide. Heights are sounding semitones."""

from __future__ import annotations

from functools import cache

from expander.catalogue.limits import limits
from expander.model.instrument import Instrument

PEDAL = 34
"""B flat 1, the fundamental in first position."""

PARTIALS = (0, 12, 19, 24, 28, 31, 36, 38, 40, 43, 48)
"""Semitones of the partials in tune, above the fundamental: the harmonic series without the 7th."""

POSITIONS = 7
ATTACHMENT = 5
"""Semitones that the F attachment lowers the instrument by."""


@cache
def positions(height: int) -> tuple[int, ...]:
    """Positions (1-7) in which a note can be played with the slide alone."""
    found = {PEDAL + partial - height + 1 for partial in PARTIALS}
    return tuple(sorted(p for p in found if 1 <= p <= POSITIONS))


@cache
def positions_with_valve(height: int) -> tuple[int, ...]:
    """The same with the F attachment, whose slide has six positions."""
    valve = {PEDAL - ATTACHMENT + partial - height + 1 for partial in PARTIALS}
    return tuple(sorted({*positions(height), *(p for p in valve if 1 <= p < POSITIONS)}))


def shift(one: Instrument, first: int, second: int) -> int:
    """The fewest positions the slide moves between two notes; 0 where a note has no position."""
    where = positions_with_valve if one.id == "bass-trombone" else positions
    ways = [abs(a - b) for a in where(first) for b in where(second)]
    return min(ways, default=0)


@cache
def glissando_spans() -> tuple[tuple[int, int], ...]:
    """Lowest and highest note of each partial's glissando."""
    rows = [row for row in limits("trombone") if row.what.startswith("glissando on partial")]
    spans = [tuple(int(p.semitone) for p in row.sounding()) for row in rows]
    return tuple((span[0], span[1]) for span in spans)


def slides(first: int, second: int) -> bool:
    """True where a glissando between two notes stays on one partial."""
    return any(low <= min(first, second) and max(first, second) <= high
               for low, high in glissando_spans())  # fmt: skip
