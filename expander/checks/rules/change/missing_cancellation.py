"""Techniques that go on where they cannot be meant."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from expander.checks.check import Check, Hit
from expander.checks.figures import figure
from expander.checks.music import Chord, Music, Stand
from expander.checks.phrasing import joints
from expander.model.finding import Severity

BOWED = ("up-bow", "down-bow", "tremolo", "spiccato")


def detect(music: Music) -> Iterator[Hit]:
    """Bowing under pizzicato, and divisi that is never called off."""
    for stand in music.stands:
        if stand.family == "strings":
            yield from _bowed_while_plucked(music, stand)
            if stand.section:
                yield from _still_divided(stand)


def _bowed_while_plucked(music: Music, stand: Stand) -> Iterator[Hit]:
    """The first place of each pizzicato passage that only a bow can play."""
    if not any(chord.hand.bow == "pizz" for chord in stand.chords):
        return
    for voice in stand.voices:
        told = False
        for joint in joints(music, voice):
            chord = joint.chord
            plucked = chord.hand.bow == "pizz"
            if plucked and not told and (chord.has(*BOWED) or (joint.slurred and chord.struck)):
                yield Hit(
                    stand,
                    chord.bar,
                    chord.at,
                    "bowing is marked here, but 'pizz.' still holds: 'arco' seems to be missing.",
                    pitch=str(chord.top.written) if chord.heads else "",
                    figure="arco",
                )
            told = plucked and (told or chord.has(*BOWED) or joint.slurred)


def _still_divided(stand: Stand) -> Iterator[Hit]:
    """Bars of single notes after 'div.' without 'unis.'."""
    limit = int(figure("missing-cancellation", "undivided"))
    for divided, chords in groupby(stand.chords, key=_is_divided):
        single: dict[int, bool] = {}
        for chord in chords if divided else ():
            single[chord.bar] = single.get(chord.bar, True) and _alone(stand, chord)
        for alone, bars in groupby(single, key=single.__getitem__):
            run = list(bars)
            if alone and len(run) >= limit:
                yield _divided_hit(stand, run)


def _is_divided(chord: Chord) -> bool:
    return chord.hand.split == "div"


def _alone(stand: Stand, chord: Chord) -> bool:
    layers = stand.part.bars[chord.bar].layers
    return len(chord.heads) == 1 and sum(map(bool, layers)) == 1


def _divided_hit(stand: Stand, run: list[int]) -> Hit:
    first = next(chord for chord in stand.chords if chord.bar == run[0])
    return Hit(
        stand,
        first.bar,
        first.at,
        f"{len(run)} bars of single notes and 'div.' still holds: 'unis.' seems to be missing.",
        figure="unis.",
        severity=Severity.NOTE,
    )


CHECK = Check(
    id="missing-cancellation",
    title="A technique is not called off",
    finds="Slurs, bowings or tremolo while 'pizz.' holds (warning); 'div.' without 'unis.' (note).",
    why="Half the section goes on as before and half guesses.",
    example="Eight bars of legato melody after 'pizz.' without 'arco'.",
    instead="Add the word that ends the technique at the first note without it.",
    severity=Severity.WARNING,
    source="Common practice, no source.",
    detect=detect,
)
