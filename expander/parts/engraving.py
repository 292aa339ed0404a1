"""A part engraved: pages of music as vector drawings, by Verovio, on the part's own layout.

Rests of many bars go to Verovio as one bar, which is made a long rest again on the way: what
stands over such a rest would otherwise be lost.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import cache
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from expander import paper
from expander.errors import BadUsage
from expander.model.pitch import Written
from expander.model.score import Bar, Document, Mark, Part, PartBar

UNITS = 10
"""Verovio's page units to a millimetre."""
HANG = 6.0
"""Millimetres left of the staves, where bar numbers hang."""

_OPTIONS: dict[str, object] = {
    "adjustPageHeight": True,
    "breaks": "encoded",
    "condense": "none",
    "footer": "none",
    "header": "none",
    "multiRestStyle": "block",
    "pageMarginBottom": 0,
    "pageMarginLeft": int(HANG * UNITS),
    "pageMarginRight": 0,
    "pageMarginTop": 0,
    "pageHeight": 6000,
    "spacingSystem": 2,
    "unit": 8.75,
    "xmlIdSeed": 1,
}
"""A 7 mm staff: Verovio's unit is half a staff space, in tenths of a millimetre."""

_BAR = re.compile(r"<measure\b")
_BAR_REST = re.compile(r"<mRest\b[^>]*?(?:/>|>.*?</mRest>)", re.DOTALL)


class Music(Struct, frozen=True):
    """A page of music: an SVG drawing."""

    svg: str


def engraved(document: Document, runs: Sequence[range], width: float) -> list[Music]:
    """The pages of a part; `runs` are its rests of many bars, `width` is in millimetres.

    Raises BadUsage where Verovio is not installed.
    """
    toolkit = paper.engraver(library("verovio"))
    toolkit.setOptions({**_OPTIONS, "pageWidth": int((width + HANG) * UNITS)})
    whole, counts = shortened(document, runs)
    if not toolkit.loadData(paper.music(whole)):
        raise BadUsage("the part could not be engraved.", hint="Leave out --pdf and report this.")
    if any(count > 1 for count in counts):
        toolkit.loadData(with_long_rests(toolkit.getMEI(), counts))
    return [Music(toolkit.renderToSVG(page)) for page in range(1, toolkit.getPageCount() + 1)]


def library(name: str) -> Any:  # noqa: ANN401 - neither library has types
    """A library that engraving needs. Raises BadUsage where it is not installed."""
    import importlib

    try:
        return importlib.import_module(name)
    except ImportError as error:
        raise BadUsage(
            f"PDF parts need the library {name}, which is not installed.",
            hint="In the program's folder: pip install '.[pdf]'",
        ) from error


def shortened(document: Document, runs: Sequence[range]) -> tuple[Document, list[int]]:
    """The document with each long rest as one bar, and how many bars each bar stands for."""
    lengths = {run.start: len(run) for run in runs}
    kept: list[int] = []
    index = 0
    while index < len(document.bars):
        kept.append(index)
        index += lengths.get(index, 1)
    counts = [lengths.get(index, 1) for index in kept]
    parts = tuple(_unheard(_shortened(part, kept, counts)) for part in document.parts)
    if len(parts) == 1:
        parts = (replace(parts[0], name="", short=""),)
    bars: tuple[Bar, ...] = tuple(document.bars[index] for index in kept)
    return replace(document, bars=bars, parts=parts), counts


def _shortened(part: Part[Written], kept: Sequence[int], counts: Sequence[int]) -> Part[Written]:
    bars = [_one_bar(part, index, count) for index, count in zip(kept, counts, strict=True)]
    return replace(part, bars=tuple(bars))


def _one_bar(part: Part[Written], index: int, count: int) -> PartBar[Written]:
    first, last = part.bars[index], part.bars[index + count - 1]
    if count == 1:
        return first
    changes = tuple(
        c
        for c in first.changes
        if not (isinstance(c.what, Mark) and c.what.name == "measure-style")
    )
    barlines = [b for b in first.barlines if b.location == "left"]
    barlines += [b for b in last.barlines if b.location == "right"]
    return replace(first, changes=changes, barlines=tuple(barlines))


def _unheard(part: Part[Written]) -> Part[Written]:
    """The part without what is only for playback: Verovio sets words with it another way."""
    bars = tuple(
        replace(bar, directions=tuple(replace(d, sound=None) for d in bar.directions))
        for bar in part.bars
    )
    return replace(part, bars=bars)


def with_long_rests(mei: str, counts: Sequence[int]) -> str:
    """Verovio's own form of the music with its long rests put back, bar by bar."""
    starts = [found.start() for found in _BAR.finditer(mei)]
    pieces = [mei[: starts[0]]] if starts else [mei]
    for number, (start, stop) in enumerate(zip(starts, [*starts[1:], len(mei)], strict=True)):
        piece = mei[start:stop]
        if number < len(counts) and counts[number] > 1:
            piece = _BAR_REST.sub(f'<multiRest num="{counts[number]}"/>', piece)
        pieces.append(piece)
    return "".join(pieces)


@cache
def data_folder() -> str:
    """Where the engraver keeps its fonts' figures."""
    return paper.figures_of(library("verovio"))
