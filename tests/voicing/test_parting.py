"""Chords of one layer that belong to two players, as two parts share a stave."""

from __future__ import annotations

import pytest

from expander.catalogue.ensembles import load_ensemble
from expander.catalogue.seating import seats
from expander.model.plan import Task
from expander.model.rules import Entry, StrandRule
from expander.plan.strands import take
from expander.voicing.parting import parted
from expander.voicing.share import share
from tests.mini import sketch

# Two layers where rhythms differ, one stem where they agree; layer 2 passes over the chords (_).
CASES = [
    ("C5+E5:h D5:h // _:h r:h", "E5 D5", "C5"),
    ("C5+E5:h D5+F5 // _:h _:h", "E5 F5", "C5 D5"),
    ("C5+E5:h F5 // _:h A4:q B4", "E5 F5", "C5 A4 B4"),
    ("F5:h C5+E5 // A4:q B4 _:h", "F5 E5", "A4 B4 C5"),
    # written out below: the chord is the upper player's own (double stops)
    ("C5+E5:h F5 // A4:h A4", "C5+E5 F5", "A4 A4"),
    # and the lower layer may have the chord
    ("_:h F5:h // C5+E5:h A4", "E5 F5", "C5 A4"),
]


@pytest.mark.parametrize(("text", "upper", "lower"), CASES)
def test_two_parts_on_one_stave_are_told_apart_by_their_stems(text, upper, lower):
    music = sketch(f"Two: @treble t4/4 {text} |.")
    quartet = load_ensemble("string-quartet")
    players = seats(quartet, "violin 1") + seats(quartet, "violin 2")
    strand = take(music, StrandRule("two", staff=1))
    task = Task("", Entry("two", by=("violin 1", "violin 2")), strand, players, range(1))
    found = share(task, [0], quartet, (0, 1)).lines
    assert [said(line) for line in found] == [upper, lower]


def said(line):
    return " ".join(
        "+".join(str(n.pitch) for n in sorted(e.notes, key=lambda n: n.pitch.semitone))
        for events in line.bars.values()
        for e in events
        if e.notes
    )


@pytest.mark.parametrize(
    ("text", "players"), [("C5+E5:w", 2), ("C5:w // A4:w", 2), ("C5+E5:w // A4:w", 3)]
)
def test_where_nothing_tells_or_nothing_is_asked_the_bars_stay_as_they_are(text, players):
    music = sketch(f"Two: @treble t4/4 {text} |.")
    bars = take(music, StrandRule("two", staff=1)).bars
    assert parted(bars, players) is bars
