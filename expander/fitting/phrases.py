"""Phrases of a line: the units that move together.

A phrase ends where the line rests for a quarter note or longer, or leaves out a bar. Where a
phrase is too wide for any octave of an instrument, it may be taken apart at shorter rests, then
where no slur holds it together, and as the last resort anywhere but at a tie.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec import Struct

from expander.model.pitch import Drum, Sounding
from expander.model.plan import Events
from expander.model.score import Event


class Place(Struct, frozen=True):
    """An event of a line by its bar and its index in the bar."""

    bar: int
    index: int


class Phrase(Struct, frozen=True):
    """Neighbouring sounding events: their places, ticks from start to end, heights in semitones.

    `low` and `high` are the lowest and the highest of the heights.
    """

    places: tuple[Place, ...]
    start: int
    end: int
    heights: tuple[float, ...]
    weights: tuple[int, ...]

    low: float
    high: float


def phrases(line: Mapping[int, Events], starts: Sequence[int], gap: int) -> list[Phrase]:
    """The phrases of a line, divided by rests of `gap` ticks; unpitched notes belong to none."""
    groups: list[list[tuple[Place, Event[Sounding]]]] = []
    last_end = None
    for place, event in _sounding(line):
        at = starts[place.bar] + event.at
        if last_end is None or at - last_end >= gap:
            groups.append([])
        groups[-1].append((place, event))
        last_end = max(at + event.duration, last_end or 0)
    return [_phrase(group, starts) for group in groups]


AT_RESTS, BETWEEN_SLURS, BETWEEN_TIES = "at rests", "between slurs", "between ties"
CUTS = (AT_RESTS, BETWEEN_SLURS, BETWEEN_TIES)
"""Where a phrase may be taken apart, the gentlest first."""


def pieces(
    phrase: Phrase, line: Mapping[int, Events], starts: Sequence[int], cut: str
) -> list[Phrase]:
    """A phrase in parts: at every rest, at every place no slur spans, or only ties uncut."""
    groups: list[list[tuple[Place, Event[Sounding]]]] = []
    held = 0
    last_end = None
    for place in phrase.places:
        event = line[place.bar][place.index]
        at = starts[place.bar] + event.at
        tied = any(n.tie_stop for n in event.notes)
        free = not tied and (held == 0 or cut == BETWEEN_TIES)
        if last_end is None or (free and (at > last_end or cut != AT_RESTS)):
            groups.append([])
        groups[-1].append((place, event))
        held = max(0, held + _slurs(event)) if event.marks else held
        last_end = at + event.duration
    return [_phrase(group, starts) for group in groups]


def outermost(line: Mapping[int, Events]) -> tuple[float, float]:
    """The lowest and the highest semitone of a line; of unpitched music nothing is outside."""
    pitches = {
        id(note.pitch): note.pitch
        for events in line.values()
        for event in events
        for note in event.notes
    }
    heights = [float(p.semitone) for p in pitches.values() if not isinstance(p, Drum)]
    return min(heights, default=float("inf")), max(heights, default=float("-inf"))


def _sounding(line: Mapping[int, Events]) -> list[tuple[Place, Event[Sounding]]]:
    return [
        (Place(bar, index), event)
        for bar in sorted(line)
        for index, event in enumerate(line[bar])
        if event.notes and any(not isinstance(n.pitch, Drum) for n in event.notes)
    ]


def _slurs(event: Event[Sounding]) -> int:
    """Slurs that begin here less slurs that end here; grace notes lean on what follows."""
    types = [mark.get("type") for mark in event.marks if mark.name == "slur"]
    return types.count("start") - types.count("stop")


def _phrase(group: list[tuple[Place, Event[Sounding]]], starts: Sequence[int]) -> Phrase:
    heard = [
        (float(note.pitch.semitone), event.duration)
        for _, event in group
        for note in event.notes
        if not isinstance(note.pitch, Drum)
    ]
    heights, weights = zip(*heard, strict=True)
    first_place, first = group[0]
    last_place, last = group[-1]
    return Phrase(
        tuple([place for place, _ in group]),
        starts[first_place.bar] + first.at,
        starts[last_place.bar] + last.end,
        heights,
        weights,
        min(heights),
        max(heights),
    )
