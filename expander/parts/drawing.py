"""Engraved pages made fit for print: music signs in words as outlines, systems spread out.

Verovio writes the note of "♩ = 80" as text in its own music font, which a PDF writer does not
have; its outline takes the place, and the words around it theirs by the figures of the font.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from msgspec import Struct
from msgspec.structs import replace

from expander.parts.engraving import UNITS, data_folder

SVG = "{http://www.w3.org/2000/svg}"
MUSIC_FONT = "Leipzig"
WORDS_FONT = "Libertinus Serif"
_SCALE = 10
"""Drawing units to one of Verovio's page units."""
_EM = 1000.0
_METRONOME = range(0xECA0, 0xECC0)
"""Codes of the notes in metronome marks (SMuFL 1.4, "Metronome marks")."""
_WIDEST_GAP = 14.0
"""Millimetres that are added between two systems at most."""


class Drawing(Struct, frozen=True):
    """An SVG with its size in millimetres."""

    svg: str
    width: float
    height: float


class _Piece(Struct, frozen=True):
    """Text of one kind: its font's attributes and its width in drawing units."""

    text: str
    size: float
    attributes: tuple[tuple[str, str], ...]
    music: bool


def drawn(svg: str, room: float) -> Drawing:
    """A page ready for print, its systems spread to fill `room` millimetres where few are left."""
    ET.register_namespace("", SVG[1:-1])
    ET.register_namespace("xlink", "http://www.w3.org/1999/xlink")
    root = ET.fromstring(svg)
    root.set("font-family", WORDS_FONT)
    for element in root.iter():
        if element.get("font-family") == "Times, serif":
            element.set("font-family", WORDS_FONT)
    _outlined(root)
    height = _spread(root, room)
    width = float(root.get("width", "0px").removesuffix("px")) / UNITS
    return Drawing(ET.tostring(root, encoding="unicode"), width, height)


# Systems -----------------------------------------------------------------------------------------


def _spread(root: ET.Element, room: float) -> float:
    """Move systems apart; the page's height in millimetres after it."""
    height = float(root.get("height", "0px").removesuffix("px")) / UNITS
    systems = [e for e in root.iter(f"{SVG}g") if e.get("class") == "system"]
    if len(systems) < 2 or height >= room:
        return height
    gap = min(_WIDEST_GAP, (room - height) / (len(systems) - 1))
    if gap == _WIDEST_GAP:
        gap = _WIDEST_GAP / 4
    for number, system in enumerate(systems):
        down = number * gap * UNITS * _SCALE
        system.set("transform", f"translate(0, {down:.0f})")
    height += gap * (len(systems) - 1)
    root.set("height", f"{height * UNITS:.0f}px")
    inner = root.find(f"{SVG}svg")
    if inner is not None:
        left, top, width, _ = inner.get("viewBox", "0 0 0 0").split()
        inner.set("viewBox", f"{left} {top} {width} {height * UNITS * _SCALE:.0f}")
    return height


# Words with music signs --------------------------------------------------------------------------


def _outlined(root: ET.Element) -> None:
    """Replace texts that hold music signs by words and outlines side by side."""
    for parent in list(root.iter()):
        for place, child in enumerate(list(parent)):
            if child.tag == f"{SVG}text" and _has_signs(child):
                parent.remove(child)
                parent.insert(place, _set_out(child))


def _has_signs(text: ET.Element) -> bool:
    return any(e.get("font-family") == MUSIC_FONT for e in text.iter())


def _set_out(text: ET.Element) -> ET.Element:
    pieces = list(_spaced(list(_joined(list(_pieces(text, {}))))))
    widths = [_width(piece) for piece in pieces]
    anchor = {"middle": 0.5, "end": 1.0}.get(text.get("text-anchor", ""), 0.0)
    x, y = float(text.get("x", "0")) - anchor * sum(widths), float(text.get("y", "0"))
    group = ET.Element(f"{SVG}g")
    for piece, width in zip(pieces, widths, strict=True):
        for element in _elements(piece, x, y):
            group.append(element)
        x += width
    return group


