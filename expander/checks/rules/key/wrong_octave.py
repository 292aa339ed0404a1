"""Octave-transposing instruments without their octave."""

from __future__ import annotations

from collections.abc import Iterator

from expander.checks.check import Check, Hit
from expander.checks.music import Music, Stand
from expander.checks.transposing import semitones
from expander.model.finding import Severity
from expander.model.pitch import CONCERT


def detect(music: Music) -> Iterator[Hit]:
    """Parts of octave-transposing instruments that state another octave or none."""
    for stand in music.stands:
        one = stand.hands[0].instrument if stand.hands else None
        if one is None or not one.concert_keeps or not stand.chords:
            continue
        stated = semitones(stand.stated or CONCERT)
        if stated == semitones(one.transposition) or _octave_clef(stand):
            continue
        if stand.stated is None and semitones(stand.move) == 0:
            continue  # given as it sounds: the notes lie in the right octave already
        said = f"{stated:+d} semitones" if stand.stated else "none"
        own = f"{semitones(one.transposition):+d} semitones"
        yield Hit(
            stand,
            0,
            0,
            f"the {one.name.lower()} sounds {own} from where it is written; the file says {said}.",
            figure=own,
            severity=Severity.ERROR if stand.stated else Severity.WARNING,
            source=f"{'; '.join(one.sources)} ({one.basis})",
        )


def _octave_clef(stand: Stand) -> bool:
    return any(hand.clef is not None and hand.clef.octave for hand in stand.hands)


CHECK = Check(
    id="wrong-octave",
    title="Octave transposition missing or wrong",
    finds="A double bass, piccolo, contrabassoon or the like whose file lacks its octave.",
    why="Playback and every check of spacing hear the line an octave away from where it sounds.",
    example="A double bass part with E2 as its lowest note and no octave transposition.",
    instead="Add the octave to the part's transposition; the notes on paper stay as they are.",
    severity=Severity.ERROR,
    source="Transpositions of the instruments in the catalogue.",
    detect=detect,
)
