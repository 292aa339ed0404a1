"""Keys in which the tune lies well for a voice, with the figures.

Common practice, no source, for the order: first how long the tune stays in the comfortable
register, then how few notes lie beyond it, then the fewest accidentals.
"""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct

from expander.catalogue.naming import instrument_named
from expander.errors import BadUsage
from expander.model.instrument import Instrument
from expander.model.pitch import LETTERS, Drum, Interval, Sounding
from expander.revoice.doubling import groups_of
from expander.revoice.keys import by_semitones, first_key
from expander.revoice.lines import FullScore, split
from expander.revoice.roles import TUNE, roles_of

WAYS = range(-11, 12)
"""Semitones tried, up to a seventh either way."""

SHOWN = 3


class Suggestion(Struct, frozen=True):
    """A key for a voice.

    `interval` leads there. `low` and `high` are the tune's outermost notes in it, sounding;
    `comfortable` is the share of the tune's length inside the voice's comfortable register (0.0
    to 1.0), `beyond` how many of its notes lie outside the professional range.
    """

    interval: Interval
    key: str
    low: Sounding
    high: Sounding
    comfortable: float
    beyond: int


def find_keys(score: FullScore, voice: str) -> tuple[Suggestion, ...]:
    """The best keys for a voice or instrument by name, the best first.

    Raises BadUsage where the name is not in the catalogue, or the score has no tune.
    """
    one = instrument_named(voice)
    if one is None or one.comfortable is None:
        raise BadUsage(
            f"there is no voice or instrument '{voice}' with a register.",
            hint="Try soprano, mezzo-soprano, alto, tenor, baritone, bass; see "
            "'expander list instruments'.",
        )
    tune = tune_of(score)
    if not tune:
        raise BadUsage("no tune was found in the score, so no key can be suggested for it.")
    options = [_suggestion(score, tune, one, way) for way in WAYS]
    fifths = first_key(score.sketch).fifths
    best = sorted(
        options,
        key=lambda s: (
            -round(s.comfortable, 3), s.beyond, abs(fifths + s.interval.fifths),
            abs(s.interval.chromatic), s.interval.chromatic,
        ),
    )  # fmt: skip
    return tuple(best[:SHOWN])


def tune_of(score: FullScore) -> tuple[tuple[Sounding, int], ...]:
    """The tune's notes with their length in ticks: what is sung, else what leads."""
    sung = [line for line in score.lines if line.owner.sung]
    if sung:
        part = sung[0].owner.part
        cells = [c for line in sung if line.owner.part == part for c in line.cells.values()]
    else:
        lines = split(score.lines, frozenset())
        voices = roles_of(score, lines, groups_of(lines, len(score.sketch.bars)))
        cells = [
            lines[v.group.lead].cells[v.group.bar] for here in voices for v in here
            if v.role == TUNE
        ]  # fmt: skip
    return tuple(
        (n.pitch, e.duration)
        for cell in cells for e in cell if e.duration
        for n in e.notes[:1] if not isinstance(n.pitch, Drum)
    )  # fmt: skip


def _suggestion(
    score: FullScore, tune: Sequence[tuple[Sounding, int]], one: Instrument, way: int
) -> Suggestion:
    key = first_key(score.sketch)
    by = by_semitones(way, key)
    moved = [(pitch.moved(by), ticks) for pitch, ticks in tune]
    assert one.comfortable and one.professional
    soft_low, soft_high = one.sounding(one.comfortable)
    low, high = one.sounding(one.professional)
    inside = sum(t for p, t in moved if soft_low.semitone <= p.semitone <= soft_high.semitone)
    pitches = sorted((p for p, _ in moved), key=lambda p: p.semitone)
    return Suggestion(
        by,
        key_name(key.fifths + by.fifths, key.mode),
        pitches[0],
        pitches[-1],
        inside / max(1, sum(t for _, t in moved)),
        sum(not low.semitone <= p.semitone <= high.semitone for p in pitches),
    )


def key_name(fifths: int, mode: str) -> str:
    """A key in words: "E flat major"; major where the mode is not known."""
    minor = mode == "minor"
    place = fifths + (3 if minor else 0)
    letter = LETTERS[(4 * place) % 7]
    sign = (place + 1) // 7
    signs = {0: "", 1: " sharp", -1: " flat", 2: " double sharp", -2: " double flat"}
    return f"{letter}{signs.get(sign, '')} {'minor' if minor else 'major'}"


def told(found: Suggestion) -> str:
    """A suggestion in one line, with its figures."""
    way = found.interval.chromatic
    count = f"{abs(way)} semitone{'s' * (abs(way) != 1)} {'up' if way > 0 else 'down'}"
    move = "as it stands" if not way else f"{count} (--transpose {way:+d})"
    beyond = f", {found.beyond} notes beyond the range" if found.beyond else ""
    return (
        f"{found.key}: {move}; tune {found.low} to {found.high}, "
        f"{100 * found.comfortable:.0f} % of it in the comfortable register{beyond}."
    )
