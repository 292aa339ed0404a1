"""Labels on shared staves that do not fit the notes."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from operator import attrgetter

from expander.checks.check import Check, Hit
from expander.checks.figures import figure
from expander.checks.music import ONE_PLAYER, Chord, Music, Stand
from expander.checks.saying import said_by
from expander.model.finding import Severity

WINDS = ("woodwind", "brass")
LABELS = ("a 2", *ONE_PLAYER)


def detect(music: Music) -> Iterator[Hit]:
    """'a 2' over two notes, '1.' over two notes, and single lines that nobody is named for."""
    for stand in music.stands:
        if stand.family in WINDS and len(stand.numbers) > 1:
            yield from _contradicted(stand)
            yield from _unlabelled(stand)


def _contradicted(stand: Stand) -> Iterator[Hit]:
    """The first note under each label that contradicts it."""
    named = frozenset(chord.start for chord in stand.chords if chord.hand.label in LABELS)
    if not named or (len(stand.voices) == 1 and stand.contents.most < 2):
        return
    told: object = None
    labelled = frozenset(w.start for w in stand.words if "label" in dict(said_by(w.plain)))
    for tick, group in groupby(stand.chords, key=attrgetter("start")):
        chords = [c for c in group if tick in named and c.event.grace is None and c.heads]
        if not chords or chords[0].hand is told:
            continue
        here = tick in labelled
        if not here and _two_voices(stand, chords[0]):
            continue  # stems up and down say who plays
        fault = _fault(chords, tick, here=here)
        if fault:
            told = chords[0].hand
            yield Hit(
                stand,
                chords[0].bar,
                chords[0].at,
                fault,
                pitch=str(chords[0].top.written),
                figure=chords[0].hand.label,
            )


def _fault(chords: list[Chord], tick: int, *, here: bool) -> str:
    """What is wrong; 'a 2' holds only up to the next chord, so it is wrong over one itself."""
    heights = {head.height for chord in chords for head in chord.heads}
    label = chords[0].hand.label
    if len(heights) < 2 or any(chord.start != tick for chord in chords):
        return ""
    if label == "a 2" and here:
        return "'a 2' asks all to play one line, but there are two notes."
    return f"'{label}' names one player, but there are two notes." if label in ONE_PLAYER else ""


def _unlabelled(stand: Stand) -> Iterator[Hit]:
    """The first passage in which one line stands on a shared stave and nobody is named, once."""
    first: Chord | None = None
    for chord in stand.chords:
        single = not chord.hand.label and len(chord.heads) == 1 and not _two_voices(stand, chord)
        first = (first or chord) if single else None
        if first and chord.bar - first.bar >= figure("unlabelled-stave", "bars"):
            yield Hit(
                stand,
                first.bar,
                first.at,
                f"one line for {stand.players} players, and no '1.', '2.' or 'a 2' says who plays.",
                figure="a label",
                severity=Severity.NOTE,
            )
            return


def _two_voices(stand: Stand, chord: Chord) -> bool:
    layers = stand.part.bars[chord.bar].layers
    return len(layers) > 1 and sum(map(bool, layers)) > 1


CHECK = Check(
    id="wrong-label",
    title="Label does not fit the notes",
    finds="'a 2' or '1.' over two different notes (warning); a shared line without label (note).",
    why="Two players look at one stave and do not know who plays what.",
    example="'a 2' over thirds.",
    instead="Write '1.', '2.' or 'a 2' where one line stands, and nothing over chords.",
    severity=Severity.WARNING,
    source="Common practice, no source.",
    detect=detect,
)
