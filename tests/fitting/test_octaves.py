"""The octaves carried from phrase to phrase are enough: the same as trying every row of them."""

from __future__ import annotations

from itertools import pairwise, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from expander.fitting.compass import Compass
from expander.fitting.octaves import FAR_APART, JUMP, SHIFTS, Octaves, best_shifts
from expander.fitting.phrases import Phrase, Place

GRID = 4
REACH = Compass(55.0, 76.0, 57.0, 72.0)
UNSUITED = Compass(50.0, 70.0, 52.0, 68.0, tuple(place / 8 for place in range(21)))
NARROW = Compass(60.0, 64.0, 61.0, 63.0)


def phrase(start: int, heights: list[int]) -> Phrase:
    sizes = [float(height) for height in heights]
    place = Place(0, start)
    return Phrase(
        (place,), start, start + 8, tuple(sizes), (8,) * len(sizes), min(sizes), max(sizes)
    )


def cost(units: list[Phrase], shifts: tuple[int, ...], reach: Compass) -> float:
    own = sum(reach.cost(unit, shift, GRID) for unit, shift in zip(units, shifts, strict=True))
    jumps = sum(
        JUMP * max(0.0, 1 - (unit.start - before.end) / GRID / FAR_APART) * abs(to - origin)
        for (before, unit), (origin, to) in zip(pairwise(units), pairwise(shifts), strict=True)
    )
    return own + jumps


@given(
    st.lists(
        st.tuples(st.integers(8, 30), st.lists(st.integers(20, 110), min_size=1, max_size=4)),
        min_size=1,
        max_size=3,
    ),
    st.sampled_from([REACH, UNSUITED, NARROW]),
)
def test_no_row_of_octaves_is_cheaper_than_the_one_found(
    parts: list[tuple[int, list[int]]], reach: Compass
) -> None:
    units, start = [], 0
    for step, heights in parts:
        start += step
        units.append(phrase(start, heights))
    found = tuple(best_shifts(units, Octaves(reach, GRID), GRID))
    rows = product(SHIFTS, repeat=len(units))
    least = min(cost(units, row, reach) for row in rows)
    assert cost(units, found, reach) == pytest.approx(least, rel=1e-12)


def test_of_octaves_that_cost_the_same_the_likelier_is_taken() -> None:
    weak_in_the_middle = (*[0.0] * 12, 5.0, *[0.0] * 12)
    reach = Compass(48.0, 72.0, 48.0, 72.0, weak_in_the_middle)
    units = [phrase(0, [60])]
    assert cost(units, (-1,), reach) == cost(units, (1,), reach) < cost(units, (0,), reach)
    assert best_shifts(units, Octaves(reach, GRID), GRID) == [-1]
