"""Harp pedals needed at once or without time."""

from __future__ import annotations

from collections.abc import Iterator

from expander.catalogue.limits import limit
from expander.checks.check import Check, Hit
from expander.checks.figures import figure
from expander.checks.music import Music, Stand
from expander.checks.pedals import Need, clashes, late, needs
from expander.checks.switching import cited
from expander.model.finding import Severity
from expander.model.pitch import LETTERS

STATES = {-1: "flat", 0: "natural", 1: "sharp"}


def detect(music: Music) -> Iterator[Hit]:
    """A letter in two states at once, and changes that the feet have no time for."""
    for stand in music.stands:
        if stand.instrument and stand.instrument.id == "harp":
            yield from _two_states(stand)
            yield from _no_time(music, stand)


def _two_states(stand: Stand) -> Iterator[Hit]:
    assert stand.instrument is not None
    row = limit("harp", "one state a letter", stand.instrument)
    for clash in clashes(stand.chords):
        yield Hit(
            stand,
            clash.chord.bar,
            clash.chord.at,
            f"{clash.one.written} and {clash.two.written} at once: one pedal sets all strings of "
            f"a letter. Spell one of them with the neighbouring letter.",
            pitch=str(clash.two.written),
            figure="one state a letter",
            source=cited(row) if row else "",
        )


def _no_time(music: Music, stand: Stand) -> Iterator[Hit]:
    assert stand.instrument is not None
    row = limit("harp", "time for a change", stand.instrument)
    changes = list(needs(stand.chords))
    moments = [(music.clock.at(n.since), music.clock.at(n.by)) for n in changes]
    each = (float(row.value) if row else 0.0) * figure("change", music.level)
    hopeless = set(late(changes, moments, figure("harp-pedals", "rush")))
    for need in late(changes, moments, each):
        yield Hit(
            stand,
            need.chord.bar,
            need.chord.at,
            f"the {LETTERS[need.letter]} pedal must go from {_state(need.old)} to "
            f"{_state(need.new)} in {music.seconds(need.since, need.by):.1f} seconds{_more(need)}; "
            f"each change takes a foot about {each:.1f}.",
            pitch=str(need.head.written),
            figure=f"{each:.1f} s a change and foot",
            severity=Severity.ERROR if need in hopeless else Severity.WARNING,
            source=cited(row) if row else "",
        )


def _state(alter: float) -> str:
    return STATES.get(int(alter), "double " + ("sharp" if alter > 0 else "flat"))


def _more(need: Need) -> str:
    foot = "left" if LETTERS[need.letter] in "DCB" else "right"
    return f" with what else the {foot} foot has to do"


CHECK = Check(
    id="harp-pedals",
    title="Harp pedals that cannot be changed in time",
    finds="One letter in two states at once, or more changes than a foot has time for.",
    why="Seven pedals, two feet: each foot moves one at a time, and the harpist needs to know.",
    example="C natural and C sharp in one chord; F, G and A all changed within one beat.",
    instead="Use the neighbour's string (D flat for C sharp), or leave a beat for each change.",
    severity=Severity.ERROR,
    source="harpinsideout.com; M. Zager, p. 120 (published); half a second a change is common "
    "practice.",
    detect=detect,
    levels="Amateurs are given a quarter more time, students half as much again.",
)
