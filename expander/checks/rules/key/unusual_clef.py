"""Clefs that the instrument does not read."""

from __future__ import annotations

from collections.abc import Iterator

from expander.checks.check import Check, Hit
from expander.checks.music import Chord, Music, Stand
from expander.model.finding import Severity
from expander.model.instrument import Instrument
from expander.model.score import Clef

NAMES = {("G", 2): "treble", ("F", 4): "bass", ("C", 3): "alto", ("C", 4): "tenor",
         ("C", 1): "soprano", ("C", 2): "mezzo-soprano", ("F", 3): "baritone"}  # fmt: skip
READS_ALL = ("keyboard", "plucked", "unpitched percussion")


def detect(music: Music) -> Iterator[Hit]:
    """The first note of each stretch in a clef that is none of the instrument's."""
    for stand in music.stands:
        if stand.instrument is None or stand.family in READS_ALL or not stand.instrument.pitched:
            continue
        before: dict[int, Clef | None] = {}
        for chord in stand.chords:
            clef = chord.hand.clef
            if clef != before.get(chord.staff) and _strange(chord, clef):
                yield _hit(stand, chord, clef)
            before[chord.staff] = clef


def _strange(chord: Chord, clef: Clef | None) -> bool:
    one = chord.hand.instrument
    if clef is None or one is None or clef.sign not in "GFC":
        return False
    return (clef.sign, clef.line) not in {(c.sign, c.line) for c in _read(one)}


def _read(one: Instrument) -> list[Clef]:
    return [habit.clef for staff in one.clefs for habit in staff]


def _hit(stand: Stand, chord: Chord, clef: Clef | None) -> Hit:
    assert clef is not None
    one = chord.hand.instrument
    assert one is not None
    usual = ", ".join(dict.fromkeys(_name(c) for c in _read(one)))
    return Hit(
        stand,
        chord.bar,
        chord.at,
        f"the {_name(clef)} clef is unusual for the {one.name.lower()}, which reads {usual}.",
        figure=usual,
    )


def _name(clef: Clef) -> str:
    return NAMES.get((clef.sign, clef.line), f"{clef.sign}{clef.line or ''}")


CHECK = Check(
    id="unusual-clef",
    title="Clef unusual for the instrument",
    finds="Notes in a clef that players of the instrument do not read.",
    why="The player has to decipher what should be read.",
    example="A flute part in bass clef.",
    instead="Use one of the instrument's clefs.",
    severity=Severity.NOTE,
    source="Clefs of the instruments in the catalogue.",
    detect=detect,
)
