"""System and page breaks: the best over the whole part, so that pages turn in rests.

The part is a row of blocks (a bar, or a rest of many bars). Every way to divide it into systems
and pages has a cost; the cheapest is found by going through the blocks from the end, as text
setting divides a paragraph (D. Knuth and M. Plass, "Breaking Paragraphs into Lines", 1981).
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from msgspec import Struct

TURN_TIME = 3.5
"""Seconds in which a player turns a page at ease (common practice, no source)."""

NO_TIME = 120.0
SHORT_TIME = 60.0
"""What it costs to turn without any rest, and with next to none."""

LOOSE = 60.0
"""What a system costs that has twice the room it wants, times the square of the room left."""
TIGHT = 1.04
"""The most a system may want, as a share of its room."""
OVERFULL = 1000.0
TOO_LOOSE = 80.0
"""Systems that cost more than this are not tried where a fuller one can be had."""
PAGE = 12.0
UNFILLED = 25.0
"""What a page costs, and one left empty, times the square of the share left empty."""
LEFT_START = 6.0
"""What it costs to begin on a left-hand page, behind a cover."""
AT_MARK = 3.0
"""What a system saves that begins at a rehearsal mark."""

RIGHT, LEFT = "right", "left"
MOST_BLOCKS = 24


class Block(Struct, frozen=True):
    """A bar, or a rest of many bars, that no break divides.

    `first` is its first bar's index. Widths are millimetres; `opening` is what stands at the head
    of a system that begins here. `rest` is the silence around its start in seconds; `marked`
    tells of a rehearsal mark there.
    """

    first: int
    width: float
    opening: float
    rest: float
    marked: bool = False


class Sheet(Struct, frozen=True):
    """The paper: a system's width in millimetres, and systems on the first and other pages."""

    width: float
    first: int
    others: int


class Turn(Struct, frozen=True):
    """A page turn before a bar (its index), with the rest there in seconds."""

    bar: int
    rest: float

    @property
    def easy(self) -> bool:
        """Whether the rest is long enough."""
        return self.rest >= TURN_TIME


class Layout(Struct, frozen=True):
    """Where systems and pages begin (bar indices, the first bar left out), and what it costs.

    `opens` is the side of the first page. Turns come after right-hand pages.
    """

    systems: tuple[int, ...]
    pages: tuple[int, ...]
    opens: str
    cost: float
    turns: tuple[Turn, ...]


def lay_out(blocks: Sequence[Block], sheet: Sheet) -> Layout:
    """The cheapest layout of a part."""
    if not blocks:
        return Layout((), (), RIGHT, 0.0, ())
    search = _Search(tuple(blocks), sheet)
    ways = [(search.cost(0, 0, True, True), RIGHT), (search.cost(0, 0, False, True), LEFT)]
    ways[1] = (ways[1][0] + LEFT_START, LEFT)
    cost, opens = min(ways, key=lambda way: way[0])
    return search.found(opens, round(cost, 3))


class _Search:
    """Costs from a block to the end, each worked out once."""

    def __init__(self, blocks: tuple[Block, ...], sheet: Sheet) -> None:
        self.blocks, self.sheet = blocks, sheet
        self.ends = [self._ends(start) for start in range(len(blocks))]
        self.best: dict[tuple[int, int, bool, bool], tuple[float, int, bool]] = {}
        self._solve()

    def _ends(self, start: int) -> list[tuple[int, float]]:
        """Where a system that begins at a block may end, with its cost."""
        found: list[tuple[int, float]] = []
        wide = self.blocks[start].opening
        for end in range(start + 1, min(len(self.blocks), start + MOST_BLOCKS) + 1):
            wide += self.blocks[end - 1].width
            share = wide / self.sheet.width
            if share > TIGHT and found:
                break
            found.append((end, self._system(share, last=end == len(self.blocks))))
        found = [f for f in found[:-1] if f[1] <= TOO_LOOSE] + found[-1:]
        saved = AT_MARK if self.blocks[start].marked and start else 0.0
        return [(end, cost - saved) for end, cost in found]

    def _system(self, share: float, *, last: bool) -> float:
        if share > 1:
            return OVERFULL * (share - 1)
        loose = (1 - share) ** 2 * LOOSE * 4
        return loose / 20 if last else loose

    def _solve(self) -> None:
        most = max(self.sheet.first, self.sheet.others)
        for start in range(len(self.blocks) - 1, -1, -1):
            for opening in (False, True) if start < most * MOST_BLOCKS else (False,):
                cap = self.sheet.first if opening else self.sheet.others
                for used in range(cap):
                    for right in (True, False):
                        self._settle(start, used, right, opening, cap)

    def _settle(self, start: int, used: int, right: bool, opening: bool, cap: int) -> None:
        tries: list[tuple[float, int, bool]] = []
        for end, cost in self.ends[start]:
            if end == len(self.blocks):
                tries.append((cost, end, False))
                continue
            if used + 1 < cap and (end, used + 1, right, opening) in self.best:
                tries.append((cost + self.best[end, used + 1, right, opening][0], end, False))
            turned = self._page(end, (cap - used - 1) / cap, right)
            tries.append((cost + turned + self.best[end, 0, not right, False][0], end, True))
        self.best[start, used, right, opening] = min(tries)

    def _page(self, block: int, empty: float, right: bool) -> float:
        turn = turn_cost(self.blocks[block].rest) if right else 0.0
        return PAGE + UNFILLED * empty**2 + turn

    def cost(self, start: int, used: int, right: bool, opening: bool) -> float:
        """What the rest of the part costs from a state on."""
        return self.best[start, used, right, opening][0]

    def found(self, opens: str, cost: float) -> Layout:
        """The layout behind the cost."""
        state = (0, 0, opens == RIGHT, True)
        systems: list[int] = []
        pages: list[int] = []
        turns: list[Turn] = []
        while True:
            _, end, turned = self.best[state]
            if end == len(self.blocks):
                return Layout(tuple(systems), tuple(pages), opens, cost, tuple(turns))
            block = self.blocks[end]
            (pages if turned else systems).append(block.first)
            if turned and state[2]:
                turns.append(Turn(block.first, round(block.rest, 1)))
            used = 0 if turned else state[1] + 1
            state = (end, used, state[2] != turned, state[3] and not turned)


@lru_cache(maxsize=4096)
def turn_cost(rest: float) -> float:
    """What a page turn costs with so many seconds of rest."""
    if rest >= TURN_TIME:
        return 0.0
    return NO_TIME if rest <= 0 else SHORT_TIME * (1 - rest / TURN_TIME) + 5
