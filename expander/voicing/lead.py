"""Voice leading over a whole progression: one voicing for each chord, least motion in all.

Voicings are compared by their keys (MIDI, sounding) from the top voice down. The choice is the
cheapest of all combinations: each voicing's own price plus the motion from chord to chord.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from functools import lru_cache

from expander.voicing.price import prices
from expander.voicing.recipes import Voicing

Keys = tuple[int, ...]
Motion = Callable[[Keys, Keys], int]


def lead(
    candidates: Sequence[Sequence[Voicing]], motion: Motion | None = None
) -> tuple[Voicing, ...]:
    """The cheapest way through the candidates of each chord.

    `candidates` has a non-empty sequence for each chord, all with the same number of voices.
    `motion` prices two successive voicings (`motion_price` by default). Among equals the
    earlier candidate wins, from the last chord backwards. Raises ValueError for a chord
    without candidates.
    """
    if not all(candidates):
        raise ValueError("every chord needs at least one candidate voicing")
    price = motion or motion_price
    if not candidates:
        return ()
    totals = [v.price for v in candidates[0]]
    back: list[list[int]] = []
    for before, after in itertools.pairwise(candidates):
        totals, origins = _step(before, after, totals, price)
        back.append(origins)
    return _traced(candidates, totals, back)


def _step(
    before: Sequence[Voicing], after: Sequence[Voicing], totals: Sequence[int], price: Motion
) -> tuple[list[int], list[int]]:
    """The cheapest total for each voicing of a chord, and where it came from."""
    sums: list[int] = []
    origins: list[int] = []
    for voicing in after:
        ways = [t + price(v.keys, voicing.keys) for v, t in zip(before, totals, strict=True)]
        best = min(range(len(ways)), key=ways.__getitem__)
        sums.append(ways[best] + voicing.price)
        origins.append(best)
    return sums, origins


def _traced(
    candidates: Sequence[Sequence[Voicing]], totals: Sequence[int], back: Sequence[Sequence[int]]
) -> tuple[Voicing, ...]:
    index = min(range(len(totals)), key=totals.__getitem__)
    path = [candidates[-1][index]]
    for row, origins in zip(reversed(candidates[:-1]), reversed(back), strict=True):
        index = origins[index]
        path.append(row[index])
    return tuple(reversed(path))


def total_price(path: Sequence[Voicing], motion: Motion | None = None) -> int:
    """What `lead` minimises: the voicings' prices and the motion between them."""
    price = motion or motion_price
    steps = itertools.pairwise(path)
    return sum(v.price for v in path) + sum(price(a.keys, b.keys) for a, b in steps)


@lru_cache(maxsize=65536)
def motion_price(before: Keys, after: Keys) -> int:
    """Semitones moved, leaps, passed neighbours and parallels, less the tones held."""
    table = prices()["motion"]
    moves = [abs(b - a) for a, b in zip(before, after, strict=True)]
    total = table["semitone"] * sum(moves) + table["held"] * moves.count(0)
    total += table["leap"] * sum(m > 5 for m in moves)
    total += table["overlap"] * _overlaps(before, after)
    return total + table["parallel"] * outer_parallel(before, after)


def under_lead_price(before: Keys, after: Keys) -> int:
    """`motion_price` for voices under a given lead: parallels with it are the point there."""
    parallel = prices()["motion"]["parallel"] * outer_parallel(before, after)
    return motion_price(before, after) - parallel


def _overlaps(before: Keys, after: Keys) -> int:
    """Voices that pass the place where their upper or lower neighbour was."""
    over = sum(after[i + 1] > before[i] for i in range(len(before) - 1))
    return over + sum(after[i] < before[i + 1] for i in range(len(before) - 1))


def outer_parallel(before: Keys, after: Keys) -> bool:
    """True where top and bottom voice move the same way in octaves or in perfect fifths."""
    if len(before) < 2 or before[0] == after[0]:
        return False
    gap = (before[0] - before[-1]) % 12
    same = (after[0] - after[-1]) % 12 == gap
    together = (after[0] - before[0]) * (after[-1] - before[-1]) > 0
    return gap in (0, 7) and same and together
