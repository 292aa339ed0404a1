"""Ticks of a bar as beats, as findings print them."""

from __future__ import annotations

from expander.model.score import Document


def beat_of(score: Document, bar: int, at: int) -> float:
    """The beat of a tick, from 1.0, in units of the time signature's lower figure."""
    return round(1 + at / beat_unit(score, bar), 3)


def beat_unit(score: Document, bar: int) -> float:
    """Ticks of one beat of a bar's time signature."""
    time = score.bars[bar].time
    kind = time.beats[0][1].strip() if time.beats else "4"
    return 4 * score.grid / int(kind) if kind.isdigit() and int(kind) else float(score.grid)
