"""Notes of one hand on the other hand's stave, as the sketch has them.

In a sketch's line such a head names the stave of the sketch on which it stands; here it gets the
staff of the part, where that stave's music is another hand of the same player, else its own.
Accidentals and clefs are then for the staff on which the heads stand.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import chain, islice
from typing import Any

from msgspec.structs import replace

from expander.model.pitch import Sounding, Written
from expander.model.plan import Line
from expander.model.score import Event, Note
from expander.notate.accidentals import with_accidentals
from expander.notate.spelling import WrittenEvents

Row = tuple[WrittenEvents, ...]
"""The voices of one staff in one bar."""

NOBODY: frozenset[int | str] = frozenset()


def source(line: Line) -> int | str:
    """The stave of the sketch that a line comes from, or the name of what was built."""
    strand = line.task.strand
    if line.desk < len(strand.hands):
        return strand.hands[line.desk]
    return strand.staves[0] if strand.staves else strand.name


def crosses(events: Sequence[Event[Any]]) -> bool:
    """True where a head stands on another staff than its voice."""
    for event in events:  # loops, as this is asked of every bar
        for note in event.notes:
            if note.voice_staff:
                return True
    return False


def settled(line: Line, staff: int = 0, theirs: frozenset[int | str] = NOBODY) -> Line:
    """The line with heads on another staff of its part, `staff`, or on its own.

    On the other stand those that do in the sketch, where that stave is one of `theirs`: of those
    whose music the other hand has there.
    """
    changed = {
        bar: tuple([_event(event, staff, theirs) for event in events])
        for bar, events in line.bars.items()
        if crosses(events)
    }
    return replace(line, bars={**line.bars, **changed}) if changed else line


def _event(event: Event[Sounding], staff: int, theirs: frozenset[int | str]) -> Event[Sounding]:
    return replace(event, notes=tuple([_note(note, staff, theirs) for note in event.notes]))


def _note(note: Note[Sounding], staff: int, theirs: frozenset[int | str]) -> Note[Sounding]:
    if not note.voice_staff:
        return note
    return replace(note, voice_staff=staff if note.voice_staff in theirs else 0)


# As written ------------------------------------------------------------------------------------


def anywhere(staves: Sequence[Sequence[Row]]) -> bool:
    """True where a head of a part stands on another staff than its voice."""
    if len(staves) < 2:
        return False
    return any([crosses(events) for rows in staves for row in rows for events in row])


def with_accidentals_across(
    staves: Sequence[Sequence[Row]], keys: Sequence[tuple[int, tuple[tuple[int, int], ...]]]
) -> list[list[Row]]:
    """The staves with accidentals for where the heads stand.

    `keys` has for each bar the written key in fifths, and those that begin inside it, with their
    ticks.
    """
    found = [list(rows) for rows in staves]
    for bar, (fifths, changes) in enumerate(keys):
        here = [rows[bar] for rows in staves]
        if not any([crosses(events) for row in here for events in row]):
            continue
        homes = [staff for staff, row in enumerate(here, 1) for _ in row]
        shown = iter(with_accidentals(tuple(chain(*here)), fifths, changes, homes))
        for rows, row in zip(found, here, strict=True):
            rows[bar] = tuple(islice(shown, len(row)))
    return found


def as_drawn(staves: Sequence[Sequence[Row]]) -> Sequence[Sequence[Row]]:
    """For each staff what stands on it, heads of other voices too, bar by bar."""
    if not anywhere(staves):
        return staves
    bars = list(zip(*staves, strict=True))
    return [[_standing(bar, staff) for bar in bars] for staff in range(1, len(staves) + 1)]


def _standing(bar: Sequence[Row], staff: int) -> Row:
    if not any([crosses(events) for row in bar for events in row]):
        return bar[staff - 1]
    return tuple(
        tuple([replace(e, notes=_heads(e, home, staff)) for e in events])
        for home, row in enumerate(bar, 1)
        for events in row
    )


def _heads(event: Event[Written], home: int, staff: int) -> tuple[Note[Written], ...]:
    return tuple([note for note in event.notes if (note.voice_staff or home) == staff])
