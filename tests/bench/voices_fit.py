"""Find the figures of `polyphony.json`: `python -m tests.bench.voices_fit GROUP... --out FILE`.

Learning from mistakes on whole stretches (a structured perceptron with a margin): a stretch of
`STRETCH` moments is read with the figures found so far, wrong notes being made more attractive by
`MARGIN`; what speaks for the true reading is then raised and what speaks for the one found is
lowered, by less for figures that have moved often. The average over the rounds after the
first two is kept. The order of stretches is shuffled with a fixed seed.

Tune only on groups that are not reported with the figures found.
"""

from __future__ import annotations

import argparse
import json
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from random import Random

from msgspec import Struct

from expander.voicing import polyphony
from expander.voicing.polyphony import Moment, Pasts, Piece, Way, best, prepare, ways_of
from expander.voicing.texture import SILENT, SIZES
from expander.voicing.tones import Tone
from tests.bench.voices import TASKS, problems
from tests.bench.voices_data import TICKS, pieces

STRETCH, MARGIN, STEP, ROUNDS, KEPT_FROM = 400, 3000, 500.0, 6, 2

Figures = dict[str, list[float]]


class Stretch(Struct):
    """A run of moments with the pasts of the voices before it, and the true ways."""

    piece: Piece
    moments: list[Moment]
    start: Pasts
    truth: list[Way]


def stretches(groups: list[str], store: Path | None) -> Iterator[Stretch]:
    """All stretches of the groups in which the truth can be read at all."""
    for found in pieces(store):
        if found.group not in groups:
            continue
        for task in TASKS:
            for heads, truth, parts in problems(found, task):
                tones = [Tone(h.onset, h.end, h.semitone) for h in heads]
                piece = prepare(tones, len(parts), TICKS, {})
                yield from _cut(piece, truth)


def _cut(piece: Piece, truth: list[int]) -> Iterator[Stretch]:
    pasts: Pasts = (SILENT,) * piece.texture.count
    for first in range(0, len(piece.moments), STRETCH):
        moments = piece.moments[first : first + STRETCH]
        ways = [tuple(truth[t] for t in m.tones) for m in moments]
        stretch, possible = Stretch(piece, moments, pasts, ways), True
        for moment, way in zip(moments, ways, strict=True):
            busy = [v for v in way if piece.texture.ends[pasts[v][0]] > moment.now]
            possible = possible and not busy and len(set(way)) == len(way)
            pasts = polyphony._grown(piece.texture, pasts, moment.tones, way)
        if possible:
            yield stretch


def features(stretch: Stretch, ways: list[Way]) -> Counter[tuple[str, int]]:
    """How often each figure speaks for a reading of a stretch."""
    texture, pasts = stretch.piece.texture, stretch.start
    count: Counter[tuple[str, int]] = Counter()
    for moment, way in zip(stretch.moments, ways, strict=True):
        new = [-1] * texture.count
        for tone, voice in zip(moment.tones, way, strict=True):
            new[voice] = tone
            near, wide = moment.near[voice], moment.wide[voice]
            count.update(texture.alone(pasts[voice], voice, tone, near, wide))
        free = [v for v, past in enumerate(pasts) if texture.ends[past[0]] <= moment.now]
        sounding = len(new) - len(free) + len(way)
        for voice in free:
            if new[voice] < 0:
                count.update(texture.silence(moment.now, voice, pasts[voice], sounding))
        for upper in range(len(new)):
            for lower in range(upper + 1, len(new)):
                if new[upper] >= 0 or new[lower] >= 0:
                    before = (pasts[upper][0], pasts[lower][0])
                    taken = (new[upper], new[lower])
                    count.update(texture.pair(moment.now, (upper, lower), before, taken))
        pasts = polyphony._grown(texture, pasts, moment.tones, way)
    return count


def misread(stretch: Stretch, figures: Figures) -> list[Way]:
    """The reading found when mistakes are made attractive."""
    true = {
        tone: voice
        for moment, way in zip(stretch.moments, stretch.truth, strict=True)
        for tone, voice in zip(moment.tones, way, strict=True)
    }

    def against(voice: int, tone: int) -> int:
        return 0 if true[tone] == voice else -MARGIN

    piece = Piece(stretch.piece.texture, stretch.moments, figures, against)  # type: ignore[arg-type]
    return ways_of(best(piece, stretch.start))


def fit(found: list[Stretch]) -> dict[str, list[int]]:
    """The figures for the stretches."""
    figures: Figures = {name: [0.0] * size for name, size in SIZES.items()}
    moved: Figures = {name: [1.0] * size for name, size in SIZES.items()}
    total: Figures = {name: [0.0] * size for name, size in SIZES.items()}
    random, kept = Random(0), 0
    for number in range(ROUNDS):
        random.shuffle(found)
        for stretch in found:
            _learn(stretch, figures, moved)
            if number >= KEPT_FROM:
                kept += 1
                for name, row in total.items():
                    total[name] = [t + f for t, f in zip(row, figures[name], strict=True)]
        print(f"round {number + 1} of {ROUNDS}", flush=True)
    return {name: [round(t / kept) for t in row] for name, row in total.items()}


def _learn(stretch: Stretch, figures: Figures, moved: Figures) -> None:
    ways = misread(stretch, figures)
    if ways == stretch.truth:
        return
    change = features(stretch, stretch.truth)
    change.subtract(features(stretch, ways))
    size = sum(len(m.tones) for m in stretch.moments) ** 0.5
    for (name, place), count in change.items():
        moved[name][place] += (count / size) ** 2
        figures[name][place] += STEP * count / size / moved[name][place] ** 0.5


def main() -> None:
    """Fit and write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("groups", nargs="+", help="groups of pieces to learn from")
    parser.add_argument("--data", type=Path, help="the pieces, as voices.py keeps them")
    parser.add_argument("--out", type=Path, required=True)
    options = parser.parse_args()
    found = list(stretches(options.groups, options.data))
    options.out.write_text(json.dumps(fit(found)))


if __name__ == "__main__":
    main()
