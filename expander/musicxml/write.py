"""From a Document to MusicXML 4.0, as bytes or as a file."""

from __future__ import annotations

import re
from pathlib import Path

from expander.model.score import Document
from expander.musicxml.bartext import BarWriter
from expander.musicxml.headtext import PartIds, head_text, part_list_text
from expander.musicxml.package import compressed
from expander.musicxml.text import quoted
from expander.outputs import put_in_place

_TOP = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN"'
    ' "http://www.musicxml.org/dtds/partwise.dtd">\n'
)
_XLINK = ' xmlns:xlink="http://www.w3.org/1999/xlink"'
_CALLED = re.compile(
    r'<(instrument-change|midi-device|midi-instrument|play) id="([^"]*)"[^>]*?(/>|>.*?</\1>)',
    re.DOTALL,
)


def write(document: Document, path: Path | str) -> None:
    """Writes a score file, compressed where its name ends in `.mxl`.

    The file is written beside its place and moved there when it is whole. Raises CannotWrite,
    in which case nothing was changed.
    """
    target = Path(path)
    put_in_place({target: file_bytes(document, target)})


def file_bytes(document: Document, path: Path) -> bytes:
    """What a score file of that name holds: `.mxl` is compressed, all else plain MusicXML."""
    data = to_bytes(document)
    return compressed(data) if path.suffix.lower() == ".mxl" else data


def to_bytes(document: Document) -> bytes:
    """The score as MusicXML 4.0 partwise, UTF-8, valid against the W3C schema.

    The same document gives the same bytes. Raises CannotWrite for pitches outside MusicXML's
    octaves 0 to 9.
    """
    ids = PartIds(document.parts)
    music = _music(document, ids)
    head = head_text(document.header, music)
    parts = part_list_text(document.parts, document.brackets, ids)
    texts = [head, parts, *music]
    xlink = _XLINK if any(["xlink:href=" in text for text in texts]) else ""
    root = f'<score-partwise{xlink} version="4.0">\n'
    # Each encoded for itself: one letter beyond Latin-1 in a name would widen all of the music.
    return b"".join([t.encode() for t in (_TOP, root, *texts, "</score-partwise>\n")])


def _music(document: Document, ids: PartIds) -> list[str]:
    """The parts, each with its tags around it."""
    writer = BarWriter(document.grid)
    known = ids.all_sounds()
    texts = []
    for part, own, sounds in zip(document.parts, ids.parts, ids.sounds, strict=True):
        bars = _without_strangers(writer.part(part, document.bars, sounds), known)
        texts += [f'<part id="{quoted(own)}">\n', bars, "</part>\n"]
    return texts


def _without_strangers(bars: str, known: frozenset[str]) -> str:
    """Without playback elements that name a sound the score does not have."""
    if ' id="' not in bars:
        return bars
    return _CALLED.sub(lambda found: found[0] if found[2] in known else "", bars)
