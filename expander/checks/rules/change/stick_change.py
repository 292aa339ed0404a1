"""Time to change sticks."""

from __future__ import annotations

from collections.abc import Iterator

from expander.checks.check import Check, Hit
from expander.checks.music import Music, Stand
from expander.checks.switching import Switch, cited, gravity, needed, row_for, switches
from expander.model.finding import Severity


def detect(music: Music) -> Iterator[Hit]:
    """Changes of sticks or mallets without time for them."""
    for stand in music.stands:
        if stand.family.endswith("percussion"):
            for switch in switches(stand, lambda hand: hand.sticks):
                yield from _hurried(music, stand, switch)


def _hurried(music: Music, stand: Stand, switch: Switch) -> Iterator[Hit]:
    one = switch.after.hand.instrument
    row = row_for(("sticks",), one) if one and switch.old and switch.new else None
    seconds = music.seconds(switch.end, switch.after.start)
    if row is None or seconds >= needed(music, row, switch.end):
        return
    yield Hit(
        stand,
        switch.after.bar,
        switch.after.at,
        f"{max(0.0, seconds):.1f} seconds to change from {switch.old} to {switch.new}; "
        f"about {needed(music, row, switch.end):.1f} are needed.",
        figure=f"{needed(music, row, switch.end):.1f} s",
        severity=gravity(seconds),
        source=cited(row),
    )


CHECK = Check(
    id="stick-change",
    title="No time to change sticks",
    finds="Another kind of stick or mallet asked for without time to take it up.",
    why="The player stays with the wrong sticks or misses the entry.",
    example="Soft mallets, then 'hard mallets' on the next beat.",
    instead="Leave two seconds, or give the figure to a second player.",
    severity=Severity.ERROR,
    source="Common practice, no source.",
    detect=detect,
    levels="Amateurs are given a quarter more time, students half as much again.",
)
