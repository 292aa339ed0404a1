"""From a score's bytes to its element tree, safely.

No network, no external file, no entities of the file's own, no nesting or size that libxml2
holds for an attack. Encodings: what the declaration or the byte-order mark says; where that is
wrong, UTF-8 and then Windows-1252 (a superset of Latin-1's letters) are tried.
"""

from __future__ import annotations

import codecs
import re
from typing import Any

from lxml import etree

from expander.errors import BadMusic, Spot
from expander.musicxml.oddities import Oddities
from expander.musicxml.tree import Element, line_of

_OWN_ENTITY = re.compile(rb"&(?!(?:amp|lt|gt|quot|apos|#\d+|#x[0-9A-Fa-f]+);)")
_ASCII_LIKE = ("UTF-8", "US-ASCII", "ASCII", "ISO-8859", "WINDOWS-125", "ISO_8859")
_ROOTS = ("score-partwise", "score-timewise")
_DECLARATION = re.compile(r"^\s*<\?xml[^>]*\?>")
_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
    (b"<\x00?\x00", "utf-16-le"),
    (b"\x00<\x00?", "utf-16-be"),
)
_HINT = "Save the score again from the program it came from, as MusicXML."


def _parser(recover: bool = False) -> etree.XMLParser:
    return etree.XMLParser(
        resolve_entities=False,
        no_network=True,
        load_dtd=False,
        dtd_validation=False,
        huge_tree=False,
        remove_comments=True,
        remove_pis=True,
        recover=recover,
    )


def forgiving_tree(data: bytes) -> Element | None:
    """What can be made out of broken XML; None where nothing can."""
    try:
        return etree.fromstring(data, _parser(recover=True))
    except (etree.XMLSyntaxError, ValueError):
        return None


def score_tree(data: bytes, name: str, oddities: Oddities) -> Element:
    """The root of a score, `score-partwise` or `score-timewise`. Raises BadMusic."""
    root = _tree(data, name, oddities)
    if b"<!ENTITY" in data or _OWN_ENTITY.search(data) or not _is_ascii_like(root):
        _refuse_entities(root, name)
    _strip_namespace(root)
    if root.tag not in _ROOTS:
        raise BadMusic(
            f"the file holds <{root.tag}>, expected a MusicXML score (<score-partwise>).",
            at=Spot(name, line_of(root)),
            hint=_HINT,
        )
    return root


def _tree(data: bytes, name: str, oddities: Oddities) -> Element:
    try:
        return etree.fromstring(data, _parser())
    except etree.XMLSyntaxError as error:
        again = _decoded_tree(data, oddities)
        if again is not None:
            return again
        raise _broken(error, name) from error


def _broken(error: etree.XMLSyntaxError, name: str) -> BadMusic:
    line, column = error.position
    reason = (error.msg or "not XML").rsplit(", line", 1)[0]
    return BadMusic(
        f"the file is not well-formed XML: {reason}.",
        at=Spot(name, line or 0, max(column or 0, 0)),
        hint=_HINT,
    )


def _decoded_tree(data: bytes, oddities: Oddities) -> Element | None:
    """The tree under another encoding than the file says, if that makes it readable."""
    for encoding in _guesses(data):
        try:
            text = data.decode(encoding)
            root = etree.fromstring(_DECLARATION.sub("", text).encode(), _parser())
        except (UnicodeDecodeError, etree.XMLSyntaxError):
            continue
        oddities.add(f"the file is not in the encoding it names; read as {encoding}", 1)
        return root
    return None


def _guesses(data: bytes) -> list[str]:
    for mark, encoding in _MARKS:
        if data.startswith(mark):
            return [encoding]
    return ["utf-8", "cp1252"]


def _is_ascii_like(root: Element) -> bool:
    """True where entities would show in the file's bytes."""
    encoding = root.getroottree().docinfo.encoding or "UTF-8"
    return encoding.upper().startswith(_ASCII_LIKE)


def _refuse_entities(root: Element, name: str) -> None:
    used = [(e.text or "").strip("&;") for e in root.iter(etree.Entity)]
    declared = _declared_entities(root)
    if not declared and not used:
        return
    entity = [*declared, *used][0]
    raise BadMusic(
        f"the file uses an entity of its own, &{entity};, which MusicXML has no need of.",
        at=Spot(name, 1),
        hint="Replace it by the character it stands for.",
    )


def _declared_entities(root: Element) -> list[str]:
    own: Any = root.getroottree().docinfo.internalDTD
    return [str(e.name) for e in own.iterentities()] if own is not None else []


def _strip_namespace(root: Element) -> None:
    if not root.tag.startswith("{"):
        return
    for el in root.iter(etree.Element):
        el.tag = etree.QName(el).localname
