"""Leaps beyond habit."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from expander.checks.check import Check, Hit
from expander.checks.figures import figure
from expander.checks.music import Chord, Music, Stand, Voice, lines, named
from expander.model.finding import Severity

FAMILIES = ("voice", "brass", "woodwind")


def detect(music: Music) -> Iterator[Hit]:
    """Leaps wider than voices and winds are used to, at the speed they come."""
    for stand, voice in lines(s for s in music.stands if s.family in FAMILIES):
        limit = figure("wide-leap", stand.family)
        if _width(stand) > limit:
            yield from _leaps(stand, voice, limit)


def _width(stand: Stand) -> int:
    """Semitones from the lowest to the highest note of a part."""
    spans = stand.spans
    return max((s.high for s in spans), default=0) - min((s.low for s in spans), default=0)


def _leaps(stand: Stand, voice: Voice, limit: float) -> Iterator[Hit]:
    within = figure("wide-leap", f"{stand.family}_seconds")
    single = (c for c in voice.chords if len(c.heads) == 1 and c.event.grace is None)
    for one, two in pairwise(single):
        size = abs(two.heads[0].height - one.heads[0].height)
        if size > limit and _close(one, two, within):
            yield Hit(
                stand,
                two.bar,
                two.at,
                f"a leap of {size} semitones from {named(one.heads[0], one.hand)} to "
                f"{named(two.heads[0], two.hand)}.",
                pitch=str(two.heads[0].written),
                figure=f"{limit:.0f} semitones",
            )


def _close(one: Chord, two: Chord, within: float) -> bool:
    """True where the second note follows at once and soon."""
    return two.since - one.until < within / 2 and two.since - one.since <= within


CHECK = Check(
    id="wide-leap",
    title="Leap beyond habit",
    finds="A leap wider than the family is used to at that speed.",
    why="Singers and brass players hear a note before they have it; woodwinds change register.",
    example="A soprano who goes from C4 to E5 within a phrase.",
    instead="Break the leap with a rest or a note between, or put one of the notes in the octave.",
    severity=Severity.NOTE,
    source="Common practice, no source.",
    detect=detect,
)
