"""Voicings as textbooks, teachers and trade pages have them; the rows name their sources."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest
import yaml

from expander.model.pitch import Sounding, Transposition
from expander.voicing.layout import key_of
from expander.voicing.lead import lead
from expander.voicing.limits import FREE, low_interval_limits
from expander.voicing.price import Terms, sound_faults
from expander.voicing.recipes import candidates, recipe, voice
from tests.voicing.symbols import chord

ROWS = yaml.safe_load((Path(__file__).parents[1] / "worked" / "voicing.yaml").read_text("utf-8"))
LOOKS = {"second", "inner_semitone"}  # coarse sounds that every textbook uses
HORN = Transposition(diatonic=-4, chromatic=-7)


def rows(*ways):
    found = [r for r in ROWS if r["how"] in ways]
    return pytest.mark.parametrize("row", found, ids=[r["id"] for r in found])


def voicings(row):
    return [[Sounding.named(n) for n in part.split()] for part in row["notes"].split("|")]


def keys(notes):
    return [key_of(n) for n in notes]


def text(notes):
    return " ".join(str(n) for n in notes)


def test_the_table_has_no_row_twice_and_every_row_names_its_source():
    assert len({r["id"] for r in ROWS}) == len(ROWS)
    assert all(r["source"] for r in ROWS)


def test_at_least_25_examples_are_as_a_named_source_has_them():
    own = ("common practice", "memory")
    assert len([r for r in ROWS if r["id"][0] == "W" and r.get("basis") not in own]) >= 25


@rows("voice", "free")
def test_a_chord_is_voiced_as_the_source_has_it(row):
    (expected,) = voicings(row)
    top = Sounding.named(row["lead"]) if "lead" in row else None
    tones = chord(row["chord"], row.get("fifths"))
    found = voice(tones, top, row["voicing"], len(expected), rich=row.get("rich", False))
    assert text(found) == text(expected)


@rows("led")
def test_a_progression_is_led_as_the_source_has_it(row):
    expected = voicings(row)
    size = len(expected[0])
    terms = Terms(limits=low_interval_limits(), low=48, high=76)
    ways = [
        candidates(chord(name.strip()), recipe(row["voicing"], size), size, None, terms)
        for name in row["chord"].split("|")
    ]
    ways[0] = [v for v in ways[0] if list(v.keys) == keys(expected[0])]
    assert [text(v.notes) for v in lead(ways)] == [text(notes) for notes in expected]


@rows("legal", "voice", "free")
def test_a_good_example_has_no_fault(row):
    (notes,) = voicings(row)
    terms = Terms(limits=low_interval_limits(), seconds=row.get("voicing") == "cluster")
    assert set(sound_faults(keys(notes), chord(row["chord"]), terms)) <= LOOKS


@rows("fault")
def test_a_bad_example_is_found_out_and_not_written(row):
    (notes,) = voicings(row)
    tones = chord(row["chord"])
    assert row["fault"] in sound_faults(keys(notes), tones, Terms(limits=FREE))
    top = Sounding.named(row["lead"])
    found = voice(tones, top, row["voicing"], len(notes))
    assert row["fault"] not in sound_faults(keys(found), tones, Terms(limits=FREE))


@pytest.mark.parametrize("row", [r for r in ROWS if "gaps_up" in r], ids=lambda r: r["id"])
def test_the_gaps_of_an_example_are_those_of_the_rule(row):
    (notes,) = voicings(row)
    gaps = [high - low for low, high in pairwise(sorted(keys(notes)))]
    assert gaps == [int(g) for g in row["gaps_up"].split()]
    assert gaps[0] <= row.get("lowest_gap_at_most", 12)


@pytest.mark.parametrize("row", [r for r in ROWS if "written_fifth_up" in r], ids=lambda r: r["id"])
def test_horns_read_the_chord_a_fifth_higher(row):
    (notes,) = voicings(row)
    assert text(HORN.written(n) for n in notes) == row["written_fifth_up"]
