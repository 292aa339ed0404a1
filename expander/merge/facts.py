"""What a bar of a part says, as facts that can be held against each other one by one.

A fact has a key (what kind of thing, where) and a value. Facts are of one version of the score;
two versions of a bar are the same music where their facts are equal (see `same`). Marks with two
ends are not among them (`spans`), nor what is in force at the bar's start (`force`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from expander.merge.grid import Layer
from expander.merge.same import (
    Sign,
    barline_signs,
    change_sign,
    direction_signs,
    event_sign,
    harmony_sign,
    is_look,
    is_music,
    lyric_sign,
    mark_sign,
    pitch_sign,
)
from expander.model.memo import ByIdentity
from expander.model.pitch import Transposition, Written
from expander.model.score import (
    Clef,
    Event,
    Key,
    LayerId,
    Mark,
    Note,
    Part,
    PartBar,
    Time,
)

NOTES, MARKS, LYRIC, DIRECTION = "notes", "marks", "lyric", "direction"
SYMBOL, ATTRIBUTE, BARLINE, OTHER = "chord symbol", "attribute", "barline", "other"

FactKey = tuple[object, ...]
"""The kind first, then the place: (MARKS, staff, tick, grace), (SYMBOL, tick) ..."""

Facts = dict[FactKey, object]

SETS = frozenset({MARKS, DIRECTION, SYMBOL, OTHER})
"""Kinds whose value is a set of signs."""

KINDS: Mapping[type, str] = {Clef: "clef", Key: "key", Time: "time", Transposition: "transpose"}


def sounds_of(part: Part[Written]) -> dict[str, str]:
    """The names of a part's sounds by their ids."""
    return {sound.id: sound.name for sound in part.sounds}


def grace_places(layer: Sequence[Event[Written]]) -> list[int]:
    """For each event 0, or for a grace note how many events from it to the note it leads to."""
    places: list[int] = []
    place, at = 0, None
    for event in reversed(layer):
        place = place + 1 if event.at == at and event.grace is not None else 0
        if event.grace is not None and not place:
            place = 1  # behind the last note
        at = event.at
        places.append(place)
    return places[::-1]


class FactReader:
    """Reads the facts of one part's bars; what bars share is read once."""

    def __init__(self, part: Part[Written], sounds: Mapping[str, str]) -> None:
        self.homes: tuple[LayerId, ...] = part.layers
        self.sounds = dict(sounds)
        self._layers: ByIdentity[tuple[tuple[Sign, ...], Facts]] = ByIdentity()

    def facts(self, bar: PartBar[Written]) -> Facts:
        """All facts of a bar."""
        found: Facts = {}
        notes: dict[int, list[Sign]] = {}
        for slot, layer in zip(self.homes, bar.layers, strict=True):
            if not layer:
                continue
            events, hung = self._known(layer, slot.staff)
            if events:
                notes.setdefault(slot.staff, []).extend(events)
            for key, value in hung.items():
                _add(found, key, value)
        for staff, signs in notes.items():
            found[NOTES, staff] = tuple(sorted(signs, key=repr))
        _add_signs(found, bar)
        return found

    def _known(self, layer: Layer, staff: int) -> tuple[tuple[Sign, ...], Facts]:
        return self._layers.get((layer,), staff, lambda: self._layer(layer, staff))

    def _layer(self, layer: Layer, staff: int) -> tuple[tuple[Sign, ...], Facts]:
        signs = tuple([event_sign(e, staff, self.sounds) for e in layer if e.notes])
        hung: Facts = {}
        for event, grace in zip(layer, grace_places(layer), strict=True):
            marks = frozenset(mark for mark, _, _ in hanging(event, self.sounds))
            if marks:
                _add(hung, (MARKS, staff, event.at, grace), marks)
            for lyric in event.lyrics:
                if lyric.text.strip():
                    hung[LYRIC, staff, event.at, grace, lyric.verse] = lyric_sign(lyric)
        return signs, hung


def hanging(
    event: Event[Written], sounds: Mapping[str, str]
) -> Iterator[tuple[Sign, Mark, Note[Written] | None]]:
    """The marks on an event with their signs; those of one head with it.

    A harmonic is taken for the whole chord's, as a stopped note and the node above it are one.
    """
    for mark in event.marks:
        if is_music(mark):
            yield mark_sign(mark), mark, None
    for note in event.notes:
        for mark in note.marks:
            if is_music(mark):
                of_head = () if mark.name == "harmonic" else (pitch_sign(note.pitch, sounds),)
                yield (*mark_sign(mark), *of_head), mark, note


def _add(facts: Facts, key: FactKey, value: object) -> None:
    before = facts.get(key)
    if isinstance(before, frozenset) and isinstance(value, frozenset):
        value = before | value
    facts[key] = value


def _add_signs(facts: Facts, bar: PartBar[Written]) -> None:
    for direction in bar.directions:
        for sign, mark in direction_signs(direction):
            if not (mark.name == "words" and not mark.text.strip()):
                _add(facts, (DIRECTION, *sign[:3]), frozenset({sign[2:]}))
    for harmony in bar.harmonies:
        _add(facts, (SYMBOL, harmony.at), frozenset({harmony_sign(harmony)}))
    for change in bar.changes:
        kind = KINDS.get(type(change.what))
        if kind is None and not is_companion(change.what):
            key = (OTHER, change.at, change.staff, change_sign(change)[0])
            _add(facts, key, frozenset({change_sign(change)}))
        elif kind and change.at:
            facts[ATTRIBUTE, change.at, change.staff or 1, kind] = change_sign(change)
    for barline in bar.barlines:
        for aspect, value in barline_signs(barline):
            facts[BARLINE, barline.location, barline.at, aspect] = value
    for carried in bar.carried:
        if not is_look(carried.mark):
            key = (OTHER, carried.at, 0, carried.mark.name)
            _add(facts, key, frozenset({mark_sign(carried.mark)}))


def is_companion(what: object) -> bool:
    """True for the mark that holds the rest of a clef's, key's or time's element, and for looks."""
    return isinstance(what, Mark) and (what.name in KINDS.values() or is_look(what))
