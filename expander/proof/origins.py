"""Where a note of the score comes from: what sounds in the sketch then, under the same name.

A note that was moved by octaves or doubled keeps its name and its time; notes that a voicing built
may have none in the sketch.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from expander.checks.music import Music
from expander.model.pitch import Drum, Sounding
from expander.model.score import Event
from expander.sounding import to_sounding

_Head = tuple[int, int, int, str]
"""Start and end tick, the pitch's place among the twelve, and the head's name."""


def origins_of(music: Music, parts: int) -> dict[str, list[str]]:
    """For each head of the score the heads of the sketch, whose parts are the first `parts`."""
    by_bar: dict[int, list[_Head]] = {}
    found: dict[str, list[str]] = {}
    for part, bar, head in _heads(music):
        if part < parts:
            by_bar.setdefault(bar, []).append(head)
            continue
        start, _, pitch, name = head
        sources = [n for s, e, p, n in by_bar.get(bar, ()) if s <= start < e and p == pitch]
        if sources:
            found[name] = sources
    return found


def _heads(music: Music) -> Iterator[tuple[int, int, _Head]]:
    """Part, bar and head of every pitched note that sounds, the sketch's parts first."""
    heard = to_sounding(music.score)
    for p, part in enumerate(heard.parts):
        for b, (bar, shape) in enumerate(zip(part.bars, heard.bars, strict=True)):
            for i, layer in enumerate(bar.layers):
                yield from ((p, b, head) for head in _of_layer(f"{p}-{b}-{i}", shape.start, layer))


def _of_layer(name: str, start: int, layer: Sequence[Event[Sounding]]) -> Iterator[_Head]:
    for j, event in enumerate(layer):
        begins = start + event.at
        for k, note in enumerate(event.notes):
            if not isinstance(note.pitch, Drum):
                pitch = int(note.pitch.semitone) % 12
                yield begins, begins + max(1, event.duration), pitch, f"n{name}-{j}-{k}"
