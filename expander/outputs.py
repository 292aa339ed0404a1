"""Files put in place whole: written beside, then moved; a stop leaves the old or the new one."""

from __future__ import annotations

import os
from collections.abc import Mapping
from itertools import count
from pathlib import Path

from expander.errors import CannotWrite, Spot

_MOST_TRIES = 1000
_NAME_KEPT = 60
"""Letters of a long name that still leave room for the ending, at four bytes each."""


def put_in_place(files: Mapping[Path, bytes]) -> None:
    """Write several files: all are written beside their places first, then moved there.

    Raises CannotWrite, in which case nothing that was there is changed.
    """
    ready: list[tuple[Path, Path]] = []
    try:
        for path, data in files.items():
            if not _is_device(path):
                ready.append((_written_beside(path, data), _target(path)))
        for path, data in files.items():
            if _is_device(path):
                _poured(path, data)
        for beside, target in ready:
            _moved(beside, target)
    finally:
        for beside, _ in ready:
            beside.unlink(missing_ok=True)


def _target(path: Path) -> Path:
    """Where the data really goes: through a link, not in its place."""
    try:
        return Path(os.path.realpath(path))
    except (OSError, ValueError) as error:
        raise _cannot(path, error) from error


def _is_device(path: Path) -> bool:
    """A pipe, a terminal, /dev/null: something that is written into and never replaced."""
    try:
        return path.exists() and not path.is_file() and not path.is_dir()
    except (OSError, ValueError):
        return False


def _is_folder(target: Path) -> bool:
    try:
        return target.is_dir() or not target.name
    except OSError as error:
        raise _cannot(target, error) from error


def _poured(path: Path, data: bytes) -> None:
    try:
        with path.open("wb") as stream:
            stream.write(data)
    except OSError as error:
        raise _cannot(path, error) from error


def _written_beside(path: Path, data: bytes) -> Path:
    target = _target(path)
    if _is_folder(target):
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
        beside = target.with_name(f".{target.name[:_NAME_KEPT]}.{number}.part")
        try:
            return beside, os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666)
        except FileExistsError:
            if number >= _MOST_TRIES:
                raise
    raise AssertionError("count never ends")


def _cannot(path: Path, error: Exception) -> CannotWrite:
    reason = getattr(error, "strerror", None) or error
    return CannotWrite(
        f"the file could not be written ({reason}); nothing was changed.",
        at=Spot(str(path)),
        hint="Check that the folder exists and may be written to.",
    )
