"""What the type hints of lxml leave open, settled in one place."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol, cast

from lxml import etree

Element = etree._Element
Items = list[tuple[str, str]]


class _Placed(Protocol):
    sourceline: int | None


def line_of(el: Element) -> int:
    """The element's line in the file, 0 where it is not known."""
    return cast(_Placed, el).sourceline or 0


items_of = cast(Callable[[Element], Items], Element.items)
"""The element's attributes as (name, value)."""


def text_of(el: Element) -> str:
    """All text in the element, its blanks evened out."""
    return " ".join("".join(cast(list[str], list(el.itertext()))).split())
