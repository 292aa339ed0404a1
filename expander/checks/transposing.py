"""Whether a part's transposition suits its instrument, and which one to take where it does not."""

from __future__ import annotations

from expander.model.instrument import Instrument
from expander.model.pitch import CONCERT, Drum, Transposition, Written
from expander.model.score import Clef, Part

KEYS = {
    "C": 0, "D♭": 1, "D": 2, "E♭": 3, "E": 4, "F": 5, "F♯": 6, "G♭": 6, "G": 7, "A♭": 8, "A": 9,
    "B♭": 10, "B": 11,
}  # fmt: skip
"""What written C sounds on an instrument in that key, octaves apart."""

CROOKED = frozenset(
    {"horn", "trumpet-bb", "trumpet-c", "cornet", "flugelhorn", "timpani", "alto-trombone"}
)
"""Instruments that scores have in any key: with crooks, valves or, for drums, by their tuning."""


OCTAVE_DOWN = Transposition(octave=-1)


def semitones(one: Transposition) -> int:
    """From written to sounding, octaves included."""
    return int(one.interval.chromatic)


def agrees(one: Instrument, stated: Transposition, key: str) -> bool:
    """Whether a transposition suits an instrument, or one of that kind in the key named."""
    own = one.transposition
    if key and key in KEYS and key != one.key and one.id in CROOKED:
        return one.id == "timpani" or semitones(stated) % 12 == KEYS[key]
    if one.id in CROOKED and not key:
        return True
    if one.id in CROOKED:
        return (semitones(stated) - semitones(own)) % 12 == 0
    return semitones(stated) == semitones(own)


def taken(
    one: Instrument | None, stated: Transposition | None, key: str, concert: bool
) -> Transposition:
    """The transposition to read a part by: the stated one where it suits the instrument.

    An octave-transposing instrument without a statement is read in its own octave; every other
    part without one as it sounds. In a score at concert pitch the statement always holds.
    """
    if one is None or concert:
        return stated or CONCERT
    if stated is None:
        return one.transposition if one.concert_keeps else CONCERT
    return stated if agrees(one, stated, key) else one.transposition


def octave_that_fits(
    one: Instrument | None, move: Transposition, part: Part[Written], key: str
) -> Transposition:
    """For a part that states nothing: the octave in which more of its notes can be played.

    Files give double basses and tenors as written or as sounding; octave clefs count as sounding.
    Horns and trumpets whose key nobody tells are read in their usual key or as they sound.
    """
    if one is None or one.professional is None:
        return move
    silent = one.id in CROOKED and not key and not one.concert_keeps
    if not silent and not may_be_octaves(one):
        return move
    if any(isinstance(c.what, Clef) and c.what.octave for bar in part.bars for c in bar.changes):
        return CONCERT
    low, high = (int(p.semitone) for p in one.sounding(one.professional))
    heights = _heights(part)
    choices = (move, CONCERT, one.transposition) if silent else (move, CONCERT, OCTAVE_DOWN)
    return max(choices, key=lambda way: sum(low <= h + semitones(way) <= high for h in heights))


def may_be_octaves(one: Instrument) -> bool:
    """True for instruments written in another octave than they sound, by clef or by habit."""
    return one.concert_keeps or all(h.clef.octave for staff in one.clefs for h in staff)


def _heights(part: Part[Written]) -> list[int]:
    return [
        int(note.pitch.semitone)
        for bar in part.bars
        for layer in bar.layers
        for event in layer
        for note in event.notes
        if not isinstance(note.pitch, Drum)
    ]
