"""Staves of the sketch dealt out over players from the top down: the cheapest row of shares."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product

from msgspec import Struct

from expander.model.instrument import Ensemble, Player
from expander.model.rules import StrandRule

DIVISIONS = 4
CHORDAL = 4
PLENTY = 99

_ONE_LINE = frozenset({"double basses"})
"""One player has one line: tuned in fourths, few stops lie under the hand (common practice)."""


class Unit(Struct, frozen=True):
    """A staff of the sketch: its rule, how many notes at once, its middle, and what it is."""

    rule: StrandRule
    depth: int
    middle: float
    sung: bool
    pitched: bool


def partition(
    units: Sequence[Unit], players: Sequence[int], ensemble: Ensemble
) -> list[tuple[list[Unit], list[int]]]:
    """Deal units out over players, both from the top down: enough room first, then register.

    Each share is one unit with some neighbouring players, or one player with some neighbouring
    units; the cheapest row of shares is taken.
    """
    if not units or not players:
        return []
    ranked = from_high_to_low(players, ensemble)
    seated = [ensemble.players[i] for i in ranked]
    centres, rooms = [_centre(p) for p in seated], [_capacity(p) for p in seated]
    lines = [_lines(p) for p in seated]
    best: dict[tuple[int, int], tuple[float, list[_Share]]] = {(0, 0): (0.0, [])}
    for u, p in product(range(len(units)), range(len(ranked))):
        if (u, p) not in best:
            continue
        so_far, path = best[u, p]
        for share in _shares(u, p, len(units), len(ranked)):
            _, more_units, _, more_players = share
            group = units[u:more_units]
            seats = centres[p:more_players]
            lost = _short_of(group, sum(rooms[p:more_players]) if len(group) == 1 else lines[p])
            total = so_far + lost + _misfit(group, seats)
            if total < best.get((more_units, more_players), (float("inf"), []))[0]:
                best[more_units, more_players] = (total, [*path, share])
    _, path = best[len(units), len(ranked)]
    return [(list(units[a:b]), sorted(ranked[c:d])) for a, b, c, d in path]


_Share = tuple[int, int, int, int]
"""Units from and to, players from and to."""


def _shares(u: int, p: int, units: int, players: int) -> Iterator[_Share]:
    """Shares that may follow when `u` units and `p` players are dealt with."""
    for stop in range(p + 1, players + 1):
        yield u, u + 1, p, stop
    for stop in range(u + 2, units + 1):
        yield u, stop, p, p + 1


def _short_of(group: Sequence[Unit], room: int) -> float:
    """What it costs that notes find no room; most where whole lines have to share a player."""
    each = 1000.0 if len(group) == 1 else 3000.0
    return each * max(0, sum([u.depth for u in group]) - room)


def _misfit(group: Sequence[Unit], centres: Sequence[float]) -> float:
    """How badly units suit neighbouring players: notes to share out, and their registers."""
    depth = sum([u.depth for u in group])
    middle = sum([u.middle for u in group]) / len(group)
    register = sum([abs(centre - middle) for centre in centres])
    return 20.0 * max(0, depth - len(centres)) + register


def _lines(player: Player) -> int:
    """How many lines of their own way a player holds; a stop lies under the hand by chance only."""
    return _capacity(player) if player.size > 1 or _capacity(player) == PLENTY else 1


def _capacity(player: Player) -> int:
    """How many notes at once a player or section is given from one staff."""
    if is_chordal(player) and player.instrument.family != "strings":
        return PLENTY
    if player.size > 1:
        return min(player.size, DIVISIONS)
    return 1 if player.instrument.section in _ONE_LINE else min(player.instrument.at_once, 2)


def from_high_to_low(players: Sequence[int], ensemble: Ensemble) -> list[int]:
    """Players by the middle of their comfortable range."""
    return sorted(players, key=lambda i: -_centre(ensemble.players[i]))


def _centre(player: Player) -> float:
    one = player.instrument
    if one.comfortable is None:
        return 0.0
    low, high = one.sounding(one.comfortable)
    return (float(low.semitone) + float(high.semitone)) / 2


def is_chordal(player: Player) -> bool:
    """True for keyboards, harps, guitars and the like."""
    return player.instrument.pitched and player.instrument.at_once >= CHORDAL
