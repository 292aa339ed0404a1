"""Gaps inside loud chords."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from expander.catalogue.limits import limits
from expander.checks.check import Check, Hit
from expander.checks.figures import figure
from expander.checks.music import Music
from expander.checks.sonority import Slice, Tone, slices
from expander.checks.switching import cited
from expander.model.finding import Severity

LOUD = ("f", "ff", "fff", "ffff")


def detect(music: Music) -> Iterator[Hit]:
    """Loud held chords with a hole between the parts above the bass, once a bar."""
    told = -1
    shortest = 2 * figure("chords", "sustained")
    for one in slices(music):
        pair = _gap(one) if one.seconds >= shortest and _is_wide(one.heights) else None
        bar, at = music.place(one.start) if pair else (told, 0)
        if pair and bar != told:
            told = bar
            yield _hit(bar, at, *pair)


def _is_wide(heights: tuple[int, ...]) -> bool:
    """True where two neighbours above the bass lie far apart in a chord of several notes."""
    if len(heights) < figure("wide-gap", "voices"):
        return False
    wide, bass = figure("wide-gap", "semitones"), heights[0]
    if heights[-1] - bass <= wide:
        return False
    return any([high - low > wide for low, high in pairwise(heights) if low > bass])


def _gap(one: Slice) -> tuple[Tone, Tone] | None:
    bass = one.heights[0]
    if len(set(one.heights)) < figure("wide-gap", "voices"):
        return None
    if not any(tone.chord.hand.dynamic in LOUD for tone in one.tones):
        return None
    upper = [tone for tone in one.tones if tone.height > bass]
    for low, high in pairwise(upper):
        if high.height - low.height > figure("wide-gap", "semitones"):
            return low, high
    return None


def _hit(bar: int, at: int, low: Tone, high: Tone) -> Hit:
    rows = [row for row in limits("balance") if row.what == "spacing of a chord"]
    return Hit(
        high.stand,
        bar,
        at,
        f"a gap of {high.height - low.height} semitones in a loud chord, between "
        f"{low.stand.name} and {high.stand.name}.",
        pitch=str(high.head.written),
        figure=f"{figure('wide-gap', 'semitones'):.0f} semitones",
        source=cited(rows[0]) if rows else "",
    )


CHECK = Check(
    id="wide-gap",
    title="Hole in a loud chord",
    finds="More than an octave and a fifth between neighbouring parts above the bass, at forte.",
    why="The chord falls apart into two groups; at piano the gap is tolerable.",
    example="Trombones up to G3 and trumpets from F5, nothing between.",
    instead="Let horns or violas fill the middle.",
    severity=Severity.NOTE,
    source="Rimsky-Korsakov, ch. III (published as quoted); the figure is common practice.",
    detect=detect,
)
