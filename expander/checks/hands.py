"""Two hands over one instrument, and whether the notes struck together suit them."""

from __future__ import annotations

from collections.abc import Sequence

from expander.checks.music import Head
from expander.checks.struck import Grip


def steps(one: Head, two: Head) -> int:
    """The interval between two heads as players count it: 8 is an octave."""
    return abs(one.written.diatonic - two.written.diatonic) + 1


def in_order(grip: Grip) -> list[Head]:
    """The heads from the lowest up, unisons once."""
    found = {head.height: head for head in grip.heads}
    return [found[height] for height in sorted(found)]


def fits_two_hands(heads: Sequence[Head], most: int, span: float) -> bool:
    """True where the lower and upper notes, cut somewhere, are each in reach of a hand.

    `heads` from the lowest up, `most` notes a hand, `span` letter steps as players count.
    """
    return any(
        _fits(heads[:cut], most, span) and _fits(heads[cut:], most, span)
        for cut in range(len(heads) + 1)
    )


def _fits(heads: Sequence[Head], most: int, span: float) -> bool:
    return not heads or (len(heads) <= most and steps(heads[0], heads[-1]) <= span)
