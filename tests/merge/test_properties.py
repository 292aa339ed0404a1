"""What must hold of every merge, whatever was written and whatever was changed."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections import Counter

from hypothesis import assume, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from expander.merge import merge
from expander.model.pitch import Drum
from expander.model.score import Document
from expander.musicxml import read_bytes, to_bytes
from tests import mini
from tests.merge.hands import IN_A_BAR, bar_put_in, done, edits
from tests.merge.versions import through_a_file
from tests.schema import faults
from tests.strategies import Traits, documents

SMALL = Traits(staves=3, bars=5)
DRAWN = documents(SMALL).map(through_a_file)
EVEN, ODD = st.integers(0, 3).map(lambda n: 2 * n), st.integers(0, 3).map(lambda n: 2 * n + 1)
SPANNERS = ("slur", "wedge", "octave-shift", "pedal", "glissando", "slide", "wavy-line", "tie")


def music(score: Document) -> str:
    """What a score says, saved and read again, the numbers of its slurs left out."""
    text = mini.to_text(through_a_file(score), ())
    return re.sub(r"([()])\d", r"\1", text)


def assert_same_music(one: Document, other: Document) -> None:
    """Fails with the bars that differ."""
    assert mini.difference(music(other), music(one)) == ""


def assert_whole(score: Document) -> None:
    """Valid MusicXML, full bars, both ends of everything, and the same bytes each time."""
    data = to_bytes(score)
    assert not faults(data)
    assert read_bytes(data, "merged").warnings == ()
    again = to_bytes(read_bytes(data, "merged"))  # on the coarsest grid that holds it
    assert to_bytes(read_bytes(again, "merged")) == again
    assert unpaired(data) == {}


def unpaired(data: bytes) -> dict[tuple[str, str, str], int]:
    """Beginnings less ends of everything with two ends, by part, kind and number."""
    counts: Counter[tuple[str, str, str]] = Counter()
    for part in ET.fromstring(data).iter("part"):
        for el in (e for name in SPANNERS for e in part.iter(name)):
            way = {"start": 1, "stop": -1, "crescendo": 1, "diminuendo": 1, "up": 1, "down": 1}
            counts[part.get("id", ""), el.tag, el.get("number", "")] += way.get(
                el.get("type", ""), 0
            )
    return {key: count for key, count in counts.items() if count}


@settings(max_examples=14)
@given(DRAWN, edits())
def test_without_anything_new_the_edited_score_stands_as_it_is(old, hand):
    edited = through_a_file(done(old, hand))
    result = merge(old, old, edited)
    assert to_bytes(through_a_file(result.score)) == to_bytes(edited)
    assert not result.conflicts
    assert bool(result.edits) == (music(edited) != music(old)) or edited.header != old.header


@settings(max_examples=14)
@given(DRAWN, edits())
def test_without_edits_the_new_score_stands(old, fresh):
    new = through_a_file(done(old, fresh))
    result = merge(old, new, old)
    assert_same_music(result.score, new)
    assert result.score.header == new.header
    assert not (result.edits or result.conflicts or result.remarks)


@settings(max_examples=14)
@given(DRAWN, edits())
def test_where_the_hand_did_what_the_new_score_does_that_stands(old, fresh):
    new = through_a_file(done(old, fresh))
    result = merge(old, new, new)
    assert to_bytes(through_a_file(result.score)) == to_bytes(new)
    assert not (result.changes or result.conflicts or result.remarks)


@settings(max_examples=14)
@given(DRAWN, edits(IN_A_BAR, bars=EVEN), edits(IN_A_BAR, bars=ODD))
def test_changes_in_different_bars_all_stand_and_it_does_not_matter_whose_they_are(
    old, hand, fresh
):
    if len(old.bars) % 2:  # bars are counted round: keep the two hands in bars of their own
        hand = [e for e in hand if e.bar < len(old.bars)]
        fresh = [e for e in fresh if e.bar < len(old.bars)]
    edited, new = (through_a_file(done(old, e)) for e in (hand, fresh))
    both = done(done(old, fresh), hand)
    for result in (merge(old, new, edited), merge(old, edited, new)):
        assert_same_music(result.score, both)
        assert not (result.conflicts or result.remarks)


def moved(score: Document, bar: int) -> bool:
    """Whether a bar has notes that can stand a step higher."""
    events = [e for part in score.parts for layer in part.bars[bar].layers for e in layer]
    return any(not isinstance(note.pitch, Drum) for e in events for note in e.notes)


@settings(max_examples=14)
@given(DRAWN, edits(IN_A_BAR), st.data())
def test_edits_stay_where_the_new_score_puts_a_bar_in(old, hand, data):
    edited = through_a_file(done(old, hand))
    first = 1 + old.bars[0].implicit
    assume(len(old.bars) > first)
    at = data.draw(st.integers(first, len(old.bars) - 1))
    assume(moved(old, at - 1))  # of bars that are alike nobody can tell which was put in
    new = through_a_file(bar_put_in(old, at))
    bars = [e.bar % len(old.bars) for e in hand]
    there = [replace(e, bar=b + (b >= at)) for e, b in zip(hand, bars, strict=True)]
    result = merge(old, new, edited)
    assert_same_music(result.score, through_a_file(done(new, there)))
    assert not (result.conflicts or result.remarks)
    assert_whole(result.score)


@settings(max_examples=14)
@given(DRAWN, edits(), edits(), st.booleans())
def test_every_merge_is_whole(old, hand, fresh, keep):
    edited, new = (through_a_file(done(old, e)) for e in (hand, fresh))
    result = merge(old, new, edited, keep_edited=keep)
    assert_whole(result.score)
    again = merge(old, new, edited, keep_edited=keep)
    assert to_bytes(again.score) == to_bytes(result.score)
    assert again.conflicts == result.conflicts
