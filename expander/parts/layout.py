"""System and page breaks: the best over the whole part, so that pages turn in rests.

The part is a row of blocks (a bar, or a rest of many bars). Every way to divide it into systems
and pages has a cost; the cheapest is found by going through the blocks from the end, as text
setting divides a paragraph (D. Knuth and M. Plass, "Breaking Paragraphs into Lines", 1981).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache
from math import inf
from operator import add

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

SLACK = 1e-6
"""More than what sums of costs can be off by where they are added up in another order."""

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


@lru_cache(maxsize=128)
def lay_out(blocks: tuple[Block, ...], sheet: Sheet) -> Layout:
    """The cheapest layout of a part; players who read the same have the same one."""
    if not blocks:
        return Layout((), (), RIGHT, 0.0, ())
    search = _Search(blocks, sheet)
    ways = [(search.cost(RIGHT), RIGHT), (search.cost(LEFT) + LEFT_START, LEFT)]
    cost, opens = min(ways, key=lambda way: way[0])
    return search.found(opens, round(cost, 3))


class _Systems(Struct, frozen=True):
    """The systems that may begin at a block: `ends`, one after the other, and what each costs."""

    ends: range
    costs: tuple[float, ...]


class _Page:
    """A kind of page, the first or another, `cap` systems high.

    `costs` are what the rest of the part costs, by side (right-hand first), systems used on the
    page, and block; the block behind the last costs nothing. `empty` is what it costs to end a
    page after one system more than those used, `turned` that with the page turn by block.
    """

    def __init__(self, cap: int, turns: Sequence[Sequence[float]]) -> None:
        self.cap = cap
        blocks = len(turns[0]) - 1
        self.costs = [[[*[inf] * blocks, 0.0] for _ in range(cap + 1)] for _ in turns]
        self.empty = [PAGE + UNFILLED * ((cap - used - 1) / cap) ** 2 for used in range(cap)]
        self.turned = [[[empty + turn for turn in side] for empty in self.empty] for side in turns]


class _Search:
    """Costs from a block to the end, each worked out once."""

    def __init__(self, blocks: tuple[Block, ...], sheet: Sheet) -> None:
        self.blocks, self.sheet = blocks, sheet
        self.systems = [self._systems(start) for start in range(len(blocks))]
        none = [*[0.0] * len(blocks), inf]
        self.turns = ([*[turn_cost(block.rest) for block in blocks], inf], none)
        self.first, self.other = _Page(sheet.first, self.turns), _Page(sheet.others, self.turns)
        self.least = [[0.0] * len(blocks) for _ in self.turns]
        """The least that a system at a block costs after which the page is turned, by side."""
        self._solve()

    def _systems(self, start: int) -> _Systems:
        """The systems that may begin at a block; the looser ones only for want of a fuller."""
        last = len(self.blocks)
        found: list[float] = []
        wide = self.blocks[start].opening
        for end in range(start + 1, min(last, start + MOST_BLOCKS) + 1):
            wide += self.blocks[end - 1].width
            share = wide / self.sheet.width
            if share > TIGHT and found:
                break
            found.append(self._system(share, last=end == last))
        loose = sum(cost > TOO_LOOSE for cost in found[:-1])
        saved = AT_MARK if self.blocks[start].marked and start else 0.0
        ends = range(start + 1 + loose, start + 1 + len(found))
        return _Systems(ends, tuple([cost - saved for cost in found[loose:]]))

    def _system(self, share: float, *, last: bool) -> float:
        if share > 1:
            return OVERFULL * (share - 1)
        loose = (1 - share) ** 2 * LOOSE * 4
        return loose / 20 if last else loose

    def _solve(self) -> None:
        for start in range(len(self.blocks) - 1, -1, -1):
            self._turn(start)
            self._settle(self.other, start, range(self.other.cap))
        for used, starts in reversed([*enumerate(self._on_first())]):
            for start in starts:
                self._settle(self.first, start, (used,))

    def _on_first(self) -> list[list[int]]:
        """Where each system of the first page may begin, by how many are above it."""
        rows = [{0}]
        for _ in range(1, self.first.cap):
            rows.append({end for start in rows[-1] for end in self.systems[start].ends})
            rows[-1].discard(len(self.blocks))
        return [sorted(row) for row in rows]

    def _turn(self, start: int) -> None:
        """Work out the least a page turn after a system at a block costs."""
        ends, costs = self.systems[start].ends, self.systems[start].costs
        here = slice(ends.start, ends.stop)
        for side, turns in enumerate(self.turns):
            over = self.other.costs[1 - side][0][here]
            self.least[side][start] = min(map(add, map(add, costs, turns[here]), over)) - SLACK

    def _settle(self, page: _Page, start: int, used: Iterable[int]) -> None:
        """Work out what a system at a block costs: the page goes on after it, or is turned."""
        ends, costs = self.systems[start].ends, self.systems[start].costs
        here = slice(ends.start, ends.stop)
        for side, rows in enumerate(page.costs):
            least = self.least[side][start]
            for count in used:
                best = min(map(add, costs, rows[count + 1][here]))
                if best >= least + page.empty[count]:
                    over = self.other.costs[1 - side][0][here]
                    turned = map(add, costs, page.turned[side][count][here])
                    best = min(best, *map(add, turned, over))
                rows[count][start] = best

    def cost(self, opens: str) -> float:
        """What the whole part costs that opens on a side."""
        return self.first.costs[opens == LEFT][0][0]

    def _way(self, page: _Page, start: int, used: int, side: int) -> tuple[int, bool]:
        """Where the best system at a block ends, and whether the page is turned there."""
        systems = self.systems[start]
        after, turned = page.costs[side][used + 1], page.turned[side][used]
        over = self.other.costs[1 - side][0]
        tries = [(cost + after[end], end, False)
                 for end, cost in zip(systems.ends, systems.costs, strict=True)]  # fmt: skip
        tries += [(cost + turned[end] + over[end], end, True)
                  for end, cost in zip(systems.ends, systems.costs, strict=True)]  # fmt: skip
        _, end, is_turned = min(tries)
        return end, is_turned

    def found(self, opens: str, cost: float) -> Layout:
        """The layout behind the cost."""
        page, start, used, side = self.first, 0, 0, int(opens == LEFT)
        systems: list[int] = []
        pages: list[int] = []
        turns: list[Turn] = []
        while True:
            start, turned = self._way(page, start, used, side)
            if start == len(self.blocks):
                return Layout(tuple(systems), tuple(pages), opens, cost, tuple(turns))
            block = self.blocks[start]
            if not turned:
                systems.append(block.first)
                used += 1
                continue
            pages.append(block.first)
            if side == 0:
                turns.append(Turn(block.first, round(block.rest, 1)))
            page, used, side = self.other, 0, 1 - side


@lru_cache(maxsize=4096)
def turn_cost(rest: float) -> float:
    """What a page turn costs with so many seconds of rest."""
    if rest >= TURN_TIME:
        return 0.0
    return NO_TIME if rest <= 0 else SHORT_TIME * (1 - rest / TURN_TIME) + 5
