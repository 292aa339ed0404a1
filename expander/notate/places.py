"""Places of slashes and kicks in the clef that the part stands in.

A place is a treble letter until here. MusicXML reads display-step and display-octave by the clef
in force (W3C MusicXML 4.0, display-step-octave: "Positioning follows the current clef"), the
percussion clef as treble. Readers that take every place for a treble letter get a copy made for
them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from msgspec.structs import replace

from expander.model.pitch import Drum, Written
from expander.model.score import Change, Clef, Document, Event, Note, Part, PartBar
from expander.model.walk import events_of
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


def as_treble(score: Document) -> Document:
    """A copy for readers that know no other places than the treble clef's.

    Such is Verovio 6 with `unpitched`, as drawn. A clef that changes inside a bar counts from the
    next bar on.
    """
    return replace(score, parts=tuple(_treble_part(part) for part in score.parts))


def _treble_part(part: Part[Written]) -> Part[Written]:
    if not any(isinstance(n.pitch, Drum) for e in events_of(part) for n in e.notes):
        return part
    movers = {staff: _Mover(-1) for staff in range(1, part.staves + 1)}
    bars: list[PartBar[Written]] = []
    for bar in part.bars:
        _take_clefs(movers, [c for c in bar.changes if c.at == 0])
        layers = [
            movers[layer.staff].moved(events)
            for layer, events in zip(part.layers, bar.layers, strict=True)
        ]
        bars.append(replace(bar, layers=tuple(layers)))
        _take_clefs(movers, bar.changes)
    return replace(part, bars=tuple(bars))


def _take_clefs(movers: Mapping[int, _Mover], changes: Sequence[Change]) -> None:
    for change in changes:
        if isinstance(change.what, Clef):
            for staff in [change.staff] if change.staff else movers:
                movers[staff].clef = change.what


class _Mover:
    """Moves events to a clef, or with -1 from it; the same objects before are the same after."""

    def __init__(self, way: int = 1) -> None:
        self.clef = TREBLE
        self._way = way
        self._kept: dict[tuple[int, Clef], tuple[Event[Written], ...]] = {}

    def moved(self, events: tuple[Event[Written], ...]) -> tuple[Event[Written], ...]:
        """One voice of a bar in the clef in force."""
        steps = self._way * _steps(self.clef)
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
