"""Several scores on one grid, so that a place is the same number in all of them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from math import lcm

from msgspec.structs import replace

from expander.model.memo import ByIdentity
from expander.model.pitch import Written
from expander.model.score import Bar, Carried, Document, Event, PartBar

_DURATION = re.compile("<duration>([0-9]+)</duration>")

Layer = tuple[Event[Written], ...]


def on_one_grid(scores: Sequence[Document]) -> list[Document]:
    """The scores with their times in ticks of the coarsest grid that holds them all."""
    grid = lcm(*(score.grid for score in scores))
    return [_on_grid(score, grid) for score in scores]


def _on_grid(score: Document, grid: int) -> Document:
    factor = grid // score.grid
    if factor == 1:
        return score
    finer = _Finer(factor)
    bars = tuple([_bar(bar, factor) for bar in score.bars])
    parts = tuple(
        [replace(part, bars=tuple([finer.bar(b) for b in part.bars])) for part in score.parts]
    )
    return replace(score, grid=grid, bars=bars, parts=parts)


def _bar(bar: Bar, factor: int) -> Bar:
    return replace(
        bar, start=bar.start * factor, length=bar.length * factor, nominal=bar.nominal * factor
    )


class _Finer:
    """Multiplies the times of bars; layers that bars share stay shared."""

    def __init__(self, factor: int) -> None:
        self.factor = factor
        self.kept: ByIdentity[Layer] = ByIdentity()

    def bar(self, bar: PartBar[Written]) -> PartBar[Written]:
        """A part's bar with its times multiplied."""
        by = self.factor
        return replace(
            bar,
            layers=tuple([self._known(la) for la in bar.layers]),
            changes=tuple([replace(c, at=c.at * by) for c in bar.changes]),
            directions=tuple([replace(d, at=d.at * by) for d in bar.directions]),
            harmonies=tuple([replace(h, at=h.at * by) for h in bar.harmonies]),
            barlines=tuple([replace(b, at=b.at * by) for b in bar.barlines]),
            carried=tuple([self._carried(c) for c in bar.carried]),
        )

    def _known(self, layer: Layer) -> Layer:
        return self.kept.get((layer,), 0, lambda: self._layer(layer))

    def _layer(self, layer: Layer) -> Layer:
        by = self.factor
        return tuple([replace(e, at=e.at * by, duration=e.duration * by) for e in layer])

    def _carried(self, carried: Carried) -> Carried:
        """Figures under the bass last a time of their own."""
        mark = carried.mark
        if mark.name == "figured-bass":
            inner = _DURATION.sub(
                lambda m: f"<duration>{int(m[1]) * self.factor}</duration>", mark.inner
            )
            mark = replace(mark, inner=inner)
        return Carried(carried.at * self.factor, mark)
