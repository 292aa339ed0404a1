"""Where a score has an interval too low to be clear, by the catalogue's table of limits."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

from expander.catalogue.limits import low_interval_limits
from expander.checks.figures import figure
from expander.checks.prepare import music_of
from expander.checks.sonority import slices


def muddy(score):
    """From when to when (in quarters) a held chord has neighbours below their limit, and which."""
    lowest = {size: limit.lowest.semitone for size, limit in low_interval_limits().items()}
    shortest = figure("chords", "sustained")
    found = []
    for one in slices(music_of(score)):
        pairs = [(a, b) for a, b in pairwise(one.heights) if a < lowest.get(b - a, 0)]
        if pairs and one.seconds >= shortest:
            span = (Fraction(one.start, score.grid), Fraction(one.end, score.grid))
            found.append((*span, *pairs[0]))
    return found


def new_mud(before, after):
    """The places of `after` where `before` has no such interval at the time."""
    old = muddy(before)
    return [new for new in muddy(after) if not any(o[0] < new[1] and new[0] < o[1] for o in old)]
