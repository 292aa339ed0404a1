"""Rests: every bar full, a silent bar one whole-bar rest."""

from __future__ import annotations

from collections.abc import Iterator

from expander.model.metre import shapes
from expander.model.pitch import Sounding
from expander.model.plan import Events
from expander.model.score import Bar, Event


def whole_bar_rest(bar: Bar) -> Event[Sounding]:
    """The rest for a silent bar, as long as the bar really is."""
    return Event(0, bar.length, whole_bar=True)


def filled(events: Events, bar: Bar, grid: int) -> Events:
    """A voice with rests in all its gaps; a voice without music is one whole-bar rest.

    A voice that already fills its bar stays the same object.
    """
    if not any([e.notes or e.marks for e in events]):
        return (whole_bar_rest(bar),)
    if len(events) == 1 and events[0].whole_bar:
        return events
    if _is_full(events, bar):
        return events
    return tuple(_with_rests(events, bar, grid))


def _is_full(events: Events, bar: Bar) -> bool:
    position = 0
    for event in events:
        if event.at != position:
            return False
        position = event.end
    return position >= bar.length


def _with_rests(events: Events, bar: Bar, grid: int) -> Iterator[Event[Sounding]]:
    position = 0
    for event in events:
        if event.at > position:
            yield from rests(position, event.at, bar, grid)
        yield event
        position = max(position, event.end)
    if position < bar.length:
        yield from rests(position, bar.length, bar, grid)


def rests(start: int, end: int, bar: Bar, grid: int) -> Iterator[Event[Sounding]]:
    """Rests from one tick of a bar to another, showing the metre.

    In a pickup the metre counts from the end of the bar.
    """
    shift = bar.nominal - bar.length if bar.implicit and bar.length < bar.nominal else 0
    at = start
    for ticks, value in shapes(start + shift, end - start, bar.time, bar.nominal, grid):
        yield Event(at, ticks, value=value)
        at += ticks
