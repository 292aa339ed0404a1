"""Where each line stands in a short score: the places that rules can name, and what is there.

Conventions
    A *spot* is stave from 1, layer from 1 on it, and the place in each chord from the top (0: all
    notes of the layer). What is there is compared as it is played: beginnings, lengths, heights
    and ties, whole octaves apart. So a line is told only where its spot holds it and nothing more.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from msgspec import Struct
from msgspec.structs import replace

from expander.model.pitch import Drum, Sounding, Written
from expander.model.score import Document, Event, Note, P
from expander.revoice.doubling import MOST_OCTAVES

ALL = 0

Played = tuple[tuple[object, ...], ...]
"""The events of a cell as they are played, heights from the first note's pitch class."""


class Spot(Struct, frozen=True, order=True):
    """A place in the short score: stave, layer, and place in the chord."""

    staff: int
    layer: int
    note: int


class Found(Struct, frozen=True):
    """A spot that holds a line, and by how many octaves the line lies above it."""

    spot: Spot
    octave: int


class _Here(Struct, frozen=True):
    """What stands at a spot in a bar: its octave, and the numbers of its first notes."""

    spot: Spot
    octave: int
    origins: frozenset[int]


class Spots:
    """Finds lines in a short score."""

    def __init__(self, score: Document) -> None:
        self._bars: list[dict[Played, list[_Here]]] = [{} for _ in score.bars]
        self._untied: list[dict[Played, list[_Here]]] = [{} for _ in score.bars]
        self._chordal: dict[tuple[int, int], set[int]] = {}
        self._occupied: dict[Spot, set[int]] = {}
        for place, part in enumerate(score.parts):
            for bar, content in enumerate(part.bars):
                for layer, events in enumerate(content.layers):
                    self._add(bar, place + 1, layer + 1, [e for e in events if e.notes])

    def _add(self, bar: int, staff: int, layer: int, events: Sequence[Event[Written]]) -> None:
        most = max((len(e.notes) for e in events), default=-1)
        if most > 1:
            self._chordal.setdefault((staff, layer), set()).add(bar)
        for note in range(most + 1):
            spot = Spot(staff, layer, note)
            cell = [e if note == ALL else at_place(e, note) for e in events]
            cell = [e for e in cell if e.notes]
            self._occupied.setdefault(spot, set()).add(bar)
            origins = frozenset(o for n in cell[0].notes for o in n.origins)
            here = _Here(spot, _octave(cell), origins)
            self._bars[bar].setdefault(played(cell), []).append(here)
            self._untied[bar].setdefault(played(cell, ties=False), []).append(here)

    def occupied(self, spot: Spot) -> frozenset[int]:
        """The bars in which something stands at a spot."""
        return frozenset(self._occupied.get(spot, ()))

    def chordal(self, spot: Spot) -> frozenset[int]:
        """The bars in which the layer of a spot has chords."""
        return frozenset(self._chordal.get((spot.staff, spot.layer), ()))

    def of(
        self,
        bar: int,
        cell: Sequence[Event[Sounding]],
        before: Spot | None,
        unlike: Callable[[Spot], float],
        *,
        whole: bool,
    ) -> Found | None:
        """The spot that holds just this cell.

        That which stands for its own notes comes first, then the one whose marks are the least
        `unlike` the line's, then that which held the line `before`; a `whole` layer or, without
        it, a note of its chords.
        """
        events = [e for e in cell if e.notes]
        own = [o for n in events[0].notes for o in n.origins]
        octave = _octave(events)
        found = [
            (
                here.origins.isdisjoint(own),
                unlike(here.spot),
                here.spot != before,
                (here.spot.note == ALL) != whole,
                here,
            )
            for here in self._with(bar, events)
            if abs(octave - here.octave) <= MOST_OCTAVES
        ]
        if not found:
            return None
        here = min(found, key=lambda row: (*row[:4], row[4].spot))[4]
        return Found(here.spot, octave - here.octave)

    def _with(self, bar: int, events: Sequence[Event[Sounding]]) -> Sequence[_Here]:
        """Spots that hold some events; ties to or from nowhere may not stand in the score."""
        exactly = self._bars[bar].get(played(events), ())
        return exactly or self._untied[bar].get(played(events, ties=False), ())


def at_place(event: Event[P], place: int) -> Event[P]:
    """Of a chord the note so many from the top; a rest where it has fewer."""
    return replace(event, notes=tuple(_from_the_top(event)[place - 1 : place]))


def _from_the_top(event: Event[P]) -> list[Note[P]]:
    return sorted(event.notes, key=lambda n: 0 if isinstance(n.pitch, Drum) else -n.pitch.semitone)


def played(events: Iterable[Event[P]], *, ties: bool = True) -> Played:
    """What is equal for cells that sound alike but for the octave; with `ties` these too."""
    sounding = [e for e in events if e.notes]
    base = 12 * _octave(sounding)
    return tuple(
        (e.at, e.grace is None, e.duration, tuple(sorted(_head(n, base, ties) for n in e.notes)))
        for e in sounding
    )


def _head(note: Note[P], base: int, ties: bool) -> tuple[str, float, bool, bool]:
    pitch = note.pitch
    drum = f"{pitch.step} {pitch.octave}" if isinstance(pitch, Drum) else ""
    height = 0.0 if isinstance(pitch, Drum) else float(pitch.semitone - base)
    return drum, height, ties and note.tie_start, ties and note.tie_stop


def _octave(events: Sequence[Event[P]]) -> int:
    """The octave of the lowest note with pitch where such a note first begins."""
    rows = ([n.pitch for n in e.notes if not isinstance(n.pitch, Drum)] for e in events)
    first = next((row for row in rows if row), None)
    return int(min(p.semitone for p in first)) // 12 if first else 0
