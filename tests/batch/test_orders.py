"""Orders: every sketch with every line-up and rule file, each in a folder of its own."""

from __future__ import annotations

from pathlib import Path

import pytest

from expander.batch.orders import orders_of
from expander.errors import BadUsage
from expander.model.jobs import JobEntry

HERE = Path("/songs")


def names(*entries: JobEntry) -> list[str]:
    return [order.name for order in orders_of([(entry, HERE) for entry in entries])]


@pytest.mark.parametrize(
    ("entries", "folders"),
    [
        ([JobEntry(("a.musicxml", "b.mxl"))], ["a", "b"]),
        ([JobEntry(("a.musicxml",), ("septet",), ("x.yaml",))], ["a"]),
        ([JobEntry(("a.musicxml",), ("septet", "big-band"))], ["a-septet", "a-big-band"]),
        ([JobEntry(("a.musicxml",), (), ("x.yaml", "y.yaml"))], ["a-x", "a-y"]),
        (
            [JobEntry(("a.musicxml", "b.musicxml"), ("septet", "lines/own.yaml"))],
            ["a-septet", "a-own", "b-septet", "b-own"],
        ),
        ([JobEntry(("a.musicxml",), name="rondo")], ["rondo"]),
        ([JobEntry(("a.musicxml", "b.musicxml"), name="act")], ["act-a", "act-b"]),
        ([JobEntry(("one/a.musicxml", "two/a.musicxml"))], ["one-a", "two-a"]),
        ([JobEntry(("a.musicxml", "a.mxl"))], ["songs-a", "songs-a-2"]),
        ([JobEntry(("a.musicxml", "A.musicxml"))], ["songs-a", "songs-A-2"]),
    ],
)
def test_each_order_has_a_folder_of_its_own(entries, folders) -> None:
    assert names(*entries) == folders


def test_paths_are_taken_from_the_entrys_folder() -> None:
    entry = JobEntry(("a.musicxml",), ("own.yaml", "septet"), ("x.yaml",))
    first, second = orders_of([(entry, HERE)])
    assert (first.sketch, first.rules) == (HERE / "a.musicxml", HERE / "x.yaml")
    assert (first.ensemble, second.ensemble) == (str(HERE / "own.yaml"), "septet")


def test_an_entrys_own_wish_for_parts_stands() -> None:
    entries = [(JobEntry(("a",), parts=wish), HERE) for wish in (None, True, False)]
    assert [o.parts for o in orders_of(entries, parts=True)] == [True, True, False]
    assert [o.parts for o in orders_of(entries, parts=False)] == [False, True, False]


def test_nothing_to_do_is_told() -> None:
    with pytest.raises(BadUsage, match="nothing to do"):
        orders_of([])
