"""The playback sounds of a part under one set of ids in all versions.

Programs give sounds new ids, and some keep only one of them. What the new score has stands;
what else the hand's version has joins it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from expander.merge.grid import Layer
from expander.merge.same import direction_signs
from expander.model.memo import ByIdentity
from expander.model.pitch import Drum, Written
from expander.model.score import Carried, Direction, Event, Mark, Note, Part, PartBar, Sound

_ID = re.compile(r'\bid="([^"]*)"')


class Band(Struct, frozen=True):
    """A part's sounds, and its versions with the ids of these sounds (None: not in a version)."""

    sounds: tuple[Sound, ...]
    old: Part[Written] | None
    new: Part[Written] | None
    edited: Part[Written] | None


def one_band(
    old: Part[Written] | None, new: Part[Written] | None, edited: Part[Written] | None
) -> Band:
    """The versions of a part with one set of sounds."""
    versions = [part for part in (new, edited, old) if part is not None]
    sounds = list(versions[0].sounds)
    named = [_joined(part, sounds) for part in versions]
    renamed = {id(p): _with_ids(p, ids) for p, ids in zip(versions, named, strict=True)}
    made = [None if part is None else renamed[id(part)] for part in (old, new, edited)]
    if made[2] is not None and edited is not None and len(edited.sounds) < 2 and made[0]:
        made[2] = _resounded(made[2], made[0])
    return Band(tuple(sounds), *made)


def _joined(part: Part[Written], sounds: list[Sound]) -> dict[str, str]:
    """The ids of a part's sounds in the list, which gets those that it lacks."""
    ids: dict[str, str] = {}
    for sound in part.sounds:
        left = [s for s in sounds if s.id not in ids.values()]
        same = next((s for s in left if s.name == sound.name), None) or next(
            (s for s in left if sound.sound and s.sound == sound.sound), None
        )
        if same is None:
            taken = {s.id for s in sounds}
            same = replace(sound, id=_free(sound.id, taken))
            sounds.append(same)
        ids[sound.id] = same.id
    return ids


def _free(wanted: str, taken: set[str]) -> str:
    name = wanted
    while name in taken:
        name += "x"
    return name


def _with_ids(part: Part[Written], ids: Mapping[str, str]) -> Part[Written]:
    if all(mine == ours for mine, ours in ids.items()):
        return part
    return _changed(part, lambda note: _note(note, ids), lambda mark: _mark(mark, ids))


def _note(note: Note[Written], ids: Mapping[str, str]) -> Note[Written]:
    pitch = note.pitch
    if isinstance(pitch, Drum) and pitch.instrument in ids:
        note = replace(note, pitch=replace(pitch, instrument=ids[pitch.instrument]))
    if any(m.name == "instrument" for m in note.marks):
        marks = [
            m.having(id=ids.get(m.get("id"), m.get("id"))) if m.name == "instrument" else m
            for m in note.marks
        ]
        note = replace(note, marks=tuple(marks))
    return note


def _mark(mark: Mark, ids: Mapping[str, str]) -> Mark:
    if "id=" not in mark.inner:
        return mark
    inner = _ID.sub(lambda m: f'id="{ids.get(m[1], m[1])}"', mark.inner)
    return replace(mark, inner=inner)


def _resounded(edited: Part[Written], old: Part[Written]) -> Part[Written]:
    """Drums that a program left without sounds, with those the old score has at their places."""
    known: dict[tuple[int, int, str], str] = {}
    for bar in old.bars:
        for event in (e for layer in bar.layers for e in layer):
            for note in event.notes:
                if isinstance(note.pitch, Drum) and note.pitch.instrument:
                    known.setdefault(_look(note, note.pitch), note.pitch.instrument)
    if not known:
        return edited

    def sounding(note: Note[Written]) -> Note[Written]:
        pitch = note.pitch
        if not isinstance(pitch, Drum) or pitch.instrument:
            return note
        sound = known.get(_look(note, pitch), "")
        return replace(note, pitch=replace(pitch, instrument=sound)) if sound else note

    return _changed(edited, sounding, lambda mark: mark)


def with_sounds(
    edited: Part[Written], old: Part[Written], pairs: Iterable[tuple[int, int]]
) -> Part[Written]:
    """The edited part with playback that a program lost from its directions, as it was.

    Which instrument a player takes up is said there, and no hand takes it out.
    """
    bars = list(edited.bars)
    for before, after in pairs:
        heard = [d for d in old.bars[before].directions if d.sound is not None]
        if heard and after < len(bars):
            directions = tuple([_sounding(d, heard) for d in bars[after].directions])
            if directions != bars[after].directions:
                bars[after] = replace(bars[after], directions=directions)
    return replace(edited, bars=tuple(bars))


def _sounding(direction: Direction, heard: Sequence[Direction]) -> Direction:
    """A direction with the playback of the one that says the same at its place."""
    if direction.sound is not None and direction.sound.inner:
        return direction
    says = {sign for sign, _ in direction_signs(direction)}
    for other in heard:
        if says & {sign for sign, _ in direction_signs(other)}:
            tells = other.sound is not None and bool(other.sound.inner)
            return replace(
                direction, sound=other.sound if tells else direction.sound or other.sound
            )
    return direction


def _look(note: Note[Written], pitch: Drum) -> tuple[int, int, str]:
    head = note.head.text if note.head is not None else "normal"
    return pitch.step, pitch.octave, head


def _changed(
    part: Part[Written],
    note: Callable[[Note[Written]], Note[Written]],
    mark: Callable[[Mark], Mark],
) -> Part[Written]:
    """The part with its notes and playback marks changed; bars that share music still do."""
    kept: ByIdentity[Layer] = ByIdentity()

    def layer(events: Layer) -> Layer:
        return kept.get((events,), 0, lambda: tuple([_event(e, note) for e in events]))

    def bar(one: PartBar[Written]) -> PartBar[Written]:
        return replace(
            one,
            layers=tuple([layer(la) for la in one.layers]),
            directions=tuple([_direction(d, mark) for d in one.directions]),
            carried=tuple([Carried(c.at, mark(c.mark)) for c in one.carried]),
        )

    return replace(part, bars=tuple([bar(b) for b in part.bars]))


def _event(
    event: Event[Written], change: Callable[[Note[Written]], Note[Written]]
) -> Event[Written]:
    if not event.notes:
        return event
    return replace(event, notes=tuple([change(n) for n in event.notes]))


def _direction(direction: Direction, change: Callable[[Mark], Mark]) -> Direction:
    if direction.sound is None:
        return direction
    return replace(direction, sound=change(direction.sound))
