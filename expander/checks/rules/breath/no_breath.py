"""Phrases longer than a breath."""

from __future__ import annotations

from collections.abc import Iterator

from expander.catalogue.limits import breath_seconds, breath_source, low_octave_factor
from expander.checks.check import Check, Hit
from expander.checks.figures import figure
from expander.checks.music import Music, Stand, lines
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
            yield from _too_long(music, stand, run)


def _too_long(music: Music, stand: Stand, run: Run) -> Iterator[Hit]:
    one = run[0].hand.instrument
    seconds = seconds_of(music, run)
    limit = _limit(music, one, run) if one and seconds > SHORTEST else None
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


def _limit(music: Music, one: Instrument, run: Run) -> float | None:
    seconds = breath_seconds(one.id, run[0].hand.dynamic or "mf")
    if seconds is None:
        return None
    if one.professional and all(_low(one, chord.top.height) for chord in run if chord.heads):
        seconds *= low_octave_factor(one.id)
    return seconds * figure("no-breath", music.level)


def _low(one: Instrument, height: float) -> bool:
    assert one.professional is not None
    return height <= float(one.sounding(one.professional)[0].semitone) + OCTAVE


def _shared(run: Run) -> bool:
    """True where nobody says that one player has it alone."""
    return run[0].hand.label not in ("1.", "2.", "solo")


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
