"""Time between bow and finger."""

from __future__ import annotations

from collections.abc import Iterator

from expander.checks.check import Check, Hit
from expander.checks.music import Music, Stand
from expander.checks.switching import Switch, cited, needed, row_for, switches
from expander.model.finding import Severity

PLUCKED = "pizz"


def detect(music: Music) -> Iterator[Hit]:
    """Changes between arco and pizzicato that come too fast."""
    for stand in music.stands:
        if stand.family == "strings":
            for switch in switches(stand, lambda hand: PLUCKED if hand.bow == PLUCKED else "arco"):
                yield from _hurried(music, stand, switch)


def _hurried(music: Music, stand: Stand, switch: Switch) -> Iterator[Hit]:
    one = switch.after.hand.instrument
    what = "arco to pizzicato" if switch.new == PLUCKED else "pizzicato to arco"
    row = row_for((what,), one) if one else None
    # From onset to onset: the end of the note before can be given up.
    seconds = music.seconds(switch.before.start, switch.after.start)
    if row is None or seconds >= needed(music, row, switch.end):
        return
    yield Hit(
        stand,
        switch.after.bar,
        switch.after.at,
        f"{what} with {seconds:.2f} seconds from note to note; about "
        f"{needed(music, row, switch.end):.1f} are needed.",
        figure=f"{needed(music, row, switch.end):.1f} s",
        source=cited(row),
    )


CHECK = Check(
    id="pizzicato-change",
    title="Too fast between bow and finger",
    finds="A change between arco and pizzicato with hardly any time from note to note.",
    why="The bow hand has to turn; the first note after is late or missing.",
    example="A pizzicato eighth straight after a bowed one at quarter = 160.",
    instead="Leave out the note before, or divide: half of the section plucks, half bows.",
    severity=Severity.WARNING,
    source="Common practice, no source.",
    detect=detect,
    levels="Amateurs are given a quarter more time, students half as much again.",
)
