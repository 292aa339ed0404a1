"""A score that other programs opened and saved: what they change without a hand is no edit.

Both libraries lose something of the sample. What they lose stands here by name; all else they
change (divisions, ids, voices, beams, the order of elements, rests) must not count.
"""

from __future__ import annotations

from collections import Counter

import pytest

from expander.merge import merge
from expander.model.score import Document
from expander.musicxml import to_bytes
from tests.merge.hands import Edit, done
from tests.merge.song import by_music21, by_partitura, first
from tests.schema import faults

MUSIC21 = {
    "hairpin": 20,  # those that end on a barline it ends at the last note before it
    "marks on a note": 2,  # of two kinds of harmonic in one chord it keeps one
}
"""What music21 10.5 does to the sample: how often each thing is not as it was."""

PARTITURA = {
    "words": 78,  # what its own grammar of directions does not know ("warmly", "con sord.")
    "tempo": 2,  # all metronome marks, too few to be sure that a program lost them
    "notes": 24,  # noteheads: the diamonds of harmonics
}
"""What partitura 1.9 does to the sample."""

LOST = {
    "arpeggiate marks",
    "barlines with style",
    "chord symbols",
    "harmonic marks",
    "rehearsal marks",
    "tremolo marks",
    "words sung",
}
"""What partitura loses altogether, which is told, and kept."""


@pytest.fixture(scope="module")
def resaved(tmp_path_factory) -> dict[str, Document]:
    folder = tmp_path_factory.mktemp("saved")
    return {"music21": by_music21(first(), folder), "partitura": by_partitura(first(), folder)}


def kinds(told) -> dict[str, int]:
    return dict(Counter(one.what for one in told))


def test_music21_changes_nothing_but_what_it_loses(resaved):
    result = merge(first(), first(), resaved["music21"])
    assert kinds(result.edits) == MUSIC21
    assert result.conflicts == result.remarks == ()
    assert not result.changes


def test_partitura_changes_nothing_but_what_it_loses(resaved):
    result = merge(first(), first(), resaved["partitura"])
    assert kinds(result.edits) == PARTITURA
    assert {told.what for told in result.remarks} == LOST
    assert result.conflicts == ()


def test_what_a_program_lost_altogether_is_in_the_merged_score(resaved):
    result = merge(first(), first(), resaved["partitura"])
    again = merge(first(), result.score, first())  # what is not as it was, seen the other way
    assert again.changes == sum(PARTITURA.values())


@pytest.mark.parametrize("program", ["music21", "partitura"])
def test_the_new_score_s_changes_come_into_a_score_that_a_program_saved(resaved, program):
    fresh = [Edit("a note", 0, 22, 0), Edit("an accent", 12, 30, 1), Edit("a syllable", 14, 41, 0)]
    new = done(first(), fresh)
    result = merge(first(), new, resaved[program])
    assert result.changes == len(fresh)
    assert result.conflicts == ()
    assert faults(to_bytes(result.score)) == []


@pytest.mark.parametrize("program", ["music21", "partitura"])
def test_an_edit_is_told_from_what_the_program_did(resaved, program, tmp_path):
    hand = [Edit("a note", 0, 22, 0), Edit("a dot", 12, 30, 1), Edit("a dynamic", 5, 40, 0)]
    edited = done(resaved[program], hand)
    before = kinds(merge(first(), first(), resaved[program]).edits)
    after = kinds(merge(first(), first(), edited).edits)
    more = {what: n - before.get(what, 0) for what, n in after.items() if n != before.get(what, 0)}
    assert more == {"notes": 1, "marks on a note": 1, "dynamic": 1}
