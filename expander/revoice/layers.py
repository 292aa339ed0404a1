"""Each row of a short score as a layer of its own, the same one in every bar.

Who engraves a stave brings lines together that meet, and counts its voices anew in each bar. Rows
have been brought together as far as each can still be told; so their cells are signed before, and
sorted by the signatures after.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec.structs import replace

from expander.model.pitch import Written
from expander.model.plan import Events
from expander.model.score import Event, LayerId, Mark, Part, PartBar

_ROW = "row-of-the-short-score"


def signed(cells: Mapping[int, Events], row: int) -> dict[int, Events]:
    """The cells of a row, each with the row's number at its first note."""
    mark = Mark("notations", _ROW, (), str(row))
    return {bar: _signed(cell, mark) for bar, cell in cells.items()}


def _signed(cell: Events, mark: Mark) -> Events:
    first = next(i for i, e in enumerate(cell) if e.notes)
    event = replace(cell[first], marks=(*cell[first].marks, mark))
    return (*cell[:first], event, *cell[first + 1 :])


def in_layers(part: Part[Written], rows: int) -> Part[Written]:
    """A part of one stave with its rows as layers from the top, without the signatures.

    Rows that are silent while others play are left empty.
    """
    bars = tuple(_sorted(bar, rows) for bar in part.bars)
    ids = tuple(LayerId(1, str(row + 1)) for row in range(rows))
    return replace(part, bars=bars, layers=ids)


def _sorted(bar: PartBar[Written], rows: int) -> PartBar[Written]:
    layers: list[tuple[Event[Written], ...]] = [()] * rows
    for layer in bar.layers:
        row = _row_of(layer)
        if row >= 0:
            layers[row] = tuple(_unsigned(e) for e in layer)
    if not any(layers):
        layers[0] = bar.layers[0]
    return replace(bar, layers=tuple(layers))


def _row_of(layer: Sequence[Event[Written]]) -> int:
    signatures = (int(m.text) for e in layer for m in e.marks if m.name == _ROW)
    return next(signatures, -1)


def _unsigned(event: Event[Written]) -> Event[Written]:
    marks = tuple(m for m in event.marks if m.name != _ROW)
    return event if len(marks) == len(event.marks) else replace(event, marks=marks)
