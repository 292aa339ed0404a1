"""What checks ask a part for before they look at its notes, held to a plain walk over the part."""

from __future__ import annotations

import pytest
from hypothesis import given, settings

from expander.checks.contents import Contents
from expander.checks.prepare import music_of
from expander.model.score import Document
from expander.model.walk import events_of
from tests.mini import document
from tests.strategies import documents


@given(documents())
@settings(max_examples=25)
def test_contents_are_those_of_a_walk_over_the_part(score: Document) -> None:
    for part in score.parts:
        found = Contents(part)
        events = list(events_of(part))
        notes = [note for event in events for note in event.notes]
        assert found.marks == {mark.name for event in events for mark in event.marks}
        assert found.marks_of_notes == {mark.name for note in notes for mark in note.marks}
        assert found.tied == any(note.tie_start or note.tie_stop for note in notes)
        assert found.accidentals == any(note.accidental is not None for note in notes)
        assert found.heads == any(note.head is not None for note in notes)
        assert found.cued == any(event.cue for event in events if event.notes)
        assert found.most == max((len(event.notes) for event in events), default=0)


@given(documents())
@settings(max_examples=25)
def test_chords_know_their_seconds_and_spans_hold_all_heads(score: Document) -> None:
    music = music_of(score)
    for stand in music.stands:
        spans = {id(span.instrument): span for span in stand.spans}
        for chord in stand.chords:
            assert (chord.since, chord.until) == (
                music.clock.at(chord.start),
                music.clock.at(chord.end),
            )
            for head in chord.heads if chord.hand.instrument else ():
                span = spans[id(chord.hand.instrument)]
                assert span.low <= head.height <= span.high


@pytest.mark.parametrize(
    ("text", "sung"),
    [
        ("Voice: C5:q 'la D5 'lo E5 'lu F5 'li", True),
        ("Voice: C5:q 'a D5 'b E5 'a F5 'b", False),
        ("Voice: C5:q D5 E5 F5", False),
    ],
)
def test_a_few_letters_are_no_words(text: str, sung: bool) -> None:
    assert Contents(document(text).parts[0]).worded == sung
