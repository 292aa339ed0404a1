"""Chord symbols as text, for test rows only: the product reads a symbol's content."""

from __future__ import annotations

import re

from expander.model.pitch import LETTERS
from expander.model.score import Degree, Harmony
from expander.voicing.harmony import ChordTones, chord_tones

KINDS = {
    "": "major",
    "m": "minor",
    "aug": "augmented",
    "dim": "diminished",
    "7": "dominant",
    "maj7": "major-seventh",
    "m7": "minor-seventh",
    "mMaj7": "major-minor",
    "dim7": "diminished-seventh",
    "aug7": "augmented-seventh",
    "m7b5": "half-diminished",
    "6": "major-sixth",
    "m6": "minor-sixth",
    "9": "dominant-ninth",
    "maj9": "major-ninth",
    "m9": "minor-ninth",
    "11": "dominant-11th",
    "m11": "minor-11th",
    "13": "dominant-13th",
    "maj13": "major-13th",
    "sus2": "suspended-second",
    "sus4": "suspended-fourth",
    "It": "Italian",
    "Fr": "French",
    "Ger": "German",
    "N": "Neapolitan",
    "Tr": "Tristan",
    "5": "power",
}
_SYMBOL = re.compile(r"^([A-G][b#]?)([^(/]*)(?:\(([^)]*)\))?(?:/([A-G][b#]?))?$")


def harmony(text: str, at: int = 0) -> Harmony:
    """`G7(b9,13)/B`: root, kind, degrees, bass. `C69` is a sixth with a ninth, `C7sus4` too."""
    root, kind, changes, bass = _SYMBOL.match(text).groups()
    degrees = [_degree(word) for word in (changes or "").split(",") if word]
    if kind == "69":
        kind, degrees = "6", [Degree(9, 0, "add"), *degrees]
    if kind == "7sus4":
        kind, degrees = "sus4", [Degree(7, 0, "add"), *degrees]
    return Harmony(
        at, _name(root), KINDS[kind], degrees=tuple(degrees), bass=_name(bass) if bass else None
    )


def chord(text: str, fifths: int | None = None) -> ChordTones:
    """The tones of a symbol given as text."""
    return chord_tones(harmony(text), fifths)


def _degree(word: str) -> Degree:
    number = int(word.lstrip("b#"))
    alter = word.count("#") - word.count("b")
    return Degree(number, alter, "add" if number > 7 else "alter")


def _name(text: str) -> tuple[int, int]:
    return LETTERS.index(text[0]), {"": 0, "b": -1, "#": 1}[text[1:]]
