"""A stave with as many layers as players, whose chords belong to several of them.

A copyist gives two parts on one stave one stem where they move together and two where they do
not (common practice; Gardner Read, Music Notation, on two parts on one staff, from memory). A
chord of one layer therefore belongs to this layer and to those in which nothing is written for as
long as it lasts, neither note nor rest: they take its notes from the top down. Where all others
are written out the chord is one player's, as double stops are.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from msgspec.structs import replace

from expander.model.pitch import Drum, Sounding
from expander.model.plan import Events
from expander.model.score import Event, Note
from expander.voicing.chains import semitone

Bars = Mapping[int, tuple[Events, ...]]
Spans = list[list[tuple[int, int]]]


def parted(bars: Bars, players: int) -> Bars:
    """The bars with such chords given to their layers; as they are where there are none."""
    layers = max((len(bar) for bar in bars.values()), default=0)
    if layers < 2 or layers != players:
        return bars
    found = {index: _bar(bar, players) for index, bar in bars.items()}
    return found if any(found[index] is not bar for index, bar in bars.items()) else bars


def _bar(layers: tuple[Events, ...], players: int) -> tuple[Events, ...]:
    if not any(_is_chord(event) for layer in layers for event in layer):
        return layers
    taken: Spans = [[(e.at, e.end) for e in layer if e.duration] for layer in layers]
    taken += [[] for _ in range(players - len(layers))]
    rows: list[list[Event[Sounding]]] = [[] for _ in range(players)]
    for place, layer in enumerate(layers):
        for event in layer:
            for row, part in _shared_out(event, place, taken):
                rows[row].append(part)
    return tuple(tuple(sorted(row, key=lambda e: (e.at, e.duration > 0))) for row in rows)


def _is_chord(event: Event[Sounding]) -> bool:
    pitched = all(not isinstance(note.pitch, Drum) for note in event.notes)
    return len(event.notes) > 1 and event.duration > 0 and not event.cue and pitched


def _shared_out(
    event: Event[Sounding], place: int, taken: Spans
) -> Iterator[tuple[int, Event[Sounding]]]:
    """The layers of an event with what each has of it."""
    layers = _layers_of(event, place, taken) if _is_chord(event) else [place]
    if len(layers) == 1:
        yield place, event
        return
    notes: list[Note[Sounding]] = sorted(event.notes, key=semitone, reverse=True)
    for layer, note in zip(layers, notes, strict=True):
        if layer != place:
            taken[layer].append((event.at, event.end))
        yield layer, replace(event, notes=(note,))


def _layers_of(event: Event[Sounding], place: int, taken: Spans) -> list[int]:
    """Its own layer and free ones below, then above; its own alone where they are too few."""
    free = [
        layer
        for layer, spans in enumerate(taken)
        if layer == place or not any(a < event.end and event.at < b for a, b in spans)
    ]
    size, own = len(event.notes), free.index(place)
    if len(free) < size:
        return [place]
    first = min(own, len(free) - size)
    return free[first : first + size]
