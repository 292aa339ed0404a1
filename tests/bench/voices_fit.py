"""Find the figures of `polyphony.json`, or of the benchmark: `python -m tests.bench.voices_fit`.

    --ship      write expander/voicing/polyphony.json (found from all but the reported chorales)
    --bench     write voices_figures.json: for each group, figures that have not seen it

Learning from mistakes on whole stretches (a structured perceptron with a margin): a stretch of
`STRETCH` moments is read with the figures found so far, wrong notes being made more attractive by
the margin; what speaks for the true reading is then raised and what speaks for the one found is
lowered, by less for figures that have moved often. The average over the rounds after the first two
is kept, and of several such runs, which differ in the order of the stretches (shuffled with a fixed
seed), the average again. Two voices and four have figures of their own.

The search is the compiled twin of the program's (`voices_fit.c`; needs `cc`): the same figures
come out every time, digit for digit, with one compiler on one machine.
Tune only on groups that are not reported with the figures found.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from random import Random
from typing import Any

from msgspec import Struct

from expander.voicing import polyphony
from expander.voicing.figures import TOTAL, named, set_for
from expander.voicing.tones import Tone
from tests.bench.voices import FIGURES, TASKS, problems
from tests.bench.voices_data import COMPOSERS, TICKS, pieces
from tests.bench.voices_twin import Labels, Row, Twin, labels_of, new_row

STRETCH, WIDTH, BEHIND, ROUNDS, KEPT_FROM, RUNS = 400, 12, 9.0, 6, 2, 3
SCALE = 10000
SHIPPED = Path(polyphony.__file__).with_name("polyphony.json")


class How(Struct, frozen=True):
    """How to learn: the margin, and how far a figure moves at first."""

    margin: float
    step: float


CHORALES, QUARTETS = How(0.1, 0.05), How(0.3, 0.05)


class Stretch(Struct):
    """A run of moments of a problem, with the pasts of the voices before it."""

    twin: Twin
    truth: Labels
    scored: Labels
    moments: range
    pasts: bytes


def stretches(groups: Sequence[str], voices: int, store: Path | None) -> Iterator[Stretch]:
    """All stretches of the groups in which the truth can be read at all."""
    for found in pieces(store):
        tasks = TASKS if found.group in groups else ()
        for heads, truth, parts in (p for task in tasks for p in problems(found, task)):
            if len(parts) == voices:
                tones = [Tone(h.onset, h.end, h.semitone) for h in heads]
                piece = polyphony.prepare(tones, voices, TICKS, ())
                yield from _cut(Twin(piece, tones), truth, [int(h.scored) for h in heads])


def _cut(twin: Twin, truth: Sequence[int], scored: Sequence[int]) -> Iterator[Stretch]:
    labels, marks, pasts = labels_of(truth), labels_of(scored), twin.silent()
    until = [0] * twin.piece.texture.count
    moments = twin.piece.moments
    for first in range(0, len(moments), STRETCH):
        run = range(first, min(len(moments), first + STRETCH))
        before, possible = pasts.raw, True
        for index in run:
            voices = [truth[t] for t in moments[index].tones]
            busy = any(until[v] > moments[index].now for v in voices)
            possible = possible and not busy and len(set(voices)) == len(voices)
            for tone, voice in zip(moments[index].tones, voices, strict=True):
                until[voice] = twin.piece.texture.ends[tone]
        twin.count(run, labels, pasts)
        if possible:
            yield Stretch(twin, labels, marks, run, before)


def fit(found: Sequence[Stretch], how: How) -> list[float]:
    """The figures in a row, the average of all runs."""
    runs = [_run(list(found), how, seed) for seed in range(RUNS)]
    return [sum(column) / RUNS for column in zip(*runs, strict=True)]


def _run(found: list[Stretch], how: How, seed: int) -> list[float]:
    figures, moved, total = new_row(), [1.0] * TOTAL, [0.0] * TOTAL
    random, kept = Random(seed), 0
    last = [0] * TOTAL  # how many averages a figure has already been counted in
    for number in range(ROUNDS):
        random.shuffle(found)
        for stretch in found:
            for place, change in _change(stretch, figures, how.margin).items():
                total[place] += figures[place] * (kept - last[place])
                last[place] = kept
                moved[place] += change * change
                figures[place] += how.step * change / moved[place] ** 0.5
            kept += number >= KEPT_FROM
        print(f"  run {seed + 1} of {RUNS}, round {number + 1} of {ROUNDS}", flush=True)
    return [(t + f * (kept - seen)) / kept for t, f, seen in zip(total, figures, last, strict=True)]


def _change(stretch: Stretch, figures: Row, margin: float) -> dict[int, float]:
    """By place: how much more a figure speaks for the truth than for what was found."""
    twin, run = stretch.twin, stretch.moments
    found = twin.search(
        run, figures, WIDTH, BEHIND, stretch.pasts, (stretch.truth, stretch.scored, margin)
    )
    first, last = twin.notes_of(run)
    if found[first:last] == stretch.truth[first:last]:
        return {}
    total = new_row()
    twin.count(run, stretch.truth, twin.pasts(stretch.pasts), 1.0, total)
    twin.count(run, found, twin.pasts(stretch.pasts), -1.0, total)
    size = float(last - first) ** 0.5
    return {place: change / size for place, change in enumerate(total) if change}


def found_for(
    groups: Sequence[str], how: How, store: Path | None
) -> dict[str, dict[str, list[int]]]:
    """Both sets of tables, in ten-thousandths."""
    sets = {}
    for voices in (2, 4):
        print(f"{', '.join(groups)}: {set_for(voices)}", flush=True)
        row = fit(list(stretches(groups, voices, store)), how)
        sets[set_for(voices)] = named([round(SCALE * figure) for figure in row])
    return sets


def _text(facts: Mapping[str, Any]) -> str:
    """As JSON, a table to a line."""
    rows = []
    for name, value in facts.items():
        text = json.dumps(value)
        if isinstance(value, dict):
            tables = [f"    {json.dumps(key)}: {json.dumps(row)}" for key, row in value.items()]
            text = "{\n" + ",\n".join(tables) + "\n  }"
        rows.append(f"  {json.dumps(name)}: {text}")
    return "{\n" + ",\n".join(rows) + "\n}\n"


def main() -> None:
    """Fit and write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--data", type=Path, help="the pieces, as voices.py keeps them")
    parser.add_argument("--ship", action="store_true")
    parser.add_argument("--bench", action="store_true")
    options = parser.parse_args()
    tuning = "chorales, tuning"
    if options.bench:
        found = {
            name: found_for([c for c in COMPOSERS if c != name], QUARTETS, options.data)
            for name in COMPOSERS
        }
        found["chorales"] = found_for([tuning], CHORALES, options.data)
        FIGURES.write_text(json.dumps(found, separators=(",", ":")))
    if options.ship:
        facts = json.loads(SHIPPED.read_text())
        facts = {name: row for name, row in facts.items() if isinstance(row, str | int)}
        facts |= found_for([tuning, *COMPOSERS], QUARTETS, options.data)
        SHIPPED.write_text(_text(facts))


if __name__ == "__main__":
    main()
