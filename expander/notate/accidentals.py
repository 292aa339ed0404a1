"""Accidentals: as the key and the bar ask for, none missing and none too many."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from functools import cache
from operator import is_not

from msgspec.structs import replace

from expander.model.pitch import Alter, Drum, Written
from expander.model.score import Event, Mark, Note

NAMES: dict[Alter, str] = {
    0: "natural",
    1: "sharp",
    -1: "flat",
    2: "double-sharp",
    -2: "flat-flat",
    3: "triple-sharp",
    -3: "triple-flat",
    Fraction(1, 2): "quarter-sharp",
    Fraction(-1, 2): "quarter-flat",
    Fraction(3, 2): "three-quarters-sharp",
    Fraction(-3, 2): "three-quarters-flat",
}
"""MusicXML accidental values by alteration in semitones."""

_SHARP_ORDER = (3, 0, 4, 1, 5, 2, 6)  # F C G D A E B
_COURTESY = ("cautionary", "editorial", "parentheses", "bracket")

Layers = tuple[tuple[Event[Written], ...], ...]


def key_alters(fifths: int) -> list[int]:
    """The alteration of each letter from C to B under a key signature."""
    sign, order = (1, _SHARP_ORDER) if fifths > 0 else (-1, _SHARP_ORDER[::-1])
    turns, left = divmod(abs(fifths), 7)
    alters = [0] * 7
    for place, step in enumerate(order):
        alters[step] = sign * (turns + (place < left))
    return alters


def with_accidentals(
    layers: Layers, fifths: int, changes: Sequence[tuple[int, int]] = ()
) -> Layers:
    """The layers of one bar of one staff with the accidentals a reader needs.

    `changes` are key changes inside the bar as (tick, fifths). A tied note carries its
    accidental over the barline but not to the rest of the bar. Courtesy accidentals that the
    sketch marked as such stay.
    """
    alters = key_alters(fifths)
    seen: dict[tuple[int, int], Alter] = {}
    waiting = list(changes)
    result = [list(layer) for layer in layers]
    for at, _, layer, index in _in_reading_order(layers):
        while waiting and waiting[0][0] <= at:
            alters, seen = key_alters(waiting.pop(0)[1]), {}
        event = layers[layer][index]
        notes = tuple([_shown(note, alters, seen) for note in event.notes])
        if any(map(is_not, notes, event.notes)):
            result[layer][index] = replace(event, notes=notes)
    return tuple(
        tuple(new) if any(map(is_not, old, new)) else old
        for old, new in zip(layers, result, strict=True)
    )


def _in_reading_order(layers: Layers) -> list[tuple[int, bool, int, int]]:
    """Places of sounding events: by time, grace notes first, the upper voice before the lower."""
    return sorted(
        (event.at, event.grace is None, layer, order)
        for layer, events in enumerate(layers)
        for order, event in enumerate(events)
        if event.notes
    )


def _shown(
    note: Note[Written], alters: Sequence[int], seen: dict[tuple[int, int], Alter]
) -> Note[Written]:
    pitch = note.pitch
    if isinstance(pitch, Drum):
        return note
    place = (pitch.step, pitch.octave)
    if note.tie_stop:
        return _with(note, None)
    needed = seen.get(place, alters[pitch.step]) != pitch.alter
    if needed:
        seen[place] = pitch.alter
        return _with(note, _sign(pitch.alter))
    courtesy = note.accidental and any(note.accidental.get(a) == "yes" for a in _COURTESY)
    if courtesy and note.accidental:
        kept = Mark("note", "accidental", note.accidental.attributes, _name(pitch.alter))
        return _with(note, kept)
    return _with(note, None)


def _with(note: Note[Written], accidental: Mark | None) -> Note[Written]:
    known = note.accidental
    if known is accidental or known == accidental:
        return note
    return replace(note, accidental=accidental)


@cache
def _sign(alter: Alter) -> Mark:
    return Mark("note", "accidental", (), _name(alter))


def _name(alter: Alter) -> str:
    return NAMES.get(alter, "other")
