"""Whom a mark on a stave of several layers is meant for.

A mark (dynamics, a hairpin, words ...) that names no voice is for all layers of its stave; so is
one that names a voice which the stave has not. One that names the voice of a layer other than
the first is for that layer. The voice of the first is what programs write where they mean none:
such a mark is for the first layer, and for each other layer that has none of the same kind of its
own in the bar; dynamics and hairpins are one kind, words another, everything else goes by its
name. A hairpin, dashes and the like end with whom they began.

A stave can say that its voices are meant as they stand (`BY_LAYER`): then a mark that names a
voice is for that layer alone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from expander.model.dynamics import LOUDNESS
from expander.model.score import Direction, Mark
from expander.model.spans import SPANNING, Span, begins, span_of

BY_LAYER = Mark(
    "direction-type", "other-direction", (("print-object", "no"),), "each voice has its own marks"
)
"""Says of a stave, without being printed, that each mark is for the layer whose voice it names."""

Said = Mapping[int, Sequence[Direction]]


def for_layer(said: Said, voices: Sequence[str], layer: int) -> dict[int, tuple[Direction, ...]]:
    """The marks of a stave, by bar, that are meant for one of its layers.

    `voices` are the document's names of the layers from the top; `layer` is the index of one.
    """
    exact = any(BY_LAYER in d.marks for marks in said.values() for d in marks)
    whose = _Whose(voices, layer, exact=exact)
    found = {bar: whose.marks(said[bar]) for bar in sorted(said)}
    return {bar: marks for bar, marks in found.items() if marks}


class _Whose:
    """Goes through the bars with the spans that are open in mind."""

    def __init__(self, voices: Sequence[str], layer: int, *, exact: bool) -> None:
        self._first = voices[0] if voices else ""
        self._own = voices[layer] if layer < len(voices) else ""
        self._known = frozenset(voices)
        self._exact = exact
        self._open: dict[Span, bool] = {}

    def marks(self, here: Sequence[Direction]) -> tuple[Direction, ...]:
        """Those of a bar that are meant for the layer."""
        own = {_kind(m) for d in here if d.voice == self._own for m in d.marks}
        return tuple(d for d in here if BY_LAYER not in d.marks and self._is_meant(d, own))

    def _is_meant(self, direction: Direction, own: set[str]) -> bool:
        meant = self._is_named(direction, own)
        spanning = [mark for mark in direction.marks if mark.name in SPANNING]
        for mark in spanning:
            if not begins(mark):
                meant = self._open.get(span_of(mark), meant)
        for mark in spanning:
            if begins(mark):
                self._open[span_of(mark)] = meant
        return meant

    def _is_named(self, direction: Direction, own: set[str]) -> bool:
        voice = direction.voice
        if voice not in self._known or voice == self._own:
            return True
        if self._exact or voice != self._first:
            return False
        return own.isdisjoint(_kind(m) for m in direction.marks)


def _kind(mark: Mark) -> str:
    return "loudness" if mark.name in LOUDNESS else mark.name
