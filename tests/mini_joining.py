"""From staves read one by one to a score: bar table, layers, ties, barlines."""

from __future__ import annotations

from fractions import Fraction

from msgspec import Struct, field
from msgspec.structs import replace

from expander.model.pitch import CONCERT, Drum, Pitch, Transposition
from expander.model.score import (
    Bar,
    Barline,
    Change,
    Direction,
    Event,
    Harmony,
    Header,
    LayerId,
    Mark,
    Part,
    PartBar,
    Score,
    Time,
)
from tests import mini_words as mw


class Reading(Struct):
    """What one bar of one stave has yielded so far."""

    layers: list[list[Event]] = field(default_factory=list)
    changes: list[Change] = field(default_factory=list)
    directions: list[Direction] = field(default_factory=list)
    harmonies: list[Harmony] = field(default_factory=list)
    left: str = ""
    right: str = ""
    endings: list[tuple[str, str]] = field(default_factory=list)
    number: str = ""


class Stave(Struct):
    name: str
    transposition: Transposition
    bars: list[Reading]
    staff: int


def assembled(grid: int, staves: list[Stave]) -> Score:
    """The score that staves read one by one make together."""
    bars = _bar_table(grid, staves)
    groups: list[list[Stave]] = []
    for stave in staves:
        if stave.name == "+":
            groups[-1].append(stave)
        else:
            groups.append([stave])
    parts = tuple(_part(number, group, bars) for number, group in enumerate(groups, 1))
    return Score(grid, Header(), bars, parts)


def _bar_table(grid: int, staves: list[Stave]) -> tuple[Bar, ...]:
    time, start, counted = Time(), 0, 0
    table: list[Bar] = []
    for index in range(len(staves[0].bars)):
        readings = [s.bars[index] for s in staves]
        time = next((c.what for c in readings[0].changes if isinstance(c.what, Time)), time)
        nominal = int(_bar_quarters(time) * grid)
        length = max((e.end for r in readings for la in r.layers for e in la), default=0) or nominal
        pickup = index == 0 and length < nominal
        counted += not pickup
        number = readings[0].number
        if number.isdigit():
            counted = int(number)
        label = number.rstrip("!") or str(counted)
        implicit = pickup or number.endswith("!")
        table.append(Bar(label, start, length, nominal, time, implicit))
        start += length
    return tuple(table)


def _bar_quarters(time: Time) -> Fraction:
    return sum(
        (sum(Fraction(b) for b in beats.split("+")) * Fraction(4, int(unit)))
        for beats, unit in time.beats
    )


def _part(number: int, group: list[Stave], bars: tuple[Bar, ...]) -> Part:
    counts = [max((len(b.layers) for b in stave.bars), default=1) or 1 for stave in group]
    layers = tuple(
        LayerId(staff, str(4 * (staff - 1) + layer))
        for staff, count in enumerate(counts, 1)
        for layer in range(1, count + 1)
    )
    played = [_layers_of(stave, count, bars) for stave, count in zip(group, counts, strict=True)]
    part_bars = []
    for index in range(len(bars)):
        events = tuple(tuple(la[index]) for stave in played for la in stave)
        part_bars.append(_part_bar(group, index, events, alone=len(group) == 1))
    name = group[0].name
    return Part(f"P{number}", name, name, len(group), layers, tuple(part_bars))


def _layers_of(stave: Stave, count: int, bars: tuple[Bar, ...]) -> list[list[list[Event]]]:
    found = []
    for layer in range(count):
        by_bar = [
            [_filled(e, bar) for e in (r.layers[layer] if layer < len(r.layers) else ())]
            for r, bar in zip(stave.bars, bars, strict=True)
        ]
        found.append(_tied(by_bar))
    return found


def _filled(event: Event, bar: Bar) -> Event:
    if event.whole_bar and not event.duration:
        return replace(event, duration=bar.length)
    return event


def _tied(bars: list[list[Event]]) -> list[list[Event]]:
    """Every `~` answered by the same pitch in the next event of the layer."""
    waiting: set[Pitch | Drum] = set()
    done = []
    for bar in bars:
        done.append([])
        for event in bar:
            ending = set() if event.grace else waiting
            notes = tuple(
                replace(n, tie_stop=n.tie_stop or n.pitch in ending, attributes=())
                for n in event.notes
            )
            if not event.grace:
                waiting = {n.pitch for n in event.notes if n.tie_start and not n.attributes}
            done[-1].append(replace(event, notes=notes))
    return done


def _part_bar(
    group: list[Stave], index: int, events: tuple[tuple[Event, ...], ...], *, alone: bool
) -> PartBar:
    readings = [stave.bars[index] for stave in group]
    changes = [c for r in readings for c in r.changes]
    by = group[0].transposition
    if index == 0 and by != CONCERT:
        changes = [*(c for c in changes if c.at == 0), Change(0, by), *(c for c in changes if c.at)]
    directions = [
        _homed(d, stave.staff, alone) for stave in group for d in stave.bars[index].directions
    ]
    harmonies = [replace(h, staff=0 if alone else h.staff) for r in readings for h in r.harmonies]
    return PartBar(
        layers=events,
        changes=tuple(sorted(changes, key=lambda c: c.at)),
        directions=tuple(sorted(directions, key=lambda d: d.at)),
        harmonies=tuple(sorted(harmonies, key=lambda h: h.at)),
        barlines=_barlines(readings[0]),
    )


def _homed(direction: Direction, staff: int, alone: bool) -> Direction:
    """Staff and voice as a document would name them: no staff where there is only one."""
    voice = direction.voice and str(4 * (staff - 1) + int(direction.voice))
    return replace(direction, staff=0 if alone else staff, voice=voice)


def _barlines(reading: Reading) -> tuple[Barline, ...]:
    at_left = [e for e in reading.endings if e[1] == "start"]
    at_right = [e for e in reading.endings if e[1] != "start"]
    left = _barline("left", "heavy-light" if reading.left else "", reading.left, at_left)
    style = "light-heavy" if reading.right == ":|" else mw.BARLINES[reading.right]
    right = _barline("right", style, reading.right, at_right)
    return tuple(b for b in (left, right) if b)


def _barline(side: str, style: str, sign: str, endings: list[tuple[str, str]]) -> Barline | None:
    direction = {"|:": "forward", ":|": "backward"}.get(sign)
    repeat = Mark("barline", "repeat", (("direction", direction),)) if direction else None
    ending = None
    if endings:
        number, kind = endings[0]
        ending = Mark("barline", "ending", (("number", number), ("type", kind)))
    if not (style or repeat or ending):
        return None
    return Barline(side, style, repeat, ending)
