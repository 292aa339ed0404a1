"""XML text: escaping, and elements built as text."""

from __future__ import annotations

import re

from expander.model.score import Attributes, Mark

_SPECIAL = re.compile(r"[&<>]")
_QUOTED = re.compile(r'[&<>"\n\r\t]')
_ILLEGAL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
_NAMES = {
    "&": "&amp;",
    "<": "&lt;",
    ">": "&gt;",
    '"': "&quot;",
    "\n": "&#10;",
    "\r": "&#13;",
    "\t": "&#9;",
}


def escaped(text: str) -> str:
    """Text between tags. Characters that XML cannot hold are left out."""
    text = _ILLEGAL.sub("", text)
    return _SPECIAL.sub(_named, text).replace("\r", "&#13;")


def quoted(text: str) -> str:
    """Text inside a quoted attribute."""
    return _QUOTED.sub(_named, _ILLEGAL.sub("", text))


def _named(found: re.Match[str]) -> str:
    return _NAMES[found.group()]


def attributes_text(attributes: Attributes) -> str:
    """Attributes as they stand in a start tag, a blank before each."""
    if not attributes:
        return ""
    return "".join([f' {name}="{quoted(value)}"' for name, value in attributes])


def element(name: str, attributes: Attributes = (), text: str = "", inner: str = "") -> str:
    """One element; `inner` is XML already, `text` is not."""
    content = inner or (escaped(text) if text else "")
    if not content:
        return f"<{name}{attributes_text(attributes)}/>"
    return f"<{name}{attributes_text(attributes)}>{content}</{name}>"


def mark_text(mark: Mark) -> str:
    """A carried element as XML."""
    return element(mark.name, mark.attributes, mark.text, mark.inner)


def leaf(name: str, text: str) -> str:
    """An element with text, or nothing where there is no text."""
    return f"<{name}>{escaped(text)}</{name}>" if text else ""
