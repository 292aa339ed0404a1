"""Intervals too low to be clear."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise

from expander.catalogue.limits import LowLimit, low_interval_limits
from expander.checks.check import Check, Hit
from expander.checks.figures import figure
from expander.checks.music import Music
from expander.checks.sonority import Slice, Tone, slices
from expander.model.finding import Severity

E4 = 64
NEVER = -1e9
AGAIN = 8
"""Bars after which the same two parts are told of again."""


def detect(music: Music) -> Iterator[Hit]:
    """Neighbouring notes of a sustained chord below the lowest place of their interval."""
    limits = low_interval_limits()
    shortest = figure("chords", "sustained")
    told: dict[tuple[int, int], int] = {}
    lowest = {size: float(limit.lowest.semitone) for size, limit in limits.items()}
    for one in slices(music):
        place = _muddy(one.heights, lowest) if one.seconds >= shortest else -1
        if place < 0:
            continue
        low, high = one.tones[place : place + 2]
        who = low.stand.index, high.stand.index
        if low.chord.bar - told.get(who, -AGAIN) >= AGAIN:
            told[who] = low.chord.bar
            yield _hit(music, one, low, high, limits[high.height - low.height])


def _muddy(heights: Sequence[int], lowest: Mapping[int, float]) -> int:
    """The place of the lowest pair below its limit, -1 for none. Above E4 there is no limit."""
    for place, (low, high) in enumerate(pairwise(heights)):
        if low < lowest.get(high - low, NEVER):
            return place
        if low > E4:
            return -1
    return -1


def _hit(music: Music, one: Slice, low: Tone, high: Tone, limit: LowLimit) -> Hit:
    bar, at = music.place(one.start)
    names = f"{low.stand.name} and {high.stand.name}"
    return Hit(
        low.stand,
        bar,
        at,
        f"a {limit.interval} low down ({names if low.stand is not high.stand else 'in one part'}):"
        f" its lower note sounds below {limit.lowest}, where it turns muddy.",
        pitch=str(low.head.written),
        figure=str(limit.lowest),
        source=f"{'; '.join(limit.sources)} ({limit.basis})",
    )


CHECK = Check(
    id="low-interval",
    title="Interval too low to be clear",
    finds="Two neighbouring notes of a held chord lower than their interval stays clear.",
    why="Low down the overtones of close notes beat against each other: mud.",
    example="C2 with E2 in the trombones.",
    instead="Open the chord below: octaves and fifths low, thirds and seconds on top.",
    severity=Severity.NOTE,
    source="The catalogue's table of low intervals: a music shop's teaching page (published) and a "
    "jazz arranging chart (memory); the higher of the two.",
    detect=detect,
)
