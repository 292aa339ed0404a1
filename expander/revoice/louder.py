"""Which dynamics rules have to say, because the short score does not say them to the player."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from expander.model.dynamics import LEVELS, LOUDNESS, is_loud, level_after
from expander.model.score import Direction, staves_of
from expander.plan.strands import staff_directions
from expander.revoice.doubling import held_bars
from expander.revoice.lines import FullScore, Line
from expander.revoice.manner import is_simple, plain
from expander.revoice.marking import level_before
from expander.revoice.short import Reduced, as_sketch
from expander.revoice.spots import Spot


class Share(Struct, frozen=True):
    """What one player has from a spot: by name, octaves up, and in which colour."""

    spot: Spot
    octave: int
    name: str
    technique: str
    mute: str
    dynamic: str = ""


class Shown:
    """What a short score says to each of its layers."""

    def __init__(self, reduced: Reduced) -> None:
        self._short = as_sketch(reduced.score)
        self._staves = staves_of(self._short)
        self._known: dict[tuple[int, int], Mapping[int, Sequence[Direction]]] = {}

    def of(self, spot: Spot, bar: int) -> Sequence[Direction]:
        """The marks of a bar for the layer of a spot."""
        key = (spot.staff, spot.layer)
        if key not in self._known:
            address = self._staves[spot.staff - 1]
            self._known[key] = staff_directions(self._short, address, spot.layer)
        return self._known[key].get(bar, ())


class _Last(Struct, frozen=True):
    """What a player had last: the bar, the share, and the level after it."""

    bar: int
    share: Share
    level: str


class Loudness:
    """Follows what every player is told."""

    def __init__(self, full: FullScore, shown: Shown) -> None:
        self._full = full
        self._shown = shown
        self._last: dict[str, _Last] = {}
        self._held: dict[int, Mapping[int, range]] = {}

    def told(self, bar: int, line: Line, share: Share) -> Share:
        """The share with a dynamic, where the player would be told none, or another's."""
        own = _loud((line.told or {}).get(bar, ()))
        first = next((e.at for e in line.cells[bar] if e.notes), 0)
        level = _level_at(own, first, level_before(self._full, line, bar))
        last = self._last.get(share.name)
        goes_on = last and (last.bar, last.share.spot) == (bar - 1, share.spot)
        if last and goes_on and self._is_held(line, bar):
            dynamic = last.share.dynamic
        elif self._is_needed(bar, line, share, own, level, last if goes_on else None):
            dynamic = level
        else:
            dynamic = ""
        done = replace(share, dynamic=dynamic)
        self._last[share.name] = _Last(bar, done, _level_at(own, 1 << 30, level))
        return done

    def _is_held(self, line: Line, bar: int) -> bool:
        """True where a tie or a hairpin goes on from the bar before."""
        if line.number not in self._held:
            self._held[line.number] = held_bars(line)
        return bar > self._held[line.number][bar].start

    def _is_needed(
        self,
        bar: int,
        line: Line,
        share: Share,
        own: Sequence[Direction],
        level: str,
        goes_on: _Last | None,
    ) -> bool:
        shown = _loud(self._shown.of(share.spot, bar))
        if plain(own, LOUDNESS) not in (plain(s, LOUDNESS) for s in _readings(shown, level)):
            return is_simple(line, bar)
        if own or shown:
            return False
        known = self._last.get(share.name)
        kept = goes_on is not None and goes_on.share.dynamic == level
        return kept or known is None or known.level != level


def _loud(directions: Sequence[Direction]) -> list[Direction]:
    return [d for d in directions if is_loud(d)]


def _readings(shown: Sequence[Direction], level: str) -> Iterator[Sequence[Direction]]:
    """What is shown, and what of it is new where it first says a level that holds already."""
    yield shown
    if shown and level_after(shown[0]) == level:
        yield shown[1:]


def _level_at(said: Sequence[Direction], tick: int, before: str) -> str:
    """The level in force at a tick."""
    found = [level for d in said if d.at <= tick and (level := level_after(d)) in LEVELS]
    return found[-1] if found else before
