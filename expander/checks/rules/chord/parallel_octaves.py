"""Parallel octaves between independent lines."""

from __future__ import annotations

from collections.abc import Iterator

from msgspec import Struct

from expander.checks.check import Check, Hit
from expander.checks.figures import figure
from expander.checks.lines import by_start, few_lines, neighbours
from expander.checks.music import Chord, Music, Stand
from expander.model.finding import Severity

OCTAVE = 12


class Pair(Struct, frozen=True):
    """Two notes that begin together."""

    upper: Chord
    lower: Chord

    @property
    def gap(self) -> int:
        """Semitones between them."""
        return self.upper.heads[0].height - self.lower.heads[0].height


def detect(music: Music) -> Iterator[Hit]:
    """Two or three octaves (or unisons) in a row between lines that go their own way otherwise."""
    for one, two in neighbours(few_lines(music)):
        first, second = by_start(one), by_start(two)
        together = [Pair(first[t], second[t]) for t in sorted(first.keys() & second.keys())]
        yield from _parallels(one, two, together)


def _parallels(one: Stand, two: Stand, together: list[Pair]) -> Iterator[Hit]:
    run: list[Pair] = []
    for pair in (*together, None):
        if pair and run and _follows(run[-1], pair) and pair.gap == run[-1].gap:
            run.append(pair)
            continue
        if 1 < len(run) <= figure("parallel-octaves", "longest"):
            yield _hit(one, two, run)
        run = [pair] if pair and pair.gap % OCTAVE == 0 else []


def _follows(before: Pair, after: Pair) -> bool:
    """True where both lines go straight on, and move."""
    joined = before.upper.end == after.upper.start and before.lower.end == after.lower.start
    return joined and before.upper.heads[0].height != after.upper.heads[0].height


def _hit(one: Stand, two: Stand, run: list[Pair]) -> Hit:
    second = run[1]
    kind = "octaves" if second.gap else "unisons"
    return Hit(
        one,
        second.upper.bar,
        second.upper.at,
        f"parallel {kind} with {two.name}.",
        pitch=str(second.upper.heads[0].written),
        figure="independent lines",
    )


CHECK = Check(
    id="parallel-octaves",
    title="Parallel octaves",
    finds="Two lines of a small score that move in octaves or unisons for two or three notes.",
    why="For a moment a voice is missing; longer doublings are heard as meant.",
    example="Soprano and bass both going from C to D in a chorale.",
    instead="Let one of the lines move another way.",
    severity=Severity.NOTE,
    source="Rimsky-Korsakov, ch. III, on real parts (published as quoted), and any harmony book.",
    detect=detect,
)
