"""Layout: the cheapest of all, held against trying every way; turns fall in rests."""

from __future__ import annotations

from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from expander.parts.layout import (
    LEFT_START,
    LOOSE,
    OVERFULL,
    PAGE,
    UNFILLED,
    Block,
    Sheet,
    lay_out,
    turn_cost,
)

blocks_drawn = st.lists(
    st.tuples(st.sampled_from((30.0, 45.0, 60.0, 90.0)), st.sampled_from((0.0, 0.0, 1.0, 5.0))),
    min_size=1,
    max_size=7,
).map(lambda rows: tuple(Block(i, wide, 10.0, rest) for i, (wide, rest) in enumerate(rows)))


def every_way(blocks, sheet):
    """The cost of every division into systems and pages, by going through all of them."""
    for breaks in product(("", "system", "page"), repeat=len(blocks) - 1):
        for left in (False, True):
            cost = _cost(blocks, sheet, breaks, left)
            if cost is not None:
                yield cost


def _cost(blocks, sheet, breaks, left):
    total = LEFT_START if left else 0.0
    pages = [[[blocks[0]]]]
    for kind, block in zip(breaks, blocks[1:], strict=True):
        if kind == "page":
            pages.append([[block]])
        elif kind == "system":
            pages[-1].append([block])
        else:
            pages[-1][-1].append(block)
    for number, page in enumerate(pages):
        cap = sheet.others if number else sheet.first
        if len(page) > cap:
            return None
        for place, system in enumerate(page):
            last = number == len(pages) - 1 and place == len(page) - 1
            share = (10.0 + sum(b.width for b in system)) / sheet.width
            if share > 1.04 and len(system) > 1:
                return None
            loose = LOOSE * 4 * (1 - share) ** 2
            total += OVERFULL * (share - 1) if share > 1 else loose / 20 if last else loose
        if number < len(pages) - 1:
            total += PAGE + UNFILLED * ((cap - len(page)) / cap) ** 2
            right = (number % 2 == 0) != left
            total += turn_cost(pages[number + 1][0][0].rest) if right else 0.0
    return total


@settings(max_examples=60)
@given(blocks_drawn, st.sampled_from(((1, 1), (1, 2), (2, 2), (2, 3))))
def test_no_other_layout_costs_less(blocks, caps) -> None:
    sheet = Sheet(180.0, *caps)
    assert lay_out(blocks, sheet).cost == pytest.approx(min(every_way(blocks, sheet)), abs=0.01)


def piece(rests: dict[int, float], count: int = 60):
    return tuple(Block(i, 44.0, 0.0, rests.get(i, 0.0)) for i in range(count))


def test_the_page_is_turned_in_the_rest() -> None:
    layout = lay_out(piece({28: 6.0}), Sheet(180.0, 8, 9))
    assert [turn.bar for turn in layout.turns] == [28]
    assert layout.turns[0].easy


def test_where_no_rest_will_do_the_turn_says_so() -> None:
    layout = lay_out(piece({}, 100), Sheet(180.0, 8, 9))
    assert layout.turns
    assert not any(turn.easy for turn in layout.turns)


def test_two_pages_lie_side_by_side_where_there_is_no_time_to_turn() -> None:
    layout = lay_out(piece({}, 60), Sheet(180.0, 8, 9))
    assert (layout.opens, len(layout.pages), layout.turns) == ("left", 1, ())


@given(st.floats(0, 10), st.floats(0, 10))
def test_a_longer_rest_never_makes_a_turn_dearer(one, other) -> None:
    assert turn_cost(min(one, other)) >= turn_cost(max(one, other))
