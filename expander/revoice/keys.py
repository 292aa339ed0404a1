"""Another key: by interval, by semitones or by name; spelling, signatures and symbols with it.

Conventions
    Intervals as in `model.pitch`: letter steps and semitones, upwards positive. Pitches sounding.
"""

from __future__ import annotations

import re
from bisect import bisect_right

from msgspec import Struct
from msgspec.structs import replace

from expander.errors import BadUsage
from expander.model.pitch import LETTERS, UNISON, Drum, Interval, Pitch, Sounding
from expander.model.score import Change, Event, Harmony, Key, Note, PartBar, Sketch

MOST_SIGNS = 6
"""Accidentals of a signature beyond which the enharmonic key is taken (usual spelling)."""

_INTERVAL = re.compile(r"^(?:(up|down|\+|-)\s*)?(P|M|m|A|d)(\d{1,2})$")
_SEMITONES = re.compile(r"^([+-]?\d{1,2})$")
_KEY = re.compile(
    r"^([A-Ga-g])[\s-]*(#|b|♯|♭|sharp|flat|)[\s-]*(m|maj|major|min|minor|)$", re.IGNORECASE
)
_STEPS = (0, 2, 4, 5, 7, 9, 11)
_PERFECT = frozenset({0, 3, 4})
_QUALITIES = {"P": 0, "M": 0, "m": -1, "A": 1, "d": -1}
_SIGNS = {"#": 1, "♯": 1, "sharp": 1, "b": -1, "♭": -1, "flat": -1, "": 0}
_FIFTHS = (0, 2, 4, -1, 1, 3, 5)
"""Signature of the major key on each letter."""

_EXPECTED = "expected an interval (M3, -m2, 'down P4'), semitones (+2, -3), or a key (Eb, F#m)"


def interval_for(text: str, sketch: Sketch) -> Interval:
    """What `--transpose` asks for. A key is reached the shorter way, a tritone downwards.

    Spelled so that the piece's first signature has no more than six accidentals. Raises BadUsage
    for what is neither interval nor key.
    """
    wanted = text.strip()
    key = first_key(sketch)
    named = _INTERVAL.match(wanted)
    if named:
        return _usual(_by_name(named[1], named[2], named[3], text), key)
    if _SEMITONES.match(wanted):
        return by_semitones(int(wanted), key)
    tonic = _KEY.match(wanted)
    if tonic:
        return _to_key(tonic[1], tonic[2], tonic[3], key)
    raise BadUsage(f"'{text}' says no transposition; {_EXPECTED}.")


def first_key(sketch: Sketch) -> Key:
    """The concert key at the beginning; C where none is given."""
    firsts = (change for part in sketch.parts for change in part.bars[0].changes)
    return next((c.what for c in firsts if isinstance(c.what, Key)), Key())


def _by_name(way: str | None, quality: str, number: str, text: str) -> Interval:
    octaves, step = divmod(int(number) - 1, 7)
    perfect = step in _PERFECT
    if int(number) == 0 or ((quality == "P") != perfect and quality in "PMm"):
        raise BadUsage(f"there is no interval '{text}'; {_EXPECTED}.")
    change = _QUALITIES[quality] - (quality == "d" and not perfect)
    up = Interval(7 * octaves + step, 12 * octaves + _STEPS[step] + change)
    return -up if way in ("-", "down") else up


def by_semitones(semitones: int, key: Key) -> Interval:
    """The interval of so many semitones that gives the key the fewest accidentals."""
    options = [Interval(steps, semitones) for steps in range(-14, 15)]
    return min(
        (i for i in options if abs(i.chromatic - _natural(i.diatonic)) <= 2),
        key=lambda i: (abs(key.fifths + i.fifths), -i.diatonic),
    )


def _natural(steps: int) -> int:
    octaves, step = divmod(steps, 7)
    return 12 * octaves + _STEPS[step]


