"""Melody notes that do not belong to the chord: how the voices under them approach their goal.

An approach note is short and moves by step to a note that the harmony holds, its *target*. The
voices under it can move with the melody or take a chord that leads to the target's. Sources:
chromatic and diatonic approach, reharmonized: Ted Pease and Ken Pullig, Modern Jazz Voicings,
ch. 2-3; diminished: thejazzpianosite.com, "Four Way Close, Locked Hands and Drop Two", and
beyondmusictheory.org, "The 6th Diminished Scale"; dominant and parallel: common practice.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from msgspec import Struct

from expander.model.pitch import Interval, Sounding
from expander.model.score import Degree, Harmony
from expander.voicing.harmony import ChordTones, chord_tones, key_alters
from expander.voicing.layout import Layout, key_of
from expander.voicing.price import Terms
from expander.voicing.recipes import Recipe, candidates

_PAIRED_WITH_DIMINISHED = ("major", "minor", "minor-major", "dominant")
_LEADING_TONE = Interval(-1, -1)
_FIFTH = Interval(4, 7)


class Approach(Struct, frozen=True):
    """An approach note and its goal.

    `lead` is the note, `target` the voicing it moves to (top down), over `chord`; `fifths` is
    the key signature in force (None: not known). `recipe`, `voices` and `terms` are the block's.
    """

    lead: Sounding
    target: Layout
    chord: ChordTones
    recipe: Recipe
    voices: int
    terms: Terms
    fifths: int | None = None

    @property
    def move(self) -> Interval:
        """From the target's lead to this one."""
        goal = self.target[0]
        steps = self.lead.diatonic - goal.diatonic
        return Interval(steps, key_of(self.lead) - key_of(goal))


def harmonized(approach: Approach, kind: str = "") -> Layout:
    """The voicing of an approach note, top down, its own pitch on top.

    `kind` names one way of `APPROACHES`; "" takes the first that fits the context, in the order
    of `APPROACHES`. A named way that does not fit here gives way to parallel motion.
    """
    if kind:
        return APPROACHES[kind](approach) or shifted(approach)
    for way in _BY_CONTEXT:
        found = APPROACHES[way](approach)
        if found:
            return found
    return shifted(approach)


def shifted(approach: Approach) -> Layout:
    """Every voice moves by the same interval as the melody."""
    rest = (_simple(note.moved(approach.move)) for note in approach.target[1:])
    return (approach.lead, *rest)


def chromatic(approach: Approach) -> Layout | None:
    """The target's voicing a semitone off, for a melody a semitone off."""
    return shifted(approach) if abs(approach.move.chromatic) == 1 else None


def diatonic(approach: Approach) -> Layout | None:
    """Every voice moves by as many steps of the key as the melody."""
    if approach.fifths is None or abs(approach.move.diatonic) > 2:
        return None
    alters = key_alters(approach.fifths)
    lead = approach.lead
    if lead.alter != alters[lead.step]:
        return None
    rest = (_scale_note(n.diatonic + approach.move.diatonic, alters) for n in approach.target[1:])
    return (lead, *rest)


def _scale_note(diatonic: int, alters: tuple[int, ...]) -> Sounding:
    octave, step = divmod(diatonic, 7)
    return Sounding(step, alters[step], octave)


def diminished(approach: Approach) -> Layout | None:
    """The diminished seventh on the chord's leading tone, where it holds the melody."""
    if approach.chord.quality not in _PAIRED_WITH_DIMINISHED:
        return None
    return _chord_under(approach, _LEADING_TONE, "diminished-seventh")


def dominant(approach: Approach) -> Layout | None:
    """The dominant of the target's chord, with a flat ninth, where it holds the melody."""
    flat_ninth = (Degree(9, -1, "add"),)
    plain = _chord_under(approach, _FIFTH, "dominant")
    return plain or _chord_under(approach, _FIFTH, "dominant", flat_ninth)


def _chord_under(
    approach: Approach, away: Interval, kind: str, degrees: tuple[Degree, ...] = ()
) -> Layout | None:
    root = approach.chord.root
    moved = _simple(Sounding(root.step, root.alter, 4).moved(away))
    symbol: Harmony[Sounding] = Harmony(0, (moved.step, int(moved.alter)), kind, degrees=degrees)
    chord = chord_tones(symbol)
    if chord is None or not chord.holds(key_of(approach.lead) % 12):
        return None
    voiced = candidates(chord, approach.recipe, approach.voices, approach.lead, approach.terms, 1)
    return voiced[0].notes


def _simple(pitch: Sounding) -> Sounding:
    """The same sound without double accidentals."""
    if -2 < pitch.alter < 2:
        return pitch
    move = 1 if pitch.alter > 0 else -1
    for near in (pitch.diatonic + move, pitch.diatonic + 2 * move):
        octave, step = divmod(near, 7)
        natural = Sounding(step, 0, octave)
        alter = pitch.semitone - natural.semitone
        if -2 < alter < 2:
            return Sounding(step, alter, octave)
    return pitch


APPROACHES: Mapping[str, Callable[[Approach], Layout | None]] = {
    "diatonic": diatonic,
    "chromatic": chromatic,
    "dominant": dominant,
    "diminished": diminished,
    "parallel": shifted,
}
"""The ways by the names that a rule's `approach` uses."""

_BY_CONTEXT = ("diminished", "chromatic", "diatonic", "dominant", "parallel")
