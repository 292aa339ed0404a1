"""Harmonics as they sound: whoever plays the line next has none, or others.

A stopped and touched pair (a fourth apart) sounds two octaves above the stopped note, a harp's
harmonic an octave above the written one; a natural harmonic of a bowed string stands where it
sounds (common practice, as this package writes them).
"""

from __future__ import annotations

from msgspec.structs import replace

from expander.model.pitch import Drum, Sounding
from expander.model.plan import Events
from expander.model.score import Event, Mark, Note

HARMONIC = "harmonic"


def as_heard(events: Events, plucked: bool) -> Events:
    """A bar with its harmonics as plain sounding notes. `plucked` is true for the harp."""
    if not any(is_harmonic(event) for event in events):
        return events
    return tuple(_event(e, plucked) if is_harmonic(e) else e for e in events)


def is_harmonic(event: Event[Sounding]) -> bool:
    """True where a head is marked as a harmonic."""
    return any(_mark(note) for note in event.notes) or any(m.name == HARMONIC for m in event.marks)


def _mark(note: Note[Sounding]) -> Mark | None:
    return next((m for m in note.marks if m.name == HARMONIC), None)


def _event(event: Event[Sounding], plucked: bool) -> Event[Sounding]:
    touched = [n for n in event.notes if _says(n, "touching-pitch") and _says(n, "artificial")]
    others = [n for n in event.notes if n not in touched] or touched
    notes = tuple(_note(n, plucked) for n in others)
    if others is not touched:
        for note in touched:
            notes = (notes[0].standing_for(note), *notes[1:])
    return replace(event, notes=notes, marks=tuple(m for m in event.marks if m.name != HARMONIC))


def _says(note: Note[Sounding], element: str) -> bool:
    mark = _mark(note)
    return mark is not None and f"<{element}" in mark.inner


def _note(note: Note[Sounding], plucked: bool) -> Note[Sounding]:
    mark = _mark(note)
    if mark is None or isinstance(note.pitch, Drum):
        return note
    octaves = 2 if _says(note, "base-pitch") else int(plucked)
    marks = tuple(m for m in note.marks if m is not mark)
    return replace(note, pitch=note.pitch.octave_moved(octaves), marks=marks, head=None)
