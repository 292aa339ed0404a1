"""Voice leading: the optimum proved by trying everything, and the rules it follows."""

from __future__ import annotations

from itertools import pairwise, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from expander.model.pitch import Sounding
from expander.voicing.lead import (
    lead,
    motion_price,
    outer_parallel,
    total_price,
    under_lead_price,
)
from expander.voicing.limits import low_interval_limits
from expander.voicing.price import Terms
from expander.voicing.recipes import Voicing, candidates, recipe
from tests.voicing.symbols import chord

TERMS = Terms(limits=low_interval_limits(), low=48, high=76)
SONGS = ["Dm7 G7 Cmaj7", "C F G C", "Am7 D7 Gmaj7 Cmaj7", "Fm7 Bb7 Ebmaj7 Abmaj7", "C Cdim7 Dm7 G7"]
SONGS += ["Bm7b5 E7(b9) Am6", "C E7 Am D9", "Bbmaj7 Gm7 Cm7 F13"]


def ways(song, name, size, most):
    chosen = recipe(name, size)
    return [candidates(chord(c), chosen, size, None, TERMS, most) for c in song.split()]


@pytest.mark.parametrize("name", ["close", "drop 2", "spread", "rootless"])
@pytest.mark.parametrize("song", SONGS)
def test_no_other_way_through_up_to_four_chords_is_cheaper(song, name):
    rows = ways(song, name, 4, most=7)
    best = min(total_price(path) for path in product(*rows))
    assert total_price(lead(rows)) == best


made_up = st.lists(
    st.lists(
        st.builds(
            lambda keys, price: Voicing((), tuple(sorted(keys, reverse=True)), price),
            st.lists(st.integers(40, 80), min_size=3, max_size=3, unique=True),
            st.integers(0, 30),
        ),
        min_size=1,
        max_size=4,
    ),
    min_size=1,
    max_size=4,
)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(made_up)
def test_no_other_way_through_made_up_voicings_is_cheaper(rows):
    assert total_price(lead(rows)) == min(total_price(path) for path in product(*rows))


def test_a_long_song_is_led_chord_by_chord():
    rows = ways(" ".join(SONGS * 4), "drop 2", 4, most=12)
    path = lead(rows)
    assert len(path) == len(rows)
    assert all(v in row for v, row in zip(path, rows, strict=True))


@pytest.mark.parametrize("song", SONGS)
@pytest.mark.parametrize("name", ["close", "drop 2", "drop 2 and 4"])
def test_tones_that_two_chords_share_are_mostly_held_or_moved_by_little(song, name):
    # common practice: keep common tones, move the rest as little as possible
    path = lead(ways(song, name, 4, most=40))
    for before, after in pairwise(path):
        assert max(abs(a - b) for a, b in zip(before.keys, after.keys, strict=True)) <= 5


def test_the_same_chord_twice_keeps_its_voicing():
    first, second = lead(ways("Dm7 Dm7", "drop 2", 4, most=40))
    assert first == second


@pytest.mark.parametrize("song", SONGS)
def test_outer_voices_of_free_voicings_make_no_parallels(song):
    # common practice; Fiveable, AP music theory, unit 4
    path = lead(ways(song, "spread", 5, most=40))
    assert not any(outer_parallel(a.keys, b.keys) for a, b in pairwise(path))


@pytest.mark.parametrize(
    ("before", "after", "parallel"),
    [
        ("C5 C4", "D5 D4", True),
        ("G4 C4", "A4 D4", True),
        ("D5 G3", "C5 F3", True),  # a twelfth is a fifth
        ("C5 C4", "C5 C4", False),  # repeated
        ("C5 C4", "D5 B3", False),
        ("G4 C4", "E4 C4", False),
        ("C5 C4", "D5 D3", False),  # contrary motion
        ("E5 C4", "F5 D4", False),  # thirds may
    ],
)
def test_parallel_octaves_and_fifths_are_told_from_other_motion(before, after, parallel):
    assert outer_parallel(keys(before), keys(after)) is parallel


def keys(text):
    return tuple(int(Sounding.named(n).semitone) for n in text.split())


def test_under_a_lead_parallels_are_no_fault():
    before, after = keys("C5 A4 E4 C4"), keys("D5 B4 F4 D4")
    assert under_lead_price(before, after) < motion_price(before, after)


def test_a_voice_that_passes_its_neighbour_costs_more_than_one_that_does_not():
    calm, passing = keys("G4 E4 C4"), keys("D5 C5 A4")
    moved = motion_price(calm, passing)
    assert moved > 2 * sum(abs(a - b) for a, b in zip(calm, passing, strict=True))


def test_a_chord_without_candidates_is_refused():
    with pytest.raises(ValueError, match="at least one candidate"):
        lead([[]])
    assert lead([]) == ()
