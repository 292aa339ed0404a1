"""An orchestra to plant faults in: plain music without faults, different for every seed.

Rows are text of the mini-notation (`tests/mini.py`), so that a fault is planted by putting other
text in place of a bar.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from itertools import pairwise

from msgspec import Struct
from msgspec.structs import replace

BARS = 28
PHRASE = 4
"""Three bars of music and one of rest."""

RHYTHMS = (("h", "h"), ("q", "q", "h"), ("h", "q", "q"), ("q", "q", "q", "q"), ("w",))


class Row(Struct, frozen=True):
    """One stave: its name with transposition, what stands at the start, and its bars."""

    head: str
    opening: str
    bars: tuple[str, ...]

    @property
    def name(self) -> str:
        """The part's name without its transposition; "+" for a second stave."""
        return self.head.partition(" (")[0]

    def text(self) -> str:
        """The row as the mini-notation has it."""
        music = self.bars[0]
        for before, bar in pairwise(self.bars):
            # A bar that ends with a repeat has its barline already.
            music += f" {bar}" if before.endswith(":|") else f" | {bar}"
        return f"{self.head}: {self.opening} {music}"

    def with_bars(self, at: int, bars: Sequence[str]) -> Row:
        """A copy with other bars from an index on."""
        kept = [*self.bars[:at], *bars, *self.bars[at + len(bars) :]]
        return replace(self, bars=tuple(kept))


# name and transposition; clef and key; notes to choose from (a line of steps, so that neighbours
# in the list are neighbours in pitch); words under it
PLAN: tuple[tuple[str, str, str], ...] = (
    ("Flute 1", "@treble k0", "G5 A5 B5 C6 D6"),
    ("Flute 2", "@treble k0", "E5 F5 G5 A5 B5"),
    ("Oboe", "@treble k0", "C5 D5 E5 F5 G5"),
    ("Clarinet in Bb (-1 -2 0)", "@treble k2", "D5 E5 F#5 G5 A5"),
    ("Bassoon", "@bass k0", "G2 A2 B2 C3 D3"),
    ("Horns in F 1. 2. (-4 -7 0)", "@treble k0", "G4+C5 A4+D5 G4+B4 C5+E5"),
    ("Trumpet in Bb 1 (-1 -2 0)", "@treble k2", "D5 E5 F#5 G5"),
    ("Trombone", "@bass k0", "C3 D3 E3 F3"),
    ("Timpani", "@bass k0", "G2 C3"),
    ("Snare Drum", "@perc", "x"),
    ("Vibraphone", "@treble k0", "C4+E4 D4+F4 E4+G4"),
    ("Harp", "@treble k0", "C5+E5 D5+F5 E5+G5"),
    ("+", "@bass", "C3 G3 E3"),
    ("Piano", "@treble k0", "C5+E5+G5 D5+F5+A5 C5+F5+A5"),
    ("+", "@bass", "C3 F3 G3"),
    ("Soprano", "@treble k0", "E4 F4 G4 A4 B4"),
    ("Violins 1", "@treble k0", "G5 A5 B5 C6 D6"),
    ("Violins 2", "@treble k0", "C5 D5 E5 F5 G5"),
    ("Viola", "@alto k0", "E4 F4 G4 A4"),
    ("Violoncello", "@bass k0", "C3 D3 E3 F3 G3"),
    ("Double Bass (0 0 -1)", "@bass k0", "C3 D3 E3 F3 G3"),
)

SYLLABLES = ("'tide", "'turns", "'ri- '-ver", "'boat", "'light", "'wa- '-ter")


def orchestra(seed: int, only: Sequence[str] = ()) -> list[Row]:
    """The rows of an orchestra without faults. With `only`, just those parts."""
    dice = random.Random(seed)
    rows: list[Row] = []
    keep = False
    for head, opening, notes in PLAN:
        name = head.partition(" (")[0]
        keep = keep if name == "+" else not only or name in only
        bars = tuple(_bar(dice, index, notes.split(), name) for index in range(BARS))
        if keep:
            rows.append(Row(head, opening if name == "+" else f"{opening} <q=100>", bars))
    return rows


def _bar(dice: random.Random, index: int, notes: list[str], name: str) -> str:
    if index % PHRASE == PHRASE - 1:
        return "R"
    place = dice.randrange(len(notes))
    tokens: list[str] = []
    if index % PHRASE == 0 and name != "+":
        tokens.append("!mf")
    rhythm = dice.choice(RHYTHMS)
    for value in rhythm:
        place = max(0, min(len(notes) - 1, place + dice.choice((-1, 0, 1))))
        tokens.append(f"{notes[place]}:{value}")
        if name == "Soprano":
            tokens.append(dice.choice([s for s in SYLLABLES if " " not in s]))
    return " ".join(tokens)
