"""Low interval limits: the published figures and the imagined root."""

from __future__ import annotations

import pytest

from expander.model.pitch import Sounding
from expander.voicing.limits import FREE, low_interval_limits


def keys(text):
    return [int(Sounding.named(n).semitone) for n in text.split()]


# Sweetwater's chart (sweetwater.com/insync/low-interval-limit), an octave number higher than
# printed there; the minor third also Lowell and Pullig. On the limit is allowed, below is not.
@pytest.mark.parametrize(
    ("allowed", "too_low"),
    [
        ("E3 F3", "Eb3 E3"),
        ("Eb3 F3", "D3 E3"),
        ("C3 Eb3", "B2 D3"),
        ("B2 D#3", "Bb2 D3"),
        ("C#2 G#2", "C2 G2"),
        ("F2 D3", "E2 C#3"),
        ("F2 Eb3", "E2 D3"),
        ("F2 E3", "E2 D#3"),
        ("C1 C2", None),  # octaves are free
    ],
)
def test_an_interval_may_lie_on_its_limit_but_not_below(allowed, too_low):
    limits = low_interval_limits()
    assert limits.too_low(keys(allowed)) == ()
    if too_low:
        low, high = keys(too_low)
        assert limits.too_low([low, high]) == ((low, high - low),)


def test_every_pair_of_a_larger_voicing_counts():
    # Berklee arranging course, chapter 10
    assert low_interval_limits().too_low(keys("G4 E3 C3 A2")) == ((45, 3),)


@pytest.mark.parametrize(
    ("notes", "root", "found"),
    [
        ("E3 G3 B3", 0, ()),  # C3 imagined: a major third on C3
        ("C#3 G3", 9, ((45, 4),)),  # A2 imagined: a major third on A2
        ("D3 A3", 2, ()),  # the root is there
        ("D3 G#3 C#4", 4, ((40, 10),)),  # E2 imagined: a minor seventh on E2
    ],
)
def test_the_root_is_imagined_under_a_rootless_voicing(notes, root, found):
    # Lowell and Pullig (scribd 353410451); Berklee, chapter 10
    assert low_interval_limits().too_low(keys(notes), root) == found


def test_without_limits_nothing_is_too_low():
    assert FREE.too_low(keys("C1 Db1"), 5) == ()
