"""Spelled pitch, sounding and written, and the intervals between them.

Conventions
    Octaves are scientific (C4 = middle C, MIDI 60). `step` counts letters from C = 0 to B = 6.
    `alter` is in semitones, sharp positive; quarter tones are `Fraction(1, 2)`.
    An `Interval` is diatonic steps and semitones, upwards positive, with octaves counted in
    both: a major ninth down is `Interval(-8, -14)`.
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Self, TypeVar

from msgspec import Struct

LETTERS = "CDEFGAB"
SEMITONES = (0, 2, 4, 5, 7, 9, 11)

Alter = int | Fraction

_NAME = re.compile(r"^([A-Ga-g])(##|bb|x|#|b|)(-?\d+)$")
_ALTERS = {"": 0, "#": 1, "##": 2, "x": 2, "b": -1, "bb": -2}


class Interval(Struct, frozen=True):
    """A directed interval: `diatonic` letter steps and `chromatic` semitones, octaves included."""

    diatonic: int
    chromatic: int

    def __neg__(self) -> Interval:
        return Interval(-self.diatonic, -self.chromatic)

    def __add__(self, other: Interval) -> Interval:
        return Interval(self.diatonic + other.diatonic, self.chromatic + other.chromatic)

    @property
    def fifths(self) -> int:
        """Steps round the circle of fifths: 1 for a fifth up, -1 for a fourth up, 0 for octaves."""
        return 7 * self.chromatic - 12 * self.diatonic

    @classmethod
    def octaves(cls, count: int) -> Interval:
        """`count` octaves, upwards positive."""
        return cls(7 * count, 12 * count)


UNISON = Interval(0, 0)


class Pitch(Struct, frozen=True):
    """A spelled pitch. Use `Sounding` or `Written`; a bare `Pitch` has neither meaning."""

    step: int
    alter: Alter
    octave: int

    @classmethod
    def named(cls, name: str) -> Self:
        """Read scientific notation such as `Bb3`, `F#5`, `Cx4`. Raises ValueError."""
        found = _NAME.match(name.strip())
        if not found:
            raise ValueError(f"{name!r} is not a pitch such as Bb3 or F#5")
        letter, accidental, octave = found.groups()
        return cls(LETTERS.index(letter.upper()), _ALTERS[accidental], int(octave))

    @property
    def semitone(self) -> int | Fraction:
        """Semitones above C-1, so that middle C is 60 (MIDI key numbers)."""
        return 12 * (self.octave + 1) + SEMITONES[self.step] + self.alter

    @property
    def diatonic(self) -> int:
        """Letter steps above C0; middle C is 28."""
        return 7 * self.octave + self.step

    @property
    def name(self) -> str:
        """Letter and accidental without octave, `Bb`; quarter tones as a decimal: `C+0.5`."""
        alter = self.alter
        if alter == int(alter):
            mark = "#" * int(alter) if alter > 0 else "b" * int(-alter)
        else:
            mark = f"{float(alter):+g}"
        return LETTERS[self.step] + mark

    def __str__(self) -> str:
        return f"{self.name}{self.octave}"

    def moved(self, by: Interval) -> Self:
        """The same kind of pitch, an interval away, spelled by the interval."""
        return _at(type(self), self, by.diatonic, by.chromatic)

    def octave_moved(self, count: int) -> Self:
        """The same name, `count` octaves up."""
        return type(self)(self.step, self.alter, self.octave + count)


K = TypeVar("K", bound=Pitch)
_known: dict[tuple[type, int, Alter, int, int, int], Pitch] = {}


def _at(kind: type[K], pitch: Pitch, diatonic: int, chromatic: int) -> K:
    """A pitch of a kind, so many steps and semitones away; each is made once."""
    key = (kind, pitch.step, pitch.alter, pitch.octave, diatonic, chromatic)
    found = _known.get(key)
    if found is None:
        octave, step = divmod(pitch.diatonic + diatonic, 7)
        natural = 12 * (octave + 1) + SEMITONES[step]
        found = _known[key] = kind(step, pitch.semitone + chromatic - natural, octave)
    return found  # type: ignore[return-value]


class Sounding(Pitch, frozen=True):
    """A pitch as it is heard."""


class Written(Pitch, frozen=True):
    """A pitch as it stands in a player's part."""


class Transposition(Struct, frozen=True):
    """What MusicXML's `<transpose>` holds: sounding minus written, octaves apart.

    `double` is the sounding octave doubling of MusicXML (`below`, `above` or empty).
    """

    diatonic: int = 0
    chromatic: int = 0
    octave: int = 0
    double: str = ""

    @property
    def interval(self) -> Interval:
        """Written to sounding."""
        return Interval(self.diatonic + 7 * self.octave, self.chromatic + 12 * self.octave)

    def sounding(self, pitch: Written) -> Sounding:
        """What a written pitch sounds."""
        diatonic, chromatic = self.diatonic + 7 * self.octave, self.chromatic + 12 * self.octave
        return _at(Sounding, pitch, diatonic, chromatic)

    def written(self, pitch: Sounding) -> Written:
        """How a sounding pitch is written."""
        diatonic, chromatic = self.diatonic + 7 * self.octave, self.chromatic + 12 * self.octave
        return _at(Written, pitch, -diatonic, -chromatic)


CONCERT = Transposition()


class Drum(Struct, frozen=True):
    """An unpitched note: its place on the staff as a treble-clef letter, and its sound.

    `step` and `octave` are MusicXML's display-step and display-octave (`octave` may be -99:
    none given). `instrument` is the id of the part's sound, empty where there is only one.
    """

    step: int
    octave: int
    instrument: str = ""

    def __str__(self) -> str:
        return f"unpitched {LETTERS[self.step]}{self.octave}"
