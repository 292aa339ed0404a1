"""The compiled twin of the search for notes alone (`voices_fit.c`), with the values it wants."""

from __future__ import annotations

import subprocess
from collections.abc import Sequence
from ctypes import CDLL, Array, c_char, c_double, c_int, create_string_buffer
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from expander.voicing.figures import START, TOTAL
from expander.voicing.polyphony import Piece
from expander.voicing.tones import Tone

SOURCE = Path(__file__).with_name("voices_fit.c")

Labels = Array[c_int]
"""A whole number for each note, its voice for example."""

Row = Array[c_double]
"""Figures in a row."""


@cache
def library() -> CDLL:
    """The twin, compiled with plain arithmetic so that sums are the same everywhere."""
    flags = ["-O2", "-ffp-contract=off", "-shared", "-fPIC"]
    with TemporaryDirectory() as folder:
        target = Path(folder) / "voices_fit.so"
        subprocess.run(["cc", *flags, "-o", str(target), str(SOURCE)], check=True)
        found = CDLL(str(target))
    found.search.restype = c_double
    if found.tables() != len(START):
        raise RuntimeError("voices_fit.c and figures.py do not have the same tables")
    found.begin(labels_of(list(START.values())))
    return found


def labels_of(values: Sequence[int]) -> Labels:
    """Numbers as the twin wants them."""
    return (c_int * len(values))(*values)


def new_row() -> Row:
    """A row of figures, all nought."""
    return (c_double * TOTAL)()


class Twin:
    """One piece, ready for the twin's search."""

    def __init__(self, piece: Piece, tones: Sequence[Tone]) -> None:
        self.piece = piece
        self.starts = [m.tones[0] for m in piece.moments] + [len(tones)]
        moments = piece.moments
        self._columns = [
            labels_of([t.onset for t in tones]),
            labels_of([t.end for t in tones]),
            labels_of([t.semitone for t in tones]),
            labels_of([t.end - t.onset for t in tones]),
            labels_of(self.starts),
            labels_of([r for m in moments for r in m.near]),
            labels_of([r for m in moments for r in m.wide]),
            labels_of([m.key for m in moments]),
        ]

    def _load(self) -> CDLL:
        texture, twin = self.piece.texture, library()
        twin.load(texture.count, texture.beat, len(self.piece.moments), *self._columns)
        return twin

    def notes_of(self, moments: range) -> tuple[int, int]:
        """The first note of some moments, and the first after them."""
        return self.starts[moments.start], self.starts[moments.stop]

    def silent(self) -> Array[c_char]:
        """The pasts of voices that have not sounded."""
        twin = library()
        pasts = create_string_buffer(twin.size_of_past())
        twin.silent(pasts)
        return pasts

    def pasts(self, raw: bytes) -> Array[c_char]:
        """Pasts to walk on from."""
        return create_string_buffer(raw, len(raw))

    def search(
        self,
        moments: range,
        figures: Row,
        width: int,
        behind: float,
        pasts: bytes,
        against: tuple[Labels, Labels, float] | None = None,
    ) -> Labels:
        """The best reading of some moments; notes of others have -1.

        `against`: the truth, which notes count, and by how much wrong notes are made attractive.
        """
        truth, scored, margin = against or (None, None, 0.0)
        found = labels_of([-1] * self.starts[-1])
        bounds = (moments.start, moments.stop, figures, width, c_double(behind))
        wrong = (truth, scored, c_double(margin))
        self._load().search(*bounds, *wrong, self.pasts(pasts), found)
        return found

    def count(
        self,
        moments: range,
        labels: Labels,
        pasts: Array[c_char],
        times: float = 0.0,
        total: Row | None = None,
    ) -> None:
        """Walk over some moments, `pasts` going along; what speaks for it is added to `total`."""
        self._load().count(moments.start, moments.stop, labels, pasts, c_double(times), total)
