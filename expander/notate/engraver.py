"""A copy of a score for the engraver (Verovio 6): drawn, it is the score."""

from __future__ import annotations

from collections.abc import Iterator

from msgspec.structs import replace

from expander.model.pitch import Written
from expander.model.score import Bracket, Direction, Document, Mark, Part
from expander.notate.places import as_treble


def for_verovio(score: Document) -> Document:
    """A copy that Verovio 6 draws as it is meant.

    Besides the places of `as_treble`: where a bar begins with a direction that names its second
    voice, Verovio lines up the notes of both voices one after the other. Drawn, it is the same
    without that name. Of pedal lines it knows only beginning and end. Inside a bracket it draws
    the brace of a keyboard only where a group of its own asks for it.
    """
    parts = tuple(map(_for_verovio, as_treble(score).parts))
    return replace(score, parts=parts, brackets=(*score.brackets, *_braces(score)))


def _braces(score: Document) -> Iterator[Bracket]:
    """A brace for each part of several staves that stands in a bracket with others."""
    for index, part in enumerate(score.parts):
        around = [b for b in score.brackets if b.first <= index <= b.last and b.first < b.last]
        if part.staves > 1 and around:
            yield Bracket(index, index, "brace")


def _for_verovio(part: Part[Written]) -> Part[Written]:
    if not any(bar.directions for bar in part.bars):
        return part
    bars = (
        replace(bar, directions=tuple(map(_direction_for_verovio, bar.directions)))
        for bar in part.bars
    )
    return replace(part, bars=tuple(bars))


_PEDALS = {"discontinue": "stop", "resume": "start"}


def _direction_for_verovio(direction: Direction) -> Direction:
    marks = tuple(map(_pedal_for_verovio, direction.marks))
    return replace(direction, voice="", marks=marks)


def _pedal_for_verovio(mark: Mark) -> Mark:
    kind = mark.get("type")
    return mark.having(type=_PEDALS[kind]) if mark.name == "pedal" and kind in _PEDALS else mark
