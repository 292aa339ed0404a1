"""Compressed scores, and files put in their place whole.

Source of the container: MusicXML 4.0, "Compressed .mxl files": a `mimetype` entry first and
stored, then META-INF/container.xml, whose first rootfile is the score.
"""

from __future__ import annotations

import io
import zipfile

_TYPE = "application/vnd.recordare.musicxml"
_SCORE = "score.musicxml"
_CONTAINER = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    "<container><rootfiles>"
    f'<rootfile full-path="{_SCORE}" media-type="{_TYPE}+xml"/>'
    "</rootfiles></container>\n"
)
_EPOCH = (1980, 1, 1, 0, 0, 0)


def compressed(score: bytes) -> bytes:
    """A `.mxl` with the score in it; the same score gives the same bytes."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        _add(archive, "mimetype", _TYPE.encode(), zipfile.ZIP_STORED)
        _add(archive, "META-INF/container.xml", _CONTAINER.encode(), zipfile.ZIP_DEFLATED)
        _add(archive, _SCORE, score, zipfile.ZIP_DEFLATED)
    return stream.getvalue()


def _add(archive: zipfile.ZipFile, name: str, data: bytes, method: int) -> None:
    entry = zipfile.ZipInfo(name, _EPOCH)
    entry.compress_type = method
    entry.create_system = 3
    entry.external_attr = 0o644 << 16
    archive.writestr(entry, data)
