"""Phrases of a line: the units that move together.

A phrase ends where the line rests for a quarter note or longer, or leaves out a bar. One that is
not in range as it stands may be taken apart, down to single notes; tied notes stay together.
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

    `low` and `high` are the lowest and the highest of the heights, `first` and `last` the middle
    of the first and of the last event. `whole` is the ticks of the phrase it is a part of, or its
    own. `slurred` tells whether a slur leads on from it, or a grace note leans on what follows;
    `at_bar` whether it begins with a bar.
    """

    places: tuple[Place, ...]
    start: int
    end: int
    heights: tuple[float, ...]
    weights: tuple[int, ...]
    low: float
    high: float
    first: float
    last: float
    whole: int
    slurred: bool = False
    at_bar: bool = False


Group = list[tuple[Place, Event[Sounding]]]


def phrases(line: Mapping[int, Events], starts: Sequence[int], gap: int) -> list[Phrase]:
    """The phrases of a line, divided by rests of `gap` ticks; unpitched notes belong to none."""
    groups: list[Group] = []
    last_end = None
    for place, event in _sounding(line):
        at = starts[place.bar] + event.at
        if last_end is None or at - last_end >= gap:
            groups.append([])
        groups[-1].append((place, event))
        last_end = max(at + event.duration, last_end or 0)
    return [_phrase(group, starts) for group in groups]


def pieces(phrase: Phrase, line: Mapping[int, Events], starts: Sequence[int]) -> list[Phrase]:
    """A phrase in its smallest parts, each knowing whether it is held to the next."""
    events = [line[place.bar][place.index] for place in phrase.places]
    slurred, whole = _under_slurs(events), phrase.end - phrase.start
    found: list[Phrase] = []
    group: Group = []
    for number, (place, event) in enumerate(zip(phrase.places, events, strict=True)):
        if group and not any([note.tie_stop for note in event.notes]):
            held = number - 1 in slurred or events[number - 1].grace is not None
            found.append(_phrase(group, starts, whole, held))
            group = []
        group.append((place, event))
    return [*found, _phrase(group, starts, whole)]


def _under_slurs(events: Sequence[Event[Sounding]]) -> set[int]:
    """The events from which a slur leads on to the next; of slurs that have both their ends."""
    found: set[int] = set()
    began: dict[str, int] = {}
    for index, event in enumerate(events):
        slurs = [mark for mark in event.marks if mark.name == "slur"] if event.marks else ()
        for mark in slurs:
            if mark.get("type") == "stop":
                found.update(range(began.pop(mark.get("number"), index), index))
        for mark in slurs:
            if mark.get("type") == "start":
                began[mark.get("number")] = index
    return found


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


def _sounding(line: Mapping[int, Events]) -> Group:
    return [
        (Place(bar, index), event)
        for bar in sorted(line)
        for index, event in enumerate(line[bar])
        if event.notes and any([not isinstance(n.pitch, Drum) for n in event.notes])
    ]


def _phrase(
    group: Group, starts: Sequence[int], whole: int | None = None, slurred: bool = False
) -> Phrase:
    if len(group) == 1 and len(group[0][1].notes) == 1:
        return _single(group[0], starts, whole, slurred)
    rows = [_heights(event) for _, event in group]
    heights = [height for row in rows for height in row]
    weights = [e.duration for (_, e), row in zip(group, rows, strict=True) for _ in row]
    first_place, first = group[0]
    last_place, last = group[-1]
    start, end = starts[first_place.bar] + first.at, starts[last_place.bar] + last.end
    return Phrase(
        tuple([place for place, _ in group]),
        start,
        end,
        tuple(heights),
        tuple(weights),
        min(heights),
        max(heights),
        _middle(rows[0]),
        _middle(rows[-1]),
        end - start if whole is None else whole,
        slurred,
        first.at == 0,
    )


def _single(
    step: tuple[Place, Event[Sounding]], starts: Sequence[int], whole: int | None, slurred: bool
) -> Phrase:
    """One note alone, as most pieces are."""
    place, event = step
    (height,) = _heights(event)
    at, length = starts[place.bar] + event.at, event.duration
    own = length if whole is None else whole
    return Phrase(
        (place,), at, at + length, (height,), (length,), height, height, height, height, own,
        slurred, event.at == 0,
    )  # fmt: skip


def _heights(event: Event[Sounding]) -> list[float]:
    return [float(n.pitch.semitone) for n in event.notes if not isinstance(n.pitch, Drum)]


def _middle(heights: Sequence[float]) -> float:
    return heights[0] if len(heights) == 1 else sum(heights) / len(heights)
