"""Who gets what at the least price: a matching of rows to columns.

The shortest-path form of the method of H. W. Kuhn, "The Hungarian method for the assignment
problem", Naval Research Logistics Quarterly 2 (1955), 83-97.
"""

from __future__ import annotations

from collections.abc import Sequence

_FAR = float("inf")


def cheapest(prices: Sequence[Sequence[float]]) -> list[int]:
    """The column of each row, all different, at the least total price.

    Needs at least as many columns as rows. Of equal matchings always the same one is found.
    """
    rows, columns = len(prices), len(prices[0]) if prices else 0
    if rows > columns:
        raise ValueError(f"{rows} rows need as many columns; there are {columns}")
    search = _Search(prices, rows, columns)
    for row in range(1, rows + 1):
        search.add(row)
    found = [-1] * rows
    for column in range(1, columns + 1):
        if search.owner[column]:
            found[search.owner[column] - 1] = column - 1
    return found


class _Search:
    """Rows are added one by one, each along the cheapest chain of exchanges. Counts from 1."""

    def __init__(self, prices: Sequence[Sequence[float]], rows: int, columns: int) -> None:
        self.prices = prices
        self.columns = columns
        self.row_value = [0.0] * (rows + 1)
        self.column_value = [0.0] * (columns + 1)
        self.owner = [0] * (columns + 1)

    def add(self, row: int) -> None:
        """Give a row its column, moving earlier rows where that is cheaper."""
        self.owner[0] = row
        came = [0] * (self.columns + 1)
        least = [_FAR] * (self.columns + 1)
        done = [False] * (self.columns + 1)
        column = 0
        while self.owner[column]:
            done[column] = True
            column = self._next(column, came, least, done)
        while column:
            self.owner[column] = self.owner[came[column]]
            column = came[column]

    def _next(self, column: int, came: list[int], least: list[float], done: list[bool]) -> int:
        row = self.owner[column]
        best, step = -1, _FAR
        for other in range(1, self.columns + 1):
            if done[other]:
                continue
            price = self.prices[row - 1][other - 1] - self.row_value[row] - self.column_value[other]
            if price < least[other]:
                least[other], came[other] = price, column
            if least[other] < step:
                step, best = least[other], other
        for other in range(self.columns + 1):
            if done[other]:
                self.row_value[self.owner[other]] += step
                self.column_value[other] -= step
            else:
                least[other] -= step
        return best
