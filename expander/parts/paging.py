"""A part divided into systems and pages, its breaks written where readers and programs see them."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec.structs import replace

from expander.checks.tempo import Clock
from expander.model.pitch import Written
from expander.model.score import Attributes, Bar, Carried, Direction, Mark, Part, PartBar
from expander.notate.page import A4, HEAD, MARGIN
from expander.parts.layout import Block, Layout, Sheet, lay_out
from expander.parts.width import LONG_REST, bar_width, opening_widths, system_height

TITLE = HEAD + 1.0
"""Millimetres that the title block takes from the first page."""

_SYSTEM = "<measure-numbering>system</measure-numbering>"


Parts = Sequence[Part[Written]]


def sheet_for(parts: Parts) -> Sheet:
    """How the systems of a stand's parts lie on upright A4."""
    width, height = A4[0] - 2 * MARGIN, A4[1] - 2 * MARGIN
    each = sum(system_height(part) for part in parts)
    return Sheet(width, max(1, int((height - TITLE) / each)), max(1, int(height / each)))


def laid_out(
    parts: Parts, bars: Sequence[Bar], runs: Sequence[range], clock: Clock, grid: int
) -> tuple[list[Part[Written]], Layout]:
    """The parts that one reader has, with their breaks, and the layout behind them."""
    layout = lay_out(tuple(_blocks(parts, bars, runs, clock, grid)), sheet_for(parts))
    first = _with_breaks(parts[0], bars, layout)
    return [first, *parts[1:]], layout


def _blocks(
    parts: Parts, bars: Sequence[Bar], runs: Sequence[range], clock: Clock, grid: int
) -> list[Block]:
    lengths = {run.start: len(run) for run in runs}
    rests = _rests(parts, bars, clock)
    openings = [max(row) for row in zip(*map(opening_widths, parts), strict=True)]
    blocks: list[Block] = []
    index = 0
    while index < len(bars):
        wide = max([bar_width(part.bars[index], bars[index], grid) for part in parts])
        if index in lengths:
            wide = max(wide, LONG_REST)
        marked = any(d.first("rehearsal") for d in parts[0].bars[index].directions)
        blocks.append(Block(index, wide, openings[index], rests[index], marked))
        index += lengths.get(index, 1)
    return blocks


def _rests(parts: Parts, bars: Sequence[Bar], clock: Clock) -> list[float]:
    """The silence in seconds around the start of each bar."""
    spans = [
        (bar.start + e.at, bar.start + e.at + e.duration)
        for part in parts
        for bar, content in zip(bars, part.bars, strict=True)
        for layer in content.layers
        for e in layer
        if e.notes and not e.cue
    ]
    spans.sort()
    end_of_all = bars[-1].start + bars[-1].length if bars else 0
    found: list[float] = []
    place, heard = 0, 0
    for bar in bars:
        while place < len(spans) and spans[place][0] < bar.start:
            heard = max(heard, spans[place][1])
            place += 1
        coming = spans[place][0] if place < len(spans) else end_of_all
        since = min(heard, bar.start)
        found.append(clock.at(coming) - clock.at(since) if heard <= bar.start else 0.0)
    return found


def _with_breaks(part: Part[Written], bars: Sequence[Bar], layout: Layout) -> Part[Written]:
    done = list(part.bars)
    if done:
        done[0] = _printed(done, 0, (), _SYSTEM)
    for kind, places in (("new-system", layout.systems), ("new-page", layout.pages)):
        for index in places:
            done[index] = _printed(done, index, ((kind, "yes"),), "")
    for turn in layout.turns:
        if not turn.easy:
            before = turn.bar - 1
            said = Mark("direction-type", "words", (("font-style", "italic"),), "V.S.")
            here = Direction(_last_onset(done[before]), (said,), placement="below")
            directions = sorted((*done[before].directions, here), key=lambda d: d.at)
            done[before] = replace(done[before], directions=tuple(directions))
    return replace(part, bars=tuple(done))


def _printed(
    bars: Sequence[PartBar[Written]], index: int, attributes: Attributes, inner: str
) -> PartBar[Written]:
    content = bars[index]
    mark = Mark("measure", "print", attributes, inner=inner)
    return replace(content, carried=(Carried(0, mark), *content.carried))


def _last_onset(content: PartBar[Written]) -> int:
    return max((e.at for layer in content.layers for e in layer), default=0)
