"""Lengths as notated values: which note, with which dots, and where a long one is cut.

Ticks are those of `Score.grid` to a quarter note.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

from expander.model.score import Time, Value

_TYPES = ("breve", "whole", "half", "quarter", "eighth", "16th", "32nd", "64th", "128th", "256th")
_RATIOS = ((1, 1), (3, 2), (5, 4), (7, 4), (9, 8))
_GROUPS_OF_THREE = (6, 9, 12)


def single_value(ticks: int, grid: int, dots: int = 1) -> Value | None:
    """The one value of that length with at most so many dots, a tuplet's only if need be."""
    for actual, normal in _RATIOS:
        plain = Fraction(ticks * actual, grid * normal)
        for power, name in enumerate(_TYPES):
            base = Fraction(8, 2**power)
            for count in range(dots + 1):
                if plain == base * (2 - Fraction(1, 2**count)):
                    return Value(name, count, actual, normal)
    return None


def without_tremolo(value: Value) -> Value:
    """The value of one of two notes that alternated, each of which had the value of both.

    A tremolo between two notes is written so, two in the time of one (MusicXML 4.0, tremolo).
    """
    if value.actual % 2 or value.type not in _TYPES[:-1]:
        return value
    half = _TYPES[_TYPES.index(value.type) + 1]
    return Value(half, value.dots, value.actual // 2, value.normal, value.normal_type)


def spell_duration(ticks: int, grid: int) -> list[tuple[int, Value]]:
    """A length as values to be tied, longest first; each with its ticks.

    At most one dot; tuplet values only for what has no plain one. Raises ValueError where the
    grid's ticks cannot be written as values.
    """
    if ticks <= 0:
        return []
    whole = single_value(ticks, grid)
    if whole:
        return [(ticks, whole)]
    for part in _plain_lengths(grid):
        if part < ticks:
            value = single_value(part, grid)
            rest = spell_duration(ticks - part, grid)
            return [(part, value), *rest] if value else rest
    raise ValueError(f"{ticks} ticks of {grid} to a quarter cannot be written as note values")


def _plain_lengths(grid: int) -> list[int]:
    bases = [Fraction(8 * grid, 2**power) for power in range(len(_TYPES))]
    lengths = [b * f for b in bases for f in (Fraction(3, 2), 1)]
    return [int(x) for x in lengths if x.denominator == 1 and x > 0]


def spell_in_bar(at: int, ticks: int, time: Time, grid: int) -> list[tuple[int, Value]]:
    """A length from a place in a bar as tied values that let the metre be seen.

    A note may cross a stronger place of the bar only where it starts on one at least as strong.
    Without metre (senza misura) as `spell_duration`.
    """
    if ticks <= 0:
        return []
    levels = metre_levels(time, grid)
    cut = _cut(at, ticks, levels)
    if cut is None and not single_value(ticks, grid):
        cut = _longest_first(at, _inside(at, ticks, levels), grid)
    if cut is None:
        return spell_duration(ticks, grid)
    first = spell_in_bar(at, cut - at, time, grid)
    return first + spell_in_bar(cut, at + ticks - cut, time, grid)


def _cut(at: int, ticks: int, levels: Sequence[frozenset[int]]) -> int | None:
    """The strongest place inside the note, if stronger than the place it starts on."""
    for level in levels:
        if at in level:
            return None
        inside = _inside(at, ticks, [level])
        if inside:
            return inside[0]
    return None


def _inside(at: int, ticks: int, levels: Sequence[frozenset[int]]) -> list[int]:
    """Places inside the note of the strongest level that has any, in order."""
    for level in levels:
        found = sorted(p for p in level if at < p < at + ticks)
        if found:
            return found
    return []


def _longest_first(at: int, places: Sequence[int], grid: int) -> int | None:
    """The last place up to which the note is a single value, else the first place."""
    single = [p for p in places if single_value(p - at, grid)]
    return max(single, default=next(iter(places), None))


def metre_levels(time: Time, grid: int) -> tuple[frozenset[int], ...]:
    """Places of a bar from the strongest level down: barlines, groups, beats, half beats.

    Each level holds the ticks of the stronger ones. Additive signatures give their own groups
    (3+2/8), 4 beats two groups, 5 three and two, 6, 9 and 12 shorter than a quarter groups of
    three, which are then the beats. Places that fall between ticks are left out.
    """
    end = Fraction(0)
    groups, beats = {end}, {end}
    for counts, kind in _in_whole_numbers(time):
        unit = Fraction(4 * grid, kind)
        for size in _groups(counts, kind):
            groups.add(end)
            beats |= {end + unit * i for i in range(size)}
            end += unit * size
    bar = {Fraction(0), end}
    halves = {(p + q) / 2 for p, q in pairwise(sorted(beats | bar))}
    levels = (bar, bar | groups, bar | groups | beats, bar | groups | beats | halves)
    return tuple(frozenset(int(p) for p in level if p.denominator == 1) for level in levels)


TOO_LONG = 5
"""Digits of a number in a time signature that is no metre any more."""


def _in_whole_numbers(time: Time) -> list[tuple[list[int], int]]:
    """The counts of a signature, each with its kind; none where other or huge numbers stand."""
    read = [([*map(str.strip, counts.split("+"))], kind.strip()) for counts, kind in time.beats]
    numbers = [n for counts, kind in read for n in (*counts, kind)]
    if not all(n.isdecimal() and len(n) < TOO_LONG and int(n) for n in numbers):
        return []
    return [([*map(int, counts)], int(kind)) for counts, kind in read]


def _groups(sizes: list[int], kind: int) -> list[int]:
    if len(sizes) > 1:
        return sizes
    count = sizes[0]
    if count in _GROUPS_OF_THREE and kind >= 8:
        return [3] * (count // 3)
    table = {4: [2, 2], 5: [3, 2], 7: [2, 2, 3]}
    return table.get(count, [count])


def beat_places(time: Time, grid: int, length: int) -> tuple[tuple[int, int], ...]:
    """The beats of a bar as (tick, ticks): dotted ones in 6/8, 9/8 and 12/8, cut at `length`."""
    levels = metre_levels(time, grid)
    compound = any(
        kind >= 8 and len(counts) == 1 and counts[0] in _GROUPS_OF_THREE
        for counts, kind in _in_whole_numbers(time)
    )
    places = sorted(levels[1] if compound else levels[2])
    starts = [p for p in places if p < length] or [0]
    return tuple((a, b - a) for a, b in pairwise(sorted({*starts, length})))
