"""Silence and cut notes as notated values: shapes that show the beat.

Conventions
    Durations are ticks, `grid` ticks to a quarter note. Pieces are split where a reader of the
    metre expects it: rests show the beat (common practice; E. Gould, *Behind Bars*, 2011, from
    memory). Every result adds up to the duration asked for, on any grid.
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache

from expander.model.score import Time, Value

TYPES: tuple[tuple[str, Fraction], ...] = (
    ("maxima", Fraction(32)),
    ("long", Fraction(16)),
    ("breve", Fraction(8)),
    ("whole", Fraction(4)),
    ("half", Fraction(2)),
    ("quarter", Fraction(1)),
    ("eighth", Fraction(1, 2)),
    ("16th", Fraction(1, 4)),
    ("32nd", Fraction(1, 8)),
    ("64th", Fraction(1, 16)),
    ("128th", Fraction(1, 32)),
    ("256th", Fraction(1, 64)),
    ("512th", Fraction(1, 128)),
    ("1024th", Fraction(1, 256)),
)
"""MusicXML's note types with their length in quarter notes."""

QUARTERS = dict(TYPES)

TUPLETS = ((3, 2), (5, 4), (7, 4), (6, 4), (9, 8), (2, 3), (4, 3), (7, 8), (11, 8), (13, 8))
"""Ratios tried for a length that no plain value has, the commoner first."""


@lru_cache(maxsize=65536)
def plain_value(ticks: int, grid: int, dots: int = 2) -> Value | None:
    """The one plain value of that length, with up to `dots` dots, or None."""
    wanted = Fraction(ticks, grid)
    for name, quarters in TYPES:
        for count in range(dots + 1):
            if quarters * (2 - Fraction(1, 2**count)) == wanted:
                return Value(name, count)
    return None


@lru_cache(maxsize=65536)
def tuplet_value(ticks: int, grid: int) -> Value | None:
    """The one tuplet value of that length, or None."""
    for actual, normal in TUPLETS:
        scaled = Fraction(ticks * actual, normal)
        if scaled.denominator == 1:
            plain = plain_value(scaled.numerator, grid, 1)
            if plain:
                return Value(plain.type, plain.dots, actual, normal)
    return None


def length(value: Value, grid: int) -> Fraction:
    """Ticks of a notated value; whole for values that lie on the grid."""
    quarters = QUARTERS[value.type] * (2 - Fraction(1, 2**value.dots))
    return quarters * grid * Fraction(value.normal, value.actual)


@lru_cache(maxsize=4096)
def beat_ticks(time: Time, grid: int) -> int:
    """Ticks of the beat that a reader counts: the dotted value in compound metres."""
    if not time.beats:
        return grid
    beats, unit = time.beats[0]
    ticks = max(1, 4 * grid // _number(unit))
    if _number(unit) >= 8 and _number(beats) % 3 == 0 and _number(beats) > 3:
        return 3 * ticks
    return ticks


def _number(text: str) -> int:
    text = text.strip()
    return int(text) if text.isdigit() and int(text) else 4


@lru_cache(maxsize=65536)
def shapes(
    start: int, ticks: int, time: Time, bar: int, grid: int
) -> tuple[tuple[int, Value | None], ...]:
    """Pieces that fill `ticks` from tick `start` of a bar `bar` ticks long, the metre showing.

    Each piece is its ticks and value. A length off every grid of notes comes out as one piece
    without a value, which has a duration but no shape.
    """
    pieces: list[tuple[int, Value | None]] = []
    beat = beat_ticks(time, grid)
    end = start + ticks
    while start < end:
        size, value = _next_piece(start, end, beat, bar, grid)
        pieces.append((size, value))
        start += size
    return tuple(pieces)


def _next_piece(start: int, end: int, beat: int, bar: int, grid: int) -> tuple[int, Value | None]:
    """The longest readable piece from `start`."""
    offset = start % beat
    if offset:
        return _inside_beat(start, min(end, start - offset + beat), grid)
    whole_beats = (end - start) // beat
    if not whole_beats:
        return _inside_beat(start, end, grid)
    longest = int(1.5 * TYPES[0][1] * grid) // beat
    for count in range(min(whole_beats, longest), 0, -1):
        value = plain_value(count * beat, grid, 1)
        if value and _readable(start // beat, count, bar // beat):
            return count * beat, value
    return _inside_beat(start, start + beat, grid)


def _readable(first: int, count: int, beats: int) -> bool:
    """Whether a rest over whole beats may start on that beat.

    In four beats nothing longer than a beat hides the third, unless it starts on the first; in
    three only the whole bar is one rest.
    """
    if count == 1 or (first == 0 and count == beats):
        return True
    if beats == 4:
        return first % 2 == 0 and (count == 2 or first == 0)
    if beats % 3 == 0:
        return count % 3 == 0 and first % 3 == 0
    return first % 2 == 0 and count == 2


def _inside_beat(start: int, end: int, grid: int) -> tuple[int, Value | None]:
    """A piece of a beat: the whole of it where one shape has it, else the longest that fits."""
    size = end - start
    whole = plain_value(size, grid, 1) or tuplet_value(size, grid)
    if whole and (whole.dots == 0 or whole.actual == 1):
        return size, whole
    for _, quarters in TYPES:
        ticks = quarters * grid
        if ticks.denominator == 1 and 0 < ticks < size and start % ticks == 0:
            return int(ticks), plain_value(int(ticks), grid)
    for part in range(size, 0, -1):
        value = tuplet_value(part, grid)
        if value and value.dots == 0:
            return part, value
    return size, None
