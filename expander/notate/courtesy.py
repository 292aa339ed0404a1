"""Courtesy accidentals of the sketch: those that its own key and bar did not ask for.

They are marked as such before lines are taken apart, so that each player gets them too, however
the line is moved.
"""

from __future__ import annotations

from collections.abc import Sequence

from msgspec.structs import replace

from expander.model.pitch import Alter, Drum, Sounding
from expander.model.score import Event, Key, Mark, Note, Part, PartBar, Sketch
from expander.notate.accidentals import key_alters

Seen = dict[tuple[int, int], Alter]


def with_courtesies(sketch: Sketch) -> Sketch:
    """The sketch with every needless accidental marked `cautionary`."""
    return replace(sketch, parts=tuple(_part(part) for part in sketch.parts))


def _part(part: Part[Sounding]) -> Part[Sounding]:
    bars: list[PartBar[Sounding]] = []
    keys = dict.fromkeys(range(1, part.staves + 1), 0)
    for bar in part.bars:
        bars.append(_bar(part, bar, keys))
    if all(a is b for a, b in zip(bars, part.bars, strict=True)):
        return part
    return replace(part, bars=tuple(bars))


def _bar(part: Part[Sounding], bar: PartBar[Sounding], keys: dict[int, int]) -> PartBar[Sounding]:
    inside = False
    for change in bar.changes:
        if isinstance(change.what, Key):
            inside |= change.at > 0
            for staff in [change.staff] if change.staff else list(keys):
                keys[staff] = change.what.fifths
    if inside or not any(_shows(e) for layer in bar.layers for e in layer):
        return bar  # a key that changes inside the bar makes any accidental reasonable
    layers = list(bar.layers)
    for staff, fifths in keys.items():
        mine = [i for i, layer in enumerate(part.layers) if layer.staff == staff]
        _mark(layers, mine, key_alters(fifths))
    if all(a is b for a, b in zip(layers, bar.layers, strict=True)):
        return bar
    return replace(bar, layers=tuple(layers))


def _shows(event: Event[Sounding]) -> bool:
    return any(note.accidental for note in event.notes)


def _mark(
    layers: list[tuple[Event[Sounding], ...]], mine: list[int], alters: Sequence[int]
) -> None:
    """Go through one staff in time and mark what was needless."""
    seen: Seen = {}
    order = sorted(
        (event.at, number, place)
        for number in mine
        for place, event in enumerate(layers[number])
        if event.notes
    )
    for _, number, place in order:
        event = layers[number][place]
        notes = tuple(_note(note, alters, seen) for note in event.notes)
        if any(a is not b for a, b in zip(notes, event.notes, strict=True)):
            layer = layers[number]
            new = replace(event, notes=notes)
            layers[number] = (*layer[:place], new, *layer[place + 1 :])


def _note(note: Note[Sounding], alters: Sequence[int], seen: Seen) -> Note[Sounding]:
    pitch = note.pitch
    if isinstance(pitch, Drum):
        return note
    place = (pitch.step, pitch.octave)
    needed = seen.get(place, alters[pitch.step]) != pitch.alter
    if not note.tie_stop:
        seen[place] = pitch.alter
    if note.accidental is None or needed:
        return note
    return replace(note, accidental=_cautionary(note.accidental))


def _cautionary(accidental: Mark) -> Mark:
    if accidental.get("cautionary") or accidental.get("editorial"):
        return accidental
    return accidental.having(cautionary="yes")
