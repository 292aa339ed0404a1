"""The octaves carried from unit to unit are enough: the same as trying every row of them."""

from __future__ import annotations

from itertools import pairwise, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from expander.fitting.compass import Compass
from expander.fitting.octaves import (
    AT_BAR,
    CHANGED,
    FAR_APART,
    IN_SLUR,
    IN_TUNE,
    LEAP,
    MOVED,
    SHIFTS,
    WIDENED,
    Octaves,
    best_shifts,
)
from expander.fitting.phrases import Phrase, Place

GRID = 4
REACH = Compass(55.0, 76.0, 57.0, 72.0)
UNSUITED = Compass(50.0, 70.0, 52.0, 68.0, tuple(place / 8 for place in range(21)))
NARROW = Compass(60.0, 64.0, 61.0, 63.0)


def unit(start: int, heights: list[int], slurred: bool = False) -> Phrase:
    """Two quarters, in which all of the heights sound."""
    sizes = [float(height) for height in heights]
    low, high, middle = min(sizes), max(sizes), sum(sizes) / len(sizes)
    place, weights = Place(0, start), (8,) * len(sizes)
    end, at_bar = start + 8, start % 16 == 0
    return Phrase(
        (place,), start, end, tuple(sizes), weights, low, high, middle, middle, 8, slurred, at_bar
    )


def cost(units: list[Phrase], shifts: tuple[int, ...], reach: Compass, tune: bool = False) -> float:
    own = sum(reach.cost(u, shift, GRID) for u, shift in zip(units, shifts, strict=True))
    away = sum(MOVED * abs(shift) for shift in shifts)  # these phrases are short
    changes = sum(
        change(before, after, to - origin, tune)
        for (before, after), (origin, to) in zip(pairwise(units), pairwise(shifts), strict=True)
    )
    return own + away + changes


def change(before: Phrase, after: Phrase, octaves: int, tune: bool) -> float:
    if octaves == 0:
        return 0.0
    was = abs(after.first - before.last)
    now = abs(after.first + 12 * octaves - before.last)
    price = CHANGED * abs(octaves) + WIDENED * max(0, now - was)
    if now > 12 and now > was:
        price += LEAP
    rest = (after.start - before.end) / GRID
    price *= max(0.0, 1 - rest / FAR_APART)
    price *= (IN_SLUR if before.slurred else 1) * (AT_BAR if after.at_bar else 1)
    return price * (IN_TUNE if tune else 1)


@given(
    st.lists(
        st.tuples(
            st.integers(8, 30),
            st.lists(st.integers(20, 110), min_size=1, max_size=3),
            st.booleans(),
        ),
        min_size=1,
        max_size=3,
    ),
    st.sampled_from([REACH, UNSUITED, NARROW]),
    st.booleans(),
)
def test_no_row_of_octaves_is_cheaper_than_the_one_found(
    parts: list[tuple[int, list[int], bool]], reach: Compass, tune: bool
) -> None:
    units, start = [], 0
    for step, heights, slurred in parts:
        start += step
        units.append(unit(start, heights, slurred))
    found = tuple(best_shifts(units, Octaves(reach, GRID), GRID, tune))
    rows = product(SHIFTS, repeat=len(units))
    least = min(cost(units, row, reach, tune) for row in rows)
    assert cost(units, found, reach, tune) == pytest.approx(least, rel=1e-9)


def test_of_octaves_that_cost_the_same_the_likelier_is_taken() -> None:
    weak_in_the_middle = (*[0.0] * 12, 5.0, *[0.0] * 12)
    reach = Compass(48.0, 72.0, 48.0, 72.0, weak_in_the_middle)
    units = [unit(0, [60])]
    assert cost(units, (-1,), reach) == cost(units, (1,), reach) < cost(units, (0,), reach)
    assert best_shifts(units, Octaves(reach, GRID), GRID, tune=False) == [-1]
