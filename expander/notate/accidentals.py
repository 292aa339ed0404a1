"""Accidentals: as the key and the bar ask for, none missing and none too many."""

from __future__ import annotations

from collections.abc import Container, Sequence
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
Place = tuple[int, int, int]
"""A letter and its octave on a staff: what an accidental holds for."""


@cache
def key_alters(fifths: int) -> tuple[int, ...]:
    """The alteration of each letter from C to B under a key signature."""
    sign, order = (1, _SHARP_ORDER) if fifths > 0 else (-1, _SHARP_ORDER[::-1])
    turns, left = divmod(abs(fifths), 7)
    alters = [0] * 7
    for place, step in enumerate(order):
        alters[step] = sign * (turns + (place < left))
    return tuple(alters)


@cache
def _in_key(fifths: int) -> frozenset[Written]:
    """The pitches that a key signature has, in every octave."""
    alters = enumerate(key_alters(fifths))
    return frozenset(Written(step, alter, o) for step, alter in alters for o in range(-1, 11))


def with_accidentals(
    layers: Layers,
    fifths: int,
    changes: Sequence[tuple[int, int]] = (),
    staves: Sequence[int] = (),
) -> Layers:
    """The layers of one bar with the accidentals a reader needs.

    They are those of one staff, or of the `staves` named for each layer. `changes` are key changes
    inside the bar as (tick, fifths). A tied note carries its accidental over the barline but not
    to the rest of the bar. Courtesy accidentals that the sketch marked as such stay. The sign of a
    grace note does not do for another voice's note that it stands beside.
    """
    if not changes and _all_plain(layers, _in_key(fifths)):
        return layers
    alters = key_alters(fifths)
    seen: dict[Place, Alter] = {}
    graces: _Graces | None = None
    waiting = list(changes)
    result: dict[int, list[Event[Written]]] = {}
    for layer, index, event in _in_reading_order(layers):
        while waiting and waiting[0][0] <= event.at:
            alters, seen = key_alters(waiting.pop(0)[1]), {}
        beside = graces.beside(layer, event) if graces else ()
        staff = staves[layer] if staves else 0
        notes = [_shown(note, staff, alters, seen, beside) for note in event.notes]
        if event.grace is not None:
            graces = graces or _Graces()
            graces.keep(layer, event.at, notes, staff)
        if any(map(is_not, notes, event.notes)):
            if layer not in result:
                result[layer] = list(layers[layer])
            result[layer][index] = replace(event, notes=tuple(notes))
    if not result:
        return layers
    return tuple([tuple(result[i]) if i in result else old for i, old in enumerate(layers)])


class _Graces:
    """The grace notes of one moment: their voices, and what they showed an accidental for."""

    def __init__(self) -> None:
        self.at = -1
        self.layers: set[int] = set()
        self.shown: set[Place] = set()

    def keep(self, layer: int, at: int, notes: Sequence[Note[Written]], staff: int) -> None:
        if at != self.at:
            self.at, self.layers, self.shown = at, set(), set()
        self.layers.add(layer)
        shown = [note for note in notes if note.accidental is not None]
        self.shown.update([(n.voice_staff or staff, n.pitch.step, n.pitch.octave) for n in shown])

    def beside(self, layer: int, event: Event[Written]) -> Container[Place]:
        """What they showed just before an event, of their moment in a voice without graces."""
        here = event.at == self.at and event.grace is None and layer not in self.layers
        return self.shown if here else ()


def _all_plain(layers: Layers, in_key: frozenset[Written]) -> bool:
    """Whether every note is as the key has it, with no sign to take away."""
    for events in layers:  # a loop, as this is asked of every bar of every player
        for event in events:
            for note in event.notes:
                if note.pitch not in in_key or note.accidental is not None:
                    return False
    return True


def _in_reading_order(layers: Layers) -> list[tuple[int, int, Event[Written]]]:
    """Sounding events with their places: by time, grace notes first, the upper voice first."""
    found = [
        (layer, index, event)
        for layer, events in enumerate(layers)
        for index, event in enumerate(events)
        if event.notes
    ]
    found.sort(key=lambda place: (place[2].at, place[2].grace is None))
    return found


def _shown(
    note: Note[Written],
    staff: int,
    alters: Sequence[int],
    seen: dict[Place, Alter],
    beside: Container[Place],
) -> Note[Written]:
    pitch = note.pitch
    if isinstance(pitch, Drum):
        return note
    if note.tie_stop:
        return _with(note, None)
    alter = pitch.alter
    place = (note.voice_staff or staff, pitch.step, pitch.octave)
    if seen.get(place, alters[pitch.step]) != alter or place in beside:
        seen[place] = alter
        return _with(note, _sign(alter))
    if note.accidental is None:
        return note
    if any(note.accidental.get(a) == "yes" for a in _COURTESY):
        return _with(note, Mark("note", "accidental", note.accidental.attributes, _name(alter)))
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
