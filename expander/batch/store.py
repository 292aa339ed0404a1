"""The folders of jobs: what stands there already, and new files put there whole."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from expander.batch.work import REPORT, Made
from expander.outputs import put_in_place
from expander.parts.command import made_folder


def fingerprint(pieces: Iterable[bytes | str]) -> str:
    """One name for all that decides what comes of a job: SHA-256 over its pieces."""
    known = hashlib.sha256()
    for piece in pieces:
        data = piece.encode() if isinstance(piece, str) else piece
        known.update(f"{len(data)}:".encode() + data)
    return known.hexdigest()


def stands(folder: Path, wanted: str) -> dict[str, Any] | None:
    """The report of a job that was done with this fingerprint and has all its files, or None."""
    report = _report(folder)
    job = report.get("job", {})
    files = job.get("files", [])
    if job.get("fingerprint") != wanted or not all((folder / name).is_file() for name in files):
        return None
    return report


def keep(folder: Path, made: Made) -> None:
    """Put a job's files into its folder, the report last; files of an earlier run go.

    Raises CannotWrite, in which case what stood there stands unchanged.
    """
    before = set(_report(folder).get("job", {}).get("files", []))
    names = [name for name, _ in made.files]
    for name in names:
        made_folder((folder / name).parent)
    _swept(folder)
    put_in_place({folder / name: data for name, data in made.files})
    for name in sorted(before - set(names)):
        if (folder / name).resolve().is_relative_to(folder.resolve()):
            (folder / name).unlink(missing_ok=True)


def _swept(folder: Path) -> None:
    """Take away what a killed run left half-written: `outputs` names such files so."""
    for place in (folder, folder / "parts"):
        for left in sorted(place.glob(".*.part")):
            left.unlink(missing_ok=True)


def _report(folder: Path) -> dict[str, Any]:
    try:
        data = json.loads((folder / REPORT).read_bytes())
    except (OSError, ValueError):
        return {}
    return data if isinstance(data, dict) else {}
