"""Walking through a score: all its events, all its heads."""

from __future__ import annotations

from collections.abc import Iterator

from expander.model.score import Event, Note, P, Part, Score


def events_of(part: Part[P]) -> Iterator[Event[P]]:
    """Every event of a part, bar by bar, layer by layer."""
    for bar in part.bars:
        for layer in bar.layers:
            yield from layer


def notes_of(score: Score[P]) -> Iterator[Note[P]]:
    """Every head of a score, part by part."""
    return (
        note
        for part in score.parts
        for bar in part.bars
        for layer in bar.layers
        for event in layer
        for note in event.notes
    )