def _spaced(pieces: list[_Piece]) -> Iterator[_Piece]:
    """A blank between words and a sign that follows without one."""
    before: _Piece | None = None
    for piece in pieces:
        close = before and not before.music and not before.text.endswith(" ")
        if before and close and piece.music and ord(piece.text[0]) in _METRONOME:
            yield _Piece("  ", before.size, before.attributes, music=False)
        yield piece
        before = piece


def _joined(pieces: list[_Piece]) -> Iterator[_Piece]:
    """Neighbours in one face as one piece."""
    held: _Piece | None = None
    for piece in pieces:
        alike = held and (held.size, held.attributes, held.music) == (
            piece.size,
            piece.attributes,
            piece.music,
        )
        if held and alike:
            held = _Piece(held.text + piece.text, held.size, held.attributes, held.music)
            continue
        if held:
            yield held
        held = piece
    if held:
        yield held


def _pieces(element: ET.Element, above: dict[str, str]) -> Iterator[_Piece]:
    """The runs of text in an element, each with what its font inherits."""
    own = {k: v for k, v in element.attrib.items() if k.startswith("font-")}
    style = {**above, **own}
    if element.text and element.text.strip(" \n"):
        yield _piece(" ".join(element.text.split("\n")) if "\n" in element.text else element.text,
                     style)  # fmt: skip
    for child in element:
        yield from _pieces(child, style)


def _piece(text: str, style: dict[str, str]) -> _Piece:
    size = float(style.get("font-size", "0").removesuffix("px"))
    kept = tuple((k, style[k]) for k in ("font-style", "font-weight") if k in style)
    return _Piece(text, size, kept, style.get("font-family") == MUSIC_FONT)


def _width(piece: _Piece) -> float:
    advances, em = _advances(MUSIC_FONT if piece.music else _words_face(piece))
    usual = advances.get("x", em / 2)
    return sum(advances.get(c, usual) for c in piece.text) * piece.size / em


def _words_face(piece: _Piece) -> str:
    style = dict(piece.attributes)
    bold = "-bold" if style.get("font-weight") == "bold" else ""
    italic = "-italic" if style.get("font-style") == "italic" else ""
    return f"text/Times{bold}{italic}"


@cache
def _advances(face: str) -> tuple[dict[str, float], float]:
    """How wide each character of a face is, and its em, in the face's own units."""
    root = ET.parse(Path(data_folder()) / f"{face}.xml").getroot()
    em = float(root.get("units-per-em", str(_EM)))
    glyphs = [g for g in root.iter("g") if g.get("c") and g.get("h-a-x")]
    return {chr(int(g.get("c", "0"), 16)): float(g.get("h-a-x", "0")) for g in glyphs}, em


def _elements(piece: _Piece, x: float, y: float) -> Iterator[ET.Element]:
    if not piece.music:
        attributes = {"x": f"{x:.0f}", "y": f"{y:.0f}", "font-size": f"{piece.size:g}px"}
        words = ET.Element(f"{SVG}text", {**attributes, **dict(piece.attributes)})
        words.text = piece.text.strip(" ")
        words.set("textLength", f"{_width(replace(piece, text=words.text)):.0f}")
        if piece.text.startswith(" "):
            words.set("x", f"{x + _width(_blank(piece)):.0f}")
        if words.text:
            yield words
        return
    for sign in piece.text:
        outline = _outline(ord(sign))
        scale = piece.size / _EM
        place = f"translate({x:.1f}, {y:.1f}) scale({scale:g}, {-scale:g})"
        if outline:
            yield ET.Element(f"{SVG}path", {"transform": place, "d": outline})
        x += _advances(MUSIC_FONT)[0].get(sign, 0.0) * scale


def _blank(piece: _Piece) -> _Piece:
    return _Piece(" ", piece.size, piece.attributes, music=False)


@cache
def _outline(code: int) -> str:
    path = Path(data_folder()) / MUSIC_FONT / f"{code:04X}.xml"
    if not path.exists():
        return ""
    found = ET.parse(path).getroot().find("path")
    return found.get("d", "") if found is not None else ""
