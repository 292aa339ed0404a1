"""The legend of a percussion staff: which sound stands where, told at the first note."""

from __future__ import annotations

from collections.abc import Sequence

from expander.model.pitch import Drum
from expander.model.score import Direction
from expander.notate.colours import words
from expander.notate.lanes import Lane, first_note


def legend(lanes: Sequence[Lane]) -> dict[int, list[Direction]]:
    """Names of the drums used, from the lowest place up, where there are several."""
    places: dict[str, int] = {}
    for lane in lanes:
        for bar, events in lane.bars.items():
            if not any([p.instrument.drum_keys for p in lane.pieces[bar]]):
                continue
            for note in (note for event in events for note in event.notes):
                if isinstance(note.pitch, Drum) and note.pitch.instrument:
                    drum = note.pitch
                    places.setdefault(drum.instrument, 7 * drum.octave + drum.step)
    if len(places) < 2:
        return {}
    names = sorted(places, key=lambda name: (places[name], name))
    bar, at = min((bar, first_note(lane.bars[bar])) for lane in lanes for bar in lane.bars)
    return {bar: [words(f"from below: {', '.join(names)}", at)]}
