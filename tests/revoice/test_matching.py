"""The matching is the cheapest there is, by trying all."""

from __future__ import annotations

from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from expander.revoice.matching import cheapest


@st.composite
def tables(draw):
    rows = draw(st.integers(1, 4))
    columns = draw(st.integers(rows, 5))
    price = st.integers(-50, 50)
    row = st.lists(price, min_size=columns, max_size=columns)
    return draw(st.lists(row, min_size=rows, max_size=rows))


def total(prices, columns):
    return sum(row[column] for row, column in zip(prices, columns, strict=True))


@given(tables())
def test_no_other_matching_is_cheaper(prices) -> None:
    found = cheapest(prices)
    assert len(set(found)) == len(prices)
    every = permutations(range(len(prices[0])), len(prices))
    assert total(prices, found) == min(total(prices, one) for one in every)


def test_more_rows_than_columns_are_refused() -> None:
    with pytest.raises(ValueError, match="3 rows"):
        cheapest([[1], [2], [3]])


def test_nothing_is_matched_with_nothing() -> None:
    assert cheapest([]) == []
