"""Cells of one rhythm as one cell of chords."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec.structs import replace

from expander.model.pitch import Drum, Sounding
from expander.model.plan import Events
from expander.model.score import Event, Note
from expander.revoice.lines import height

Sourced = tuple[Events, tuple[int, ...]]
"""A cell with the numbers of what it was made from: lines, or desks."""


def as_chords(cells: Sequence[Sourced]) -> list[Sourced]:
    """Cells of one rhythm become one cell of chords."""
    together: dict[object, list[Sourced]] = {}
    for cell in cells:
        together.setdefault(rhythm_of(cell[0]), []).append(cell)
    return [stacked(group) for group in together.values()]


def stacked(group: Sequence[Sourced]) -> Sourced:
    """Cells of one rhythm as one."""
    if len(group) == 1:
        return group[0]
    return _chords([cell for cell, _ in group]), tuple(n for _, lines in group for n in lines)


def rhythm_of(cell: Events) -> object:
    """What is equal for cells that can share stems."""
    return tuple(
        (e.at, e.duration, bool(e.notes), e.grace is None, _ties(e)) for e in cell if e.notes
    )


def _ties(event: Event[Sounding]) -> tuple[bool, bool]:
    return any(n.tie_start for n in event.notes), any(n.tie_stop for n in event.notes)


def _chords(group: Sequence[Events]) -> Events:
    rows = [[e for e in cell if e.notes] for cell in group]
    return tuple(_chord(events) for events in zip(*rows, strict=True))


def _chord(events: Sequence[Event[Sounding]]) -> Event[Sounding]:
    """One event with everybody's heads, a unison once; marks and words of the first."""
    heads: dict[Sounding | Drum, Note[Sounding]] = {}
    for note in (n for e in events for n in e.notes):
        held = heads.get(note.pitch)
        heads[note.pitch] = held.standing_for(note) if held else note
    notes = tuple(sorted(heads.values(), key=lambda n: -height(n.pitch)))
    return replace(events[0], notes=notes)
