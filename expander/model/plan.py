"""Strands, tasks and lines: the music on its way from sketch to players.

Conventions
    A *strand* is material of the sketch under a name: for each bar, one tuple of events per
    layer. A *task* is one entry of the plan in one passage, resolved to seats. A *line* is what
    one seat plays of a task: for each bar, one tuple of events.
"""

from __future__ import annotations

from collections.abc import Mapping

from msgspec import Struct, field

from expander.model.instrument import Seat
from expander.model.pitch import Sounding
from expander.model.rules import Entry
from expander.model.score import Direction, Event

Events = tuple[Event[Sounding], ...]


class Strand(Struct, frozen=True):
    """Material under a name. `bars` maps a bar index to its events, layer by layer.

    `directions` are the marks that belong to it (dynamics, hairpins, words, pedal), by bar.
    `staves` are the sketch staves (from 1) it was taken from; empty where it was built. `hands`
    has the stave of each layer, where they are of several. `sides` tells of staves of a part for
    two hands which they are, 1 for the upper. A head on another staff names that too by its number
    in the sketch.
    `built` strands replace the sketch notes whose origin numbers are in `replaces`. One of
    `slashes` is time to be played freely: it goes whole to each player, and gives way to music.
    """

    name: str
    bars: Mapping[int, tuple[Events, ...]]
    directions: Mapping[int, tuple[Direction, ...]] = field(default_factory=dict)
    staves: tuple[int, ...] = ()
    built: bool = False
    replaces: frozenset[int] = frozenset()
    slashes: bool = False
    hands: tuple[int, ...] = ()
    sides: Mapping[int, int] = field(default_factory=dict)


class Task(Struct, frozen=True):
    """One entry of the plan in one passage. `bars` are indices from 0."""

    section: str
    entry: Entry
    strand: Strand
    seats: tuple[Seat, ...]
    bars: range


class Line(Struct, frozen=True):
    """What one seat plays of a task. Bars without events are left out.

    `desk` numbers the lines of one seat within a task (divisi): 0 is the upper or only one.
    """

    seat: Seat
    task: Task
    bars: Mapping[int, Events]
    desk: int = 0
