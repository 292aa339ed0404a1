"""Harmonics as a player reads them.

The sketch gives what sounds. A natural harmonic stands at its sounding pitch under a circle; an
artificial one as the stopped note with a diamond a fourth above it, sounding two octaves above
the stopped note (hansenmedia.net, "The string section: terminology and effects"; Sametini in
F. H. Martens, *Violin Mastery*, 1919). A harp harmonic stands an octave below what sounds
(M. Zager, *Writing Music for Television and Radio Commercials*, p. 120).
"""

from __future__ import annotations

from msgspec.structs import replace

from expander.model.instrument import Instrument
from expander.model.pitch import Drum, Interval, Sounding
from expander.model.score import Event, Mark, Note

PERFECT_FOURTH = Interval(3, 5)
TWO_OCTAVES = Interval.octaves(2)
NATURAL_PARTIALS = (12, 19, 24, 28)
"""Semitones above the open string of partials 2 to 5, the ones orchestral players rely on."""

ARTIFICIAL_SPAN = 25
"""Semitones of stopped notes from the lowest on: violin A flat 3 to A5 (common practice)."""

_NATURAL = Mark("technical", "harmonic", (), "", "<natural/>")
_UNSEEN = (("print-object", "no"),)  # the diamond says it already
_BASE = Mark("technical", "harmonic", _UNSEEN, "", "<artificial/><base-pitch/>")
_TOUCH = Mark("technical", "harmonic", _UNSEEN, "", "<artificial/><touching-pitch/>")
_DIAMOND = Mark("note", "notehead", (), "diamond")


def harmonic_compass(instrument: Instrument) -> tuple[float, float] | None:
    """Sounding semitones that the instrument can play as artificial harmonics, or None."""
    if not instrument.strings or instrument.transposition.octave:
        return None
    lowest = min(float(s.semitone) for s in instrument.strings) + 1
    return lowest + 24, lowest + 24 + ARTIFICIAL_SPAN


def as_harmonics(event: Event[Sounding], instrument: Instrument) -> Event[Sounding]:
    """The event with each note as a harmonic where the instrument has one."""
    notes = tuple(n for note in event.notes for n in _harmonic(note, instrument))
    return replace(event, notes=notes)


def _harmonic(note: Note[Sounding], instrument: Instrument) -> tuple[Note[Sounding], ...]:
    if isinstance(note.pitch, Drum):
        return (note,)
    if not instrument.strings:
        return (_octave_lower(note),)
    if is_natural(note.pitch, instrument):
        return (_marked(note, _NATURAL),)
    compass = harmonic_compass(instrument)
    if compass is None or not compass[0] <= note.pitch.semitone <= compass[1]:
        return (note,)
    return _stopped_and_touched(note, note.pitch)


def is_natural(pitch: Sounding, instrument: Instrument) -> bool:
    """Whether an open string has that note as one of its safe partials."""
    return any(pitch.semitone - s.semitone in NATURAL_PARTIALS for s in instrument.strings)


def _octave_lower(note: Note[Sounding]) -> Note[Sounding]:
    if isinstance(note.pitch, Drum):
        return note
    return _marked(replace(note, pitch=note.pitch.octave_moved(-1)), _NATURAL)


def _stopped_and_touched(note: Note[Sounding], pitch: Sounding) -> tuple[Note[Sounding], ...]:
    stopped = pitch.moved(-TWO_OCTAVES)
    touched = stopped.moved(PERFECT_FOURTH)
    return (
        _marked(replace(note, pitch=stopped), _BASE),
        _marked(replace(note, pitch=touched, head=_DIAMOND, accidental=None), _TOUCH),
    )


def _marked(note: Note[Sounding], mark: Mark) -> Note[Sounding]:
    return replace(note, marks=(*note.marks, mark))
