"""The only door to music21, which is heavy: it is imported when a function here is called.

Nothing that `expand` needs goes through this door; it serves the outline and the checks.
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from msgspec import Struct

from expander.model.pitch import LETTERS, Pitch


class KeyGuess(Struct, frozen=True):
    """A key that music seems to be in.

    `tonic` is (step, alter) with step 0 = C, `mode` major or minor, `fifths` its signature
    (sharps positive). `certainty` is the correlation with the key's profile, 1.0 at best.
    """

    tonic: tuple[int, int]
    mode: str
    fifths: int
    certainty: float


def key_of(notes: Iterable[tuple[Pitch, Fraction | int]]) -> KeyGuess | None:
    """The key that notes suggest, each with its length in quarters; None without notes.

    All pitches sounding, or all written: the key is in the same terms. Grace notes (length 0)
    do not count. Krumhansl and Schmuckler's key-finding, as music21 carries it out.
    """
    from music21 import note, stream

    found = stream.Stream()
    for pitch, quarters in notes:
        if quarters:
            found.append(note.Note(_named(pitch), quarterLength=Fraction(quarters)))
    if not len(found):
        return None
    key = found.analyze("key")
    tonic = (LETTERS.index(key.tonic.step), int(key.tonic.alter))
    certainty = round(float(key.correlationCoefficient), 3)
    return KeyGuess(tonic, str(key.mode), int(key.sharps), certainty)


def interval_name(low: Pitch, high: Pitch) -> str:
    """The interval between two pitches in words, octaves counted: "Major Tenth"."""
    from music21 import interval, pitch

    between = interval.Interval(pitch.Pitch(_named(low)), pitch.Pitch(_named(high)))
    return str(between.niceName)


def _named(pitch: Pitch) -> str:
    """The pitch as music21 spells it: flats as minus signs, no quarter tones."""
    alter = int(pitch.alter)
    sign = "#" * alter if alter > 0 else "-" * -alter
    return f"{LETTERS[pitch.step]}{sign}{pitch.octave}"
