"""What rules can refer to in a sketch, read off the sketch."""

from __future__ import annotations

from expander.model.rules import SketchFacts
from expander.model.score import P, Score, staves_of


def facts_of(sketch: Score[P]) -> SketchFacts:
    """Staves, layers, bars, rehearsal marks and chord symbols of a sketch.

    Where a rehearsal mark stands twice, the first counts. A staff is named by its part.
    """
    staves = staves_of(sketch)
    return SketchFacts(
        layers=tuple(len(address.layers) for address in staves),
        bars=tuple(bar.number for bar in sketch.bars),
        marks=_marks(sketch),
        chord_symbols=any(bar.harmonies for part in sketch.parts for bar in part.bars),
        staff_names=tuple(sketch.parts[address.part].name for address in staves),
    )


def _marks(sketch: Score[P]) -> tuple[tuple[str, int], ...]:
    found: dict[str, int] = {}
    for index in range(len(sketch.bars)):
        for part in sketch.parts:
            for direction in part.bars[index].directions:
                mark = direction.first("rehearsal")
                if mark and mark.text.strip():
                    found.setdefault(mark.text.strip(), index)
    return tuple(found.items())