def _usual(interval: Interval, key: Key) -> Interval:
    """The interval, or its enharmonic where the key would need more than six accidentals."""
    fifths = key.fifths + interval.fifths
    if abs(fifths) <= MOST_SIGNS:
        return interval
    return by_semitones(interval.chromatic, key)


def _to_key(letter: str, sign: str, mode: str, key: Key) -> Interval:
    step = LETTERS.index(letter.upper())
    fifths = _FIFTHS[step] + 7 * _SIGNS[sign.lower()]
    minor = mode == "m" or mode.lower().startswith("min")
    if minor or (not mode and key.mode == "minor"):
        fifths -= 3
    shift = fifths - key.fifths
    semitones = (7 * shift + 6) % 12 - 6
    steps = min(range(-7, 8), key=lambda d: abs(Interval(d, semitones).fifths - shift))
    return Interval(steps, semitones)


# -- moving ----------------------------------------------------------------------------------------


def transposed(sketch: Sketch, by: Interval) -> Sketch:
    """The music an interval away: notes, signatures and chord symbols; drums stay.

    A passage whose signature would need more than six accidentals is spelled enharmonically.
    """
    if by == UNISON:
        return sketch
    moves = _moves(sketch, by)
    parts = tuple(
        replace(part, bars=tuple(_bar(bar, i, moves) for i, bar in enumerate(part.bars)))
        for part in sketch.parts
    )
    return replace(sketch, parts=parts)


class _Moves(Struct, frozen=True):
    """The interval from each place on, in order of (bar, tick)."""

    places: tuple[tuple[int, int], ...]
    intervals: tuple[Interval, ...]

    def at(self, bar: int, tick: int) -> Interval:
        return self.intervals[max(0, bisect_right(self.places, (bar, tick)) - 1)]


def _moves(sketch: Sketch, by: Interval) -> _Moves:
    """The interval, or its enharmonic where a passage's signature wants it."""
    keys = [((0, 0), first_key(sketch))]
    for part in sketch.parts:
        own = [
            ((bar, change.at), change.what)
            for bar, content in enumerate(part.bars)
            for change in content.changes
            if isinstance(change.what, Key) and change.staff <= 1
        ]
        if own:
            keys += own
            break
    places = tuple(place for place, _ in keys)
    return _Moves(places, tuple(_in_circle(by, key) for _, key in keys))


def _in_circle(by: Interval, key: Key) -> Interval:
    fifths = key.fifths + by.fifths
    if abs(fifths) <= MOST_SIGNS:
        return by
    return Interval(by.diatonic + (1 if fifths > 0 else -1), by.chromatic)


def _bar(bar: PartBar[Sounding], index: int, moves: _Moves) -> PartBar[Sounding]:
    layers = tuple(tuple(_event(e, moves.at(index, e.at)) for e in la) for la in bar.layers)
    return replace(
        bar,
        layers=layers,
        changes=tuple(_change(c, moves.at(index, c.at)) for c in bar.changes),
        harmonies=tuple(_harmony(h, moves.at(index, h.at)) for h in bar.harmonies),
    )


def _event(event: Event[Sounding], by: Interval) -> Event[Sounding]:
    if not event.notes:
        return event
    return replace(event, notes=tuple(_note(n, by) for n in event.notes))


def _note(note: Note[Sounding], by: Interval) -> Note[Sounding]:
    if isinstance(note.pitch, Drum):
        return note
    return replace(note, pitch=note.pitch.moved(by), accidental=None)


def _change(change: Change, by: Interval) -> Change:
    what = change.what
    if not isinstance(what, Key) or what.own:
        return change
    return replace(change, what=replace(what, fifths=what.fifths + by.fifths))


def _harmony(harmony: Harmony[Sounding], by: Interval) -> Harmony[Sounding]:
    return replace(harmony, root=_name(harmony.root, by), bass=_name(harmony.bass, by))


def _name(name: tuple[int, int] | None, by: Interval) -> tuple[int, int] | None:
    if name is None:
        return None
    moved = Pitch(name[0], name[1], 4).moved(by)
    return moved.step, int(moved.alter)
