"""Which part of one version is which of another, whatever has become of names and ids."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence

from msgspec import Struct

from expander.merge.same import plain
from expander.model.pitch import Written
from expander.model.score import Part
from expander.parts.readers import recognised

_ALIKE = 0.5
"""The share of a part's bars that must be found in another to take them for one."""

PartShape = Counter[int]
"""How often each bar of notes occurs in a part (silent ones left out)."""


class Side(Struct, frozen=True):
    """The parts of one version, and their music for comparing."""

    parts: tuple[Part[Written], ...]
    shapes: Sequence[PartShape]


class Matched(Struct, frozen=True):
    """For each old part the index of the same part in another version, and where that is a guess.

    `guessed` holds pairs of indices that were matched by their place and instrument alone.
    """

    to: tuple[int | None, ...]
    guessed: tuple[tuple[int, int], ...] = ()


Test = Callable[[int, int], bool]


def match(old: Side, other: Side) -> Matched:
    """Match parts: by id and name, by name alone, by their music, by place and instrument."""
    to: list[int | None] = [None] * len(old.parts)
    found: list[tuple[int, int]] = []
    for test in _tests(old, other):
        found = _pairs(to, len(other.parts), test)
        for mine, yours in found:
            to[mine] = yours
    return Matched(tuple(to), tuple(found))


def _pairs(to: Sequence[int | None], count: int, test: Test) -> list[tuple[int, int]]:
    """Parts still free that pass a test, in order, each once."""
    left = [j for j in range(count) if j not in to]
    found: list[tuple[int, int]] = []
    for mine in (i for i, j in enumerate(to) if j is None):
        yours = next((j for j in left if test(mine, j)), None)
        if yours is not None:
            left.remove(yours)
            found.append((mine, yours))
    return found


def _tests(old: Side, other: Side) -> Iterable[Test]:
    """Reasons to take two parts for one, the surest first; the last is a guess."""
    mine, yours = old.parts, other.parts
    names = [[plain(part.name).casefold() for part in parts] for parts in (mine, yours)]
    yield lambda i, j: mine[i].id == yours[j].id and names[0][i] == names[1][j]
    yield lambda i, j: names[0][i] == names[1][j] != ""
    yield (
        lambda i, j: (
            mine[i].id == yours[j].id
            and (_alike if old.shapes[i] else _both_silent)(old.shapes[i], other.shapes[j])
        )
    )
    yield lambda i, j: _alike(old.shapes[i], other.shapes[j])
    yield lambda i, j: len(mine) == len(yours) and i == j and mine[i].id == yours[j].id
    yield lambda i, j: len(mine) == len(yours) and i == j and _one_instrument(mine[i], yours[j])


def _alike(one: PartShape, other: PartShape) -> bool:
    return shared(one, other) > _ALIKE


def _both_silent(one: PartShape, other: PartShape) -> bool:
    return not one and not other


def shared(one: PartShape, other: PartShape) -> float:
    """The share of the fuller part's bars that both have, 0 to 1."""
    most = max(one.total(), other.total())
    return (one & other).total() / most if most else 0.0


def _one_instrument(one: Part[Written], other: Part[Written]) -> bool:
    told = [recognised(part) for part in (one, other)]
    return all(told) and told[0].instrument is told[1].instrument  # type: ignore[union-attr]
