"""The sample song as three people leave it: expanded, expanded again, and edited by hand."""

from __future__ import annotations

import warnings
from collections.abc import Callable
from functools import cache
from pathlib import Path

from expander.model.score import Document
from expander.musicxml import read, read_bytes, to_bytes
from expander.pipeline import expand_file

SAMPLES = Path(__file__).resolve().parents[2] / "samples"
SKETCH = SAMPLES / "paper-harbour.musicxml"
RULES = SAMPLES / "paper-harbour-jazz-orchestra.yaml"


def again(
    folder: Path,
    *,
    sketch: Callable[[Document], Document] = lambda score: score,
    rules: tuple[str, str] = ("", ""),
) -> Document:
    """The song expanded with another sketch, or with one line of its rules replaced."""
    text = RULES.read_text(encoding="utf-8")
    assert rules[0] in text
    plan = folder / "song.yaml"
    plan.write_text(text.replace(*rules), encoding="utf-8")
    return read_bytes(to_bytes(expand_file(sketch(read(SKETCH)), plan).score), "score")


@cache
def first() -> Document:
    """The song as it was first expanded."""
    return read_bytes(to_bytes(expand_file(read(SKETCH), RULES).score), "score")


def by_music21(score: Document, folder: Path) -> Document:
    """The score opened and saved by music21."""
    from music21 import converter

    path = folder / "resaved.musicxml"
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        stream = converter.parseData(to_bytes(score), format="musicxml", forceSource=True)
        stream.write("musicxml", path, makeNotation=False)
    return read(path)


def by_partitura(score: Document, folder: Path) -> Document:
    """The score opened and saved by partitura."""
    import partitura

    before, after = folder / "before.musicxml", folder / "after.musicxml"
    before.write_bytes(to_bytes(score))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        partitura.save_musicxml(partitura.load_musicxml(str(before)), str(after))
    return read(after)
