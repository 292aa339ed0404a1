"""The layers of a staff's bar in the order of another version's, whichever voice is which."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import permutations

from expander.merge.grid import Layer
from expander.merge.same import Sign, pitch_sign

_MOST = 4
"""Layers that are tried in every order."""


def in_order(old: Sequence[Layer], other: Sequence[Layer]) -> list[Layer]:
    """The layers of another version, each in the place of the old one it is most like."""
    if len(old) < 2 or len(old) > _MOST:
        return list(other)
    mine, yours = [_heads(la) for la in old], [_heads(la) for la in other]
    orders = permutations(range(len(other)))
    best = max(orders, key=lambda p: sum(len(mine[i] & yours[j]) for i, j in enumerate(p)))
    return [other[j] for j in best]


def regrouped(old: Sequence[Layer], other: Sequence[Layer]) -> bool:
    """Whether notes of one old layer stand in another one now, as where voices became chords.

    The layers must be in order.
    """
    mine, yours = [_heads(la) for la in old], [_heads(la) for la in other]
    return any(
        (mine[i] - yours[i]) & (yours[j] - mine[j])
        for i in range(len(mine))
        for j in range(len(mine))
        if i != j
    )


def _heads(layer: Layer) -> set[Sign]:
    return {
        (event.at, event.duration, *pitch_sign(note.pitch, {}))
        for event in layer
        for note in event.notes
    }
