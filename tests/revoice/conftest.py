"""Scores for the tests of revoicing: written out in the mini-notation."""

from __future__ import annotations

import pytest

from expander.catalogue import entries
from expander.catalogue.lineup import built
from expander.catalogue.yamlfile import Places


def line_up(*players):
    """A line-up of instruments by their ids, numbered where one comes again."""
    rows = []
    for index, one in enumerate(players):
        again = players.count(one) > 1
        number = players[: index + 1].count(one)
        name = one.replace("-", " ") + (f" {number}" if again else "")
        rows.append({"name": name, "plays": one})
    file = entries.line_up({"title": "Test", "players": rows})
    return built("test", file, Places("test.yaml", {}, {}))


QUARTET = """
Violin 1: !p D5:q( E5 F5 G5) | A5:h G5 | F5:q E5 D5 C#5 | D5:w
Violin 2: !p A4:h A4 | D5:h D5 | A4:h G4 | F4:w
Viola: @alto !p F4:h F4 | F4:h E4 | D4:h E4 | A3:w
Violoncello: @bass !p D3:q C3 Bb2 A2 | F2:h G2 | A2:h A2 | D3:w
"""


@pytest.fixture
def quartet():
    """Four bars for string quartet, all four different."""
    from tests import mini

    return mini.document(QUARTET)
