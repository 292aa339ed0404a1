"""Layers of several versions of a part on one list of slots, so that each has its place."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from itertools import count

from msgspec.structs import replace

from expander.model.pitch import Written
from expander.model.score import LayerId, Part, PartBar


def slots_for(parts: Sequence[Part[Written]]) -> tuple[LayerId, ...]:
    """As many layers on each staff as the fullest version has; names of the first version first."""
    staves = max(part.staves for part in parts)
    most = {s: max(_on_staff(part, s) for part in parts) for s in range(1, staves + 1)}
    most[1] = max(most[1], 1)
    named: dict[tuple[int, int], str] = {}
    for part in parts:
        _name(named, part.layers)
    free = (str(n) for n in count(1) if str(n) not in set(named.values()))
    return tuple(
        LayerId(staff, named[staff, place] if (staff, place) in named else next(free))
        for staff in range(1, staves + 1)
        for place in range(most[staff])
    )


def _on_staff(part: Part[Written], staff: int) -> int:
    return sum(layer.staff == staff for layer in part.layers)


def _name(named: dict[tuple[int, int], str], layers: Iterable[LayerId]) -> None:
    """Give the names of some layers to the slots that have none, each name once."""
    places: Counter[int] = Counter()
    for layer in layers:
        slot = (layer.staff, places[layer.staff])
        places[layer.staff] += 1
        if slot not in named and layer.voice not in named.values():
            named[slot] = layer.voice


def on_slots(part: Part[Written], slots: tuple[LayerId, ...]) -> Part[Written]:
    """The part with its layers on the slots; directions follow their voices."""
    staves = max(slot.staff for slot in slots)
    if part.layers == slots:
        return replace(part, staves=staves)
    order = _order(part.layers, slots)
    voices = {part.layers[i].voice: slots[s].voice for s, i in enumerate(order) if i is not None}
    bars = tuple([_bar(bar, order, voices) for bar in part.bars])
    return replace(part, staves=staves, layers=slots, bars=bars)


def _order(layers: Sequence[LayerId], slots: Sequence[LayerId]) -> list[int | None]:
    """For each slot the index of the part's layer in it."""
    left = {s.staff: [i for i, la in enumerate(layers) if la.staff == s.staff] for s in slots}
    return [left[slot.staff].pop(0) if left[slot.staff] else None for slot in slots]


def _bar(
    bar: PartBar[Written], order: Sequence[int | None], voices: dict[str, str]
) -> PartBar[Written]:
    layers = tuple([() if i is None else bar.layers[i] for i in order])
    directions = bar.directions
    if any(d.voice in voices and voices[d.voice] != d.voice for d in directions):
        directions = tuple([replace(d, voice=voices.get(d.voice, "")) for d in directions])
    return replace(bar, layers=layers, directions=directions)
