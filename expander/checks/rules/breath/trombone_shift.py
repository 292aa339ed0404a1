"""Slide moves that are too long for the time there is."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from expander.catalogue.limits import limit
from expander.checks.check import Check, Hit
from expander.checks.music import Chord, Music, Stand, lines, named
from expander.checks.slide import shift
from expander.model.finding import Severity

FAST = 0.25
"""Seconds between notes under which the limit holds (the row's own condition)."""

SLIDES = ("tenor-trombone", "bass-trombone")


def detect(music: Music) -> Iterator[Hit]:
    """Fast neighbours whose positions lie far apart."""
    slides = (s for s in music.stands if s.instrument and s.instrument.id in SLIDES)
    for stand, voice in lines(slides):
        struck = (c for c in voice.chords if c.heads and c.struck and c.event.grace is None)
        for one, two in pairwise(struck):
            if music.seconds(one.start, two.start) < FAST:
                yield from _far(stand, one, two)


def _far(stand: Stand, one: Chord, two: Chord) -> Iterator[Hit]:
    assert stand.instrument is not None
    row = limit("trombone", "largest fast shift", stand.instrument)
    moved = shift(stand.instrument, one.top.height, two.top.height)
    if row is None or moved <= float(row.value):
        return
    yield Hit(
        stand,
        two.bar,
        two.at,
        f"the slide moves {moved} positions from {named(one.top, one.hand)} to "
        f"{named(two.top, two.hand)} in less than a quarter of a second.",
        pitch=str(two.top.written),
        figure=f"{row.value:g} positions",
        source=f"{'; '.join(row.sources)} ({row.basis})",
    )


CHECK = Check(
    id="trombone-shift",
    title="Slide move too long",
    finds="Two fast notes whose nearest slide positions lie more than four apart.",
    why="The slide is a metre long: far moves at speed come late or smear.",
    example="Sixteenths between B flat 2 (first position) and B2 (seventh).",
    instead="Move the figure by a step or an octave, or slow it down.",
    severity=Severity.WARNING,
    source="Common practice; positions follow from the harmonic series.",
    detect=detect,
)
