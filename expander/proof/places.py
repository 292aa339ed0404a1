"""From a finding to the place on the page: the head it is about, else the staff, else the bar."""

from __future__ import annotations

import re
from collections.abc import Sequence

from msgspec import Struct

from expander.checks.beats import beat_unit
from expander.checks.prepare import unique_names
from expander.model.finding import Finding
from expander.model.pitch import Written
from expander.model.score import Document, Event
from expander.proof.engraving import head_name

ROUNDED = 0.002
"""Beats by which a finding's beat may be off: they are told in thousandths."""

_SKETCH = re.compile(r"^sketch staff (\d+)$")


class Place(Struct, frozen=True):
    """Where a finding stands: a head's name or "", the bar's index, the staff (from 1; 0: all)."""

    head: str
    bar: int
    staff: int


class Places:
    """The places of findings in a score. The first `above` staves are those of the sketch."""

    def __init__(self, score: Document, above: int = 0) -> None:
        self._score = score
        self._above = above
        self._parts = {name: i for i, name in enumerate(unique_names(score))}
        staves = [part.staves for part in score.parts]
        self._first = [1 + sum(staves[:i]) for i in range(len(staves))]

    def of(self, finding: Finding) -> Place:
        """The place of a finding; what concerns the whole score stands over its first bar."""
        bar = min(finding.index, max(0, len(self._score.bars) - 1))
        sketch = _SKETCH.match(finding.part)
        if sketch:
            staff = int(sketch[1])
            return Place("", bar, staff if staff <= self._above else 0)
        part = self._parts.get(finding.part)
        if part is None:
            return Place("", bar, 0)
        if finding.beat is None or not self._score.bars:
            return Place("", bar, self._first[part])
        return self._head(finding, part, bar)

    def _head(self, finding: Finding, part: int, bar: int) -> Place:
        unit = beat_unit(self._score, bar)
        tick = ((finding.beat or 1.0) - 1) * unit
        best: tuple[float, int, str, int] | None = None
        whole = self._score.parts[part]
        for i, (layer, home) in enumerate(zip(whole.bars[bar].layers, whole.layers, strict=True)):
            for j, event in enumerate(layer):
                if not event.notes:
                    continue
                fits, k = _fit(event, finding.pitch)
                rank = (abs(event.at - tick), fits, head_name(part, bar, i, j, k), home.staff)
                best = min(best, rank) if best else rank
        staff = self._first[part] + (best[3] if best else 1) - 1
        near = best is not None and best[0] <= unit * ROUNDED
        return Place(best[2] if best and near else "", bar, staff)


def _fit(event: Event[Written], pitch: str) -> tuple[int, int]:
    """0 and the head of that pitch; 1 and the first head where there is none."""
    pitches: Sequence[str] = [str(note.pitch) for note in event.notes]
    return (0, pitches.index(pitch)) if pitch in pitches else (1, 0)
