"""Lines of the whole score as a listener hears them, and which stands out at a moment."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import fmean

from msgspec import Struct

from expander.model.dynamics import LEVELS, level_after
from expander.model.pitch import Drum, Sounding, Written
from expander.model.score import Bar, Document, Event, Note
from expander.sounding import HeardPart

Events = tuple[Event[Sounding], ...]

_ORDINARY = LEVELS.index("mf")
_HEARD = 0.4
"""The share of a cue's time for which its line must sound."""
_PAD = 0.5
"""A line whose notes last this share of a bar on the average, or longer, is a pad."""
_MOVING = 2
"""Levels by which a pad must be louder to be heard before a moving line: mf before p is not enough,
for a bass or a guitar that nobody marked counts as mf (common practice, no source)."""


class Line:
    """The uppermost notes of a layer as they are heard, by bar, worked out when asked for."""

    def __init__(self, part: HeardPart, layer: int) -> None:
        self._part, self._layer = part, layer
        self._known: dict[int, Events] = {}

    def __getitem__(self, bar: int) -> Events:
        """What is in a bar, by its index."""
        if bar not in self._known:
            events = self._part.events(bar, self._layer)
            self._known[bar] = tuple([_heard(e) for e in events])
        return self._known[bar]


class Source(Struct, frozen=True):
    """A line of the score: its part, and for each bar its uppermost notes."""

    part: int
    staff: int
    label: str
    bars: Line
    levels: tuple[int, ...]


def sources_of(
    score: Document, heard: Sequence[HeardPart], labels: Sequence[str]
) -> tuple[Source, ...]:
    """All pitched lines of a score that can be heard; `labels` names its parts for a cue."""
    return tuple(
        Source(
            number,
            home.staff,
            labels[number],
            Line(heard[number], layer),
            _levels(score, number, home.staff),
        )
        for number, part in enumerate(score.parts)
        for layer, home in enumerate(part.layers)
        if any(_sings(e) for bar in part.bars for e in bar.layers[layer])
    )


def _sings(event: Event[Written]) -> bool:
    return not event.cue and any(not isinstance(n.pitch, Drum) for n in event.notes)


def _heard(event: Event[Sounding]) -> Event[Sounding]:
    """An event's top note; nothing where it is a cue or a drum's."""
    pitched = [n for n in event.notes if not isinstance(n.pitch, Drum)]
    if event.cue or not pitched:
        return Event(event.at, event.duration)
    top = max(pitched, key=height)
    if len(event.notes) == 1:
        return event
    return Event(
        event.at, event.duration, (top,), event.value, event.marks, event.beams, event.lyrics,
        event.grace,
    )  # fmt: skip


def height(note: Note[Sounding]) -> float:
    """Semitones of a note; drums lie at the bottom."""
    return 0.0 if isinstance(note.pitch, Drum) else float(note.pitch.semitone)


def _levels(score: Document, part: int, staff: int) -> tuple[int, ...]:
    """How loud a staff is in each bar, as a place among the levels from the softest up."""
    level, found = _ORDINARY, []
    for bar in score.parts[part].bars:
        for direction in bar.directions:
            after = level_after(direction) if direction.staff in (0, staff) else ""
            level = _place(after) if after else level
        found.append(level)
    return tuple(found)


def _place(level: str) -> int:
    return -1 if level == "n" else LEVELS.index(level)


def most_prominent(
    sources: Sequence[Source], window: range, bars: Sequence[Bar], reader: int
) -> Source | None:
    """The line that stands out in some bars, other than those of the reader's own part.

    The sung tune first, then the loudest, where moving lines count as louder than held ones, then
    moving lines, then the highest (common practice, no source). It must sound in the last of the
    bars and for a good part of them all.
    """
    ranked = [
        (_prominence(source, window, bars), -number, source)
        for number, source in enumerate(sources)
        if source.part != reader and _sounds(source, window, bars)
    ]
    return max(ranked, key=lambda row: row[:2])[2] if ranked else None


def _sounds(source: Source, window: range, bars: Sequence[Bar]) -> bool:
    sounding = [sum(e.duration for e in source.bars[index] if e.notes) for index in window]
    whole = sum(bars[index].length for index in window)
    return sounding[-1] > 0 and sum(sounding) >= _HEARD * whole


def _prominence(
    source: Source, window: range, bars: Sequence[Bar]
) -> tuple[bool, int, bool, float]:
    events = [e for index in window for e in source.bars[index] if e.notes]
    sung = any(e.lyrics for e in events)
    length = fmean(bars[index].nominal for index in window)
    moving = fmean(e.duration for e in events) < _PAD * length
    loud = max(source.levels[index] for index in window)
    return sung, loud + _MOVING * moving, moving, fmean(height(n) for e in events for n in e.notes)
