"""Minor ninths inside chords."""

from __future__ import annotations

from collections.abc import Iterator

from expander.checks.check import Check, Hit
from expander.checks.figures import figure
from expander.checks.music import Music
from expander.checks.sonority import Slice, Tone, slices
from expander.model.finding import Severity

NINTH = 13


def detect(music: Music) -> Iterator[Hit]:
    """Minor ninths struck together and held, the lower note not being the bass."""
    shortest = 2 * figure("chords", "sustained")
    for one in slices(music):
        held = one.seconds >= shortest
        pair = _ninth(one) if held and _may_have_one(one.heights) else None
        if pair:
            yield _hit(music, one, *pair)


def _may_have_one(heights: tuple[int, ...]) -> bool:
    """True where two notes above the bass lie so far apart."""
    if len(heights) < 3 or heights[-1] - heights[0] <= NINTH:
        return False
    return not {height + NINTH for height in heights if height > heights[0]}.isdisjoint(heights)


def _ninth(one: Slice) -> tuple[Tone, Tone] | None:
    bass = one.tones[0].height
    fresh = [tone for tone in one.fresh if tone.height > bass]
    by_height = {tone.height: tone for tone in fresh}
    for low in fresh:
        high = by_height.get(low.height + NINTH)
        if high:
            return low, high
    return None


def _hit(music: Music, one: Slice, low: Tone, high: Tone) -> Hit:
    bar, at = music.place(one.start)
    return Hit(
        high.stand,
        bar,
        at,
        f"a minor ninth between {low.stand.name} and {high.stand.name}, struck together and held.",
        pitch=str(high.head.written),
        figure="minor ninth",
    )


CHECK = Check(
    id="minor-ninth",
    title="Minor ninth inside a chord",
    finds="A minor ninth between two upper notes of a chord that are struck together and held.",
    why="Of all spacings it is the harshest; over the bass of a dominant it is at home.",
    example="E4 in a trombone under F5 in a trumpet, over C.",
    instead="Turn the interval round to a major seventh, or move one of the notes by an octave.",
    severity=Severity.NOTE,
    source="Common practice in voicing for bands, no source.",
    detect=detect,
)
