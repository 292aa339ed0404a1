"""Rehearsal marks out of order."""

from __future__ import annotations

import re
from collections.abc import Iterator

from expander.checks.check import Check, Hit
from expander.checks.music import Music
from expander.model.finding import Severity

_LETTERS = r"([A-Z])\1?\d?$"
_NUMBER = r"\d+$"


def detect(music: Music) -> Iterator[Hit]:
    """Letters or numbers that repeat or go back, in the order of the score's bars."""
    before: dict[str, tuple[int, ...]] = {}
    seen: dict[str, str] = {}
    for bar, at, text in _marks(music):
        kind, place = _place(text)
        if text in seen:
            message = f"the rehearsal mark '{text}' stands here and in bar {seen[text]}."
            yield Hit(None, bar, at, message, figure="each mark once")
        elif kind and place < before.get(kind, ()):
            yield Hit(None, bar, at, f"the rehearsal mark '{text}' is out of order.",
                      figure="in order")  # fmt: skip
        seen.setdefault(text, music.score.bars[bar].number)
        if kind:
            before[kind] = max(place, before.get(kind, place))


def _marks(music: Music) -> list[tuple[int, int, str]]:
    """Places of the marks; every part may carry them, so the same one counts once a bar."""
    found = {
        (index, direction.at, mark.text.strip())
        for stand in music.stands
        for index, bar in enumerate(stand.part.bars)
        if bar.directions
        for direction in bar.directions
        for mark in direction.marks
        if mark.name == "rehearsal" and mark.text.strip()
    }
    return sorted(found)


def _place(text: str) -> tuple[str, tuple[int, ...]]:
    """The kind of mark and its place in the order: A to Z, then AA; numbers upwards."""
    if re.match(_NUMBER, text):
        return "number", (int(text),)
    found = re.match(_LETTERS, text.upper())
    if not found:
        return "", ()
    digits = text.upper().rstrip("0123456789")
    return "letter", (len(digits), ord(digits[0]), int(text[len(digits) :] or 0))


CHECK = Check(
    id="rehearsal-order",
    title="Rehearsal marks out of order",
    finds="A rehearsal letter or number that comes twice, or after a later one.",
    why="'From letter C' then means two places, or nobody finds it.",
    example="A, B, D, C.",
    instead="Letter the marks anew from the start.",
    severity=Severity.WARNING,
    source="Common practice, no source.",
    detect=detect,
)
