"""What a part says of long silence in words: tacet, and tacet to the end."""

from __future__ import annotations

from msgspec.structs import replace

from expander.model.pitch import Written
from expander.model.score import Direction, Mark, Part
from expander.parts.rests import silent

TO_THE_END = 24
"""Bars of rest at the end from which a part says that nothing more comes (common practice)."""


def with_tacet(part: Part[Written]) -> Part[Written]:
    """The part with "Tacet" over its first bar, or "tacet al fine" where its music ends early."""
    playing = [index for index, bar in enumerate(part.bars) if not silent(bar)]
    if not playing:
        return _saying(part, 0, "Tacet") if part.bars else part
    first = playing[-1] + 1
    if len(part.bars) - first >= TO_THE_END:
        return _saying(part, first, "tacet al fine")
    return part


def _saying(part: Part[Written], index: int, text: str) -> Part[Written]:
    words = Mark("direction-type", "words", (("font-weight", "bold"),), text)
    bars = list(part.bars)
    said = Direction(0, (words,), placement="above")
    bars[index] = replace(bars[index], directions=(*bars[index].directions, said))
    return replace(part, bars=tuple(bars))
