"""Time to change to another instrument."""

from __future__ import annotations

from collections.abc import Iterator

from expander.checks.check import Check, Hit
from expander.checks.music import Music, Stand
from expander.checks.switching import Switch, cited, gravity, needed, row_for, switches
from expander.model.finding import Severity

FAMILIES = ("woodwind", "brass")


def detect(music: Music) -> Iterator[Hit]:
    """Changes of instrument in less time than is safe."""
    for stand in music.stands:
        if stand.changes[1:] and stand.family in FAMILIES:
            for switch in switches(stand, lambda h: h.instrument.id if h.instrument else ""):
                yield from _hurried(music, stand, switch)


def _hurried(music: Music, stand: Stand, switch: Switch) -> Iterator[Hit]:
    old, new = switch.before.hand.instrument, switch.after.hand.instrument
    if old is None or new is None:
        return
    safe = row_for(("instrument change, safe",), new) or row_for(("instrument change, safe",), old)
    risky = row_for(("instrument change, risky",), new)
    seconds = music.seconds(switch.end, switch.after.start)
    if safe is None or seconds >= needed(music, safe, switch.end):
        return
    limit = needed(music, risky or safe, switch.end)
    yield Hit(
        stand,
        switch.after.bar,
        switch.after.at,
        f"{max(0.0, seconds):.1f} seconds to change from {old.name.lower()} to "
        f"{new.name.lower()}; under {limit:.0f} is risky, "
        f"{needed(music, safe, switch.end):.0f} is safe.",
        figure=f"{limit:.0f} s",
        severity=gravity(seconds) if seconds < limit else Severity.NOTE,
        source=cited(risky or safe),
    )


CHECK = Check(
    id="instrument-change",
    title="No time to change instrument",
    finds="A player who takes another instrument in less time than is safe.",
    why="One instrument must be put down and the other taken, warmed and its reed wetted.",
    example="Flute to piccolo with two beats of rest at quarter = 120.",
    instead="Give the last notes before, or the first after, to the player beside.",
    severity=Severity.ERROR,
    source="Bret Pimentel, 'Time required for instrument switches' (published).",
    detect=detect,
    levels="Amateurs are given a quarter more time, students half as much again.",
)
