"""Compressed scores, and files put in their place whole.

Source of the container: MusicXML 4.0, "Compressed .mxl files": a `mimetype` entry first and
stored, then META-INF/container.xml, whose first rootfile is the score.
"""

from __future__ import annotations

import io
import os
import zipfile
from itertools import count
from pathlib import Path

from expander.errors import CannotWrite, Spot

_TYPE = "application/vnd.recordare.musicxml"
_SCORE = "score.musicxml"
_CONTAINER = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    "<container><rootfiles>"
    f'<rootfile full-path="{_SCORE}" media-type="{_TYPE}+xml"/>'
    "</rootfiles></container>\n"
)
_EPOCH = (1980, 1, 1, 0, 0, 0)
_MOST_TRIES = 100


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


def put_in_place(data: bytes, path: Path) -> None:
    """Writes a file beside its place and moves it there whole. Raises CannotWrite."""
    target = Path(os.path.realpath(path))
    try:
        beside, handle = _new_beside(target)
    except OSError as error:
        raise _cannot(path, error) from error
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        beside.replace(target)
    except OSError as error:
        beside.unlink(missing_ok=True)
        raise _cannot(path, error) from error
    except BaseException:
        beside.unlink(missing_ok=True)
        raise


def _new_beside(target: Path) -> tuple[Path, int]:
    """A new file of its own in the target's folder, open for writing."""
    for number in count():
        beside = target.with_name(f".{target.name}.{number}.part")
        try:
            return beside, os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666)
        except FileExistsError:
            if number >= _MOST_TRIES:
                raise
    raise AssertionError("count never ends")


def _cannot(path: Path, error: OSError) -> CannotWrite:
    return CannotWrite(
        f"the file could not be written ({error.strerror or error}); nothing was changed.",
        at=Spot(str(path)),
        hint="Check that the folder exists and may be written to.",
    )
