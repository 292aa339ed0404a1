"""Time to put a mute on or take it off."""

from __future__ import annotations

from collections.abc import Iterator

from expander.catalogue.limits import Limit
from expander.checks.check import Check, Hit
from expander.checks.music import Music, Stand
from expander.checks.switching import Switch, cited, gravity, needed, row_for, switches
from expander.model.finding import Severity
from expander.model.instrument import Instrument

CAREFUL = ("harmon", "bucket")
BY_HAND = ("stopped", "plunger")
"""Made with the hand in the bell or a cup held before it: no time is needed to speak of."""

FAMILIES = ("strings", "brass")


def detect(music: Music) -> Iterator[Hit]:
    """Changes of mute without the time they take."""
    for stand in music.stands:
        if stand.family in FAMILIES:
            for switch in switches(stand, lambda hand: hand.mute):
                yield from _hurried(music, stand, switch)


def _hurried(music: Music, stand: Stand, switch: Switch) -> Iterator[Hit]:
    one = switch.after.hand.instrument
    rows = _rows(switch, one) if one else []
    need = sum(needed(music, row, switch.end) for row in rows)
    seconds = music.seconds(switch.end, switch.after.start)
    if not rows or seconds >= need:
        return
    old, new = (name or "open" for name in (switch.old, switch.new))
    yield Hit(
        stand,
        switch.after.bar,
        switch.after.at,
        f"{max(0.0, seconds):.1f} seconds to go from {old} to {new}; about {need:.1f} are needed.",
        figure=f"{need:.1f} s",
        severity=gravity(seconds),
        source="; ".join(dict.fromkeys(cited(row) for row in rows)),
    )


def _rows(switch: Switch, one: Instrument) -> list[Limit]:
    """What has to be done: one mute off, another on."""
    off = _row("off", switch.old, one) if switch.old and switch.old not in BY_HAND else None
    on = _row("on", switch.new, one) if switch.new and switch.new not in BY_HAND else None
    return [row for row in (off, on) if row]


def _row(way: str, mute: str, one: Instrument) -> Limit | None:
    whats: tuple[str, ...] = (f"mute {way}",)
    if one.family == "strings":
        whats = (f"mute {way}, sliding mute", *whats)
    elif mute in CAREFUL:
        whats = (f"mute {way}, harmon or bucket", *whats)
    return row_for(whats, one)


CHECK = Check(
    id="mute-change",
    title="No time for a mute",
    finds="A mute that goes on or off in less time than the players need for it.",
    why="They stop playing early, start late, or play the wrong colour.",
    example="Violins with 'con sord.' one beat after their last open note.",
    instead="Let half the section change first, rest for two bars, or mark the change earlier.",
    severity=Severity.ERROR,
    source="The catalogue's table of changes: Berlioz and players' articles (published) for some, "
    "common practice for others.",
    detect=detect,
    levels="Amateurs are given a quarter more time, students half as much again.",
)
