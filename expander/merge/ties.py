"""Ties across the seams: both ends or none."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Container, Iterator, Sequence
from itertools import accumulate

from msgspec import Struct
from msgspec.structs import replace

from expander.merge.grid import Layer
from expander.model.pitch import Drum, Written
from expander.model.score import Bar, Event, LayerId, Note, PartBar

Bars = list[PartBar[Written]]
End = tuple[int, int, object]
"""The tick in the piece at which one note goes over into the next, its staff, its pitch."""


class Mended(Struct, frozen=True):
    """Bars with whole ties, and the ties that were taken away as (row, pitch)."""

    bars: Bars
    gone: list[tuple[int, str]]


Loose = frozenset[tuple[int, int, object]]
"""Ends of ties without the other end: the bar, the tick in it (its end for a tie out), pitch."""


def loose_ends(
    bars: Sequence[PartBar[Written]], slots: Sequence[LayerId], lengths: Sequence[int]
) -> Loose:
    """The ends of ties that have no other end in a version of their own."""
    begins = [0, *accumulate(lengths)]
    starts, stops = _ends(bars, slots, begins)
    lone = starts ^ stops
    bar_of = {start: index for index, start in enumerate(begins)}
    found: set[tuple[int, int, object]] = set()
    for tick, _, pitch in lone:
        bar = bisect_right(begins, tick) - 1
        found.add((bar, tick - begins[bar], pitch))
        if tick in bar_of and tick:  # a tie out of the bar before
            found.add((bar - 1, tick - begins[bar - 1], pitch))
    return frozenset(found)


def _ends(
    bars: Sequence[PartBar[Written]], slots: Sequence[LayerId], begins: Sequence[int]
) -> tuple[set[End], set[End]]:
    starts: set[End] = set()
    stops: set[End] = set()
    for bar, begin in zip(bars, begins, strict=False):
        for slot, layer in zip(slots, bar.layers, strict=True):
            for event in layer:
                _gather(event, slot.staff, begin, starts, stops)
    return starts, stops


def mended(
    bars: Bars,
    slots: Sequence[LayerId],
    system: Sequence[Bar],
    touched: Container[int],
    known: Container[tuple[int, int, object]] = frozenset(),
) -> Mended:
    """The bars without ties that lead nowhere or come from nowhere, in the rows touched.

    Those `known` (in rows) led nowhere in the version they are from, and stay as they are.
    """
    starts, stops = _ends(bars, slots, [bar.start for bar in system])
    work = _Work(starts, stops, known, [])
    made = [
        work.bar(bar, slots, shared, row) if row in touched else bar
        for row, (bar, shared) in enumerate(zip(bars, system, strict=True))
    ]
    return Mended(made, work.gone)


def _gather(
    event: Event[Written], staff: int, start: int, starts: set[End], stops: set[End]
) -> None:
    for note in event.notes:
        if note.tie_start:
            starts.add(_goes(event, note, staff, start))
        if note.tie_stop:
            stops.add(_comes(event, note, staff, start))


def _goes(event: Event[Written], note: Note[Written], staff: int, start: int) -> End:
    return start + event.end, note.voice_staff or staff, _pitch(note)


def _comes(event: Event[Written], note: Note[Written], staff: int, start: int) -> End:
    return start + event.at, note.voice_staff or staff, _pitch(note)


def _pitch(note: Note[Written]) -> object:
    pitch = note.pitch
    if isinstance(pitch, Drum):
        return (pitch.step, pitch.octave)
    return (pitch.diatonic, pitch.alter)


class _Work:
    def __init__(
        self,
        starts: set[End],
        stops: set[End],
        known: Container[tuple[int, int, object]],
        gone: list[tuple[int, str]],
    ) -> None:
        self.starts, self.stops, self.known, self.gone = starts, stops, known, gone

    def bar(
        self, bar: PartBar[Written], slots: Sequence[LayerId], shared: Bar, row: int
    ) -> PartBar[Written]:
        layers = tuple(
            [
                self._layer(layer, slot.staff, shared.start, row)
                for slot, layer in zip(slots, bar.layers, strict=True)
            ]
        )
        same = all(a is b for a, b in zip(layers, bar.layers, strict=True))
        return bar if same else replace(bar, layers=layers)

    def _layer(self, layer: Layer, staff: int, start: int, row: int) -> Layer:
        if not any([n.tie_start or n.tie_stop for e in layer for n in e.notes]):
            return layer
        made = tuple(
            [
                replace(e, notes=tuple(self._notes(e, staff, start, row))) if e.notes else e
                for e in layer
            ]
        )
        return layer if made == layer else made

    def _notes(
        self, event: Event[Written], staff: int, start: int, row: int
    ) -> Iterator[Note[Written]]:
        for note in event.notes:
            pitch = _pitch(note)
            goes = note.tie_start and (
                _goes(event, note, staff, start) in self.stops
                or (row, event.end, pitch) in self.known
            )
            comes = note.tie_stop and (
                _comes(event, note, staff, start) in self.starts
                or (row, event.at, pitch) in self.known
            )
            if (goes, comes) == (note.tie_start, note.tie_stop):
                yield note
                continue
            self.gone.append((row, str(note.pitch)))
            yield _tied(note, goes, comes)


def _tied(note: Note[Written], goes: bool, comes: bool) -> Note[Written]:
    kept = {"start": goes, "stop": comes}
    marks = tuple([m for m in note.marks if m.name != "tied" or kept.get(m.get("type"), True)])
    return replace(note, tie_start=goes, tie_stop=comes, marks=marks)
