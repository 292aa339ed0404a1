"""Phrases longer than a breath."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

from expander.catalogue.limits import breath_seconds, breath_source, low_octave_factor
from expander.checks.check import Check, Hit
from expander.checks.figures import figure
from expander.checks.music import ONE_PLAYER, Music, Stand, lines
from expander.checks.phrasing import Run, breaths, seconds_of
from expander.model.finding import Severity
from expander.model.instrument import Instrument

OCTAVE = 12
SHORTEST = 1.0
"""Seconds that every player has breath for; what is shorter is not looked up."""


def detect(music: Music) -> Iterator[Hit]:
    """Runs without a place to breathe that outlast the instrument's breath."""
    blown = (s for s in music.stands if s.instrument and s.instrument.breath)
    for stand, voice in lines(blown):
        for run in breaths(music, voice):
            seconds = seconds_of(run)
            if seconds > SHORTEST:
                yield from _too_long(music, stand, run, seconds)


def _too_long(music: Music, stand: Stand, run: Run, seconds: float) -> Iterator[Hit]:
    one = run[0].hand.instrument
    limit = _limit(music, one, run, seconds) if one else None
    if one is None or limit is None or seconds <= limit:
        return
    basis, sources = breath_source(one.id)
    together = stand.players > 1 and _shared(run)
    way = "; the players can breathe in turn" if together else ""
    dynamic = run[0].hand.dynamic or "no dynamic"
    yield Hit(
        stand,
        run[0].bar,
        run[0].at,
        f"{seconds:.1f} seconds without a place to breathe, to bar "
        f"{music.score.bars[run[-1].bar].number}; planned for one breath of the "
        f"{one.name.lower()} at {dynamic}: {limit:.1f}{way}.",
        figure=f"{limit:.1f} s",
        severity=Severity.NOTE if together else Severity.WARNING,
        source=f"{'; '.join(sources)} ({basis})",
    )


def _limit(music: Music, one: Instrument, run: Run, seconds: float) -> float | None:
    """What is planned for one breath; None where a run of so many seconds is no matter."""
    planned = _planned(one.id, run[0].hand.dynamic or "mf")
    share = figure("no-breath", music.level)
    if planned is None or seconds <= min(planned) * share:
        return None
    usual, low = planned
    deep = one.professional and all(_low(one, c.top.height) for c in run if c.heads)
    return (low if deep else usual) * share


@lru_cache(maxsize=4096)
def _planned(id: str, dynamic: str) -> tuple[float, float] | None:  # noqa: A002
    """Seconds of a professional's breath: usual, and in the lowest octave."""
    seconds = breath_seconds(id, dynamic)
    return None if seconds is None else (seconds, seconds * low_octave_factor(id))


def _low(one: Instrument, height: float) -> bool:
    assert one.professional is not None
    return height <= float(one.sounding(one.professional)[0].semitone) + OCTAVE


def _shared(run: Run) -> bool:
    """True where nobody says that one player has it alone."""
    return run[0].hand.label not in ONE_PLAYER


CHECK = Check(
    id="no-breath",
    title="Longer than a breath",
    finds="A held note or slurred phrase that lasts longer than one breath of its player.",
    why="The player breaks the slur where it suits them, or runs out of air.",
    example="A flute holding one note for twelve seconds at forte.",
    instead="End a slur earlier, add a rest or a breath mark, or let two players take turns.",
    severity=Severity.WARNING,
    source="Breath lengths of the catalogue by instrument and dynamic; most are common practice.",
    detect=detect,
    levels="Amateurs are planned with four fifths of the time, students with three fifths.",
)
