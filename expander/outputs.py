"""Files put in place whole: written beside, then moved; a stop leaves the old or the new one."""

from __future__ import annotations

import os
from collections.abc import Mapping
from itertools import count
from pathlib import Path

from expander.errors import CannotWrite, Spot

_MOST_TRIES = 100


def put_in_place(files: Mapping[Path, bytes]) -> None:
    """Write several files: all are written beside their places first, then moved there.

    Raises CannotWrite, in which case nothing that was there is changed.
    """
    ready: list[tuple[Path, Path]] = []
    try:
        for path, data in files.items():
            ready.append((_written_beside(path, data), _target(path)))
        for beside, target in ready:
            _moved(beside, target)
    finally:
        for beside, _ in ready:
            beside.unlink(missing_ok=True)


def _target(path: Path) -> Path:
    """Where the data really goes: through a link, not in its place."""
    return Path(os.path.realpath(path))


def _written_beside(path: Path, data: bytes) -> Path:
    target = _target(path)
    if target.is_dir():
        raise CannotWrite(
            "this is a folder; a file name was expected; nothing was changed.",
            at=Spot(str(path)),
            hint="Name a file in it.",
        )
    try:
        beside, handle = _new_beside(target)
    except OSError as error:
        raise _cannot(path, error) from error
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
    except OSError as error:
        beside.unlink(missing_ok=True)
        raise _cannot(path, error) from error
    except BaseException:
        beside.unlink(missing_ok=True)
        raise
    return beside


def _moved(beside: Path, target: Path) -> None:
    try:
        beside.replace(target)
    except OSError as error:
        raise _cannot(target, error) from error


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
