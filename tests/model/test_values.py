"""Lengths as note values, and where they are cut."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from expander.model.score import Time
from expander.model.values import beat_places, single_value, spell_duration, spell_in_bar

QUARTERS = {"breve": 8, "whole": 4, "half": 2, "quarter": 1, "eighth": Fraction(1, 2)}
QUARTERS |= {f"{n}th": Fraction(4, n) for n in (16, 64, 128, 256)} | {"32nd": Fraction(1, 8)}
FOUR = Time()
SIX = Time((("6", "8"),))


def length(value):
    dotted = 2 - Fraction(1, 2**value.dots)
    return QUARTERS[value.type] * dotted * value.normal / value.actual


def text(pieces):
    return " ".join(v.type + "." * v.dots for _, v in pieces)


@given(st.integers(1, 400), st.sampled_from([8, 12, 24, 48]))
def test_values_last_as_long_as_the_ticks_they_stand_for(ticks, grid):
    pieces = spell_duration(ticks, grid)
    assert sum(t for t, _ in pieces) == ticks
    assert all(length(v) * grid == t for t, v in pieces)


# Elaine Gould, Behind Bars, on showing the middle of a 4/4 bar and the beats (memory).
@pytest.mark.parametrize(
    ("time", "at", "ticks", "expected"),
    [
        (FOUR, 0, 16, "whole"),
        (FOUR, 0, 12, "half."),
        (FOUR, 4, 12, "quarter half"),
        (FOUR, 4, 8, "quarter quarter"),
        (FOUR, 2, 4, "eighth eighth"),
        (FOUR, 0, 6, "quarter."),
        (FOUR, 6, 10, "eighth half"),
        (FOUR, 0, 10, "half eighth"),
        (Time((("3", "4"),)), 0, 12, "half."),
        (Time((("3", "4"),)), 4, 8, "half"),
        (SIX, 0, 12, "half."),
        (SIX, 0, 6, "quarter."),
        (SIX, 4, 8, "eighth quarter."),
        (Time((("5", "4"),)), 0, 20, "half. half"),
        (Time((("2+3", "8"),)), 0, 10, "quarter quarter."),
        (Time((("7", "8"),)), 0, 14, "half quarter."),
        (Time(()), 0, 20, "whole quarter"),
        (FOUR, 0, 0, ""),
    ],
)
def test_a_length_is_cut_where_the_metre_shows(time, at, ticks, expected):
    assert text(spell_in_bar(at, ticks, time, 4)) == expected


@given(st.integers(0, 15), st.integers(1, 16), st.sampled_from([FOUR, Time((("8", "8"),))]))
def test_cut_values_add_up(at, ticks, time):
    ticks = min(ticks, 16 - at) or 1
    assert sum(t for t, _ in spell_in_bar(at, ticks, time, 4)) == ticks


@pytest.mark.parametrize(
    ("ticks", "grid", "value"),
    [
        (24, 24, ("quarter", 0, 1, 1)),
        (8, 24, ("eighth", 0, 3, 2)),
        (16, 24, ("quarter", 0, 3, 2)),
        (36, 24, ("quarter", 1, 1, 1)),
        (8, 40, ("16th", 0, 5, 4)),
    ],
)
def test_one_value_may_be_a_tuplets(ticks, grid, value):
    found = single_value(ticks, grid)
    assert (found.type, found.dots, found.actual, found.normal) == value


def test_what_no_value_can_say_is_refused():
    assert single_value(5, 4) is None
    with pytest.raises(ValueError, match="1 ticks of 11"):
        spell_duration(1, 11)


@pytest.mark.parametrize(
    ("time", "expected"),
    [
        (FOUR, [0, 4, 8, 12]),
        (SIX, [0, 6]),
        (Time((("2", "2"),)), [0, 8]),
        (Time((("3+2", "8"),)), [0, 2, 4, 6, 8]),
    ],
)
def test_beats_of_a_bar(time, expected):
    total = sum(Fraction(16, int(k)) * sum(int(n) for n in c.split("+")) for c, k in time.beats)
    places = beat_places(time, 4, int(total))
    assert [at for at, _ in places] == expected
    assert sum(t for _, t in places) == total


def test_places_between_ticks_are_left_out():
    # two dotted quarters on a grid of one tick to the quarter
    assert beat_places(SIX, 1, 3) == ((0, 3),)
