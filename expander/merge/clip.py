"""Bars that a program made longer than they are: a pickup filled up with rests, most of all."""

from __future__ import annotations

from msgspec.structs import replace

from expander.merge.align import Pairs
from expander.merge.grid import Layer
from expander.model.pitch import Written
from expander.model.score import Document, Part, PartBar


def clipped(edited: Document, old: Document, pairs: Pairs) -> Document:
    """The edited score with such bars as long as in the old one; only rests are cut."""
    short = {
        e: old.bars[o].length
        for o, e in pairs
        if edited.bars[e].length > old.bars[o].length
        and edited.bars[e].time.beats == old.bars[o].time.beats
        and _sounding_end(edited, e) <= old.bars[o].length
    }
    if not short:
        return edited
    like = {e: o for o, e in pairs}
    bars = tuple(
        [
            replace(
                bar,
                length=short[i],
                nominal=old.bars[like[i]].nominal,
                implicit=old.bars[like[i]].implicit,
            )
            if i in short
            else bar
            for i, bar in enumerate(edited.bars)
        ]
    )
    return replace(edited, bars=bars, parts=tuple([_part(p, short) for p in edited.parts]))


def _sounding_end(score: Document, index: int) -> int:
    ends = [e.end for p in score.parts for la in p.bars[index].layers for e in la if e.notes]
    return max(ends, default=0)


def _part(part: Part[Written], short: dict[int, int]) -> Part[Written]:
    bars = [_bar(bar, short[i]) if i in short else bar for i, bar in enumerate(part.bars)]
    return replace(part, bars=tuple(bars))


def _bar(bar: PartBar[Written], length: int) -> PartBar[Written]:
    return replace(
        bar,
        layers=tuple([_layer(layer, length) for layer in bar.layers]),
        directions=tuple([replace(d, at=min(d.at, length)) for d in bar.directions]),
        harmonies=tuple([replace(h, at=min(h.at, length)) for h in bar.harmonies]),
    )


def _layer(layer: Layer, length: int) -> Layer:
    return tuple(
        [
            e if e.end <= length else replace(e, duration=length - e.at, value=None)
            for e in layer
            if e.at < length
        ]
    )
