"""Places of slashes and kicks in the clef that the part stands in.

A place is a treble letter until here. MusicXML reads display-step and display-octave by the clef
in force (W3C MusicXML 4.0, display-step-octave: "Positioning follows the current clef"), the
percussion clef as treble.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from expander.model.pitch import Drum, Written
from expander.model.score import Change, Clef, Event, Note
from expander.notate.clefs import middle_line

TREBLE = Clef("G", 2)
_READ_AS_TREBLE = ("percussion", "none", "TAB", "jianpu")

Voices = tuple[tuple[Event[Written], ...], ...]
"""The voices of one staff in one bar."""


def in_clefs(
    staves: Sequence[Sequence[Voices]], clefs: Mapping[int, Sequence[Change]]
) -> Iterator[list[Voices]]:
    """The bars of each staff with unpitched notes placed by its clef.

    `clefs` has the clef changes of each bar (all at its beginning), with their staff.
    """
    for number, bars in enumerate(staves, 1):
        mover = _Mover()
        found: list[Voices] = []
        for bar, voices in enumerate(bars):
            for change in clefs.get(bar, ()):
                if change.staff == number and isinstance(change.what, Clef):
                    mover.clef = change.what
            found.append(tuple(mover.moved(events) for events in voices))
        yield found


class _Mover:
    """Moves events to a clef; what is the same before stays the same object after."""

    def __init__(self) -> None:
        self.clef = TREBLE
        self._kept: dict[tuple[int, Clef], tuple[Event[Written], ...]] = {}

    def moved(self, events: tuple[Event[Written], ...]) -> tuple[Event[Written], ...]:
        """One voice of a bar in the clef in force."""
        steps = _steps(self.clef)
        if not steps or not any(isinstance(n.pitch, Drum) for e in events for n in e.notes):
            return events
        key = (id(events), self.clef)
        if key not in self._kept:
            self._kept[key] = tuple(_moved_event(e, steps) for e in events)
        return self._kept[key]


def _steps(clef: Clef) -> int:
    """Letter steps from a treble place to the same place of the staff in another clef."""
    if clef.sign in _READ_AS_TREBLE:
        return 0
    return middle_line(clef) - middle_line(TREBLE)


def _moved_event(event: Event[Written], steps: int) -> Event[Written]:
    if not event.notes:
        return event
    return replace(event, notes=tuple(_moved_note(n, steps) for n in event.notes))


def _moved_note(note: Note[Written], steps: int) -> Note[Written]:
    if not isinstance(note.pitch, Drum):
        return note
    octave, step = divmod(7 * note.pitch.octave + note.pitch.step + steps, 7)
    return replace(note, pitch=replace(note.pitch, step=step, octave=octave))
