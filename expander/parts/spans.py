"""Numbers of slurs and hairpins, dealt out anew: those of lower voices mean nothing in a part."""

from __future__ import annotations

from msgspec import Struct, field
from msgspec.structs import replace

from expander.model.pitch import Written
from expander.model.score import Direction, Event, Mark, Part

Events = tuple[Event[Written], ...]

_NUMBERED = frozenset({"slur", "wedge"})


class _Numbers(Struct):
    """The new numbers of what is open, by layer and old number."""

    open: dict[tuple[object, ...], int] = field(default_factory=dict)

    def of(self, mark: Mark, where: object) -> Mark:
        """A mark with its number dealt anew: the lowest free, the same for its end."""
        key = (mark.name, where, mark.get("number", "1"))
        kind = mark.get("type")
        if kind == "stop":
            number = self.open.pop(key, self._free(mark.name))
        elif key in self.open and kind == "continue":
            number = self.open[key]
        else:
            number = self.open[key] = self._free(mark.name)
        return mark.having(number=str(number))

    def _free(self, name: str) -> int:
        taken = {number for key, number in self.open.items() if key[0] == name}
        return next(n for n in range(1, len(taken) + 2) if n not in taken)


def renumbered(part: Part[Written]) -> Part[Written]:
    """The part with its slurs and hairpins numbered from 1, cues left as they are."""
    numbers = _Numbers()
    bars = []
    for bar in part.bars:
        layers = tuple(
            [
                _layer(layer, numbers, home.staff)
                for layer, home in zip(bar.layers, part.layers, strict=True)
            ]
        )
        directions = tuple([_direction(d, numbers) for d in bar.directions])
        bars.append(replace(bar, layers=layers, directions=directions))
    return replace(part, bars=tuple(bars))


def _layer(events: Events, numbers: _Numbers, staff: int) -> Events:
    """A layer's events; the same object where there is nothing to number."""
    if not any([m.name in _NUMBERED for e in events for m in e.marks]):
        return events
    return tuple([_event(e, numbers, staff) for e in events])


def _event(event: Event[Written], numbers: _Numbers, staff: int) -> Event[Written]:
    if not any(m.name in _NUMBERED for m in event.marks):
        return event
    # slurs may lead from one voice into another of the same staff
    ends_first = sorted(event.marks, key=lambda m: m.name == "slur" and m.get("type") == "start")
    new = {id(m): numbers.of(m, staff) for m in ends_first if m.name in _NUMBERED}
    return replace(event, marks=tuple(new.get(id(m), m) for m in event.marks))


def _direction(direction: Direction, numbers: _Numbers) -> Direction:
    if not any(m.name in _NUMBERED for m in direction.marks):
        return direction
    marks = tuple(
        numbers.of(m, direction.staff) if m.name in _NUMBERED else m for m in direction.marks
    )
    return replace(direction, marks=marks)
