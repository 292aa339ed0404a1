"""Chords too wide for any octave of an instrument: the heads out of range fold by themselves."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import chain

from msgspec.structs import replace

from expander.fitting.compass import Compass
from expander.fitting.moves import Move
from expander.fitting.octaves import SHIFTS
from expander.fitting.phrases import Phrase
from expander.model.pitch import Drum, Sounding
from expander.model.plan import Events
from expander.model.score import Event, Note


def heads_folded(
    bars: Mapping[int, Events], wide: Sequence[Phrase], reach: Compass
) -> dict[int, Events]:
    """The bars with each head of these units in range, where it has an octave of its own there."""
    places: dict[int, set[int]] = {}
    for place in chain.from_iterable(unit.places for unit in wide):
        places.setdefault(place.bar, set()).add(place.index)
    folded = {
        bar: tuple([_folded(e, reach) if i in here else e for i, e in enumerate(bars[bar])])
        for bar, here in places.items()
    }
    return {**bars, **folded}


def heads_moved(wide: Sequence[Phrase], reach: Compass) -> tuple[Move, ...]:
    """What is told of it: the heads that went up, and those that went down."""
    low = tuple([unit for unit in wide if unit.low < reach.low])
    high = tuple([unit for unit in wide if unit.high > reach.high])
    return tuple([Move(units, way, folded=True) for units, way in ((low, 1), (high, -1)) if units])


def _folded(event: Event[Sounding], reach: Compass) -> Event[Sounding]:
    taken = {note.pitch for note in event.notes}
    notes: list[Note[Sounding]] = []
    for note in event.notes:
        pitch = _in_range(note.pitch, taken, reach)
        taken.add(pitch)
        notes.append(note if pitch is note.pitch else replace(note, pitch=pitch))
    return replace(event, notes=tuple(sorted(notes, key=_height)))


def _height(note: Note[Sounding]) -> float:
    return 0.0 if isinstance(note.pitch, Drum) else float(note.pitch.semitone)


def _in_range(
    pitch: Sounding | Drum, taken: set[Sounding | Drum], reach: Compass
) -> Sounding | Drum:
    """The nearest octave of a pitch in range that no other head has, else as it is."""
    if isinstance(pitch, Drum) or reach.low <= pitch.semitone <= reach.high:
        return pitch
    octaves = [pitch.octave_moved(shift) for shift in SHIFTS]
    free = [p for p in octaves if reach.low <= p.semitone <= reach.high and p not in taken]
    return free[0] if free else pitch
