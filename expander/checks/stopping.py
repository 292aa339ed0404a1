"""Several notes at once on bowed strings: who can reach what. Heights are sounding semitones."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import combinations

from expander.catalogue.limits import limit
from expander.checks.figures import figure
from expander.model.instrument import Instrument

THUMB = 7
"""Semitones above the open string from where cellists stop with the thumb."""

OCTAVE_FRAME = 5
"""Offset of a stopped octave on strings a fifth apart, which the thumb allows."""


@lru_cache(maxsize=65536)
def spread(heights: tuple[int, ...], strings: tuple[int, ...], thumb: bool) -> int | None:
    """How far the fingers lie apart in the best fingering, in semitones along the strings.

    None where the notes cannot each have a string of neighbouring ones. `thumb` lets octaves in
    high positions count as a closed frame.
    """
    best: int | None = None
    for chosen in _neighbours(strings, len(heights)):
        offsets = [h - s for h, s in zip(heights, chosen, strict=True)]
        if min(offsets) < 0:
            continue
        stopped = [offset for offset in offsets if offset]
        width = max(stopped) - min(stopped) if stopped else 0
        if thumb and stopped and min(stopped) >= THUMB and width <= OCTAVE_FRAME:
            width = 0
        best = width if best is None else min(best, width)
    return best


def _neighbours(strings: Sequence[int], count: int) -> Iterator[tuple[int, ...]]:
    for chosen in combinations(range(len(strings)), count):
        if chosen[-1] - chosen[0] == count - 1:
            yield tuple(strings[i] for i in chosen)


def open_strings(one: Instrument) -> tuple[int, ...]:
    """Open strings in semitones, the lowest first."""
    return tuple(sorted(int(s.semitone) for s in one.strings))


def can_stop(one: Instrument, heights: tuple[int, ...]) -> bool:
    """Whether a soloist's hand can stop these heights, the lowest first, all at once."""
    width = spread(heights, open_strings(one), uses_thumb(one))
    return width is not None and width <= reach(one)


def uses_thumb(one: Instrument) -> bool:
    """True for instruments whose strings are stopped with the thumb too, high up."""
    return one.id in ("cello", "double-bass")


def frame(one: Instrument) -> float:
    """How far fingers can lie apart, from the catalogue."""
    row = limit("stops", "finger offset", one)
    return float(row.value) if row else 0.0


def reach(one: Instrument) -> float:
    """How far soloists stretch beyond the frame before a chord counts as impossible."""
    return frame(one) + figure("impossible-stop", "stretch")
