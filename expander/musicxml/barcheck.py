"""The bars of the whole system, and what is odd about them."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from expander.errors import BadMusic, Spot
from expander.model.score import Bar, Time
from expander.musicxml.clock import nominal_quarters
from expander.musicxml.oddities import Oddities
from expander.musicxml.raw import RawBar, RawPart

COMMON = Time()

LONGEST = 4_000
"""Quarters in a bar; a cadenza written as one bar has some tens or hundreds."""


def system_bars(grid: int, parts: Sequence[RawPart]) -> tuple[Bar, ...]:
    """What all parts share in each bar: label, place, length, metre."""
    bars: list[Bar] = []
    start, time = 0, COMMON
    for index in range(max(len(p.bars) for p in parts)):
        raws = [p.bars[index] for p in parts if index < len(p.bars)]
        time = _time_at_start(raws, time)
        first = raws[0]
        nominal = _nominal(grid, time)
        length = max(raw.music.reach for raw in raws) or nominal or 4 * grid
        bars.append(
            Bar(
                first.number,
                start,
                length,
                nominal or length,
                time,
                first.implicit,
                first.attributes,
            )
        )
        start += length
        time = _time_at_end(raws, time)
    return tuple(bars)


def _time_at_start(raws: Sequence[RawBar], current: Time) -> Time:
    found = (
        c.what for r in raws for c in r.music.changes if isinstance(c.what, Time) and c.at == 0
    )
    return next(found, current)


def _time_at_end(raws: Sequence[RawBar], current: Time) -> Time:
    found = [c.what for c in raws[0].music.changes if isinstance(c.what, Time)]
    return found[-1] if found else current


def _nominal(grid: int, time: Time) -> int:
    """Ticks that the metre asks for, 0 where it asks for none."""
    length = nominal_quarters(time)
    return round(length * grid) if length else 0


def refuse_endless(grid: int, bars: Sequence[Bar], parts: Sequence[RawPart], name: str) -> None:
    """Raises BadMusic at a bar that is longer than any music."""
    for index, bar in enumerate(bars):
        if bar.length <= LONGEST * grid:
            continue
        line = next(p.bars[index].line for p in parts if index < len(p.bars))
        raise BadMusic(
            f"bar {bar.number[:40]} lasts {_quarters(bar.length, grid)} quarters, "
            f"expected at most {LONGEST}.",
            at=Spot(name, line),
            hint="Look for a duration, a <forward> or a time signature that is far too large.",
        )


def check_bars(
    grid: int,
    bars: Sequence[Bar],
    parts: Sequence[RawPart],
    names: Sequence[str],
    oddities: Oddities,
) -> None:
    """Reports bars that do not fit their metre or their number."""
    reference = max(parts, key=lambda p: len(p.bars))
    lines = [raw.line for raw in reference.bars]
    for index, bar in enumerate(bars):
        oddities.bar = bar.number
        for fault in (_length_fault(grid, bars, index), _number_fault(bars, index)):
            if fault:
                oddities.add(fault, lines[index])
        _check_parts(grid, bar, index, parts, names, oddities)
    oddities.bar = ""


def _length_fault(grid: int, bars: Sequence[Bar], index: int) -> str:
    bar = bars[index]
    if bar.length == bar.nominal:
        return ""
    if bar.length < bar.nominal and _is_part_of_a_bar(bars, index):
        return ""
    which = "longer" if bar.length > bar.nominal else "shorter"
    found, asked = _quarters(bar.length, grid), _quarters(bar.nominal, grid)
    return f"bar {bar.number} is {which} than its metre: {found} quarters instead of {asked}"


def _is_part_of_a_bar(bars: Sequence[Bar], index: int) -> bool:
    """True for pickups and for what a pickup or a repeat leaves of a bar."""
    bar = bars[index]
    if index == 0 or bar.implicit:
        return True
    missing = bar.nominal - bar.length
    neighbours = [bars[0], bars[index - 1], *bars[index + 1 : index + 2]]
    return any(other.length == missing for other in neighbours)


def _quarters(ticks: int, grid: int) -> str:
    return str(Fraction(ticks, grid))


def _number_fault(bars: Sequence[Bar], index: int) -> str:
    if index == 0 or bars[index].implicit:
        return ""
    number = bars[index].number
    before = [b.number for b in bars[:index][-1:]]
    if number in before:
        return f"bar number {number} comes twice"
    if not (number.isdigit() and before[0].isdigit()) or int(number) == int(before[0]) + 1:
        return ""
    return f"bar number {number} follows {before[0]}"


def _check_parts(
    grid: int,
    bar: Bar,
    index: int,
    parts: Sequence[RawPart],
    names: Sequence[str],
    oddities: Oddities,
) -> None:
    for part, name in zip(parts, names, strict=True):
        raw = part.bars[index] if index < len(part.bars) else None
        if raw is None:
            continue
        oddities.part = name
        reach = raw.music.reach
        if 0 < reach < bar.length:
            held = f"{_quarters(reach, grid)} of {_quarters(bar.length, grid)} quarters"
            oddities.add(f"the part fills only {held} of bar {bar.number}", raw.line)
        if raw.number != bar.number:
            oddities.add(f"bar {bar.number} is numbered {raw.number} in this part", raw.line)
    oddities.part = ""
