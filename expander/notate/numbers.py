"""Numbers of slurs and other two-ended marks, issued anew for each part.

A reader of the file goes bar by bar and voice by voice; a number is free again when, in that
order, its mark has ended.
"""

from __future__ import annotations

from collections.abc import Sequence
from operator import is_not

from msgspec.structs import replace

from expander.model.pitch import Written
from expander.model.score import Event, Mark
from expander.notate.spelling import WrittenEvents

NUMBERED = frozenset({"slur", "glissando", "slide", "wavy-line"})
MOST = 16

Layers = tuple[WrittenEvents, ...]


def renumbered(bars: Sequence[Layers]) -> list[Layers]:
    """The layers of a part with fresh numbers; bars where nothing changes stay the same objects."""
    issue = _Issue()
    return [
        tuple([issue.layer(number, events) for number, events in enumerate(layers)])
        for layers in bars
    ]


class _Issue:
    """Which numbers are taken, by kind of mark, and what each voice's own number became."""

    def __init__(self) -> None:
        self._open: dict[tuple[int, str, str], str] = {}

    def layer(self, layer: int, events: WrittenEvents) -> WrittenEvents:
        if not any([m.name in NUMBERED for e in events if e.marks for m in e.marks]):
            return events
        new = [self._event(layer, e) if e.marks else e for e in events]
        return tuple(new) if any(map(is_not, new, events)) else events

    def _event(self, layer: int, event: Event[Written]) -> Event[Written]:
        if not any([m.name in NUMBERED for m in event.marks]):
            return event
        ordered = sorted(event.marks, key=lambda m: not self._ends(layer, m))
        marks = tuple([self._mark(layer, mark) for mark in ordered])
        return event if marks == event.marks else replace(event, marks=marks)

    def _ends(self, layer: int, mark: Mark) -> bool:
        """Whether a mark ends one that began earlier; it stands before those that begin."""
        key = (layer, mark.name, mark.get("number", "1"))
        return mark.get("type") == "stop" and key in self._open

    def _mark(self, layer: int, mark: Mark) -> Mark:
        if mark.name not in NUMBERED:
            return mark
        key = (layer, mark.name, mark.get("number", "1"))
        kind = mark.get("type")
        number = self._open.get(key, key[2])
        if kind == "start":
            number = self._open[key] = self._free(mark.name)
        elif kind == "stop":
            self._open.pop(key, None)
        return mark if mark.get("number", "1") == number else mark.having(number=number)

    def _free(self, name: str) -> str:
        taken = {number for (_, kind, _), number in self._open.items() if kind == name}
        return next((str(n) for n in range(1, MOST + 1) if str(n) not in taken), str(MOST))
