"""Strings desk by desk: of a division in three and more, each desk has the lines it plays.

Two lines are divided at each desk, between its outer and inner player; three and more go to the
desks from the front (common practice, no source).
"""

from __future__ import annotations

from msgspec.structs import replace

from expander.model.pitch import Written
from expander.model.score import Event, Part, PartBar
from expander.notate.accidentals import with_accidentals
from expander.parts.apart import from_the_top
from expander.parts.inforce import in_force, keys_inside

AT_ONE_DESK = 2

Events = tuple[Event[Written], ...]


def for_desk(part: Part[Written], desk: tuple[int, int]) -> Part[Written]:
    """The part of one desk: (its number from 0, how many there are)."""
    force = in_force(part)
    divided = False
    bars: list[PartBar[Written]] = []
    for index, bar in enumerate(part.bars):
        divided = _divided(bar, divided)
        layers = _layers(bar.layers, desk, divided=divided)
        if layers is not bar.layers:
            key = force.keys[index].fifths
            layers = with_accidentals(layers, key, keys_inside(part, index))
        bars.append(replace(bar, layers=layers))
    return replace(part, bars=tuple(bars))


def _divided(bar: PartBar[Written], before: bool) -> bool:
    """Whether the section is told to divide: chords are then lines, not double stops."""
    said = [m.text.lower() for d in bar.directions for m in d.marks if m.name == "words"]
    for text in said:
        if text.startswith(("div", "get", "unis", "tutti")):
            before = text.startswith(("div", "get"))
    return before


def _layers(
    layers: tuple[Events, ...], desk: tuple[int, int], *, divided: bool
) -> tuple[Events, ...]:
    sounding = [i for i, layer in enumerate(layers) if any(e.notes for e in layer)]
    if len(sounding) > AT_ONE_DESK:
        mine = {sounding[i] for i in lines_of(*desk, len(sounding))}
        return tuple(la if i in mine else () for i, la in enumerate(layers))
    if len(sounding) == 1 and divided:
        return tuple(tuple(_event(e, desk) for e in layer) for layer in layers)
    return layers


def _event(event: Event[Written], desk: tuple[int, int]) -> Event[Written]:
    if len(event.notes) <= AT_ONE_DESK:
        return event
    heads = from_the_top(event.notes)
    mine = lines_of(*desk, len(heads))
    return replace(event, notes=tuple(reversed(heads[mine.start : mine.stop])))


def lines_of(desk: int, desks: int, lines: int) -> range:
    """Which of so many lines, from the top, the two players of a desk play."""
    players = 2 * desks
    first = 2 * desk * lines // players
    last = max((2 * desk + 2) * lines // players, (2 * desk + 1) * lines // players + 1)
    return range(first, last)
