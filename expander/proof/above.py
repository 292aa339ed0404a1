"""The sketch's staves above the score's, so that the eye finds where each note came from."""

from __future__ import annotations

from math import lcm

from msgspec.structs import replace

from expander.errors import BadUsage
from expander.model.pitch import Written
from expander.model.score import Bracket, Document, Event, Part, PartBar

NAME = "Sketch"


def with_sketch(score: Document, sketch: Document) -> Document:
    """One document of both, the sketch's parts on top under a bracket of their own.

    Raises BadUsage where the two have not the same bars.
    """
    _alike(score, sketch)
    grid = lcm(score.grid, sketch.grid)
    low, high = scaled(score, grid // score.grid), scaled(sketch, grid // sketch.grid)
    count = len(high.parts)
    moved = tuple(replace(b, first=b.first + count, last=b.last + count) for b in low.brackets)
    own = Bracket(0, count - 1, "square", barlines=False)
    parts = (*(_named(part, i) for i, part in enumerate(high.parts)), *low.parts)
    return replace(low, parts=parts, brackets=(own, *moved))


def _alike(score: Document, sketch: Document) -> None:
    mine, theirs = len(score.bars), len(sketch.bars)
    lengths = [b.length * sketch.grid for b in score.bars]
    if mine != theirs or lengths != [b.length * score.grid for b in sketch.bars]:
        raise BadUsage(
            f"the score has {mine} bars and the sketch {theirs}, or their bars differ in length.",
            hint="Give the sketch that this score was made from.",
        )


def _named(part: Part[Written], index: int) -> Part[Written]:
    name, short = f"{NAME}: {part.name}", f"sk. {part.short}".rstrip()
    return replace(part, id=f"sketch-{index + 1}", name=name, short=short)


def scaled(score: Document, factor: int) -> Document:
    """The same music with `factor` times as many ticks to a quarter."""
    if factor == 1:
        return score
    bars = tuple(
        replace(
            bar,
            start=bar.start * factor,
            length=bar.length * factor,
            nominal=bar.nominal * factor,
        )
        for bar in score.bars
    )
    parts = tuple(
        replace(part, bars=tuple(_scaled_bar(bar, factor) for bar in part.bars))
        for part in score.parts
    )
    return replace(score, grid=score.grid * factor, bars=bars, parts=parts)


def _scaled_bar(bar: PartBar[Written], factor: int) -> PartBar[Written]:
    return replace(
        bar,
        layers=tuple(tuple(_scaled_event(e, factor) for e in layer) for layer in bar.layers),
        changes=tuple(replace(one, at=one.at * factor) for one in bar.changes),
        directions=tuple(replace(one, at=one.at * factor) for one in bar.directions),
        harmonies=tuple(replace(one, at=one.at * factor) for one in bar.harmonies),
        barlines=tuple(replace(one, at=one.at * factor) for one in bar.barlines),
        carried=tuple(replace(one, at=one.at * factor) for one in bar.carried),
    )


def _scaled_event(event: Event[Written], factor: int) -> Event[Written]:
    return replace(event, at=event.at * factor, duration=event.duration * factor)
