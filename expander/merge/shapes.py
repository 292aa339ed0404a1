"""The notes of every bar as numbers, for finding out which part and which bar is which."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from msgspec import Struct

from expander.merge.align import BarShape
from expander.merge.grid import Layer
from expander.merge.matching import PartShape
from expander.model.memo import ByIdentity
from expander.model.pitch import Drum
from expander.model.score import Document


class Shapes:
    """Gives equal music equal numbers, 0 to silence, over all scores it is shown."""

    def __init__(self) -> None:
        self._numbers: dict[tuple[object, ...], int] = {(): 0}
        self._layers: ByIdentity[tuple[tuple[object, ...], ...]] = ByIdentity()

    def of(self, score: Document) -> ScoreShape:
        """The shape of a score."""
        notes: list[list[int]] = []
        rhythms: list[list[int]] = []
        for part in score.parts:
            heard = [self._heard(bar.layers) for bar in part.bars]
            notes.append([self._number(tuple(sorted(h, key=repr))) for h in heard])
            rhythms.append([self._number(tuple(sorted({(e[0], e[1]) for e in h}))) for h in heard])
        return ScoreShape(notes, rhythms, [bar.number for bar in score.bars])

    def _number(self, shape: tuple[object, ...]) -> int:
        return self._numbers.setdefault(shape, len(self._numbers))

    def _of_layer(self, layer: Layer) -> tuple[tuple[object, ...], ...]:
        return self._layers.get((layer,), 0, lambda: _heard(layer))

    def _heard(self, layers: Sequence[Layer]) -> list[tuple[object, ...]]:
        found: list[tuple[object, ...]] = []
        for layer in layers:
            if layer:
                found += self._of_layer(layer)
        return found


def _heard(layer: Layer) -> tuple[tuple[object, ...], ...]:
    found: list[tuple[object, ...]] = []
    for event in layer:
        for note in event.notes:
            pitch = note.pitch
            height = (
                (pitch.step, pitch.octave)
                if isinstance(pitch, Drum)
                else (pitch.diatonic, pitch.alter)
            )
            found.append((event.at, event.duration, *height, note.tie_stop))
    return tuple(found)


class ScoreShape(Struct, frozen=True):
    """For each part its bars' notes and rhythms as numbers; the bars' printed numbers."""

    notes: list[list[int]]
    rhythms: list[list[int]]
    numbers: list[str]

    def parts(self) -> list[PartShape]:
        """Every part's music for comparing, silent bars left out."""
        return [Counter(n for n in bars if n) for bars in self.notes]

    def rhythm(self, part: int) -> PartShape:
        """A part's rhythms for comparing, silent bars left out."""
        return Counter(n for n in self.rhythms[part] if n)

    def bars(self, parts: Sequence[int]) -> list[BarShape]:
        """Every bar's music in some parts, for comparing."""
        return [
            BarShape(
                tuple([self.notes[p][i] for p in parts]),
                tuple([self.rhythms[p][i] for p in parts]),
                number,
            )
            for i, number in enumerate(self.numbers)
        ]
