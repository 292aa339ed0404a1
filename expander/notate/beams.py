"""Beams and tuplet brackets: the sketch's own where they still hold together, else by the metre."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from functools import cache, lru_cache

from msgspec.structs import replace

from expander.model.metre import QUARTERS, beat_ticks, length
from expander.model.pitch import Sounding
from expander.model.plan import Events
from expander.model.score import Bar, Event, Mark, Value
from expander.model.spans import alternates

FLAGS = {
    "eighth": 1, "16th": 2, "32nd": 3, "64th": 4, "128th": 5, "256th": 6, "512th": 7, "1024th": 8,
}  # fmt: skip
"""How many beams a value has."""


def beamed(events: Events, bar: Bar, grid: int, *, afresh: bool = False) -> Events:
    """The voice with sound beams. With `afresh` the sketch's beams are not kept.

    Words make singers' beams follow syllables; players who double them read by the beat.
    """
    if not afresh:
        given = any([e.beams for e in events])
        if _hold_together(events) if given else not _could_beam(events):
            return events
    counts = tuple([(e.at, e.duration, _flags(e) if e.notes else 0) for e in events if not e.grace])
    beat = beat_ticks(bar.time, grid)
    shift = bar.nominal - bar.length if bar.implicit and bar.length < bar.nominal else 0
    beams = iter(_beams(counts, beat, shift))
    return tuple([_with_beams(e, () if e.grace else next(beams)) for e in events])


def _with_beams(event: Event[Sounding], beams: tuple[Mark, ...]) -> Event[Sounding]:
    return replace(event, beams=beams) if beams or event.beams else event


def _could_beam(events: Events) -> bool:
    return (
        len([e for e in events if e.value and e.value.type in FLAGS and e.notes and not e.grace])
        > 1
    )


def _hold_together(events: Events) -> bool:
    """Whether every beam that begins goes on to its end."""
    open_beams: set[str] = set()
    for event in events:
        if event.grace:
            continue
        states = {m.get("number", "1"): m.text for m in event.beams}
        if open_beams and not states and event.notes:
            return False
        for number, state in states.items():
            if (state == "begin") == (number in open_beams) and state in _STATES:
                return False
            if state == "begin":
                open_beams.add(number)
            elif state == "end":
                open_beams.discard(number)
    return not open_beams


_STATES = ("begin", "continue", "end")


def _flags(event: Event[Sounding]) -> int:
    return FLAGS.get(event.value.type, 0) if event.value else 0


@lru_cache(maxsize=65536)
def _beams(
    events: tuple[tuple[int, int, int], ...], beat: int, shift: int
) -> tuple[tuple[Mark, ...], ...]:
    """MusicXML beams for a rhythm, given as place, length and number of flags of each event."""
    beams: list[tuple[Mark, ...]] = [()] * len(events)
    for group in _groups(events, beat, shift):
        flags = [events[index][2] for index in group]
        for place, index in enumerate(group):
            levels = range(1, flags[place] + 1)
            beams[index] = tuple([_beam(level, _state(flags, place, level)) for level in levels])
    return tuple(beams)


def _groups(events: Sequence[tuple[int, int, int]], beat: int, shift: int) -> list[list[int]]:
    """Neighbouring beamable notes inside one beat (or half a bar of plain eighths in 4/4)."""
    groups: list[list[int]] = []
    window = None
    for index, (at, ticks, flags) in enumerate(events):
        if not flags:
            window = None
            continue
        here, end = (at + shift) // beat, at + ticks
        if window == here and groups:
            groups[-1].append(index)
        else:
            groups.append([index])
        window = here if (end + shift) // beat == here else None
        if (end + shift) % beat == 0:
            window = None
    return [group for group in groups if len(group) > 1]


@cache
def _beam(level: int, state: str) -> Mark:
    return Mark("note", "beam", (("number", str(level)),), state)


def _state(flags: Sequence[int], index: int, level: int) -> str:
    before = index > 0 and flags[index - 1] >= level
    after = index + 1 < len(flags) and flags[index + 1] >= level
    if before and after:
        return "continue"
    if before:
        return "end"
    if after:
        return "begin"
    return "forward hook" if index == 0 else "backward hook"


def bracketed(events: Events, grid: int) -> Events:
    """The voice with sound tuplet brackets: kept where they balance, else one for each group."""
    uneven = any([e.value and e.value.actual != e.value.normal for e in events])
    marked = any([m.name == "tuplet" for e in events if e.marks for m in e.marks])
    if not marked and not uneven:
        return events
    ratios = [_ratio(e) for e in events]
    if marked and _balanced(events):
        return events
    plain = [_without_brackets(e) for e in events]
    for first, last in _tuplets(plain, ratios, grid):
        if first == last:
            continue
        plain[first] = _with_bracket(plain[first], "start")
        plain[last] = _with_bracket(plain[last], "stop")
    return tuple(plain)


def _ratio(event: Event[Sounding]) -> tuple[int, int] | None:
    value = event.value
    if value is None or event.grace or value.actual == value.normal or not value.type:
        return None
    if any([alternates(mark) for mark in event.marks]):
        return None  # two in the time of one, which no bracket says
    return value.actual, value.normal


def _balanced(events: Events) -> bool:
    """Every bracket that opens closes, and holds only notes of its ratio, all in a row."""
    open_numbers: set[str] = set()
    position = None
    for event in events:
        if event.grace:
            continue
        if open_numbers and (event.at != position or _ratio(event) is None):
            return False
        tuplets = [m for m in event.marks if m.name == "tuplet"]
        for mark in tuplets:
            if mark.get("type") == "start":
                open_numbers.add(mark.get("number", "1"))
        for mark in tuplets:
            if mark.get("type") == "stop":
                if mark.get("number", "1") not in open_numbers:
                    return False
                open_numbers.discard(mark.get("number", "1"))
        position = event.end
    return not open_numbers


def _tuplets(
    events: Sequence[Event[Sounding]], ratios: Sequence[tuple[int, int] | None], grid: int
) -> list[tuple[int, int]]:
    """Runs of one ratio that fill whole tuplets, as first and last index."""
    found: list[tuple[int, int]] = []
    start = 0
    filled = Fraction(0)
    unit = Fraction(0)
    for index, (event, ratio) in enumerate(zip(events, ratios, strict=True)):
        if event.grace:
            continue
        if ratio is None or event.value is None:
            filled = Fraction(0)
            continue
        if not filled or ratios[start] != ratio or events[index].at != _end_before(events, index):
            start, filled, unit = index, Fraction(0), _tuplet_length(event.value, grid)
        filled += event.duration
        unit = max(unit, _tuplet_length(event.value, grid)) if filled < unit else unit
        if filled >= unit:
            found.append((start, index))
            filled = Fraction(0)
    return found


def _end_before(events: Sequence[Event[Sounding]], index: int) -> int:
    return next((e.end for e in reversed(events[:index]) if not e.grace), -1)


def _tuplet_length(value: Value, grid: int) -> Fraction:
    """Ticks of a whole tuplet counted in this value: three eighths in the time of two."""
    if value.normal_type in QUARTERS:
        return value.normal * QUARTERS[value.normal_type] * grid
    return value.actual * length(Value(value.type, 0, value.actual, value.normal), grid)


def _without_brackets(event: Event[Sounding]) -> Event[Sounding]:
    if not any(m.name == "tuplet" for m in event.marks):
        return event
    return replace(event, marks=tuple(m for m in event.marks if m.name != "tuplet"))


def _with_bracket(event: Event[Sounding], kind: str) -> Event[Sounding]:
    mark = Mark("notations", "tuplet", (("type", kind),))
    return replace(event, marks=(*event.marks, mark))
