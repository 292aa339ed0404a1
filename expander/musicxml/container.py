"""From a file's bytes to the bytes of the score in it: plain, or zipped (`.mxl`).

What a file is, is told by its content and not by its ending. Nothing is ever unpacked to disk.
Source: MusicXML 4.0, "Compressed .mxl files" and container.xsd.
"""

from __future__ import annotations

import io
import struct
import zipfile
import zlib

from lxml import etree

from expander.errors import BadMusic, Spot
from expander.musicxml.oddities import Oddities
from expander.musicxml.parse import forgiving_tree

LARGEST = 200_000_000
LARGEST_RATIO = 400
SMALL_ENOUGH = 10_000_000
MOST_ENTRIES = 2_000
_CONTAINER = "META-INF/container.xml"
_ENDINGS = (".xml", ".musicxml")
_DAMAGE = (
    zipfile.BadZipFile,
    zlib.error,
    struct.error,
    EOFError,
    OSError,
    RuntimeError,
    ValueError,
)
"""What the standard library raises on damaged zips (wrong names are a ValueError there)."""

_METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_HINT = "Save the score again from the program it came from, as MusicXML."


def score_bytes(data: bytes, name: str, oddities: Oddities) -> bytes:
    """The XML of the score in a file. Raises BadMusic where there is none to be had."""
    if data[:4] == b"PK\x03\x04" or data[:4] == b"PK\x05\x06":
        return _from_zip(data, name, oddities)
    if not data or data.isspace():
        raise BadMusic("the file is empty, expected a MusicXML score.", at=Spot(name), hint=_HINT)
    if data[:2] == b"\x1f\x8b":
        raise BadMusic(
            "the file is gzip-compressed, expected MusicXML (.musicxml, .xml or .mxl).",
            at=Spot(name),
            hint="Unpack it first.",
        )
    if len(data) > LARGEST:
        raise _too_large(name, name)
    return data


def _from_zip(data: bytes, name: str, oddities: Oddities) -> bytes:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            entry = _score_entry(archive, name, oddities)
            return _unpacked(archive, entry, name)
    except _DAMAGE as error:
        raise BadMusic(
            f"the compressed file is damaged or cut short ({error}).", at=Spot(name), hint=_HINT
        ) from error


def _score_entry(archive: zipfile.ZipFile, name: str, oddities: Oddities) -> zipfile.ZipInfo:
    entries = {e.filename: e for e in archive.infolist() if not e.is_dir()}
    if len(entries) > MOST_ENTRIES:
        raise BadMusic(
            f"the compressed file holds {len(entries)} files, expected one score.",
            at=Spot(name),
            hint=_HINT,
        )
    path = _named_by_container(archive, entries, name)
    if path in entries:
        return entries[path]
    return _only_score(entries, path, name, oddities)


def _named_by_container(
    archive: zipfile.ZipFile, entries: dict[str, zipfile.ZipInfo], name: str
) -> str:
    """The path of the first rootfile, "" where the container does not tell."""
    if _CONTAINER not in entries:
        return ""
    root = forgiving_tree(_unpacked(archive, entries[_CONTAINER], name))
    if root is None:
        return ""
    found = [e for e in root.iter(etree.Element) if etree.QName(e).localname == "rootfile"]
    return found[0].get("full-path", "") if found else ""


def _only_score(
    entries: dict[str, zipfile.ZipInfo], path: str, name: str, oddities: Oddities
) -> zipfile.ZipInfo:
    fault = f"names {path!r}, which is not in the file" if path else "does not name a score"
    scores = [e for p, e in entries.items() if _looks_like_score(p)]
    if len(scores) != 1:
        listed = ", ".join(sorted(repr(e.filename) for e in scores)) or "none"
        raise BadMusic(
            f"the compressed file's {_CONTAINER} {fault}; scores found in it: {listed}.",
            at=Spot(name),
            hint="Unpack the file and give the score itself.",
        )
    oddities.add(f"{_CONTAINER} {fault}; {scores[0].filename!r}, the only score, was read")
    return scores[0]


def _looks_like_score(path: str) -> bool:
    hidden = path.startswith(("META-INF/", "__MACOSX/")) or path.rsplit("/", 1)[-1].startswith(".")
    return path.lower().endswith(_ENDINGS) and not hidden


def _unpacked(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, name: str) -> bytes:
    if entry.flag_bits & 0x1:
        raise BadMusic(
            f"{entry.filename!r} in the compressed file is encrypted.",
            at=Spot(name),
            hint="Save it without a password.",
        )
    if entry.compress_type not in _METHODS:
        raise BadMusic(
            f"{entry.filename!r} is compressed in a way MusicXML does not use.",
            at=Spot(name),
            hint=_HINT,
        )
    limit = min(LARGEST, max(SMALL_ENOUGH, entry.compress_size * LARGEST_RATIO))
    with archive.open(entry) as stream:
        data = stream.read(limit + 1)
    if len(data) > limit:
        raise _too_large(name, entry.filename)
    return data


def _too_large(name: str, inner: str) -> BadMusic:
    return BadMusic(
        f"{inner!r} unpacks to more than a score can be (limit {LARGEST // 1_000_000} MB, "
        f"and {LARGEST_RATIO} times its packed size).",
        at=Spot(name),
        hint="Check where the file comes from.",
    )
